"""Paths, bounds and pages: closed forms, dense sampling, and what is refused."""

from __future__ import annotations

import itertools
import math
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.model import (
    Bounds,
    Drawing,
    Fill,
    Item,
    Path,
    Pen,
    Text,
    moved,
    on_layer,
    sequence_bounds,
)
from springloom.drawing.paths import (
    bezier_from_points,
    circle,
    curve_at,
    line,
    lines,
    path_bounds,
    polyline,
    rect,
)
from springloom.errors import InputError, RangeError

coordinate = st.floats(-1000, 1000).map(lambda v: round(v, 3))
control_points = st.lists(st.tuples(coordinate, coordinate), min_size=4, max_size=4)


@given(st.lists(control_points, min_size=1, max_size=5))
def test_bounds_of_cubics_against_dense_sampling(points: list[list[tuple[float, float]]]) -> None:
    path = Path(np.array(points))
    box = path_bounds(path)
    samples = curve_at(path.segments, np.linspace(0, 1, 2001)).reshape(-1, 2)
    low, high = samples.min(axis=0), samples.max(axis=0)
    # Rounding of a cubic with coordinates up to 1000.
    assert np.all(low >= (box.x0 - 1e-9, box.y0 - 1e-9))
    assert np.all(high <= (box.x1 + 1e-9, box.y1 + 1e-9))
    # Between samples a curve rises at most by |B''| h²/8, and |B''| <= 6 × 4 × 1000.
    slack = 24_000 * (1 / 2000) ** 2 / 8 + 1e-9
    assert np.all(np.abs(low - (box.x0, box.y0)) <= slack)
    assert np.all(np.abs(high - (box.x1, box.y1)) <= slack)


def test_bounds_of_a_parabola_in_closed_form() -> None:
    # y = 4 t (1 - t) raised to a cubic: top 1 at t = 1/2, the control points at 4/3.
    path = Path(np.array([[(0, 0), (1, 4 / 3), (2, 4 / 3), (3, 0)]]))
    box = path_bounds(path)
    assert box.y1 == pytest.approx(1.0, abs=1e-15)
    assert (box.x0, box.y0, box.x1) == (0.0, 0.0, 3.0)


def test_bounds_of_a_circle_and_of_its_line() -> None:
    ring = circle(10, 20, 5, Pen.OUTLINE)
    box = path_bounds(ring)
    assert (box.x0, box.y0, box.x1, box.y1) == pytest.approx((5, 15, 15, 25), abs=1e-12)
    inked = path_bounds(ring, stroke=True)
    assert inked.width == pytest.approx(10 + Pen.OUTLINE.width_mm)


def test_circle_radius_error_is_the_known_one() -> None:
    ring = circle(1, 2, 3)
    radius = np.hypot(*(curve_at(ring.segments, np.linspace(0, 1, 501)) - (1, 2)).reshape(-1, 2).T)
    # Largest error of this handle length is 2.7253e-4 of the radius (the usual 4/3(√2−1)).
    assert radius.max() / 3 - 1 == pytest.approx(2.7253e-4, abs=1e-7)
    assert radius.min() / 3 == pytest.approx(1.0, abs=1e-12)


def test_straight_lines_are_told_from_curves() -> None:
    assert polyline([(0, 0), (1, 2), (5, 5)]).straight().all()
    assert not circle(0, 0, 1).straight().any()


def test_closed_polyline_returns_to_its_start() -> None:
    square = rect(1, 2, 3, 4, fill=Fill.WASH)
    assert square.segments.shape == (4, 4, 2)
    assert np.array_equal(square.segments[-1, 3], square.segments[0, 0])
    assert square.closed


def test_pen_lifts_between_lines() -> None:
    pair = lines([((0, 0), (1, 0)), ((0, 1), (1, 1)), ((1, 1), (2, 2))])
    assert [len(run) for run in pair.runs()] == [1, 2]


def test_smooth_curve_passes_its_points_and_bends_without_a_break() -> None:
    points = np.array([(0, 0), (10, 4), (25, 6), (40, 3), (60, 0)], dtype=float)
    p = bezier_from_points(points).segments
    assert np.array_equal(p[:, 0], points[:-1])
    assert np.array_equal(p[:, 3], points[1:])
    chord = np.linalg.norm(np.diff(points, axis=0), axis=1)[:, None]
    slope_out, slope_in = 3 * (p[:, 3] - p[:, 2]) / chord, 3 * (p[:, 1] - p[:, 0]) / chord
    bend_out = 6 * (p[:, 3] - 2 * p[:, 2] + p[:, 1]) / chord**2
    bend_in = 6 * (p[:, 2] - 2 * p[:, 1] + p[:, 0]) / chord**2
    # Tolerances: rounding of sums and of the spline's linear system.
    assert np.allclose(slope_out[:-1], slope_in[1:], atol=1e-12)
    assert np.allclose(bend_out[:-1], bend_in[1:], atol=1e-12)


def test_smooth_curve_reproduces_a_cubic_from_tangents() -> None:
    t = np.arange(4.0)
    points = np.column_stack((t, t**3 - 2 * t))
    tangents = np.column_stack((np.ones(4), 3 * t**2 - 2))
    path = bezier_from_points(points, tangents)
    at = curve_at(path.segments, np.linspace(0, 1, 11)).reshape(-1, 2)
    assert np.allclose(at[:, 1], at[:, 0] ** 3 - 2 * at[:, 0], atol=1e-12)  # rounding only


def test_closed_smooth_curve_has_no_corner() -> None:
    angle = np.linspace(0, 2 * math.pi, 9)[:-1]
    p = bezier_from_points(np.column_stack((np.cos(angle), np.sin(angle))), closed=True).segments
    assert np.array_equal(p[-1, 3], p[0, 0])
    # Equal chords, so equal handles mean equal slopes; rounding only.
    assert np.allclose(p[-1, 3] - p[-1, 2], p[0, 1] - p[0, 0], atol=1e-12)
    # Error bound of a cubic spline, 5/384 h^4 max|f""| (Hall and Meyer 1976; from memory),
    # here of a cosine.
    bound = 5 / 384 * (2 * math.pi / 8) ** 4
    assert np.allclose(np.hypot(*curve_at(p, 0.5).reshape(-1, 2).T), 1, atol=bound)


def test_mapping_and_moving() -> None:
    path = line((1, 2), (3, 4)).mapped([(0, -1), (1, 0)], (10, 0)).moved(0, 5)
    assert np.allclose(path.segments[0, 0], (8, 6))
    text = moved((Text(1, 2, "a"),), 3, 4)[0]
    assert (text.x, text.y) == (4, 6)
    items: tuple[Item, ...] = (path, text)
    assert [item.layer for item in on_layer(items, "new")] == ["new", "new"]


def test_bounds_arithmetic() -> None:
    a, b = Bounds(0, 0, 2, 1), Bounds(2, 0, 3, 4)
    assert not a.overlaps(b)
    assert a.grown(0.1).overlaps(b)
    whole = sequence_bounds([a, b])
    assert whole == Bounds(0, 0, 3, 4)
    assert whole.contains(a)
    assert not a.contains(whole)
    assert whole.centre == (1.5, 2)
    assert a.moved(1, 1) == Bounds(1, 1, 3, 2)


def test_layers_keep_named_order_then_appearance() -> None:
    page = Drawing(10, 10, "t", (line((0, 0), (1, 1), layer="b"), Text(1, 1, "x", layer="c")),
                   layers=("a", "b"))
    assert page.layers == ("a", "b", "c")
    assert page.with_items(line((0, 0), (1, 1), layer="d")).layers == ("a", "b", "c", "d")
    assert len(page.on_layer("b")) == 1


def test_pen_widths_are_of_the_standard_series() -> None:
    # ISO 128-2: each width is the next one divided by √2, to two decimals.
    widths = sorted({pen.width_mm for pen in Pen})
    for fine, wide in itertools.pairwise(widths):
        assert wide / fine == pytest.approx(math.sqrt(2), abs=0.07)  # rounding to 0.01 mm
    assert Pen.CENTRE.dash_mm
    assert Pen.HIDDEN.dash_mm
    assert not Pen.OUTLINE.dash_mm


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_refused(bad: float) -> None:
    with pytest.raises(RangeError):
        Path(np.array([[(0, 0), (1, bad), (2, 2), (3, 3)]]))
    with pytest.raises(RangeError):
        polyline([(0, 0), (bad, 1)])
    with pytest.raises(RangeError):
        circle(bad, 0, 1)
    for field in ("x", "y", "size_mm", "rotation_deg"):
        with pytest.raises(RangeError):
            Text(**{"x": 0.0, "y": 0.0, "string": "a", field: bad})  # type: ignore[arg-type]  # mixed values
    with pytest.raises(RangeError):
        Bounds(0, 0, bad, 1)
    with pytest.raises(RangeError):
        Drawing(bad, 10, "t", ())
    with pytest.raises(RangeError):
        line((0, 0), (1, 1)).moved(bad, 0)


def test_shapes_and_words_that_draw_nothing_are_refused() -> None:
    for shape in ((0, 4, 2), (1, 3, 2), (4, 2)):
        with pytest.raises(InputError):
            Path(np.zeros(shape))
    with pytest.raises(InputError, match="nothing to draw"):
        polyline([(0, 0), (1, 1)], None)
    for string in ("", "  ", "two\nlines", "bell\x07", "\ud800"):
        with pytest.raises(InputError):
            Text(0, 0, string)
    with pytest.raises(InputError):
        Text(0, 0, "a", layer='x" onload="')
    with pytest.raises(InputError):
        Bounds(1, 0, 0, 1)
    with pytest.raises(InputError):
        bezier_from_points([(0, 0), (0, 0), (1, 1)])
    with pytest.raises(InputError):
        bezier_from_points([(0, 0), (1, 1)], [(1, 1)])
    with pytest.raises(InputError):
        lines([(0, 0), (1, 1)])
    with pytest.raises(InputError):
        polyline([(0, 0)])
    with pytest.raises(InputError):
        sequence_bounds([])


def test_control_points_cannot_change_afterwards() -> None:
    source = np.zeros((1, 4, 2))
    path = Path(source)
    source[0, 0, 0] = 5
    assert path.segments[0, 0, 0] == 0
    with pytest.raises(ValueError, match="read-only"):
        path.segments[0, 0, 0] = 1


def test_importing_the_model_loads_no_font_or_print_library() -> None:
    code = ("import sys, springloom.drawing.svg, springloom.drawing.pdf, springloom.drawing.plot;"
            "print([m for m in ('reportlab', 'fontTools', 'scipy') if m in sys.modules])")
    out = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True,
                         timeout=60)
    assert out.stdout.strip() == "[]"
