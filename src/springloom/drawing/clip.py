"""Cutting lines and fills at the edges of a rectangle, so that a drawing can go on many sheets.

The cubics themselves are cut, exactly, so no writer needs to know of it and a cut end is where
a ruler finds it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from springloom.drawing.model import Array, Bounds, Path
from springloom.drawing.paths import curve_at, polyline
from springloom.errors import InputError


def clipped(path: Path, window: Bounds) -> Path | None:
    """Return what lies inside the window, open at the cuts; None if nothing does.

    Raises:
        InputError: the path is filled; only lines can be cut.
    """
    if path.fill is not None or path.pen is None:
        raise InputError("a filled path can't be cut", field="clip.path", given=path.fill)
    if _whereabouts(path.segments, window) < 0:
        return None
    pieces = [piece for segment in _closing(path) for piece in _inside(segment, window)]
    if not pieces:
        return None
    return replace(path, segments=np.array(pieces), closed=False)


def clipped_fill(path: Path, window: Bounds) -> Path | None:
    """Return the part of a fill that lies inside the window, without its line; None if nothing.

    Raises:
        InputError: the path has no fill.
    """
    if path.fill is None:
        raise InputError("the path has no fill", field="clip.path")
    edges = ((0, window.x0, 1.0), (0, window.x1, -1.0), (1, window.y0, 1.0),
             (1, window.y1, -1.0))
    kept: list[Array] = []
    for run in path.runs():
        place = _whereabouts(run, window)
        left = _closing(replace(path, segments=run, closed=True)) if place >= 0 else []
        for axis, edge, side in edges if place == 0 else ():
            left = _half_plane(left, axis, edge, side)
        kept += left
    if not kept:
        return None
    return replace(path, segments=np.array(kept), pen=None, closed=True)


def part(segment: Array, t0: float, t1: float) -> Array:
    """Return the piece of one cubic, shape (4, 2), between two parameters, as a cubic.

    By the blossom: handle i of the piece is the polar form at (t0 three minus i times, t1 else).
    """
    def blossom(*ts: float) -> Array:
        points = segment
        for t in ts:
            # In this form t of 0 and 1 give the ends to the last bit, so runs stay joined.
            points = (1.0 - t) * points[:-1] + t * points[1:]
        first: Array = points[0]
        return first

    return np.array([blossom(t0, t0, t0), blossom(t0, t0, t1), blossom(t0, t1, t1),
                     blossom(t1, t1, t1)])


def _closing(path: Path) -> list[Array]:
    """Every segment, the straight one that a closed run leaves unsaid included."""
    segments: list[Array] = []
    for run in path.runs():
        segments += list(run)
        if path.closed and np.any(run[-1, 3] != run[0, 0]):
            segments += list(polyline((run[-1, 3], run[0, 0])).segments)
    return segments


def _whereabouts(segments: Array, window: Bounds) -> int:
    """Tell by control points, shape (…, 2): 1 all inside, -1 all outside, 0 perhaps both."""
    points = segments.reshape(-1, 2)
    (x0, y0), (x1, y1) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    if x0 > window.x1 or x1 < window.x0 or y0 > window.y1 or y1 < window.y0:
        return -1
    inside = x0 >= window.x0 and x1 <= window.x1 and y0 >= window.y0 and y1 <= window.y1
    return int(inside)


def _inside(segment: Array, window: Bounds) -> list[Array]:
    place = _whereabouts(segment, window)
    if place:
        return [segment] if place > 0 else []
    edges = np.array([(window.x0, window.y0), (window.x1, window.y1)])
    cuts = np.unique([0.0, *_all_crossings(segment, edges), 1.0])
    middles = curve_at(segment[None], (cuts[:-1] + cuts[1:]) / 2)[0]
    kept = np.all((middles >= edges[0]) & (middles <= edges[1]), axis=1)
    return [part(segment, float(a), float(b))
            for a, b, keep in zip(cuts[:-1], cuts[1:], kept, strict=True) if keep]


def _all_crossings(segment: Array, edges: Array) -> list[float]:
    """Parameters in (0, 1) where either coordinate meets either of its edges."""
    return [t for axis in (0, 1) for edge in edges[:, axis]
            for t in _crossings(segment, axis, float(edge))]


def _crossings(segment: Array, axis: int, edge: float) -> list[float]:
    """Parameters in (0, 1) where one coordinate meets an edge."""
    a, b, c, d = segment[:, axis].tolist()
    if not min(a, b, c, d) < edge < max(a, b, c, d):
        return []  # the control points' hull holds the curve
    roots = np.roots((d - 3 * c + 3 * b - a, 3 * (c - 2 * b + a), 3 * (b - a), a - edge))
    real = roots.real[np.abs(roots.imag) < 1e-9]
    return [float(t) for t in real if 0.0 < t < 1.0]


def _half_plane(run: list[Array], axis: int, edge: float, side: float) -> list[Array]:
    """Cut a closed run at a line and close what is left along it (Sutherland and Hodgman's way).

    What lies beyond in several places stays tied together along the line, where it has no area.
    """
    kept: list[Array] = []
    for segment in run:
        crossings = _crossings(segment, axis, edge)
        if not crossings:
            # All on one side: the control points' mean tells which.
            kept += [segment] if side * (segment[:, axis].mean() - edge) >= 0.0 else []
            continue
        cuts = np.unique([0.0, *crossings, 1.0])
        middles = curve_at(segment[None], (cuts[:-1] + cuts[1:]) / 2)[0]
        inside = side * (middles[:, axis] - edge) >= 0.0
        kept += [part(segment, float(a), float(b))
                 for a, b, keep in zip(cuts[:-1], cuts[1:], inside, strict=True) if keep]
    closed: list[Array] = []
    for piece, following in zip(kept, [*kept[1:], *kept[:1]], strict=True):
        closed.append(piece)
        if np.any(piece[3] != following[0]):
            closed += list(polyline((piece[3], following[0])).segments)
    return closed
