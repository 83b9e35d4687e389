"""A paddle in a few numbers, for lists: as planned, or as measured once anything was."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from springloom.errors import SpringloomError
from springloom.mechanics.analysis import analyse
from springloom.records.design import Design
from springloom.report.sheets import wood_name
from springloom.tune.counsel import Counsel
from springloom.tune.estimate import reference_modulus


@dataclass(frozen=True, slots=True)
class Figures:
    """What is known of a paddle; None where nothing is.

    Attributes:
        measured: whether it comes from readings and not from the plan alone.
        length_m: tip to tip, as planned.
        wood: its name.
        e_pa: stiffness along the grain, of both blades' wood together.
        mass_kg: of the bare wood.
        tip_a_m, tip_b_m: how far each tip sinks in the target's set-up.
        wanted_m: how far they should.
    """

    measured: bool
    length_m: float
    wood: str = ""
    e_pa: float | None = None
    mass_kg: float | None = None
    tip_a_m: float | None = None
    tip_b_m: float | None = None
    wanted_m: float | None = None

    @classmethod
    def kept(cls, data: Mapping[str, Any] | None) -> Figures | None:
        """Return them from what was kept."""
        return None if data is None else cls(**data)

    @property
    def tip_m(self) -> float | None:
        """The mean of both blades."""
        if self.tip_a_m is None or self.tip_b_m is None:
            return None
        return 0.5 * (self.tip_a_m + self.tip_b_m)


def planned_figures(design: Design) -> Figures:
    """Work them out from the plan; without wood only what needs none."""
    target = design.target
    wanted = None if target is None else target.deflection_m
    length = design.paddle.length
    try:
        build = design.build
        setup = None if target is None else target.setup(design.paddle.a)
        found = analyse(design.paddle, build, setup)
    except SpringloomError:
        return Figures(False, length, wanted_m=wanted)
    return Figures(False, length, wood_name(build), reference_modulus(build),
                   found.mass.mass_kg, found.a.line.tip_deflection_m,
                   found.b.line.tip_deflection_m, wanted)


def measured_figures(design: Design, told: Counsel) -> Figures:
    """Work them out from a round of tuning; no bend or weight while readings are in doubt."""
    wanted, name = design.wanted().deflection_m, wood_name(design.build)
    if told.prediction is None:
        return Figures(True, design.paddle.length, name, wanted_m=wanted)
    known = told.plans[0].known
    tips = [blade.deflection_m for blade in told.advice.blades]
    return Figures(True, design.paddle.length, name,
                   math.sqrt(known.modulus("a").value * known.modulus("b").value),
                   told.prediction.mass_now_kg.value, tips[0], tips[1], wanted)
