"""Beams made by hand: an axis of any spans, with rigidities given as functions of place.

None of the shape code takes part, so that what is tested against a closed form is the
mechanics alone.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from scipy.linalg import eigh

from springloom.mechanics.axis import Axis
from springloom.mechanics.stiffness import Rigidity
from springloom.mechanics.vibration import assembled
from springloom.shape.blade import CHANNELS

Floats = npt.NDArray[np.float64]
Along = float | Callable[[Floats], Floats]
"""A constant, or a function of the place x in m."""

STIFF = 1e30
"""A shear rigidity (N) at which shear adds nothing."""


def straight(ends: npt.ArrayLike, points: int = 8) -> Axis:
    """Axis with these span ends (m); it has no shape, its channels are zero."""
    at = np.asarray(ends, dtype=float)
    nodes, weights = np.polynomial.legendre.leggauss(points)
    length = np.diff(at)[:, None] * np.ones(points)
    x = at[:-1, None] + length * 0.5 * (nodes + 1.0)
    return Axis(x, length * 0.5 * weights, length, at, np.zeros((len(CHANNELS), *x.shape)))


def rigid(axis: Axis, ei: Along, shear: Along = STIFF, mass: Along = 1.0,
          rotary: Along = 0.0) -> Rigidity:
    """Rigidities on the axis; what bending does not need is one."""
    ones = np.ones_like(axis.x)

    def along(value: Along) -> Floats:
        return value(axis.x) if callable(value) else value * ones

    return Rigidity(along(ei), along(shear), along(mass), along(rotary), ones, 0.0 * ones, ones,
                    ones, ones)


def frequencies(axis: Axis, rigidity: Rigidity, count: int = 2, *, free: bool = False) -> Floats:
    """First angular frequencies, 1/s; clamped at the axis's start unless it hangs free."""
    stiff, mass = assembled(axis, rigidity)
    held, first = (0, 2) if free else (2, 0)
    squares = eigh(stiff[held:, held:], mass[held:, held:], eigvals_only=True,
                   subset_by_index=(first, first + count - 1))
    return np.asarray(np.sqrt(squares))
