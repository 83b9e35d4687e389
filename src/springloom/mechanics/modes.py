"""How a natural frequency answers to stiffness, mass and length, place by place.

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

from springloom.errors import ShapeError
from springloom.mechanics.axis import Axis
from springloom.mechanics.stiffness import Rigidity
from springloom.mechanics.vibration import assembled, mass_shapes

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Mode:
    """One mode; energy shares are (spans, points).

    Attributes:
        frequency_hz: its frequency.
        bending, shear: shares of the strain energy; together with the clamp's they sum to 1.
        moving, turning: shares of the kinetic energy; together they sum to 1.
        clamp: d(ln ω²) per turning of the clamp under a moment, N·m/rad, never positive.
        lengthening: (spans,) d(ln ω²) per d(ln length) of each span, never positive for all.
    """

    frequency_hz: float
    bending: Floats
    shear: Floats
    moving: Floats
    turning: Floats
    clamp: float
    lengthening: Floats


def first_mode(axis: Axis, rigid: Rigidity, *, clamped: bool, turning: float = 0.0) -> Mode:
    """First flatwise mode of a beam clamped at the axis's start, or free at both ends.

    Args:
        axis: where the beam is.
        rigid: its rigidities and mass there.
        clamped: or free.
        turning: how far the clamp turns per moment, rad/(N·m).

    Raises:
        ShapeError: sections without wood or stiffness sound no tone.
    """
    stiff, mass = assembled(axis, rigid)
    try:
        swing = _clamped(axis, stiff, mass, turning) if clamped else _free(stiff, mass)
    except (np.linalg.LinAlgError, ValueError):  # no root of what should be positive
        raise ShapeError("sounds no tone: somewhere it has no wood or no stiffness",
                         field="sections") from None
    strain = _Strain.of(axis, rigid, _ends(swing.elastic))
    kinetic = _Kinetic.of(axis, rigid, _ends(swing.whole))
    total = strain.total + turning * swing.root_moment**2 if clamped else strain.total
    # What turns with the clamp swings further out on a longer blade.
    carried = 2.0 * swing.turned * np.diff(axis.ends) * _beyond(mass @ swing.whole)
    longer = strain.lengthened / total - (kinetic.lengthened + carried) / kinetic.total
    return Mode(
        swing.frequency_hz, strain.bending / total, strain.shear / total,
        kinetic.moving / kinetic.total, kinetic.turning / kinetic.total,
        -swing.root_moment**2 / total if clamped else 0.0, longer,
    )


@dataclass(frozen=True, slots=True)
class _Swing:
    """A mode shape, (2n,) end movements and turnings.

    Attributes:
        frequency_hz: its frequency.
        whole: the shape.
        elastic: without what the clamp's turning carries.
        turned: by how much the clamp turns in it, rad.
        root_moment: moment on the clamp, N·m.
    """

    frequency_hz: float
    whole: Floats
    elastic: Floats
    turned: float = 0.0
    root_moment: float = 0.0


def _free(stiff: Floats, mass: Floats) -> _Swing:
    values, vectors = eigh(stiff, mass, subset_by_index=(2, 2), check_finite=False)
    shape = vectors[:, 0]
    return _Swing(math.sqrt(values[0]) / (2.0 * math.pi), shape, shape)


def _clamped(axis: Axis, stiff: Floats, mass: Floats, turning: float) -> _Swing:
    """By the flexibility, to which a turning clamp adds turning × r·rᵀ, r a turn about the clamp.

    1/ω² is the greatest eigenvalue of flexibility times mass; that stays so for a turning of
    either sign, while the stiffness of a short first span with a clamp in it need not exist.
    """
    spin = np.stack([axis.ends - axis.ends[0], np.ones_like(axis.ends)], axis=1).ravel()[2:]
    root = np.linalg.cholesky(mass[2:, 2:])
    flexible = np.linalg.inv(stiff[2:, 2:]) + turning * np.outer(spin, spin)
    last = len(root) - 1
    values, vectors = eigh(root.T @ flexible @ root, subset_by_index=(last, last),
                           check_finite=False)
    shape = np.linalg.solve(root.T, vectors[:, 0])
    moment = float(spin @ (mass[2:, 2:] @ shape)) / float(values[0])
    turned = turning * moment
    whole, elastic = np.zeros(len(stiff)), np.zeros(len(stiff))
    whole[2:], elastic[2:] = shape, shape - turned * spin
    frequency = 1.0 / (2.0 * math.pi * math.sqrt(values[0]))
    return _Swing(frequency, whole, elastic, turned, moment)


def _ends(swing: Floats) -> Floats:
    """(spans, 4) end movements of each span."""
    return np.concatenate([swing[:-2].reshape(-1, 2), swing[2:].reshape(-1, 2)], axis=1)


def _beyond(forces: Floats) -> Floats:
    """(spans,) sum of the forces at all span ends beyond each span."""
    return np.cumsum(forces[2::2][::-1])[::-1]


@dataclass(frozen=True, slots=True)
class _Strain:
    """Twice the strain energy: (spans, points) shares, and (spans,) by ln length."""

    bending: Floats
    shear: Floats
    lengthened: Floats

    @property
    def total(self) -> float:
        return float(np.sum(self.bending) + np.sum(self.shear))

    @classmethod
    def of(cls, axis: Axis, rigid: Rigidity, ends: Floats) -> _Strain:
        """From end movements: a span's moment runs straight between its end forces."""
        length = np.diff(axis.ends)
        # Movement of the right end beyond what the left end's carries it, and the forces for that.
        lag = ends[:, 2] - ends[:, 0] - length * ends[:, 1]
        turn = ends[:, 3] - ends[:, 1]
        lever = axis.ends[1:, None] - axis.x
        bend, slip = axis.weight / rigid.ei, axis.weight / rigid.shear
        f22, f12 = bend.sum(axis=1), (bend * lever).sum(axis=1)
        f11 = (bend * lever**2 + slip).sum(axis=1)
        scale = 1.0 / (f11 * f22 - f12**2)
        force, couple = scale * (f22 * lag - f12 * turn), scale * (f11 * turn - f12 * lag)
        moment = force[:, None] * lever + couple[:, None]
        bending, shear = bend * moment**2, slip * (force**2)[:, None]
        # By d ln length the flexibility grows as its own powers of it, at end movements held.
        looser = (shear + bending + 2.0 * force[:, None] * bend * lever * moment).sum(axis=1)
        return cls(bending, shear, -2.0 * force * length * ends[:, 1] - looser)


@dataclass(frozen=True, slots=True)
class _Kinetic:
    """Twice the kinetic energy over ω²: (spans, points) shares and (spans,) by ln length."""

    moving: Floats
    turning: Floats
    lengthened: Floats

    @property
    def total(self) -> float:
        return float(np.sum(self.moving) + np.sum(self.turning))

    @classmethod
    def of(cls, axis: Axis, rigid: Rigidity, ends: Floats) -> _Kinetic:
        shape, turn = mass_shapes(axis, rigid)
        parts, turns = shape * ends[:, :, None], turn * ends[:, :, None]
        speed, spin = parts.sum(axis=1), turns.sum(axis=1)
        mass, rotary = axis.weight * rigid.mass, axis.weight * rigid.rotary
        moving, turning = mass * speed**2, rotary * spin**2
        # What an end's turning moves grows with the length; how its movement turns falls with it.
        longer = 2.0 * (mass * speed * (parts[:, 1] + parts[:, 3])
                        - rotary * spin * (turns[:, 0] + turns[:, 2]))
        return cls(moving, turning, (moving + turning + longer).sum(axis=1))
