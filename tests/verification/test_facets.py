"""Flats: never below the surface, for any valid section; an octagon where the section is round."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.shape.facets import (
    LINES,
    PLANED,
    Flats,
    Quadrant,
    balanced,
    corner,
    direction,
    point,
    polygon_area,
    wood_left,
)
from springloom.shape.paddle import default_paddle
from springloom.shape.section import ELLIPSE, Section
from tests.verification.plan_designs import random_half

Floats = np.typing.NDArray[np.float64]

fullness = st.floats(0.0, 1.0)
half_width = st.floats(0.005, 0.06)
height = st.floats(0.002, 0.03)
inside = st.floats(0.02, 0.98)


def quadrant(w: float, h: float, r: float, s: float) -> Quadrant:
    return Quadrant(*(np.array([v]) for v in (w, h, r, s)))


def outside_by(polygon: Floats, surface: Floats) -> float:
    """Least distance from the surface's points to the sides of a convex polygon; < 0 cuts in.

    Both run counter-clockwise in one quadrant; points (n, 2).
    """
    run = np.diff(polygon, axis=0)
    length = np.hypot(*run.T)
    keep = length > 1e-9  # two corners of one straight stretch make no side
    run, start = run[keep] / length[keep, None], polygon[:-1][keep]
    gap = surface[:, None] - start
    return float(np.min(run[:, 0] * gap[..., 1] - run[:, 1] * gap[..., 0]))


@given(w=half_width, h=height, r=fullness, s=fullness, t=inside)
def test_no_flat_passes_below_the_surface_of_any_section(
    w: float, h: float, r: float, s: float, t: float
) -> None:
    q, at = quadrant(w, h, r, s), np.array([t])
    ends = [q.scaled(corner(a, b, q.r, q.s))[0]
            for a, b in ((np.zeros(1), at), (at, np.ones(1)))]
    polygon = np.array([(w, 0.0), *ends, (0.0, h)])
    # The surface from the section's own outline, which knows nothing of flats.
    surface = Section.symmetric(w, h, r, s).outline(400)[:401]
    # Rounding of coordinates, times what a nearly straight pair of tangents magnifies.
    assert outside_by(polygon, surface) > -1e-11


@given(w=half_width, h=height, r=fullness, s=fullness)
def test_flats_of_any_section_in_their_order_leave_ever_less_wood(
    w: float, h: float, r: float, s: float
) -> None:
    q, none, whole = quadrant(w, h, r, s), np.zeros(1), np.ones(1)
    first = balanced(none, whole, q)
    edge, ridge = balanced(none, first, q), balanced(first, whole, q)
    assert 0.0 < edge[0] < first[0] < ridge[0] < 1.0
    before = wood_left(none, whole, q)
    once = max(wood_left(none, first, q), wood_left(first, whole, q))
    breaks = (none, edge, first, ridge, whole)
    twice = max(wood_left(a, b, q) for a, b in itertools.pairwise(breaks))
    # A straight diamond has no wood to leave after its first flat; rounding of lengths near w,
    # which tangents that are nearly one line magnify.
    assert twice <= once + 1e-10
    assert once <= before + 1e-10


@given(w=half_width, h=height, r=st.floats(0.1, 0.9), s=st.floats(0.1, 0.9), ta=inside, tb=inside)
def test_wood_left_is_the_distance_to_the_nearest_of_many_points(
    w: float, h: float, r: float, s: float, ta: float, tb: float
) -> None:
    low, high = min(ta, tb), max(ta, tb) + 0.01
    q, a, b = quadrant(w, h, r, s), np.array([low]), np.array([high])
    met = q.scaled(corner(a, b, q.r, q.s))
    curve = q.scaled(point(np.linspace(low, high, 20001), q.r, q.s))
    nearest = float(np.min(np.hypot(*(curve - met).T)))
    apart = float(np.max(np.hypot(*np.diff(curve, axis=0).T)))
    left = float(wood_left(a, b, q)[0])
    # The nearest point lies beside the true foot by at most half the points' distance.
    assert left <= nearest * (1.0 + 1e-9) + 1e-12
    assert nearest <= np.hypot(left, 0.5 * apart) * (1.0 + 1e-4) + 1e-12


@given(w=half_width, h=height, r=st.floats(0.2, 0.8), s=st.floats(0.2, 0.8))
def test_flat_1_leaves_as_little_as_any_tangent_can(
    w: float, h: float, r: float, s: float
) -> None:
    q, none, whole = quadrant(w, h, r, s), np.zeros(1), np.ones(1)
    first = balanced(none, whole, q)
    ours = max(float(wood_left(none, first, q)[0]), float(wood_left(first, whole, q)[0]))
    t = np.linspace(0.02, 0.98, 193)
    many = Quadrant(*(np.full_like(t, v) for v in (w, h, r, s)))
    any_t = np.maximum(wood_left(np.zeros_like(t), t, many), wood_left(t, np.ones_like(t), many))
    # t is found to 1e-6; wood left changes by less than 50 mm per unit of it.
    assert ours <= float(any_t.min()) + 1e-7


@pytest.mark.parametrize("radius", [0.012, 0.019])
def test_a_round_loom_goes_seven_ten_seven_to_eight_sides(radius: float) -> None:
    # common practice, no source; exactly 1 : √2 : 1, the regular octagon in its square.
    q, none, whole = quadrant(radius, radius, ELLIPSE, ELLIPSE), np.zeros(1), np.ones(1)
    first = balanced(none, whole, q)
    on_face = q.scaled(corner(first, whole, q.r, q.s))[0, 0]
    on_edge = q.scaled(corner(none, first, q.r, q.s))[0, 1]
    cut, kept = radius - on_face, 2.0 * on_face
    assert kept / cut == pytest.approx(math.sqrt(2.0), abs=1e-6)  # t is found to 1e-6
    assert on_edge == pytest.approx(on_face, abs=1e-6 * radius)
    assert abs(kept / cut - 10.0 / 7.0) < 0.015  # what the gauge's whole numbers are worth
    # The corner stands at R/cos 22.5°.
    assert float(wood_left(none, first, q)[0]) == pytest.approx(
        radius * (1.0 / math.cos(math.pi / 8.0) - 1.0), abs=3e-4 * radius  # the Bézier circle's
    )


def test_sixteen_sides_of_a_round_loom_are_all_alike() -> None:
    q, none, whole = quadrant(1.0, 1.0, ELLIPSE, ELLIPSE), np.zeros(1), np.ones(1)
    first = balanced(none, whole, q)
    breaks = (none, balanced(none, first, q), first, balanced(first, whole, q), whole)
    corners = [q.scaled(corner(a, b, q.r, q.s))[0] for a, b in itertools.pairwise(breaks)]
    sides = [float(np.hypot(*(b - a))) for a, b in itertools.pairwise(corners)]
    # A regular 16-gon about the unit circle; the Bézier circle is out by 2.7e-4, and so by
    # some ten times as much of a side.
    assert sides == pytest.approx([2.0 * math.tan(math.pi / 16.0)] * 3, rel=5e-3)
    assert float(wood_left(*breaks[:2], q)[0]) == pytest.approx(
        1.0 / math.cos(math.pi / 16.0) - 1.0, abs=3e-4
    )


def test_an_oval_loom_goes_seven_ten_seven_on_face_and_edge() -> None:
    half = default_paddle().a
    lines = Flats(half).lines(0.5 * half.loom.half_length)
    for whole, cut in ((half.loom.width, lines.first_in), (half.loom.thickness, lines.first_down)):
        assert (whole - 2.0 * float(cut)) / float(cut) == pytest.approx(math.sqrt(2.0), abs=1e-6)


def test_a_straight_diamond_is_its_own_first_flat() -> None:
    q = quadrant(0.03, 0.01, 0.0, 0.0)
    first = balanced(np.zeros(1), np.ones(1), q)
    foot, top = corner(np.zeros(1), first, q.r, q.s), corner(first, np.ones(1), q.r, q.s)
    assert [*foot[0], *top[0]] == pytest.approx([1.0, 0.0, 0.0, 1.0], abs=1e-12)


@given(r=fullness, s=fullness, t=inside)
def test_tangent_is_the_slope_of_the_curve(r: float, s: float, t: float) -> None:
    step = 1e-6
    slope = (point(t + step, r, s) - point(t - step, r, s)) / (2.0 * step)
    # Differences of numbers near 1 over 2e-6.
    assert direction(t, r, s) == pytest.approx(slope, abs=1e-9)


def test_the_flats_run_on_from_loom_to_tip_without_a_break() -> None:
    half = default_paddle().a
    u = np.linspace(0.0, half.knots[-1], 4001)
    lines = 1e3 * Flats(half).lines_at(u).stacked()
    steps = np.abs(np.diff(lines, axis=1)).max(axis=1)
    # Nowhere steeper than the outline's own round at the tip: 41.5 mm in 112 mm of u, twice.
    assert steps.max() < 2.0 * 41.5 / 112.0 * (u[1] - u[0]) * 1e3


@pytest.mark.parametrize("seed", range(25))
@pytest.mark.parametrize("upper", [True, False])
def test_no_flat_of_a_paddle_cuts_in_at_any_place(seed: int, upper: bool) -> None:
    half = random_half(seed)
    flats = Flats(half, upper=upper)
    rng = np.random.default_rng(seed)
    x = rng.uniform(0.0, half.tip * (1.0 - 1e-6), 40)
    u = half.parameter(x)
    for count in PLANED:
        polygons = flats.vertices(u, count)
        for at, polygon in zip(x.tolist(), polygons, strict=True):
            section = half.section(at)
            outline = section.outline(100)
            if not upper:
                outline = (outline * (1.0, -1.0))[::-1]
            surface = outline[(outline[:, 0] >= -1e-12) & (outline[:, 1] >= -1e-12)]
            # Rounding, magnified where tangents are nearly parallel.
            assert outside_by(polygon, surface) > -1e-10


def test_first_and_second_flats_share_their_lines_with_the_polygons() -> None:
    half = default_paddle().a
    flats = Flats(half)
    u = half.parameter(np.linspace(0.0, half.tip - 0.001, 30))
    q, lines = flats.quadrant(u), flats.lines_at(u)
    first, both = flats.vertices(u, 1), flats.vertices(u, 3)
    exact = {
        "first_in": q.w - first[:, 2, 0], "first_down": q.h - first[:, 1, 1],
        "second_in": q.w - both[:, 4, 0], "third_down": q.h - both[:, 1, 1],
        "second_across": np.hypot(*(both[:, 3] - first[:, 2]).T),
        "third_across": np.hypot(*(both[:, 2] - first[:, 1]).T),
    }
    for name in LINES:
        assert getattr(lines, name) == pytest.approx(exact[name], abs=1e-15)
    # What flats 2 and 3 take of flat 1 leaves some of it.
    whole = np.hypot(lines.first_in, lines.first_down)
    assert np.all(lines.second_across + lines.third_across < whole)


def test_polygon_area_by_the_shoelace() -> None:
    square = np.array([[(2.0, 0.0), (2.0, 1.0), (2.0, 3.0), (0.0, 3.0)]])
    assert polygon_area(square)[0] == pytest.approx(6.0)


def test_greatest_wood_left_on_the_default_paddle_is_told(capsys: pytest.CaptureFixture[str]
                                                          ) -> None:
    half = default_paddle().a
    flats = Flats(half)
    u = half.parameter(np.linspace(0.0, half.tip, 3000))
    left = [1e3 * float(flats.left(u, count).max()) for count in PLANED]
    with capsys.disabled():
        print("\ngreatest wood left, mm: squared {:.2f}, flat 1 {:.2f}, all flats {:.2f}, "
              "arrises off {:.3f}".format(*left))
    # Each round of flats halves the angle between neighbours: a quarter of the wood stays.
    assert left[1] < 0.25 * left[0]
    assert left[2] < 0.3 * left[1]
    assert left[3] < 0.3 * left[2]
