"""One board's page: the verdict and its reasons, the tests and how they are made, its history."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import Response

from springloom.drawing.board_figure import NODE, bending_figure, tap_figure
from springloom.errors import ConflictError, SpringloomError
from springloom.report.board_words import (
    LOW_END,
    PROPERTY_HEADS,
    evidence_words,
    property_rows,
    stiffness_words,
)
from springloom.report.reading_text import typed_text
from springloom.report.words import Words
from springloom.store.attachments import attachments
from springloom.store.boards import StoredBoard, board, board_history
from springloom.store.notes import notes
from springloom.store.paddles import paddles
from springloom.store.typed import in_units
from springloom.web.bench import store_of, system_of, words_of
from springloom.web.conflicts import Changed, differences
from springloom.web.figures import figure
from springloom.web.forms import Form, problem_of
from springloom.web.moments import when
from springloom.web.pages import boards_entries
from springloom.web.pages.boards_known import Known, known_of, typed_words, woods
from springloom.web.render import page
from springloom.wood.species import canadian_ids

NAMES = {
    "species": "wood", "grown": "grown in", "length": "length", "width": "width",
    "thickness": "thickness", "weight": "weight", "moisture": "moisture",
    "grain_slope": "slope of the grain", "rings": "growth rings", "note": "note",
}
FIELDS = tuple(NAMES.items())
"""Keys of the [board] table, and what they are called."""
INPUTS = ("name", *(f"board.{key}" for key in NAMES))
RINGS = (("mixed", "mixed, or not looked at"),
         ("flat", "flat: the rings lie along the wide face"),
         ("quarter", "on edge: the rings stand across the wide face"))


@dataclass(frozen=True, slots=True)
class Sheet:
    """One description of a board: when, by whom, and what it changed."""

    when: str
    who: str
    changes: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Told:
    """What a board's assessment says, ready to be shown; empty where there is none."""

    headline: str
    stiffness: str
    reasons: tuple[tuple[str, str], ...]
    properties: tuple[tuple[str, str, str, str], ...]
    evidence: tuple[str, ...]
    assumptions: tuple[str, ...]


def asked(request: Request) -> StoredBoard:
    """Return the board of the page's address."""
    with store_of(request).read() as connection:
        return board(connection, int(request.path_params["board"]))


def sheet_form(table: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the fields of a description need."""
    grown = str(table.get("grown", "us"))
    chosen = str(table.get("species", "western_redcedar"))
    value = f"{chosen}/{grown}" if grown == "canada" and chosen in canadian_ids() else chosen
    return {"table": table, "woods": woods(), "wood": value, "rings": RINGS}


def board_page(request: Request, form: Form | None = None, error: SpringloomError | None = None, *,
               typed: Mapping[str, Any] | None = None, opened: str = "",
               other: Changed | None = None) -> Response:
    """Render a board's page.

    Args:
        request: of the page.
        form: what was typed, where a write was refused.
        error: why it was.
        typed: a description that could not be kept, in the reader's units.
        opened: the form that was refused: sheet, weigh, name, bending, tap, note, photo, or the
            number of a test that was to be corrected.
        other: what another has written meanwhile.
    """
    problem = None if error is None else problem_of(
        error, (*INPUTS, *boards_entries.INPUTS, "text", "photo"))
    status = 200 if problem is None else 422
    status = 409 if other or isinstance(error, ConflictError) else status
    with store_of(request).read() as connection:
        stored = board(connection, int(request.path_params["board"]))
        values = _values(connection, stored, words_of(request))
    table = in_units("board", stored.table, stored.units, system_of(request))
    return page(request, "boards/board.html", status, form=form or Form(), problem=problem,
                changed=other, opened=opened, when=when, heads=PROPERTY_HEADS, low_end=LOW_END,
                **values, **sheet_form(table if typed is None else typed))


def _values(connection: Connection, stored: StoredBoard, words: Words) -> dict[str, Any]:
    known, every = known_of(stored), paddles(connection)
    return {
        "board": stored, "known": known, "told": _told(known, words),
        "facts": _facts(stored, known),
        "tests": boards_entries.entries(connection, stored, known, words.system),
        "pictures": _pictures(known, words), "history": _history(connection, stored),
        "photos": attachments(connection, "board", stored.id),
        "notes": notes(connection, "board", stored.id),
        "of_it": [one for one in every if one.board_id == stored.id], "paddles": every,
    }


def _told(known: Known, words: Words) -> Told | None:
    found, verdict = known.assessment, known.verdict
    if found is None or verdict is None:
        return None
    return Told(known.headline, stiffness_words(found, words),
                tuple((reason.grade, reason.sentence) for reason in verdict.reasons),
                tuple(property_rows(found, words)), tuple(evidence_words(found)),
                found.assumptions)


def _facts(stored: StoredBoard, known: Known) -> list[tuple[str, str]]:
    """What is written down, as on a drawing's title block."""
    table = typed_words("board", stored.table, stored.units) | {"species": known.wood}
    if "moisture" in table:
        table["moisture"] = typed_text(table["moisture"], "%")
    return [(name.capitalize(), table[key]) for key, name in FIELDS
            if key in table and key not in {"grown", "note"}]


def _pictures(known: Known, words: Words) -> dict[str, Any]:
    """Figures of the two tests, the second with this board's own sizes."""
    node, length = words.length(NODE * known.board.length_m), words.length(known.board.length_m)
    return {"bending": figure(bending_figure(), "bend-"), "node": node,
            "tap": figure(tap_figure(node, length), "tap-")}


def _history(connection: Connection, stored: StoredBoard) -> list[Sheet]:
    """Every description, the newest first, each by what it changed."""
    before, found = dict[str, object](), list[Sheet]()
    for sheet in board_history(connection, stored.id):
        shown = dict[str, object](typed_words("board", sheet.table, sheet.units))
        found.append(Sheet(when(sheet.made_at), sheet.made_by, differences(FIELDS, before, shown)))
        before = shown
    return found[::-1]
