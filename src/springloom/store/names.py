"""What things are called, for lists that need no more of them."""

from __future__ import annotations

from sqlalchemy import Connection, select

from springloom.store import schema


def person_names(connection: Connection) -> dict[int, str]:
    """Return everybody's name by number."""
    table = schema.person
    return {row.id: row.name for row in connection.execute(select(table.c.id, table.c.name))}
