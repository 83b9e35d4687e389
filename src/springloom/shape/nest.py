"""Two paddles out of one board: side by side, end to end, or shifted so that each one's wide
blade lies beside the other's narrow loom.

Both middle lines run along the board. The least distance between them at a shift d is
max over x of w₁(x) + w₂(x − d), and the saw cut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.shape.blank import Allowances, Profile

Floats = npt.NDArray[np.float64]
Kind = Literal["side by side", "end to end", "shifted"]

_GRID = 0.0025  # m; between its points an outline bows by less than a tenth of a saw cut
_STRIDE = 2
SHIFT_STEP = _STRIDE * _GRID
"""Shifts are tried in steps of this, m."""

_SAME = 1e-7


@dataclass(frozen=True, slots=True)
class Nest:
    """How two paddles lie in a board, m.

    Attributes:
        kind: squared blanks side by side or end to end, or outlines shifted past each other.
        shift_m: how far the second one's centre lies along from the first's.
        apart_m: distance between the middle lines across the board.
        low_m: from the board's lower edge to the first's middle line.
        width_m, length_m: the board that this needs, allowances in it.
        turned: whether the second lies head to tail.
        fits: whether the board that was asked about is large enough.
    """

    kind: Kind
    shift_m: float
    apart_m: float
    low_m: float
    width_m: float
    length_m: float
    turned: bool = False
    fits: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Two outlines with the distances they need at every shift; see :func:`pair`.

    ``shifts`` and ``apart`` are (n,); the reaches are (to blade B's tip, to blade A's), the
    widths greatest half-widths, m.
    """

    shifts: Floats
    apart: Floats
    first_reach: tuple[float, float]
    second_reach: tuple[float, float]
    half_widths: tuple[float, float]
    turned: bool
    allow: Allowances

    def in_board(self, length_m: float, width_m: float) -> Nest:
        """Return the easiest way that fits, or the narrowest there is with ``fits`` False."""
        for nest in (self._beside(), self._behind()):
            if _inside(nest, length_m, width_m):
                return nest
        return self._shifted(length_m, width_m)

    def _beside(self) -> Nest:
        (w1, w2), allow = self.half_widths, self.allow
        apart = w1 + w2 + allow.kerf_m + 2.0 * allow.edge_m
        reach = [max(ends) for ends in zip(self.first_reach, self.second_reach, strict=True)]
        low = w1 + allow.edge_m
        return Nest("side by side", 0.0, apart, low, low + apart + w2 + allow.edge_m,
                    sum(reach) + 2.0 * allow.end_m, self.turned)

    def _behind(self) -> Nest:
        allow, half = self.allow, max(self.half_widths)
        shift = (self.first_reach[1] + self.second_reach[0] + 2.0 * allow.end_m + allow.kerf_m)
        length = sum(self.first_reach) + sum(self.second_reach) + 4.0 * allow.end_m + allow.kerf_m
        low = half + allow.edge_m
        return Nest("end to end", shift, 0.0, low, 2.0 * low, length, self.turned)

    def _shifted(self, length_m: float, width_m: float) -> Nest:
        first, second, allow = self.first_reach, self.second_reach, self.allow
        edges = sum(self.half_widths) + 2.0 * allow.edge_m
        lengths = (np.maximum(first[0], second[0] - self.shifts)
                   + np.maximum(first[1], second[1] + self.shifts) + 2.0 * allow.end_m)
        widths = edges + self.apart
        possible = lengths <= length_m + _SAME
        if not possible.any():
            possible = lengths <= lengths.min() + _SAME
        fitting = possible & (widths <= width_m + _SAME)
        if fitting.any():  # the least shift keeps most of the board
            best = int(np.argmin(np.where(fitting, lengths, np.inf)))
        else:
            best = int(np.argmin(np.where(possible, widths, np.inf)))
        nest = Nest("shifted", float(self.shifts[best]), float(self.apart[best]),
                    self.half_widths[0] + allow.edge_m, float(widths[best]),
                    float(lengths[best]), self.turned)
        return replace(nest, fits=_inside(nest, length_m, width_m))


def pair(first: Profile, second: Profile, allow: Allowances | None = None, *,
         turned: bool = False) -> Pair:
    """Work out how two outlines lie beside each other at every shift.

    Args:
        first, second: outlines along x, from tip to tip.
        allow: the saw cut between them, and room at the board's edges and ends.
        turned: lay the second head to tail.
    """
    allow = allow or Allowances()
    w1, centre1 = _sampled(first)
    w2, centre2 = _sampled(second)
    reach1, reach2 = _reach(first), _reach(second)
    if turned:
        w2, centre2, reach2 = w2[::-1], len(w2) - 1 - centre2, (reach2[1], reach2[0])
    count = max(len(w1), len(w2))
    out = _STRIDE * np.arange(1, count // _STRIDE + 1)
    # From the least shift on, so that of equal ones the first found is the forward one.
    moves = np.concatenate([[0], np.stack([out, -out], axis=1).ravel()])
    apart = np.array([_apart(w1, w2, centre1 - centre2 + int(move)) for move in moves])
    return Pair(np.asarray(_GRID * moves), apart + allow.kerf_m, reach1, reach2,
                (float(first.half_width.max()), float(second.half_width.max())), turned, allow)


def _sampled(line: Profile) -> tuple[Floats, int]:
    """Half-widths on an even grid through the centre, and the centre's index."""
    low, high = math.ceil(-line.x[0] / _GRID), math.ceil(line.x[-1] / _GRID)
    return np.interp(_GRID * np.arange(-low, high + 1), line.x, line.half_width), low


def _reach(line: Profile) -> tuple[float, float]:
    return -float(line.x[0]), float(line.x[-1])


def _apart(first: Floats, second: Floats, start: int) -> float:
    """Greatest sum of half-widths where both are; ``start`` is where the second begins."""
    low, high = max(0, start), min(len(first), start + len(second))
    if high <= low:
        return 0.0
    return float(np.max(first[low:high] + second[low - start:high - start]))


def _inside(nest: Nest, length_m: float, width_m: float) -> bool:
    return nest.length_m <= length_m + _SAME and nest.width_m <= width_m + _SAME
