"""Natural frequencies of a clamped blade and of the free paddle.

Beam finite elements whose stiffness comes from the exact flexibility of each tapered span
(bending and shear, integrated at its Gauss points; Przemieniecki, Theory of Matrix
Structural Analysis, ch. 5) and whose mass is consistent with Hermite interpolation, rotary
inertia included. Nodal statics are exact; frequencies converge with the fourth power of
the element length.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from scipy.linalg import eigh

from springloom.mechanics.axis import Axis, half_axis, whole_axis
from springloom.mechanics.stiffness import Build, Rigidity, rigidity
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle

Floats = npt.NDArray[np.float64]

_PIECES = 1  # elements between two stations; both first frequencies settle to 2e-4
_POINTS = 4


def clamped_frequencies(
    half: HalfPaddle, build: Build, clamp: float | None = None, count: int = 2
) -> tuple[float, ...]:
    """First flatwise frequencies in Hz of a blade clamped at ``clamp`` (m; None: the root)."""
    start = half.loom.root if clamp is None else clamp
    axis = half_axis(half, start, points=_POINTS, pieces=_PIECES)
    return clamped_on(axis, rigidity(axis, build), count)


def clamped_on(axis: Axis, rigid: Rigidity, count: int = 2) -> tuple[float, ...]:
    """First frequencies in Hz of a beam clamped at an axis's start."""
    stiff, mass = assembled(axis, rigid)
    return _lowest(stiff[2:, 2:], mass[2:, 2:], 0, count)


def free_frequencies(paddle: Paddle, build: Build, count: int = 2) -> tuple[float, ...]:
    """First flatwise frequencies in Hz of the paddle hung free."""
    axis = whole_axis(paddle, -paddle.b.tip, paddle.a.tip, points=_POINTS, pieces=_PIECES)
    return free_on(axis, rigidity(axis, build), count)


def free_on(axis: Axis, rigid: Rigidity, count: int = 2) -> tuple[float, ...]:
    """First frequencies in Hz of a beam free at both ends of an axis."""
    return _lowest(*assembled(axis, rigid), 2, count)


def _lowest(stiff: Floats, mass: Floats, rigid_modes: int, count: int) -> tuple[float, ...]:
    wanted = (rigid_modes, rigid_modes + count - 1)
    squares = eigh(stiff, mass, eigvals_only=True, subset_by_index=wanted, check_finite=False)
    return tuple(math.sqrt(value) / (2.0 * math.pi) for value in squares)


def assembled(axis: Axis, rigid: Rigidity) -> tuple[Floats, Floats]:
    """Stiffness and mass matrices, (2n, 2n) for n span ends; unknowns y, θ in turn."""
    stiff, mass = _element_stiffness(axis, rigid), _element_mass(axis, rigid)
    count = len(axis.ends)
    place = 2 * np.arange(count - 1)[:, None] + np.arange(4)
    rows, columns = place[:, :, None], place[:, None, :]
    whole = np.zeros((2, 2 * count, 2 * count))
    np.add.at(whole[0], (rows, columns), stiff)
    np.add.at(whole[1], (rows, columns), mass)
    return whole[0], whole[1]


def _element_stiffness(axis: Axis, rigid: Rigidity) -> Floats:
    """(spans, 4, 4) from each span's flexibility, clamped at its left end."""
    length = np.diff(axis.ends)
    lever = axis.ends[1:, None] - axis.x
    weight = axis.weight
    bend = weight / rigid.ei
    f11 = np.sum(bend * lever**2 + weight / rigid.shear, axis=1)
    f12 = np.sum(bend * lever, axis=1)
    f22 = np.sum(bend, axis=1)
    right = np.linalg.inv(np.stack([np.stack([f11, f12], 1), np.stack([f12, f22], 1)], 1))
    carry = np.zeros((len(length), 2, 2))  # left end forces balance the right end's
    carry[:, 0, 0] = carry[:, 1, 1] = 1.0
    carry[:, 1, 0] = length
    left_right = -carry @ right
    left_left = carry @ right @ np.swapaxes(carry, 1, 2)
    top = np.concatenate([left_left, left_right], axis=2)
    low = np.concatenate([np.swapaxes(left_right, 1, 2), right], axis=2)
    return np.asarray(np.concatenate([top, low], axis=1))


def _element_mass(axis: Axis, rigid: Rigidity) -> Floats:
    """(spans, 4, 4) consistent mass with rotary inertia."""
    length = np.diff(axis.ends)[:, None]
    t = (axis.x - axis.ends[:-1, None]) / length
    shape = np.stack(
        [1 - 3 * t**2 + 2 * t**3, length * (t - 2 * t**2 + t**3),
         3 * t**2 - 2 * t**3, length * (t**3 - t**2)], axis=1,
    )
    turn = np.stack(
        [6 * (t**2 - t) / length, 1 - 4 * t + 3 * t**2,
         6 * (t - t**2) / length, 3 * t**2 - 2 * t], axis=1,
    )
    moving = np.einsum("eip,ejp,ep->eij", shape, shape, axis.weight * rigid.mass)
    turning = np.einsum("eip,ejp,ep->eij", turn, turn, axis.weight * rigid.rotary)
    return np.asarray(moving + turning)
