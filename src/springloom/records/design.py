"""A design: what a file says, in SI, ready for every calculation."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from springloom.errors import InputError, SpringloomError, in_range
from springloom.fit.bend import Limits, Target
from springloom.fit.body import Boat, Body, Use
from springloom.mechanics.stiffness import Build
from springloom.records.layout import DesignFile, LimitsTable, Paddler
from springloom.records.places import parse_place
from springloom.records.reading import read_layout
from springloom.records.readings import readings_from, traces_from
from springloom.records.rounds_table import rounds_from
from springloom.records.shape_tables import paddle_from
from springloom.records.target_table import Other, keys_of, target_from
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
from springloom.tune.rounds import Course, Round, followed
from springloom.tune.targets import Carried, planned, recorded
from springloom.tune.trace import Trace
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
    carried: Carried | None
    limits: Limits
    rules: Rules
    readings: tuple[Reading, ...]
    rounds: tuple[Round, ...] = ()
    traces: tuple[Trace, ...] = ()
    remarks: tuple[str, ...] = ()
    board_assumed: bool = False
    """Whether the board only stands for its wood: nobody has it on the bench."""

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

    def tuned(self) -> Course:
        """Return what all rounds and the readings at hand tell together.

        Raises:
            InputError: there are no readings.
            EvidenceError: the readings fit no such paddle.
        """
        if not self.readings:
            raise InputError("are missing: tuning starts from what was measured", field="readings",
                             allowed="a [readings] table with caliper or bench readings")
        return followed(self.paddle, self.build, self.rounds, self.readings, self.target,
                        self.limits, self.rules)

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
            aim = aim if load is None else replace(aim, load_n=load)
            return replace(self, target=aim, carried=None)
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
    return design_from(read_layout(path), path.parent)


def design_from(layout: DesignFile, folder: Path | None = None) -> Design:
    """Convert a checked layout to SI.

    Args:
        layout: what was typed.
        folder: from which another design file is named; None where there are no files.
    """
    units = layout.units
    body, boat, use = _paddler(layout.paddler, units)
    paddle = paddle_from(layout)
    layup = layup_from(layout.strip, units) if layout.strip else None
    if layup is not None:
        check_cover(layup, paddle)
    target, carried = target_from(layout, paddle, lambda name: _other(name, folder))
    read = layout.readings
    return Design(
        name=layout.name, note=layout.note, units=units, body=body, boat=boat, use=use,
        board=board_from(layout.board, units) if layout.board else None,
        layup=layup, paddle=paddle,
        target=target, carried=carried, limits=_limits(layout), rules=_rules(layout, paddle),
        readings=readings_from(read, paddle, units) if read else (),
        rounds=rounds_from(layout.round, paddle, units),
        traces=traces_from(read, paddle, units) if read else (),
        remarks=tuple(read.remarks) if read else (),
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


def _other(name: str, folder: Path | None) -> Other:
    """Read the paddle that another is to be like: as measured, else as planned.

    What that paddle was to be like itself does not matter, so files may name one another.
    """
    if folder is None:
        raise InputError("is another file, and there are none here", field="target.like",
                         given=name, allowed="sinks and progression")
    try:
        layout = read_layout(folder / name).model_copy(update={"target": None})
        design = design_from(layout, folder)
        if not design.readings:
            return planned(design.paddle, design.build)
        return recorded(design.tuned().now())
    except SpringloomError as error:
        raise error.within("target.like") from None


def _limits(layout: DesignFile) -> Limits:
    table, units = layout.limits, layout.units
    if table is None:
        return Limits()

    def length(key: str) -> float:
        return parse_length(getattr(table, key), default=units, field=f"limits.{key}")

    keys = ("least_crown_mid", "least_crown_tip", "least_edge", "blank")
    mid, tip, edge, blank = (length(key) for key in keys)
    with told(table, "limits", units, **keys_of("limits", LimitsTable)):
        limits = Limits(mid, tip, edge, blank, float(table.margin))
        in_range(tip, "least_crown_tip", 0.001, mid, "m")
        return limits


def _rules(layout: DesignFile, paddle: Paddle) -> Rules:
    table, units = layout.care, layout.units
    if table is None:
        return Rules()
    one = parse_length(table.plane_pass, default=units, field="care.plane_pass")
    most = parse_length(table.most_per_round, default=units, field="care.most_per_round")
    risks = [parse_percent(getattr(table, key), field=f"care.{key}") for key in _RISKS]
    with told(table, "care", units, **{"pass": "plane_pass", "most": "most_per_round"}):
        for key, risk in zip(_RISKS, risks, strict=True):
            in_range(risk, key, 0.05, 50.0, "%")
        target, limit, tuning = (0.01 * risk for risk in risks)
        return Rules(one, target, limit, most, _kept(table.keep, paddle, units), tuning)


def _kept(typed: Sequence[Typed], paddle: Paddle, units: System) -> tuple[float, ...]:
    """Places of the stations that keep their crown, m from the centre."""
    stations = {round(s.x, 4): s.name for half in (paddle.a, paddle.b) for s in half.stations}
    found = []
    for i, place in enumerate(typed):
        field = f"care.keep[{i + 1}]"
        x, _ = parse_place(place, paddle.a.loom, max(paddle.a.tip, paddle.b.tip), units, field)
        if round(x, 4) not in stations:
            raise InputError("is no station of the blade", field=field, given=place,
                             allowed=", ".join(dict.fromkeys(stations.values())))
        found.append(x)
    return tuple(found)


_RISKS = ("target_risk", "limit_risk", "tuning_risk")
