"""What moisture does to strength, stiffness, size and density; and what air does to moisture.

Moisture content is in percent of the oven-dry mass throughout, as moisture meters read it.
"""

from __future__ import annotations

from typing import Literal

from springloom.errors import InputError, in_range
from springloom.wood.estimates import dry_over_green, value_at_12, volumetric_shrinkage
from springloom.wood.gravity import FIBRE_SATURATION_PERCENT, WATER_KG_M3, Gravity12
from springloom.wood.species import PropertyName, Species

GREEN_LIMIT_PERCENT = 250.0
"""Highest moisture content taken as real; light sapwood can hold more than its own weight."""

Direction = Literal["radial", "tangential"]


def adjust(p12: float, p_green: float, mp_percent: float, moisture_percent: float) -> float:
    """Return a property at another moisture content, about 21 degC, in the unit of ``p12``.

    P = P12 (P12 / Pg)**((12 - M) / (Mp - 12)) below the intersection moisture Mp, Pg at and
    above it. Source: FPL-GTR-282 eq 5-3, p. 5-34. Not for tension across the grain, impact
    bending or work to maximum load, which answer to moisture erratically.

    Raises:
        RangeError: a value that is no positive property, or a moisture out of range.
    """
    in_range(p12, "p12", 0.0, open_low=True)
    in_range(p_green, "p_green", 0.0, open_low=True)
    in_range(mp_percent, "mp_percent", 15.0, FIBRE_SATURATION_PERCENT, "%")
    in_range(moisture_percent, "moisture_percent", 0.0, GREEN_LIMIT_PERCENT, "%")
    if moisture_percent >= mp_percent:
        return p_green
    return float(p12 * (p12 / p_green) ** ((12.0 - moisture_percent) / (mp_percent - 12.0)))


def property_at(wood: Species, name: PropertyName, moisture_percent: float) -> float:
    """Return a species' average property at a moisture content, Pa.

    Gaps are filled as :mod:`springloom.wood.estimates` says. Tension across the grain keeps its
    12 % value at every moisture content, because eq 5-3 must not be used for it.

    Raises:
        RangeError: the moisture is out of range.
    """
    p12 = value_at_12(wood, name).value
    if name == "tperp_pa":
        in_range(moisture_percent, "moisture_percent", 0.0, GREEN_LIMIT_PERCENT, "%")
        return p12
    ratio = dry_over_green(wood, name).value
    return adjust(p12, p12 / ratio, wood.mp_percent, moisture_percent)


def equilibrium_moisture(temperature_c: float, humidity: float) -> float:
    """Return the moisture content, percent, that wood settles at in air of this kind.

    ``humidity`` is a fraction. Source: FPL-GTR-282 eq 4-5 (Hailwood and Horrobin, as fitted by
    Simpson 1973), from which Table 4-2 was calculated.

    Raises:
        RangeError: temperature outside -20 to 110 degC, or humidity outside 0 to 0.99.
    """
    t = in_range(temperature_c, "temperature_c", -20.0, 110.0, "°C")
    h = in_range(humidity, "humidity", 0.0, 0.99)
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    bound = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    return 1800.0 / w * (kh / (1.0 - kh) + bound)


def shrinkage_percent(total_percent: float, moisture_percent: float) -> float:
    """Return the shrinkage from green to a moisture content, percent of the green size.

    S = S0 (1 - M / 30), none above 30 %. Source: FPL-GTR-282 eq 4-9, fibre saturation 30 %.

    Raises:
        RangeError: a shrinkage or a moisture out of range.
    """
    in_range(total_percent, "shrinkage_percent", 0.0, 30.0, "%")
    in_range(moisture_percent, "moisture_percent", 0.0, GREEN_LIMIT_PERCENT, "%")
    return total_percent * max(0.0, 1.0 - moisture_percent / FIBRE_SATURATION_PERCENT)


def size_after(size_m: float, total_percent: float, before_percent: float,
               after_percent: float) -> float:
    """Return a cross-grain size, m, after the moisture goes from one content to another.

    Source: FPL-GTR-282 eq 4-9 at both moisture contents.

    Raises:
        RangeError: a size, shrinkage or moisture out of range.
    """
    in_range(size_m, "size_m", 0.0, unit="m", open_low=True)
    before = 1.0 - shrinkage_percent(total_percent, before_percent) / 100.0
    after = 1.0 - shrinkage_percent(total_percent, after_percent) / 100.0
    return size_m * after / before


def change_coefficient(wood: Species, direction: Direction) -> float:
    """Return the fractional change of size per percent moisture, for 6 to 14 %.

    Source: FPL-GTR-282 Table 13-5. For a species not in that table it follows from the total
    shrinkage at 10 % moisture, which is how the printed ones compare with Table 4-3.
    """
    printed = wood.c_radial if direction == "radial" else wood.c_tangential
    if printed is not None:
        return printed
    total = (wood.shrink_radial_percent if direction == "radial"
             else wood.shrink_tangential_percent)
    at_10 = 1.0 - shrinkage_percent(total, 10.0) / 100.0
    return total / 100.0 / FIBRE_SATURATION_PERCENT / at_10


def size_change(wood: Species, direction: Direction, size_m: float, before_percent: float,
                after_percent: float) -> float:
    """Return how much a cross-grain size grows (shrinks if negative) over a change of moisture, m.

    Source: FPL-GTR-282 Table 13-5, which holds between 6 and 14 %.

    Raises:
        RangeError: a size out of range, or a moisture outside 6 to 14 %.
    """
    in_range(size_m, "size_m", 0.0, unit="m", open_low=True)
    in_range(before_percent, "before_percent", 6.0, 14.0, "%")
    in_range(after_percent, "after_percent", 6.0, 14.0, "%")
    return size_m * change_coefficient(wood, direction) * (after_percent - before_percent)


def gravity_at(gravity: Gravity12, volumetric_percent: float, moisture_percent: float) -> float:
    """Return the specific gravity on the volume at a moisture content, anchored on 12 %.

    G(M) = G12 (1 - S(12)) / (1 - S(M)) with eq 4-9 for both. Source: FPL-GTR-282 eq 4-11.

    Raises:
        InputError: the gravity is not on the 12 % basis.
        RangeError: a shrinkage or a moisture out of range.
    """
    if not isinstance(gravity, Gravity12):
        raise InputError("needs specific gravity on the 12 % basis", field="gravity",
                         given=type(gravity).__name__, allowed="Gravity12")
    at_12 = 1.0 - shrinkage_percent(volumetric_percent, 12.0) / 100.0
    at_m = 1.0 - shrinkage_percent(volumetric_percent, moisture_percent) / 100.0
    return gravity.value * at_12 / at_m


def density(gravity: Gravity12, volumetric_percent: float, moisture_percent: float) -> float:
    """Return the density with its water in it, kg/m3: 1000 G(M) (1 + M/100).

    Source: FPL-GTR-282 eq 4-14.

    Raises:
        InputError: the gravity is not on the 12 % basis.
        RangeError: a shrinkage or a moisture out of range.
    """
    at_m = gravity_at(gravity, volumetric_percent, moisture_percent)
    return WATER_KG_M3 * at_m * (1.0 + moisture_percent / 100.0)


def density_at(wood: Species, moisture_percent: float) -> float:
    """Return a species' average density at a moisture content, kg/m3.

    Raises:
        RangeError: the moisture is out of range.
    """
    return density(wood.gravity_12, volumetric_shrinkage(wood).value, moisture_percent)
