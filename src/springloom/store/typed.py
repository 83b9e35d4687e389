"""What was typed under one unit of length, for a file in another.

A number typed without a unit means the unit of its day. A file has one unit for all, so such a
number gets its unit's name when it comes to stand in a file of the other unit.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from springloom.units import System

LENGTHS = {
    "paddler": {"height", "arm_span", "cubit", "shoulder_breadth", "hand_length",
                "grip_circumference", "boat_beam"},
    "board": {"length", "width", "thickness"},
    "bending": {"span", "sinks", "sinks_sd"},
    "balance": {"balance"},
    "caliper": {"crown", "edge", "inset", "thickness"},
    "width": {"width"},
    "blade_length": {"length"},
    "trace": {"across", "high"},
    "bench": {"sinks", "unloading", "repeats"},
    "hands": {"span", "sinks", "unloading", "repeats"},
    "planed": {"per_face"},
}
"""Keys of lengths, by the kind of table."""

PLACES = {"at", "hung_at", "clamp_at", "read_at"}
"""Keys of places along the blade, in every table of readings."""

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)"
_BARE = re.compile(rf"^\s*{_NUMBER}\s*$")
_BARE_FROM = re.compile(rf"^(\s*{_NUMBER})(\s+from\s)", re.IGNORECASE)


def in_units(kind: str, table: Mapping[str, Any], typed: System, wanted: System) -> dict[str, Any]:
    """A table that means the same in a file of other units; itself where they are alike."""
    if typed == wanted:
        return dict(table)
    lengths = LENGTHS.get(kind, set())
    return {
        key: _named(value, typed) if key in lengths
        else _placed(value, typed) if key in PLACES else value
        for key, value in table.items()
    }


def _named(value: Any, unit: System) -> Any:
    if isinstance(value, list):
        return [_named(one, unit) for one in value]
    bare = (isinstance(value, int | float) and not isinstance(value, bool)) or (
        isinstance(value, str) and _BARE.match(value))
    return f"{str(value).strip()} {unit}" if bare else value


def _placed(value: Any, unit: System) -> Any:
    if isinstance(value, list):
        return [_placed(one, unit) for one in value]
    return _BARE_FROM.sub(rf"\1 {unit}\2", value) if isinstance(value, str) else value
