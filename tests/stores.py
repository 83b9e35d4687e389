"""Stores for tests: a SQLite file, and a database of a PostgreSQL server of the tests' own."""

from __future__ import annotations

import contextlib
import itertools
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from springloom.store import Store, open_store

ENGINES = ("sqlite", "postgresql")
_NUMBERS = itertools.count(1)


# Goes on until its input ends, as it does however the tests end; then takes the server with it.
_KEEPER = '"$1" -D "$2/data" -c listen_addresses= -c unix_socket_directories="$2" -c fsync=off ' \
    '>"$2/log" 2>&1 & read -r _; kill -QUIT $!; wait $!; rm -rf "$2"'


@contextlib.contextmanager
def cluster() -> Iterator[str]:
    """A PostgreSQL server that only this machine's processes reach; yields its socket's folder.

    It refuses to run as root, so that root runs it as the user that Debian's package made.
    Nothing here has to outlive the tests, so nothing waits for the disk.
    """
    folder = Path(tempfile.mkdtemp(prefix="springloom-pg-"))
    who = "postgres" if os.geteuid() == 0 else None
    if who is not None:
        shutil.chown(folder, who)
    groups: list[str] | None = None if who is None else []
    subprocess.run([_found("initdb"), "--pgdata", folder / "data", "--username", "springloom",
                    "--auth", "trust", "--encoding", "UTF8", "--no-locale", "--no-sync"],
                   check=True, cwd="/", stdout=subprocess.DEVNULL, user=who, group=who,
                   extra_groups=groups)
    words = ["sh", "-c", _KEEPER, "sh", _found("postgres"), str(folder)]
    with subprocess.Popen(words, cwd="/", stdin=subprocess.PIPE, user=who, group=who,
                          extra_groups=groups) as keeper:
        try:
            _wait_for(str(folder))
            yield str(folder)
        finally:
            assert keeper.stdin is not None
            keeper.stdin.close()
            keeper.wait()


def _wait_for(socket: str, seconds: float = 60.0) -> None:
    until = time.monotonic() + seconds
    while True:
        try:
            return run_sql(socket, "SELECT 1")
        except psycopg.OperationalError:
            if time.monotonic() > until:
                raise
            time.sleep(0.05)


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
