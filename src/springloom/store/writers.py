"""Who may write: each device that was let in, under a name."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from springloom.store import schema
from springloom.store.entries import Entry, add, by_id, by_uid, checked_uid, clean
from springloom.store.opening import Pen


@dataclass(frozen=True)
class Writer:
    """Somebody on some device; ``revoked_at`` None while they may write."""

    id: int
    uid: str
    name: str
    address: str
    made_at: datetime
    revoked_at: datetime | None

    @property
    def may_write(self) -> bool:
        """Whether they have not been sent away."""
        return self.revoked_at is None


def welcome(pen: Pen, uid: str, name: str, address: str) -> Writer:
    """Let somebody in."""
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.writer, uid)
    if known is not None:
        return _writer(known)
    made = add(pen, schema.writer, uid, name=clean(name, "name"),
               address=clean(address, "address", 200, empty=True))
    return writer(pen.connection, made)


def writer(connection: Connection, number: int) -> Writer:
    """One writer.

    Raises:
        NotStoredError: there is none of that number.
    """
    return _writer(by_id(connection, schema.writer, number))


def writers(connection: Connection) -> tuple[Writer, ...]:
    """Everybody who was ever let in, the newest first."""
    query = select(schema.writer).order_by(schema.writer.c.id.desc())
    return tuple(_writer(row) for row in connection.execute(query))


def revoke(pen: Pen, number: int) -> Writer:
    """Send somebody away; what they wrote stays."""
    if writer(pen.connection, number).may_write:
        pen.connection.execute(schema.writer.update().where(schema.writer.c.id == number)
                               .values(revoked_at=pen.at))
    return writer(pen.connection, number)


def _writer(row: Entry) -> Writer:
    return Writer(row.id, row.uid, row.name, row.address, row.made_at, row.revoked_at)
