"""Every version of a design, and going back to one, which makes another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import ConflictError
from springloom.store.paddles import Paddle, design_version, save_design
from springloom.web.bench import store_of, writer_of
from springloom.web.forms import Form
from springloom.web.frame import paddle_id_of
from springloom.web.moments import when
from springloom.web.pages.design_spots import difference_words
from springloom.web.render import onward
from springloom.web.routing import post


@dataclass(frozen=True, slots=True)
class Version:
    """One line of the list: which, who, when, why and what was changed."""

    number: int
    who: str
    when: str
    why: str
    changed: str


def listed(versions: Sequence[Paddle]) -> list[Version]:
    """List a design's versions, the newest first."""
    before: Paddle | None = None
    found = []
    for one in versions:
        changed = "" if before is None else difference_words(before.design, one.design, 4)
        found.append(Version(one.number, one.made_by, when(one.made_at), one.why,
                             "" if changed == one.why else changed))
        before = one
    return found[::-1]


def go_back(request: Request, form: Form) -> Response:
    """Make an earlier version the newest once more; nothing between is lost."""
    number, paddle_id = form.whole("number"), paddle_id_of(request)
    store = store_of(request)
    with store.read() as connection:
        earlier = design_version(connection, paddle_id, number)
    try:
        with store.write(writer_of(request).name) as pen:
            save_design(pen, form.uid, paddle_id, earlier.design, f"back to version {number}",
                        form.whole("seen"))
    except ConflictError as error:
        return onward(request, f"/paddles/{paddle_id}/design",
                      say=f"Not gone back: {error.who} has kept another version meanwhile.")
    return onward(request, f"/paddles/{paddle_id}/design", form.uid,
                  f"Back to version {number}, as a new version.")


ROUTES = [post("/paddles/{paddle:int}/design/back", go_back)]
