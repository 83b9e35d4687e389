"""Natural frequencies of a clamped blade and of the free paddle.

Beam finite elements whose stiffness comes from the exact flexibility of each tapered span
(bending and shear, integrated at its Gauss points; Przemieniecki, Theory of Matrix
Structural Analysis, ch. 5) and whose mass is consistent with Hermite interpolation, rotary
inertia included. Nodal statics are exact; frequencies converge with the fourth power of
the element length, shear's small part in them with the second.
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
    return _joined(stiff), _joined(mass)


def _joined(elements: Floats) -> Floats:
    """Sum (spans, 4, 4) element matrices into one, neighbours sharing two unknowns."""
    count = len(elements) + 1
    whole = np.zeros((count, 2, count, 2))
    left, right = np.arange(count - 1), np.arange(1, count)
    whole[left, :, left, :] = elements[:, :2, :2]
    whole[right, :, right, :] += elements[:, 2:, 2:]
    whole[left, :, right, :] = elements[:, :2, 2:]
    whole[right, :, left, :] = elements[:, 2:, :2]
    return whole.reshape(2 * count, 2 * count)


def _element_stiffness(axis: Axis, rigid: Rigidity) -> Floats:
    """(spans, 4, 4) from each span's flexibility, clamped at its left end."""
    length = np.diff(axis.ends)
    lever = axis.ends[1:, None] - axis.x
    bend = axis.weight / rigid.ei
    f22 = bend.sum(axis=1)
    f12 = (bend * lever).sum(axis=1)
    f11 = (bend * lever * lever + axis.weight / rigid.shear).sum(axis=1)
    # The right end's stiffness is the inverse; the left end's forces balance it.
    scale = 1.0 / (f11 * f22 - f12 * f12)
    push, couple, turn = f22 * scale, -f12 * scale, f11 * scale
    lift = push * length + couple
    stiff = np.empty((len(length), 4, 4))
    rows = (
        (push, lift, -push, -couple),
        (lift, turn + length * (couple + lift), -lift, -(length * couple + turn)),
        (-push, -lift, push, couple),
        (-couple, -(length * couple + turn), couple, turn),
    )
    for row, entries in enumerate(rows):
        for column, entry in enumerate(entries):
            stiff[:, row, column] = entry
    return stiff


def _element_mass(axis: Axis, rigid: Rigidity) -> Floats:
    """(spans, 4, 4) consistent mass with rotary inertia."""
    shape, turn = mass_shapes(axis, rigid)
    moving = (shape * (axis.weight * rigid.mass)[:, None]) @ np.swapaxes(shape, 1, 2)
    turning = (turn * (axis.weight * rigid.rotary)[:, None]) @ np.swapaxes(turn, 1, 2)
    return np.asarray(moving + turning)


def mass_shapes(axis: Axis, rigid: Rigidity) -> tuple[Floats, Floats]:
    """Deflection and turning inside a span for unit end movements, each (spans, 4, points).

    Interpolated as the span's own mean bends under forces at its ends; φ is its shear part
    (Przemieniecki, ch. 11), without which rotary inertia would turn with y' instead of θ.
    """
    length = np.diff(axis.ends)[:, None]
    t = (axis.x - axis.ends[:-1, None]) / length
    square = t * t
    bend, slip = (np.sum(axis.weight / part, axis=1) for part in (rigid.ei, rigid.shear))
    phi = 12.0 * (slip / bend)[:, None] / length**2
    rise = (square * (3.0 - 2.0 * t) + phi * t) / (1.0 + phi)
    hook = (square * (t - 1.0) - 0.5 * phi * (t - square)) / (1.0 + phi)
    slope = 6.0 * (t - square) / (length * (1.0 + phi))
    last = (3.0 * square - 2.0 * t + phi * t) / (1.0 + phi)
    shape = np.stack([1.0 - rise, length * (hook - square + t), rise, length * hook], axis=1)
    turn = np.stack([-slope, last + 1.0 - 2.0 * t, slope, last], axis=1)
    return shape, turn
