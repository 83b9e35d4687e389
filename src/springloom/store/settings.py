"""Settings of a store, and the key its sessions are signed with."""

from __future__ import annotations

import secrets
from typing import Any

from sqlalchemy import Connection, select

from springloom.store import schema
from springloom.store.opening import Pen, Store

SECRET = "signing_key"
LONGEST_KEY = 80


def setting(connection: Connection, key: str) -> Any:
    """A setting's value, None where it was never set."""
    table = schema.setting
    return connection.execute(select(table.c.value).where(table.c.key == key)).scalar()


def put_setting(pen: Pen, key: str, value: Any) -> None:
    """Set it; None takes it back."""
    table = schema.setting
    if value is None:
        pen.connection.execute(table.delete().where(table.c.key == key))
        return
    done = pen.connection.execute(table.update().where(table.c.key == key).values(value=value))
    if done.rowcount == 0:
        pen.connection.execute(table.insert().values(key=key, value=value))


def signing_key(store: Store) -> bytes:
    """The key of this store, made once; it is in no archive."""
    with store.read() as connection:
        found = setting(connection, SECRET)
    if found is None:
        with store.write("Springloom") as pen:
            found = setting(pen.connection, SECRET)
            if found is None:
                found = secrets.token_hex(32)
                put_setting(pen, SECRET, found)
    return bytes.fromhex(found)
