"""The frame of one paddle's pages: its title block, its tabs, and what others have changed."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.store.figures import Progress
from springloom.store.paddles import Paddle, paddle
from springloom.store.progress import progress_of
from springloom.store.summaries import state_key
from springloom.web.bench import store_of
from springloom.web.render import page
from springloom.web.routing import get

TABS = (("design", "Design"), ("plans", "Plans"), ("carve", "Carve"), ("tune", "Tune"),
        ("story", "Story"))


def next_address(paddle_id: int, progress: Progress) -> str:
    """Return the page where a paddle's next thing is done."""
    if progress.stage == "wood":
        return f"/boards/compare?paddle={paddle_id}"
    return f"/paddles/{paddle_id}/{progress.tab}"


def paddle_id_of(request: Request) -> int:
    """Return the paddle of the page's address."""
    return int(request.path_params["paddle"])


def paddle_page(request: Request, template: str, tab: str, status: int = 200,
                **values: Any) -> Response:
    """Render a page about one paddle inside its frame.

    Templates extend ``paddle.html`` and see ``paddle``, ``progress``, ``tab`` and ``state_key``
    besides what is given here.
    """
    store, number = store_of(request), paddle_id_of(request)
    with store.read() as connection:
        found: Paddle = paddle(connection, number)
        key = state_key(connection, number)
    return page(request, template, status, paddle=found, progress=progress_of(store, number),
                tab=tab, tabs=TABS, state_key=key, next_address=next_address, **values)


def _changed(request: Request) -> Response:
    """Say whether somebody changed the paddle since the page was shown."""
    with store_of(request).read() as connection:
        now = state_key(connection, paddle_id_of(request))
    if now == request.query_params.get("since", ""):
        return Response(status_code=204)
    return page(request, "changed.html", back=request.query_params.get("tab", "tune"),
                paddle_id=paddle_id_of(request))


ROUTES = [get("/paddles/{paddle:int}/changed", _changed)]
