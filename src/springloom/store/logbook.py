"""Every paddle on one list: what it is, whose, how far, and who touched it last.

What can be read is read for all paddles in a few queries; what has to be worked out comes from
what was kept of each (:mod:`springloom.store.summaries`), and only where that is still true.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Connection, Select, Table, func, select, union_all

from springloom.store import schema
from springloom.store.entries import Entry, standing
from springloom.store.figures import Progress
from springloom.store.opening import Store
from springloom.store.progress import progress_of
from springloom.store.summaries import state_keys, summaries

Order = Literal["name", "when", "weight", "bend", "stiffness"]
ORDERS: tuple[Order, ...] = ("name", "when", "weight", "bend", "stiffness")
Work = Literal["", "under way", "done"]
WORKS: tuple[Work, ...] = ("", "under way", "done")
Aside = Literal["", "at hand", "set aside"]
ASIDES: tuple[Aside, ...] = ("", "at hand", "set aside")


@dataclass(frozen=True)
class Line:
    """One paddle of the logbook.

    Attributes:
        id, name, set_aside: of the paddle.
        person_id, whose: for whom; None and "" for nobody.
        class_id, class_name: likewise.
        species: keys of its woods.
        use: what it is for, "" where nobody says.
        rounds: how many of tuning there were, the open one included.
        touched_at, touched_by: the last entry about it.
        progress: how far it is; None where that has yet to be worked out.
    """

    id: int
    name: str
    set_aside: bool
    person_id: int | None
    whose: str
    class_id: int | None
    class_name: str
    species: tuple[str, ...]
    use: str
    rounds: int
    touched_at: datetime
    touched_by: str
    progress: Progress | None


@dataclass(frozen=True, slots=True)
class Asked:
    """What is looked for; empty for everything."""

    text: str = ""
    stage: str = ""
    species: str = ""
    use: str = ""
    class_id: int | None = None
    work: Work = ""
    aside: Aside = ""
    order: Order = "when"
    backwards: bool = False


def lines(connection: Connection) -> tuple[Line, ...]:
    """Every paddle, the last touched first."""
    known = _Known.of(connection)
    table = schema.paddle
    columns = ("id", "person_id", "board_id", "class_id", "set_aside")
    rows = connection.execute(select(*(table.c[name] for name in columns))).all()
    found = [known.line(row) for row in rows]
    return tuple(sorted(found, key=lambda one: (one.touched_at, one.id), reverse=True))


def work_out(store: Store, asked: Iterable[Line], seconds: float) -> int:
    """Work out what is missing, for about so long; return how many are left."""
    left = list(dict.fromkeys(one.id for one in asked if one.progress is None))
    until = time.monotonic() + seconds
    while left and time.monotonic() < until:
        progress_of(store, left.pop(0))
    return len(left)


def choose(connection: Connection, every: Sequence[Line], asked: Asked) -> tuple[Line, ...]:
    """Return the lines asked for, in the order asked for."""
    with_text = _with_text(connection, every, asked.text) if asked.text.strip() else None
    found = [one for one in every if _fits(one, asked)
             and (with_text is None or one.id in with_text)]
    key = _KEYS[asked.order]
    told = [one for one in found if key(one) is not None]
    untold = [one for one in found if key(one) is None]
    newest_first = asked.order == "when"
    told.sort(key=key, reverse=asked.backwards != newest_first)
    return (*told, *untold)


def _fits(one: Line, asked: Asked) -> bool:
    stage = "" if one.progress is None else one.progress.stage
    return ((not asked.stage or stage == asked.stage)
            and (not asked.species or asked.species in one.species)
            and (not asked.use or one.use == asked.use)
            and (asked.class_id is None or one.class_id == asked.class_id)
            and (not asked.work or (stage == "done") == (asked.work == "done"))
            and (not asked.aside or one.set_aside == (asked.aside == "set aside")))


def _figure(name: str) -> Callable[[Line], Any]:
    def key(one: Line) -> float | None:
        figures = None if one.progress is None else one.progress.figures
        found: float | None = None if figures is None else getattr(figures, name)
        return found

    return key


_KEYS: Mapping[Order, Callable[[Line], Any]] = {
    "name": lambda one: (one.name.casefold(), one.id),
    "when": lambda one: (one.touched_at, one.id),
    "weight": _figure("mass_kg"), "bend": _figure("tip_m"), "stiffness": _figure("e_pa"),
}


def _with_text(connection: Connection, every: Sequence[Line], text: str) -> set[int]:
    """Paddles of which every word is found: in name, paddler, wood, use, remarks or notes."""
    said: dict[int, list[str]] = {one.id: [
        one.name, one.whose, one.class_name, one.use, *one.species,
        *(name.replace("_", " ") for name in one.species)] for one in every}
    for paddle_id, words in (*_remarks(connection), *_notes(connection)):
        said[paddle_id].append(words)
    wanted = text.casefold().split()
    whole = {number: "\n".join(parts).casefold() for number, parts in said.items()}
    return {number for number, told in whole.items() if all(word in told for word in wanted)}


def _remarks(connection: Connection) -> list[tuple[int, str]]:
    reading, turn = schema.reading, schema.tuning_round
    columns = [*(reading.c[name] for name in ("id", "replaces", "table")), turn.c.paddle_id]
    rows = connection.execute(
        select(*columns).join(turn, reading.c.round_id == turn.c.id)
        .where(reading.c.kind == "remark")).all()
    return [(row.paddle_id, str(row.table["text"])) for row in standing(rows, "table")]


def _notes(connection: Connection) -> list[tuple[int, str]]:
    table = schema.note
    rows = connection.execute(
        select(*(table.c[name] for name in ("id", "replaces", "paddle_id", "text")))
        .where(table.c.paddle_id.is_not(None))).all()
    return [(row.paddle_id, row.text) for row in standing(rows, "text")]


@dataclass(frozen=True)
class _Known:
    """What is read for all paddles at once, each by the number it belongs to."""

    people: Mapping[int, str]
    classes: Mapping[int, str]
    bodies: Mapping[int, Mapping[str, Any]]
    sheets: Mapping[int, Mapping[str, Any]]
    designs: Mapping[int, Mapping[str, Any]]
    rounds: Mapping[int, int]
    touched: Mapping[int, Entry]
    progress: Mapping[int, Progress]

    @classmethod
    def of(cls, connection: Connection) -> _Known:
        turn = schema.tuning_round
        counted = select(turn.c.paddle_id, func.count()).group_by(turn.c.paddle_id)
        return cls(
            _names(connection, schema.person), _names(connection, schema.klass),
            _latest(connection, schema.body, "person_id", "paddler"),
            _latest(connection, schema.board_sheet, "board_id", "table"),
            _latest(connection, schema.design, "paddle_id", "layout"),
            {row[0]: row[1] for row in connection.execute(counted)},
            {row.paddle_id: row for row in connection.execute(_touches())},
            _progress(connection),
        )

    def line(self, row: Entry) -> Line:
        layout, touched = self.designs[row.id], self.touched[row.id]
        body = self.bodies.get(row.person_id)
        return Line(
            row.id, layout["name"], bool(row.set_aside), row.person_id,
            self.people.get(row.person_id, ""), row.class_id,
            self.classes.get(row.class_id, ""), self._species(row, layout),
            "" if body is None else body.get("use", "touring"),
            self.rounds.get(row.id, 0), touched.made_at, touched.made_by,
            self.progress.get(row.id),
        )

    def _species(self, row: Entry, layout: Mapping[str, Any]) -> tuple[str, ...]:
        strips = [strip["species"] for strip in layout.get("strip", ())]
        sheet = self.sheets.get(row.board_id)
        board = [] if sheet is None else [sheet["species"]]
        return tuple(dict.fromkeys(strips or board))


def _names(connection: Connection, table: Table) -> dict[int, str]:
    return {row.id: row.name for row in connection.execute(select(table.c.id, table.c.name))}


def _latest(connection: Connection, table: Table, owner: str,
            column: str) -> dict[int, Mapping[str, Any]]:
    last = select(func.max(table.c.id)).group_by(table.c[owner])
    rows = connection.execute(
        select(table.c[owner], table.c[column]).where(table.c.id.in_(last)))
    return {row[0]: row[1] for row in rows}


_BESIDE = (schema.design, schema.mark, schema.note, schema.attachment, schema.change)


def _touches() -> Select[Any]:
    """The last entry about each paddle."""
    turn = schema.tuning_round
    first = schema.paddle
    own = [
        select(first.c.id.label("paddle_id"), first.c.made_at, first.c.made_by),
        *(select(table.c.paddle_id, table.c.made_at, table.c.made_by)
          .where(table.c.paddle_id.is_not(None)) for table in _BESIDE),
        *(select(turn.c.paddle_id, table.c.made_at, table.c.made_by)
          .join(turn, table.c.round_id == turn.c.id)
          for table in (schema.reading, schema.round_closing)),
    ]
    every = union_all(*own).subquery()
    place = func.row_number().over(
        partition_by=every.c.paddle_id, order_by=every.c.made_at.desc()).label("place")
    ranked = select(every.c.paddle_id, every.c.made_at, every.c.made_by, place).subquery()
    return select(ranked).where(ranked.c.place == 1)


def _progress(connection: Connection) -> dict[int, Progress]:
    now = state_keys(connection)
    return {number: Progress.kept(data) for number, (key, data) in summaries(connection).items()
            if now.get(number) == key}
