"""Writing a design file again with new values, its comments and order kept."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.items import Array, Table

from springloom.errors import FileError
from springloom.shape.blade import HalfPaddle
from springloom.units import System, nearest_fraction


def with_crowns(text: str, half: HalfPaddle, units: System) -> str:
    """Return the design file's text with this blade's crowns and edges.

    Values are written to 0.1 mm, or to 1/64 in where the file is in inches.

    Raises:
        FileError: the file has no [blade] table to write into.
    """
    document = tomlkit.parse(text)
    blade = document.get("blade")
    if not isinstance(blade, Table):
        raise FileError("has no [blade] table to write the crowns into", field="blade")
    _replace(blade, "crown", [_typed(s.crown, units) for s in half.stations])
    if "edge" in blade:
        edges = [0.0 if s.edge is None else s.edge for s in half.stations]
        _replace(blade, "edge", [_typed(edge, units) for edge in edges])
    return tomlkit.dumps(document)


def read_text(path: Path) -> str:
    """Return a file's text; it has been checked before."""
    return path.read_text(encoding="utf-8")


def _replace(table: Table, key: str, values: Sequence[float | str]) -> None:
    """Put a new array in an old one's place; the comment behind it stays."""
    new: Array = tomlkit.array()
    new.extend(values)
    old: Any = table[key]
    new.trivia.indent, new.trivia.comment_ws = old.trivia.indent, old.trivia.comment_ws
    new.trivia.comment, new.trivia.trail = old.trivia.comment, old.trivia.trail
    table[key] = new


def _typed(metres: float, units: System) -> float | str:
    if units == "mm":
        return round(1e3 * metres, 1)
    return str(nearest_fraction(metres))
