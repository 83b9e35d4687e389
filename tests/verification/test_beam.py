"""Statics of the beam against closed forms, energy theorems and independent quadrature."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from springloom.errors import InputError, RangeError, SpringloomError
from springloom.mechanics.axis import half_axis, whole_axis
from springloom.mechanics.beam import Bent, Load, cantilever, overhang
from springloom.mechanics.setups import (
    STANDARD_LOAD,
    Clamped,
    TwoHands,
    clamped_line,
    hands_line,
    tip_deflection,
)
from springloom.mechanics.stiffness import SHEAR_COEFFICIENT, rigidity
from springloom.shape.paddle import Paddle, default_paddle
from springloom.wood.material import species_material
from tests.verification.hand_beams import Floats, rigid, straight

CEDAR = species_material("western_redcedar")
PADDLE = default_paddle()
HALF = PADDLE.a
ROOT, TIP = HALF.loom.root, HALF.tip

EI, SHEAR, LENGTH, FORCE = 130.0, 2.0e4, 0.8, 44.5
EXACT = 1e-12  # polynomials that Gauss's rule integrates without error; only rounding is left


# --- closed forms of uniform beams ------------------------------------------------------------


def test_uniform_cantilever() -> None:
    axis = straight([0.0, 0.3, LENGTH])
    bent = cantilever(axis, rigid(axis, EI, SHEAR), [Load(LENGTH, FORCE)])
    tip = FORCE * LENGTH**3 / (3.0 * EI) + FORCE * LENGTH / SHEAR
    assert bent.deflection_ends[-1] == pytest.approx(tip, rel=EXACT)
    assert bent.slope_ends[-1] == pytest.approx(FORCE * LENGTH**2 / (2.0 * EI), rel=EXACT)
    # Everywhere between, not at span ends alone.
    x = axis.x
    line = FORCE * x**2 * (3.0 * LENGTH - x) / (6.0 * EI) + FORCE * x / SHEAR
    np.testing.assert_allclose(bent.deflection, line, rtol=EXACT)
    np.testing.assert_allclose(bent.moment, FORCE * (LENGTH - x), rtol=EXACT)
    np.testing.assert_allclose(bent.shear, FORCE, rtol=EXACT)


@pytest.mark.parametrize("at", [0.2, 0.5, LENGTH])
@pytest.mark.parametrize("read", [0.1, 0.35, 0.65, LENGTH])
def test_load_anywhere_read_anywhere(at: float, read: float) -> None:
    axis = straight(sorted({0.0, at, read, LENGTH}))
    bent = cantilever(axis, rigid(axis, EI, SHEAR), [Load(at, FORCE)])
    near, far = min(at, read), max(at, read)
    exact = FORCE * (near**2 * (3.0 * far - near) / (6.0 * EI) + near / SHEAR)
    assert bent.at(read) == pytest.approx(exact, rel=EXACT)


def test_clamp_rotation_adds_its_lever() -> None:
    axis = straight([0.1, 0.4, 0.9])
    loads = [Load(0.9, FORCE)]
    firm, turned = (
        cantilever(axis, rigid(axis, EI, SHEAR), loads, rotation) for rotation in (0.0, 0.013)
    )
    np.testing.assert_allclose(turned.deflection - firm.deflection, 0.013 * (axis.x - 0.1),
                               rtol=1e-10)  # a difference of two lines
    np.testing.assert_allclose(turned.slope - firm.slope, 0.013, rtol=1e-10)
    np.testing.assert_allclose(turned.slope_ends - firm.slope_ends, 0.013, rtol=1e-10)
    np.testing.assert_array_equal(turned.curvature, firm.curvature)


@pytest.mark.parametrize(("span", "reach"), [(0.508, 0.635), (0.3, 0.9), (1.0, 0.1)])
def test_overhang_on_two_supports(span: float, reach: float) -> None:
    axis = straight([-0.5 * span, 0.5 * span, 0.5 * span + reach])
    supports, load_at = (-0.5 * span, 0.5 * span), 0.5 * span + reach
    bent = overhang(axis, rigid(axis, EI, SHEAR), supports, [Load(load_at, FORCE)])
    # ½Pδ is the strain energy: ∫M²/2EI over both parts, and V = P outside, Pc/s between.
    bending = FORCE * reach**2 * (span + reach) / (3.0 * EI)
    shearing = FORCE * reach * (1.0 + reach / span) / SHEAR
    assert bent.at(load_at) == pytest.approx(bending + shearing, rel=EXACT)
    assert bent.at(supports[0]) == pytest.approx(0.0, abs=1e-15)
    assert bent.at(supports[1]) == pytest.approx(0.0, abs=1e-15)
    # Between the hands the loom bows the other way: −Pc x(s² − x²)/6EIs, shear adding nothing.
    x = axis.x[0] - supports[0]
    bow = -FORCE * reach * x * (span**2 - x**2) / (6.0 * EI * span)
    np.testing.assert_allclose(bent.deflection[0], bow, rtol=1e-9)  # the line is turned back
    slope = FORCE * reach * (2.0 * span + 3.0 * reach) / (6.0 * EI)
    turned = FORCE * reach / span / SHEAR  # the shear line's own turn
    assert bent.slope_ends[-1] == pytest.approx(slope + turned, rel=EXACT)


def test_simple_beam_loaded_between_its_supports() -> None:
    axis = straight([0.0, 0.3, 1.0])
    bent = overhang(axis, rigid(axis, EI, SHEAR), (0.0, 1.0), [Load(0.3, FORCE)])
    a, b = 0.3, 0.7
    exact = FORCE * a**2 * b**2 / (3.0 * EI) + FORCE * a * b / SHEAR
    assert bent.at(0.3) == pytest.approx(exact, rel=EXACT)


def test_cube_root_taper_bends_to_a_circular_arc() -> None:
    # Thickness ∝ (L − x)^(1/3) makes EI ∝ L − x, as the moment of a tip load is.
    axis = straight(np.linspace(0.0, LENGTH, 5))
    thickness = np.cbrt(1.0 - axis.x / LENGTH)
    bent = cantilever(axis, rigid(axis, lambda _: EI * thickness**3), [Load(LENGTH, FORCE)])
    curvature = FORCE * LENGTH / EI
    np.testing.assert_allclose(bent.curvature, curvature, rtol=EXACT)
    # An arc to second order: y = κx²/2.
    np.testing.assert_allclose(bent.deflection, 0.5 * curvature * axis.x**2, rtol=1e-11)
    assert bent.deflection_ends[-1] == pytest.approx(FORCE * LENGTH**3 / (2.0 * EI), rel=1e-11)


def test_straight_taper_has_its_closed_form() -> None:
    # h = h₀(1 − βx/L): δ = (PL³/EI₀) ∫ (1 − ξ)²/(1 − βξ)³ dξ, with v = 1 − βξ and q = 1/β − 1
    # ∫ (q + … )² is elementary: ((v + β − 1)/β)² v⁻³ /β, integrated from 1 − β to 1.
    beta = 0.7
    axis = straight(np.linspace(0.0, LENGTH, 5), points=12)
    bent = cantilever(axis, rigid(axis, lambda x: EI * (1.0 - beta * x / LENGTH) ** 3),
                      [Load(LENGTH, FORCE)])
    v, c = 1.0 - beta, beta - 1.0

    def primitive(v: float) -> float:
        return float(np.log(v) - 2.0 * c / v - 0.5 * c * c / v**2)

    exact = FORCE * LENGTH**3 / (EI * beta**3) * (primitive(1.0) - primitive(v))
    # Twelve points on a quarter of the length: 1/v³ is resolved to about 1e-12.
    assert bent.deflection_ends[-1] == pytest.approx(exact, rel=1e-10)


# --- theorems that hold for any beam ----------------------------------------------------------


places = st.floats(0.05, 1.0)
tapers = st.tuples(st.floats(-0.9, 0.9), st.floats(-0.5, 0.5))


def wavy(coefficients: tuple[float, float]) -> Callable[[Floats], Floats]:
    a, b = coefficients
    return lambda x: EI * np.exp(a * x + b * np.sin(5.0 * x))


@given(first=places, second=places, taper=tapers)
def test_maxwell_betti(first: float, second: float, taper: tuple[float, float]) -> None:
    axis = straight(np.unique([0.0, first, second, 1.0]))
    stiff = rigid(axis, wavy(taper), SHEAR)
    there = cantilever(axis, stiff, [Load(first, FORCE)]).at(second)
    back = cantilever(axis, stiff, [Load(second, FORCE)]).at(first)
    # The same integral, one way of two running sums and the other: the eight-point rule's error.
    assert there == pytest.approx(back, rel=1e-8)


@given(first=places, second=places, p=st.floats(-90.0, 90.0), q=st.floats(-90.0, 90.0),
       taper=tapers)
def test_superposition(
    first: float, second: float, p: float, q: float, taper: tuple[float, float]
) -> None:
    axis = straight(np.unique([0.0, first, second, 1.0]))
    stiff = rigid(axis, wavy(taper), SHEAR)
    alone = [cantilever(axis, stiff, [load]) for load in (Load(first, p), Load(second, q))]
    both = cantilever(axis, stiff, [Load(first, p), Load(second, q)])
    np.testing.assert_allclose(both.deflection, alone[0].deflection + alone[1].deflection,
                               atol=1e-14)  # of deflections up to 1 m
    on_supports = [
        overhang(axis, stiff, (0.0, first), [load]) for load in (Load(first, p), Load(second, q))
    ]
    together = overhang(axis, stiff, (0.0, first), [Load(first, p), Load(second, q)])
    # Turning the line back divides rounding by the span, 0.05 m at least.
    np.testing.assert_allclose(together.deflection_ends,
                               on_supports[0].deflection_ends + on_supports[1].deflection_ends,
                               atol=1e-12)


@given(st.floats(0.1, 10.0), st.floats(0.1, 10.0))
def test_linear_in_load_and_in_one_over_stiffness(load: float, stiffness: float) -> None:
    axis = straight([0.0, 0.4, 1.0])
    one = cantilever(axis, rigid(axis, EI, SHEAR), [Load(1.0, 1.0)])
    # With G in proportion to E both rigidities scale together.
    scaled = cantilever(axis, rigid(axis, EI * stiffness, SHEAR * stiffness), [Load(1.0, load)])
    np.testing.assert_allclose(scaled.deflection, one.deflection * load / stiffness, rtol=EXACT)


def work_and_energy(
    bent: Bent, loads: list[Load], ei: Floats, shear: Floats
) -> tuple[float, float]:
    work = 0.5 * sum(load.force * bent.at(load.x) for load in loads)
    density = bent.moment**2 / (2.0 * ei) + bent.shear**2 / (2.0 * shear)
    return work, bent.axis.integral(density)


def test_work_of_the_loads_is_the_energy_stored_in_a_blade() -> None:
    # Clapeyron's theorem
    loads = [Load(0.7, 25.0), Load(TIP, 40.0)]
    setup = Clamped(loads=tuple(loads))
    bent = clamped_line(HALF, CEDAR, setup, large=False)
    stiff = rigidity(bent.axis, CEDAR)
    work, energy = work_and_energy(bent, loads, stiff.ei, stiff.shear)
    # Both by the same points; eight of them settle the blade to 1e-9.
    assert work == pytest.approx(energy, rel=1e-8)


def test_work_is_energy_with_two_hands_too() -> None:
    hands = TwoHands()
    bent = hands_line(PADDLE, CEDAR, hands)
    stiff = rigidity(bent.axis, CEDAR)
    loads = [Load(hands.load_at, hands.force)]
    work, energy = work_and_energy(bent, loads, stiff.ei, stiff.shear)
    assert work == pytest.approx(energy, rel=1e-8)  # as above


# --- the blade itself -------------------------------------------------------------------------


def by_unit_load(read: float, load: Load, start: float) -> float:
    """Deflection by the unit-load theorem over sections taken one by one, adaptive quadrature."""

    def strain(x: float) -> float:
        section = HALF.section(x)
        bending = load.force * (load.x - x) * (read - x) / (CEDAR.e_pa * section.i_flat)
        return bending + load.force / (SHEAR_COEFFICIENT * CEDAR.g_pa * section.area)

    end = min(read, load.x)
    cuts = [start, *(s.x for s in HALF.stations if start < s.x < end), end]

    def part(a: float, b: float) -> float:
        # x = b − t² takes the tip's 1/√ out of the shear; the last 1e-9 m hold 5e-8 of the whole.
        low, high = np.sqrt(1e-9), np.sqrt(b - a)
        inside = quad(lambda t: 2.0 * t * strain(b - t * t), low, high, epsabs=1e-14, epsrel=1e-10)
        return float(inside[0])

    return sum(part(a, b) for a, b in pairwise(cuts))


@pytest.mark.parametrize(("at", "read"), [(TIP, TIP), (TIP, 0.6), (0.8, TIP), (0.95, 0.5)])
def test_blade_deflection_is_the_unit_load_integral_of_its_sections(at: float, read: float) -> None:
    load = Load(at, 40.0)
    bent = clamped_line(HALF, CEDAR, Clamped(loads=(load,), read=(read,)), large=False)
    exact = by_unit_load(read, load, ROOT)
    # What the quadrature leaves out at the ends of its parts.
    assert bent.at(read) == pytest.approx(exact, rel=1e-7)


def test_settling_with_the_number_of_points_is_spectral() -> None:
    def tip(points: int) -> float:
        axis = half_axis(HALF, ROOT, points=points)
        bent = cantilever(axis, rigidity(axis, CEDAR), [Load(TIP, STANDARD_LOAD)])
        return float(bent.deflection_ends[-1])

    settled = tip(24)
    errors = [abs(tip(points) / settled - 1.0) for points in (2, 4, 6, 8)]
    # Each two points more gain more than a decade: an order that grows with the order.
    for rough, fine in pairwise(errors):
        assert fine < 0.1 * rough
    assert errors[-1] < 1e-8


def test_cutting_a_blade_into_more_pieces_changes_nothing() -> None:
    whole, pieces = (half_axis(HALF, ROOT, pieces=n) for n in (1, 5))
    lines = [
        cantilever(axis, rigidity(axis, CEDAR), [Load(TIP, 40.0)]) for axis in (whole, pieces)
    ]
    assert lines[0].deflection_ends[-1] == pytest.approx(lines[1].deflection_ends[-1], rel=1e-8)
    assert len(pieces.ends) == 5 * (len(whole.ends) - 1) + 1


def test_a_reading_does_not_disturb_what_is_read() -> None:
    marks = (0.35, 0.5, 0.77, 1.0, 1.09)
    plain = tip_deflection(HALF, CEDAR)
    read = clamped_line(HALF, CEDAR, Clamped(read=marks), large=False)
    assert read.deflection_ends[-1] == pytest.approx(plain, rel=1e-8)
    line = [read.at(mark) for mark in marks]
    assert np.all(np.diff(line) > 0.0)
    with pytest.raises(ValueError, match="no span end"):
        read.at(0.8123)


def test_beyond_a_load_the_blade_is_straight() -> None:
    bent = clamped_line(HALF, CEDAR, Clamped(loads=(Load(0.7, 40.0),), read=(0.9,)), large=False)
    slope = float(bent.slope_ends[bent.axis.end_index(0.7)])
    assert bent.at(0.9) == pytest.approx(bent.at(0.7) + 0.2 * slope, rel=EXACT)
    assert bent.deflection_ends[-1] == pytest.approx(bent.at(0.7) + (TIP - 0.7) * slope, rel=EXACT)


def test_clamp_rotation_of_a_blade_adds_its_lever() -> None:
    firm = tip_deflection(HALF, CEDAR)
    turned = tip_deflection(HALF, CEDAR, Clamped(rotation=0.01))
    assert turned - firm == pytest.approx(0.01 * (TIP - ROOT), rel=1e-11)


def test_standard_set_up_is_ten_pounds_at_the_tip_clamped_at_the_root() -> None:
    # 1 lb = 0.45359237 kg (1959), g = 9.80665 m/s² (1901)
    assert pytest.approx(10.0 * 0.45359237 * 9.80665) == STANDARD_LOAD
    spelt = Clamped(clamp=ROOT, loads=(Load(TIP, STANDARD_LOAD),), read=(TIP,))
    assert tip_deflection(HALF, CEDAR) == tip_deflection(HALF, CEDAR, spelt)


def test_two_hands_on_a_uniform_loom_only_is_the_overhang_formula() -> None:
    # Load at the end of the loom's own length: nothing but the uniform part bends.
    hands = TwoHands(half_span=0.1, load_at=HALF.loom.half_length, force=50.0)
    found = hands_line(PADDLE, CEDAR, hands).at(hands.load_at)
    section = HALF.section(0.0)
    ei = CEDAR.e_pa * section.i_flat
    kga = SHEAR_COEFFICIENT * CEDAR.g_pa * section.area
    span, reach = 0.2, hands.load_at - 0.1
    exact = (50.0 * reach**2 * (span + reach) / (3.0 * ei)
             + 50.0 * reach * (1.0 + reach / span) / kga)
    assert found == pytest.approx(exact, rel=1e-11)


def test_turning_the_paddle_round_loads_the_other_blade() -> None:
    thin = HALF.with_crowns([0.9 * s.crown for s in HALF.stations])
    one, other = Paddle(HALF, thin), Paddle(thin, HALF)
    at = TwoHands().load_at
    assert hands_line(other, CEDAR).at(at) > hands_line(one, CEDAR).at(at)


def test_both_sides_of_the_centre_are_mirror_images() -> None:
    axis = whole_axis(PADDLE, -TIP, TIP)
    np.testing.assert_allclose(axis.x, -axis.x[::-1, ::-1], atol=1e-15)
    np.testing.assert_allclose(axis.values, axis.values[:, ::-1, ::-1], atol=1e-15)
    assert axis.integral(np.ones_like(axis.x)) == pytest.approx(2.0 * TIP, rel=EXACT)


# --- what is refused --------------------------------------------------------------------------


@pytest.mark.parametrize(("setup", "field"), [
    (Clamped(clamp=-0.1), "clamp"),
    (Clamped(clamp=1.05), "clamp"),
    (Clamped(loads=(Load(0.29, 10.0),)), "load.at"),
    (Clamped(loads=(Load(TIP + 0.01, 10.0),)), "load.at"),
    (Clamped(loads=(Load(TIP, 0.0),)), "load.force"),
    (Clamped(loads=(Load(TIP, 600.0),)), "load.force"),
    (Clamped(read=(0.2,)), "read.at"),
    (Clamped(read=(TIP + 0.01,)), "read.at"),
    (Clamped(rotation=0.3), "rotation"),
])
def test_clamped_set_ups_that_cannot_be(setup: Clamped, field: str) -> None:
    with pytest.raises(RangeError) as caught:
        clamped_line(HALF, CEDAR, setup)
    assert caught.value.field == field
    assert caught.value.allowed


@pytest.mark.parametrize(("setup", "field"), [
    (TwoHands(half_span=0.04), "half_span"),
    (TwoHands(half_span=0.3), "half_span"),
    (TwoHands(load_at=0.26), "load_at"),
    (TwoHands(load_at=1.2), "load_at"),
    (TwoHands(force=0.0), "force"),
    (TwoHands(force=501.0), "force"),
])
def test_two_hands_set_ups_that_cannot_be(setup: TwoHands, field: str) -> None:
    with pytest.raises(RangeError) as caught:
        hands_line(PADDLE, CEDAR, setup)
    assert caught.value.field == field


def test_the_other_hand_must_lie_on_the_loom_too() -> None:
    shorter = default_paddle(2.1, 0.44).a
    with pytest.raises(InputError, match="past the root"):
        hands_line(Paddle(HALF, shorter), CEDAR, TwoHands(half_span=0.26))


def test_an_axis_starts_before_it_ends() -> None:
    with pytest.raises(SpringloomError) as caught:
        half_axis(HALF, TIP + 0.1)
    assert caught.value.field == "start"
