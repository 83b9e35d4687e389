"""The compiled inner loop of :mod:`springloom.mechanics.batch`.

Designs are taken in lanes of :data:`LANES`, station by station, so that the innermost loops run
over designs and the compiler turns them into vector instructions. No reordering of sums is
allowed (no fastmath): the result must equal the single path's to rounding.
"""

from __future__ import annotations

import numba
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

LANES = 64


@numba.njit(parallel=True, cache=True)
def sweep(
    crowns: Floats, operator: Floats, weights: Floats, slopes: Floats, lengths: Floats,
    blend: Floats,
) -> tuple[Floats, Floats, Bools]:
    """Return Σ bend/c³ + slip/c, the volume and whether a batten might overshoot, each (n,).

    Args:
        crowns: (n, stations) m.
        operator: (points, stations) crown at each point from the stations'.
        weights: (3, points) of 1/c³, 1/c and c.
        slopes: (stations, stations) slope dc/du at each station from the stations' crowns.
        lengths: (spans,) of u.
        blend: (4 + stations,) fixed volume, its share by root crown, by end slope, the loom's
            thickness, then the slope at the root from the stations' crowns.
    """
    count, stations = crowns.shape
    sink, volume = np.empty(count), np.empty(count)
    doubtful = np.zeros(count, dtype=np.bool_)
    for block in numba.prange((count + LANES - 1) // LANES):
        first = block * LANES
        size = min(LANES, count - first)
        lanes = np.ones((stations, LANES))
        for lane in range(size):
            for s in range(stations):
                lanes[s, lane] = crowns[first + lane, s]
        flexed, filled, doubt = np.zeros(LANES), np.zeros(LANES), np.zeros(LANES)
        _bend(lanes, operator, weights, flexed, filled)
        _blend(lanes, blend, filled)
        _doubt(lanes, slopes, lengths, doubt)
        sink[first : first + size] = flexed[:size]
        volume[first : first + size] = filled[:size]
        doubtful[first : first + size] = doubt[:size] > 0.0
    return sink, volume, doubtful


@numba.njit(cache=True)
def _bend(
    lanes: Floats, operator: Floats, weights: Floats, flexed: Floats, filled: Floats
) -> None:
    crown = np.empty(LANES)
    for point in range(operator.shape[0]):
        crown[:] = operator[point, 0] * lanes[0]
        for s in range(1, lanes.shape[0]):
            for lane in range(LANES):
                crown[lane] += operator[point, s] * lanes[s, lane]
        bend, slip, area = weights[0, point], weights[1, point], weights[2, point]
        for lane in range(LANES):
            inverse = 1.0 / crown[lane]
            flexed[lane] += inverse * (bend * inverse * inverse + slip)
            filled[lane] += area * crown[lane]


@numba.njit(cache=True)
def _blend(lanes: Floats, blend: Floats, filled: Floats) -> None:
    """Add the shoulder blend: its end slope is limited as in ``shape.curves.hermite``."""
    for lane in range(LANES):
        mean = lanes[0, lane] - blend[3]
        slope = 0.0
        for s in range(lanes.shape[0]):
            slope += blend[4 + s] * lanes[s, lane]
        limited = 0.0
        if slope * mean > 0.0:
            limited = np.sign(mean) * min(abs(slope), 3.0 * abs(mean))
        filled[lane] += blend[0] + blend[1] * lanes[0, lane] + blend[2] * limited


@numba.njit(cache=True)
def _doubt(lanes: Floats, slopes: Floats, lengths: Floats, doubtful: Floats) -> None:
    """Mark designs that are not plainly monotone in every span.

    Fritsch and Carlson (SIAM J. Numer. Anal. 17, 1980): end slopes of the chord's sign and at most
    three times the chord's leave no room for overshoot.
    """
    before, after = np.empty(LANES), np.empty(LANES)
    _slope(lanes, slopes, 0, before)
    for span in range(lengths.shape[0]):
        _slope(lanes, slopes, span + 1, after)
        for lane in range(LANES):
            chord = (lanes[span + 1, lane] - lanes[span, lane]) / lengths[span]
            low, high = min(0.0, 3.0 * chord), max(0.0, 3.0 * chord)
            least = min(before[lane], after[lane])
            most = max(before[lane], after[lane])
            doubtful[lane] = max(doubtful[lane], 1.0 if least < low or most > high else 0.0)
        before[:] = after


@numba.njit(cache=True)
def _slope(lanes: Floats, slopes: Floats, station: int, out: Floats) -> None:
    out[:] = 0.0
    for s in range(lanes.shape[0]):
        for lane in range(LANES):
            out[lane] += slopes[station, s] * lanes[s, lane]
