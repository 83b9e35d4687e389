"""What a database complains of, told so that one knows what to do."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from springloom.errors import StoreError

_SAYS = {
    sqlite3.SQLITE_NOTADB: ("is no store: the file is something else, or damaged",
                            "a store; {backups}"),
    sqlite3.SQLITE_CORRUPT: ("is damaged", "put it aside and go on from a copy; {backups}"),
    sqlite3.SQLITE_FULL: ("is full: the disk has no room; nothing of this was written",
                          "make room, then try again"),
    sqlite3.SQLITE_READONLY: ("can't be written to: the file or its folder is read-only",
                              "a file in a folder you may write to"),
    sqlite3.SQLITE_CANTOPEN: ("can't be opened", "a file in a folder you may write to"),
    sqlite3.SQLITE_BUSY: ("is busy: another program has been writing for too long; nothing of "
                          "this was written", "try again; if it stays so, close the other program"),
    sqlite3.SQLITE_IOERR: ("can't be read or written: the disk reports an error",
                           "a sound disk; {backups}"),
}


@contextlib.contextmanager
def told_plainly(place: str, path: Path | None) -> Iterator[None]:
    """Raise a database's complaint as a :class:`StoreError` about ``place``."""
    try:
        yield
    except DBAPIError as error:
        raise _plain(error.orig, place, path) from error
    except sqlite3.Error as error:
        raise _plain(error, place, path) from error
    except OSError as error:
        raise StoreError(f"can't be opened: {error.strerror}", field=place,
                         allowed="a file in a folder you may write to") from error


def _plain(error: BaseException | None, place: str, path: Path | None) -> StoreError:
    if isinstance(error, sqlite3.Error):
        code = getattr(error, "sqlite_errorcode", None)
        said, allowed = _SAYS.get((code or 0) & 0xFF, (f"can't be used: {error}", ""))
        return StoreError(said, field=place, allowed=allowed.format(backups=_backups(path)))
    line = str(error).strip().partition("\n")[0]
    return StoreError(f"can't be used: {line}", field=place,
                      allowed="a database server that runs, and a user it knows")


def _backups(path: Path | None) -> str:
    from springloom.store.backup import backups_of  # noqa: PLC0415 - only in trouble

    found = backups_of(path) if path is not None else []
    return f"the newest backup is {found[-1]}" if found else "there is no backup beside it"
