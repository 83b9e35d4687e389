"""What makers type, to SI; one function for each physical quantity.

Common to all: text is read by the grammar in ``springloom.units.grammar``; an ``int`` or
``float`` is read as if its shortest decimal form had been typed without a unit. A unit of
another quantity, a number without a unit where none is taken for granted, or a fraction of a
metric unit raises ``QuantityError``; a negative or non-finite number raises ``RangeError``.
Both carry ``field``, ``given`` and ``allowed``. Arithmetic is exact and rounded once, so the
result is the float nearest to the typed quantity. Limits of size belong to whoever asks.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from springloom.errors import known
from springloom.units.exact import GRAVITY, UNITS, Quantity, Unit
from springloom.units.grammar import MAX_CHARACTERS, Question, Term, scan, tidy

Typed = str | int | float
"""What a text box, a command line or a design file hands over."""


@dataclass(frozen=True, slots=True)
class _Want:
    """Quantities taken, each with its factor to the result, and what may be typed."""

    name: str
    factors: dict[Quantity, Fraction]
    allowed: str
    fraction_unit: Unit | None = None


_LENGTH: Final = _Want(
    "length", {"length": Fraction(1)},
    "in, ft, mm, cm or m, as 83 mm, 3.25 in, 3 1/4 or 7' 3\"", UNITS["in"])
_MASS: Final = _Want("mass", {"mass": Fraction(1)}, "g, kg, oz or lb, as 760 g or 1 lb 11 oz")
_FORCE: Final = _Want(
    "force", {"force": Fraction(1), "mass": GRAVITY},
    "N, lbf, kgf, or a hung weight in lb, oz, kg or g, as 10 lbf or 4.5 kg")
_ANGLE: Final = _Want(
    "slope", {"angle": Fraction(1)}, "rise in run or degrees, as 1 in 15, 1:15, 3 deg or straight")
_FREQUENCY: Final = _Want("frequency", {"frequency": Fraction(1)}, "Hz or kHz, as 62 Hz")
_PERCENT: Final = _Want("percentage", {"percentage": Fraction(1)}, "percent, as 12 or 12 %")
_MODULUS: Final = _Want(
    "modulus", {"modulus": Fraction(1)}, "GPa, MPa, Pa, Mpsi or psi, as 8.4 GPa or 1.22 Mpsi")
_DENSITY: Final = _Want(
    "density", {"density": Fraction(1)}, "kg/m3, g/cm3 or lb/ft3, as 360 kg/m3")

_PAIRS: Final = {("ft", "in"): 12, ("lb", "oz"): 16}
_STRAIGHT: Final = re.compile(r"straight|0+(?:\.0+)?")
_RATIO: Final = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?(?:in|:|/) ?([0-9]+(?:\.[0-9]+)?)")


def parse_length(
    text: Typed, *, default: str | None = None, field: str = "length", signed: bool = False
) -> float:
    """Return a length in metres.

    Args:
        text: ``3 1/4``, ``3-1/4``, ``3½"``, ``3.25 in``, ``83mm``, ``8.3 cm``, ``7' 3 1/2"``.
        default: unit of a number without one (``"mm"``, ``"in"``); None refuses such a number.
            A fraction without a unit is inches whatever the default, since makers divide
            nothing else by halves.
        field: where the text came from, for the error.
        signed: take a leading minus, as for a reading below the datum.

    Raises:
        QuantityError: no length, or one that can be read in two ways.
        RangeError: negative without ``signed``, or not finite.
    """
    return _read(text, _LENGTH, field, default, signed=signed)


def parse_mass(text: Typed, *, default: str | None = None, field: str = "mass") -> float:
    """Return a mass in kg from ``27 oz``, ``1 lb 11 oz``, ``4.5 kg`` or ``760 g``.

    Raises:
        QuantityError: no mass (``10 lbf`` is a force), or ambiguous.
        RangeError: negative or not finite.
    """
    return _read(text, _MASS, field, default)


def parse_force(text: Typed, *, default: str | None = None, field: str = "load") -> float:
    """Return a force in N from ``89 N``, ``10 lbf``, ``4 kgf``, or the mass of a hung weight.

    ``10 lb`` and ``4.5 kg`` are taken at standard gravity. This is unambiguous: 1 lbf is by
    definition the standard weight of 1 lb, so a load in "pounds" is the same force whichever
    pound was meant. Local gravity differs from standard by at most 0.3 %.

    Raises:
        QuantityError: no force, or ambiguous.
        RangeError: negative or not finite.
    """
    return _read(text, _FORCE, field, default)


def parse_slope(text: Typed, field: str = "grain_slope") -> float:
    """Return a slope as rise over run: ``1 in 15``, ``1:15``, ``1/15``, ``3 deg``, ``straight``.

    Zero needs no unit; any other bare number could be degrees, percent or a ratio.

    Raises:
        QuantityError: no slope, or a bare number.
        RangeError: negative, or steeper than 1 in 1, which is a ratio written upside down.
    """
    question = Question(field, _shown(text), _ANGLE.allowed)
    plain = tidy(text) if isinstance(text, str) and len(text) <= MAX_CHARACTERS else ""
    ratio = _RATIO.fullmatch(plain)
    if ratio is not None:
        slope = _quotient(ratio, question)
    elif _STRAIGHT.fullmatch(plain) or (text == 0 and not isinstance(text, bool)):
        return 0.0
    else:
        degrees = _read(text, _ANGLE, field, None)
        slope = math.tan(math.radians(degrees)) if degrees < 90 else math.inf
    if slope > 1.0:
        raise question.outside(
            "is steeper than 1 in 1; is the ratio upside down?", "straight to 1 in 1 (45 deg)"
        )
    return slope


def parse_frequency(text: Typed, field: str = "frequency") -> float:
    """Return a frequency in Hz; a number without a unit is Hz.

    Raises:
        QuantityError: no frequency.
        RangeError: negative or not finite.
    """
    return _read(text, _FREQUENCY, field, "hz")


def parse_percent(text: Typed, field: str = "percent") -> float:
    """Return a percentage as its number: 12.0 for ``12 %`` and for ``12``.

    Raises:
        QuantityError: no percentage.
        RangeError: negative or not finite.
    """
    return _read(text, _PERCENT, field, "%")


def parse_modulus(text: Typed, *, default: str | None = None, field: str = "modulus") -> float:
    """Return a modulus or a stress in Pa from ``8.4 GPa``, ``1.22 Mpsi``, ``52 MPa``.

    Raises:
        QuantityError: no modulus, or no unit and no default.
        RangeError: negative or not finite.
    """
    return _read(text, _MODULUS, field, default)


def parse_density(text: Typed, *, default: str | None = None, field: str = "density") -> float:
    """Return a density in kg/m3 from ``360 kg/m3``, ``0.36 g/cm3``, ``22.4 lb/ft3``.

    Raises:
        QuantityError: no density, or no unit and no default.
        RangeError: negative or not finite.
    """
    return _read(text, _DENSITY, field, default)


def _read(
    given: Typed, want: _Want, field: str, default: str | None, *, signed: bool = False
) -> float:
    question = Question(field, _shown(given), want.allowed)
    bare = None if default is None else _default_unit(default, want)
    negative, terms = _terms(given, question)
    alone = len(terms) == 1
    amount = _one(terms[0], want, bare, question) if alone else _two(terms, want, question)
    if negative and amount and not signed:
        raise question.outside("must not be negative", "zero or more")
    try:
        return float(-amount if negative else amount)
    except OverflowError:
        raise question.outside("is too large", "a number below 1e308 in SI units") from None


def _terms(given: object, question: Question) -> tuple[bool, tuple[Term, ...]]:
    if isinstance(given, str):
        return scan(given, question)
    if given is None:
        raise question.refuse("is missing")
    if isinstance(given, bool) or not isinstance(given, int | float):
        raise question.refuse("needs text or a number")
    if isinstance(given, float) and not math.isfinite(given):
        raise question.outside("must be a finite number", "a finite number")
    # repr, so that 83.1 as a number is the same length as "83.1" as text.
    exact = Fraction(given) if isinstance(given, int) else Fraction(repr(float(given)))
    return exact < 0, (Term(abs(exact)),)


def _default_unit(default: str, want: _Want) -> Unit:
    names = [name for name, unit in UNITS.items() if unit.quantity in want.factors]
    return UNITS[known(default.lower(), names, "default")]


def _one(term: Term, want: _Want, bare: Unit | None, question: Question) -> Fraction:
    unit = term.unit or (want.fraction_unit if term.is_fraction else None) or bare
    if unit is None:
        raise question.refuse("needs a unit")
    if unit.quantity not in want.factors:
        raise question.refuse(f"is a {unit.quantity} ({unit.symbol}), not a {want.name}")
    if term.is_fraction and not unit.takes_fractions:
        raise question.refuse(
            f"is a fraction of {unit.symbol}, which may be a slip for inches; write a decimal"
        )
    return term.amount * unit.si * want.factors[unit.quantity]


def _two(terms: tuple[Term, ...], want: _Want, question: Question) -> Fraction:
    large, small = terms[0], terms[1]
    if large.unit is None:
        raise question.refuse(_why_apart(large, small))
    if small.unit is None:
        raise question.refuse(f"needs a unit for the number after {large.unit.symbol}")
    if len(terms) > 2:
        raise question.refuse("has more than two parts")
    limit = _PAIRS.get((large.unit.symbol, small.unit.symbol))
    if limit is None:
        raise question.refuse(f"adds {large.unit.symbol} and {small.unit.symbol}; give one unit")
    if large.is_fraction or large.amount.denominator != 1:
        raise question.refuse(f"needs whole {large.unit.symbol} before {small.unit.symbol}")
    if small.amount >= limit:
        raise question.refuse(
            f"has {limit} {small.unit.symbol} or more, a whole {large.unit.symbol}, behind the "
            f"{large.unit.symbol}"
        )
    return _one(large, want, None, question) + _one(small, want, None, question)


def _why_apart(first: Term, second: Term) -> str:
    if second.is_fraction and not first.is_fraction:
        return "mixes a decimal and a fraction"
    return "has two numbers side by side; is a unit or a fraction missing?"


def _quotient(ratio: re.Match[str], question: Question) -> float:
    rise, run = Fraction(ratio[1]), Fraction(ratio[2])
    if run == 0:
        raise question.refuse("divides by zero")
    return float(rise / run)


def _shown(given: object) -> object:
    """Return what an error may carry: never a thing whose own text is unbounded."""
    if given is None or isinstance(given, str | bool | float):
        return given
    if isinstance(given, int):
        bits = given.bit_length()
        return given if bits <= 64 else f"an integer of {bits} bits"
    return f"a {type(given).__name__}"
