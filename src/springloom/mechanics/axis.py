"""Points along a paddle at which the mechanics are integrated.

The axis is cut into spans at every station, load, support and reading, so that whatever is
integrated is smooth inside each span. Each span carries Gauss–Legendre points in the shape's own
parameter u; running integrals use the exact integrals of the points' Lagrange polynomials,
so that deflection, slope and moment are spectrally accurate at every point.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.errors import in_range
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle

Floats = npt.NDArray[np.float64]

POINTS = 8
"""Gauss points a span; the tip deflection of the default blade settles to 1e-9."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Spans along one line, in order of X (positive on blade A's side of the centre).

    Attributes:
        x: (spans, points) places, m.
        weight: (spans, points) so that ∫ f dX over a span is Σ weight·f.
        slope: (spans, points) dX per unit of the span's own [0, 1] parameter.
        ends: (spans+1,) places of the span ends, m.
        values: (channels, spans, points) shape channels, as in ``shape.blade.CHANNELS``.
    """

    x: Floats
    weight: Floats
    slope: Floats
    ends: Floats
    values: Floats

    def integral(self, f: Floats) -> float:
        """∫ f dX over the whole axis."""
        return float(np.sum(self.weight * f))

    def running(self, f: Floats) -> tuple[Floats, Floats]:
        """∫ f dX from the axis's start, at the points (spans, points) and at the ends."""
        at_ends = np.concatenate([[0.0], np.cumsum(np.sum(self.weight * f, axis=1))])
        inside = (f * self.slope) @ _running_matrix(f.shape[1]).T
        return at_ends[:-1, None] + inside, at_ends

    def part(self, start: float, end: float) -> slice:
        """Return the spans between two cuts, as a slice of the first index of every array."""
        return slice(self.end_index(start), self.end_index(end))

    def cut_to(self, spans: slice) -> Axis:
        """Return the axis of some consecutive spans."""
        return Axis(self.x[spans], self.weight[spans], self.slope[spans],
                    self.ends[spans.start : spans.stop + 1], self.values[:, spans])

    def end_index(self, x: float) -> int:
        """Index of the span end at place x (it must be a cut)."""
        index = int(np.argmin(np.abs(self.ends - x)))
        if abs(self.ends[index] - x) > 1e-9:
            raise ValueError(f"{x} is no span end")  # a programming slip, never a user's
        return index


def half_axis(half: HalfPaddle, start: float, cuts: Iterable[float] = (), end: float | None = None,
              points: int = POINTS, pieces: int = 1) -> Axis:
    """Axis of one half from ``start`` to ``end`` (the tip by default), m from the centre.

    Args:
        half: the half-paddle.
        start: where the axis begins.
        cuts: places that must be span ends; those outside are left out.
        end: where it ends.
        points: Gauss points a span.
        pieces: parts into which each span between cuts is divided.
    """
    last = half.tip if end is None else end
    in_range(start, "start", 0.0, last, "m")
    u = _breaks(half, start, last, cuts)
    if pieces > 1:
        steps = [np.linspace(a, b, pieces + 1) for a, b in itertools.pairwise(u)]
        u = np.unique(np.concatenate(steps))
    return _axis(half, u, points)


def whole_axis(paddle: Paddle, start: float, end: float, cuts: Iterable[float] = (),
               points: int = POINTS, pieces: int = 1) -> Axis:
    """Axis across both halves from X = start (negative, on blade B) to X = end."""
    cut_list = list(cuts)
    if paddle.is_symmetric and start == -end:
        both = half_axis(paddle.a, 0.0, [abs(c) for c in cut_list], end, points, pieces)
        return _joined(both, both)
    left = half_axis(paddle.b, 0.0, [-c for c in cut_list if c < 0.0], -start, points, pieces)
    right = half_axis(paddle.a, 0.0, [c for c in cut_list if c > 0.0], end, points, pieces)
    return _joined(left, right)


def _joined(left: Axis, right: Axis) -> Axis:
    def turn(a: Floats) -> Floats:
        return a[..., ::-1, ::-1]

    return Axis(
        x=np.concatenate([-turn(left.x), right.x]),
        weight=np.concatenate([turn(left.weight), right.weight]),
        slope=np.concatenate([turn(left.slope), right.slope]),
        ends=np.concatenate([-left.ends[::-1], right.ends[1:]]),
        values=np.concatenate([turn(left.values), right.values], axis=1),
    )


def _breaks(half: HalfPaddle, start: float, end: float, cuts: Iterable[float]) -> Floats:
    u_start, u_end = (float(half.parameter(x)) for x in (start, end))
    inner = [float(half.parameter(c)) for c in cuts]
    candidates = [u for u in (*half.knots, *inner) if u_start + 1e-9 < u < u_end - 1e-9]
    ordered = np.array(sorted({u_start, *candidates, u_end}))
    keep = np.concatenate([[True], np.diff(ordered) > 1e-9])
    return np.asarray(ordered[keep])


def _axis(half: HalfPaddle, u: Floats, points: int) -> Axis:
    nodes, weights = gauss(points)
    width = np.diff(u)[:, None]
    at = u[:-1, None] + width * nodes
    x, dx = half.place(at)
    slope = width * dx
    return Axis(x, slope * weights, slope, half.place(u)[0], half.span_values(u, nodes))


@functools.cache
def gauss(points: int) -> tuple[Floats, Floats]:
    """Gauss–Legendre points and weights on [0, 1]."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    return 0.5 * (nodes + 1.0), 0.5 * weights


@functools.cache
def _running_matrix(points: int) -> Floats:
    """Row i integrates the Lagrange polynomials of the Gauss points from 0 to point i."""
    nodes, _ = gauss(points)
    centred = 2.0 * nodes - 1.0
    legendre = np.polynomial.legendre.legvander(centred, points - 1)
    integrals = np.stack(
        [
            np.polynomial.legendre.legval(
                centred, np.polynomial.legendre.legint(np.eye(points)[k], lbnd=-1.0)
            )
            for k in range(points)
        ],
        axis=1,
    )
    return np.asarray(0.5 * integrals @ np.linalg.inv(legendre))
