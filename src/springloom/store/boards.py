"""Boards: what was written down of them, and their tests."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Connection, select

from springloom.errors import InputError
from springloom.records.design import design_from
from springloom.records.layout import BoardTable
from springloom.records.reading import check_layout
from springloom.store import schema
from springloom.store.entries import (
    Entry,
    add,
    all_of,
    by_id,
    by_uid,
    checked_uid,
    clean,
    derived,
    is_known,
    log_change,
    newest,
    plain,
    refuse_newer,
    refuse_replaced,
    standing,
)
from springloom.store.opening import Pen
from springloom.store.typed import in_units
from springloom.units import System, Typed

TestKind = Literal["bending", "tap"]
KINDS: tuple[TestKind, ...] = ("bending", "tap")


@dataclass(frozen=True)
class BoardTest:
    """One bending test or tap tone, as typed; ``table`` None for one that only withdraws."""

    id: int
    uid: str
    board_id: int
    kind: TestKind
    table: Mapping[str, Typed] | None
    replaces: int | None
    made_at: datetime
    made_by: str
    units: System = "mm"


@dataclass(frozen=True)
class StoredBoard:
    """A board with the tests that stand.

    Attributes:
        id, uid: of the board.
        name: as typed.
        table: the [board] table as typed, without tests.
        sheet_id: of this table.
        tests: in the order they were made.
        made_at, made_by: of this table.
        units: of lengths typed without one.
    """

    id: int
    uid: str
    name: str
    table: Mapping[str, Any]
    sheet_id: int
    tests: tuple[BoardTest, ...]
    made_at: datetime
    made_by: str
    units: System = "mm"

    def typed(self, units: System | None = None) -> dict[str, Any]:
        """The whole [board] table for a file in ``units``, None for the board's own."""
        wanted = units or self.units
        found = in_units("board", self.table, self.units, wanted)
        for kind in KINDS:
            tests = [in_units(kind, test.table or {}, test.units, wanted)
                     for test in self.tests if test.kind == kind]
            if tests:
                found[kind] = tests
        return found

    def layout(self, units: System | None = None) -> BoardTable:
        """The whole table, checked."""
        return _layout(self.typed(units), units or self.units)


def add_board(pen: Pen, uid: str, name: str, table: Mapping[str, Any], *,
              units: System = "mm") -> StoredBoard:
    """Keep a new board.

    Raises:
        InputError: the table says what no board is.
    """
    uid, name = checked_uid(uid), clean(name, "name")
    known = by_uid(pen.connection, schema.board, uid)
    if known is not None:
        return board(pen.connection, known.id)
    sheet = _checked(table, units)
    number = add(pen, schema.board, uid, name=name)
    add(pen, schema.board_sheet, derived(uid, "sheet"), board_id=number, table=sheet, units=units)
    return board(pen.connection, number)


def take_board(pen: Pen, uid: str, name: str, table: Mapping[str, Any], *,
               units: System = "mm") -> StoredBoard:
    """Keep a new board with the tests in its table."""
    sheet = {key: value for key, value in table.items() if key not in KINDS}
    made = add_board(pen, uid, name, sheet, units=units)
    for kind in KINDS:
        for i, test in enumerate(table.get(kind, [])):
            add_board_test(pen, derived(made.uid, f"{kind} {i}"), made.id, kind, test, units=units)
    return board(pen.connection, made.id)


def describe_board(pen: Pen, uid: str, board_id: int, table: Mapping[str, Any], seen: int, *,
                   units: System = "mm") -> StoredBoard:
    """Keep another description; the old one stays readable.

    Raises:
        ConflictError: another has been written since ``seen`` (a ``sheet_id``); carries it.
        InputError: as :func:`add_board`.
    """
    uid = checked_uid(uid)
    if not is_known(pen, schema.board_sheet, uid):
        now = board(pen.connection, board_id)
        latest = by_id(pen.connection, schema.board_sheet, now.sheet_id)
        refuse_newer(latest, now.sheet_id, seen, "board", now)
        sheet = _checked(table, units)
        add(pen, schema.board_sheet, uid, board_id=board_id, table=sheet, units=units)
        board(pen.connection, board_id).layout()
    return board(pen.connection, board_id)


def rename_board(pen: Pen, uid: str, board_id: int, name: str) -> StoredBoard:
    """Call a board otherwise."""
    uid, name = checked_uid(uid), clean(name, "name")
    if not is_known(pen, schema.change, uid):
        was = by_id(pen.connection, schema.board, board_id)
        log_change(pen, uid, "board", board_id, {"name": was.name}, {"name": name})
        pen.connection.execute(
            schema.board.update().where(schema.board.c.id == board_id).values(name=name))
    return board(pen.connection, board_id)


def add_board_test(pen: Pen, uid: str, board_id: int, kind: TestKind, table: Mapping[str, Typed],
                   replaces: int | None = None, *, units: System | None = None) -> BoardTest:
    """Keep a test, or one in place of another.

    Raises:
        ConflictError: that other has been corrected or withdrawn already.
        InputError: a test that can't be, or more of them than a file holds.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.board_test, uid)
    if known is not None:
        return _test(known)
    if kind not in KINDS:
        raise InputError("is no test of a board", field="kind", given=kind,
                         allowed=", ".join(KINDS))
    now = board(pen.connection, board_id)
    if replaces is not None:
        _refuse_other(pen, board_id, kind, replaces)
    number = add(pen, schema.board_test, uid, board_id=board_id, kind=kind,
                 table=plain(table, f"board.{kind}"), units=units or now.units, replaces=replaces)
    board(pen.connection, board_id).layout()
    return _test(by_id(pen.connection, schema.board_test, number))


def withdraw_board_test(pen: Pen, uid: str, test_id: int) -> BoardTest:
    """Let a test no longer count; it stays readable.

    Raises:
        ConflictError: it has been corrected or withdrawn already.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.board_test, uid)
    if known is not None:
        return _test(known)
    old = by_id(pen.connection, schema.board_test, test_id)
    refuse_replaced(pen.connection, schema.board_test, test_id, "table")
    number = add(pen, schema.board_test, uid, board_id=old.board_id, kind=old.kind, table=None,
                 units=old.units, replaces=test_id)
    return _test(by_id(pen.connection, schema.board_test, number))


def board(connection: Connection, number: int) -> StoredBoard:
    """A board as it is now.

    Raises:
        NotStoredError: there is none of that number.
    """
    row = by_id(connection, schema.board, number)
    sheet = newest(connection, schema.board_sheet, "board_id", number)
    assert sheet is not None  # written with the board
    return _board(row, sheet, all_of(connection, schema.board_test, "board_id", number))


def boards(connection: Connection) -> tuple[StoredBoard, ...]:
    """Every board, by name."""
    sheets = {row.board_id: row for row in connection.execute(
        select(schema.board_sheet).order_by(schema.board_sheet.c.id))}
    tests: dict[int, list[Entry]] = {}
    for row in connection.execute(select(schema.board_test).order_by(schema.board_test.c.id)):
        tests.setdefault(row.board_id, []).append(row)
    rows = connection.execute(select(schema.board)).all()
    found = [_board(row, sheets[row.id], tests.get(row.id, [])) for row in rows]
    return tuple(sorted(found, key=lambda one: (one.name.casefold(), one.id)))


def board_history(connection: Connection, number: int) -> tuple[StoredBoard, ...]:
    """A board by each description there was, the oldest first, with the tests that stand now."""
    now = board(connection, number)
    return tuple(
        replace(now, table=sheet.table, sheet_id=sheet.id, made_at=sheet.made_at,
                made_by=sheet.made_by, units=sheet.units)
        for sheet in all_of(connection, schema.board_sheet, "board_id", number)
    )


def board_test_history(connection: Connection, number: int) -> tuple[BoardTest, ...]:
    """Every test of a board there ever was, in the order they were written."""
    by_id(connection, schema.board, number)
    return tuple(_test(row) for row in all_of(connection, schema.board_test, "board_id", number))


def _board(row: Entry, sheet: Entry, tests: list[Entry]) -> StoredBoard:
    return StoredBoard(
        row.id, row.uid, row.name, sheet.table, sheet.id,
        tuple(_test(test) for test in standing(tests, "table")), sheet.made_at, sheet.made_by,
        sheet.units,
    )


def _test(row: Entry) -> BoardTest:
    return BoardTest(row.id, row.uid, row.board_id, row.kind, row.table, row.replaces,
                     row.made_at, row.made_by, row.units)


def _refuse_other(pen: Pen, board_id: int, kind: str, replaces: int) -> None:
    old = by_id(pen.connection, schema.board_test, replaces)
    if (old.board_id, old.kind) != (board_id, kind):
        raise InputError("is of another board or kind", field="replaces", given=replaces,
                         allowed="a test of this board and kind")
    refuse_replaced(pen.connection, schema.board_test, replaces, "table")


def _checked(table: Mapping[str, Any], units: System) -> dict[str, Any]:
    found = plain(table, "board")
    for kind in KINDS:
        if kind in found:
            raise InputError("has entries of its own", field=f"board.{kind}",
                             allowed="a board without its tests")
    _layout(found, units)
    return found


def _layout(typed: Mapping[str, Any], units: System) -> BoardTable:
    layout = check_layout({"format": 1, "name": "-", "units": units, "board": dict(typed)})
    design_from(layout)
    assert layout.board is not None  # given above
    return layout.board
