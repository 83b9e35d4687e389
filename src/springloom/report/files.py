"""Writing results: a file is there whole or not at all, and all of a set or none."""

from __future__ import annotations

import errno
import os
import re
import sys
import tempfile
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TypeVar

from tqdm import tqdm

from springloom.errors import OutputError

T = TypeVar("T")


def write_all(files: Mapping[Path, bytes]) -> list[Path]:
    """Write every file beside its place first, then move all into place.

    Raises:
        OutputError: a folder or a file can't be written; no file is left behind or changed.
    """
    waiting: list[tuple[Path, Path]] = []
    place = Path()
    try:
        for place, content in files.items():
            _refuse_folder(place)
            place.parent.mkdir(parents=True, exist_ok=True)
            waiting.append((_written_beside(place, content), place))
        for temporary, place in waiting:
            temporary.replace(place)
    except (OSError, ValueError) as error:  # ValueError: a null byte in a name
        reason = error.strerror if isinstance(error, OSError) else error
        raise OutputError(f"can't be written: {reason}", field=str(place),
                          allowed="a file's name in a folder you may write to") from None
    finally:  # also when Ctrl-C comes between
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)
    return list(files)


def _refuse_folder(path: Path) -> None:
    """Stop before the first file is moved; moving one onto a folder would fail half-way."""
    if path.is_dir():
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))


def _written_beside(path: Path, content: bytes) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:40]}.")
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o666 & ~_umask())
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    return temporary


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now


def file_stem(name: str) -> str:
    """A file name that every system takes, from a paddle's name."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "paddle"


def progress(items: Iterable[T], label: str, count: int | None = None) -> Iterable[T]:
    """A bar on the terminal's error stream, shown once the work has taken a second.

    ``count`` says how many items there are where they can't be counted beforehand.
    """
    return tqdm(items, desc=label, total=count, delay=1.0, disable=not sys.stderr.isatty(),
                leave=False)
