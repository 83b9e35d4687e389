"""Marks: lines drawn through the printed figures never let a flat cut in, between stations too."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from springloom.errors import RangeError
from springloom.shape.facets import Flats, Lines, Quadrant
from springloom.shape.marks import (
    FlatMarks,
    blank_marks,
    clearances,
    flat_marks,
    places,
    support,
)
from springloom.shape.paddle import default_paddle
from springloom.shape.section import Section
from tests.verification.plan_designs import random_half

TIP = (0.050, 0.025, 0.010, 0.004)
STEPS = (1e-4, 0.0254 / 64.0, 0.0254 / 16.0)

fullness = st.floats(0.0, 1.0)


@given(w=st.floats(0.005, 0.06), h=st.floats(0.001, 0.03), r=fullness, s=fullness,
       turn=st.floats(0.0, 0.5 * math.pi))
def test_support_is_the_furthest_point_of_the_section(
    w: float, h: float, r: float, s: float, turn: float
) -> None:
    out, up = math.cos(turn), math.sin(turn)
    q = Quadrant(*(np.array([v]) for v in (w, h, r, s)))
    outline = Section.symmetric(w, h, r, s).outline(4000)
    found = float(support(np.array([out]), np.array([up]), q)[0])
    furthest = float(np.max(outline @ (out, up)))
    # Between two of the points the curve bows out by less than a 4000th of a 4000th.
    assert furthest - 1e-12 <= found <= furthest + 1e-7 * max(w, h)


@settings(max_examples=40)
@given(seed=st.integers(0, 10_000), upper=st.booleans(), step=st.sampled_from(STEPS))
def test_no_flat_planed_to_the_drawn_lines_cuts_in_anywhere(
    seed: int, upper: bool, step: float
) -> None:
    half = random_half(seed)
    flats = Flats(half, upper=upper)
    marks = flat_marks(flats, places(half, TIP), step)
    x = np.random.default_rng(seed).uniform(0.0, half.tip, 2000)
    # The lines are looked at 40 times between two marks; between looks they bow by less.
    assert marks.clearances(x).min() > -1e-6


def test_the_proof_fails_for_figures_rounded_up() -> None:
    half = default_paddle().a
    flats, x = Flats(half), places(default_paddle().a, TIP)
    exact = flats.lines(x).stacked()
    bad = FlatMarks(flats, flat_marks(flats, x, 1e-4).ruler, np.ceil(exact / 1e-4) * 1e-4)
    assert bad.clearances(np.linspace(0.01, half.tip - 0.01, 500)).min() < -1e-5


@pytest.mark.parametrize("step", STEPS)
def test_figures_are_whole_steps_on_the_safe_side_and_near(step: float) -> None:
    half = default_paddle().a
    flats = Flats(half)
    marks = flat_marks(flats, places(half, TIP), step)
    steps = marks.values / step
    assert steps == pytest.approx(np.round(steps), abs=1e-6)
    given_up = marks.given_up()
    assert given_up.min() > -1e-9
    # A step for rounding; one or two more where a batten bows otherwise than the blade.
    assert given_up.max() < 3.0 * step + 1e-4


def test_exact_lines_touch_the_surface_and_no_more() -> None:
    half = default_paddle().a
    flats = Flats(half)
    u = half.parameter(np.linspace(0.0, half.tip - 1e-4, 500))
    assert np.abs(clearances(flats.lines_at(u), flats.quadrant(u))).max() < 1e-12


@given(more=st.floats(1e-6, 1e-4), x=st.floats(0.0, 1.1), line=st.integers(0, 5))
def test_any_line_moved_in_cuts_in_and_moved_out_leaves_wood(
    more: float, x: float, line: int
) -> None:
    half = default_paddle().a
    flats = Flats(half)
    u = half.parameter(np.array([x]))
    exact = flats.lines_at(u).stacked()
    flat = (0, 0, 1, 1, 2, 2)[line]
    found = []
    for way in (1.0, -1.0):
        moved = exact.copy()
        moved[line] += way * more
        found.append(float(clearances(Lines(*moved), flats.quadrant(u), flat)[0]))
    assert found[0] < 0.0 < found[1]


@settings(max_examples=40)
@given(seed=st.integers(0, 10_000), step=st.sampled_from(STEPS))
def test_sawing_to_the_figures_leaves_outline_and_ridge(seed: int, step: float) -> None:
    half = random_half(seed)
    x = places(half, TIP)
    values = half.values(np.union1d(np.linspace(0.0, half.knots[-1], 20001), half.knots))
    crown, share = values[1], values[5]
    # A blank's faces; between two of so many places a ridge rises by less than rounding shows.
    deep = float((crown * share).max()), float((crown * (1.0 - share)).max())
    marks = blank_marks(half, x, step, deep)
    at = half.values(half.parameter(x))
    assert np.all(marks.half_width > at[0] - 1e-9)
    assert np.all(marks.taper_top < deep[0] - at[1] * at[5] + 1e-9)
    assert np.all(marks.taper_low < deep[1] - at[1] * (1.0 - at[5]) + 1e-9)
    for row in (marks.half_width, marks.taper_top, marks.taper_low):
        assert row / step == pytest.approx(np.round(row / step), abs=1e-6)
        assert row.min() >= 0.0


def test_marks_stand_at_the_stations_and_round_the_tip() -> None:
    half = default_paddle().a
    x = places(half, TIP)
    tip = [half.tip - d for d in TIP]
    wanted = {0.0, half.loom.half_length, *(s.x for s in half.stations), *tip}
    assert x.tolist() == sorted(wanted)
    # A blunt tip has no room for the outermost of them.
    assert len(places(random_half(3), (0.5,))) == 2 + len(random_half(3).stations)


def test_a_face_without_height_gets_no_flats() -> None:
    half = next(h for h in map(random_half, range(60)) if h.stations[0].share == 1.0)
    marks = flat_marks(Flats(half, upper=False), places(half, TIP), 1e-4)
    blade = marks.ruler.x > half.stations[0].x - 1e-9
    lines = marks.lines()
    assert lines.first_down[blade].max() == 0.0
    assert lines.third_down[blade].max() == 0.0
    assert lines.first_down[~blade].min() > 0.003


def test_a_step_that_is_none_is_refused() -> None:
    half = default_paddle().a
    with pytest.raises(RangeError, match="step"):
        flat_marks(Flats(half), places(half), 0.0)
    with pytest.raises(RangeError, match="step"):
        blank_marks(half, places(half), -1.0, (0.02, 0.02))
