"""Paddles and the versions of their designs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, func, select

from springloom.errors import InputError, NotStoredError
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
    derived,
    is_known,
    log_change,
    newest,
    plain,
    refuse_newer,
)
from springloom.store.opening import Pen

ELSEWHERE = ("paddler", "board", "readings", "round")
"""Tables of a design file that have entries of their own."""

REFERS = {"person_id": schema.person, "board_id": schema.board, "class_id": schema.klass}
"""Columns of a paddle that say what else it goes with."""

_UNCHANGED: Any = object()


@dataclass(frozen=True)
class Paddle:
    """A paddle by one version of its design.

    Attributes:
        id, uid: of the paddle.
        name: as in this version.
        person_id, board_id, class_id: whose, of what, in which class; None for none.
        design: a design file's top-level keys but :data:`ELSEWHERE`, as typed.
        number: of this version, from 1.
        why: it was made.
        set_aside: whether it is out of the way.
        made_at, made_by: of this version.
    """

    id: int
    uid: str
    name: str
    person_id: int | None
    board_id: int | None
    class_id: int | None
    design: Mapping[str, Any]
    number: int
    why: str
    set_aside: bool
    made_at: datetime
    made_by: str


def add_paddle(pen: Pen, uid: str, name: str, design: Mapping[str, Any],
               person_id: int | None = None, board_id: int | None = None,
               class_id: int | None = None) -> Paddle:
    """Keep a new paddle with the first version of its design.

    Raises:
        InputError: the design is none.
        NotStoredError: there is no such person, board or class.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.paddle, uid)
    if known is not None:
        return paddle(pen.connection, known.id)
    layout = _layout(design, clean(name, "name"))
    _look_up(pen.connection, person_id=person_id, board_id=board_id, class_id=class_id)
    number = add(pen, schema.paddle, uid, person_id=person_id, board_id=board_id,
                 class_id=class_id, set_aside=0)
    add(pen, schema.design, derived(uid, "design"), paddle_id=number, number=1, layout=layout,
        why="")
    check(pen.connection, number)
    return paddle(pen.connection, number)


def save_design(pen: Pen, uid: str, paddle_id: int, design: Mapping[str, Any], why: str,
                seen: int) -> Paddle:
    """Keep another version of a design; the old ones stay readable.

    The paddle is called as the design says, if it says so.

    Raises:
        ConflictError: there is a version newer than ``seen`` (a ``number``); carries it.
        InputError: the design is none, or what was read and planed does not go with it.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.design, uid)
    if known is not None:
        return design_version(pen.connection, known.paddle_id, known.number)
    now = paddle(pen.connection, paddle_id)
    latest = newest(pen.connection, schema.design, "paddle_id", paddle_id)
    assert latest is not None  # written with the paddle
    refuse_newer(latest, now.number, seen, "design", now)
    layout = _layout(design, clean(str(design.get("name") or now.name), "name"))
    add(pen, schema.design, uid, paddle_id=paddle_id, number=now.number + 1, layout=layout,
        why=clean(why, "why", LONGEST_TEXT, empty=True))
    check(pen.connection, paddle_id)
    return paddle(pen.connection, paddle_id)


def assign(pen: Pen, uid: str, paddle_id: int, *, person_id: int | None = _UNCHANGED,
           board_id: int | None = _UNCHANGED, class_id: int | None = _UNCHANGED) -> Paddle:
    """Say whose a paddle is, of which board, in which class; what is not given stays.

    Raises:
        InputError: the paddle can't be of that.
        NotStoredError: there is no such person, board or class.
    """
    given = {"person_id": person_id, "board_id": board_id, "class_id": class_id}
    now = {key: value for key, value in given.items() if value is not _UNCHANGED}
    _look_up(pen.connection, **now)
    return _changed(pen, uid, paddle_id, now)


def set_aside(pen: Pen, uid: str, paddle_id: int, aside: bool) -> Paddle:
    """Put a paddle out of the way, or take it up again."""
    return _changed(pen, uid, paddle_id, {"set_aside": int(aside)})


def paddle(connection: Connection, number: int) -> Paddle:
    """A paddle as it is now.

    Raises:
        NotStoredError: there is none of that number.
    """
    row = by_id(connection, schema.paddle, number)
    design = newest(connection, schema.design, "paddle_id", number)
    assert design is not None  # written with the paddle
    return _paddle(row, design)


def paddles(connection: Connection, aside: bool = False) -> tuple[Paddle, ...]:
    """Every paddle, by name: those at hand, or those set aside."""
    last = select(func.max(schema.design.c.id)).group_by(schema.design.c.paddle_id)
    designs = {row.paddle_id: row for row in connection.execute(
        select(schema.design).where(schema.design.c.id.in_(last)))}
    rows = connection.execute(
        select(schema.paddle).where(schema.paddle.c.set_aside == int(aside))).all()
    found = [_paddle(row, designs[row.id]) for row in rows]
    return tuple(sorted(found, key=lambda one: (one.name.casefold(), one.id)))


def design_versions(connection: Connection, number: int) -> tuple[Paddle, ...]:
    """A paddle by each version of its design, the first one first."""
    row = by_id(connection, schema.paddle, number)
    return tuple(_paddle(row, design)
                 for design in all_of(connection, schema.design, "paddle_id", number))


def design_version(connection: Connection, paddle_id: int, number: int | None) -> Paddle:
    """A paddle by one version of its design, None for the newest.

    Raises:
        NotStoredError: there is no such paddle or version.
    """
    if number is None:
        return paddle(connection, paddle_id)
    row = by_id(connection, schema.paddle, paddle_id)
    found = connection.execute(select(schema.design).where(
        schema.design.c.paddle_id == paddle_id, schema.design.c.number == number)).one_or_none()
    if found is None:
        raise NotStoredError("is not in the store", field="design", given=number)
    return _paddle(row, found)


def check(connection: Connection, paddle_id: int) -> None:
    """Make sure that all that is written of a paddle still makes a design.

    Raises:
        InputError: it doesn't; names the key.
    """
    from springloom.store.layout import design_of  # noqa: PLC0415 - it is made of this module

    design_of(connection, paddle_id)


def _changed(pen: Pen, uid: str, paddle_id: int, now: Mapping[str, Any]) -> Paddle:
    uid = checked_uid(uid)
    if not is_known(pen, schema.change, uid):
        row = by_id(pen.connection, schema.paddle, paddle_id)
        was = {key: row._mapping[key] for key in now}
        log_change(pen, uid, "paddle", paddle_id, _lasting(pen.connection, was),
                   _lasting(pen.connection, now))
        if now:
            pen.connection.execute(
                schema.paddle.update().where(schema.paddle.c.id == paddle_id).values(**now))
        check(pen.connection, paddle_id)
    return paddle(pen.connection, paddle_id)


def _lasting(connection: Connection, values: Mapping[str, Any]) -> dict[str, Any]:
    """The same with uids for numbers, which mean something in this store only."""
    return {
        key.removesuffix("_id"): by_id(connection, REFERS[key], value).uid
        if key in REFERS and value is not None else value
        for key, value in values.items()
    }


def _look_up(connection: Connection, **given: int | None) -> None:
    for key, number in given.items():
        if number is not None:
            by_id(connection, REFERS[key], number)


def _layout(design: Mapping[str, Any], name: str) -> dict[str, Any]:
    for key in ELSEWHERE:
        if key in design:
            raise InputError("has entries of its own", field=key,
                             allowed="a design without its paddler, board and readings")
    return {"format": 1, "name": name} | plain(design, "design") | {"name": name}


def _paddle(row: Entry, design: Entry) -> Paddle:
    return Paddle(
        row.id, row.uid, design.layout["name"], row.person_id, row.board_id, row.class_id,
        design.layout, design.number, design.why, bool(row.set_aside), design.made_at,
        design.made_by,
    )
