"""Statics of a beam with bending and shear, by direct integration of κ = M/EI and γ = V/kGA.

Every set-up a maker uses is statically determinate, so moment and shear follow from the
loads alone and the deflected line from two running integrals (Timoshenko's beam: y' = θ + γ,
θ' = κ). Deflection, slope and curvature are positive the way the load pushes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import Axis
from springloom.mechanics.stiffness import Rigidity

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Load:
    """A force hung at a place: X in m from the centre, force in N."""

    x: float
    force: float


@dataclass(frozen=True, slots=True)
class Bent:
    """A loaded line; arrays (spans, points) at the axis's points, ``*_ends`` at span ends.

    Attributes:
        axis: where.
        moment: bending moment, N·m (positive: the loaded side becomes hollow away from it).
        shear: shear force, N.
        curvature: M/EI, 1/m.
        slope: θ, rad.
        deflection, deflection_ends: m.
        slope_ends: rad.
    """

    axis: Axis
    moment: Floats
    shear: Floats
    curvature: Floats
    slope: Floats
    deflection: Floats
    slope_ends: Floats
    deflection_ends: Floats

    def at(self, x: float) -> float:
        """Deflection at a place that was a cut of the axis, m."""
        return float(self.deflection_ends[self.axis.end_index(x)])


def cantilever(
    axis: Axis, rigid: Rigidity, loads: Sequence[Load], rotation: float = 0.0
) -> Bent:
    """Line of a beam clamped at the axis's start and free at its end.

    Args:
        axis: starts at the clamp; every load's place is one of its cuts.
        rigid: rigidities on that axis.
        loads: hung weights.
        rotation: how far the clamp itself turns under these loads, rad.
    """
    moment, shear = _from_loads(axis, loads)
    return integrate(axis, rigid, moment, shear, rotation)


def overhang(
    axis: Axis, rigid: Rigidity, supports: tuple[float, float], loads: Sequence[Load]
) -> Bent:
    """Line of a beam on two supports; loads anywhere, the line measured from the supports."""
    left, right = supports
    span = right - left
    reaction_right = sum(load.force * (load.x - left) for load in loads) / span
    reaction_left = sum(load.force for load in loads) - reaction_right
    forces = [*loads, Load(left, -reaction_left), Load(right, -reaction_right)]
    moment, shear = _from_loads(axis, forces)
    free = integrate(axis, rigid, moment, shear, 0.0)
    y_left, y_right = free.at(left), free.at(right)
    turn = (y_right - y_left) / span
    return Bent(
        axis, moment, shear, free.curvature, free.slope - turn,
        free.deflection - y_left - turn * (axis.x - left),
        free.slope_ends - turn,
        free.deflection_ends - y_left - turn * (axis.ends - left),
    )


def integrate(
    axis: Axis, rigid: Rigidity, moment: Floats, shear: Floats, rotation: float
) -> Bent:
    """Integrate known moment and shear from the axis's start, where y = 0 and θ = rotation."""
    curvature = moment / rigid.ei
    slope, slope_ends = axis.running(curvature)
    slope, slope_ends = slope + rotation, slope_ends + rotation
    deflection, deflection_ends = axis.running(slope + shear / rigid.shear)
    return Bent(axis, moment, shear, curvature, slope, deflection, slope_ends, deflection_ends)


def _from_loads(axis: Axis, loads: Sequence[Load]) -> tuple[Floats, Floats]:
    moment = np.zeros_like(axis.x)
    shear = np.zeros_like(axis.x)
    for load in loads:
        lever = np.maximum(load.x - axis.x, 0.0)
        moment += load.force * lever
        shear += load.force * (lever > 0.0)
    return moment, shear
