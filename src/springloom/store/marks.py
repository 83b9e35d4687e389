"""Stages of carving, ticked off."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection

from springloom.store import schema
from springloom.store.entries import (
    Entry,
    add,
    all_of,
    by_id,
    by_uid,
    checked_uid,
    clean,
    plain,
)
from springloom.store.opening import Pen
from springloom.store.paddles import paddle
from springloom.units import System, Typed


@dataclass(frozen=True)
class Mark:
    """A stage as it was ticked: done or not, and what was measured, as typed."""

    id: int
    uid: str
    paddle_id: int
    stage: str
    done: bool
    measured: Mapping[str, Typed]
    made_at: datetime
    made_by: str
    units: System = "mm"


def mark_stage(pen: Pen, uid: str, paddle_id: int, stage: str, done: bool,
               measured: Mapping[str, Typed], *, units: System | None = None) -> Mark:
    """Keep that a stage is done, or is not done after all; earlier marks stay readable.

    ``units`` are those of lengths typed without one; None for the design's.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.mark, uid)
    if known is not None:
        return _mark(known)
    now = paddle(pen.connection, paddle_id)
    number = add(pen, schema.mark, uid, paddle_id=paddle_id, stage=clean(stage, "stage"),
                 done=int(done), measured=plain(measured, "measured"),
                 units=units or now.design.get("units", "mm"))
    return _mark(by_id(pen.connection, schema.mark, number))


def marks(connection: Connection, paddle_id: int) -> tuple[Mark, ...]:
    """The last mark of each stage, in the order the stages were first marked."""
    last = {one.stage: one for one in mark_history(connection, paddle_id)}
    return tuple(last.values())


def mark_history(connection: Connection, paddle_id: int) -> tuple[Mark, ...]:
    """Every mark there ever was, in the order they were written."""
    by_id(connection, schema.paddle, paddle_id)
    return tuple(_mark(row) for row in all_of(connection, schema.mark, "paddle_id", paddle_id))


def _mark(row: Entry) -> Mark:
    return Mark(row.id, row.uid, row.paddle_id, row.stage, bool(row.done), row.measured,
                row.made_at, row.made_by, row.units)
