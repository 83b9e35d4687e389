"""The JSON interface, mounted when it is first asked for: its library takes a while to load."""

from __future__ import annotations

import threading

from starlette.routing import Mount, Route
from starlette.types import ASGIApp, Receive, Scope, Send

PREFIX = "/api"


class LateApi:
    """Makes the interface at the first request; the bench's first page doesn't wait for it."""

    def __init__(self) -> None:
        """Nothing is loaded yet."""
        self._app: ASGIApp | None = None
        self._lock = threading.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        await self._made(scope)(scope, receive, send)

    def _made(self, scope: Scope) -> ASGIApp:
        with self._lock:
            if self._app is None:
                from springloom.web.api import api_app  # noqa: PLC0415 - see the class

                self._app = api_app(scope["app"].state.bench)
            return self._app


ROUTES: list[Route | Mount] = [Mount(PREFIX, app=LateApi())]
