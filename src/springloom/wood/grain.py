"""What sloping grain leaves of strength and stiffness.

Slope is rise over run: grain that leaves the edge by 1 in 15 has slope 1/15. It is never negative.
"""

from __future__ import annotations

import math
from typing import Literal

from springloom.errors import in_range, known

Property = Literal["mor", "impact", "comp_par"]
Hankinson = Literal["tension", "compression", "bending", "stiffness", "toughness"]

STEEPEST_SLOPE = 1.0 / 5.0
"""Where the slope-of-grain table ends."""

# FPL-GTR-190 / FPL-GTR-282 Table 5-12: percent of the straight-grained strength
_SLOPES = (0.0, 1.0 / 25.0, 1.0 / 20.0, 1.0 / 15.0, 1.0 / 10.0, STEEPEST_SLOPE)
_REMAINING: dict[Property, tuple[float, ...]] = {
    "mor": (100.0, 96.0, 93.0, 89.0, 81.0, 55.0),
    "impact": (100.0, 95.0, 90.0, 81.0, 62.0, 36.0),
    "comp_par": (100.0, 100.0, 100.0, 100.0, 99.0, 93.0),
}

HANKINSON_RANGES: dict[Hankinson, tuple[tuple[float, float], tuple[float, float]]] = {
    "tension": ((1.5, 2.0), (0.04, 0.07)),
    "compression": ((2.0, 2.5), (0.03, 0.40)),
    "bending": ((1.5, 2.0), (0.04, 0.10)),
    "stiffness": ((2.0, 2.0), (0.04, 0.12)),
    "toughness": ((1.5, 2.0), (0.06, 0.10)),
}
"""Ranges of n and of Q/P per property, FPL-GTR-190 p. 5-30, in-text table; from memory."""

HANKINSON_FITS: dict[Property, tuple[float, float]] = {
    "mor": (1.5, 0.10), "impact": (1.5, 0.05), "comp_par": (2.5, 0.10),
}
"""n and Q/P the Handbook draws beside its own table's properties, FPL-GTR-190 p. 5-30."""


def remaining_percent(slope: float, name: Property) -> float:
    """Return the strength left by a slope of grain, percent of straight-grained.

    Straight lines between the rows of FPL-GTR-190 / FPL-GTR-282 Table 5-12.

    Raises:
        UnknownNameError: no such property in the table.
        RangeError: a slope outside 0 to 1/5, where the table ends.
    """
    known(name, _REMAINING, "property")
    in_range(slope, "grain_slope", 0.0, STEEPEST_SLOPE, "rise/run")
    values = _REMAINING[name]
    for i in range(1, len(_SLOPES)):
        if slope <= _SLOPES[i]:
            part = (slope - _SLOPES[i - 1]) / (_SLOPES[i] - _SLOPES[i - 1])
            return values[i - 1] + part * (values[i] - values[i - 1])
    return values[-1]


def hankinson(along: float, across: float, angle_rad: float, n: float) -> float:
    """Return a property at an angle to the grain, in the unit of ``along`` and ``across``.

    N = P Q / (P sin^n + Q cos^n). Source: FPL-GTR-282 eq 5-2; n and Q/P in HANKINSON_RANGES.

    Raises:
        RangeError: a property that is not positive, an angle outside 0 to 90 degrees, n out of
            range.
    """
    p = in_range(along, "along", 0.0, open_low=True)
    q = in_range(across, "across", 0.0, open_low=True)
    angle = in_range(angle_rad, "angle_rad", 0.0, math.pi / 2.0, "rad")
    in_range(n, "n", 1.0, 3.0)
    return float(p * q / (p * math.sin(angle) ** n + q * math.cos(angle) ** n))


def stiffness_factor(slope: float, et_over_el: float) -> float:
    """Return the lengthwise stiffness at a slope of grain, over E_L.

    Hankinson's formula with n = 2 (FPL-GTR-190 p. 5-30) and Q/P = E_T/E_L.

    Raises:
        RangeError: a slope or a ratio out of range.
    """
    in_range(slope, "grain_slope", 0.0, STEEPEST_SLOPE, "rise/run")
    in_range(et_over_el, "et_over_el", 0.0, 1.0, open_low=True)
    return hankinson(1.0, et_over_el, math.atan(slope), 2.0)


def combined_slope(one: float, other: float) -> float:
    """Return the slope of grain seen on two adjoining faces taken together.

    The slopes are tangents at right angles, so they add as such. Source: FPL-GTR-190 p. 5-30.

    Raises:
        RangeError: a negative slope.
    """
    in_range(one, "one", 0.0, unit="rise/run")
    in_range(other, "other", 0.0, unit="rise/run")
    return math.hypot(one, other)
