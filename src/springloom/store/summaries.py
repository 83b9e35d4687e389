"""What was worked out of a paddle, kept until anything of it changes."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from sqlalchemy import Connection, Table, func, select

from springloom import __version__
from springloom.store import schema
from springloom.store.entries import by_id
from springloom.store.opening import Store


def state_key(connection: Connection, paddle_id: int) -> str:
    """A text that changes whenever anything of a paddle does, or the program's version."""
    row = by_id(connection, schema.paddle, paddle_id)
    rounds = select(schema.tuning_round.c.id).where(
        schema.tuning_round.c.paddle_id == paddle_id).scalar_subquery()
    parts = [
        _last(schema.design, "paddle_id", paddle_id),
        _last(schema.body, "person_id", row.person_id),
        _last(schema.board_sheet, "board_id", row.board_id),
        _last(schema.board_test, "board_id", row.board_id),
        _last(schema.mark, "paddle_id", paddle_id), _last(schema.note, "paddle_id", paddle_id),
        _last(schema.attachment, "paddle_id", paddle_id),
        _last(schema.change, "paddle_id", paddle_id),
        _last(schema.change, "person_id", row.person_id),
        _last(schema.change, "board_id", row.board_id),
        select(func.max(schema.reading.c.id)).where(
            schema.reading.c.round_id.in_(rounds)).scalar_subquery(),
        select(func.max(schema.round_closing.c.id)).where(
            schema.round_closing.c.round_id.in_(rounds)).scalar_subquery(),
    ]
    found = connection.execute(select(*parts)).one()
    whole = [__version__, row.uid, row.person_id, row.board_id, row.class_id, row.set_aside,
             *found]
    return hashlib.sha256(json.dumps(whole).encode()).hexdigest()


def summary(connection: Connection, paddle_id: int) -> tuple[str, Any] | None:
    """What was kept of a paddle, with the key it was true for."""
    table = schema.summary
    row = connection.execute(select(table).where(table.c.paddle_id == paddle_id)).one_or_none()
    return None if row is None else (row.key, row.data)


def keep_summary(store: Store, paddle_id: int, key: str, data: Any) -> None:
    """Keep what was worked out while :func:`state_key` was ``key``."""
    table = schema.summary
    with store.write("Springloom") as pen:
        by_id(pen.connection, schema.paddle, paddle_id)
        done = pen.connection.execute(table.update().where(table.c.paddle_id == paddle_id)
                                      .values(key=key, data=data))
        if done.rowcount == 0:
            pen.connection.execute(table.insert().values(paddle_id=paddle_id, key=key, data=data))


def _last(table: Table, column: str, owner: int | None) -> Any:
    return select(func.max(table.c.id)).where(table.c[column] == owner).scalar_subquery()
