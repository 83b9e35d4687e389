"""Which station gets which pass: a search among whole passes near those one would like.

One pass more somewhere, one less, or one moved from a station to another, always the best of
these, until none betters it.
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Rows = Callable[[Floats], Floats]

_MOST_MOVES = 60
_BETTER = 1e-7  # of a mean square share: far below what any tool shows


def allotted(passes: Floats, bounds: tuple[Floats, Floats],
             allowed: Callable[[Floats], npt.NDArray[np.bool_]], badness: Rows,
             grain: float = 1.0) -> Floats:
    """Return the passes (stations,) that no single move betters.

    Args:
        passes: where to begin.
        bounds: the least and the most passes a station may have.
        allowed: which rows of passes (rows, stations) may be taken.
        badness: (rows,) what is to be least.
        grain: what a move is, in passes; half a pass is one off one face only.
    """
    best = float(badness(passes[None])[0])
    least, whole = bounds[0], grain * np.floor(bounds[1] / grain + 1e-6)
    for _ in range(_MOST_MOVES):
        rows = passes + grain * _moves(len(passes))
        # the tip goes with its neighbour as far as it can
        rows[:, -1] = np.clip(rows[:, -1], least[-1], max(whole[-1], least[-1]))
        rows = rows[np.all((rows >= least) & (rows <= whole), axis=1)]
        rows = rows[allowed(rows)] if len(rows) else rows
        if not len(rows):
            break
        found = badness(rows)
        if found.min() >= best - _BETTER:
            break
        passes, best = rows[int(np.argmin(found))], float(found.min())
    return passes


@functools.cache
def _moves(stations: int) -> Floats:
    """One more, one less, one from a station to another; the tip goes with its neighbour."""
    one = np.eye(stations)[:-1]
    one[-1, -1] = 1.0
    swaps = [a - b for i, a in enumerate(one) for j, b in enumerate(one) if i != j]
    return np.concatenate([one, -one, *([swaps] if swaps else [])])
