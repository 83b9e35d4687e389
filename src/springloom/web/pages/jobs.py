"""Long work: how far it is, and what it made."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.store.jobs import Job, ask, job, result
from springloom.web.bench import store_of, writer_of
from springloom.web.files import sent
from springloom.web.forms import Form
from springloom.web.jobs import wake
from springloom.web.render import fragment, onward, page
from springloom.web.routing import get, post
from springloom.web.work import back_to, title_of

SAYS = {"asked": "It waits for its turn.", "running": "It is being made.",
        "done": "It is made.", "failed": "It can't be made."}


def _job(request: Request) -> Job:
    with store_of(request).read() as connection:
        return job(connection, int(request.path_params["job"]))


def show(request: Request) -> Response:
    """Show how far it is."""
    found = _job(request)
    return page(request, "jobs/job.html", title=title_of(found), back=back_to(found),
                **_values(found))


def now(request: Request) -> Response:
    """Show the part of the page that changes."""
    return fragment(request, "jobs/now.html", **_values(_job(request)))


def _values(found: Job) -> dict[str, Any]:
    return {"job": found, "says": SAYS[found.state], "over": found.state in {"done", "failed"},
            "percent": round(100.0 * found.share)}


def fetch(request: Request) -> Response:
    """Send what it made."""
    with store_of(request).read() as connection:
        made = result(connection, int(request.path_params["job"]))
    return sent(made.content, made.name, made.media_type)


def again(request: Request, form: Form) -> Response:
    """Ask for the same once more."""
    found = _job(request)
    with store_of(request).write(writer_of(request).name) as pen:
        made = ask(pen, form.uid, found.kind, found.arguments)
    wake(request)
    return onward(request, f"/jobs/{made.id}", form.uid)


ROUTES = [
    get("/jobs/{job:int}", show),
    get("/jobs/{job:int}/now", now),
    get("/jobs/{job:int}/result", fetch),
    post("/jobs/{job:int}/again", again),
]
