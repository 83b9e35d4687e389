"""Stores for tests: a SQLite file, and a database of a PostgreSQL server of the tests' own."""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from springloom.store import Store, open_store

ENGINES = ("sqlite", "postgresql")
_NUMBERS = itertools.count(1)


@contextlib.contextmanager
def cluster() -> Iterator[str]:
    """A PostgreSQL server that only this user's processes can reach; yields its socket's folder.

    It refuses to run as root, so that root runs it as the user that Debian's package made.
    """
    folder = Path(tempfile.mkdtemp(prefix="springloom-pg-"))
    who = "postgres" if os.geteuid() == 0 else None
    if who is not None:
        shutil.chown(folder, who)
    data = folder / "data"
    _run(who, "initdb", "--pgdata", data, "--username", "springloom", "--auth", "trust",
         "--encoding", "UTF8", "--no-locale", "--no-sync")
    # Nothing here has to outlive the test, so nothing waits for the disk.
    settings = f"-c listen_addresses= -c unix_socket_directories={folder} -c fsync=off"
    _run(who, "pg_ctl", "--pgdata", data, "--log", folder / "log", "--wait",
         "--options", settings, "start")
    try:
        yield str(folder)
    finally:
        _run(who, "pg_ctl", "--pgdata", data, "--mode", "immediate", "stop")
        shutil.rmtree(folder)


def _run(who: str | None, program: str, *words: str | Path) -> None:
    subprocess.run([_found(program), *map(str, words)], check=True, cwd="/",
                   stdout=subprocess.DEVNULL, user=who, group=who,
                   extra_groups=None if who is None else [])


def _found(program: str) -> str:
    """Debian keeps the server's programs off the path, a folder for each version."""
    kept = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{program}"))
    found = shutil.which(program) or (str(kept[-1]) if kept else None)
    assert found is not None, f"{program} is missing: install Debian's package postgresql"
    return found


def url_of(socket: str, database: str) -> str:
    return f"postgresql://springloom@/{database}?host={socket}"


def run_sql(socket: str, statement: str, database: str = "postgres") -> None:
    with psycopg.connect(host=socket, user="springloom", dbname=database,
                         autocommit=True) as connection:
        connection.execute(statement.encode())


def new_database(socket: str, like: str = "template0") -> str:
    """Make a database; return its URL."""
    name = f"store_{next(_NUMBERS)}"
    with psycopg.connect(host=socket, user="springloom", dbname="postgres") as connection:
        # The usual way since version 15 writes every page to the journal first.
        quick = " STRATEGY file_copy" if connection.info.server_version >= 150_000 else ""
    run_sql(socket, f"CREATE DATABASE {name} TEMPLATE {like}{quick}")
    return url_of(socket, name)


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The folder of a running server's socket; its database ``ready`` is an empty store."""
    with cluster() as socket:
        run_sql(socket, "CREATE DATABASE ready")
        open_store(url_of(socket, "ready")).close()
        yield socket


@pytest.fixture(scope="session")
def empty_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty store to be copied: making one anew takes half a second."""
    path = tmp_path_factory.mktemp("empty") / "store.db"
    open_store(path).close()
    return path


@pytest.fixture(params=ENGINES)
def store_place(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where an empty store is, on each engine."""
    if request.param == "sqlite":
        copy = tmp_path / "store.db"
        return str(shutil.copy(request.getfixturevalue("empty_file"), copy))
    return new_database(request.getfixturevalue("postgres"), "ready")


@pytest.fixture
def store(store_place: str) -> Iterator[Store]:
    """An empty store, on each engine."""
    opened = open_store(store_place)
    yield opened
    opened.close()


@pytest.fixture
def file_store(empty_file: Path, tmp_path: Path) -> Iterator[Store]:
    """An empty store in a file."""
    opened = open_store(shutil.copy(empty_file, tmp_path / "store.db"))
    yield opened
    opened.close()


def other_engine(store: Store, request: pytest.FixtureRequest, folder: Path) -> Store:
    """An empty store on the engine that ``store`` is not on."""
    if store.path is None:
        return open_store(folder / "other.db")
    return open_store(new_database(request.getfixturevalue("postgres"), "ready"))
