"""Conversion factors against a published table.

Source: NIST Special Publication 811 (2008), Appendix B.8, "Factors for units listed
alphabetically", to the seven digits printed there. Exact factors (bold in the table) are those
of the international yard and pound agreement of 1959.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from springloom import units

PUBLISHED: list[tuple[Callable[..., float], str, float]] = [
    (units.parse_length, "1 in", 2.54e-02),
    (units.parse_length, "1 ft", 3.048e-01),
    (units.parse_mass, "1 lb", 4.535924e-01),
    (units.parse_mass, "1 oz", 2.834952e-02),
    (units.parse_force, "1 lbf", 4.448222e00),
    (units.parse_force, "1 kgf", 9.80665e00),
    (units.parse_modulus, "1 psi", 6.894757e03),
    (units.parse_density, "1 lb/ft3", 1.601846e01),
    (units.parse_density, "1 g/cm3", 1.0e03),
]


@pytest.mark.parametrize(("parse", "text", "published"), PUBLISHED)
def test_factor_agrees_with_sp_811(
    parse: Callable[..., float], text: str, published: float
) -> None:
    # Half a unit of the seventh significant digit, the last one printed.
    tolerance = 0.5 * 10.0 ** (math.floor(math.log10(published)) - 6)
    assert abs(parse(text) - published) <= tolerance
