"""A design: what a file says, in SI, ready for every calculation."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from pathlib import Path

from pydantic import BaseModel

from springloom.errors import InputError, SpringloomError, in_range
from springloom.fit.bend import Limits, Target
from springloom.fit.body import Boat, Body, Use
from springloom.mechanics.stiffness import Build
from springloom.records.layout import DesignFile, LimitsTable, Paddler, TargetTable
from springloom.records.reading import read_layout
from springloom.records.readings import readings_from
from springloom.records.shape_tables import paddle_from
from springloom.records.told import optional_length, retold, told
from springloom.records.wood_tables import (
    board_from,
    check_cover,
    layup_from,
    refuse_other_wood,
)
from springloom.shape.paddle import Paddle
from springloom.tune.advice import Rules
from springloom.tune.evidence import Reading
from springloom.units import System, Typed, parse_force, parse_length, parse_percent
from springloom.wood.assess import BoardAssessment, assess
from springloom.wood.board import Board
from springloom.wood.layup import Layup
from springloom.wood.material import material_from


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
            EvidenceError: a reading is far from anything this species gives.
        """
        if self.board is None:
            raise InputError("is missing: the wood has to be known", field="board",
                             allowed="a [board] table with at least a species and a size")
        found = assess(self.board)
        refuse_other_wood(found)
        return found

    @functools.cached_property
    def build(self) -> Build:
        """Return the layup if there are strips, else the board's material."""
        if self.layup is not None:
            return self.layup
        return material_from(self.assessment)

    def aiming(self, sinks: Typed | None, under: Typed | None) -> Design:
        """Return a copy with another target; what is not given stays as it is.

        Raises:
            InputError: no target to start from, or one no blade has; names the option.
        """
        if sinks is None and under is None:
            return self
        deflection = self.wanted().deflection_m if sinks is None else parse_length(
            sinks, default=self.units, field="--sinks"
        )
        load = None if under is None else parse_force(under, field="--under")
        try:
            base = self.target or Target(deflection)
            aim = replace(base, deflection_m=deflection)
            return replace(self, target=aim if load is None else replace(aim, load_n=load))
        except SpringloomError as error:
            typed = {"--sinks": sinks, "--under": under}
            option = error.field.replace("target.", "--")
            raise retold(error, option, typed[option], self.units) from None

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
    paddle = paddle_from(layout)
    layup = layup_from(layout.strip, units) if layout.strip else None
    if layup is not None:
        check_cover(layup, paddle)
    return Design(
        name=layout.name, note=layout.note, units=units, body=body, boat=boat, use=use,
        board=board_from(layout.board, units) if layout.board else None,
        layup=layup, paddle=paddle,
        target=_target(layout), limits=_limits(layout), rules=_rules(layout),
        readings=readings_from(layout.readings, paddle, units) if layout.readings else (),
    )


def _paddler(table: Paddler | None, units: System) -> tuple[Body | None, Boat, Use]:
    if table is None:
        return None, Boat(), "touring"

    def length(key: str) -> float | None:
        return optional_length(getattr(table, key), units, f"paddler.{key}")

    measures = ("arm_span", "cubit", "shoulder_breadth", "hand_length", "grip_circumference")
    height = parse_length(table.height, default=units, field="paddler.height")
    with told(table, "paddler", units, beam="boat_beam"):
        body = Body(height, **{f"{key}_m": length(key) for key in measures})
        return body, Boat(length("boat_beam")), table.use


def _target(layout: DesignFile) -> Target | None:
    table = layout.target
    if table is None:
        return None
    units = layout.units
    sinks = parse_length(table.sinks, default=units, field="target.sinks")
    under = parse_force(table.under, field="target.under")
    within = parse_length(table.within, default=units, field="target.within")
    with told(table, "target", units, **_keys("target", TargetTable)):
        return Target(sinks, under, float(table.progression), within)


def _keys(where: str, table: type[BaseModel]) -> dict[str, str]:
    """Keys for errors whose field already is a path into the file."""
    return {f"{where}.{key}": key for key in table.model_fields}


def _limits(layout: DesignFile) -> Limits:
    table, units = layout.limits, layout.units
    if table is None:
        return Limits()

    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"limits.{key}")

    keys = ("least_crown_mid", "least_crown_tip", "least_edge", "blank")
    mid, tip, edge, blank = (length(key) for key in keys)
    with told(table, "limits", units, **_keys("limits", LimitsTable)):
        limits = Limits(mid, tip, edge, blank, float(table.margin))
        in_range(tip, "least_crown_tip", 0.001, mid, "m")
        return limits


def _rules(layout: DesignFile) -> Rules:
    table, units = layout.care, layout.units
    if table is None:
        return Rules()
    one = parse_length(table.plane_pass, default=units, field="care.plane_pass")
    most = parse_length(table.most_per_round, default=units, field="care.most_per_round")
    risks = [parse_percent(getattr(table, key), field=f"care.{key}") for key in _RISKS]
    with told(table, "care", units, **{"pass": "plane_pass", "most": "most_per_round"}):
        for key, risk in zip(_RISKS, risks, strict=True):
            in_range(risk, key, 0.05, 50.0, "%")
        return Rules(one, 0.01 * risks[0], 0.01 * risks[1], most)


_RISKS = ("target_risk", "limit_risk")
