"""A design: what a file says, in SI, ready for every calculation."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from springloom.errors import InputError, ShapeError, SpringloomError
from springloom.fit.bend import Limits, Target
from springloom.fit.body import Boat, Body, Use
from springloom.mechanics.stiffness import Build
from springloom.records.layout import (
    BendingTest,
    BladeTable,
    BoardTable,
    DesignFile,
    LoomTable,
    Paddler,
    StripTable,
    Tap,
)
from springloom.records.places import parse_place
from springloom.records.reading import read_layout
from springloom.records.readings import readings_from
from springloom.shape.blade import HalfPaddle, Loom, Station
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import ELLIPSE
from springloom.tune.advice import Rules
from springloom.tune.evidence import Reading
from springloom.units import (
    System,
    parse_force,
    parse_frequency,
    parse_length,
    parse_mass,
    parse_percent,
    parse_slope,
)
from springloom.wood.assess import BoardAssessment, assess
from springloom.wood.board import Board, CentralLoadTest, TapTone
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import material_from, species_material

Typed = str | float | int


@dataclass(frozen=True)
class Design:
    """Everything a design file says; what it leaves out is None or a stated default."""

    name: str
    note: str
    units: System
    body: Body | None
    boat: Boat
    use: Use
    board: Board | None
    layup: Layup | None
    paddle: Paddle
    target: Target | None
    limits: Limits
    rules: Rules
    readings: tuple[Reading, ...]

    @functools.cached_property
    def assessment(self) -> BoardAssessment:
        """What is known of the board.

        Raises:
            InputError: the file describes none.
        """
        if self.board is None:
            raise InputError("is missing: the wood has to be known", field="board",
                             allowed="a [board] table with at least a species and a size")
        return assess(self.board)

    @functools.cached_property
    def build(self) -> Build:
        """Return the layup if there are strips, else the board's material."""
        if self.layup is not None:
            return self.layup
        return material_from(self.assessment)

    def aiming(self, sinks: Typed | None, under: Typed | None) -> Design:
        """Return a copy with another target; what is not given stays as it is."""
        if sinks is None and under is None:
            return self
        base = self.target
        deflection = self.wanted().deflection_m if sinks is None else parse_length(
            sinks, default=self.units, field="--sinks"
        )
        load = None if under is None else parse_force(under, field="--under")
        aim = Target(deflection) if base is None else replace(base, deflection_m=deflection)
        return replace(self, target=aim if load is None else replace(aim, load_n=load))

    def wanted(self) -> Target:
        """Return the target.

        Raises:
            InputError: the file states none.
        """
        if self.target is None:
            raise InputError("is missing: say how far the tip should sink", field="target",
                             allowed='a [target] table, e.g. sinks = "33 mm"')
        return self.target


def load_design(path: Path) -> Design:
    """Read a design file; errors name the key and what is allowed there."""
    return design_from(read_layout(path))


def design_from(layout: DesignFile) -> Design:
    """Convert a checked layout to SI."""
    units = layout.units
    body, boat, use = _paddler(layout.paddler, units)
    paddle = _paddle(layout)
    return Design(
        name=layout.name, note=layout.note, units=units, body=body, boat=boat, use=use,
        board=_board(layout.board, units) if layout.board else None,
        layup=_layup(layout.strip, units) if layout.strip else None,
        paddle=paddle, target=_target(layout), limits=_limits(layout), rules=_rules(layout),
        readings=readings_from(layout.readings, paddle, units) if layout.readings else (),
    )


def _optional(typed: Typed | None, units: System, field: str) -> float | None:
    return None if typed is None else parse_length(typed, default=units, field=field)


def _paddler(table: Paddler | None, units: System) -> tuple[Body | None, Boat, Use]:
    if table is None:
        return None, Boat(), "touring"

    def length(key: str) -> float | None:
        return _optional(getattr(table, key), units, f"paddler.{key}")

    measures = ("arm_span", "cubit", "shoulder_breadth", "hand_length", "grip_circumference")
    height = parse_length(table.height, default=units, field="paddler.height")
    try:
        body = Body(height, **{f"{key}_m": length(key) for key in measures})
        return body, Boat(length("boat_beam")), table.use
    except SpringloomError as error:
        raise error.within("paddler") from None


def _board(table: BoardTable, units: System) -> Board:
    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"board.{key}")

    bending = tuple(
        _bending(t, f"board.bending[{i + 1}]", units) for i, t in enumerate(table.bending)
    )
    taps = tuple(_tap(t, f"board.tap[{i + 1}]") for i, t in enumerate(table.tap))
    mass = None if table.weight is None else parse_mass(table.weight, field="board.weight")
    moist = table.moisture
    slope = table.grain_slope
    try:
        return Board(
            table.species, length("length"), length("width"), length("thickness"),
            origin=table.grown, mass_kg=mass,
            moisture_percent=None if moist is None else parse_percent(moist, field="moisture"),
            grain_slope=None if slope is None else parse_slope(slope, field="grain_slope"),
            ring=table.rings, bending_tests=bending, tap_tones=taps, note=table.note,
        )
    except SpringloomError as error:
        raise error.within("board") from None


def _bending(table: BendingTest, field: str, units: System) -> CentralLoadTest:
    span = parse_length(table.span, default=units, field=f"{field}.span")
    load = parse_force(table.load, field=f"{field}.load")
    sinks = parse_length(table.sinks, default=units, field=f"{field}.sinks")
    sd = _optional(table.sinks_sd, units, f"{field}.sinks_sd")
    try:
        test = CentralLoadTest(span, load, sinks, edgewise=table.edgewise)
        return test if sd is None else replace(test, deflection_sd_m=sd)
    except SpringloomError as error:
        raise error.within(field) from None


def _tap(table: Tap, field: str) -> TapTone:
    frequency = parse_frequency(table.frequency, field=f"{field}.frequency")
    sd = None if table.sd is None else parse_frequency(table.sd, field=f"{field}.sd")
    try:
        tap = TapTone(frequency, edgewise=table.edgewise)
        return tap if sd is None else replace(tap, sd_hz=sd)
    except SpringloomError as error:
        raise error.within(field) from None


def _layup(tables: Sequence[StripTable], units: System) -> Layup:
    strips = []
    for i, table in enumerate(tables):
        field = f"strip[{i + 1}]"
        try:
            strips.append(_strip(table, units))
        except SpringloomError as error:
            raise error.within(field) from None
    return Layup(tuple(strips))


def _strip(table: StripTable, units: System) -> Strip:
    def edge(typed: Typed | None, key: str, beyond: float) -> float:
        if typed is None:
            return beyond
        return parse_length(typed, default=units, field=key, signed=True)

    return Strip(
        species_material(table.species, table.grown, ring=table.rings),
        edge(table.left, "left", -HALF_BLANK_M), edge(table.right, "right", HALF_BLANK_M),
        edge(table.below, "below", -HALF_BLANK_M), edge(table.above, "above", HALF_BLANK_M),
    )


def _paddle(layout: DesignFile) -> Paddle:
    units = layout.units
    length = 2.210
    if layout.paddle is not None:
        length = parse_length(layout.paddle.length, default=units, field="paddle.length")
    loom = _loom(layout.loom or LoomTable(), units)
    if layout.blade is None:
        return _default_shape(length, loom)
    first = _half(layout.blade, "blade", loom, 0.5 * length, units)
    if layout.blade_b is None:
        return Paddle.mirrored(first)
    return Paddle(first, _half(layout.blade_b, "blade_b", loom, 0.5 * length, units))


def _default_shape(length: float, loom: Loom) -> Paddle:
    half = default_paddle(length, 2.0 * loom.half_length).a
    if loom.root != half.loom.root:
        raise ShapeError("a loom with a blend of its own needs a [blade] table", field="loom.blend")
    return Paddle.mirrored(HalfPaddle(loom, half.stations))


def _loom(table: LoomTable, units: System) -> Loom:
    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"loom.{key}")

    try:
        return Loom(0.5 * length("length"), length("width"), length("thickness"), length("blend"))
    except SpringloomError as error:
        raise error.within("loom") from None


def _half(table: BladeTable, name: str, loom: Loom, tip: float, units: System) -> HalfPaddle:
    count = len(table.stations)
    for key in ("width", "crown", "edge", "ridge", "ridge_below", "face_share"):
        given = getattr(table, key)
        if given is not None and len(given) != count:
            raise ShapeError("needs one entry for each station", field=f"{name}.{key}",
                             given=len(given), allowed=str(count))
    stations = tuple(_station(table, name, i, loom, tip, units) for i in range(count))
    try:
        return HalfPaddle(loom, stations).checked()
    except SpringloomError as error:
        raise error.within(name) from None


def _station(
    table: BladeTable, name: str, i: int, loom: Loom, tip: float, units: System
) -> Station:
    def length(key: str) -> float:
        typed = getattr(table, key)[i]
        if key == "width" and str(typed).strip().lower() == "round":
            return 0.0
        return parse_length(typed, default=units, field=f"{name}.{key}[{i + 1}]")

    x, place = parse_place(table.stations[i], loom, tip, units, f"{name}.stations[{i + 1}]")
    try:
        return Station(
            x, length("width"), length("crown"), None if table.edge is None else length("edge"),
            ELLIPSE if table.ridge is None else float(table.ridge[i]),
            None if table.ridge_below is None else float(table.ridge_below[i]),
            0.5 if table.face_share is None else float(table.face_share[i]), place,
        )
    except SpringloomError as error:
        if error.field.startswith(name):
            raise
        raise error.within(f"{name} at {place}") from None


def _target(layout: DesignFile) -> Target | None:
    table = layout.target
    if table is None:
        return None
    units = layout.units
    return Target(
        deflection_m=parse_length(table.sinks, default=units, field="target.sinks"),
        load_n=parse_force(table.under, field="target.under"),
        progression=float(table.progression),
        tolerance_m=parse_length(table.within, default=units, field="target.within"),
    )


def _limits(layout: DesignFile) -> Limits:
    table, units = layout.limits, layout.units
    if table is None:
        return Limits()

    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"limits.{key}")

    return Limits(length("least_crown_mid"), length("least_crown_tip"), length("least_edge"),
                  length("blank"), float(table.margin))


def _rules(layout: DesignFile) -> Rules:
    table, units = layout.care, layout.units
    if table is None:
        return Rules()
    return Rules(
        pass_m=parse_length(table.plane_pass, default=units, field="care.plane_pass"),
        target_risk=parse_percent(table.target_risk, field="care.target_risk") / 100.0,
        limit_risk=parse_percent(table.limit_risk, field="care.limit_risk") / 100.0,
        most_m=parse_length(table.most_per_round, default=units, field="care.most_per_round"),
    )
