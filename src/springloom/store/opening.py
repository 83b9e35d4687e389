"""Opening a store: one SQLite file, or a database named by a URL."""

from __future__ import annotations

import contextlib
import functools
import json
import os
import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError, SQLAlchemyError

from springloom.errors import StoreError
from springloom.store.migrations import bring_up
from springloom.store.trouble import told_plainly

WAIT_S = 10
"""How long a write waits for another one."""

_LOCK = 0x53504C4D  # any number that only this program locks
PLACE = "SPRINGLOOM_STORE"


@dataclass(frozen=True)
class Pen:
    """A write under way: on which connection, by whom, and when (UTC)."""

    connection: Connection
    by: str
    at: datetime


@dataclass(frozen=True)
class Store:
    """An open store.

    Attributes:
        engine: its database.
        url: where that is, without a password.
        path: the file, None for a database server.
    """

    engine: Engine
    url: str
    path: Path | None

    @contextlib.contextmanager
    def read(self) -> Iterator[Connection]:
        """One consistent snapshot.

        Raises:
            StoreError: it can't be read; says what to do.
        """
        with told_plainly(self.url, self.path), self.engine.connect() as connection:
            if self.path is None:
                connection.execution_options(isolation_level="REPEATABLE READ",
                                             postgresql_readonly=True)
            with connection.begin():
                yield connection

    @contextlib.contextmanager
    def write(self, by: str) -> Iterator[Pen]:
        """One transaction: committed whole when the block ends, not at all if it raises.

        Only one writes at a time; others wait up to :data:`WAIT_S`.

        Raises:
            StoreError: it can't be written; says what to do.
        """
        with told_plainly(self.url, self.path), self.engine.connect() as connection:
            connection.execution_options(springloom_writes=True)
            with connection.begin():
                yield Pen(connection, by, datetime.now(UTC))

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


def open_store(where: str | Path | None = None) -> Store:
    """Open a store, made if there is none, and bring it up to this version's tables.

    Args:
        where: a file, or a URL such as ``postgresql://user@host/name``; None for what
            ``SPRINGLOOM_STORE`` names, else a file in the user's data folder.

    Raises:
        StoreError: it can't be opened; says why and what to do.
    """
    url, path = _place(where)
    shown = str(path) if path is not None else url.render_as_string(hide_password=True)
    with told_plainly(shown, path):
        if path is not None:
            path.parent.mkdir(parents=True, exist_ok=True)
        store = Store(_engine(url, path), shown, path)
        try:
            bring_up(store.engine, path)
        except BaseException:
            store.close()
            raise
        return store


def usual_place() -> str:
    """Where the store is if nobody says otherwise."""
    from platformdirs import user_data_path  # noqa: PLC0415 - only where it is needed

    return os.environ.get(PLACE) or str(user_data_path("springloom") / "springloom.db")


def _place(where: str | Path | None) -> tuple[URL, Path | None]:
    text = usual_place() if where is None or where == "" else str(where)
    if "://" not in text:
        path = Path(text).expanduser().absolute()
        return URL.create("sqlite", database=str(path)), path
    try:
        url = make_url(text)
    except (ArgumentError, ValueError):
        raise StoreError("is no address of a store", field=text, allowed=_PLACES) from None
    kind = url.get_backend_name()
    if kind == "sqlite" and url.database and url.database != ":memory:":
        path = Path(url.database).absolute()
        return URL.create("sqlite", database=str(path)), path
    if kind in {"postgresql", "postgres"}:
        return url.set(drivername="postgresql+psycopg"), None
    raise StoreError("is of no kind a store can be kept in", field=text, allowed=_PLACES)


_PLACES = "a file, or postgresql://user@host/name"


def _engine(url: URL, path: Path | None) -> Engine:
    try:
        engine = create_engine(
            url, connect_args={"timeout": WAIT_S} if path is not None else {},
            json_serializer=functools.partial(json.dumps, allow_nan=False),
        )
    except (SQLAlchemyError, ImportError) as error:
        raise StoreError(f"can't be opened: {error}", field=str(url), allowed=_PLACES) from None
    if path is not None:
        event.listen(engine, "connect", _set_up_sqlite)
        event.listen(engine, "begin", _begin_sqlite)
    else:
        event.listen(engine, "begin", _begin_postgres)
    return engine


def _set_up_sqlite(connection: sqlite3.Connection, _: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves
    for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=FULL"):
        connection.execute(f"PRAGMA {pragma}")


def _begin_sqlite(connection: Connection) -> None:
    writes = connection.get_execution_options().get("springloom_writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _begin_postgres(connection: Connection) -> None:
    if connection.get_execution_options().get("springloom_writes"):
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{WAIT_S}s'")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")
