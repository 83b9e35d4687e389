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
    """
    stiff, mass = assembled(axis, rigid)
    spans = _Spans.of(axis, rigid, turning if clamped else 0.0)
    held, number = (2, 0) if clamped else (0, 2)
    if clamped and turning:
        stiff[2:4, 2:4] += spans.first_block() - _Spans.of(axis, rigid, 0.0).first_block()
    values, vectors = eigh(stiff[held:, held:], mass[held:, held:],
                           subset_by_index=(number, number), check_finite=False)
    swing = np.zeros(len(stiff))
    swing[held:] = vectors[:, 0]
    ends = _ends(swing)
    strain, kinetic = spans.strain(ends), _Kinetic.of(axis, rigid, ends)
    total, moved = strain.total, kinetic.total
    return Mode(
        math.sqrt(values[0]) / (2.0 * math.pi), strain.bending / total, strain.shear / total,
        kinetic.moving / moved, kinetic.turning / moved,
        -strain.root_moment**2 / total if clamped else 0.0,
        strain.lengthened / total - kinetic.lengthened / moved,
    )


def _ends(swing: Floats) -> Floats:
    """(spans, 4) end movements of each span."""
    return np.concatenate([swing[:-2].reshape(-1, 2), swing[2:].reshape(-1, 2)], axis=1)


@dataclass(frozen=True, slots=True)
class _Strain:
    """Twice the strain energy: (spans, points) shares, the clamp's, and (spans,) by ln length."""

    bending: Floats
    shear: Floats
    total: float
    root_moment: float
    lengthened: Floats


@dataclass(frozen=True, slots=True)
class _Spans:
    """Each span's flexibility, clamped at its left end; the first one's clamp turns.

    Attributes:
        length: (spans,), m.
        lever: (spans, points) distance to the right end, m.
        bend, slip: (spans, points) integration weight over EI and over kGA.
        turning: of the clamp per moment, rad/(N·m), in the first span alone: (spans,).
    """

    length: Floats
    lever: Floats
    bend: Floats
    slip: Floats
    turning: Floats

    @classmethod
    def of(cls, axis: Axis, rigid: Rigidity, turning: float) -> _Spans:
        length = np.diff(axis.ends)
        first = np.zeros_like(length)
        first[0] = turning
        return cls(length, axis.ends[1:, None] - axis.x, axis.weight / rigid.ei,
                   axis.weight / rigid.shear, first)

    def flexibility(self) -> tuple[Floats, Floats, Floats]:
        """Movement per force, per couple and turning per couple of the right end, (spans,)."""
        c, length = self.turning, self.length
        f11 = (self.bend * self.lever**2 + self.slip).sum(axis=1) + c * length**2
        return f11, (self.bend * self.lever).sum(axis=1) + c * length, self.bend.sum(axis=1) + c

    def first_block(self) -> Floats:
        """Stiffness (2, 2) of the first span's right end."""
        f11, f12, f22 = (float(f[0]) for f in self.flexibility())
        return np.array([[f22, -f12], [-f12, f11]]) / (f11 * f22 - f12**2)

    def strain(self, ends: Floats) -> _Strain:
        """Strain energy of these end movements: moments run straight between end forces."""
        # Movement of the right end beyond what the left end's carries it, and the forces for that.
        lag = ends[:, 2] - ends[:, 0] - self.length * ends[:, 1]
        turn = ends[:, 3] - ends[:, 1]
        f11, f12, f22 = self.flexibility()
        scale = 1.0 / (f11 * f22 - f12**2)
        force, couple = scale * (f22 * lag - f12 * turn), scale * (f11 * turn - f12 * lag)
        moment = force[:, None] * self.lever + couple[:, None]
        bending, shear = self.bend * moment**2, self.slip * (force**2)[:, None]
        root = force * self.length + couple
        # By d ln length the flexibility grows as its own powers of it, at end movements held.
        looser = (shear.sum(axis=1) + bending.sum(axis=1)
                  + 2.0 * force * (self.bend * self.lever * moment).sum(axis=1)
                  + 2.0 * self.turning * root * force * self.length)
        lengthened = -2.0 * force * self.length * ends[:, 1] - looser
        total = float(np.sum(bending) + np.sum(shear) + np.sum(self.turning * root**2))
        return _Strain(bending, shear, total, float(root[0]), lengthened)


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
