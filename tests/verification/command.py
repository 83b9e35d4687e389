"""Runs the command line inside the test's own process."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import pytest

from springloom.cli import main

EXAMPLES = tuple(
    Path(str(entry)) for entry in sorted(resources.files("springloom.examples").iterdir(), key=str)
    if entry.name.endswith(".toml")
)
MARSH_TERN = next(path for path in EXAMPLES if path.stem == "marsh_tern")


@dataclass(frozen=True)
class Ran:
    """What a command answered."""

    code: int
    out: str
    err: str


def command(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Ran:
    """Run ``springloom`` with these words."""
    capsys.readouterr()
    try:
        code = main([str(word) for word in words])
    except SystemExit as ending:  # --help and --version
        code = int(ending.code or 0)
    captured = capsys.readouterr()
    return Ran(code, captured.out, captured.err)


def copied(example: Path, folder: Path) -> Path:
    """Copy an example into a folder; return the copy."""
    return Path(shutil.copy(example, folder / example.name))
