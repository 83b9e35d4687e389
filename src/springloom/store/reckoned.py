"""Reckoning a paddle's few numbers: from its plan, or from what was measured."""

from __future__ import annotations

import math

from springloom.errors import SpringloomError
from springloom.mechanics.analysis import analyse
from springloom.records.design import Design
from springloom.report.sheets import wood_name
from springloom.store.figures import Figures
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import reference_modulus
from springloom.tune.rounds import followed


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


def carried_figures(design: Design) -> Figures | None:
    """Reckon them between rounds: what was measured, and what was planed off since.

    None where there is nothing to go by, or the rounds contradict each other.
    """
    try:
        course = followed(design.paddle, design.build, design.rounds, (), design.target,
                          design.limits, design.rules)
        told = counsel(course.now(), design.wanted(), design.limits, course.rules(design.rules))
    except SpringloomError:
        return None
    return measured_figures(design, told)


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
