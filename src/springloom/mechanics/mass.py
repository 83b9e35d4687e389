"""Mass, balance, swing inertia and buoyancy."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.mechanics.axis import Axis, whole_axis
from springloom.mechanics.stiffness import Build, Rigidity, rigidity
from springloom.shape.paddle import Paddle

FRESH_WATER = 1000.0
"""Density of fresh water, kg/m³ (the lesser buoyancy; sea water carries 2.5 % more)."""


@dataclass(frozen=True, slots=True)
class MassProperties:
    """Of the bare wood, without finish.

    Attributes:
        mass_kg: whole paddle.
        blade_a_kg, blade_b_kg: each side of the centre.
        volume_m3: of the wood.
        balance_m: balance point, from the centre towards blade A.
        swing_inertia_kg_m2: about the centre, for swinging it flat side first (in its own plane
            it is under 0.1 % more).
        buoyancy_n: what it lifts beyond its own weight, fully under fresh water.
    """

    mass_kg: float
    blade_a_kg: float
    blade_b_kg: float
    volume_m3: float
    balance_m: float
    swing_inertia_kg_m2: float
    buoyancy_n: float


def mass_properties(paddle: Paddle, build: Build) -> MassProperties:
    """Integrate mass and its moments over the whole paddle."""
    axis = whole_axis(paddle, -paddle.b.tip, paddle.a.tip)
    return mass_on(axis, rigidity(axis, build))


def mass_on(axis: Axis, rigid: Rigidity) -> MassProperties:
    """Mass properties from rigidities already known on an axis over the whole paddle."""
    side_a = axis.x > 0.0
    mass = axis.integral(rigid.mass)
    blade_a = axis.integral(rigid.mass * side_a)
    volume = axis.integral(rigid.area)
    return MassProperties(
        mass_kg=mass,
        blade_a_kg=blade_a,
        blade_b_kg=mass - blade_a,
        volume_m3=volume,
        balance_m=axis.integral(rigid.mass * axis.x) / mass,
        swing_inertia_kg_m2=axis.integral(rigid.mass * axis.x**2 + rigid.rotary),
        buoyancy_n=9.80665 * (FRESH_WATER * volume - mass),
    )
