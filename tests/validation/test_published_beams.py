"""Beams, deep bends and tapered cantilevers against numbers and formulas other people published."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from springloom.mechanics.axis import half_axis
from springloom.mechanics.beam import Load, cantilever, overhang
from springloom.mechanics.elastica import bend_deeply
from springloom.mechanics.setups import STANDARD_LOAD, tip_deflection
from springloom.mechanics.stiffness import SHEAR_COEFFICIENT, rigidity
from springloom.shape.paddle import default_paddle
from springloom.wood.material import species_material
from tests.verification.hand_beams import frequencies, rigid, straight

CEDAR = species_material("western_redcedar")
HALF = default_paddle().a

EXACT = 1e-10  # the formulas are exact and Gauss's rule integrates them without error


# --- deep bends -------------------------------------------------------------------------------

# K. Mattiasson, Numerical results from large deflection beam and frame problems analysed by means
# of elliptic integrals, Int. J. Numer. Methods Eng. 17 (1981) 145–153, Table 1: a cantilever under
# an end load, PL²/EI; w/L down and u/L back, with five decimals. From memory.
MATTIASSON = [
    (1.0, 0.30172, 0.05643),
    (2.0, 0.49346, 0.16064),
    (5.0, 0.71379, 0.38763),
    (10.0, 0.81061, 0.55500),
]


@pytest.mark.parametrize(("load", "down", "back"), MATTIASSON)
def test_deep_bend_is_mattiassons_table(load: float, down: float, back: float) -> None:
    axis = straight(np.linspace(0.0, 1.0, 5), points=12)
    bent = bend_deeply(axis, rigid(axis, 1.0), [Load(1.0, load)])
    # Half a unit in his last decimal.
    assert bent.deflection_ends[-1] == pytest.approx(down, abs=5e-6)
    assert 1.0 - axis.integral(np.cos(bent.slope)) == pytest.approx(back, abs=5e-6)


# --- wooden beams -----------------------------------------------------------------------------


# FPL-GTR-282, Wood Handbook, eq (9-2) and Table 9-1: δ = kb W L³/EI + ks W L/GA′, with A′ = 5bh/6
# for a rectangle. Coefficients from memory.
def test_wood_handbook_cantilever_with_a_load_at_its_end() -> None:
    ei, ga, length, load = 130.0, 2.0e4, 0.8, 44.5
    axis = straight([0.0, length])
    found = cantilever(axis, rigid(axis, ei, ga), [Load(length, load)])
    exact = load * length**3 / (3.0 * ei) + load * length / ga  # kb = 1/3, ks = 1
    assert found.deflection_ends[-1] == pytest.approx(exact, rel=EXACT)


@pytest.mark.parametrize(("places", "kb", "ks"), [
    ((0.5,), 1.0 / 48.0, 1.0 / 4.0),  # concentrated at midspan
    ((0.25, 0.75), 11.0 / 768.0, 1.0 / 8.0),  # half at each outer quarter point
])
def test_wood_handbook_beam_on_two_supports(
    places: tuple[float, ...], kb: float, ks: float
) -> None:
    ei, ga, length, load = 900.0, 3.0e5, 2.0, 200.0
    cuts = sorted({0.0, 0.5 * length, length, *(share * length for share in places)})
    axis = straight(cuts)
    loads = [Load(share * length, load / len(places)) for share in places]
    found = overhang(axis, rigid(axis, ei, ga), (0.0, length), loads).at(0.5 * length)
    exact = kb * load * length**3 / ei + ks * load * length / ga
    assert found == pytest.approx(exact, rel=EXACT)


def test_aisc_beam_overhanging_one_support() -> None:
    # AISC Steel Construction Manual, Table 3-23, case 26 (from memory): Δ = Pa²(l + a)/3EI at
    # the end of the overhang a, and 0.0642 P a l²/EI upward at l/√3 between the supports.
    ei, span, reach, load = 130.0, 0.508, 0.635, 89.0
    hump = span / math.sqrt(3.0)
    axis = straight([0.0, hump, span, span + reach])
    found = overhang(axis, rigid(axis, ei), (0.0, span), [Load(span + reach, load)])
    down = load * reach**2 * (span + reach) / (3.0 * ei)
    assert found.deflection_ends[-1] == pytest.approx(down, rel=EXACT)
    # The printed 0.0642 is 1/(9√3) to three figures.
    assert -found.at(hump) == pytest.approx(0.0642 * load * reach * span**2 / ei, rel=1e-3)
    assert -found.at(hump) == pytest.approx(load * reach * span**2 / (9 * math.sqrt(3) * ei))


def test_roark_cantilever_loaded_part_way() -> None:
    # Roark's Formulas for Stress and Strain, Table 8.1, case 1a (from memory): at the free end
    # y = W(2l³ − 3l²a + a³)/6EI, a measured from the free end.
    ei, length, load, a = 130.0, 0.8, 44.5, 0.3
    axis = straight([0.0, length - a, length])
    found = cantilever(axis, rigid(axis, ei), [Load(length - a, load)])
    exact = load * (2.0 * length**3 - 3.0 * length**2 * a + a**3) / (6.0 * ei)
    assert found.deflection_ends[-1] == pytest.approx(exact, rel=EXACT)


# --- shear ------------------------------------------------------------------------------------


def test_shear_coefficient_is_the_energy_one_of_an_ellipse() -> None:
    # Zhuravskii's τ = VQ/Ib has the energy V²/2kGA with k = I²/(A ∫ Q²/b dz), 9/10 for a circle
    # and any ellipse (Timoshenko, Strength of Materials, part 1: a factor of 10/9).
    inertia, area = math.pi / 4.0, math.pi

    def slice_energy(z: float) -> float:
        half_chord = math.sqrt(1.0 - z * z)
        return (2.0 / 3.0 * half_chord**3) ** 2 / (2.0 * half_chord)

    energy, _ = quad(slice_energy, -1.0, 1.0)
    assert inertia**2 / (area * energy) == pytest.approx(SHEAR_COEFFICIENT, rel=1e-9)


@pytest.mark.parametrize("coefficient", [5.0 / 6.0, 6.0 / 7.0], ids=["rectangle", "circle"])
def test_other_shear_coefficients_change_a_blade_by_less_than_a_thousandth(
    coefficient: float,
) -> None:
    # G. R. Cowper, The shear coefficient in Timoshenko's beam theory, J. Appl. Mech. 33 (1966),
    # at ν = 0: 10(1 + ν)/(12 + 11ν) of a rectangle, 6(1 + ν)/(7 + 6ν) of a circle.
    axis = half_axis(HALF, HALF.loom.root)
    plain = rigidity(axis, CEDAR)
    share = axis.integral(STANDARD_LOAD / plain.shear) / tip_deflection(HALF, CEDAR)
    assert share < 0.01  # shear's whole part of the deflection
    assert share * (SHEAR_COEFFICIENT / coefficient - 1.0) < 1e-3


# --- vibration --------------------------------------------------------------------------------


# R. D. Blevins, Formulas for Natural Frequency and Mode Shape (1979), Table 8-1 (from memory):
# λ of f = λ²/(2πL²) √(EI/m).
@pytest.mark.parametrize(("free", "roots"), [
    (False, [1.87510407, 4.69409113]), (True, [4.73004074, 7.85320462]),
], ids=["clamped–free", "free–free"])
def test_uniform_bar_is_blevins_table(free: bool, roots: list[float]) -> None:
    axis = straight(np.linspace(0.0, 1.0, 61))
    found = np.sqrt(frequencies(axis, rigid(axis, 1.0), free=free))
    # (k h)⁴/1440 with sixty elements, and rounding of a matrix of condition 1e8.
    assert found == pytest.approx(roots, rel=1e-6)


# G. Kirchhoff, Über die Transversalschwingungen eines Stabes von veränderlichem Querschnitt,
# Monatsberichte der Königlich Preussischen Akademie der Wissenschaften zu Berlin (1879): the first
# ω L² √(m₀/EI₀) of a wedge and of a cone (digits from memory).
@pytest.mark.parametrize(("order", "printed"), [(1, 5.315), (2, 8.719)], ids=["wedge", "cone"])
def test_tapered_to_a_point_is_kirchhoffs_number(order: int, printed: float) -> None:
    axis = straight(1.0 - np.linspace(1.0, 0.0, 41) ** 2)
    stiff = rigid(axis, lambda x: (1.0 - x) ** (order + 2), mass=lambda x: (1.0 - x) ** order)
    assert frequencies(axis, stiff)[0] == pytest.approx(printed, abs=5e-4)  # half his last digit


# H. H. Mabie & C. B. Rogers, Transverse vibrations of double-tapered cantilever beams, J. Acoust.
# Soc. Am. 51 (1972) 1771–1774, as printed in the reference solution of code_aster's test SDLL09
# (V2.02.009): f = λ h₁ √(E/12ρ)/(2πL²), a clamped end four times as thick as the free one and four
# or five times as wide. Nearer to a paddle's blade than any other published cantilever.
@pytest.mark.parametrize(("widths", "printed"), [
    (4.0, [23.289, 73.9, 165.23, 299.7, 478.1]),
    (5.0, [24.308, 75.56, 167.21, 301.9, 480.4]),
])
def test_double_taper_is_mabie_and_rogers(widths: float, printed: list[float]) -> None:
    axis = straight(np.linspace(0.0, 1.0, 41))

    def thick(x: np.typing.NDArray[np.float64]) -> np.typing.NDArray[np.float64]:
        return 4.0 - 3.0 * x

    def wide(x: np.typing.NDArray[np.float64]) -> np.typing.NDArray[np.float64]:
        return widths - (widths - 1.0) * x

    # h₁ = b₁ = L = 1 and E/12 = ρ = 1: EI = b h³, m = b h, ω = λ.
    stiff = rigid(axis, lambda x: wide(x) * thick(x) ** 3, mass=lambda x: wide(x) * thick(x))
    found = frequencies(axis, stiff, count=5)
    # Three to four figures are printed, from a numerical integration of 1972; ours move by 1e-6
    # when the elements are halved.
    assert found == pytest.approx(printed, rel=5e-4)
