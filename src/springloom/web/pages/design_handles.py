"""Handles over the drawings: each moves one field, and typing into the field does the same."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.screen_sections import WIDTH_MM as SECTIONS_WIDTH
from springloom.drawing.screen_sections import SectionSheet
from springloom.drawing.screen_views import WIDTH_MM, Stand
from springloom.shape.blade import HalfPaddle, edge_inset
from springloom.units import METRE_PER_INCH, System

MM = 1e3
_STEPS = {"mm": "0.5", "in": "0.03125"}
_LONG_STEPS = {"mm": "5", "in": "0.25"}


@dataclass(frozen=True, slots=True)
class Handle:
    """One handle, in the units of the drawing it lies on, y downward.

    Attributes:
        x, y: its place.
        drag: id of the field it moves.
        axis: the direction it moves in.
        mm: millimetres of the value for a unit of that direction.
        value: what it is drawn at, in the field's unit.
        step: of a key press.
        least, most: how far it goes; empty for no end.
        unit: the field's unit; none for a share.
        label: what it is called.
    """

    x: str
    y: str
    drag: str
    axis: str
    mm: str
    value: str
    step: str
    least: str
    most: str
    unit: str
    label: str


@dataclass(frozen=True, slots=True)
class Overlay:
    """The handles of one drawing, with its size."""

    width: str
    height: str
    handles: tuple[Handle, ...]


def view_handles(half: HalfPaddle, table: str, units: System,
                 rows: Sequence[int] = ()) -> Overlay:
    """Handles on the face's edge (widths), the ridge line (crowns), shoulder and tip (lengths).

    Args:
        half: what is drawn.
        table: the form's table of its stations.
        units: of the fields.
        rows: the row of each station in that table; none for their own numbers.
    """
    at = Stand.of(half)
    face, side = at.height_mm - at.face_y, at.height_mm - at.side_y
    made = []
    for i, station in enumerate(half.stations):
        row = rows[i] if rows else i + 1
        # Neighbours lie on either side, so that a finger finds the one it means.
        way = -1.0 if i % 2 == 0 else 1.0
        x = at.x(station.x)
        if station.width > 0.0:
            made.append(_handle((x, face + way * 0.5 * at.across * station.width), "y",
                                way * 2.0 * MM / at.across, f"{table}-width-{row}",
                                station.width, units, f"width at {station.name}"))
        made.append(_handle((x, side + way * 0.5 * at.through * station.crown), "y",
                            way * 2.0 * MM / at.through, f"{table}-crown-{row}",
                            station.crown, units, f"crown at {station.name}"))
    made += _lengths(half, at, face, units)
    return Overlay(_num(WIDTH_MM), _num(at.height_mm), tuple(made))


def _lengths(half: HalfPaddle, at: Stand, face: float, units: System) -> list[Handle]:
    loom = half.loom
    return [
        _handle((at.x(loom.half_length), face), "x", 2.0 * MM / at.along, "loom-length",
                2.0 * loom.half_length, units, "length of the loom", long=True),
        _handle((at.x(half.tip), face), "x", 2.0 * MM / at.along, "paddle-length",
                2.0 * half.tip, units, "overall length", long=True),
    ]


def section_handles(half: HalfPaddle, table: str, units: System, sheet: SectionSheet,
                    rows: Sequence[int] = ()) -> Overlay:
    """Handles on the sections: where calipers read the edge, and how full the ridge is.

    The ridge's fullness r is drawn as the Bézier handle that it is, r half-widths from the ridge
    on the level of the crown.

    Args:
        half: what is drawn.
        table: the form's table of its stations.
        units: of the fields.
        sheet: where the sections stand.
        rows: as for :func:`view_handles`.
    """
    made = []
    numbers = {round(s.x, 6): i for i, s in enumerate(half.stations)}
    for place in sheet.places:
        i = numbers.get(round(place.row.x, 6))
        if i is None:
            continue
        station, row = half.stations[i], rows[i] if rows else i + 1
        scale, width = sheet.scale * MM, 0.5 * place.row.width
        middle = sheet.height_mm - place.y
        if station.edge is not None:
            x = place.x + scale * (width - edge_inset(half.edge_widths[i]))
            made.append(_handle((x, middle - 0.5 * scale * station.edge), "y", -2.0 / sheet.scale,
                                f"{table}-edge-{row}", station.edge, units,
                                f"edge at {station.name}"))
        made.append(Handle(
            _num(place.x + scale * width * station.ridge),
            _num(middle - 0.5 * scale * station.crown), f"{table}-ridge-{row}", "x",
            _num(1.0 / (scale * width)), _num(station.ridge), "0.01", "0", "1", "none",
            f"ridge fullness at {station.name}"))
    return Overlay(_num(SECTIONS_WIDTH), _num(sheet.height_mm), tuple(made))


def _handle(place: tuple[float, float], axis: str, mm: float, drag: str, value_m: float,
            units: System, label: str, *, long: bool = False) -> Handle:
    unit = 1e-3 if units == "mm" else METRE_PER_INCH
    steps = _LONG_STEPS if long else _STEPS
    return Handle(_num(place[0]), _num(place[1]), drag, axis, _num(mm), _num(value_m / unit),
                  steps[units], steps[units], "", units, label)


def _num(value: float) -> str:
    return f"{value:.5f}".rstrip("0").rstrip(".")
