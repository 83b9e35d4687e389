"""A shape as the tables a maker would type it in: [paddle], [loom] and [blade]."""

from __future__ import annotations

from typing import Any

from springloom.shape.blade import HalfPaddle, Station
from springloom.shape.paddle import Paddle
from springloom.units import System, Typed, nearest_fraction

_COARSE_M = 0.2
"""From here on whole millimetres or sixteenths of an inch are typed (common practice)."""


def shape_tables(paddle: Paddle, units: System) -> dict[str, dict[str, Any]]:
    """Return the tables of a paddle in round figures: 0.1 mm or 1/64 in, 1 mm or 1/16 in if long.

    Read back they give the same shape to half a step; a second blade has its own table.
    """
    half, loom = paddle.a, paddle.a.loom
    found: dict[str, dict[str, Any]] = {
        "paddle": {"length": typed_length(paddle.length, units)},
        "loom": {"length": typed_length(2.0 * loom.half_length, units),
                 "width": typed_length(loom.width, units),
                 "thickness": typed_length(loom.thickness, units),
                 "blend": typed_length(loom.blend, units)},
        "blade": _blade(half, units),
    }
    if not paddle.is_symmetric:
        found["blade_b"] = _blade(paddle.b, units)
    return found


def typed_length(metres: float, units: System) -> Typed:
    """Return a length as it would be typed in a file of these units."""
    coarse = abs(metres) >= _COARSE_M
    if units == "in":
        return str(nearest_fraction(metres, 16 if coarse else 64))
    millimetres = round(1e3 * metres, 0 if coarse else 1)
    return int(millimetres) if millimetres.is_integer() else millimetres


def _blade(half: HalfPaddle, units: System) -> dict[str, Any]:
    stations = half.stations
    inner = [f"{_text(s.x - half.loom.root, units)} from root" if not s.name else s.name
             for s in stations[1:-1]]
    table: dict[str, Any] = {
        "stations": ["root", *inner, "tip"],
        "width": [typed_length(s.width, units) if s.width else "round" for s in stations],
        "crown": [typed_length(s.crown, units) for s in stations],
        "ridge": [round(s.ridge, 3) for s in stations],
    }
    if all(s.edge is not None for s in stations):
        table["edge"] = [typed_length(s.edge or 0.0, units) for s in stations]
    return table | _two_faced(stations)


def _two_faced(stations: tuple[Station, ...]) -> dict[str, Any]:
    """Keys of a blade whose faces are not alike."""
    found: dict[str, Any] = {}
    if any(s.ridge_bottom is not None for s in stations):
        found["ridge_below"] = [round(s.ridge if s.ridge_bottom is None else s.ridge_bottom, 3)
                                for s in stations]
    if any(s.share != 0.5 for s in stations):
        found["face_share"] = [round(s.share, 3) for s in stations]
    return found


def _text(metres: float, units: System) -> str:
    return f"{typed_length(metres, units)} {units}"
