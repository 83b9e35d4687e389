"""Mass properties: a body in closed form, sections one by one, balance and buoyancy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from springloom.mechanics.mass import mass_properties
from springloom.shape.blade import HalfPaddle, Station
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import Section
from springloom.wood.material import species_material

CEDAR = species_material("western_redcedar")
PADDLE = default_paddle()
HALF = PADDLE.a
EXACT = 1e-11

# --- a stick of one oval, closed round at its ends ------------------------------------------


def stick() -> HalfPaddle:
    """A half whose every station but the tip has the loom's own section."""
    loom = HALF.loom
    places = (loom.root, 0.5, 0.8, 1.03, 1.105)
    wide = [Station(x, loom.width, loom.thickness) for x in places[:-1]]
    return HalfPaddle(loom, (*wide, Station(places[-1], 0.0, loom.thickness)))


def test_a_stick_of_one_oval_in_closed_form() -> None:
    half = stick()
    start, length = half.cap
    area = half.section(0.0).area
    # In the cap w/b = 1 − 3t²/2 + t³/2 and dx = (3a/2)(1 − t²) dt at a constant thickness, so that
    # the area falls with w. Moments of the cap by the polynomials' own integrals:
    t = np.polynomial.Polynomial([0.0, 1.0])
    share = (1.0 - 1.5 * t**2 + 0.5 * t**3) * 1.5 * length * (1.0 - t**2)
    x = start + 0.5 * length * (3.0 * t - t**3)

    def cap(f: np.polynomial.Polynomial) -> float:
        return float(f.integ()(1.0))

    found = mass_properties(Paddle.mirrored(half), CEDAR)
    volume = 2.0 * area * (start + cap(share))
    assert found.volume_m3 == pytest.approx(volume, rel=EXACT)
    assert found.mass_kg == pytest.approx(CEDAR.density_kg_m3 * volume, rel=EXACT)
    # Each slice also turns about its own middle: ρI, I in proportion to w too.
    second = 2.0 * (area * (start**3 / 3.0 + cap(share * x**2))
                    + half.section(0.0).i_flat * (start + cap(share)))
    assert found.swing_inertia_kg_m2 == pytest.approx(CEDAR.density_kg_m3 * second, rel=EXACT)


def test_a_cap_holds_less_than_half_an_ellipse() -> None:
    # 61/80 of the rectangle around it (the polynomial's integral), an ellipse π/4.
    half = stick()
    start, length = half.cap
    volume = mass_properties(Paddle.mirrored(half), CEDAR).volume_m3
    in_cap = 0.5 * volume / half.section(0.0).area - start
    assert in_cap / length == pytest.approx(61.0 / 80.0, rel=1e-9)  # a difference of volumes
    assert in_cap / length < 0.25 * np.pi


# --- the blade, section by section -----------------------------------------------------------


def over_sections(half: HalfPaddle, f: Callable[[float, Section], float]) -> float:
    """∫ f dx from the centre to the tip by adaptive quadrature of sections made one by one."""
    cuts = [0.0, half.loom.half_length, *(s.x for s in half.stations)]

    def part(a: float, b: float) -> float:
        # x = b − t², for the round tip's square root.
        def g(t: float) -> float:
            x = b - t * t
            return 2.0 * t * f(x, half.section(x))

        return float(quad(g, 2e-5, np.sqrt(b - a), epsrel=1e-10, epsabs=1e-15, limit=100)[0])

    return sum(part(a, b) for a, b in pairwise(cuts))


FLAT = replace(HALF, stations=tuple(replace(s, share=0.9, edge=None) for s in HALF.stations))


@pytest.mark.parametrize("half", [HALF, FLAT], ids=["default", "nearly flat lower face"])
def test_mass_is_the_integral_of_its_sections(half: HalfPaddle) -> None:
    found = mass_properties(Paddle.mirrored(half), CEDAR)
    volume = 2.0 * over_sections(half, lambda _, section: section.area)
    swing = 2.0 * over_sections(half, lambda x, section: x * x * section.area + section.i_flat)
    # The quadrature's own 1e-10, and the 4e-10 m it leaves out at each of seven ends.
    assert found.volume_m3 == pytest.approx(volume, rel=1e-8)
    assert found.mass_kg == pytest.approx(CEDAR.density_kg_m3 * volume, rel=1e-8)
    assert found.swing_inertia_kg_m2 == pytest.approx(CEDAR.density_kg_m3 * swing, rel=1e-8)


def test_swinging_in_its_own_plane_is_next_to_the_same() -> None:
    flat = mass_properties(PADDLE, CEDAR).swing_inertia_kg_m2
    turn = 2.0 * over_sections(HALF, lambda _, section: section.i_edge - section.i_flat)
    assert 0.0 < CEDAR.density_kg_m3 * turn < 1e-3 * flat


def test_buoyancy_is_the_water_less_the_wood() -> None:
    found = mass_properties(PADDLE, CEDAR)
    # Archimedes, with g = 9.80665 m/s² and water of 1000 kg/m³.
    lift = 9.80665 * (1000.0 * found.volume_m3 - found.mass_kg)
    assert found.buoyancy_n == pytest.approx(lift, rel=EXACT)
    heavy = mass_properties(PADDLE, replace(CEDAR, density_kg_m3=1200.0))
    assert heavy.buoyancy_n < 0.0  # it sinks


@given(st.floats(100.0, 1300.0))
def test_everything_heavy_goes_with_density(density: float) -> None:
    plain = mass_properties(PADDLE, CEDAR)
    other = mass_properties(PADDLE, replace(CEDAR, density_kg_m3=density))
    ratio = density / CEDAR.density_kg_m3
    assert other.mass_kg == pytest.approx(ratio * plain.mass_kg, rel=EXACT)
    assert other.swing_inertia_kg_m2 == pytest.approx(ratio * plain.swing_inertia_kg_m2, rel=EXACT)
    assert other.volume_m3 == plain.volume_m3


# --- balance ---------------------------------------------------------------------------------


def test_like_blades_balance_at_the_centre() -> None:
    found = mass_properties(PADDLE, CEDAR)
    assert found.balance_m == pytest.approx(0.0, abs=1e-15)
    assert found.blade_a_kg == pytest.approx(found.blade_b_kg, rel=EXACT)
    assert found.blade_a_kg + found.blade_b_kg == pytest.approx(found.mass_kg, rel=EXACT)


def test_unlike_blades_balance_towards_the_heavier() -> None:
    light = HALF.with_crowns([0.9 * s.crown for s in HALF.stations])
    heavy_a = mass_properties(Paddle(HALF, light), CEDAR)
    heavy_b = mass_properties(Paddle(light, HALF), CEDAR)
    assert heavy_a.balance_m > 0.0
    assert heavy_b.balance_m == pytest.approx(-heavy_a.balance_m, rel=1e-9)
    assert heavy_a.blade_a_kg > heavy_a.blade_b_kg
    assert heavy_a.blade_a_kg == pytest.approx(heavy_b.blade_b_kg, rel=EXACT)
    # First moments of both sides about the centre over the whole mass.
    moment = CEDAR.density_kg_m3 * (
        over_sections(HALF, lambda x, section: x * section.area)
        - over_sections(light, lambda x, section: x * section.area)
    )
    # A difference of nearly equal moments: 1e-8 of each is 1e-6 of it.
    assert heavy_a.balance_m == pytest.approx(moment / heavy_a.mass_kg, rel=1e-6)


def test_a_blade_with_halves_of_other_lengths_weighs_the_same_either_way_round() -> None:
    longer = default_paddle(2.3).a
    one = mass_properties(Paddle(HALF, longer), CEDAR)
    other = mass_properties(Paddle(longer, HALF), CEDAR)
    assert one.mass_kg == pytest.approx(other.mass_kg, rel=EXACT)
    assert one.swing_inertia_kg_m2 == pytest.approx(other.swing_inertia_kg_m2, rel=EXACT)
