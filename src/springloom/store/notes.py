"""Notes about a paddle, a board or a person."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from sqlalchemy import Connection

from springloom.errors import InputError
from springloom.store import schema
from springloom.store.entries import (
    LONGEST_TEXT,
    Entry,
    add,
    all_of,
    by_id,
    by_uid,
    checked_uid,
    clean,
    one_about,
    refuse_replaced,
    standing,
)
from springloom.store.opening import Pen

About = Literal["paddle", "board", "person"]
ABOUT: tuple[About, ...] = ("paddle", "board", "person")


@dataclass(frozen=True)
class Note:
    """A note; ``text`` None for an entry that only withdraws."""

    id: int
    uid: str
    about: About
    about_id: int
    text: str | None
    replaces: int | None
    made_at: datetime
    made_by: str


def add_note(pen: Pen, uid: str, about: About, number: int, text: str,
             replaces: int | None = None) -> Note:
    """Keep a note, or one in place of another.

    Raises:
        ConflictError: that other has been corrected or withdrawn already.
        InputError: the text is empty or too long.
    """
    return _add(pen, uid, about, number, clean(text, "text", LONGEST_TEXT), replaces)


def withdraw_note(pen: Pen, uid: str, note_id: int) -> Note:
    """Take a note away; it stays readable.

    Raises:
        ConflictError: it has been corrected or withdrawn already.
    """
    old = _note(by_id(pen.connection, schema.note, note_id))
    return _add(pen, uid, old.about, old.about_id, None, note_id)


def notes(connection: Connection, about: About, number: int) -> tuple[Note, ...]:
    """The notes that stand, the oldest first."""
    return tuple(_note(row) for row in standing(_rows(connection, about, number), "text"))


def note_history(connection: Connection, about: About, number: int) -> tuple[Note, ...]:
    """Every note there ever was, in the order they were written."""
    return tuple(_note(row) for row in _rows(connection, about, number))


def _rows(connection: Connection, about: About, number: int) -> list[Entry]:
    key, = one_about(about, ABOUT, number)
    by_id(connection, schema.METADATA.tables[about], number)
    return all_of(connection, schema.note, key, number)


def _add(pen: Pen, uid: str, about: About, number: int, text: str | None,
         replaces: int | None) -> Note:
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.note, uid)
    if known is not None:
        return _note(known)
    where = one_about(about, ABOUT, number)
    by_id(pen.connection, schema.METADATA.tables[about], number)
    if replaces is not None:
        old = _note(by_id(pen.connection, schema.note, replaces))
        if (old.about, old.about_id) != (about, number):
            raise InputError("is about something else", field="replaces", given=replaces,
                             allowed="a note about the same")
        refuse_replaced(pen.connection, schema.note, replaces, "text")
    made = add(pen, schema.note, uid, text=text, replaces=replaces, **where)
    return _note(by_id(pen.connection, schema.note, made))


def _note(row: Entry) -> Note:
    about = next(name for name in ABOUT if row._mapping[f"{name}_id"] is not None)
    return Note(row.id, row.uid, about, row._mapping[f"{about}_id"], row.text, row.replaces,
                row.made_at, row.made_by)
