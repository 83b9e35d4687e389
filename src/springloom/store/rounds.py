"""Readings and the rounds of tuning they belong to."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import Connection, exists, func, select

from springloom.errors import ConflictError, InputError, NotStoredError, known
from springloom.store import schema
from springloom.store.entries import (
    Entry,
    add,
    all_of,
    by_id,
    by_uid,
    checked_uid,
    derived,
    line_of,
    plain,
    refuse_replaced,
    standing,
)
from springloom.store.opening import Pen
from springloom.store.paddles import check, paddle
from springloom.units import System

Kind = Literal["weight", "balance", "caliper", "width", "blade_length", "trace", "bench", "hands",
               "tap", "remark"]
KINDS: tuple[Kind, ...] = ("weight", "balance", "caliper", "width", "blade_length", "trace",
                           "bench", "hands", "tap", "remark")
SINGLE = {"weight": {"weight", "scale"}, "balance": {"balance"}, "remark": {"text"}}
"""Kinds that are no table of their own in a design file, with their keys."""

_ONCE = ("weight", "balance")  # a file holds one of each; a later reading stands for the earlier


@dataclass(frozen=True)
class StoredReading:
    """One reading as typed; ``table`` None for an entry that only withdraws.

    Attributes:
        id, uid: of the entry.
        paddle_id, round: what was read, and in which round, from 1.
        kind: one of :data:`KINDS`.
        table: as typed.
        replaces: the entry it stands in place of.
        made_at, made_by: when and by whom.
        units: of lengths typed without one.
    """

    id: int
    uid: str
    paddle_id: int
    round: int
    kind: Kind
    table: Mapping[str, Any] | None
    replaces: int | None
    made_at: datetime
    made_by: str
    units: System = "mm"


@dataclass(frozen=True)
class Closing:
    """How a round ended: what was advised, and what was planed off."""

    id: int
    uid: str
    advice: Mapping[str, Any]
    planed: tuple[Mapping[str, Any], ...]
    made_at: datetime
    made_by: str
    units: System = "mm"


@dataclass(frozen=True)
class StoredRound:
    """One round of tuning; ``closing`` None while it is open.

    ``seen`` is the number of its last entry, 0 for none: what :func:`close_round` asks for.
    """

    id: int
    uid: str
    paddle_id: int
    number: int
    made_at: datetime
    made_by: str
    closing: Closing | None
    seen: int

    @property
    def is_open(self) -> bool:
        """Whether readings still come in."""
        return self.closing is None


def add_reading(pen: Pen, uid: str, paddle_id: int, kind: Kind, table: Mapping[str, Any],
                replaces: int | None = None, *, units: System | None = None) -> StoredReading:
    """Keep a reading in the open round, or one in place of another in that one's round.

    A round is opened where none is open. A second weight or balance in a round stands in place
    of the first.

    Args:
        pen, uid: of this write.
        paddle_id: what was read.
        kind: one of :data:`KINDS`.
        table: as typed.
        replaces: the entry that it corrects.
        units: of lengths typed without one; None for the design's.

    Raises:
        ConflictError: what it corrects has been corrected or withdrawn already.
        InputError: a reading that can't be.
    """
    uid = checked_uid(uid)
    done = by_uid(pen.connection, schema.reading, uid)
    if done is not None:
        return _read(pen.connection, done)
    now = paddle(pen.connection, paddle_id)
    typed = checked_table(kind, table)
    if replaces is None:
        round_id = _open_round(pen, uid, paddle_id)
        replaces = _standing_one(pen.connection, round_id, kind)
    else:
        round_id = _round_of(pen.connection, paddle_id, kind, replaces)
    number = add(pen, schema.reading, uid, round_id=round_id, kind=kind, table=typed,
                 units=units or now.design.get("units", "mm"), replaces=replaces)
    check(pen.connection, paddle_id)
    return _read(pen.connection, by_id(pen.connection, schema.reading, number))


def withdraw_reading(pen: Pen, uid: str, reading_id: int) -> StoredReading:
    """Let a reading no longer count; it stays readable.

    Raises:
        ConflictError: it has been corrected or withdrawn already.
        InputError: what was read besides does not stand without it.
    """
    uid = checked_uid(uid)
    done = by_uid(pen.connection, schema.reading, uid)
    if done is not None:
        return _read(pen.connection, done)
    old = by_id(pen.connection, schema.reading, reading_id)
    refuse_replaced(pen.connection, schema.reading, reading_id, "table")
    number = add(pen, schema.reading, uid, round_id=old.round_id, kind=old.kind, table=None,
                 units=old.units, replaces=reading_id)
    made = _read(pen.connection, by_id(pen.connection, schema.reading, number))
    check(pen.connection, made.paddle_id)
    return made


def readings(connection: Connection, paddle_id: int,
             number: int | None = None) -> tuple[StoredReading, ...]:
    """The readings that stand in a round, None for the open one; each in its first one's place."""
    by_id(connection, schema.paddle, paddle_id)
    found = _round(connection, paddle_id, number)
    if found is None:
        if number is not None:
            raise NotStoredError("is not in the store", field="round", given=number)
        return ()
    rows = standing(all_of(connection, schema.reading, "round_id", found.id), "table")
    return tuple(_reading(row, found) for row in rows)


def readings_by_round(connection: Connection, paddle_id: int
                      ) -> dict[int, tuple[StoredReading, ...]]:
    """The readings that stand, by the number of their round."""
    turns = {row.id: row
             for row in all_of(connection, schema.tuning_round, "paddle_id", paddle_id)}
    entries: dict[int, list[Entry]] = {number: [] for number in turns}
    query = select(schema.reading).where(schema.reading.c.round_id.in_(turns))
    for row in connection.execute(query.order_by(schema.reading.c.id)):
        entries[row.round_id].append(row)
    return {turns[number].number: tuple(_reading(row, turns[number])
                                        for row in standing(rows, "table"))
            for number, rows in entries.items()}


def all_readings(connection: Connection, paddle_id: int) -> tuple[StoredReading, ...]:
    """Every entry of a paddle there ever was, in the order they were written."""
    rows = {row.id: row for row in all_of(connection, schema.tuning_round, "paddle_id", paddle_id)}
    query = select(schema.reading).where(schema.reading.c.round_id.in_(rows))
    return tuple(_reading(row, rows[row.round_id])
                 for row in connection.execute(query.order_by(schema.reading.c.id)))


def reading_history(connection: Connection, reading_id: int) -> tuple[StoredReading, ...]:
    """All versions of a reading, the first one first, whichever of them is asked for."""
    entry = by_id(connection, schema.reading, reading_id)
    found = by_id(connection, schema.tuning_round, entry.round_id)
    rows = {row.id: row for row in all_of(connection, schema.reading, "round_id", found.id)}
    after = {row.replaces: row for row in rows.values()}
    last = entry
    while last.id in after:
        last = after[last.id]
    return tuple(_reading(row, found) for row in line_of(rows, last))


def reading(connection: Connection, reading_id: int) -> StoredReading:
    """One entry.

    Raises:
        NotStoredError: there is none of that number.
    """
    return _read(connection, by_id(connection, schema.reading, reading_id))


def rounds(connection: Connection, paddle_id: int) -> tuple[StoredRound, ...]:
    """Every round of a paddle, the first one first."""
    by_id(connection, schema.paddle, paddle_id)
    rows = all_of(connection, schema.tuning_round, "paddle_id", paddle_id)
    numbers = [row.id for row in rows]
    closing = schema.round_closing
    closings = {row.round_id: row for row in connection.execute(
        select(closing).where(closing.c.round_id.in_(numbers)))}
    last = schema.reading
    seen = {row[0]: row[1] for row in connection.execute(
        select(last.c.round_id, func.max(last.c.id)).where(last.c.round_id.in_(numbers))
        .group_by(last.c.round_id))}
    return tuple(_stored(row, closings.get(row.id), seen.get(row.id, 0)) for row in rows)


def close_round(pen: Pen, uid: str, paddle_id: int, advice: Mapping[str, Any],
                planed: Sequence[Mapping[str, Any]], seen: int) -> StoredRound:
    """End the open round: keep what was advised and what was planed off.

    Args:
        pen, uid: of this write.
        paddle_id: of the paddle.
        advice: what was shown, as data.
        planed: [[round.planed]] tables as typed.
        seen: ``seen`` of the open round as the writer saw it.

    Raises:
        ConflictError: something was read or withdrawn since; carries the last entry.
        InputError: there is no open round, or nothing like that can have been planed off.
    """
    uid = checked_uid(uid)
    done = by_uid(pen.connection, schema.round_closing, uid)
    if done is not None:
        return _numbered(pen.connection, paddle_id, done.round_id)
    found = _round(pen.connection, paddle_id, None)
    if found is None or not readings(pen.connection, paddle_id):
        raise InputError("are missing: a round ends after something was read", field="readings",
                         allowed="a reading in the open round")
    _refuse_unseen(pen.connection, found.id, seen)
    units = paddle(pen.connection, paddle_id).design.get("units", "mm")
    tables = [plain(table, "planed") for table in planed]
    add(pen, schema.round_closing, uid, round_id=found.id, advice=plain(advice, "advice"),
        planed=tables, units=units)
    check(pen.connection, paddle_id)
    return _numbered(pen.connection, paddle_id, found.id)


def _numbered(connection: Connection, paddle_id: int, round_id: int) -> StoredRound:
    return next(one for one in rounds(connection, paddle_id) if one.id == round_id)


def _refuse_unseen(connection: Connection, round_id: int, seen: int) -> None:
    last = all_of(connection, schema.reading, "round_id", round_id)[-1]
    if last.id > seen:
        raise ConflictError("was written to in the meantime", who=last.made_by, when=last.made_at,
                            now=_read(connection, last), field="round")


def checked_table(kind: str, table: Mapping[str, Any]) -> dict[str, Any]:
    """A reading's table, if its kind has such keys; whether it can be is the design's to say.

    Raises:
        InputError: it has not.
    """
    known(kind, KINDS, "kind")
    typed = plain(table, kind)
    for key in typed if kind in SINGLE else ():
        known(key, SINGLE[kind], f"readings.{key}")
    needed = "text" if kind == "remark" else kind
    if kind in SINGLE and needed not in typed:
        raise InputError("is missing", field=f"readings.{needed}", allowed="a value")
    return typed


def _open_round(pen: Pen, uid: str, paddle_id: int) -> int:
    found = _round(pen.connection, paddle_id, None)
    if found is not None:
        return int(found.id)
    table = schema.tuning_round
    last = pen.connection.execute(
        select(func.max(table.c.number)).where(table.c.paddle_id == paddle_id)).scalar() or 0
    return add(pen, table, derived(uid, "round"), paddle_id=paddle_id, number=last + 1)


def _round(connection: Connection, paddle_id: int, number: int | None) -> Entry | None:
    """A round's row by its number, None for the open one."""
    table, closing = schema.tuning_round, schema.round_closing
    query = select(table).where(table.c.paddle_id == paddle_id)
    if number is None:
        query = query.where(~exists().where(closing.c.round_id == table.c.id))
    else:
        query = query.where(table.c.number == number)
    return connection.execute(query).one_or_none()


def _standing_one(connection: Connection, round_id: int, kind: str) -> int | None:
    """The reading that a new one of its kind takes the place of."""
    if kind not in _ONCE:
        return None
    rows = standing(all_of(connection, schema.reading, "round_id", round_id), "table")
    return next((int(row.id) for row in rows if row.kind == kind), None)


def _round_of(connection: Connection, paddle_id: int, kind: str, replaces: int) -> int:
    old = by_id(connection, schema.reading, replaces)
    found = by_id(connection, schema.tuning_round, old.round_id)
    if (found.paddle_id, old.kind) != (paddle_id, kind):
        raise InputError("is of another paddle or kind", field="replaces", given=replaces,
                         allowed="a reading of this paddle and kind")
    refuse_replaced(connection, schema.reading, replaces, "table")
    other = _standing_one(connection, found.id, kind)
    if other not in {None, replaces}:
        raise InputError(f"is withdrawn, and another {kind} stands in its round",
                         field="replaces", given=replaces, allowed=f"{other}, the one that stands")
    return int(found.id)


def _read(connection: Connection, row: Entry) -> StoredReading:
    return _reading(row, by_id(connection, schema.tuning_round, row.round_id))


def _reading(row: Entry, found: Entry) -> StoredReading:
    return StoredReading(row.id, row.uid, found.paddle_id, found.number, row.kind, row.table,
                         row.replaces, row.made_at, row.made_by, row.units)


def _stored(row: Entry, closing: Entry | None, seen: int) -> StoredRound:
    ended = None if closing is None else Closing(
        closing.id, closing.uid, closing.advice, tuple(closing.planed), closing.made_at,
        closing.made_by, closing.units)
    return StoredRound(row.id, row.uid, row.paddle_id, row.number, row.made_at, row.made_by,
                       ended, seen)
