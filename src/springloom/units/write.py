"""SI to the text of a rule, a scale or a plan.

Everything is rounded to the nearest step it is printed in, halves away from zero, as makers
round. A float seldom holds a half exactly (3 1/4 in is 82.55 mm, and 0.08255 in binary is a
hair less), so a value within one part in 1e12 of a half counts as the half; no rule shows it.
Whatever is written here is read back by ``springloom.units.parse`` to within half a step.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal

from springloom.errors import RangeError, in_range, known
from springloom.units.exact import INCH, OUNCE, UNITS

System = Literal["mm", "in"]
"""``mm``: millimetres, grams, newtons, GPa; ``in``: inches, pounds and ounces, lbf, Mpsi."""

Denominator = Literal[16, 32, 64]

_HALF_SLACK: Final = Fraction(1, 10**12)
_MAX_DECIMALS: Final = 9


@dataclass(frozen=True, slots=True)
class InchFraction:
    """A length as read off an inch rule: a sign, whole inches and a reduced proper fraction.

    ``rounding_error_m`` is this length less the one it was made from, in m. A whole number
    has numerator 0 and denominator 1; zero is never negative.

    Raises:
        RangeError: the fraction is not proper or not reduced, or a number is negative.
    """

    whole: int
    numerator: int
    denominator: int
    rounding_error_m: float
    negative: bool = False

    def __post_init__(self) -> None:
        """Refuse what can't be found on a rule."""
        in_range(self.whole, "whole", low=0)
        in_range(self.denominator, "denominator", low=1)
        in_range(self.numerator, "numerator", low=0, high=self.denominator - 1)
        in_range(self.rounding_error_m, "rounding_error_m", unit="m")
        if math.gcd(self.numerator, self.denominator) != 1:
            raise RangeError("must be reduced", field="numerator", given=str(self),
                             allowed="lowest terms")
        if self.negative and not self.whole and not self.numerator:
            raise RangeError("must be positive for zero", field="negative", given=True,
                             allowed="False")

    @property
    def length_m(self) -> float:
        """This length in m, as printed."""
        inches = self.whole + Fraction(self.numerator, self.denominator)
        return float((-inches if self.negative else inches) * INCH)

    def __str__(self) -> str:
        """Return ``3 1/4``, ``1/64``, ``0`` or ``-3 1/4``, without a unit."""
        part = f"{self.numerator}/{self.denominator}"
        if not self.numerator:
            text = str(self.whole)
        else:
            text = f"{self.whole} {part}" if self.whole else part
        return f"-{text}" if self.negative else text


def nearest_fraction(length_m: float, denominator: Denominator = 64) -> InchFraction:
    """Return the mark of an inch rule nearest to ``length_m`` (m), halves away from zero.

    Raises:
        RangeError: ``length_m`` is not finite, or ``denominator`` is not 16, 32 or 64.
    """
    if denominator not in (16, 32, 64):
        raise RangeError("is no division of a rule", field="denominator", given=denominator,
                         allowed="16, 32 or 64")
    step = INCH / denominator
    steps = _steps(length_m, step, "length_m")
    error = steps * step - Fraction(length_m)
    whole, over = divmod(abs(steps), denominator)
    part = Fraction(over, denominator)
    return InchFraction(whole, part.numerator, part.denominator, float(error), steps < 0)


def format_length(
    length_m: float, system: System, *, denominator: Denominator = 64, decimals: int = 1
) -> str:
    """Return ``82.6 mm`` or ``3 1/4 in``; ``decimals`` is for mm, ``denominator`` for inches.

    Raises:
        RangeError: not finite, an unknown denominator, or decimals outside 0 to 9.
        UnknownNameError: unknown system.
    """
    if _is_metric(system):
        return _decimal(length_m, "mm", decimals, "length_m")
    return f"{nearest_fraction(length_m, denominator)} in"


def format_feet(length_m: float, denominator: Denominator = 64) -> str:
    """Return feet and inches, ``7' 3 1/2"``; below one foot the inches alone, ``3 1/2"``.

    Raises:
        RangeError: not finite, or an unknown denominator.
    """
    mark = nearest_fraction(length_m, denominator)
    feet, inches = divmod(mark.whole, 12)
    if not feet:
        return f'{mark}"'
    rest = InchFraction(inches, mark.numerator, mark.denominator, mark.rounding_error_m)
    return f"{'-' if mark.negative else ''}{feet}' {rest}\""


def format_mass(mass_kg: float, system: System) -> str:
    """Return ``760 g`` (from 1 kg up ``1.250 kg``), or ``1 lb 11.0 oz`` (below 1 lb ``11.0 oz``).

    Raises:
        RangeError: not finite.
        UnknownNameError: unknown system.
    """
    if _is_metric(system):
        grams = _steps(mass_kg, UNITS["g"].si, "mass_kg")
        large = abs(grams) >= 1000
        return _decimal(mass_kg, "kg" if large else "g", 3 if large else 0, "mass_kg")
    tenths = _steps(mass_kg, OUNCE / 10, "mass_kg")
    pounds, rest = divmod(abs(tenths), 160)
    ounces = f"{rest // 10}.{rest % 10} oz"
    return f"{'-' if tenths < 0 else ''}{f'{pounds} lb ' if pounds else ''}{ounces}"


def format_force(force_n: float, system: System, *, decimals: int = 1) -> str:
    """Return ``89.0 N`` or ``20.0 lbf``.

    Raises:
        RangeError: not finite, or decimals outside 0 to 9.
        UnknownNameError: unknown system.
    """
    return _decimal(force_n, "N" if _is_metric(system) else "lbf", decimals, "force_n")


def format_modulus(modulus_pa: float, system: System, *, decimals: int = 2) -> str:
    """Return ``8.40 GPa`` or ``1.22 Mpsi``.

    Raises:
        RangeError: not finite, or decimals outside 0 to 9.
        UnknownNameError: unknown system.
    """
    return _decimal(modulus_pa, "GPa" if _is_metric(system) else "Mpsi", decimals, "modulus_pa")


def format_density(density_kg_m3: float, system: System) -> str:
    """Return ``360 kg/m3`` or ``22.5 lb/ft3``.

    Raises:
        RangeError: not finite.
        UnknownNameError: unknown system.
    """
    if _is_metric(system):
        return _decimal(density_kg_m3, "kg/m3", 0, "density_kg_m3")
    return _decimal(density_kg_m3, "lb/ft3", 1, "density_kg_m3")


def _is_metric(system: str) -> bool:
    return known(system, ("mm", "in"), "system") == "mm"


def _steps(value: float, step: Fraction, field: str) -> int:
    """Return the whole number of steps nearest to ``value``, halves away from zero."""
    exact = Fraction(in_range(value, field)) / step
    size = abs(exact)
    # Capped, or the slack itself would be a whole step in a number of 1e12 steps.
    count = math.floor(size + Fraction(1, 2) + min(size * _HALF_SLACK, Fraction(1, 1000)))
    return -count if exact < 0 else count


def _decimal(value: float, unit: str, decimals: int, field: str) -> str:
    in_range(decimals, "decimals", 0, _MAX_DECIMALS)
    scale: int = 10**decimals
    count = _steps(value, UNITS[unit.lower()].si / scale, field)
    whole, rest = divmod(abs(count), scale)
    tail = f".{rest:0{decimals}d}" if decimals else ""
    return f"{'-' if count < 0 else ''}{whole}{tail} {unit}"
