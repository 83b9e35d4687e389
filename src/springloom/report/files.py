"""Writing results: a file is there whole or not at all, and all of a set or none."""

from __future__ import annotations

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
        OutputError: a folder or a file can't be written; nothing is left behind.
    """
    waiting: list[tuple[Path, Path]] = []
    try:
        for path, content in files.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            waiting.append((_written_beside(path, content), path))
        for temporary, path in waiting:
            temporary.replace(path)
    except OSError as error:
        for temporary, _ in waiting:
            temporary.unlink(missing_ok=True)
        place = error.filename or next(iter(files))
        raise OutputError(f"can't be written: {error.strerror}", field=str(place)) from None
    return list(files)


def _written_beside(path: Path, content: bytes) -> Path:
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    with os.fdopen(handle, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    temporary = Path(name)
    temporary.chmod(0o666 & ~_umask())
    return temporary


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now


def file_stem(name: str) -> str:
    """A file name that every system takes, from a paddle's name."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "paddle"


def progress(items: Iterable[T], label: str) -> Iterable[T]:
    """A bar on the terminal's error stream, shown once the work has taken a second."""
    return tqdm(items, desc=label, delay=1.0, disable=not sys.stderr.isatty(), leave=False)
