"""Flats: the straight facets a squared blank is planed to before it is rounded.

A blank sawn to its outline and tapered is, at each place, the rectangle around its section. One
quadrant of the section is a convex cubic that touches the edge plane at t = 0 and the face plane
at t = 1. A flat is the tangent at some t between, so it supports the section: planing to it
can't cut into the surface, whatever t is. Each quadrant gets three: flat 1 from the face to the
edge, then flat 2 between it and the face and flat 3 between it and the edge. On the loom that
makes eight sides, then sixteen.

Where a flat touches is chosen at the stations so that the greatest thickness of wood left
outside the surface is as small as it can be, and runs between them as a fair curve, like every
other quantity of the shape. On the loom that is judged as if it were round: then an oval gets
both its faces and its edges parted 1 : √2 : 1, which makers know as 7 : 10 : 7 (common practice,
no source).
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.shape.curves import FairCurve, fair_curve, hermite

Floats = npt.NDArray[np.float64]
Number = Floats | float

FLATS = ("1", "2", "3")
"""What the flats are called, in the order they are planed; 2 lies at the ridge, 3 at the edge."""

PLANED = (0, 1, 3, 7)
"""Flats in a quadrant: squared, first flats, all three, each arris taken off once more."""

LEAST_FACE = 1e-5
"""Height in m of a face below which there is nothing to plane off it."""

_W, _CROWN, _R_TOP, _R_LOW, _S, _SHARE = (
    CHANNELS.index(name) for name in
    ("half_width", "crown", "ridge_top", "ridge_bottom", "edge", "share")
)


@dataclass(frozen=True, slots=True)
class Quadrant:
    """One quadrant of many sections; arrays of one shape, heights and widths in m."""

    w: Floats
    h: Floats
    r: Floats
    s: Floats

    def scaled(self, unit: Floats) -> Floats:
        """Take points (…, n, 2) of the unit quadrant to m."""
        return np.asarray(unit * np.stack((self.w, self.h), axis=-1))


@dataclass(frozen=True, slots=True)
class Lines:
    """Where the lines of one quadrant's flats stand; arrays of one shape, m.

    Attributes:
        first_in: flat 1's line on the face, in from the edge.
        first_down: its line on the edge, down from the face.
        second_in: flat 2's line on the face, in from the edge.
        second_across: its line on flat 1, across from where flat 1 meets the face.
        third_down: flat 3's line on the edge, down from the face.
        third_across: its line on flat 1, across from where flat 1 meets the edge.
    """

    first_in: Floats
    first_down: Floats
    second_in: Floats
    second_across: Floats
    third_down: Floats
    third_across: Floats

    def stacked(self) -> Floats:
        """Return all six, shape (6, …)."""
        return np.stack([getattr(self, name) for name in LINES])


LINES = tuple(field.name for field in fields(Lines))
"""Names of the six lines, in the order of :meth:`Lines.stacked`."""


def point(t: Number, r: Number, s: Number) -> Floats:
    """Return (y, z) of the unit quadrant at t, shape (…, 2)."""
    t, r, s = (np.asarray(v, dtype=float) for v in (t, r, s))
    left = 1.0 - t
    y = left**3 + 3.0 * left * left * t + 3.0 * r * left * t * t
    z = 3.0 * s * left * left * t + 3.0 * left * t * t + t**3
    return np.stack((y, z), axis=-1)


def direction(t: Number, r: Number, s: Number) -> Floats:
    """Return the tangent of the unit quadrant at t, from edge to ridge, shape (…, 2).

    At the ends it is the edge plane's and the face plane's own direction, which a sharp edge
    (s = 0) or ridge (r = 0) doesn't have itself.
    """
    t, r, s = (np.asarray(v, dtype=float) for v in (t, r, s))
    left = 1.0 - t
    y = -6.0 * left * t * (1.0 - r) - 3.0 * r * t * t
    z = 3.0 * s * left * left + 6.0 * left * t * (1.0 - s)
    y = np.where(t <= 0.0, 0.0, np.where(t >= 1.0, -1.0, y))
    z = np.where(t <= 0.0, 1.0, np.where(t >= 1.0, 0.0, z))
    return np.stack((y, z), axis=-1)


def corner(ta: Number, tb: Number, r: Number, s: Number) -> Floats:
    """Return where the unit quadrant's tangents at ta and tb > ta meet, shape (…, 2)."""
    a, b = point(ta, r, s), point(tb, r, s)
    da, db = direction(ta, r, s), direction(tb, r, s)
    turn = _cross(da, db)
    straight = np.abs(turn) < 1e-12
    along = _cross(b - a, db) / np.where(straight, 1.0, turn)
    met = a + along[..., None] * da
    # Where the curve is straight from a to b, any point between is on both tangents.
    return np.asarray(np.where(straight[..., None], 0.5 * (a + b), met))


def wood_left(ta: Floats, tb: Floats, q: Quadrant, rounds: int = 30) -> Floats:
    """Least distance, m, from the corner of the tangents at ta and tb to the surface.

    It is found to rounding in 30 rounds, whatever the section, and mostly in 8.
    """
    at = corner(ta, tb, q.r, q.s)
    low, high = np.broadcast_arrays(ta, tb)
    t = 0.5 * (low + high)
    scale = np.stack((q.w, q.h), axis=-1)
    for _ in range(rounds):  # Newton, held inside the bracket: a convex curve has one nearest point
        gap = (point(t, q.r, q.s) - at) * scale
        slope = direction(t, q.r, q.s) * scale
        bend = _second(t, q.r, q.s) * scale
        f, df = _dot(gap, slope), _dot(slope, slope) + _dot(gap, bend)
        low, high = np.where(f < 0.0, t, low), np.where(f < 0.0, high, t)
        step = t - f / np.where(df > 0.0, df, 1.0)
        t = np.where((df > 0.0) & (step > low) & (step < high), step, 0.5 * (low + high))
    return np.asarray(np.hypot(*np.moveaxis((point(t, q.r, q.s) - at) * scale, -1, 0)))


def balanced(ta: Floats, tb: Floats, q: Quadrant) -> Floats:
    """Return the t between at which a flat leaves as much wood on either side of it; arrays (n,).

    By false position with the Illinois rule, to 1e-6 of t or so: every t is a tangent, so
    nothing but the balance depends on it.
    """
    both = Quadrant(*(np.concatenate((v, v)) for v in (q.w, q.h, q.r, q.s)))
    low, high = ta, tb
    more = wood_left(ta, tb, q)  # before a flat at tb, and after one at ta
    less = -more
    last = np.zeros_like(ta)
    for _ in range(12):
        span = np.where(more > less, more - less, 1.0)
        t = np.where(more > less, low - less * (high - low) / span, 0.5 * (low + high))
        before, after = np.split(
            wood_left(np.concatenate((ta, t)), np.concatenate((t, tb)), both, rounds=16), 2
        )
        over = before - after
        below = over < 0.0
        # An end that stays twice is believed half as much, or the search would creep.
        more = np.where(below, np.where(last < 0.0, 0.5 * more, more), over)
        less = np.where(below, over, np.where(last > 0.0, 0.5 * less, less))
        low, high = np.where(below, t, low), np.where(below, high, t)
        last = np.where(below, -1.0, 1.0)
    return np.asarray(t)


@dataclass(frozen=True)
class Flats:
    """The flats of one face of a half-paddle; ``upper`` tells which face."""

    half: HalfPaddle
    upper: bool = True

    @functools.cached_property
    def touching(self) -> tuple[FairCurve, ...]:
        """Where flat 1 touches, and the shares at which flats 3 and 2 do, over u.

        Flat 3's is a share of the way from the edge to flat 1, flat 2's of that from flat 1 to
        the ridge, so that the three never change places.
        """
        knots = self.half.knots
        loom, blade = self._chosen()
        curves = []
        for at_loom, at_stations in zip(loom, blade, strict=True):
            outer = fair_curve(knots[2:], at_stations)
            length = float(knots[2] - knots[1])
            slope = outer.coefficients[0, 1] / (knots[3] - knots[2])
            blend = hermite(length, at_loom, 0.0, outer.coefficients[0, 0], float(slope))
            rows = (np.array([at_loom, 0.0, 0.0, 0.0]), blend, *outer.coefficients)
            curves.append(FairCurve(knots, np.array(rows), outer.fairness))
        return tuple(curves)

    def parameters(self, u: npt.ArrayLike) -> Floats:
        """Return t of flats 3, 1 and 2, from edge to ridge, at parameters u; shape (3, …)."""
        first, edge, ridge = (curve(u) for curve in self.touching)
        return np.stack((edge * first, first, first + ridge * (1.0 - first)))

    def quadrant(self, u: npt.ArrayLike) -> Quadrant:
        """Return the quadrant of the sections at parameters u."""
        return quadrant_of(self.half.values(u), upper=self.upper)

    def lines(self, x: npt.ArrayLike) -> Lines:
        """Return where the lines stand at distances x (m) from the centre."""
        return self.lines_at(self.half.parameter(x))

    def lines_at(self, u: npt.ArrayLike) -> Lines:
        """Return where the lines stand at parameters u."""
        q = self.quadrant(u)
        t3, t1, t2 = self.parameters(u)
        none, whole = np.zeros_like(t1), np.ones_like(t1)

        def met(a: Floats, b: Floats) -> Floats:
            return q.scaled(corner(a, b, q.r, q.s))

        on_face, on_edge = met(t1, whole), met(none, t1)
        return Lines(
            first_in=q.w - on_face[..., 0],
            first_down=q.h - on_edge[..., 1],
            second_in=q.w - met(t2, whole)[..., 0],
            second_across=_distance(on_face, met(t1, t2)),
            third_down=q.h - met(none, t3)[..., 1],
            third_across=_distance(on_edge, met(t3, t1)),
        )

    def vertices(self, u: npt.ArrayLike, flats: int) -> Floats:
        """Return the planed quadrant's corners, from the edge to the ridge.

        Args:
            u: parameters, shape (n,).
            flats: how many, one of :data:`PLANED`.

        Returns:
            (n, flats + 3, 2) array of (y, z), m, both positive: the edge's middle, the corners,
            the ridge.
        """
        q, t = self.quadrant(u), self._breaks(u, flats)
        inner = [corner(a, b, q.r, q.s) for a, b in itertools.pairwise(t)]
        ends = np.zeros((2, *inner[0].shape))
        ends[0, ..., 0] = ends[1, ..., 1] = 1.0
        return np.stack([q.scaled(p) for p in (ends[0], *inner, ends[1])], axis=-2)

    def left(self, u: npt.ArrayLike, flats: int) -> Floats:
        """Return the greatest thickness of wood left outside the surface at u, m."""
        q, t = self.quadrant(u), self._breaks(u, flats)
        each = [wood_left(a, b, q) for a, b in itertools.pairwise(t)]
        return np.asarray(np.max(each, axis=0))

    def _breaks(self, u: npt.ArrayLike, flats: int) -> Floats:
        """Return t of the edge, every flat and the ridge; shape (flats + 2, n)."""
        t3, t1, t2 = self.parameters(u)
        none, whole = np.zeros_like(t1), np.ones_like(t1)
        t = np.stack({0: (none, whole), 1: (none, t1, whole)}.get(flats, (none, t3, t1, t2, whole)))
        if flats < PLANED[-1]:
            return t
        out = np.empty((2 * len(t) - 1, *t.shape[1:]))
        out[::2], out[1::2] = t, 0.5 * (t[:-1] + t[1:])
        return out

    def _chosen(self) -> tuple[Floats, Floats]:
        """Return t of flat 1 and the shares of 3 and 2: (3,) on the loom, (3, stations)."""
        loom = self.half.loom
        values = self.half.station_values.T.copy()
        values[_W, -1] = values[_W, -2]  # round the tip runs the section of the place before it
        blade = quadrant_of(values, upper=self.upper)
        there = blade.h > LEAST_FACE
        one = np.ones(1)
        q = Quadrant(*(np.concatenate(pair) for pair in (
            (one, blade.w), (one, np.where(there, blade.h, blade.w)),
            (loom.ridge * one, blade.r), (loom.edge * one, blade.s),
        )))
        none, whole = np.zeros_like(q.w), np.ones_like(q.w)
        first = balanced(none, whole, q)
        twice = Quadrant(*(np.concatenate((v, v)) for v in (q.w, q.h, q.r, q.s)))
        edge, ridge = np.split(balanced(np.concatenate((none, first)),
                                        np.concatenate((first, whole)), twice), 2)
        found = np.stack((first, edge / first, (ridge - first) / (1.0 - first)))
        return found[:, 0], np.where(there, found[:, 1:], found[:, :1])


def quadrant_of(values: Floats, *, upper: bool) -> Quadrant:
    """Return the quadrant of sections given by shape channels (channels, …)."""
    share = values[_SHARE] if upper else 1.0 - values[_SHARE]
    r = values[_R_TOP if upper else _R_LOW]
    clipped = (np.clip(v, 0.0, 1.0) for v in (r, values[_S]))  # but for rounding
    return Quadrant(np.maximum(values[_W], 0.0), np.maximum(values[_CROWN] * share, 0.0), *clipped)


def polygon_area(vertices: Floats) -> Floats:
    """Area, m², of planed quadrants from :meth:`Flats.vertices`, the origin their fourth side."""
    a, b = vertices[..., :-1, :], vertices[..., 1:, :]
    return np.asarray(0.5 * np.sum(_cross(a, b), axis=-1))


def _second(t: Floats, r: Floats, s: Floats) -> Floats:
    y = 6.0 * ((1.0 - t) * (r - 1.0) + t * (1.0 - 2.0 * r))
    z = 6.0 * ((1.0 - t) * (1.0 - 2.0 * s) + t * (s - 1.0))
    return np.stack(np.broadcast_arrays(y, z), axis=-1)


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0])


def _dot(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.sum(a * b, axis=-1))


def _distance(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.hypot(*np.moveaxis(a - b, -1, 0)))
