"""The numbers the mechanics needs of a wood: medians for stiffness and weight, low strengths.

Stiffness and density are the middle of what is believed, because a bend or a weight is to be
foretold. Strengths are the lower 5 % of what is believed, because they are to be relied on.
"""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import in_range, known
from springloom.wood.assess import BoardAssessment, assess
from springloom.wood.board import Board
from springloom.wood.elastic import Ring, elastic_constants, ratio_sd_ln
from springloom.wood.species import Origin

STRENGTH_QUANTILE = 0.05
"""The share of boards weaker than the strength that is reckoned with."""


@dataclass(frozen=True, slots=True)
class Material:
    """One wood as the mechanics sees it, axes as the blank lies.

    ``e_pa`` is the modulus along the blank. ``g_pa`` is the shear modulus of bending through the
    thickness, ``g_width_pa`` that of bending across the width. Strengths are the lower
    ``strength_quantile``; ``sd_ln_e`` and ``sd_ln_density`` say how sure the medians are,
    ``sd_ln_g_ratio`` how sure G/E is.

    Raises:
        RangeError: a number out of range.
    """

    name: str
    e_pa: float
    g_pa: float
    g_width_pa: float
    density_kg_m3: float
    mor_pa: float
    comp_pa: float
    shear_pa: float
    tperp_pa: float
    sd_ln_e: float = 0.0
    sd_ln_density: float = 0.0
    sd_ln_g_ratio: float = 0.0
    strength_quantile: float = STRENGTH_QUANTILE

    def __post_init__(self) -> None:
        """Check every number."""
        for field in ("e_pa", "g_pa", "g_width_pa", "mor_pa", "comp_pa", "shear_pa", "tperp_pa"):
            in_range(getattr(self, field), field, 0.0, 1e13, "Pa", open_low=True)
        in_range(self.density_kg_m3, "density_kg_m3", 0.0, 25000.0, "kg/m3", open_low=True)
        for field in ("sd_ln_e", "sd_ln_density", "sd_ln_g_ratio"):
            in_range(getattr(self, field), field, 0.0, 2.0)
        in_range(self.strength_quantile, "strength_quantile", 0.0, 0.5, open_low=True)


def material_from(
    assessment: BoardAssessment, strength_quantile: float = STRENGTH_QUANTILE
) -> Material:
    """Return a board's material: medians, and strengths at ``strength_quantile``.

    G follows E by the species' ratio, so a board that tests stiff is taken stiff in shear too.

    Raises:
        RangeError: a quantile outside 0 to 0.5.
    """
    in_range(strength_quantile, "strength_quantile", 0.0, 0.5, open_low=True)
    now, board = assessment.after, assessment.board
    elastic = elastic_constants(assessment.wood, now.e_pa.median)
    return Material(
        name=assessment.wood.common_name,
        e_pa=now.e_pa.median,
        g_pa=elastic.shear_modulus(board.ring),
        g_width_pa=elastic.width_shear_modulus(board.ring),
        density_kg_m3=now.density_kg_m3.median,
        mor_pa=now.mor_pa.quantile(strength_quantile),
        comp_pa=now.comp_pa.quantile(strength_quantile),
        shear_pa=now.shear_pa.quantile(strength_quantile),
        tperp_pa=now.tperp_pa.quantile(strength_quantile),
        sd_ln_e=now.e_pa.sd_ln,
        sd_ln_density=now.density_kg_m3.sd_ln,
        sd_ln_g_ratio=ratio_sd_ln(assessment.wood),
        strength_quantile=strength_quantile,
    )


def species_material(
    species_id: str, origin: Origin = "us", moisture_percent: float = 12.0, ring: Ring = "mixed"
) -> Material:
    """Return the material of a straight-grained board of a species that nobody measured.

    Raises:
        UnknownNameError: no such species, origin or ring orientation.
        RangeError: the moisture is out of range.
    """
    known(ring, ("flat", "quarter", "mixed"), "ring")
    # size is irrelevant without readings; any board will do
    board = Board(species_id, 2.4, 0.09, 0.04, origin=origin, ring=ring, grain_slope=0.0,
                  grain_slope_sd=0.0, moisture_percent=moisture_percent, moisture_sd_percent=0.0)
    return material_from(assess(board))
