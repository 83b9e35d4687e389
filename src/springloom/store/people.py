"""People and their measures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from springloom.records.design import design_from
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
)
from springloom.store.opening import Pen
from springloom.units import System, Typed


@dataclass(frozen=True)
class Person:
    """A person with the measures that stand.

    Attributes:
        id, uid: of the person.
        name: as typed.
        paddler: the [paddler] table as typed.
        units: of lengths typed without one.
        body_id: of these measures.
        made_at, made_by: of these measures.
    """

    id: int
    uid: str
    name: str
    paddler: Mapping[str, Typed]
    body_id: int
    made_at: datetime
    made_by: str
    units: System = "mm"


def add_person(pen: Pen, uid: str, name: str, paddler: Mapping[str, Typed], *,
               units: System = "mm") -> Person:
    """Keep a new person.

    Raises:
        InputError: a measure that nobody has, or one that can't be read.
    """
    uid, name = checked_uid(uid), clean(name, "name")
    known = by_uid(pen.connection, schema.person, uid)
    if known is None:
        measured = _checked(paddler, units)
        number = add(pen, schema.person, uid, name=name)
        add(pen, schema.body, derived(uid, "body"), person_id=number, paddler=measured,
            units=units)
        return person(pen.connection, number)
    return person(pen.connection, known.id)


def measure_person(pen: Pen, uid: str, person_id: int, paddler: Mapping[str, Typed], seen: int, *,
                   units: System = "mm") -> Person:
    """Keep new measures; the old ones stay readable.

    Args:
        pen, uid: of this write.
        person_id: whose.
        paddler: the whole table.
        seen: ``body_id`` of the measures the writer saw.
        units: of lengths typed without one.

    Raises:
        ConflictError: others have been written since; carries them.
        InputError: as :func:`add_person`.
    """
    uid = checked_uid(uid)
    if not is_known(pen, schema.body, uid):
        now = person(pen.connection, person_id)
        latest = by_id(pen.connection, schema.body, now.body_id)
        refuse_newer(latest, now.body_id, seen, "person", now)
        add(pen, schema.body, uid, person_id=person_id, paddler=_checked(paddler, units),
            units=units)
    return person(pen.connection, person_id)


def rename_person(pen: Pen, uid: str, person_id: int, name: str) -> Person:
    """Call a person otherwise."""
    uid, name = checked_uid(uid), clean(name, "name")
    if not is_known(pen, schema.change, uid):
        was = by_id(pen.connection, schema.person, person_id)
        log_change(pen, uid, "person", person_id, {"name": was.name}, {"name": name})
        pen.connection.execute(
            schema.person.update().where(schema.person.c.id == person_id).values(name=name))
    return person(pen.connection, person_id)


def person(connection: Connection, number: int) -> Person:
    """A person as they are now.

    Raises:
        NotStoredError: there is none of that number.
    """
    row = by_id(connection, schema.person, number)
    body = newest(connection, schema.body, "person_id", number)
    assert body is not None  # written with the person
    return _person(row, body)


def people(connection: Connection) -> tuple[Person, ...]:
    """Everybody, by name."""
    bodies = {row.person_id: row
              for row in connection.execute(select(schema.body).order_by(schema.body.c.id))}
    rows = connection.execute(select(schema.person)).all()
    found = [_person(row, bodies[row.id]) for row in rows]
    return tuple(sorted(found, key=lambda one: (one.name.casefold(), one.id)))


def body_history(connection: Connection, number: int) -> tuple[Person, ...]:
    """A person with each set of measures there was, the oldest first."""
    row = by_id(connection, schema.person, number)
    return tuple(_person(row, body)
                 for body in all_of(connection, schema.body, "person_id", number))


def _person(row: Entry, body: Entry) -> Person:
    return Person(row.id, row.uid, row.name, body.paddler, body.id, body.made_at, body.made_by,
                  body.units)


def _checked(paddler: Mapping[str, Typed], units: System) -> Mapping[str, Typed]:
    found = plain(paddler, "paddler")
    design_from(check_layout({"format": 1, "name": "-", "units": units, "paddler": found}))
    return found
