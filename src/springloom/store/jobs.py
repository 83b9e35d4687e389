"""Long work: asked for by a page, done by a worker, fetched when it is done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from sqlalchemy import Connection, delete, or_, select

from springloom.errors import NotStoredError
from springloom.store import schema
from springloom.store.entries import Entry, add, by_id, by_uid, checked_uid, plain
from springloom.store.opening import Pen

State = Literal["asked", "running", "done", "failed"]

SILENT = timedelta(minutes=1)
"""A worker that says nothing for so long is taken for dead."""

MOST_CLAIMS = 3
"""Work that so many workers died of is given up."""

KEPT = timedelta(days=7)


@dataclass(frozen=True)
class Job:
    """A piece of work; ``share`` is how much of it is done, 0 to 1."""

    id: int
    uid: str
    kind: str
    arguments: Mapping[str, Any]
    state: State
    share: float
    saying: str
    made_at: datetime
    made_by: str


@dataclass(frozen=True)
class Result:
    """What a piece of work made."""

    name: str
    media_type: str
    content: bytes


def ask(pen: Pen, uid: str, kind: str, arguments: Mapping[str, Any]) -> Job:
    """Ask for work; what was done over a week ago is forgotten."""
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.job, uid)
    if known is not None:
        return _job(known)
    table = schema.job
    pen.connection.execute(delete(table).where(
        table.c.state.in_(("done", "failed")), table.c.beat_at < pen.at - KEPT))
    made = add(pen, table, uid, kind=kind, arguments=plain(arguments, "arguments"), state="asked",
               claims=0, share=0.0, saying="")
    return job(pen.connection, made)


def claim(pen: Pen) -> Job | None:
    """Take the oldest work that nobody is at, None if there is none."""
    table = schema.job
    free = or_(table.c.state == "asked",
               (table.c.state == "running") & (table.c.beat_at < pen.at - SILENT))
    rows = pen.connection.execute(select(table).where(free).order_by(table.c.id)).all()
    for row in rows:
        if row.claims < MOST_CLAIMS:
            _set(pen, row.id, state="running", claims=row.claims + 1, beat_at=pen.at, share=0.0,
                 saying="")
            return job(pen.connection, row.id)
        fail(pen, row.id, f"was given up: {MOST_CLAIMS} tries ended without an answer")
    return None


def report(pen: Pen, number: int, share: float, saying: str) -> None:
    """Say how far the work is; at least every half minute, or it is taken for dead."""
    _set(pen, number, share=min(max(share, 0.0), 1.0), saying=saying, beat_at=pen.at)


def finish(pen: Pen, number: int, name: str, media_type: str, content: bytes) -> None:
    """Keep what the work made."""
    _set(pen, number, state="done", share=1.0, saying="", beat_at=pen.at, name=name,
         media_type=media_type, content=content)


def fail(pen: Pen, number: int, message: str) -> None:
    """Keep why there will be no result."""
    _set(pen, number, state="failed", saying=message, beat_at=pen.at)


def job(connection: Connection, number: int) -> Job:
    """One piece of work.

    Raises:
        NotStoredError: there is none of that number.
    """
    return _job(by_id(connection, schema.job, number))


def result(connection: Connection, number: int) -> Result:
    """What a piece of work made.

    Raises:
        NotStoredError: it is not done.
    """
    row = by_id(connection, schema.job, number)
    if row.state != "done":
        raise NotStoredError("is not done", field="job", given=number)
    return Result(row.name, row.media_type, bytes(row.content))


def _set(pen: Pen, number: int, **values: Any) -> None:
    pen.connection.execute(
        schema.job.update().where(schema.job.c.id == number).values(**values))


def _job(row: Entry) -> Job:
    return Job(row.id, row.uid, row.kind, row.arguments, row.state, row.share, row.saying,
               row.made_at, row.made_by)
