"""What every entry has: a uid that makes a second try harmless, clean text, a line of corrections.

A form's uid comes with every write. Where it is known already, the entry of then is the answer
and nothing is written, so that a phone may send again what it is not sure of.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, Row, Table, select

from springloom.errors import AsIs, ConflictError, InputError, NotStoredError
from springloom.store import schema
from springloom.store.opening import Pen

LONGEST_NAME = 120
LONGEST_TEXT = 4000

Entry = Row[Any]


def checked_uid(uid: str) -> str:
    """The uid in its usual spelling.

    Raises:
        InputError: it is no UUID.
    """
    try:
        return str(uuid.UUID(uid))
    except (ValueError, AttributeError, TypeError):
        raise InputError("is no UUID", field="uid", given=str(uid),
                         allowed="the one made with the form") from None


def derived(uid: str, part: str) -> str:
    """The uid of a part of what is written under ``uid``; the same for the same."""
    return str(uuid.uuid5(uuid.UUID(uid), part))


def clean(text: str, field: str, most: int = LONGEST_NAME, *, empty: bool = False) -> str:
    """Text as every database takes it, and every drawing: a name has one line.

    Raises:
        InputError: it is blank, too long, or holds what is no character.
    """
    if not text.strip() and not empty:
        raise InputError("is empty", field=field, allowed="a text")
    if len(text) > most:
        raise InputError("is too long", field=field, given=AsIs(f"{len(text)} characters"),
                         allowed=f"at most {most}")
    _refuse_unwritable(text, field)
    if most < LONGEST_TEXT and _BREAK.search(text):
        raise InputError("is of more than one line", field=field, allowed="one line")
    return text


def plain(table: Mapping[str, Any], field: str) -> dict[str, Any]:
    """A typed table as it can be stored.

    Raises:
        InputError: it holds a number that is none, or what is no character.
    """
    found = dict(table)
    _refuse_unwritable(found, field)
    try:
        json.dumps(found, allow_nan=False)
    except (ValueError, TypeError) as error:
        raise InputError(f"can't be stored: {error}", field=field,
                         allowed="texts and finite numbers") from None
    return found


def _refuse_unwritable(value: Any, field: str) -> None:
    """Stop at what no text has, anywhere in what was typed."""
    if isinstance(value, str) and _UNWRITABLE.search(value):
        raise InputError("holds what is no character", field=field, allowed="plain text")
    if isinstance(value, Mapping):
        for key, inner in value.items():
            _refuse_unwritable(key, field)
            _refuse_unwritable(inner, field)
    elif isinstance(value, list | tuple):
        for inner in value:
            _refuse_unwritable(inner, field)


_UNWRITABLE = re.compile("[\0-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff"
                         "\u202a-\u202e\u2066-\u2069]")
"""Nulls and half characters, which no database takes; controls, which no drawing takes; marks that
turn the writing round, so that a line reads as another than it is."""

_BREAK = re.compile("[\t\n\r\u2028\u2029]")


def by_uid(connection: Connection, table: Table, uid: str) -> Entry | None:
    """The entry of that uid."""
    return connection.execute(select(table).where(table.c.uid == uid)).one_or_none()


def by_id(connection: Connection, table: Table, number: int) -> Entry:
    """The entry of that number.

    Raises:
        NotStoredError: there is none.
    """
    refuse_no_number(table, number)
    found = connection.execute(select(table).where(table.c.id == number)).one_or_none()
    if found is None:
        raise _not_stored(table, number)
    return found


def refuse_no_number(table: Table, number: int) -> None:
    """Stop at a number that no database would compare with.

    Raises:
        NotStoredError: it is none that an entry can have.
    """
    if not 0 < number < 2**31:
        raise _not_stored(table, number)


def _not_stored(table: Table, number: int) -> NotStoredError:
    return NotStoredError("is not in the store", field=_WORDS.get(table.name, table.name),
                          given=number)


_WORDS = {"tuning_round": "round", "board_test": "board test", "board_sheet": "board"}


def add(pen: Pen, table: Table, uid: str, /, **values: Any) -> int:
    """Write an entry; return its number."""
    made = pen.connection.execute(
        table.insert().values(uid=uid, made_at=pen.at, made_by=pen.by, **values)
    )
    assert made.inserted_primary_key is not None  # one row, one key
    return int(made.inserted_primary_key[0])


def newest(connection: Connection, table: Table, column: str, owner: int) -> Entry | None:
    """The last entry of an owner."""
    query = select(table).where(table.c[column] == owner).order_by(table.c.id.desc()).limit(1)
    return connection.execute(query).one_or_none()


def all_of(connection: Connection, table: Table, column: str, owner: int) -> list[Entry]:
    """Every entry of an owner, in the order they were written."""
    query = select(table).where(table.c[column] == owner).order_by(table.c.id)
    return list(connection.execute(query))


def refuse_newer(latest: Entry, version: int, seen: int, field: str, now: object) -> None:
    """Stop a writer who has not seen the latest version.

    Raises:
        ConflictError: says who wrote it, and carries what it says.
    """
    if version != seen:
        raise ConflictError("has been changed in the meantime", who=latest.made_by,
                            when=latest.made_at, now=now, field=field)


def standing(entries: Iterable[Entry], column: str) -> list[Entry]:
    """The entries that no other replaces and that say something, each in its first one's place.

    Args:
        entries: with ``id`` and ``replaces``.
        column: None in an entry that only withdraws.
    """
    rows = {entry.id: entry for entry in entries}
    replaced = {entry.replaces for entry in rows.values()}
    stand = [row for row in rows.values()
             if row.id not in replaced and row._mapping[column] is not None]
    return sorted(stand, key=lambda row: line_of(rows, row)[0].id)


def line_of(rows: Mapping[int, Entry], entry: Entry) -> list[Entry]:
    """An entry with all that it replaces, the first one first."""
    found = [entry]
    while found[-1].replaces is not None:
        found.append(rows[found[-1].replaces])
    return found[::-1]


def successor(connection: Connection, table: Table, number: int) -> Entry | None:
    """The entry that replaces another."""
    return connection.execute(select(table).where(table.c.replaces == number)).one_or_none()


def refuse_replaced(connection: Connection, table: Table, number: int, column: str) -> None:
    """Stop a second correction of the same entry.

    Raises:
        ConflictError: carries what stands in its place now, None if it was withdrawn.
    """
    found = successor(connection, table, number)
    if found is not None:
        now = found._mapping[column]
        said = "has been withdrawn in the meantime" if now is None else (
            "has been corrected in the meantime")
        raise ConflictError(said, who=found.made_by, when=found.made_at, now=now,
                            field=_WORDS.get(table.name, table.name))


def log_change(pen: Pen, uid: str, about: str, number: int, was: Mapping[str, Any],
               now: Mapping[str, Any]) -> None:
    """Keep a change of what can be changed, beside it."""
    add(pen, schema.change, uid, was=dict(was), now=dict(now), **{f"{about}_id": number})


def is_known(pen: Pen, table: Table, uid: str) -> bool:
    """Whether this was written before."""
    query = select(table.c.id).where(table.c.uid == uid)
    return pen.connection.execute(query).first() is not None


def one_about(about: str, tables: Sequence[str], number: int) -> dict[str, int]:
    """The column that says what an entry is about.

    Raises:
        InputError: it can't be about that.
    """
    if about not in tables:
        raise InputError("is nothing an entry can be about", field="about", given=about,
                         allowed=", ".join(tables))
    return {f"{about}_id": number}
