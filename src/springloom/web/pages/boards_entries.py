"""The tests of a board as its page lists them: what stands, what it told, what it replaced."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from springloom.report.board_words import evidence_words
from springloom.store.boards import KINDS, BoardTest, StoredBoard, board_test_history
from springloom.store.typed import in_units
from springloom.units import System
from springloom.web.moments import when
from springloom.web.pages.boards_known import Known, typed_words

NAMES = {"bending": ("span", "load", "sinks", "sinks_sd", "edgewise"),
         "tap": ("frequency", "sd", "edgewise")}
INPUTS = tuple(f"{kind}.{key}" for kind, keys in NAMES.items() for key in keys)


@dataclass(frozen=True, slots=True)
class Written:
    """One entry: when, by whom, what; ``words`` empty for one that withdraws."""

    when: str
    who: str
    words: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A test with all that it replaced.

    Attributes:
        id: of the last entry.
        now: the last entry.
        older: what it replaced, the newest first.
        told: what it did to the stiffness' spread; empty where it no longer counts.
        typed: its table in the reader's units, to correct it from.
    """

    id: int
    now: Written
    older: tuple[Written, ...]
    told: str
    typed: Mapping[str, Any]


def entries(connection: Connection, stored: StoredBoard, known: Known,
            system: System) -> dict[str, list[Entry]]:
    """Return a board's tests by kind, each in its first entry's place."""
    rows = {test.id: test for test in board_test_history(connection, stored.id)}
    replaced = {test.replaces for test in rows.values()}
    told = _told(stored, known)
    found: dict[str, list[tuple[int, Entry]]] = {kind: [] for kind in KINDS}
    for test in rows.values():
        if test.id not in replaced:
            line = _line(rows, test)
            typed = in_units(test.kind, test.table or {}, test.units, system)
            found[test.kind].append((line[0].id, Entry(
                test.id, _written(test), tuple(map(_written, line[-2::-1])),
                told.get(test.id, ""), typed)))
    return {kind: [entry for _, entry in sorted(lines, key=lambda pair: pair[0])]
            for kind, lines in found.items()}


def _told(stored: StoredBoard, known: Known) -> dict[int, str]:
    """What each test that stands told; evidence comes as weight, bending tests, tap tones."""
    if known.assessment is None:
        return {}
    said = evidence_words(known.assessment)[0 if known.board.mass_kg is None else 1:]
    tests = [test.id for kind in KINDS for test in stored.tests if test.kind == kind]
    return {number: words.partition(": ")[2] for number, words in zip(tests, said, strict=False)}


def _line(rows: Mapping[int, BoardTest], test: BoardTest) -> list[BoardTest]:
    found = [test]
    while found[-1].replaces is not None:
        found.append(rows[found[-1].replaces])
    return found[::-1]


def _written(test: BoardTest) -> Written:
    return Written(when(test.made_at), test.made_by, _words(test))


def _words(test: BoardTest) -> str:
    if test.table is None:
        return ""
    typed = typed_words(test.kind, test.table, test.units)
    edge = ", on its edge" if test.table.get("edgewise") else ""
    if test.kind == "tap":
        tone = typed["frequency"]
        return f"{tone} Hz{edge}" if tone.replace(".", "", 1).isdigit() else f"{tone}{edge}"
    return f"Sank {typed['sinks']} under {typed['load']}, span {typed['span']}{edge}"
