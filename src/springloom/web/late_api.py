"""The JSON interface, mounted when it is first asked for: its library takes a while to load."""

from __future__ import annotations

import threading

from starlette.types import ASGIApp, Receive, Scope, Send

from springloom.web.bench import Bench


class LateApi:
    """Makes the interface at the first request; the bench's first page doesn't wait for it."""

    def __init__(self, bench: Bench) -> None:
        """Stand for the interface of ``bench``; nothing is loaded yet."""
        self._bench = bench
        self._app: ASGIApp | None = None
        self._lock = threading.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        await self._made()(scope, receive, send)

    def _made(self) -> ASGIApp:
        with self._lock:
            if self._app is None:
                from springloom.web.api import api_app  # noqa: PLC0415 - see the class

                self._app = api_app(self._bench)
            return self._app

