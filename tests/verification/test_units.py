"""Quantities in and out: accepted and refused text, and printed text read back.

Expected values are exact fractions of SI from the international yard and pound agreement of
1959 (1 yd = 0.9144 m, 1 lb = 0.45359237 kg) and standard gravity 9.80665 m/s2, all in NIST
Special Publication 811 (2008), Appendix B.
"""

from __future__ import annotations

import dataclasses
import math
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from springloom import units
from springloom.errors import (
    InputError,
    QuantityError,
    RangeError,
    SpringloomError,
    UnknownNameError,
)
from springloom.units import (
    Denominator,
    InchFraction,
    System,
    format_feet,
    format_force,
    format_length,
    format_mass,
    format_modulus,
    nearest_fraction,
    parse_density,
    parse_force,
    parse_frequency,
    parse_length,
    parse_mass,
    parse_modulus,
    parse_percent,
    parse_slope,
)

Parse = Callable[..., float]

INCH = Fraction("0.9144") / 36
FOOT = 12 * INCH
MM = Fraction(1, 1000)
POUND = Fraction("0.45359237")
OUNCE = POUND / 16
G = Fraction("9.80665")
PSI = POUND * G / INCH**2

LENGTHS: list[tuple[str, Fraction]] = [
    ("3 1/4", Fraction(13, 4) * INCH),
    ("3-1/4", Fraction(13, 4) * INCH),
    ("3 1 / 4", Fraction(13, 4) * INCH),
    ("3.25 in", Fraction(13, 4) * INCH),
    ("3.25in.", Fraction(13, 4) * INCH),
    (".5 in", INCH / 2),
    ('3 1/4"', Fraction(13, 4) * INCH),
    ("3 1/4 inches", Fraction(13, 4) * INCH),
    ("1 inch", INCH),
    ("83mm", 83 * MM),
    ("83 MM", 83 * MM),
    ("8.3 cm", 83 * MM),
    ("2.21 m", 2210 * MM),
    ("2210 millimetres", 2210 * MM),
    ("1/64", INCH / 64),
    ("5/4", Fraction(5, 4) * INCH),
    ("1/3", INCH / 3),
    ("7'", 7 * FOOT),
    ("7' 3\"", 87 * INCH),
    ("7'3\"", 87 * INCH),
    ("7'-3\"", 87 * INCH),
    ("7'3''", 87 * INCH),
    ("7' 3 1/2\"", Fraction(175, 2) * INCH),
    ("7'-3-1/2\"", Fraction(175, 2) * INCH),
    ("7 ft 3 in", 87 * INCH),
    ("7ft3in", 87 * INCH),
    ("7 ft. 3 in.", 87 * INCH),
    ("7 feet 3.5 inches", Fraction(175, 2) * INCH),
    ("7 1/2 ft", Fraction(15, 2) * FOOT),
    ("7\N{RIGHT SINGLE QUOTATION MARK} 3\N{RIGHT DOUBLE QUOTATION MARK}", 87 * INCH),
    ("7\N{PRIME} 3\N{DOUBLE PRIME}", 87 * INCH),
    ("3\N{NON-BREAKING HYPHEN}1\N{FRACTION SLASH}4", Fraction(13, 4) * INCH),
    ("83\N{NO-BREAK SPACE}mm", 83 * MM),
    ("½", INCH / 2),
    ("3½", Fraction(7, 2) * INCH),
    ("3 ½ in", Fraction(7, 2) * INCH),
    ("3-½", Fraction(7, 2) * INCH),
    ('7\' ½"', 7 * FOOT + INCH / 2),
    *((f"2{sign}", (2 + Fraction(part)) * INCH) for sign, part in (
        ("¼", "1/4"), ("¾", "3/4"), ("⅛", "1/8"), ("⅜", "3/8"), ("⅝", "5/8"), ("⅞", "7/8"))),
    ("+3 mm", 3 * MM),
    ("0 mm", Fraction(0)),
    ("-0 mm", Fraction(0)),
]

OTHERS: list[tuple[Parse, str, Fraction]] = [
    (parse_mass, "27 oz", 27 * OUNCE),
    (parse_mass, "26 1/2 oz", Fraction(53, 2) * OUNCE),
    (parse_mass, "1 lb 11 oz", 27 * OUNCE),
    (parse_mass, "1lb11.5oz", Fraction("27.5") * OUNCE),
    (parse_mass, "1 1/2 lbs", Fraction(3, 2) * POUND),
    (parse_mass, "4.5 kg", Fraction("4.5")),
    (parse_mass, "760 G", Fraction("0.76")),
    (parse_force, "10 lbf", 10 * POUND * G),
    (parse_force, "10 lb", 10 * POUND * G),
    (parse_force, "10 lb 4 oz", Fraction("10.25") * POUND * G),
    (parse_force, "4.5 kg", Fraction("4.5") * G),
    (parse_force, "4.5 kgf", Fraction("4.5") * G),
    (parse_force, "500 g", Fraction("0.5") * G),
    (parse_force, "20 oz", 20 * OUNCE * G),
    (parse_force, "89 N", Fraction(89)),
    (parse_slope, "1 in 15", Fraction(1, 15)),
    (parse_slope, "1in15", Fraction(1, 15)),
    (parse_slope, "1:15", Fraction(1, 15)),
    (parse_slope, "1/15", Fraction(1, 15)),
    (parse_slope, "1.5 in 20", Fraction("1.5") / 20),
    (parse_slope, "0", Fraction(0)),
    (parse_slope, "0.0", Fraction(0)),
    (parse_slope, "Straight", Fraction(0)),
    (parse_slope, "0 deg", Fraction(0)),
    (parse_slope, "1 in 1", Fraction(1)),
    (parse_frequency, "62 Hz", Fraction(62)),
    (parse_frequency, "62", Fraction(62)),
    (parse_frequency, "0.062 kHz", Fraction(62)),
    (parse_percent, "12 %", Fraction(12)),
    (parse_percent, "12%", Fraction(12)),
    (parse_percent, "12", Fraction(12)),
    (parse_percent, "12.5 percent", Fraction("12.5")),
    (parse_modulus, "8.4 GPa", Fraction(84 * 10**8)),
    (parse_modulus, "52 MPa", Fraction(52 * 10**6)),
    (parse_modulus, "52 N/mm²", Fraction(52 * 10**6)),
    (parse_modulus, "1.22 Mpsi", Fraction("1.22") * 10**6 * PSI),
    (parse_modulus, "1220000 psi", Fraction("1.22") * 10**6 * PSI),
    (parse_modulus, "5 Pa", Fraction(5)),
    (parse_density, "360 kg/m3", Fraction(360)),
    (parse_density, "360 kg/m³", Fraction(360)),
    (parse_density, "0.36 g/cm3", Fraction(360)),
    (parse_density, "22.4 lb/ft3", Fraction("22.4") * POUND / FOOT**3),
]

# Text, and a piece of the sentence that tells why it is refused.
REFUSED_LENGTHS: list[tuple[str, str]] = [
    ("", "is empty"),
    ("   ", "is empty"),
    ("10", "needs a unit"),
    ("3.25", "needs a unit"),
    ("3 1", "side by side"),
    ("1 200 mm", "side by side"),
    ("3 1/4 1/2", "side by side"),
    ("½5", "side by side"),
    ("3.5 1/4", "decimal and a fraction"),
    ("8,3 cm", "comma"),
    ("1,200 mm", "comma"),
    ("1e3", "exponent"),
    ("1.5e-3 m", "exponent"),
    ("nan", "not a finite number"),
    ("-inf", "not a finite number"),
    ("infinity", "not a finite number"),
    ("mm", "begin with a number"),
    ("about 3 in", "begin with a number"),
    ("-", "no number"),
    ("--3 mm", "begin with a number"),
    ("1/0", "divides by zero"),
    ("3 1/0", "divides by zero"),
    ("3 5/4", "a whole or more"),
    ("3 4/4 in", "a whole or more"),
    ("3 1/4 mm", "fraction of mm"),
    ("1/2 m", "fraction of m,"),
    ("1/2 cm", "fraction of cm"),
    ("7' 15\"", "12 in or more"),
    ("7' 12\"", "12 in or more"),
    ("7.5' 3\"", "whole ft"),
    ("7 1/2 ft 3 in", "whole ft"),
    ("7' 3", "unit for the number after ft"),
    ("7' 3\" 1/2 in", "more than two parts"),
    ("3\" 7'", "adds in and ft"),
    ("2 m 21 cm", "adds m and cm"),
    ("7'-8'", "adds ft and ft"),
    ("7 ft.5 in", "can't be read"),
    ("1/2/3", "can't be read"),
    ("1.5/4", "can't be read"),
    ("3.½", "can't be read"),
    ("3 in?", "can't be read"),
    ("3-4 mm", "range"),
    ("3 - 1/4", "range"),
    ("3 -1/4", "range"),
    ("3 furlongs", "unknown unit 'furlongs'"),
    ("10 in/lb", "unknown unit 'in/lb'"),
    ("1 lb", "is a mass (lb)"),
    ("1 lb 11 oz", "is a mass (lb)"),
    ("10 lbf", "is a force (lbf)"),
    ("1" * 65, "longer than 64"),
]

REFUSED_OTHERS: list[tuple[Parse, str, str]] = [
    (parse_mass, "10 lbf", "is a force (lbf), not a mass"),
    (parse_mass, "5 kgf", "is a force (kgf), not a mass"),
    (parse_mass, "27", "needs a unit"),
    (parse_mass, "1 lb 16 oz", "16 oz or more"),
    (parse_mass, "1.5 lb 3 oz", "whole lb"),
    (parse_mass, "1 lb 11", "unit for the number after lb"),
    (parse_mass, "1/2 kg", "fraction of kg"),
    (parse_mass, "3 in", "is a length (in)"),
    (parse_force, "89", "needs a unit"),
    (parse_force, "3 mm", "is a length (mm)"),
    (parse_force, "3 MPa", "is a modulus (MPa)"),
    (parse_slope, "0.07", "needs a unit"),
    (parse_slope, "3", "needs a unit"),
    (parse_slope, "1 in 0", "divides by zero"),
    (parse_slope, "1 in 15 in", "adds in and in"),
    (parse_slope, "7 %", "is a percentage"),
    (parse_slope, "crooked", "begin with a number"),
    (parse_frequency, "3 GPa", "is a modulus (GPa), not a frequency"),
    (parse_percent, "12 1/2 %", "fraction of %"),
    (parse_percent, "12 mm", "is a length"),
    (parse_modulus, "8.4", "needs a unit"),
    (parse_modulus, "10 lbf", "is a force"),
    (parse_density, "360", "needs a unit"),
    (parse_density, "360 kg", "is a mass (kg), not a density"),
]

BELOW_ZERO: list[tuple[Parse, Any]] = [
    (parse_length, "-3 mm"),
    (parse_length, "\N{MINUS SIGN}3 1/4"),
    (parse_mass, "-1 lb 2 oz"),
    (parse_force, "- 5 N"),
    (parse_slope, "-3 deg"),
    (parse_frequency, -62),
    (parse_percent, -0.5),
    (parse_modulus, "-8.4 GPa"),
    (parse_density, "-360 kg/m3"),
]

PARSERS: list[Parse] = [
    parse_length, parse_mass, parse_force, parse_slope, parse_frequency, parse_percent,
    parse_modulus, parse_density,
]


def refusal(parse: Parse, typed: object, **options: Any) -> InputError:
    """Return the error that ``parse`` raises, after checking what every error must carry."""
    with pytest.raises((QuantityError, RangeError)) as caught:
        parse(typed, field="blade.width", **options)
    error = caught.value
    assert error.field == "blade.width"
    assert error.allowed
    assert str(error).startswith("blade.width: ")
    assert len(str(error).splitlines()) == 1
    return error


# --- reading ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "metres"), LENGTHS)
def test_accepted_length(text: str, metres: Fraction) -> None:
    # No tolerance: exact arithmetic rounded once gives the float nearest to the fraction.
    assert parse_length(text) == float(metres)


@pytest.mark.parametrize(("parse", "text", "si"), OTHERS)
def test_accepted_other_quantity(parse: Parse, text: str, si: Fraction) -> None:
    # No tolerance, for the same reason as with lengths.
    assert parse(text) == float(si)


@pytest.mark.parametrize("text", ["3 deg", "3°", "3 degrees", "3\N{MASCULINE ORDINAL INDICATOR}"])
def test_slope_in_degrees_is_its_tangent(text: str) -> None:
    # The same two library calls; nothing to round in between.
    assert parse_slope(text) == math.tan(math.radians(3))


@pytest.mark.parametrize(("text", "reason"), REFUSED_LENGTHS)
def test_refused_length(text: str, reason: str) -> None:
    error = refusal(parse_length, text)
    assert isinstance(error, QuantityError)
    assert reason in error.message
    assert error.given == text


@pytest.mark.parametrize(("parse", "text", "reason"), REFUSED_OTHERS)
def test_refused_other_quantity(parse: Parse, text: str, reason: str) -> None:
    error = refusal(parse, text)
    assert isinstance(error, QuantityError)
    assert reason in error.message
    assert error.given == text


@pytest.mark.parametrize(("parse", "typed"), BELOW_ZERO)
def test_negative_is_out_of_range(parse: Parse, typed: object) -> None:
    error = refusal(parse, typed)
    assert isinstance(error, RangeError)
    assert "negative" in error.message


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("-3 mm", -3 * MM),
        ("\N{MINUS SIGN}3 1/4", -Fraction(13, 4) * INCH),
        ("-3-1/4", -Fraction(13, 4) * INCH),
        ("- 7' 3\"", -87 * INCH),
        ("3 mm", 3 * MM),
    ],
)
def test_signed_reading(text: str, metres: Fraction) -> None:
    assert parse_length(text, signed=True) == float(metres)


@pytest.mark.parametrize("text", ["15 in 1", "1.01 in 1", "45.1 deg", "46 deg", "90°", "400 deg"])
def test_slope_steeper_than_one_in_one_is_out_of_range(text: str) -> None:
    error = refusal(parse_slope, text)
    assert isinstance(error, RangeError)
    assert "steeper" in error.message


@pytest.mark.parametrize("parse", PARSERS)
@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        (None, "is missing"),
        (True, "needs text or a number"),
        (False, "needs text or a number"),
        ([], "needs text or a number"),
        (b"3 in", "needs text or a number"),
        (math.nan, "finite"),
        (math.inf, "finite"),
        (-math.inf, "finite"),
    ],
)
def test_what_is_neither_text_nor_a_finite_number_is_refused(
    parse: Parse, typed: object, reason: str
) -> None:
    assert reason in refusal(parse, typed).message


@pytest.mark.parametrize("digits", [400, 5000])
def test_number_beyond_a_float_is_out_of_range(digits: int) -> None:
    error = refusal(parse_length, 10**digits, default="mm")
    assert isinstance(error, RangeError)
    # Python refuses to print integers of over 4300 digits, so the error may not carry one.
    assert f"{(10**digits).bit_length()} bits" in str(error)


@pytest.mark.parametrize(
    ("default", "unit"), [("mm", MM), ("in", INCH), ("MM", MM), ("cm", 10 * MM)]
)
@pytest.mark.parametrize("number", ["83", "83.1", "0.1"])
def test_bare_number_takes_the_default_as_text_and_as_number(
    number: str, default: str, unit: Fraction
) -> None:
    expected = float(Fraction(number) * unit)
    assert parse_length(number, default=default) == expected
    assert parse_length(float(number), default=default) == expected


@given(number=st.decimals(0, 5000, places=4), default=st.sampled_from(["mm", "in", "ft", "m"]))
def test_number_is_read_as_its_text(number: Decimal, default: str) -> None:
    # No tolerance: the shortest decimal of the float is what was typed (fewer than 16 digits).
    as_text = parse_length(f"{number:f}", default=default)
    assert parse_length(float(number), default=default) == as_text


@pytest.mark.parametrize("default", [None, "mm", "in", "m"])
@pytest.mark.parametrize("text", ["3 1/4", "3-1/4", "3¼"])
def test_bare_fraction_is_inches_whatever_the_default(text: str, default: str | None) -> None:
    assert parse_length(text, default=default) == float(Fraction(13, 4) * INCH)


def test_default_does_not_reach_the_second_of_two_numbers() -> None:
    assert "side by side" in refusal(parse_length, "3 1", default="in").message
    assert "number after ft" in refusal(parse_length, "7' 3", default="in").message


@pytest.mark.parametrize("default", ["lb", "furlong", ""])
def test_default_must_be_a_unit_of_the_quantity(default: str) -> None:
    with pytest.raises(UnknownNameError) as caught:
        parse_length("3", default=default)
    assert caught.value.field == "default"


def test_fraction_of_the_default_mass_unit() -> None:
    assert parse_mass("1/2", default="lb") == float(POUND / 2)
    assert "fraction of g" in refusal(parse_mass, "1/2", default="g").message


def test_pound_hung_and_pound_force_are_the_same_load() -> None:
    assert parse_force("20 lb") == parse_force("20 lbf")
    assert parse_force("20", default="lb") == parse_force("20 lbf")


# --- writing ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("metres", "denominator", "text"),
    [
        (Fraction(13, 4) * INCH, 64, "3 1/4"),
        (INCH / 64, 64, "1/64"),
        (INCH / 64, 32, "1/32"),
        (INCH / 64, 16, "0"),
        (-INCH / 200, 64, "0"),
        (Fraction(0), 64, "0"),
        (7 * INCH, 16, "7"),
        (-Fraction(13, 4) * INCH, 64, "-3 1/4"),
        (Fraction(127, 64) * INCH, 16, "2"),
        (83 * MM, 64, "3 17/64"),
    ],
)
def test_printed_fraction(metres: Fraction, denominator: Denominator, text: str) -> None:
    assert str(nearest_fraction(float(metres), denominator)) == text


def test_printed_examples() -> None:
    # 3 1/4 in is 82.55 mm: a half in the last decimal, which goes away from zero.
    assert format_length(float(Fraction(13, 4) * INCH), "mm") == "82.6 mm"
    assert format_length(float(Fraction(13, 4) * INCH), "in") == "3 1/4 in"
    assert format_length(2.21, "mm", decimals=0) == "2210 mm"
    assert format_length(-0.00001, "mm") == "0.0 mm"
    assert format_feet(float(Fraction(175, 2) * INCH)) == "7' 3 1/2\""
    assert format_feet(float(84 * INCH)) == "7' 0\""
    assert format_feet(float(7 * FOOT - INCH / 200)) == "7' 0\""
    assert format_feet(float(INCH / 2)) == '1/2"'
    assert format_feet(float(-87 * INCH)) == "-7' 3\""
    assert format_mass(0.76, "mm") == "760 g"
    assert format_mass(0.9996, "mm") == "1.000 kg"
    assert format_mass(float(27 * OUNCE), "in") == "1 lb 11.0 oz"
    assert format_mass(float(11 * OUNCE), "in") == "11.0 oz"
    assert format_mass(float(Fraction("15.97") * OUNCE), "in") == "1 lb 0.0 oz"
    assert format_mass(-0.012, "mm") == "-12 g"
    assert format_force(89.0, "mm") == "89.0 N"
    assert format_force(float(20 * POUND * G), "in") == "20.0 lbf"
    assert format_modulus(8.4e9, "mm") == "8.40 GPa"
    assert format_modulus(float(Fraction("1.22") * 10**6 * PSI), "in") == "1.22 Mpsi"
    assert units.format_density(360.0, "mm") == "360 kg/m3"
    assert units.format_density(float(Fraction("22.5") * POUND / FOOT**3), "in") == "22.5 lb/ft3"


@pytest.mark.parametrize("value", [math.nan, math.inf])
@pytest.mark.parametrize(
    "write", [format_length, format_mass, format_force, format_modulus, units.format_density]
)
def test_what_is_not_finite_is_not_printed(write: Callable[..., str], value: float) -> None:
    with pytest.raises(RangeError):
        write(value, "mm")
    with pytest.raises(RangeError):
        write(value, "in")


def test_unknown_system_denominator_and_decimals_are_refused() -> None:
    unknown: Any = "cubits"
    tenth: Any = 10
    with pytest.raises(UnknownNameError):
        format_length(1.0, unknown)
    with pytest.raises(RangeError, match="16, 32 or 64"):
        nearest_fraction(1.0, tenth)
    with pytest.raises(RangeError, match="0 to 9"):
        format_length(1.0, "mm", decimals=-1)


@pytest.mark.parametrize(
    ("whole", "numerator", "denominator", "negative", "field"),
    [
        (-1, 0, 1, False, "whole"),
        (0, 4, 4, False, "numerator"),
        (0, 2, 4, False, "numerator"),
        (0, -1, 4, False, "numerator"),
        (0, 0, 0, False, "denominator"),
        (0, 0, 1, True, "negative"),
    ],
)
def test_inch_fraction_off_the_rule_is_refused(
    whole: int, numerator: int, denominator: int, negative: bool, field: str
) -> None:
    with pytest.raises(RangeError) as caught:
        InchFraction(whole, numerator, denominator, 0.0, negative)
    assert caught.value.field == field


def test_inch_fraction_is_frozen() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        nearest_fraction(0.08).whole = 4  # type: ignore[misc]  # the assignment under test


# --- round trips -----------------------------------------------------------------------------

denominators: st.SearchStrategy[Denominator] = st.sampled_from((16, 32, 64))
systems: st.SearchStrategy[System] = st.sampled_from(("mm", "in"))
lengths = st.floats(-5.0, 5.0)


@given(marks=st.integers(-200 * 64, 200 * 64))
def test_every_mark_of_the_rule_survives_print_and_parse(marks: int) -> None:
    metres = float(Fraction(marks, 64) * INCH)
    # No tolerance: the nearest mark is found exactly, and its metres are rounded once, as here.
    assert parse_length(format_length(metres, "in"), signed=True) == metres
    assert parse_length(format_feet(metres), signed=True) == metres
    # Float arithmetic rounds 0.0254 (< 1 ulp in the product), the product (1/2) and the parsed
    # value (1/2): less than 2 ulp.
    product = marks / 64 * 0.0254
    parsed = parse_length(format_length(product, "in"), signed=True)
    assert abs(parsed - product) <= 2 * math.ulp(product)


@given(metres=lengths, denominator=denominators)
def test_rounding_error_is_what_print_and_parse_lose(
    metres: float, denominator: Denominator
) -> None:
    mark = nearest_fraction(metres, denominator)
    parsed = parse_length(str(mark), signed=True, default="in")
    lost = parsed - metres
    assert parsed == mark.length_m
    # The parsed value is rounded by half an ulp and so is the difference: 1 ulp of the larger.
    assert abs(lost - mark.rounding_error_m) <= math.ulp(max(abs(metres), abs(parsed)))
    # Half a step is the most; 1e-12 of the length is what still counts as a half.
    half = float(INCH / denominator / 2)
    assert abs(mark.rounding_error_m) <= half * (1 + 1e-15) + 1e-12 * abs(metres)


@given(metres=lengths, denominator=denominators)
def test_fraction_is_reduced_proper_and_odd(metres: float, denominator: Denominator) -> None:
    mark = nearest_fraction(metres, denominator)
    assert math.gcd(mark.numerator, mark.denominator) == 1
    assert 0 <= mark.numerator < mark.denominator <= denominator
    # Denominators are powers of two, so a reduced numerator that is there is odd.
    assert mark.numerator % 2 == 1 or (mark.numerator, mark.denominator) == (0, 1)


@given(steps=st.integers(0, 5000), denominator=denominators)
def test_half_a_step_goes_away_from_zero(steps: int, denominator: Denominator) -> None:
    halfway = float(Fraction(2 * steps + 1, 2 * denominator) * INCH)
    expected = float(Fraction(steps + 1, denominator) * INCH)
    # No tolerance: both are the nearest float to the same mark.
    assert nearest_fraction(halfway, denominator).length_m == expected
    assert nearest_fraction(-halfway, denominator).length_m == -expected


@given(metres=lengths, decimals=st.integers(0, 6))
def test_millimetres_survive_within_the_printed_decimals(metres: float, decimals: int) -> None:
    text = format_length(metres, "mm", decimals=decimals)
    half = 0.5 * 10.0**-decimals / 1000
    # Half a unit of the last decimal, what counts as a half (1e-12), and an ulp of the result.
    slack = 1e-12 * abs(metres) + math.ulp(metres)
    assert abs(parse_length(text, signed=True) - metres) <= half * (1 + 1e-15) + slack
    assert len(text.removesuffix(" mm").partition(".")[2]) == decimals


@given(mass=st.floats(0.0, 50.0), system=systems)
def test_mass_survives_within_the_printed_step(mass: float, system: System) -> None:
    step = 0.001 if system == "mm" else float(OUNCE / 10)
    # Half a step; 1e-12 of the mass counts as a half; an ulp for the rounded result.
    tolerance = step / 2 * (1 + 1e-15) + 1e-12 * mass + math.ulp(mass)
    assert abs(parse_mass(format_mass(mass, system)) - mass) <= tolerance


@given(force=st.floats(0.0, 2000.0), system=systems, decimals=st.integers(0, 4))
def test_force_survives_within_the_printed_step(
    force: float, system: System, decimals: int
) -> None:
    unit = 1.0 if system == "mm" else float(POUND * G)
    # As with mass.
    tolerance = unit * 10.0**-decimals / 2 * (1 + 1e-15) + 1e-12 * force + math.ulp(force)
    text = format_force(force, system, decimals=decimals)
    assert abs(parse_force(text) - force) <= tolerance


@given(modulus=st.floats(0.0, 3e10), density=st.floats(0.0, 1500.0), system=systems)
def test_modulus_and_density_survive_within_the_printed_step(
    modulus: float, density: float, system: System
) -> None:
    modulus_step = 1e7 if system == "mm" else 1e4 * float(PSI)
    density_step = 1.0 if system == "mm" else 0.1 * float(POUND / FOOT**3)
    # As with mass.
    slack = 1e-12
    back = parse_modulus(format_modulus(modulus, system))
    assert abs(back - modulus) <= modulus_step / 2 * (1 + slack) + slack * modulus
    back = parse_density(units.format_density(density, system))
    assert abs(back - density) <= density_step / 2 * (1 + slack) + slack * density


# --- invariance and fuzz ---------------------------------------------------------------------


@given(
    case=st.sampled_from([text for text, _ in LENGTHS]),
    change=st.sampled_from([str.upper, str.lower, str.title]),
    gap=st.text(" \t\n\N{NO-BREAK SPACE}\N{THIN SPACE}", min_size=1, max_size=4),
    ends=st.text(" \t\n", max_size=3),
)
def test_case_and_runs_of_spaces_mean_nothing(
    case: str, change: Callable[[str], str], gap: str, ends: str
) -> None:
    typed = ends + gap.join(change(case).split()) + ends
    assert parse_length(typed) == parse_length(case)


typed_text = st.one_of(
    st.text(max_size=40),
    st.text("0123456789 ./-+'\"½¼⅞,:e%°infmtlbozkgNhzpad23²³", max_size=40),
    st.lists(
        st.sampled_from(
            ["1", "3", "15", "0", ".5", "1/4", "½", "-", " ", "/", ".", "'", '"', "in", "ft",
             "mm", "m", "lb", "oz", "lbf", "kg", "g", "N", "deg", "%", "Hz", "GPa", "psi",
             "kg/m3", "lb/ft3", "straight", ":"]
        ),
        max_size=8,
    ).map("".join),
)


def outcome(parse: Parse, typed: str | float, **options: Any) -> float | SpringloomError:
    """Return the number or the error raised on purpose; anything else raised fails the test."""
    try:
        return parse(typed, **options)
    except SpringloomError as error:
        return error


def is_number_or_line(result: float | SpringloomError) -> bool:
    if isinstance(result, SpringloomError):
        return bool(result.field) and len(str(result).splitlines()) == 1
    return math.isfinite(result) and result >= 0


@pytest.mark.parametrize("parse", PARSERS)
@given(text=typed_text)
@example(text="\ud800")
@example(text="3 1/4\x85in\u2028")
@example(text="\N{ARABIC-INDIC DIGIT THREE} mm")
@example(text="9" * 64)
def test_any_text_is_a_finite_number_or_one_line_of_error(parse: Parse, text: str) -> None:
    assert is_number_or_line(outcome(parse, text))


DEFAULTS: dict[Parse, dict[str, str]] = {
    parse_length: {"default": "m"},
    parse_mass: {"default": "lb"},
    parse_force: {"default": "lbf"},
    parse_modulus: {"default": "GPa"},
    parse_density: {"default": "g/cm3"},
}


@pytest.mark.parametrize("parse", PARSERS)
@given(number=st.one_of(st.integers(), st.floats()))
@example(number=10**400)
@example(number=sys.float_info.max)
@example(number=5e-324)
def test_any_number_is_finite_or_one_line_of_error(parse: Parse, number: float) -> None:
    assert is_number_or_line(outcome(parse, number, **DEFAULTS.get(parse, {})))


def test_importing_units_loads_no_numeric_library() -> None:
    code = "import sys, springloom.units; print('numpy' in sys.modules or 'scipy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
