"""How a natural frequency answers to stiffness and mass, place by place.

Rayleigh's quotient is stationary at a mode, so d(ln ω²) is the strain energy's share at each place
times d(ln EI) or d(ln kGA) there, less the kinetic energy's share times d(ln m) or d(ln ρI)
(Rayleigh, Theory of Sound, §§ 88–90). The elements' shear parameter is held: its own change is
a small part of a small part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.linalg import eigh

from springloom.mechanics.axis import Axis
from springloom.mechanics.stiffness import Rigidity
from springloom.mechanics.vibration import assembled, mass_shapes

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mode:
    """One mode; energy shares are (spans, points).

    Attributes:
        frequency_hz: its frequency.
        bending, shear: shares of the strain energy; together they sum to 1.
        moving, turning: shares of the kinetic energy; together they sum to 1.
    """

    frequency_hz: float
    bending: Floats
    shear: Floats
    moving: Floats
    turning: Floats


def first_mode(axis: Axis, rigid: Rigidity, *, clamped: bool) -> Mode:
    """First flatwise mode of a beam clamped at the axis's start, or free at both ends."""
    stiff, mass = assembled(axis, rigid)
    held, number = (2, 0) if clamped else (0, 2)
    values, vectors = eigh(stiff[held:, held:], mass[held:, held:],
                           subset_by_index=(number, number), check_finite=False)
    swing = np.zeros(len(stiff))
    swing[held:] = vectors[:, 0]
    bending, shear = _strain(axis, rigid, swing)
    moving, turning = _kinetic(axis, rigid, swing)
    strain, kinetic = np.sum(bending + shear), np.sum(moving + turning)
    return Mode(math.sqrt(values[0]) / (2.0 * math.pi), bending / strain, shear / strain,
                moving / kinetic, turning / kinetic)


def _ends(swing: Floats) -> Floats:
    """(spans, 4) end movements of each span."""
    return np.concatenate([swing[:-2].reshape(-1, 2), swing[2:].reshape(-1, 2)], axis=1)


def _strain(axis: Axis, rigid: Rigidity, swing: Floats) -> tuple[Floats, Floats]:
    """Strain energy at each point: a span's moment runs straight between its end forces."""
    length = np.diff(axis.ends)
    ends = _ends(swing)
    # Movement of the right end beyond what the left end's carries it, and the forces for that.
    lag = np.stack([ends[:, 2] - ends[:, 0] - length * ends[:, 1], ends[:, 3] - ends[:, 1]], 1)
    lever = axis.ends[1:, None] - axis.x
    bend = axis.weight / rigid.ei
    f22, f12 = bend.sum(axis=1), (bend * lever).sum(axis=1)
    f11 = (bend * lever**2 + axis.weight / rigid.shear).sum(axis=1)
    scale = 1.0 / (f11 * f22 - f12**2)
    force = scale * (f22 * lag[:, 0] - f12 * lag[:, 1])
    couple = scale * (f11 * lag[:, 1] - f12 * lag[:, 0])
    moment = force[:, None] * lever + couple[:, None]
    return bend * moment**2, axis.weight / rigid.shear * (force**2)[:, None]


def _kinetic(axis: Axis, rigid: Rigidity, swing: Floats) -> tuple[Floats, Floats]:
    shape, turn = mass_shapes(axis, rigid)
    ends = _ends(swing)[:, :, None]
    speed, spin = np.sum(shape * ends, axis=1), np.sum(turn * ends, axis=1)
    return (axis.weight * rigid.mass * speed**2, axis.weight * rigid.rotary * spin**2)
