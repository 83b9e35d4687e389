"""How much boards of one species differ, and which differences go together.

Six quantities vary together, as logarithms, in this order: density (through specific gravity),
stiffness, bending strength, compression strength, shear strength, tension across the grain.

Correlation with density. If a property goes as P = a G^b (FPL-GTR-282 Table 5-11), the line of
ln P on ln G has slope b, and a regression slope is rho sigma_P / sigma_G. So
rho = b sigma_G / sigma_P. That takes the relation between species to hold within one; the rest of
each property's spread is independent of density.

Correlation with stiffness. Bending strength and compression strength go with stiffness at 0.7
(from memory: small clear tests commonly report 0.6 to 0.8). Shear and tension across the grain go
with it only through density. Strengths go together only through density and stiffness. Built this
way the matrix is positive definite as long as no strength is explained more than fully.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from springloom.wood.estimates import GRAVITY_RELATIONS
from springloom.wood.lognormal import sd_ln_from_cov
from springloom.wood.species import Group, PropertyName

Quantity = Literal["density", "e", "mor", "comp", "shear", "tperp"]
QUANTITIES: tuple[Quantity, ...] = ("density", "e", "mor", "comp", "shear", "tperp")

COV: dict[Quantity, float] = {
    "density": 0.10, "e": 0.22, "mor": 0.16, "comp": 0.18, "shear": 0.14, "tperp": 0.25,
}
"""Coefficients of variation of clear wood, FPL-GTR-282 Table 5-6 (green, about 50 species).

From memory; the standard deviations in ASTM D2555 agree for all but tension across the grain.
"""

STIFFNESS_CORRELATION = 0.7
"""Correlation of bending and of compression strength with stiffness: from memory."""

_GRAVITY_EXPONENT_OF: dict[Quantity, PropertyName] = {
    "e": "moe_pa", "mor": "mor_pa", "comp": "comp_par_pa", "shear": "shear_pa",
    "tperp": "tperp_pa",
}
_WITH_STIFFNESS: tuple[Quantity, ...] = ("mor", "comp")


def sd_ln(quantity: Quantity) -> float:
    """Return the standard deviation of the logarithm of a quantity between boards."""
    return sd_ln_from_cov(COV[quantity])


def density_correlation(group: Group, quantity: Quantity) -> float:
    """Return the correlation of ln(quantity) with ln(density), from the gravity exponent."""
    if quantity == "density":
        return 1.0
    exponent = GRAVITY_RELATIONS[group][_GRAVITY_EXPONENT_OF[quantity]][1]
    return exponent * sd_ln("density") / sd_ln(quantity)


@cache
def _correlation(group: Group) -> NDArray[np.float64]:
    base = np.eye(2)
    base[0, 1] = base[1, 0] = density_correlation(group, "e")
    to_base = np.array([_to_base(group, quantity, base) for quantity in QUANTITIES])
    solved = np.linalg.solve(base, to_base.T)
    product: NDArray[np.float64] = to_base @ solved
    matrix = 0.5 * (product + product.T)  # symmetric to the last bit
    np.fill_diagonal(matrix, 1.0)
    matrix.setflags(write=False)
    return matrix


def _to_base(group: Group, quantity: Quantity, base: NDArray[np.float64]) -> tuple[float, float]:
    """Return a quantity's correlations with density and with stiffness."""
    with_density = density_correlation(group, quantity)
    if quantity == "e":
        return with_density, 1.0
    if quantity in _WITH_STIFFNESS:
        return with_density, STIFFNESS_CORRELATION
    return with_density, with_density * float(base[0, 1])


def correlation(group: Group) -> NDArray[np.float64]:
    """Return the 6 x 6 correlation of the logarithms, in the order of QUANTITIES (read-only)."""
    return _correlation(group)


def covariance(group: Group) -> NDArray[np.float64]:
    """Return the 6 x 6 covariance of the logarithms, in the order of QUANTITIES."""
    spread = np.array([sd_ln(quantity) for quantity in QUANTITIES])
    scaled: NDArray[np.float64] = correlation(group) * np.outer(spread, spread)
    return scaled
