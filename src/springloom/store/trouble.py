"""What a database complains of, told so that one knows what to do."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from springloom.errors import StoreError
from springloom.store.backup import backups_of

_FOLDER = "a file in a folder you may write to"
_AGAIN = "try again; if it stays so, close the other program"
_BUSY = "is busy: another program has been writing for too long; nothing of this was written"
_FULL = "is full: the disk has no room; nothing of this was written"
_ROOM = "make room on the disk, then try again"

_FILES = {
    sqlite3.SQLITE_NOTADB: ("is no store: it is something else, or damaged",
                            "put it aside and go on from a copy: {backups}"),
    sqlite3.SQLITE_CORRUPT: ("is damaged", "put it aside and go on from a copy: {backups}"),
    sqlite3.SQLITE_FULL: (_FULL, _ROOM),
    sqlite3.SQLITE_READONLY: ("can't be written to: the file or its folder is read-only", _FOLDER),
    sqlite3.SQLITE_CANTOPEN: ("can't be opened: the file or its folder is closed to you", _FOLDER),
    sqlite3.SQLITE_PERM: ("can't be opened: the file is closed to you", _FOLDER),
    sqlite3.SQLITE_BUSY: (_BUSY, _AGAIN),
    sqlite3.SQLITE_LOCKED: (_BUSY, _AGAIN),
    sqlite3.SQLITE_IOERR: ("can't be read or written: the disk reports an error; nothing of this "
                           "was written", "a sound disk with room; for the store, {backups}"),
}
"""By SQLite's primary result code: what is wrong, and what to do."""

_SERVERS = {
    "55P03": (_BUSY, _AGAIN),
    "53100": (_FULL, "make room on the server's disk, then try again"),
    "53300": ("takes no more connections", "try again later, or give the server more"),
    "25006": ("can't be written to: the server is read-only", "a server that takes writes"),
    "28000": ("turns this user away", "a user the server knows"),
    "28P01": ("turns this password away", "the user's password, in the address"),
    "3D000": ("has no such database", "an empty database, made before: createdb"),
    "42501": ("turns this user away", "a user who may make tables there"),
}
"""By PostgreSQL's SQLSTATE: the same."""

_NO_SERVER = "a database server that runs and can be reached"


@contextlib.contextmanager
def told_plainly(place: str, path: Path | None) -> Iterator[None]:
    """Raise a database's complaint as a :class:`StoreError` about ``place``."""
    try:
        yield
    except DBAPIError as error:
        raise plainly(error.orig or error, place, path) from error
    except (SQLAlchemyError, sqlite3.Error) as error:
        raise plainly(error, place, path) from error


def plainly(error: BaseException, place: str, path: Path | None) -> StoreError:
    """The error that says what is wrong and what to do."""
    line = " ".join(str(error).strip().partition("\n")[0].split())
    if path is None:
        said, allowed = _SERVERS.get(getattr(error, "sqlstate", None) or "",
                                     (f"can't be used: {line}", _NO_SERVER))
        return StoreError(said, field=place, allowed=allowed)
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF  # the rest says where
    said, allowed = _FILES.get(code, (f"can't be used: {line}", ""))
    return StoreError(said, field=place, allowed=allowed.format(backups=newest_backup(path)))


def newest_backup(path: Path) -> str:
    """Where the newest backup lies, in words."""
    found = backups_of(path)
    if not found:
        return "there is no backup beside it; an archive you made may help"
    return f"the newest backup is {found[-1]}"
