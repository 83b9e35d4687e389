"""The nine elastic constants of wood, and which shear modulus a blank bends with.

Axes: L along the grain, R across the growth rings, T along them. ``nu_ij`` is the strain along j
over the strain along i when only the stress along i acts.

Ring orientation of a board lying on its wide face:

- "flat" (flatsawn): the rings run parallel to the wide face, so the thickness lies along R and
  the width along T. Bending through the thickness shears the L-R plane.
- "quarter" (quartersawn): the rings stand on edge, so the thickness lies along T and the width
  along R. Bending through the thickness shears the L-T plane.
- "mixed" (rift sawn, or not looked at): the mean of the two.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from springloom.errors import InputError, in_range, known
from springloom.wood.species import Checked, Species, checked, read_rows

Ring = Literal["flat", "quarter", "mixed"]
RINGS: tuple[Ring, ...] = ("flat", "quarter", "mixed")

GRT_OVER_EL_ESTIMATE = (0.011 + 0.021 + 0.017 + 0.021) / 4.0
"""G_RT / E_L where none is printed: mean of the hardwoods that have one, balsa left out.

Yellow-poplar, walnut, yellow birch and khaya in FPL-GTR-282 Table 5-1. It is needed for basswood,
white ash, black cherry and sugar maple, and reaches nothing but the full compliance matrix.
"""

RATIO_SD_LN = {"own": 0.15, "stand-in": 0.40}
"""Standard deviation of ln(E/G) of a board about its species' ratio: common practice, no source.

A stand-in says little more than the table as a whole, whose ratios scatter by about 0.45.
"""


@dataclass(frozen=True, slots=True)
class ElasticRatios:
    """One row of the table of elastic ratios: moduli over E_L, and three Poisson ratios."""

    id: str
    et: float
    er: float
    glr: float
    glt: float
    grt: float
    nu_lr: float
    nu_lt: float
    nu_rt: float
    grt_is_estimated: bool
    source: str
    checked: Checked
    note: str


@dataclass(frozen=True, slots=True)
class Orthotropic:
    """Nine independent elastic constants, Pa and bare ratios; the rest follows by reciprocity.

    Raises:
        RangeError: a modulus that is not positive or a Poisson ratio out of range.
        InputError: constants that no material can have (energy not positive).
    """

    e_l_pa: float
    e_r_pa: float
    e_t_pa: float
    g_lr_pa: float
    g_lt_pa: float
    g_rt_pa: float
    nu_lr: float
    nu_lt: float
    nu_rt: float

    def __post_init__(self) -> None:
        """Check every constant, then that the compliance is positive definite."""
        for name in ("e_l_pa", "e_r_pa", "e_t_pa", "g_lr_pa", "g_lt_pa", "g_rt_pa"):
            in_range(getattr(self, name), name, 0.0, unit="Pa", open_low=True)
        for name in ("nu_lr", "nu_lt", "nu_rt"):
            in_range(getattr(self, name), name, -1.0, 2.0)
        if not is_positive_definite(self.compliance()):
            raise InputError("the constants would give energy away", field="nu_rt",
                             given=self.nu_rt, allowed="a positive definite compliance")

    @property
    def nu_rl(self) -> float:
        """Poisson ratio nu_RL = nu_LR E_R / E_L (FPL-GTR-282 eq 5-1)."""
        return self.nu_lr * self.e_r_pa / self.e_l_pa

    @property
    def nu_tl(self) -> float:
        """Poisson ratio nu_TL = nu_LT E_T / E_L (FPL-GTR-282 eq 5-1)."""
        return self.nu_lt * self.e_t_pa / self.e_l_pa

    @property
    def nu_tr(self) -> float:
        """Poisson ratio nu_TR = nu_RT E_T / E_R (FPL-GTR-282 eq 5-1)."""
        return self.nu_rt * self.e_t_pa / self.e_r_pa

    def compliance(self) -> NDArray[np.float64]:
        """Return the 6 x 6 compliance, 1/Pa, in the order LL, RR, TT, RT, LT, LR.

        Shear strains are engineering strains (gamma = 2 epsilon).
        """
        s = np.zeros((6, 6))
        s[0, 0], s[1, 1], s[2, 2] = 1.0 / self.e_l_pa, 1.0 / self.e_r_pa, 1.0 / self.e_t_pa
        s[0, 1] = s[1, 0] = -self.nu_lr / self.e_l_pa
        s[0, 2] = s[2, 0] = -self.nu_lt / self.e_l_pa
        s[1, 2] = s[2, 1] = -self.nu_rt / self.e_r_pa
        s[3, 3], s[4, 4], s[5, 5] = 1.0 / self.g_rt_pa, 1.0 / self.g_lt_pa, 1.0 / self.g_lr_pa
        return s

    def shear_modulus(self, ring: Ring) -> float:
        """Return the shear modulus that bending through the thickness meets, Pa.

        Raises:
            UnknownNameError: no such ring orientation.
        """
        return _pick(ring, flat=self.g_lr_pa, quarter=self.g_lt_pa)

    def width_shear_modulus(self, ring: Ring) -> float:
        """Return the shear modulus that bending across the width (on edge) meets, Pa.

        Raises:
            UnknownNameError: no such ring orientation.
        """
        return _pick(ring, flat=self.g_lt_pa, quarter=self.g_lr_pa)


def is_positive_definite(matrix: NDArray[np.float64]) -> bool:
    """Tell whether a symmetric matrix is positive definite."""
    try:
        np.linalg.cholesky(matrix)
    except np.linalg.LinAlgError:
        return False
    return True


def elastic_ratios(wood: Species) -> ElasticRatios:
    """Return the elastic ratios used for a species: its own or its stand-in's."""
    return _ratios()[wood.elastic_from]


def elastic_constants(wood: Species, e_l_pa: float) -> Orthotropic:
    """Return the nine constants of a piece of this species whose E_L is ``e_l_pa``.

    The ratios are those at about 12 % moisture and are held for every other moisture.

    Raises:
        RangeError: a modulus that is not positive.
    """
    in_range(e_l_pa, "e_l_pa", 0.0, unit="Pa", open_low=True)
    r = elastic_ratios(wood)
    return Orthotropic(e_l_pa, r.er * e_l_pa, r.et * e_l_pa, r.glr * e_l_pa, r.glt * e_l_pa,
                       r.grt * e_l_pa, r.nu_lr, r.nu_lt, r.nu_rt)


def ratio_sd_ln(wood: Species) -> float:
    """Return the standard deviation of ln(E/G) taken for a board of this species."""
    return RATIO_SD_LN["own" if wood.elastic_from == wood.id else "stand-in"]


def _pick(ring: Ring, *, flat: float, quarter: float) -> float:
    known(ring, RINGS, "ring")
    if ring == "mixed":
        return 0.5 * (flat + quarter)
    return flat if ring == "flat" else quarter


@cache
def _ratios() -> dict[str, ElasticRatios]:
    rows = read_rows("elastic_table.csv")
    numbers = ("et", "er", "glr", "glt", "nu_lr", "nu_lt", "nu_rt")
    return {
        row["id"]: ElasticRatios(
            id=row["id"],
            **{name: float(row[name]) for name in numbers},
            grt=float(row["grt"]) if row["grt"] else GRT_OVER_EL_ESTIMATE,
            grt_is_estimated=not row["grt"],
            source=row["source"],
            checked=checked(row["checked"]),
            note=row["note"],
        )
        for row in rows
    }
