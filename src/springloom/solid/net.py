"""The control net of the whole paddle: the surface itself, as exact Bézier patches.

Every channel is a cubic in a span's own t, and a section's handles are products of channels,
so each span of each quadrant is a polynomial patch: cubic across, and along the paddle of
degree 6 (s·h and r·w, h a fixed share of the crown) or up to 9 (the share varies). Nothing is
fitted: the net evaluates to what the mechanics integrate.

A row of the net has twelve columns, counter-clockwise to an eye beyond tip A that looks back
along the paddle with z up and y to its right: the edge at +y, two handles, the ridge above, two
handles, the edge at −y, and on by the ridge below. Quadrant k has the columns 3k to 3k+3. With u
across, along a row, and v along the paddle, S_u × S_v points out of the wood.
"""

from __future__ import annotations

import functools
import math

import numpy as np
import numpy.typing as npt

from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle

Floats = npt.NDArray[np.float64]

COLUMNS = 12
QUADRANTS = 4
ACROSS = 3
"""Degree across the paddle."""
FLAT = 1e-8
"""A face that rises less than this above the widest line counts as flat, m: 1e-5 mm, the
accuracy a STEP file states."""

_ROUNDING = 1e-15  # m; smaller coefficients are none
_POWERS = 10  # a product of three cubics
_BELOW = slice(7, 12)  # columns of the lower face, without its edges


def net_of(paddle: Paddle) -> list[Floats]:
    """Bézier control points of every span, from tip B to tip A.

    Returns:
        one (degree+1, 12, 3) array a span, x, y, z in m; a span begins where the last ended.
    """
    a, b = _powers(paddle.a), _powers(paddle.b)
    straight = a[0]
    ends = [half.loom.half_length for half in (paddle.b, paddle.a)]
    straight[:, 0, :2] = -ends[0], sum(ends)
    mirror = np.array([-1.0, 1.0, 1.0])
    theirs = [_bernstein(span)[::-1] * mirror for span in b[:0:-1]]
    return [*theirs, _bernstein(straight), *map(_bernstein, a[1:])]


def quadrant_columns(quadrant: int) -> list[int]:
    """The four columns of one quadrant."""
    return [(3 * quadrant + i) % COLUMNS for i in range(ACROSS + 1)]


def is_flat(span: Floats) -> bool:
    """Whether the lower face of a span is nothing but the plane of the widest line."""
    return bool(np.abs(span[:, _BELOW, 2]).max() < FLAT)


def bernstein_basis(degree: int, t: npt.ArrayLike) -> Floats:
    """Bernstein polynomials of one degree at ``t`` (n,): (n, degree+1)."""
    at = np.asarray(t, dtype=float)[:, None]
    order = np.arange(degree + 1)
    weights = np.array([math.comb(degree, i) for i in range(degree + 1)], dtype=float)
    return np.asarray(weights * at**order * (1.0 - at) ** (degree - order))


def _powers(half: HalfPaddle) -> Floats:
    """Power-basis coefficients of the net in each span's t, (spans, 12, 3, 10)."""
    w, crown, r_top, r_low, s, share = np.moveaxis(half.coefficients, 1, 0)
    rest = -share
    rest[:, 0] += 1.0
    top, low = _product(crown, share), -_product(crown, rest)
    zero = np.zeros((len(w), 1))
    above = [(w, zero), (w, _product(s, top)), (_product(r_top, w), top), (zero, top)]
    below = [(zero, low), (_product(r_low, w), low), (w, _product(s, low))]
    left = [(-y, z) for y, z in (below[1:] + above[:3])[::-1]]
    powers = np.zeros((len(w), COLUMNS, 3, _POWERS))
    powers[:, :, 0, :4] = _places(half)[:, None]
    for column, (y, z) in enumerate(above + left + below):
        powers[:, column, 1, : y.shape[-1]] = y
        powers[:, column, 2, : z.shape[-1]] = z
    return powers


def _places(half: HalfPaddle) -> Floats:
    """Power-basis coefficients of x in each span's t, (spans, 4)."""
    powers = np.zeros((len(half.knots) - 1, 4))
    powers[:, 0] = half.knots[:-1]
    powers[:, 1] = np.diff(half.knots)
    powers[-1, 3] = -0.5 * half.cap[1]  # x = x₀ + a(3t − t³)/2
    return powers


def _product(a: Floats, b: Floats) -> Floats:
    """Multiply polynomials given by power-basis coefficients on the last axis."""
    size = b.shape[-1]
    out = np.zeros((*a.shape[:-1], a.shape[-1] + size - 1))
    for power in range(a.shape[-1]):
        out[..., power : power + size] += a[..., power : power + 1] * b
    return out


def _bernstein(powers: Floats) -> Floats:
    """Bézier control points (degree+1, 12, 3) of one span, of the highest degree in use."""
    used = np.abs(powers).max(axis=(0, 1)) > _ROUNDING
    degree = int(np.flatnonzero(used)[-1])
    return np.moveaxis(powers[..., : degree + 1] @ _to_bernstein(degree), -1, 0)


@functools.lru_cache(maxsize=_POWERS)
def _to_bernstein(degree: int) -> Floats:
    """Power to Bernstein basis: t^j has the coefficients C(i, j)/C(degree, j)."""
    rows = range(degree + 1)
    return np.array([[math.comb(i, j) / math.comb(degree, j) for i in rows] for j in rows])
