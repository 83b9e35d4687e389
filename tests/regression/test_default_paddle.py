"""Our own past numbers for the default paddle: they may change, but not unnoticed."""

from __future__ import annotations

import numpy as np
import pytest

from springloom.fit.bend import Target, design_for_bend
from springloom.mechanics.analysis import analyse
from springloom.mechanics.beam import Load
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import Clamped, TwoHands, clamped_line, hands_line, tip_deflection
from springloom.mechanics.stiffness import torsion_rigidity
from springloom.shape.paddle import default_paddle
from springloom.wood.material import Material, species_material

DIGITS = 1e-6
"""The numbers below were noted to eight figures or more; machines differ by rounding alone."""

PADDLE = default_paddle()
HALF = PADDLE.a
BENCH = Material("bench wood", e_pa=8e9, g_pa=7e8, g_width_pa=7.5e8, density_kg_m3=350.0,
                 mor_pa=4e7, comp_pa=2.5e7, shear_pa=5e6, tperp_pa=1e6)
"""Round numbers, so that what is known of woods may change without touching the mechanics."""


@pytest.mark.parametrize(
    ("x", "half_width", "top", "ridge", "edge", "area", "i_flat"),
    [
        (0.10, 0.016, 0.019, 0.55228475, 0.55228475, 9.5531159e-4, 8.6241016e-8),
        (0.28, 0.0195, 0.017, 0.4, 0.35527736, 9.3518347e-4, 6.1165511e-8),
        (0.50, 0.031323227, 0.011575699, 0.45818066, 0.22290667, 9.9930262e-4, 3.0200078e-8),
        (0.70, 0.037006874, 0.0085101049, 0.50429437, 0.37692518, 9.2697658e-4, 1.5866592e-8),
        (0.90, 0.041077003, 0.0064218241, 0.54110969, 0.52611743, 8.2034780e-4, 8.3765063e-9),
        (1.09, 0.02313103, 0.0042388887, 0.55228475, 0.73040101, 3.2328896e-4, 1.5247162e-9),
    ],
)
def test_sections_along_it(
    x: float, half_width: float, top: float, ridge: float, edge: float, area: float, i_flat: float
) -> None:
    found = HALF.section(x)
    numbers = [found.half_width, found.top, found.ridge_top, found.edge, found.area, found.i_flat]
    assert numbers == pytest.approx([half_width, top, ridge, edge, area, i_flat], rel=DIGITS)


def test_how_it_bends() -> None:
    assert tip_deflection(HALF, BENCH) == pytest.approx(0.038244391, rel=DIGITS)
    read = clamped_line(HALF, BENCH, Clamped(read=(0.5, 0.8)), large=False)
    assert read.at(0.5) == pytest.approx(0.0020457732, rel=DIGITS)
    assert read.at(0.8) == pytest.approx(0.013809436, rel=DIGITS)
    at = TwoHands().load_at
    assert hands_line(PADDLE, BENCH).at(at) == pytest.approx(0.034388205, rel=DIGITS)


def test_how_it_bends_deeply() -> None:
    hard = Clamped(loads=(Load(HALF.tip, 120.0),))
    assert clamped_line(HALF, BENCH, hard).deflection_ends[-1] == pytest.approx(0.10082378,
                                                                              rel=DIGITS)


def test_what_its_bend_is_like() -> None:
    found = analyse(PADDLE, BENCH).a.line.character
    assert (found.fair, found.progressive) == (True, True)
    assert found.progression == pytest.approx(1.7834228, rel=DIGITS)
    assert found.growth_share == pytest.approx(0.59963792, rel=DIGITS)
    assert found.peak_m == pytest.approx(0.72958186, rel=DIGITS)
    (spot,) = found.spots
    assert spot.kind == "soft"
    numbers = [spot.from_m, spot.to_m, spot.excess]
    assert numbers == pytest.approx([0.99738035, 1.0272699, 0.13898457], rel=DIGITS)


def test_its_margins() -> None:
    found = analyse(PADDLE, BENCH).a
    assert {m.case: m.margin for m in found.margins} == pytest.approx(
        {"hard stroke": 1.4831102, "extended brace": 1.3713533,
         "leaned on across the boat": 1.9774803, "tip caught": 2.1320545}, rel=DIGITS)
    assert found.splitting.index == pytest.approx(1.0188512, rel=DIGITS)


def test_its_tones() -> None:
    found = analyse(PADDLE, BENCH)
    assert found.free_hz == pytest.approx((28.646383, 57.194049), rel=DIGITS)
    assert found.a.clamped_hz == pytest.approx((27.724981, 125.56284), rel=DIGITS)


def test_its_twist() -> None:
    places = HALF.values(HALF.parameter(np.array([0.3, 0.68, 1.0])))
    found = torsion_rigidity(places, BENCH)
    assert found == pytest.approx([102.38622, 47.270430, 14.749679], rel=DIGITS)


def test_its_weight() -> None:
    found = mass_properties(PADDLE, BENCH)
    assert found.volume_m3 == pytest.approx(0.0019763544, rel=DIGITS)
    assert found.mass_kg == pytest.approx(0.69172405, rel=DIGITS)
    assert found.swing_inertia_kg_m2 == pytest.approx(0.24785271, rel=DIGITS)
    assert found.buoyancy_n == pytest.approx(12.597920, rel=DIGITS)


def test_a_blade_made_for_36_mm() -> None:
    found = design_for_bend(HALF, BENCH, Target(0.036))
    assert found.binding == ()
    assert found.mass_kg == pytest.approx(0.70351890, rel=DIGITS)
    crowns = [0.035017376, 0.024991916, 0.017960970, 0.012962659, 0.010683325, 0.0080124938]
    assert [s.crown for s in found.half.stations] == pytest.approx(crowns, rel=DIGITS)


@pytest.mark.parametrize(("species", "deflection", "hands", "mass"), [
    ("western_redcedar", 0.037213139, 0.033462573, 0.70481014),
    ("sitka_spruce", 0.026329542, 0.023714805, 0.88101267),
])
def test_in_the_two_usual_woods(
    species: str, deflection: float, hands: float, mass: float
) -> None:
    wood = species_material(species)
    assert tip_deflection(HALF, wood) == pytest.approx(deflection, rel=DIGITS)
    assert analyse(PADDLE, wood).hands_m == pytest.approx(hands, rel=DIGITS)
    assert mass_properties(PADDLE, wood).mass_kg == pytest.approx(mass, rel=DIGITS)
