"""Wood: the rack of boards, and what is written down of each."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import ConflictError, InputError
from springloom.report.board_words import stiffness_words
from springloom.report.words import Words
from springloom.store.boards import StoredBoard, add_board, boards, describe_board, rename_board
from springloom.store.paddles import paddles
from springloom.store.typed import in_units
from springloom.units import System
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.conflicts import changed
from springloom.web.forms import Form, problem_of
from springloom.web.pages import boards_compare, boards_pinned, boards_tests
from springloom.web.pages.boards_known import known_of, typed_words
from springloom.web.pages.boards_page import FIELDS, INPUTS, asked, board_page, sheet_form
from springloom.web.render import onward, page
from springloom.web.routing import get, post


@dataclass(frozen=True, slots=True)
class Racked:
    """One board of the rack."""

    board: StoredBoard
    wood: str
    size: str
    weight: str
    verdict: str
    stiffness: str
    trouble: str


def rack(request: Request) -> Response:
    """List the boards, each with its verdict in a word."""
    words = words_of(request)
    with store_of(request).read() as connection:
        found, asking = boards(connection), paddles(connection)
    return page(request, "boards/rack.html", boards=[_racked(one, words) for one in found],
                paddles=asking)


def _racked(stored: StoredBoard, words: Words) -> Racked:
    known, table = known_of(stored), typed_words("board", stored.table, stored.units)
    size = " × ".join(table[key] for key in ("length", "width", "thickness"))
    found = known.assessment
    return Racked(stored, known.wood, size, table.get("weight", "not weighed"),
                  known.verdict_words, "" if found is None else stiffness_words(found, words),
                  known.trouble)


def new(request: Request) -> Response:
    """Show the empty form."""
    return page(request, "boards/new.html", **sheet_form({}))


def add(request: Request, form: Form) -> Response:
    """Keep a new board."""
    table = sheet_of(form)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            made = add_board(pen, form.uid, form.text("name"), table, units=system_of(request))
    except InputError as error:
        return page(request, "boards/new.html", 422, form=form,
                    problem=problem_of(error, INPUTS), **sheet_form(table))
    return onward(request, f"/boards/{made.id}", form.uid, f"{made.name} is in the rack")


def sheet_of(form: Form) -> dict[str, str]:
    """Return the [board] table of a form; its wood says where it grew."""
    table = form.given("board")
    name, _, grown = table.get("species", "").partition("/")
    return table | {"species": name} | ({"grown": grown} if grown else {})


def one(request: Request) -> Response:
    """Show a board."""
    return board_page(request)


def describe(request: Request, form: Form) -> Response:
    """Keep another description of a board."""
    return _described(request, form, sheet_of(form), system_of(request), "sheet")


def weigh(request: Request, form: Form) -> Response:
    """Keep a new weight, the rest of the description as it was."""
    stored = asked(request)
    table = {**stored.table, "weight": form.text("board.weight")}
    return _described(request, form, table, stored.units, "weigh")


def _described(request: Request, form: Form, table: Mapping[str, Any], units: System,
               opened: str) -> Response:
    number, system = asked(request).id, system_of(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            describe_board(pen, form.uid, number, table, form.whole("seen"), units=units)
    except ConflictError as error:
        now, mine = asked(request), in_units("board", table, units, system)
        theirs = in_units("board", now.table, now.units, system)
        if opened == "weigh":  # what else the other wrote down stays theirs
            mine = theirs | {"weight": mine["weight"]}
        return board_page(request, form, typed=mine if opened == "sheet" else None,
                          opened=opened, other=changed(error, FIELDS, theirs, mine))
    except InputError as error:
        typed = in_units("board", table, units, system) if opened == "sheet" else None
        return board_page(request, form, error, typed=typed, opened=opened)
    return onward(request, f"/boards/{number}", form.uid, "What you wrote down is kept")


def rename(request: Request, form: Form) -> Response:
    """Call a board otherwise."""
    stored = asked(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            rename_board(pen, form.uid, stored.id, form.text("name"))
    except InputError as error:
        return board_page(request, form, error, opened="name")
    return onward(request, f"/boards/{stored.id}", form.uid)


ROUTES = [
    get("/boards", rack), get("/boards/new", new), post("/boards/new", add),
    *boards_compare.ROUTES, get("/boards/{board:int}", one),
    post("/boards/{board:int}", describe), post("/boards/{board:int}/weigh", weigh),
    post("/boards/{board:int}/name", rename), *boards_tests.ROUTES, *boards_pinned.ROUTES,
]
