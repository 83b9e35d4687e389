"""One class: how far each student is, what fits whom, what to buy and to saw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.fit.body import USES
from springloom.records.classfile import BOARD_COLUMNS, COLUMNS, SIZES
from springloom.records.layout import BoardTable, Paddler
from springloom.report.class_words import (
    BUY_HEADS,
    FIT_HEADS,
    MARKET_NAMES,
    SAW_HEADS,
    buy_rows,
    class_text,
    fit_rows,
    saw_rows,
)
from springloom.report.classroom import Classroom, shopping
from springloom.report.tune_tables import Grid
from springloom.report.words import Words
from springloom.store.class_rows import class_units, room_of
from springloom.store.classes import StoredClass, klass, students
from springloom.store.figures import Progress
from springloom.store.paddles import Paddle
from springloom.store.people import Person
from springloom.store.progress import progress_of
from springloom.web.bench import store_of, words_of
from springloom.web.frame import next_address
from springloom.web.render import page
from springloom.wood.species import all_species
from springloom.wood.stock import MARKETS, Market


@dataclass(frozen=True, slots=True)
class Place:
    """A student and how far their paddle is."""

    person: Person
    paddle: Paddle
    progress: Progress


def class_id_of(request: Request) -> int:
    """Return the class of the page's address."""
    return int(request.path_params["klass"])


def show(request: Request, status: int = 200, **values: Any) -> Response:
    """Show one class."""
    number, store, words = class_id_of(request), store_of(request), words_of(request)
    with store.read() as connection:
        found, everybody = klass(connection, number), students(connection, number)
        room, _ = room_of(connection, number)
    places = [Place(who, one, progress_of(store, one.id)) for who, one in everybody]
    return page(request, "classes/class.html", status, klass=found, places=places,
                next_address=next_address,
                units=class_units(found), **_sheets(found, room, words), **_typing(), **values)


def _sheets(found: StoredClass, room: Classroom, words: Words) -> dict[str, Any]:
    """Return what the class's sheets say."""
    text = class_text(found.name, room, words)
    if not room.students:
        return {"text": text, "fit": None, "buy": [], "saw": None}
    own: Market = "north american" if words.system == "in" else "metric"
    markets = sorted(MARKETS, key=lambda market: market != own)
    buy = [_grid(f"To buy by {MARKET_NAMES[market]}", BUY_HEADS, buy_rows(bought, words))
           for market in markets if (bought := shopping(room.students, market))]
    fit = _grid("Fit", FIT_HEADS[1:], tuple(row[1:] for row in fit_rows(room.students, words)))
    return {"text": text, "fit": fit, "buy": buy,
            "saw": _grid("To saw", SAW_HEADS, saw_rows(room.students, words))}


def _grid(title: str, heads: tuple[tuple[str, str, bool], ...],
          rows: tuple[tuple[str, ...], ...]) -> Grid:
    """Return a table of a sheet; columns of words are aligned to the left."""
    return Grid(title, tuple(head for head, _, _ in heads), rows,
                "".join("l" if words else "r" for _, _, words in heads))


def _typing() -> dict[str, Any]:
    """Return what the forms say of each column."""
    fields = Paddler.model_fields | {
        column: BoardTable.model_fields[key] for column, key in BOARD_COLUMNS.items()}
    meaning = {name: str(fields[name].description or "") for name in COLUMNS if name in fields}
    measures = [(name, name.replace("_", " ").capitalize(), meaning[name])
                for name in Paddler.model_fields if name != "use"]
    sizes = [(name, name.replace("_", " ").capitalize(), meaning[name])
             for name in (*SIZES, "board_weight", "moisture", "grain_slope")]
    woods = [("", "the class's"), *((one.id, one.common_name) for one in all_species())]
    return {"columns": [(name, meaning.get(name, "")) for name in COLUMNS],
            "measures": measures, "sizes": sizes, "woods": woods,
            "uses": [(use, use) for use in USES]}

