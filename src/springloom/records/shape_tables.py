"""The tables about shape, [paddle], [loom], [blade] and [blade_b], in SI."""

from __future__ import annotations

from collections.abc import Sequence

from springloom.errors import ShapeError, in_range
from springloom.records.layout import BladeTable, DesignFile, LoomTable, PaddleTable
from springloom.records.places import parse_place
from springloom.records.told import told
from springloom.shape.blade import HalfPaddle, Loom, Station
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import ELLIPSE
from springloom.units import System, parse_length

LENGTHS = (1.0, 3.2)
"""Paddles that are made, m; children's are about 1.5 m."""

LOOM_LENGTHS = (0.1, 1.0)
"""Looms that two hands fit on, m."""

SHORTEST_BLADE = 0.1
"""Least from root to tip, m."""

NEAREST = 0.005
"""Least distance of two stations, m."""


def paddle_from(layout: DesignFile) -> Paddle:
    """Convert [paddle], [loom], [blade] and [blade_b]; what is left out is the default paddle's."""
    units = layout.units
    loom = _loom(layout.loom or LoomTable(), units)
    length = _length(layout.paddle or PaddleTable(), loom, units)
    if layout.blade is None:
        return _default_shape(length, loom)
    first = _half(layout.blade, "blade", loom, 0.5 * length, units)
    if layout.blade_b is None:
        return Paddle.mirrored(first)
    return Paddle(first, _half(layout.blade_b, "blade_b", loom, 0.5 * length, units))


def _length(table: PaddleTable, loom: Loom, units: System) -> float:
    length = parse_length(table.length, default=units, field="paddle.length")
    least = max(LENGTHS[0], 2.0 * (loom.root + SHORTEST_BLADE))
    with told(table, "paddle", units):
        return in_range(length, "length", least, LENGTHS[1], "m")


def _default_shape(length: float, loom: Loom) -> Paddle:
    half = default_paddle(length, 2.0 * loom.half_length).a
    if loom.root != half.loom.root:
        raise ShapeError("a loom with a blend of its own needs a [blade] table", field="loom.blend")
    return Paddle.mirrored(HalfPaddle(loom, half.stations))


def _loom(table: LoomTable, units: System) -> Loom:
    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"loom.{key}")

    with told(table, "loom", units, half_length="length"):
        whole = in_range(length("length"), "length", *LOOM_LENGTHS, "m")
        return Loom(0.5 * whole, length("width"), length("thickness"), length("blend"))


def _half(table: BladeTable, name: str, loom: Loom, tip: float, units: System) -> HalfPaddle:
    count = len(table.stations)
    for key in ("width", "crown", "edge", "ridge", "ridge_below", "face_share"):
        given = getattr(table, key)
        if given is not None and len(given) != count:
            raise ShapeError("needs one entry for each station", field=f"{name}.{key}",
                             given=f"{len(given)} entries", allowed=f"{count} entries")
    stations = tuple(_station(table, name, i, loom, tip, units) for i in range(count))
    _check_order(stations, table, f"{name}.stations", tip)
    named = {f"station {s.name}": i for i, s in enumerate(stations)}
    called = {f"{field}{sub}": f"{key}[{i + 1}]" for field, i in named.items()
              for sub, key in (("", "crown"), (".edge", "edge"))}
    with told(table, name, units, **called):
        return HalfPaddle(loom, stations).checked()


def _check_order(stations: Sequence[Station], table: BladeTable, field: str, tip: float) -> None:
    """Look at the order before the model does: here it is known what was typed."""
    for i in range(1, len(stations)):
        if stations[i].x - stations[i - 1].x < NEAREST:
            raise ShapeError(
                f"does not lie outward of the station before it, {table.stations[i - 1]!r}",
                field=f"{field}[{i + 1}]", given=table.stations[i],
                allowed=f"stations from root to tip, at least {1e3 * NEAREST:g} mm apart",
            )
    if stations and stations[-1].x < tip - 1e-9:
        raise ShapeError("is not the tip", field=f"{field}[{len(stations)}]",
                         given=table.stations[-1], allowed='"tip" as the last station')
    for i, station in enumerate(stations):
        is_tip = i == len(stations) - 1
        if is_tip != (station.width == 0.0):
            raise ShapeError(
                "the tip closes round" if is_tip else "only the tip has no width",
                field=f"{field.removesuffix('stations')}width[{i + 1}]", given=table.width[i],
                allowed='"round"' if is_tip else "more than 0",
            )


def _station(
    table: BladeTable, name: str, i: int, loom: Loom, tip: float, units: System
) -> Station:
    def length(key: str) -> float:
        typed = getattr(table, key)[i]
        if key == "width" and str(typed).strip().lower() == "round":
            return 0.0
        return parse_length(typed, default=units, field=f"{name}.{key}[{i + 1}]")

    x, place = parse_place(table.stations[i], loom, tip, units, f"{name}.stations[{i + 1}]")
    keys = {"x": "stations", "ridge_bottom": "ridge_below", "share": "face_share"}
    here = {field: f"{keys.get(field, field)}[{i + 1}]"
            for field in ("x", "width", "crown", "edge", "ridge", "ridge_bottom", "share")}
    with told(table, name, units, **here):
        return Station(
            x, length("width"), length("crown"), None if table.edge is None else length("edge"),
            ELLIPSE if table.ridge is None else float(table.ridge[i]),
            None if table.ridge_below is None else float(table.ridge_below[i]),
            0.5 if table.face_share is None else float(table.face_share[i]), place,
        )
