"""Quantities in and out: what makers type, and what a rule or a scale shows; SI inside.

========  =====================================================================
exact     what one inch, pound or psi is, as exact fractions; the table of units
grammar   typed text to signed numbers with units, or a sentence why not
parse     numbers with units to SI, one function for each physical quantity
write     SI to text: fractions of an inch, feet, mm, lb and oz, N, GPa
========  =====================================================================

Source of every factor: the international yard and pound agreement of 1959, as given with the
standard acceleration of gravity in NIST Special Publication 811 (2008), Appendix B.

A general units library does not read ``7' 3 1/2"`` and would be most of the command line's
start-up time, so the grammar is our own; the arithmetic is ``fractions.Fraction``.
"""

from __future__ import annotations

from springloom.units.exact import (
    KILOGRAM_PER_OUNCE,
    KILOGRAM_PER_POUND,
    METRE_PER_FOOT,
    METRE_PER_INCH,
    NEWTON_PER_POUND_FORCE,
    PASCAL_PER_PSI,
    STANDARD_GRAVITY,
)
from springloom.units.parse import (
    Typed,
    parse_density,
    parse_force,
    parse_frequency,
    parse_length,
    parse_mass,
    parse_modulus,
    parse_percent,
    parse_slope,
)
from springloom.units.write import (
    Denominator,
    InchFraction,
    System,
    format_density,
    format_feet,
    format_force,
    format_length,
    format_mass,
    format_modulus,
    nearest_fraction,
)

__all__ = [
    "KILOGRAM_PER_OUNCE",
    "KILOGRAM_PER_POUND",
    "METRE_PER_FOOT",
    "METRE_PER_INCH",
    "NEWTON_PER_POUND_FORCE",
    "PASCAL_PER_PSI",
    "STANDARD_GRAVITY",
    "Denominator",
    "InchFraction",
    "System",
    "Typed",
    "format_density",
    "format_feet",
    "format_force",
    "format_length",
    "format_mass",
    "format_modulus",
    "nearest_fraction",
    "parse_density",
    "parse_force",
    "parse_frequency",
    "parse_length",
    "parse_mass",
    "parse_modulus",
    "parse_percent",
    "parse_slope",
]
