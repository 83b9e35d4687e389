"""What one inch, pound or psi is: exact fractions of SI, and the names makers give them.

Source: international yard and pound agreement (1959): 1 yd = 0.9144 m, 1 lb = 0.45359237 kg,
both exact; standard acceleration of gravity 9.80665 m/s2, exact (3rd CGPM, 1901). All stand in
NIST Special Publication 811 (2008), Appendix B. Nothing here is rounded until a float leaves.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

Quantity = Literal[
    "length", "mass", "force", "angle", "frequency", "percentage", "modulus", "density"
]

FOOT: Final = Fraction("0.9144") / 3
INCH: Final = FOOT / 12
POUND: Final = Fraction("0.45359237")
OUNCE: Final = POUND / 16
GRAVITY: Final = Fraction("9.80665")
POUND_FORCE: Final = POUND * GRAVITY
PSI: Final = POUND_FORCE / INCH**2
POUND_PER_CUBIC_FOOT: Final = POUND / FOOT**3

METRE_PER_FOOT: Final = float(FOOT)
METRE_PER_INCH: Final = float(INCH)
KILOGRAM_PER_POUND: Final = float(POUND)
KILOGRAM_PER_OUNCE: Final = float(OUNCE)
STANDARD_GRAVITY: Final = float(GRAVITY)
"""Weight of one kilogram, N; the true value differs from it by at most 0.3 % on Earth."""
NEWTON_PER_POUND_FORCE: Final = float(POUND_FORCE)
PASCAL_PER_PSI: Final = float(PSI)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: how it is printed, what it measures, its size in SI, and how makers divide it."""

    symbol: str
    quantity: Quantity
    si: Fraction
    takes_fractions: bool = False


_MILLI: Final = Fraction(1, 1000)

_NAMES: Final[tuple[tuple[Unit, str], ...]] = (
    (Unit("in", "length", INCH, takes_fractions=True), '" in inch inches'),
    (Unit("ft", "length", FOOT, takes_fractions=True), "' ft foot feet"),
    (Unit("mm", "length", _MILLI), "mm millimetre millimetres millimeter millimeters"),
    (Unit("cm", "length", 10 * _MILLI), "cm centimetre centimetres centimeter centimeters"),
    (Unit("m", "length", Fraction(1)), "m metre metres meter meters"),
    (Unit("g", "mass", _MILLI), "g gram grams"),
    (Unit("kg", "mass", Fraction(1)), "kg kilogram kilograms"),
    (Unit("oz", "mass", OUNCE, takes_fractions=True), "oz ounce ounces"),
    (Unit("lb", "mass", POUND, takes_fractions=True), "lb lbs pound pounds"),
    (Unit("N", "force", Fraction(1)), "n newton newtons"),
    (Unit("lbf", "force", POUND_FORCE, takes_fractions=True), "lbf"),
    (Unit("kgf", "force", GRAVITY), "kgf"),
    # A degree is no rational part of a radian, so angles stay in degrees until they leave.
    (Unit("deg", "angle", Fraction(1)), "° deg degree degrees"),
    (Unit("Hz", "frequency", Fraction(1)), "hz hertz"),
    (Unit("kHz", "frequency", Fraction(1000)), "khz"),
    (Unit("%", "percentage", Fraction(1)), "% percent"),
    (Unit("Pa", "modulus", Fraction(1)), "pa"),
    (Unit("MPa", "modulus", Fraction(10**6)), "mpa n/mm2 n/mm²"),
    (Unit("GPa", "modulus", Fraction(10**9)), "gpa"),
    (Unit("psi", "modulus", PSI), "psi"),
    (Unit("Mpsi", "modulus", PSI * 10**6), "mpsi"),
    (Unit("kg/m3", "density", Fraction(1)), "kg/m3 kg/m³"),
    (Unit("g/cm3", "density", Fraction(1000)), "g/cm3 g/cm³"),
    (Unit("lb/ft3", "density", POUND_PER_CUBIC_FOOT), "lb/ft3 lb/ft³ lbs/ft3 lbs/ft³"),
)

UNITS: Final[dict[str, Unit]] = {name: unit for unit, names in _NAMES for name in names.split()}
"""Unit by the lower-case name a maker types; no two units share a name, whatever the case."""
