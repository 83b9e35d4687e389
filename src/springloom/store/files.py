"""The store as one SQLite file: made whole, looked at before it is trusted."""

from __future__ import annotations

import os
import sqlite3
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from sqlalchemy import Connection, Engine

from springloom.errors import StoreError
from springloom.store.backup import settle
from springloom.store.trouble import newest_backup

LOOKED_THROUGH = 100_000_000
"""Bytes up to which a file is looked through when it is opened: some tenths of a second."""


class Closes(Protocol):
    """What can be closed."""

    def close(self) -> None:
        """Close it."""


def set_up(connection: sqlite3.Connection, _: Any) -> None:
    """Make a new connection keep the references, and every commit when the power goes."""
    connection.isolation_level = None  # we say BEGIN ourselves
    for pragma in ("foreign_keys=ON", "synchronous=FULL", "fullfsync=ON"):
        connection.execute(f"PRAGMA {pragma}")


def begin(connection: Connection) -> None:
    """Take the right to write at once, as later it might be refused half-way, or no such right."""
    writes = connection.get_execution_options().get("springloom_writes")
    connection.exec_driver_sql(f"PRAGMA query_only={'OFF' if writes else 'ON'}")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def write_ahead(engine: Engine) -> None:
    """Let readers go on while one writes; the file remembers it."""
    _alone(engine, "PRAGMA journal_mode=WAL")


def ready(path: Path, make: Callable[[Path], Closes]) -> None:
    """See to it that there is a file, its folder too.

    Args:
        path: of the store.
        make: makes a whole store under another name.

    Raises:
        StoreError: there is what is no file, an empty one, or only part of a store.
    """
    try:
        if path.exists():
            _refuse_hollow(path)
            return
        _refuse_left_over(path)
        path.parent.mkdir(parents=True, exist_ok=True)
        _make(path, make)
    except OSError as error:
        raise StoreError(f"can't be made: {error.strerror}", field=str(path),
                         allowed="a file in a folder you may write to") from error


def refuse_damaged(engine: Engine, path: Path) -> None:
    """Look a file through.

    Raises:
        StoreError: it is damaged; says where the newest backup lies.
    """
    if path.stat().st_size > LOOKED_THROUGH:
        return  # then a damage shows where it is read
    found = _alone(engine, "PRAGMA quick_check(1)")
    if found != "ok":
        raise StoreError(f"is damaged: {' '.join(found.split())}", field=str(path),
                         allowed=f"put it aside and go on from a copy: {newest_backup(path)}")


def _alone(engine: Engine, pragma: str) -> str:
    """Run a pragma outside of any transaction."""
    raw = engine.raw_connection()
    try:
        row = raw.cursor().execute(pragma).fetchone()
        return str(row[0])
    finally:
        raw.close()


def _refuse_hollow(path: Path) -> None:
    if not path.is_file():
        raise StoreError("is no file", field=str(path), allowed="a file")
    if path.stat().st_size == 0:
        raise StoreError("is empty: what was in it is lost", field=str(path),
                         allowed=f"delete it to start anew, or put a copy in its place: "
                         f"{newest_backup(path)}")


def _refuse_left_over(path: Path) -> None:
    """Never begin a new store beside the journal of one that is gone: it would be mixed in."""
    journal = path.with_name(f"{path.name}-wal")
    if journal.exists() and journal.stat().st_size > 0:
        raise StoreError(f"is gone, but what was written last is still in {journal.name}",
                         field=str(path), allowed="put the file back beside it, or move "
                         f"{journal.name} away to start anew; {newest_backup(path)}")


def _make(path: Path, make: Callable[[Path], Closes]) -> None:
    """Make a store beside its place and move it there whole, unless somebody was faster."""
    new = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
    try:
        new.touch(mode=0o600)  # people's measures are nobody else's business
        make(new).close()
        settle(new)
        try:
            os.link(new, path)
        except FileExistsError:
            return
        except OSError:  # a file system without links
            if not path.exists():
                new.rename(path)
        settle(path.parent)
    finally:
        for ending in ("", "-wal", "-shm"):
            new.with_name(new.name + ending).unlink(missing_ok=True)
