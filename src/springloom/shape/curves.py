"""Fair cubic curves through station values.

First choice is the natural cubic spline: what a batten pinned at the stations and free
elsewhere does, C2. Where it would overshoot (leave the band between two neighbouring
station values), the slope is set to zero at the stations that are a local greatest or
least value, which leaves the curve C2 everywhere else; where it overshoots even then, the
shape-preserving cubic of Fritsch and Butland (SIAM J. Sci. Stat. Comput. 5, 1984) takes over.
Which of the three was used is kept, so that it can be said.

The first two are linear in the station values once the set of flat stations is known; that
linear operator is what the batch path and the estimator's derivatives use.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline, PchipInterpolator

Floats = npt.NDArray[np.float64]
Fairness = Literal["batten", "flat at extremes", "shape-preserving"]

_END: dict[bool, Literal["clamped", "natural"]] = {True: "clamped", False: "natural"}
_SLACK = 1e-9  # of the largest value: rounding, not overshoot

_PROBES = np.linspace(0.0, 1.0, 17)
_PROBE_POWERS = _PROBES[:, None] ** np.arange(4)


@dataclass(frozen=True, slots=True)
class FairCurve:
    """A piecewise cubic; span i runs over [knots[i], knots[i+1]] in the local t of [0, 1].

    Attributes:
        knots: (n,) parameter values of the stations.
        coefficients: (n−1, 4) power-basis coefficients in t, constant term first.
        fairness: which of the three rules made it.
    """

    knots: Floats
    coefficients: Floats
    fairness: Fairness

    def __call__(self, u: npt.ArrayLike) -> Floats:
        """Evaluate at parameters ``u`` (any shape), held inside the knots."""
        points = np.clip(np.asarray(u, dtype=float), self.knots[0], self.knots[-1])
        last = len(self.knots) - 2
        span = np.clip(np.searchsorted(self.knots, points, side="right") - 1, 0, last)
        t = (points - self.knots[span]) / (self.knots[span + 1] - self.knots[span])
        c = self.coefficients[span]
        return np.asarray(c[..., 0] + t * (c[..., 1] + t * (c[..., 2] + t * c[..., 3])))


def fair_curves(knots: Floats, values: Floats) -> tuple[FairCurve, ...]:
    """Return a fair curve through each column of ``values`` (stations, columns)."""
    battens = np.moveaxis(spline_operator(tuple(knots.tolist()), ()) @ values, -1, 0)
    overshoot = overshoots(battens, values.T)
    return tuple(
        fair_curve(knots, column) if over else FairCurve(knots, batten, "batten")
        for batten, column, over in zip(battens, values.T, overshoot, strict=True)
    )


def fair_curve(knots: Floats, values: Floats) -> FairCurve:
    """Return the fairest of the three curves through ``values`` that does not overshoot."""
    key = tuple(knots.tolist())
    curve = spline_operator(key, ()) @ values
    if not overshoots(curve, values):
        return FairCurve(knots, curve, "batten")
    flat = flat_stations(values)
    curve = spline_operator(key, flat) @ values
    if not overshoots(curve, values):
        return FairCurve(knots, curve, "flat at extremes")
    pchip = PchipInterpolator(knots, values)
    return FairCurve(knots, _local(pchip.c, knots), "shape-preserving")


def flat_stations(values: Floats) -> tuple[int, ...]:
    """Indices of interior stations that are a local greatest or least value."""
    step = np.diff(values)
    return tuple(int(i) + 1 for i in np.flatnonzero(step[:-1] * step[1:] <= 0.0))


@functools.lru_cache(maxsize=256)
def spline_operator(knots: tuple[float, ...], flat: tuple[int, ...]) -> Floats:
    """Linear map from station values to span coefficients, (n−1, 4, n).

    Natural at both ends; C2 but at the stations in ``flat``, where the slope is zero.
    """
    at = np.array(knots)
    size = len(at)
    operator = np.zeros((size - 1, 4, size))
    ends = [0, *flat, size - 1]
    for first, last in itertools.pairwise(ends):
        inside = slice(first, last + 1)
        ends_as = (_END[first in flat], _END[last in flat])
        spline = CubicSpline(at[inside], np.eye(last - first + 1), bc_type=ends_as)
        operator[first:last, :, inside] = _local(spline.c, at[inside])
    operator.flags.writeable = False
    return operator


def hermite(
    length: float, start: float, start_slope: float, end: float, end_slope: float
) -> Floats:
    """Cubic coefficients in t of [0, 1] with these end values and slopes, never overshooting.

    A slope that would carry the curve past an end value is limited to the Fritsch–Carlson
    bound of three times the mean slope.
    """
    mean = end - start
    m0, m1 = (_limited(slope * length, mean) for slope in (start_slope, end_slope))
    return np.array([start, m0, 3.0 * mean - 2.0 * m0 - m1, m0 + m1 - 2.0 * mean])


def _limited(slope: float, mean: float) -> float:
    if slope * mean <= 0.0:
        return 0.0
    return float(np.sign(mean) * min(abs(slope), 3.0 * abs(mean)))


def _local(power_first: Floats, knots: Floats) -> Floats:
    """Convert scipy's (4, spans, …) coefficients, highest power first, to ours in local t."""
    width = np.diff(knots)
    scale = width[:, None] ** np.arange(4)
    ours = np.moveaxis(power_first[::-1], 0, 1)
    return np.asarray(ours * scale.reshape(scale.shape + (1,) * (ours.ndim - 2)))


def overshoots(coefficients: Floats, values: Floats) -> npt.NDArray[np.bool_]:
    """Whether curves (…, spans, 4) leave the bands between their values (…, stations)."""
    along = coefficients @ _PROBE_POWERS.T
    low = np.minimum(values[..., :-1], values[..., 1:])
    high = np.maximum(values[..., :-1], values[..., 1:])
    slack = _SLACK * np.abs(values).max(axis=-1)[..., None]
    below = along.min(axis=-1) < low - slack
    above = along.max(axis=-1) > high + slack
    return np.asarray((below | above).any(axis=-1))
