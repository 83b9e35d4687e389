"""What is loaded after the bench has answered for the first time.

The first page needs a list out of the store and no mechanics. All else takes half a second and
more to load; that happens in a thread of its own while the first page is read, and a request
that comes sooner waits for it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator, Mapping

from starlette.concurrency import run_in_threadpool
from starlette.routing import Router
from starlette.types import ASGIApp, Receive, Scope, Send

from springloom.web.bench import Bench
from springloom.web.jobs import Make


class Late:
    """An application that is made when it is first asked, or warmed."""

    def __init__(self, make: Callable[[], ASGIApp]) -> None:
        """Stand for what ``make`` makes."""
        self._make = make
        self._made: ASGIApp | None = None
        self._lock = threading.Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        made = self._made
        if made is None:
            made = await run_in_threadpool(self.warm)
        await made(scope, receive, send)

    def warm(self) -> ASGIApp:
        """Make it now, once."""
        with self._lock:
            if self._made is None:
                self._made = self._make()
            return self._made


class LateMakers(Mapping[str, Make]):
    """What makes each kind of long work, loaded when there is some."""

    def __getitem__(self, kind: str) -> Make:
        """Return what makes that kind."""
        return self._all()[kind]

    def __iter__(self) -> Iterator[str]:
        """Name every kind."""
        return iter(self._all())

    def __len__(self) -> int:
        """Count them."""
        return len(self._all())

    @staticmethod
    def _all() -> Mapping[str, Make]:
        from springloom.web.work import MAKERS  # noqa: PLC0415 - see the module

        return MAKERS


def pages() -> ASGIApp:
    """Make every page but the first."""
    from springloom.web.pages.every import ROUTES  # noqa: PLC0415 - see the module

    return Router(ROUTES)


def figures() -> ASGIApp:
    """Make what serves the drawings' style and lettering."""
    from springloom.web.figures import ROUTES  # noqa: PLC0415 - see the module

    return Router(ROUTES)


def api(bench: Bench) -> ASGIApp:
    """Make the JSON interface."""
    from springloom.web.api import api_app  # noqa: PLC0415 - see the module

    return api_app(bench)
