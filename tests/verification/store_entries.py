"""Entries for the tests of the store: everything invented."""

from __future__ import annotations

import tomllib
import uuid
from pathlib import Path
from typing import Any

from springloom.records.layout import DesignFile
from springloom.records.reading import check_layout
from springloom.store import Pen, Store
from springloom.store.boards import StoredBoard, add_board
from springloom.store.paddles import Paddle, add_paddle
from springloom.store.people import Person, add_person
from tests.verification.command import EXAMPLES

BODY: dict[str, Any] = {"height": "176 cm", "boat_beam": 540.5}
BOARD: dict[str, Any] = {
    "species": "western_redcedar", "length": 2440, "width": 89, "thickness": 40,
}
DESIGN: dict[str, Any] = {
    "paddle": {"length": 2240},
    "blade": {"stations": ["root", "1/4", "1/2", "3/4", "75 mm from tip", "tip"],
              "width": [39, 60, 73, 82, 83, "round"], "crown": [34, 24.5, 17.5, 13, 10, 7.5]},
    "target": {"sinks": 33, "under": "10 lb"},
}
BENCH: dict[str, Any] = {"blade": "a", "read_at": ["tip", "1/2"], "sinks": ["28.4", 5.8]}
PLANED: list[dict[str, Any]] = [{"blade": "a", "at": ["1/2", "3/4"], "per_face": ["1/64", 0.2]}]


def uid() -> str:
    return str(uuid.uuid4())


def a_person(pen: Pen) -> Person:
    return add_person(pen, uid(), "Anna Test", BODY)


def a_board(pen: Pen) -> StoredBoard:
    return add_board(pen, uid(), "Plank 3", BOARD)


def a_paddle(pen: Pen) -> Paddle:
    return add_paddle(pen, uid(), "Marsh Tern", DESIGN, a_person(pen).id, a_board(pen).id)


def new_paddle(store: Store) -> Paddle:
    """A paddle with a person and a board, in a write of its own."""
    with store.write("Anna") as pen:
        return a_paddle(pen)


def example(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def with_rounds(path: Path) -> DesignFile:
    """An example as it would be two rounds later, with readings of every kind."""
    data = example(path)
    readings = data["readings"]
    small = "1/64" if data.get("units") == "in" else 0.4
    rest: dict[str, Any] = {
        "balance": small, "remarks": ["feels stiffer on the right", "= softer now"],
        "width": [{"blade": "b", "at": ["1/4", "1/2"],
                   "width": [data["blade"]["width"][1], "-"], "instrument": "ruler"}],
        "blade_length": [{"blade": "a", "length": "860 mm" if small == 0.4 else 28}],
        "trace": [{"blade": "a", "at": "1/2", "across": [0, "5 mm", "10 mm", "15 mm", "20 mm"],
                   "high": [0, "3.4 mm", "5.4 mm", "6.8 mm", "7.8 mm"]}],
        "hands": [{"blade": "b", "load": "20 lb", "span": "400 mm",
                   "hung_at": "800 mm from centre", "read_at": ["800 mm from centre"],
                   "sinks": ["38 mm"], "unloading": ["39 mm"]}],
        "tap": [{"frequency": 27.5}, {"frequency": "21 Hz", "blade": "a"}],
    }
    planed = [{"blade": "a", "at": ["1/2"], "per_face": [small]},
              {"blade": "b", "at": ["1/4", "3/4"], "per_face": ["1/128", small]}]
    data["round"] = [{"readings": readings, "planed": planed},
                     {"readings": rest, "planed": planed[:1]}]
    data["readings"] = readings | rest
    return check_layout(data)


LAYOUTS = {path.stem: check_layout(example(path)) for path in EXAMPLES}
LAYOUTS |= {f"{path.stem} with rounds": with_rounds(path) for path in EXAMPLES}
