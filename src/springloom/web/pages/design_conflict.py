"""Two have changed one design: what each did, station by station, and what is chosen of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from springloom.errors import ConflictError, SpringloomError
from springloom.store.paddles import design_version, paddle
from springloom.web.forms import Form
from springloom.web.moments import when
from springloom.web.pages.design_spots import Spot, differing, flat, merged


@dataclass(frozen=True, slots=True)
class Clash:
    """One value that differs.

    Attributes:
        spot: which.
        was: when the page was opened.
        theirs, mine: now.
        take_theirs: whether that is what to begin with: nothing was changed here.
    """

    spot: Spot
    was: str
    theirs: str
    mine: str
    take_theirs: bool


@dataclass(frozen=True, slots=True)
class Conflict:
    """Who saved meanwhile, and where their design and the typed one differ."""

    who: str
    when: str
    number: int
    why: str
    clashes: tuple[Clash, ...]


def conflict_of(connection: Connection, paddle_id: int, form: Form, mine: Mapping[str, Any],
                error: ConflictError) -> Conflict:
    """Set out what was typed beside what somebody saved meanwhile."""
    now = paddle(connection, paddle_id)
    try:
        base = design_version(connection, paddle_id, form.whole("seen")).design
    except SpringloomError:  # a page that never was: nothing is known of where it began
        base = now.design
    was, theirs, own = flat(base), flat(now.design), flat(mine)
    clashes = tuple(
        Clash(spot, was.get(spot, ""), theirs.get(spot, ""), own.get(spot, ""),
              own.get(spot) == was.get(spot))
        for spot in differing(now.design, mine))
    return Conflict(error.who, when(error.when), now.number, now.why, clashes)


def settled(form: Form, mine: Mapping[str, Any], theirs: Mapping[str, Any]) -> dict[str, Any]:
    """Return what was typed with what was chosen of theirs; nothing was asked in most forms."""
    chosen = [spot for spot in differing(theirs, mine) if form.text(spot.field) == "theirs"]
    return merged(mine, theirs, chosen)
