"""The application: every page's routes, the guard before them, and what is said when they fail."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import AsyncIterator
from http import HTTPStatus

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from springloom.errors import SpringloomError
from springloom.web import frame
from springloom.web.bench import UNITS_COOKIE, Bench
from springloom.web.built import STATIC
from springloom.web.errors import status_of
from springloom.web.forms import Problem, problem_of
from springloom.web.guard import HEADERS, Guard
from springloom.web.jobs import Worker
from springloom.web.late import Late, LateMakers, api, figures, pages
from springloom.web.pages import start
from springloom.web.render import problem_page

_YEAR = 365 * 24 * 60 * 60


def bench_app(bench: Bench) -> Starlette:
    """Return the application of one bench."""
    every = Late(pages)
    app = Starlette(
        routes=[*frame.ROUTES, *start.ROUTES, *_own_routes(bench), Mount("", every)],
        middleware=[Middleware(Guard, bench=bench)],
        exception_handlers={SpringloomError: _told, HTTPException: _not_found,
                            Exception: _fault},
        lifespan=_working,
    )
    app.state.bench, app.state.pages = bench, every
    app.state.worker = Worker(bench.store, LateMakers())
    return app


@contextlib.asynccontextmanager
async def _working(app: Starlette) -> AsyncIterator[None]:
    """Load what is loaded late, and work at what was asked for, while the application runs."""
    threading.Thread(target=app.state.pages.warm, name="springloom-pages", daemon=True).start()
    worker: Worker = app.state.worker
    worker.start()
    try:
        yield
    finally:
        worker.stop()


def _own_routes(bench: Bench) -> list[Route | Mount]:
    return [
        Route("/units/{system}", _units),
        Route("/health", _health),
        Mount("/figures", Late(figures)),
        Mount("/api", Late(lambda: api(bench))),
        Mount("/static", _Static(directory=STATIC)),
    ]


class _Static(StaticFiles):
    """Files of ours; an address with its content's mark never changes."""

    async def get_response(self, path: str, scope: object) -> Response:
        answer = await super().get_response(path, scope)  # type: ignore[arg-type]  # a Scope
        marked = bool(scope["query_string"])  # type: ignore[index]  # a Scope
        answer.headers["Cache-Control"] = (
            f"public, max-age={_YEAR}, immutable" if marked else "no-cache")
        return answer


def _units(request: Request) -> Response:
    """Choose the units and go back to the page."""
    system = "in" if request.path_params["system"] == "in" else "mm"
    back = request.query_params.get("back", "/")
    safe = back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"
    answer = RedirectResponse(safe, 303)
    answer.set_cookie(UNITS_COOKIE, system, max_age=_YEAR, samesite="strict", httponly=True)
    return answer


def _health(request: Request) -> Response:
    """Say that the bench is there; a page that was cut off asks."""
    del request
    return PlainTextResponse("here")


def _told(request: Request, error: Exception) -> Response:
    assert isinstance(error, SpringloomError)  # it is registered for these alone
    return problem_page(request, status_of(error), "That didn't work", problem_of(error))


def _not_found(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == HTTPStatus.NOT_FOUND:
        problem = Problem("There is no such page, or what it showed has gone elsewhere")
        return problem_page(request, 404, "Nothing here", problem)
    return problem_page(request, error.status_code, "That can't be done",
                        Problem(error.detail or "The request makes no sense here"))


def _fault(request: Request, error: Exception) -> Response:
    if os.environ.get("SPRINGLOOM_DEBUG"):
        raise error
    sentence = f"A fault in Springloom, please report it: {type(error).__name__}"
    answer = problem_page(request, 500, "A fault of ours", Problem(sentence))
    answer.headers.update(HEADERS | {"Cache-Control": "no-store"})  # it goes out past the guard
    return answer
