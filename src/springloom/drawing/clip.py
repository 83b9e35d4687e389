"""Cutting lines at the edges of a rectangle, so that a long outline can go on many sheets.

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
    pieces = [piece for segment in _closing(path) for piece in _inside(segment, window)]
    if not pieces:
        return None
    return replace(path, segments=np.array(pieces), closed=False)


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


def _inside(segment: Array, window: Bounds) -> list[Array]:
    low, high = segment.min(axis=0), segment.max(axis=0)
    edges = np.array([(window.x0, window.y0), (window.x1, window.y1)])
    if np.all(low >= edges[0]) and np.all(high <= edges[1]):
        return [segment]
    if np.any(low > edges[1]) or np.any(high < edges[0]):
        return []
    cuts = np.unique([0.0, *_crossings(segment, edges), 1.0])
    middles = curve_at(segment[None], (cuts[:-1] + cuts[1:]) / 2)[0]
    kept = np.all((middles >= edges[0]) & (middles <= edges[1]), axis=1)
    return [part(segment, float(a), float(b))
            for a, b, keep in zip(cuts[:-1], cuts[1:], kept, strict=True) if keep]


def _crossings(segment: Array, edges: Array) -> list[float]:
    """Parameters in (0, 1) where either coordinate meets either of its edges."""
    a, b, c, d = segment
    power = np.array([d - 3 * c + 3 * b - a, 3 * (c - 2 * b + a), 3 * (b - a), a])
    found: list[float] = []
    for axis in (0, 1):
        for edge in edges[:, axis]:
            roots = np.roots(power[:, axis] - np.array([0.0, 0.0, 0.0, edge]))
            real = roots.real[np.abs(roots.imag) < 1e-9]
            found += [float(t) for t in real if 0.0 < t < 1.0]
    return found
