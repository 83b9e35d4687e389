"""Photographs, recordings and other files that belong to a paddle, a board or a person."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Select, func, select

from springloom.errors import AsIs, RangeError
from springloom.store import schema
from springloom.store.entries import (
    Entry,
    add,
    by_id,
    by_uid,
    checked_uid,
    clean,
    one_about,
    refuse_no_number,
)
from springloom.store.notes import ABOUT, About
from springloom.store.opening import Pen

MOST_BYTES = 10_000_000
"""A photograph or a minute of sound."""


@dataclass(frozen=True)
class Attachment:
    """A file without its content; ``size`` in bytes."""

    id: int
    uid: str
    about: About
    about_id: int
    name: str
    media_type: str
    sha256: str
    size: int
    made_at: datetime
    made_by: str


def attach(pen: Pen, uid: str, about: About, number: int, name: str, media_type: str,
           content: bytes) -> Attachment:
    """Keep a file.

    Raises:
        RangeError: it is empty, or larger than :data:`MOST_BYTES`.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.attachment, uid)
    if known is not None:
        return attachment(pen.connection, known.id)
    where = one_about(about, ABOUT, number)
    by_id(pen.connection, schema.METADATA.tables[about], number)
    if not 0 < len(content) <= MOST_BYTES:
        raise RangeError("is empty" if not content else "is too large", field="content",
                         given=AsIs(f"{len(content)} bytes"), allowed=f"1 to {MOST_BYTES} bytes")
    made = add(pen, schema.attachment, uid, name=clean(name, "name", 255),
               media_type=clean(media_type, "media_type"),
               sha256=hashlib.sha256(content).hexdigest(), content=content, **where)
    return attachment(pen.connection, made)


def attachment(connection: Connection, number: int) -> Attachment:
    """One file, without its content.

    Raises:
        NotStoredError: there is none of that number.
    """
    refuse_no_number(schema.attachment, number)
    found = connection.execute(_SELECT.where(schema.attachment.c.id == number)).one_or_none()
    return _attachment(found or by_id(connection, schema.attachment, number))


def attachments(connection: Connection, about: About, number: int) -> tuple[Attachment, ...]:
    """The files that belong to something, the oldest first, without their content."""
    key, = one_about(about, ABOUT, number)
    by_id(connection, schema.METADATA.tables[about], number)
    query = _SELECT.where(schema.attachment.c[key] == number).order_by(schema.attachment.c.id)
    return tuple(_attachment(row) for row in connection.execute(query))


def content(connection: Connection, attachment_id: int) -> bytes:
    """What a file holds.

    Raises:
        NotStoredError: there is none of that number.
    """
    return bytes(by_id(connection, schema.attachment, attachment_id).content)


_SELECT: Select[Any] = select(
    *(column for column in schema.attachment.c if column.name != "content"),
    func.length(schema.attachment.c.content).label("size"),
)


def _attachment(row: Entry) -> Attachment:
    about = next(name for name in ABOUT if row._mapping[f"{name}_id"] is not None)
    return Attachment(row.id, row.uid, about, row._mapping[f"{about}_id"], row.name,
                      row.media_type, row.sha256, row.size, row.made_at, row.made_by)
