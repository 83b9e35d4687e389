"""Our own past numbers for wood: they may change, but not unnoticed."""

from __future__ import annotations

import pytest

from springloom.wood.assess import assess
from springloom.wood.board import Board, CentralLoadTest, TapTone
from springloom.wood.material import species_material
from springloom.wood.verdict import judge

DIGITS = 2e-5  # the numbers below were noted to five figures

TESTED = Board(
    "western_redcedar", 2.4, 0.09, 0.038, mass_kg=2.95, moisture_percent=11.0,
    grain_slope=1.0 / 20.0, ring="quarter",
    bending_tests=(CentralLoadTest(2.0, 100.0, 0.0052),), tap_tones=(TapTone(31.0),),
)


@pytest.mark.parametrize(("name", "median", "sd_ln"), [
    ("density_kg_m3", 359.416, 0.00644948),
    ("e_pa", 7.77208e9, 0.0254224),
    ("mor_pa", 4.87711e7, 0.105835),
    ("comp_pa", 3.19626e7, 0.128944),
    ("shear_pa", 6.96706e6, 0.116688),
    ("tperp_pa", 1.49478e6, 0.220306),
])
def test_a_tested_redcedar_board(name: str, median: float, sd_ln: float) -> None:
    number = getattr(assess(TESTED).after, name)
    assert number.median == pytest.approx(median, rel=DIGITS)
    assert number.sd_ln == pytest.approx(sd_ln, rel=DIGITS)


def test_how_each_reading_narrowed_it() -> None:
    found = assess(TESTED)
    spreads = [found.evidence[0].sd_ln_e_before, *(e.sd_ln_e_after for e in found.evidence)]
    assert spreads == pytest.approx([0.218869, 0.203208, 0.0272852, 0.0254224], rel=DIGITS)
    assert judge(found).grade == "use"


@pytest.mark.parametrize(("name", "e_pa", "g_pa", "density", "mor_pa", "tperp_pa"), [
    ("western_redcedar", 8.22188e9, 7.11193e8, 356.621, 3.93112e7, 9.81500e5),
    ("sitka_spruce", 1.16292e10, 7.26824e8, 445.777, 5.34633e7, 1.65070e6),
    ("white_ash", 1.28884e10, 1.19862e9, 668.665, 8.07189e7, 4.19367e6),
])
def test_materials_of_unmeasured_wood(
    name: str, e_pa: float, g_pa: float, density: float, mor_pa: float, tperp_pa: float
) -> None:
    found = species_material(name)
    numbers = [found.e_pa, found.g_pa, found.density_kg_m3, found.mor_pa, found.tperp_pa]
    assert numbers == pytest.approx([e_pa, g_pa, density, mor_pa, tperp_pa], rel=DIGITS)
