"""Routes of pages: plain functions, run in the thread pool; a write comes with its checked form."""

from __future__ import annotations

from collections.abc import Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from springloom.web.forms import Form, read_form

View = Callable[[Request], Response]
Writing = Callable[[Request, Form], Response]


def get(path: str, view: View) -> Route:
    """Route a page that only reads."""
    return Route(path, view, methods=["GET"])


def post(path: str, view: Writing) -> Route:
    """Route a form: it is read whole, and its token checked, before ``view`` sees it."""

    async def read_and_run(request: Request) -> Response:
        form = await read_form(request)
        return await run_in_threadpool(view, request, form)

    return Route(path, read_and_run, methods=["POST"])
