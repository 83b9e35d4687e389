"""What was worked out of a paddle, kept until anything of it changes."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Connection, Select, Table, func, null, select

from springloom import __version__
from springloom.store import schema
from springloom.store.entries import Entry, by_id
from springloom.store.opening import Store

_OWNED: tuple[tuple[Table, str], ...] = (
    (schema.design, "paddle_id"), (schema.body, "person_id"), (schema.board_sheet, "board_id"),
    (schema.board_test, "board_id"), (schema.mark, "paddle_id"), (schema.note, "paddle_id"),
    (schema.attachment, "paddle_id"), (schema.change, "paddle_id"),
    (schema.change, "person_id"), (schema.change, "board_id"),
)
_OF_ROUNDS = (schema.reading, schema.round_closing)


def state_key(connection: Connection, paddle_id: int) -> str:
    """A text that changes whenever anything of a paddle does, or the program's version."""
    row = by_id(connection, schema.paddle, paddle_id)
    owners = {**row._mapping, "paddle_id": row.id}
    rounds = select(schema.tuning_round.c.id).where(
        schema.tuning_round.c.paddle_id == paddle_id).scalar_subquery()
    parts = [_last(table, column, owners[column]) for table, column in _OWNED]
    parts += [select(func.max(table.c.id)).where(table.c.round_id.in_(rounds)).scalar_subquery()
              for table in _OF_ROUNDS]
    return _key(row, connection.execute(select(*parts)).one())


def state_keys(connection: Connection) -> dict[int, str]:
    """Every paddle's :func:`state_key`, in a few queries for all of them."""
    last = [_pairs(connection, select(table.c[column], func.max(table.c.id))
                   .group_by(table.c[column])) for table, column in _OWNED]
    rounds = schema.tuning_round
    last += [_pairs(connection, select(rounds.c.paddle_id, func.max(table.c.id))
                    .join(table, table.c.round_id == rounds.c.id)
                    .group_by(rounds.c.paddle_id)) for table in _OF_ROUNDS]
    columns = [*(column for _, column in _OWNED), *("paddle_id" for _ in _OF_ROUNDS)]
    found = {}
    table = schema.paddle
    every = select(*(table.c[name] for name in (
        "id", "uid", "person_id", "board_id", "class_id", "set_aside")))
    for row in connection.execute(every):
        owners = {**row._mapping, "paddle_id": row.id}
        parts = [None if owners[column] is None else lasts.get(owners[column])
                 for lasts, column in zip(last, columns, strict=True)]
        found[row.id] = _key(row, parts)
    return found


def _pairs(connection: Connection, query: Select[Any]) -> dict[int, int]:
    return {row[0]: row[1] for row in connection.execute(query)}


def _key(row: Entry, parts: Iterable[int | None]) -> str:
    whole = [__version__, row.uid, row.person_id, row.board_id, row.class_id, row.set_aside,
             *parts]
    return hashlib.sha256(json.dumps(whole).encode()).hexdigest()


def summary(connection: Connection, paddle_id: int) -> tuple[str, Any] | None:
    """What was kept of a paddle, with the key it was true for."""
    table = schema.summary
    row = connection.execute(select(table).where(table.c.paddle_id == paddle_id)).one_or_none()
    return None if row is None else (row.key, row.data)


def summaries(connection: Connection) -> dict[int, tuple[str, Any]]:
    """What was kept of every paddle, with the key it was true for."""
    return {row.paddle_id: (row.key, row.data)
            for row in connection.execute(select(schema.summary))}


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
    if owner is None:  # nobody's: entries that have no such owner are others'
        return null()
    return select(func.max(table.c.id)).where(table.c[column] == owner).scalar_subquery()
