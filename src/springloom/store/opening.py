"""Opening a store: one SQLite file, or a PostgreSQL database named by a URL."""

from __future__ import annotations

import contextlib
import functools
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import URL, Connection, Engine, create_engine, event, make_url
from sqlalchemy.exc import ArgumentError

from springloom.errors import StoreError
from springloom.store import files
from springloom.store.backup import copy_file, dated
from springloom.store.migrations import bring_up
from springloom.store.trouble import told_plainly

WAIT_S = 10.0
"""How long a write waits for another one."""

PLACE = "SPRINGLOOM_STORE"
"""The variable that names another place for the store."""

_LOCK = 0x53504C4D  # any number that only this program locks
_PLACES = "a file, or postgresql://user@host/name"


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
        url: where that is, without a password; a file's path.
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

    A SQLite file is copied beside itself before its tables change.

    Args:
        where: a file, or a URL such as ``postgresql://user@host/name``; None for what
            ``SPRINGLOOM_STORE`` names, else a file in the user's data folder.

    Raises:
        StoreError: it can't be opened; says why and what to do.
    """
    url, path = place_of(where)
    place = str(path) if path is not None else url.render_as_string(hide_password=True)
    with told_plainly(place, path):
        if path is not None:
            files.ready(path, lambda new: _opened(url.set(database=str(new)), str(new), new))
        return _opened(url, place, path)


def usual_place() -> str:
    """Where the store is if nobody says otherwise."""
    from platformdirs import user_data_path  # noqa: PLC0415 - only where it is needed

    return os.environ.get(PLACE) or str(user_data_path("springloom") / "springloom.db")


def place_of(where: str | Path | None) -> tuple[URL, Path | None]:
    """The database that a place means, and its file if it is one.

    Raises:
        StoreError: it means none.
    """
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
    raise StoreError("is of no kind a store can be kept in",
                     field=url.render_as_string(hide_password=True), allowed=_PLACES)


def _opened(url: URL, place: str, path: Path | None) -> Store:
    engine = _file_engine(url) if path is not None else _server_engine(url, place)
    try:
        if path is not None:
            files.refuse_damaged(engine, path)
        bring_up(engine, place, path)
        if path is not None:
            files.write_ahead(engine)
    except BaseException:
        engine.dispose()
        raise
    return Store(engine, place, path)


_json_text = functools.partial(json.dumps, allow_nan=False)


def _file_engine(url: URL) -> Engine:
    # A page's thread each, and never one that waits for another's connection. What is written is
    # kept out of what is logged of a fault: people's measures, codes, the key.
    engine = create_engine(url, connect_args={"timeout": WAIT_S}, json_serializer=_json_text,
                           pool_size=5, max_overflow=-1, hide_parameters=True)
    event.listen(engine, "connect", files.set_up)
    event.listen(engine, "begin", files.begin)
    return engine


def _server_engine(url: URL, place: str) -> Engine:
    try:
        engine = create_engine(url, json_serializer=_json_text, pool_pre_ping=True,
                               hide_parameters=True)
    except ImportError:
        raise StoreError("needs a package that is not installed", field=place,
                         allowed="pip install 'psycopg[binary]'") from None
    event.listen(engine, "begin", _begin_on_server)
    return engine


def _begin_on_server(connection: Connection) -> None:
    """Let one write at a time, as a file does."""
    if connection.get_execution_options().get("springloom_writes"):
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{round(1e3 * WAIT_S)}ms'")
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_LOCK})")


def back_up(store: Store, to: Path | None = None) -> Path:
    """Copy the store as it is now; others may go on writing meanwhile.

    Args:
        store: kept in a file.
        to: the copy; None for a dated file beside the store.

    Raises:
        StoreError: it is kept by a database server, or the copy can't be written.
    """
    if store.path is None:
        raise StoreError("is kept by a database server", field=store.url,
                         allowed="the server's own backup (pg_dump), or an archive")
    return copy_file(store.path, to or dated(store.path, "backup"))
