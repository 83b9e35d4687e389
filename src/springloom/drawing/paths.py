"""Making and measuring paths: lines, circles, smooth curves, exact bounds. All in mm."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from springloom.drawing.model import Array, Bounds, Fill, Path, Pen, Point, finite
from springloom.errors import InputError, in_range

# Control arm of a quarter circle as one cubic; radius error 2.7e-4 of the radius.
QUARTER = 4.0 / 3.0 * (math.sqrt(2.0) - 1.0)


def polyline(points: ArrayLike, pen: Pen | None = Pen.VISIBLE, *, closed: bool = False,
             fill: Fill | None = None, layer: str = "drawing") -> Path:
    """Join points, shape (n, 2) mm with n of at least 2, by straight lines."""
    p = _points(points, "polyline.points")
    if closed and np.any(p[0] != p[-1]):
        p = np.vstack((p, p[:1]))
    return Path(_straight(p[:-1], p[1:]), pen, closed, fill, layer)


def line(a: Point, b: Point, pen: Pen = Pen.VISIBLE, *, layer: str = "drawing") -> Path:
    """Draw one straight line from a to b."""
    return polyline((a, b), pen, layer=layer)


def lines(pairs: ArrayLike, pen: Pen = Pen.VISIBLE, *, layer: str = "drawing") -> Path:
    """Draw many separate straight lines as one path; ``pairs`` has shape (n, 2, 2), mm."""
    p = np.asarray(pairs, dtype=np.float64)
    if p.ndim != 3 or p.shape[1:] != (2, 2):
        raise InputError("wrong shape of line ends", field="lines.pairs", given=p.shape,
                         allowed="(n, 2, 2)")
    return Path(_straight(p[:, 0], p[:, 1]), pen, layer=layer)


def rect(x: float, y: float, width: float, height: float, pen: Pen | None = Pen.VISIBLE, *,
         fill: Fill | None = None, layer: str = "drawing") -> Path:
    """Draw an upright rectangle from its lower left corner."""
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return polyline(corners, pen, closed=True, fill=fill, layer=layer)


def circle(x: float, y: float, radius: float, pen: Pen | None = Pen.VISIBLE, *,
           fill: Fill | None = None, layer: str = "drawing") -> Path:
    """Draw a circle as four cubics, true within 2.7e-4 of the radius."""
    in_range(radius, "circle.radius", 0.0, unit="mm", open_low=True)
    k = QUARTER
    quarter = np.array([(1.0, 0.0), (1.0, k), (k, 1.0), (0.0, 1.0)])
    turn = np.array([(0.0, 1.0), (-1.0, 0.0)])  # row vectors, a quarter turn to the left
    turns = [quarter @ np.linalg.matrix_power(turn, n) for n in range(4)]
    return Path(np.array(turns) * radius + (x, y), pen, True, fill, layer)


def bezier_from_points(points: ArrayLike, tangents: ArrayLike | None = None,
                       pen: Pen | None = Pen.VISIBLE, *, closed: bool = False,
                       fill: Fill | None = None, layer: str = "drawing") -> Path:
    """Run a smooth curve through points, shape (n, 2), mm.

    Args:
        points: where the curve passes.
        tangents: dp/dt at each point, same shape, t growing by one from point to point. The
            curve is then the exact Hermite cubic. Without, it is the C2 spline over chord
            length (not-a-knot ends), or the periodic one when closed.
        pen: the line's meaning.
        closed: whether the curve returns to its first point.
        fill: what covers the inside.
        layer: name of the layer.

    Raises:
        InputError: fewer than two points, two equal neighbours, or shapes that differ.
    """
    p = _points(points, "bezier.points")
    if closed and np.any(p[0] != p[-1]):
        p = np.vstack((p, p[:1]))
    step = np.linalg.norm(np.diff(p, axis=0), axis=1)
    if np.any(step == 0.0):
        raise InputError("two neighbours are the same point", field="bezier.points",
                         given=tuple(p[int(np.argmin(step))]))
    if tangents is None:
        slope = _spline_slope(p, step, closed)
    else:
        d = _points(tangents, "bezier.tangents")
        d = np.vstack((d, d[:1])) if closed and len(d) == len(p) - 1 else d
        if d.shape != p.shape:
            raise InputError("one tangent per point", field="bezier.tangents", given=d.shape,
                             allowed=str(p.shape))
        slope, step = d, np.ones_like(step)
    arm = step[:, None] / 3.0
    handles = (p[:-1], p[:-1] + arm * slope[:-1], p[1:] - arm * slope[1:], p[1:])
    return Path(np.stack(handles, axis=1), pen, closed, fill, layer)


def path_bounds(path: Path, *, stroke: bool = False) -> Bounds:
    """Return the exact rectangle around a path; with ``stroke``, half the line width more.

    The extremes are the ends and the roots of each coordinate's derivative (a quadratic).
    """
    values = curve_at(path.segments, _turning_points(path.segments))
    low, high = values.min(axis=(0, 1)), values.max(axis=(0, 1))
    box = Bounds(float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    return box.grown(path.pen.width_mm / 2) if stroke and path.pen else box


def curve_at(segments: Array, t: ArrayLike) -> Array:
    """Evaluate cubics, shape (n, 4, 2), at parameters (k,) or (n, k); returns (n, k, 2)."""
    s = np.broadcast_to(np.atleast_2d(np.asarray(t, dtype=np.float64)),
                        (len(segments), np.atleast_2d(t).shape[1]))[..., None]
    a, b, c, d = (segments[:, i, None, :] for i in range(4))
    r = 1.0 - s
    value: Array = r**3 * a + 3 * r**2 * s * b + 3 * r * s**2 * c + s**3 * d
    return value


def _turning_points(segments: Array) -> Array:
    """Parameters in [0, 1] where x or y may be extreme, shape (n, 6); spare slots hold an end."""
    a, b, c, d = (segments[:, i] for i in range(4))
    qa, qb, qc = d - 3 * c + 3 * b - a, 2 * (c - 2 * b + a), b - a
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # The sum never cancels, so a nearly straight segment keeps both roots to full accuracy.
        root = -0.5 * (qb + np.copysign(np.sqrt(qb * qb - 4 * qa * qc), qb))
        found = np.concatenate((root / qa, qc / root), axis=1)
    inside = np.where((found > 0.0) & (found < 1.0), found, 0.0)
    ends = np.tile((0.0, 1.0), (len(segments), 1))
    return np.concatenate((ends, inside), axis=1)


def _spline_slope(p: Array, step: Array, closed: bool) -> Array:
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - loaded late: it takes 0.2 s

    t = np.concatenate(([0.0], np.cumsum(step)))
    spline = CubicSpline(t, p, bc_type="periodic" if closed else "not-a-knot")
    slope: Array = np.asarray(spline(t, 1), dtype=np.float64)
    return slope


def _straight(a: Array, b: Array) -> Array:
    return np.stack((a, (2 * a + b) / 3, (a + 2 * b) / 3, b), axis=1)


def _points(points: ArrayLike, field: str) -> Array:
    p = np.asarray(points, dtype=np.float64)
    if p.ndim != 2 or p.shape[1] != 2 or len(p) < 2:
        raise InputError("wrong shape of points", field=field, given=p.shape,
                         allowed="(n, 2) with n of at least 2")
    return finite(p, field)
