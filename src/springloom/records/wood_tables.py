"""The tables about wood, [board] and [[strip]], in SI."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from springloom.errors import AsIs, EvidenceError, ShapeError
from springloom.mechanics.stiffness import rigidity_at
from springloom.records.layout import BendingTest, BoardTable, StripTable, Tap
from springloom.records.told import optional_length, told
from springloom.shape.paddle import Paddle
from springloom.units import (
    System,
    parse_force,
    parse_frequency,
    parse_length,
    parse_mass,
    parse_percent,
    parse_slope,
)
from springloom.wood.assess import BoardAssessment
from springloom.wood.board import Board, CentralLoadTest, TapTone
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import species_material

HOPELESS_SIGMA = 6.0
"""A reading this far from its species is a slip or another wood: a factor of 1.8 in weight."""


def refuse_other_wood(found: BoardAssessment) -> None:
    """Stop at readings from which no verdict could be drawn; doubtful ones are the verdict's.

    Raises:
        EvidenceError: names the reading and the range that 3 standard deviations leave.
    """
    for evidence, slot in zip(found.evidence, _slots(found.board), strict=True):
        if abs(evidence.sigma) <= HOPELESS_SIGMA:
            continue
        field, value, unit, power = slot
        ratio = evidence.observed / evidence.expected
        middle, spread = value / ratio**power, 3.0 * abs(power * math.log(ratio) / evidence.sigma)
        raise EvidenceError(
            f"does not go with {found.board.wood.common_name} of this size; check both and the "
            "reading",
            field=field, given=AsIs(f"{value:.4g} {unit}"),
            allowed=f"{middle * math.exp(-spread):.3g} to {middle * math.exp(spread):.3g} {unit}",
        )


def _slots(board: Board) -> list[tuple[str, float, str, float]]:
    """Key, reading, unit, and the reading's power in what it tells, in the order taken in."""
    found = []
    if board.mass_kg is not None:
        found.append(("board.weight", board.mass_kg, "kg", 1.0))
    for i, test in enumerate(board.bending_tests):
        found.append((f"board.bending[{i + 1}].sinks", 1e3 * test.deflection_m, "mm", -1.0))
    for i, tap in enumerate(board.tap_tones):
        found.append((f"board.tap[{i + 1}].frequency", tap.frequency_hz, "Hz", 0.5))
    return found


def board_from(table: BoardTable, units: System) -> Board:
    """Convert a [board] table and its readings."""
    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"board.{key}")

    bending = tuple(
        _bending(t, f"board.bending[{i + 1}]", units) for i, t in enumerate(table.bending)
    )
    taps = tuple(_tap(t, f"board.tap[{i + 1}]") for i, t in enumerate(table.tap))
    moist, slope = table.moisture, table.grain_slope
    mass = None if table.weight is None else parse_mass(table.weight, field="board.weight")
    percent = None if moist is None else parse_percent(moist, field="board.moisture")
    slope = None if slope is None else parse_slope(slope, field="board.grain_slope")
    with told(table, "board", units, mass="weight", origin="grown", ring="rings",
              **_numbered("bending_tests", "bending", len(bending)),
              **_numbered("tap_tones", "tap", len(taps))):
        return Board(
            table.species, length("length"), length("width"), length("thickness"),
            origin=table.grown, mass_kg=mass, moisture_percent=percent, grain_slope=slope,
            ring=table.rings, bending_tests=bending, tap_tones=taps, note=table.note,
        )


def _numbered(field: str, key: str, count: int) -> dict[str, str]:
    """Keys for a list's fields: the model counts from 0, the file from 1."""
    whole = {f"{field}[{i}]": f"{key}[{i + 1}]" for i in range(count)}
    return whole | {f"{a}.span": f"{b}.span" for a, b in whole.items()}


def _bending(table: BendingTest, field: str, units: System) -> CentralLoadTest:
    span = parse_length(table.span, default=units, field=f"{field}.span")
    load = parse_force(table.load, field=f"{field}.load")
    sinks = parse_length(table.sinks, default=units, field=f"{field}.sinks")
    sd = optional_length(table.sinks_sd, units, f"{field}.sinks_sd")
    with told(table, field, units, deflection="sinks", deflection_sd="sinks_sd"):
        test = CentralLoadTest(span, load, sinks, edgewise=table.edgewise)
        return test if sd is None else replace(test, deflection_sd_m=sd)


def _tap(table: Tap, field: str) -> TapTone:
    frequency = parse_frequency(table.frequency, field=f"{field}.frequency")
    sd = None if table.sd is None else parse_frequency(table.sd, field=f"{field}.sd")
    with told(table, field, "mm"):
        tap = TapTone(frequency, edgewise=table.edgewise)
        return tap if sd is None else replace(tap, sd_hz=sd)


def layup_from(tables: Sequence[StripTable], units: System) -> Layup:
    """Convert [[strip]] tables; no two may overlap."""
    strips: list[Strip] = []
    for i, table in enumerate(tables):
        field = f"strip[{i + 1}]"
        strip = _strip(table, field, units)
        over = [j + 1 for j, other in enumerate(strips) if strip.overlap_m2(other) > 0.0]
        if over:
            raise ShapeError(f"overlaps strip[{over[0]}]", field=field,
                             allowed="strips side by side; they may touch")
        strips.append(strip)
    return Layup(tuple(strips))


def _strip(table: StripTable, field: str, units: System) -> Strip:
    def edge(key: str, beyond: float) -> float:
        typed = getattr(table, key)
        if typed is None:
            return beyond
        return parse_length(typed, default=units, field=f"{field}.{key}", signed=True)

    far = HALF_BLANK_M
    with told(table, field, units, y_min="left", y_max="right", z_min="below", z_max="above",
              origin="grown", ring="rings"):
        return Strip(species_material(table.species, table.grown, ring=table.rings),
                     edge("left", -far), edge("right", far), edge("below", -far),
                     edge("above", far), table.rings)


def check_cover(layup: Layup, paddle: Paddle) -> None:
    """Make sure that the strips fill the paddle wherever a station or the loom is."""
    for half in (paddle.a, paddle.b):
        rows = [half.loom.channels(), *half.station_values[:-1]]
        try:
            rigidity_at(np.array(rows).T, layup)
        except ShapeError as error:
            raise error.about("strip") from None
