"""Writing a design file again with new values, its comments and order kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import AbstractTable, Array

from springloom.errors import FileError
from springloom.shape.blade import HalfPaddle
from springloom.units import System, nearest_fraction


def rewritten(text: str, units: System, blades: Mapping[str, HalfPaddle],
              target: Mapping[str, str] | None = None) -> str:
    """Return the design file's text with new crowns and edges, and another target.

    Values are written to 0.1 mm, or to 1/64 in where the file is in inches. Only the entries
    change: a list keeps its line breaks and every comment between them.

    Args:
        text: of a file that has been read before.
        units: the file's.
        blades: by the name of their table, ``blade`` or ``blade_b``.
        target: keys of [target] to be set, as typed; the table is added where there is none.

    Raises:
        FileError: the file has no such table to write into.
    """
    document = tomlkit.parse(text)
    for name, half in blades.items():
        table = document.get(name)
        if not isinstance(table, AbstractTable):
            raise FileError("is missing: the crowns have no place to go", field=name,
                            allowed=f"a [{name}] table with stations, widths and crowns")
        crowns = [station.crown for station in half.stations]
        _replace(table, "crown", [_typed(crown, units) for crown in crowns])
        if "edge" in table:
            edges = [station.edge or 0.0 for station in half.stations]
            _replace(table, "edge", [_typed(edge, units) for edge in edges])
    if target:
        table = document.setdefault("target", tomlkit.table())
        if "sinks" in target:
            table.pop("like", None)  # one of the two
        table.update(target)
    return tomlkit.dumps(document)


def _replace(table: AbstractTable, key: str, values: list[float | str]) -> None:
    array: Any = table[key]
    assert isinstance(array, Array)  # the layout asks for a list
    for i, value in enumerate(values):
        array[i] = value


def _typed(metres: float, units: System) -> float | str:
    if units == "mm":
        return round(1e3 * metres, 1)
    return str(nearest_fraction(metres))
