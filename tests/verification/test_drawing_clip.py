"""Cutting lines at a window: exact pieces, nothing lost, nothing outside."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.clip import clipped, clipped_fill, part
from springloom.drawing.model import Array, Bounds, Fill, Path
from springloom.drawing.paths import circle, curve_at, line, path_bounds, polyline, rect
from springloom.errors import InputError

coordinate = st.floats(-100, 100).map(lambda v: round(v, 2))
cubic = st.lists(st.tuples(coordinate, coordinate), min_size=4, max_size=4).map(np.array)


def length(path: Path) -> float:
    points = curve_at(path.segments, np.linspace(0, 1, 400))
    return float(np.linalg.norm(np.diff(points, axis=1), axis=2).sum())


@given(cubic, st.floats(0, 1), st.floats(0, 1))
def test_part_of_a_cubic_is_the_same_curve(segment: Array, a: float, b: float) -> None:
    t = np.linspace(0, 1, 7)
    piece = curve_at(part(segment, a, b)[None], t)
    whole = curve_at(segment[None].astype(float), a + t * (b - a))
    assert np.allclose(piece, whole, atol=1e-10)  # rounding of coordinates up to 100


@given(cubic)
def test_four_windows_hold_the_whole_line_once(segment: Array) -> None:
    path = Path(segment[None])
    box = path_bounds(path).grown(1.0)
    x, y = 3.217, -1.519  # no drawn coordinate has three decimals, so no line runs along a cut
    windows = [Bounds(x0, y0, x1, y1)
               for x0, x1 in ((-200.0, x), (x, 200.0)) for y0, y1 in ((-200.0, y), (y, 200.0))]
    pieces = [clipped(path, window) for window in windows]
    for piece, window in zip(pieces, windows, strict=True):
        # A cut is found to the accuracy of a cubic's root, worst where the line just touches.
        assert piece is None or window.grown(1e-4).contains(path_bounds(piece))
    assert box.contains(path_bounds(path))
    total = sum(length(piece) for piece in pieces if piece)
    # Lengths are chords of 400 steps: second-order error, on at most 300 mm of handles.
    assert total == pytest.approx(length(path), abs=0.02)


def test_line_is_cut_exactly_at_the_edge() -> None:
    piece = clipped(line((0, 0), (10, 5)), Bounds(2, -1, 8, 10))
    assert piece is not None
    assert piece.segments[0, 0] == pytest.approx((2, 1), abs=1e-12)
    assert piece.segments[0, 3] == pytest.approx((8, 4), abs=1e-12)
    assert piece.straight().all()


def test_circle_cut_by_a_strip_leaves_two_arcs() -> None:
    piece = clipped(circle(0, 0, 10), Bounds(-5, -20, 5, 20))
    assert piece is not None
    ends = np.abs(np.array([run[i, j] for run in piece.runs() for i, j in ((0, 0), (-1, 3))]))
    assert np.allclose(ends[:, 0][ends[:, 0] > 1], 5.0, atol=1e-9)
    # Height of a circle at half its radius; the cubic circle is true to 2.7e-4 of the radius.
    assert np.allclose(ends[:, 1][ends[:, 0] > 1], 10 * np.sqrt(0.75), atol=2.7e-3)


def test_what_is_inside_stays_joined_and_what_is_outside_goes() -> None:
    ring = circle(0, 0, 10)
    same = clipped(ring, Bounds(-20, -20, 20, 20))
    assert same is not None
    assert np.array_equal(same.segments, ring.segments)
    assert clipped(ring, Bounds(30, 30, 40, 40)) is None
    assert clipped(ring, Bounds(-1, -1, 1, 1)) is None


def test_unsaid_closing_line_is_cut_too() -> None:
    open_corner = Path(polyline([(0, 0), (10, 0), (10, 10)]).segments, closed=True)
    piece = clipped(open_corner, Bounds(-1, -1, 11, 5))
    assert piece is not None
    assert not piece.closed
    assert np.any(np.all(np.isclose(piece.segments[:, 0], (5, 5)), axis=1))


def test_filled_paths_are_refused() -> None:
    with pytest.raises(InputError):
        clipped(rect(0, 0, 1, 1, fill=Fill.WASH), Bounds(0, 0, 1, 1))


closed_run = st.lists(cubic, min_size=1, max_size=3)


def area(path: Path) -> float:
    """∮ x dy of closed runs, exact for cubics: the integrand is of degree five."""
    nodes, weights = np.polynomial.legendre.leggauss(3)
    t = 0.5 * (nodes + 1.0)
    total = 0.0
    for run in path.runs():
        close = polyline((run[-1, 3], run[0, 0])).segments
        p = np.concatenate((run, close)).astype(float)
        x, d = curve_at(p, t)[..., 0], 3.0 * np.diff(p[..., 1], axis=1)
        dy = np.outer(d[:, 0], (1 - t) ** 2) + np.outer(d[:, 1], 2 * t * (1 - t))
        dy += np.outer(d[:, 2], t * t)
        total += float(np.sum(x * dy * weights) / 2.0)
    return total


@given(closed_run)
def test_four_windows_hold_a_fill_once(curves: list[Array]) -> None:
    joined = [curves[0].astype(float)]
    for curve in curves[1:]:
        joined.append(np.vstack((joined[-1][3], curve[1:])))
    path = Path(np.array(joined), None, True, Fill.INK)
    x, y = 3.217, -1.519  # no drawn coordinate has three decimals, so no line runs along a cut
    windows = [Bounds(x0, y0, x1, y1)
               for x0, x1 in ((-200.0, x), (x, 200.0)) for y0, y1 in ((-200.0, y), (y, 200.0))]
    pieces = [clipped_fill(path, window) for window in windows]
    for piece, window in zip(pieces, windows, strict=True):
        # Found to the accuracy of a cubic's root, as for lines.
        assert piece is None or window.grown(1e-4).contains(path_bounds(piece))
    # Signed areas: whatever winds twice, or the other way, is kept as it was. A root is found to
    # 1e-4 mm at worst, on runs of at most 900 mm.
    assert sum(area(piece) for piece in pieces if piece) == pytest.approx(area(path), abs=0.1)


def test_fill_inside_stays_and_outside_goes() -> None:
    disc = circle(0, 0, 10, None, fill=Fill.WASH)
    same = clipped_fill(disc, Bounds(-20, -20, 20, 20))
    assert same is not None
    assert np.abs(same.segments - disc.segments).max() < 1e-12
    assert clipped_fill(disc, Bounds(30, 30, 40, 40)) is None
    heart = clipped_fill(disc, Bounds(-1, -2, 1, 2))
    assert heart is not None
    assert area(heart) == pytest.approx(8.0)
    assert heart.fill is Fill.WASH


def test_a_hole_stays_a_hole() -> None:
    outer, inner = circle(0, 0, 10), circle(0, 0, 6)
    ring = Path(np.concatenate((outer.segments, inner.segments)), None, True, Fill.INK)
    half = clipped_fill(ring, Bounds(0, -20, 20, 20))
    assert half is not None
    assert len(half.runs()) == 2


def test_a_line_without_fill_is_refused() -> None:
    with pytest.raises(InputError):
        clipped_fill(circle(0, 0, 1), Bounds(0, 0, 1, 1))
