"""Dated copies beside the store's file."""

from __future__ import annotations

import contextlib
import glob
import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from springloom.errors import StoreError


def backups_of(path: Path) -> list[Path]:
    """The dated copies beside a store, the oldest first."""
    return sorted(path.parent.glob(f"{glob.escape(path.stem)}.*Z-*{glob.escape(_suffix(path))}"))


def dated(path: Path, why: str) -> Path:
    """A name beside ``path`` that says when and why."""
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H%M%S.%fZ")
    return path.with_name(f"{path.stem}.{now}-{why}{_suffix(path)}")


def copy_file(path: Path, to: Path) -> Path:
    """Copy a SQLite file as of one moment; the copy is there whole or not at all.

    Raises:
        StoreError: it would fall on the store itself, or can't be written.
    """
    if to.absolute() == path.absolute():
        raise StoreError("is the store itself", field=str(to), allowed="another file")
    temporary = to.with_name(f".{to.name}.part")
    try:
        temporary.touch(mode=0o600)  # before anything is in it
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(temporary)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it
        temporary.chmod(path.stat().st_mode & 0o777)
        settle(temporary)
        temporary.replace(to)
        settle(to.parent)
    except (sqlite3.Error, OSError) as error:
        raise StoreError(f"can't be written: {error}", field=str(to),
                         allowed="a file in a folder you may write to, with room") from error
    finally:
        temporary.unlink(missing_ok=True)
    return to


def settle(path: Path) -> None:
    """Wait until a file, or a folder's list of names, is on the disk."""
    if path.is_dir() and os.name == "nt":
        return  # Windows opens no folders, and needs no such thing
    handle = os.open(path, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):  # some file systems can't
            os.fsync(handle)
    finally:
        os.close(handle)


def _suffix(path: Path) -> str:
    return path.suffix or ".db"
