"""The walk through a round: what is asked for, in which order, and what counts as read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest

from springloom.drawing.blade_strip import blade_strip
from springloom.drawing.model import Fill, Path
from springloom.fit.bend import Target
from springloom.report.tune_tables import unknown_grids
from springloom.report.tune_words import care_words, chance_words
from springloom.report.walk_words import step_how, step_title
from springloom.report.words import Words
from springloom.tune.counsel import counsel
from springloom.tune.estimate import estimate
from springloom.tune.evidence import (
    SIDES,
    BenchReading,
    Reading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.prediction import wanted_at, wanted_line
from springloom.tune.rules import Rules
from springloom.tune.walk import Step, is_read, next_step, unread, walk
from tests.verification.tune_bench import everywhere, exact, model

Floats = npt.NDArray[np.float64]

PADDLE = model().paddle
STEPS = walk(PADDLE)
HALF = PADDLE.a


def taken(step: Step) -> Reading:
    """A reading that is this step."""
    if step.sort == "weight":
        return WeightReading(0.8)
    assert step.side is not None
    if step.sort == "bench":
        return BenchReading(step.side, 0.03, step.x_m, HALF.tip, HALF.loom.root)
    return ThicknessReading(step.side, step.x_m, 0.01, step.sort)


def test_the_walk_goes_along_a_then_b_then_scale_then_weights() -> None:
    stations = len(HALF.stations)
    sorts = [(step.side, step.sort) for step in STEPS]
    of_a = [sort for side, sort in sorts[: 2 * stations - 1] if side == "a"]
    assert of_a == ["crown", "edge"] * (stations - 1) + ["crown"]  # no edge in the rounded tip
    assert sorts[2 * (2 * stations - 1)] == (None, "weight")
    assert sorts[-6:] == [(side, "bench") for side in SIDES for _ in range(3)]
    assert len({step.key for step in STEPS}) == len(STEPS)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.key)
def test_each_step_is_read_by_its_own_reading_alone(step: Step) -> None:
    assert [other.key for other in STEPS if other.is_read_by(taken(step))] == [step.key]


def test_one_face_alone_and_other_kinds_are_no_step() -> None:
    crown = ThicknessReading("a", HALF.stations[1].x, 0.01)
    assert is_read(STEPS[2], [crown])
    others: list[Reading] = [replace(crown, face="upper"), WidthReading("a", crown.x, 0.06),
                             replace(crown, x=crown.x + 0.005)]
    assert unread(STEPS, others) == STEPS


def test_next_is_the_first_unread_after_the_last_and_then_there_is_none() -> None:
    read: list[Reading] = [taken(STEPS[1])]
    assert next_step(STEPS, read) == STEPS[0]
    assert next_step(STEPS, read, STEPS[0].key) == STEPS[2]
    assert next_step(STEPS, read, STEPS[-1].key) is None
    assert next_step(STEPS, read, "no such key") == STEPS[0]


def test_what_the_plan_has_is_what_its_section_has() -> None:
    for step in STEPS:
        if step.sort in {"crown", "edge"} and step.side == "a" and step.x_m < HALF.tip:
            section = HALF.section(step.x_m)
            inset = section.half_width if step.sort == "crown" else 0.005
            # calipers at the ridge and 5 mm in; the section is made of the same values
            assert step.planned_m == pytest.approx(section.thickness_at(inset), rel=1e-9)


def test_every_step_says_what_and_how() -> None:
    said = {(step_title(step), step_how(step, Words("in"))) for step in STEPS}
    assert len({title for title, _ in said}) == len(STEPS)
    assert ("Edge at the root, blade A", step_how(STEPS[1], Words("in"))) in said
    assert "13/64 in" in step_how(STEPS[1], Words("in"))  # 5 mm to the nearest 1/64


def test_wanted_sinks_at_any_place_are_the_wanted_line() -> None:
    at = np.array([station.x for station in HALF.stations])
    assert wanted_at(HALF, at, 0.033, 1.9) == pytest.approx(wanted_line(HALF, 0.033, 1.9))
    assert wanted_at(HALF, np.array([HALF.tip]), 0.033, 1.9) == pytest.approx([0.033])


def test_a_strip_fills_what_was_read_and_rings_what_is_being_read() -> None:
    marks = [(station.x, station.name) for station in HALF.stations]
    drawn = blade_strip("Blade A", HALF, marks, {marks[0][0]}, [marks[1][0]])
    dots = [item for item in drawn.on_layer("marks") if isinstance(item, Path)]
    assert sum(dot.fill is Fill.INK for dot in dots) == 1
    assert len(dots) == len(marks) + 1
    assert f"Read: {marks[0][1]}." in drawn.description
    assert f"Being read: {marks[1][1]}." in drawn.description


def thicker() -> Floats:
    """Unknowns of a paddle as planned, but 1 mm thicker all over."""
    plan = model()
    theta, at = plan.start(), plan.layout
    for side in SIDES:
        theta[at.crowns(side)] += 0.001
    return theta


def test_every_unknown_is_told_and_how_careful_the_advice_is() -> None:
    carved, plan = thicker(), model()
    known = estimate(plan.paddle, plan.build, exact(plan, carved, everywhere(plan.paddle)))
    rows = [row for grid in unknown_grids(known, Words("mm")) for row in grid.rows]
    assert len(rows) == known.model.layout.size
    advice = counsel(known, Target(0.033)).advice
    said = chance_words(advice)
    for blade in advice.blades:
        chance = f"blade {blade.side.upper()} {100 * blade.overshoot_chance:.1f} %"
        assert (chance in said) == (blade.call == "plane")
    assert "0.20 mm off a face" in care_words(Rules(), Words("mm"))
