"""Imports run one way, from units to pages."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import springloom

ROOT = Path(springloom.__file__).parent
RANKS = {room: rank for rank, rooms in enumerate((
    ("errors",), ("units",), ("wood", "shape"), ("mechanics",), ("fit", "tune"),
    ("drawing", "solid"), ("records",), ("report",), ("store",), ("web",),
)) for room in rooms}
MODULES = sorted(ROOT.rglob("*.py"))


def room_of(path: Path) -> str:
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path: Path) -> Iterator[str]:
    """Rooms that a module imports from, type checking included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = ([node.module or ""] if isinstance(node, ast.ImportFrom)
                 else [alias.name for alias in node.names] if isinstance(node, ast.Import) else [])
        for name in names:
            head, _, rest = name.partition(".")
            if head == "springloom" and rest:
                yield rest.split(".")[0]


@pytest.mark.parametrize("room", RANKS)
def test_no_import_runs_back(room: str) -> None:
    back = {(str(path.relative_to(ROOT)), other) for path in MODULES if room_of(path) == room
            for other in imported(path) if RANKS.get(other, -1) > RANKS[room]}
    assert back == set()


def test_the_rooms_are_all_there_is() -> None:
    # demo and the command line stand above all rooms; examples hold no code
    above = {"__init__", "cli", "cli_bench", "cli_options", "cli_output", "cli_store", "demo",
             "examples"}
    assert {room_of(path) for path in MODULES} - above == set(RANKS)
