"""Classes: a wood and a target for all, and a paddle for each student."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from springloom.records.design import design_from
from springloom.records.reading import check_layout
from springloom.store import schema
from springloom.store.boards import take_board
from springloom.store.entries import (
    Entry,
    add,
    by_id,
    by_uid,
    checked_uid,
    clean,
    derived,
    plain,
)
from springloom.store.opening import Pen
from springloom.store.paddles import ELSEWHERE, Paddle, add_paddle, paddle
from springloom.store.people import Person, add_person, person
from springloom.units import Typed


@dataclass(frozen=True)
class StoredClass:
    """A class.

    Attributes:
        id, uid: of the class.
        name: as typed.
        base: a design file's tables that serve for all, as typed.
        board_id: the board that stands for everybody's wood, None if the base names none.
        made_at, made_by: when and by whom.
    """

    id: int
    uid: str
    name: str
    base: Mapping[str, Any]
    board_id: int | None
    made_at: datetime
    made_by: str


def add_class(pen: Pen, uid: str, name: str, base: Mapping[str, Any]) -> StoredClass:
    """Keep a class; its base's [board], if any, becomes every student's until they have one.

    Raises:
        InputError: the base makes no design.
    """
    uid, name = checked_uid(uid), clean(name, "name")
    known = by_uid(pen.connection, schema.klass, uid)
    if known is not None:
        return klass(pen.connection, known.id)
    typed: dict[str, Any] = {"format": 1, "name": name} | plain(base, "base")
    layout = check_layout(typed)
    design_from(layout)
    board_id = None
    if "board" in typed:
        board_id = take_board(pen, derived(uid, "board"), f"{name}: the wood"[:120],
                              typed["board"], units=layout.units).id
    made = add(pen, schema.klass, uid, name=name, base=typed, board_id=board_id)
    return klass(pen.connection, made)


def klass(connection: Connection, number: int) -> StoredClass:
    """One class.

    Raises:
        NotStoredError: there is none of that number.
    """
    return _class(by_id(connection, schema.klass, number))


def classes(connection: Connection) -> tuple[StoredClass, ...]:
    """Every class, the newest first."""
    query = select(schema.klass).order_by(schema.klass.c.id.desc())
    return tuple(_class(row) for row in connection.execute(query))


def students(connection: Connection, number: int) -> tuple[tuple[Person, Paddle], ...]:
    """Everybody of a class with their paddle, in the order they came."""
    by_id(connection, schema.klass, number)
    table = schema.paddle
    query = select(table.c.id, table.c.person_id).where(
        table.c.class_id == number, table.c.person_id.is_not(None)).order_by(table.c.id)
    return tuple((person(connection, row.person_id), paddle(connection, row.id))
                 for row in connection.execute(query).all())


def add_student(pen: Pen, uid: str, class_id: int, name: str,
                paddler: Mapping[str, Typed]) -> tuple[Person, Paddle]:
    """Keep a student: a person, and a paddle by the class's base.

    Raises:
        InputError: a measure that nobody has, or one that can't be read.
    """
    uid = checked_uid(uid)
    found = klass(pen.connection, class_id)
    who = add_person(pen, derived(uid, "person"), name, paddler,
                     units=found.base.get("units", "mm"))
    design = {key: value for key, value in found.base.items() if key not in ELSEWHERE}
    made = add_paddle(pen, uid, name, design, who.id, found.board_id, class_id)
    return who, made


def _class(row: Entry) -> StoredClass:
    return StoredClass(row.id, row.uid, row.name, row.base, row.board_id, row.made_at, row.made_by)
