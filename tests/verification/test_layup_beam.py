"""Laminated blanks: the transformed section against solid wood, hand formulas and quadrature."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from springloom.errors import ShapeError
from springloom.mechanics.analysis import analyse
from springloom.mechanics.axis import half_axis
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import tip_deflection
from springloom.mechanics.stiffness import (
    SHEAR_COEFFICIENT,
    Rigidity,
    rigidity,
    rigidity_at,
    spread_of,
    strip_moments,
)
from springloom.mechanics.strength import bending_use, margins, weakest_shear
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import Section, quadrant_area, quadrant_first, quadrant_second
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import Material, species_material
from tests.verification.hand_beams import Floats

CEDAR = species_material("western_redcedar")
ASH = species_material("white_ash")
PADDLE = default_paddle()
HALF = PADDLE.a
REACH = HALF_BLANK_M

QUADRATURE = 6e-5
"""What 32 Gauss points across a strip leave of EI where it holds a ridge: the surface has a jump
in its third derivative there, the sharper the ridge the greater."""

KINK = 3e-4
"""The same where a strip's own flat limit meets the surface: a kink inside the strip."""


def channels(section: Section) -> Floats:
    """One section as shape channels, (channels, 1)."""
    crown = section.top + section.bottom
    share = section.top / crown
    return np.array([[section.half_width], [crown], [section.ridge_top], [section.ridge_bottom],
                     [section.edge], [share]])


def across(*walls: float, woods: tuple[Material, ...]) -> Layup:
    """Strips side by side, parted at these places across the blade."""
    ends = (-REACH, *walls, REACH)
    return Layup(tuple(
        Strip(wood, low, high, -REACH, REACH)
        for wood, low, high in zip(woods, ends[:-1], ends[1:], strict=True)
    ))


def through(*walls: float, woods: tuple[Material, ...]) -> Layup:
    """Layers on top of one another, parted at these heights."""
    ends = (-REACH, *walls, REACH)
    return Layup(tuple(
        Strip(wood, -REACH, REACH, low, high)
        for wood, low, high in zip(woods, ends[:-1], ends[1:], strict=True)
    ))


LIKE = Section.symmetric(0.036, 0.009, 0.5, 0.45)
UNLIKE = Section(0.036, 0.013, 0.005, 0.6, 0.4, 0.45)
BOXED = Section.symmetric(0.03, 0.01, 1.0, 1.0)
sections = pytest.mark.parametrize("section", [LIKE, UNLIKE, BOXED],
                                   ids=["like faces", "unlike faces", "rounded rectangle"])


def numbers(found: Rigidity) -> dict[str, float]:
    return {f.name: float(getattr(found, f.name).ravel()[0]) for f in fields(found)}


@sections
def test_strips_of_one_wood_are_solid_wood(section: Section) -> None:
    values = channels(section)
    solid = numbers(rigidity_at(values, CEDAR))
    layups = (Layup.solid(CEDAR), across(-0.01, 0.0, 0.013, woods=(CEDAR,) * 4))
    for layup in layups:
        for name, value in numbers(rigidity_at(values, layup)).items():
            assert value == pytest.approx(solid[name], rel=QUADRATURE, abs=1e-12), name
    layers = through(-0.004, 0.002, woods=(CEDAR,) * 3)
    for name, value in numbers(rigidity_at(values, layers)).items():
        assert value == pytest.approx(solid[name], rel=KINK, abs=1e-6), name


def test_a_paddle_of_one_wood_in_strips_is_that_paddle() -> None:
    strips = across(-0.012, 0.012, woods=(CEDAR,) * 3)
    assert tip_deflection(HALF, strips) == pytest.approx(tip_deflection(HALF, CEDAR),
                                                        rel=QUADRATURE)
    solid, laminated = (mass_properties(PADDLE, build) for build in (CEDAR, strips))
    assert laminated.mass_kg == pytest.approx(solid.mass_kg, rel=QUADRATURE)
    for one, other in zip(margins(PADDLE, CEDAR), margins(PADDLE, strips), strict=True):
        assert other.margin == pytest.approx(one.margin, rel=QUADRATURE)
        assert (other.kind, other.case) == (one.kind, one.case)


def test_left_and_right_halves_of_unlike_wood() -> None:
    # Mirror images: each wood has half of everything, and the neutral axis stays in the middle.
    found = numbers(rigidity_at(channels(LIKE), across(0.0, woods=(CEDAR, ASH))))
    area, inertia = LIKE.area, LIKE.i_flat
    assert found["ei"] == pytest.approx(0.5 * (CEDAR.e_pa + ASH.e_pa) * inertia, rel=QUADRATURE)
    mean_g = 0.5 * (CEDAR.g_pa + ASH.g_pa)
    assert found["shear"] == pytest.approx(SHEAR_COEFFICIENT * mean_g * area, rel=QUADRATURE)
    mean_density = 0.5 * (CEDAR.density_kg_m3 + ASH.density_kg_m3)
    assert found["mass"] == pytest.approx(mean_density * area, rel=QUADRATURE)
    assert found["rotary"] == pytest.approx(mean_density * inertia, rel=QUADRATURE)
    assert found["neutral"] == pytest.approx(0.0, abs=1e-12)


@sections
def test_upper_and_lower_faces_of_unlike_wood(section: Section) -> None:
    # Each face's area and moments are its own closed forms; parted at the widest line there is no
    # kink.
    parts = []
    for height, ridge, sign in ((section.top, section.ridge_top, 1.0),
                                (section.bottom, section.ridge_bottom, -1.0)):
        two = 2.0 * section.half_width
        parts.append((two * height * quadrant_area(ridge, section.edge),
                      sign * two * height**2 * quadrant_first(ridge, section.edge),
                      two * height**3 * quadrant_second(ridge, section.edge)))
    moduli, densities = (ASH.e_pa, CEDAR.e_pa), (ASH.density_kg_m3, CEDAR.density_kg_m3)
    ea, es, ei = (sum(e * part[k] for e, part in zip(moduli, parts, strict=True)) for k in range(3))
    m, ms, mi = (
        sum(d * part[k] for d, part in zip(densities, parts, strict=True)) for k in range(3)
    )
    found = numbers(rigidity_at(channels(section), through(0.0, woods=(CEDAR, ASH))))
    neutral = es / ea
    assert found["neutral"] == pytest.approx(neutral, rel=QUADRATURE)
    assert found["ei"] == pytest.approx(ei - ea * neutral**2, rel=QUADRATURE)
    assert found["mass"] == pytest.approx(m, rel=QUADRATURE)
    # Rotary inertia about the neutral axis, Steiner's theorem from the widest line.
    rotary = mi - 2.0 * neutral * ms + neutral**2 * m
    assert found["rotary"] == pytest.approx(rotary, rel=QUADRATURE)
    assert found["top"] == pytest.approx(section.top - neutral, rel=QUADRATURE)
    assert found["bottom"] == pytest.approx(section.bottom + neutral, rel=QUADRATURE)


@pytest.mark.parametrize(("y", "z"), [
    ((-0.01, 0.01), (-0.004, 0.004)), ((0.002, 0.015), (-0.005, 0.003)),
    ((-0.02, -0.004), (0.001, 0.006)),
])
def test_a_strip_wholly_inside_is_a_rectangle(
    y: tuple[float, float], z: tuple[float, float]
) -> None:
    # Within the rounded rectangle's middle neither face touches these strips.
    area, first, second = strip_moments(channels(BOXED), *y, *z)
    width = y[1] - y[0]
    assert float(area[0]) == pytest.approx(width * (z[1] - z[0]), rel=1e-12)
    assert float(first[0]) == pytest.approx(width * (z[1] ** 2 - z[0] ** 2) / 2.0, rel=1e-11)
    assert float(second[0]) == pytest.approx(width * (z[1] ** 3 - z[0] ** 3) / 3.0, rel=1e-12)


def test_a_core_in_a_rounded_rectangle_by_hand() -> None:
    # EI = E₂I + (E₁ − E₂)bh³/12 for a core of b × h in the middle.
    b, h = 0.02, 0.008
    core = Strip(ASH, -0.5 * b, 0.5 * b, -0.5 * h, 0.5 * h)
    around = (Strip(CEDAR, -REACH, -0.5 * b, -REACH, REACH),
              Strip(CEDAR, 0.5 * b, REACH, -REACH, REACH),
              Strip(CEDAR, -0.5 * b, 0.5 * b, -REACH, -0.5 * h),
              Strip(CEDAR, -0.5 * b, 0.5 * b, 0.5 * h, REACH))
    found = numbers(rigidity_at(channels(BOXED), Layup((core, *around))))
    exact = CEDAR.e_pa * BOXED.i_flat + (ASH.e_pa - CEDAR.e_pa) * b * h**3 / 12.0
    assert found["ei"] == pytest.approx(exact, rel=QUADRATURE)
    area = BOXED.area
    mass = CEDAR.density_kg_m3 * (area - b * h) + ASH.density_kg_m3 * b * h
    assert found["mass"] == pytest.approx(mass, rel=QUADRATURE)


def surface(section: Section, y: float, top: bool) -> float:
    """Height of a face at y, the Bézier curve solved afresh by bracketing."""
    height, r = (section.top, section.ridge_top) if top else (section.bottom, section.ridge_bottom)
    share = abs(y) / section.half_width
    if share >= 1.0:
        return 0.0

    def gap(t: float) -> float:
        return (1.0 - t) ** 3 + 3.0 * (1.0 - t) ** 2 * t + 3.0 * r * (1.0 - t) * t * t - share

    t = 1.0 if y == 0.0 else float(brentq(gap, 0.0, 1.0, xtol=1e-15))
    return height * (3.0 * section.edge * (1.0 - t) ** 2 * t + 3.0 * (1.0 - t) * t * t + t**3)


def numerically(section: Section, strip: Strip) -> tuple[float, float, float]:
    """Area and moments of a strip by adaptive quadrature over y."""
    w = section.half_width
    low, high = max(strip.y_min_m, -w), min(strip.y_max_m, w)

    def slice_moment(y: float, power: int) -> float:
        up = min(surface(section, y, True), strip.z_max_m)
        down = max(-surface(section, y, False), strip.z_min_m)
        return (up**power - down**power) / power if up > down else 0.0

    breaks = [0.0] if low < 0.0 < high else None
    a, b, c = (
        quad(slice_moment, low, high, args=(power,), points=breaks, limit=400, epsrel=1e-9,
             epsabs=1e-18)[0]
        for power in (1, 2, 3)
    )
    return a, b, c


@sections
@pytest.mark.parametrize("strip", [
    Strip(ASH, -0.008, 0.005, -REACH, REACH),
    Strip(ASH, 0.02, 0.03, -REACH, REACH),
    Strip(ASH, 0.025, REACH, -REACH, REACH),
    Strip(ASH, -REACH, REACH, 0.001, REACH),
    Strip(ASH, -0.02, 0.03, -0.003, 0.006),
], ids=["middle", "off the middle", "edge", "upper layer", "block"])
def test_moments_of_a_strip_by_quadrature(section: Section, strip: Strip) -> None:
    exact = numerically(section, strip)
    found = strip_moments(channels(section), strip.y_min_m, strip.y_max_m, strip.z_min_m,
                          strip.z_max_m)
    # Of what a strip of this area can have: a first moment may be nearly nothing.
    size = (exact[0], exact[0] * 0.01, exact[0] * 0.01**2)
    for ours, by_quad, scale in zip(found, exact, size, strict=True):
        assert float(ours[0]) == pytest.approx(by_quad, abs=KINK * scale)


@given(wall=st.floats(-0.03, 0.03))
def test_a_wall_anywhere_leaves_nothing_out(wall: float) -> None:
    left = strip_moments(channels(UNLIKE), -REACH, wall, -REACH, REACH)
    right = strip_moments(channels(UNLIKE), wall, REACH, -REACH, REACH)
    whole = UNLIKE.area
    assert float(left[0][0] + right[0][0]) == pytest.approx(whole, rel=QUADRATURE)


def test_ash_edges_on_cedar_stiffen_less_than_their_weight_says() -> None:
    # Thin where they lie, they add mass by their width but stiffness by the cube of their height.
    edged = across(-0.030, 0.030, woods=(ASH, CEDAR, ASH))
    axis = half_axis(HALF, HALF.loom.root)
    plain, hard = (rigidity(axis, build) for build in (CEDAR, edged))
    stiffer, heavier = hard.ei / plain.ei, hard.mass / plain.mass
    wide = axis.values[0] > 0.031
    assert np.all(stiffer[wide] > 1.0)
    assert np.all(stiffer[wide] - 1.0 < heavier[wide] - 1.0)
    narrow = axis.values[0] < 0.0299
    np.testing.assert_allclose(stiffer[narrow], 1.0, rtol=QUADRATURE)


def test_a_blank_too_narrow_for_the_paddle_is_refused() -> None:
    narrow = Layup((Strip(CEDAR, -0.035, 0.035, -REACH, REACH),))
    with pytest.raises(ShapeError, match="without wood") as caught:
        analyse(PADDLE, narrow)
    assert caught.value.field == "layup"
    assert "% uncovered" in str(caught.value.given)


def test_a_gap_between_strips_is_refused() -> None:
    gap = Layup((Strip(CEDAR, -REACH, -0.002, -REACH, REACH),
                 Strip(CEDAR, 0.002, REACH, -REACH, REACH)))
    with pytest.raises(ShapeError, match="without wood"):
        rigidity_at(channels(LIKE), gap)


# --- strength, strip by strip -----------------------------------------------------------------


MOMENT = np.array([50.0])


def use(section: Section, build: Material | Layup) -> tuple[float, float]:
    values = channels(section)
    found, strength = bending_use(MOMENT, values, rigidity_at(values, build), build)
    return float(found[0]), strength


def test_a_strip_is_stressed_by_its_own_modulus() -> None:
    weak = replace(ASH, mor_pa=0.3 * CEDAR.mor_pa)
    found, strength = use(LIKE, across(-0.004, 0.004, woods=(CEDAR, weak, CEDAR)))
    layup = across(-0.004, 0.004, woods=(CEDAR, weak, CEDAR))
    ei = numbers(rigidity_at(channels(LIKE), layup))["ei"]
    # σ = E M c / EI in the strip that holds the ridge.
    assert found == pytest.approx(weak.e_pa * 50.0 * LIKE.top / ei / weak.mor_pa, rel=1e-12)
    assert strength == weak.mor_pa


def test_a_strip_off_the_middle_bears_what_its_own_height_asks() -> None:
    weak = replace(CEDAR, mor_pa=1e-3 * CEDAR.mor_pa)
    for near in (0.010, 0.020, 0.030):
        layup = across(-near, near, woods=(weak, CEDAR, weak))
        found, _ = use(LIKE, layup)
        height = surface(LIKE, near, top=True)
        exact = 50.0 * height / LIKE.i_flat / weak.mor_pa
        assert found == pytest.approx(exact, rel=QUADRATURE)


def test_a_core_layer_bears_what_its_own_height_asks() -> None:
    core = replace(CEDAR, mor_pa=0.1 * CEDAR.mor_pa)
    layup = through(-0.003, 0.003, woods=(CEDAR, core, CEDAR))
    found, strength = use(LIKE, layup)
    # A tenth of the strength at a third of the reach: the core rules.
    assert found == pytest.approx(50.0 * 0.003 / LIKE.i_flat / core.mor_pa, rel=KINK)
    assert strength == core.mor_pa
    # At more than a third of the strength the faces do.
    core = replace(CEDAR, mor_pa=0.4 * CEDAR.mor_pa)
    found, strength = use(LIKE, through(-0.003, 0.003, woods=(CEDAR, core, CEDAR)))
    assert found == pytest.approx(50.0 * LIKE.top / LIKE.i_flat / CEDAR.mor_pa, rel=KINK)
    assert strength == CEDAR.mor_pa


def test_a_strip_outside_the_section_bears_nothing() -> None:
    hopeless = replace(CEDAR, mor_pa=1.0)
    found, _ = use(LIKE, across(-0.037, 0.037, woods=(hopeless, CEDAR, hopeless)))
    assert found == pytest.approx(use(LIKE, CEDAR)[0], rel=QUADRATURE)


def test_shear_is_checked_against_the_weakest_wood() -> None:
    assert weakest_shear(across(0.0, woods=(CEDAR, ASH))) == min(CEDAR.shear_pa, ASH.shear_pa)
    assert weakest_shear(ASH) == ASH.shear_pa


def test_what_is_known_of_a_layup_is_what_is_known_of_its_least_known_wood() -> None:
    tested = replace(CEDAR, sd_ln_e=0.03, sd_ln_density=0.001)
    assert spread_of(tested) == (0.03, 0.005)  # nobody knows a density better than half a per cent
    assert spread_of(across(0.0, woods=(tested, ASH))) == (ASH.sd_ln_e, ASH.sd_ln_density)


def test_a_laminated_paddle_is_analysed_whole() -> None:
    edged = across(-0.030, 0.030, woods=(ASH, CEDAR, ASH))
    plain, found = analyse(PADDLE, CEDAR), analyse(PADDLE, edged)
    assert found.a.line.tip_deflection_m < plain.a.line.tip_deflection_m
    assert found.mass.mass_kg > plain.mass.mass_kg
    assert found.a.splitting.index / plain.a.splitting.index == pytest.approx(
        ASH.tperp_pa / CEDAR.tperp_pa
    )
    thin = PADDLE.a.with_crowns([0.9 * s.crown for s in HALF.stations])
    assert analyse(Paddle.mirrored(thin), edged).a.weakest.margin < found.a.weakest.margin
