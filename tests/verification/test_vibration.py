"""Natural frequencies against characteristic equations, and how fast they converge."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import expm
from scipy.optimize import brentq
from scipy.special import iv, jv

from springloom.mechanics.axis import half_axis, whole_axis
from springloom.mechanics.stiffness import rigidity
from springloom.mechanics.vibration import (
    assembled,
    clamped_frequencies,
    free_frequencies,
)
from springloom.shape.paddle import Paddle, default_paddle
from springloom.wood.material import species_material
from tests.verification.hand_beams import Floats, frequencies, rigid, straight

CEDAR = species_material("western_redcedar")
PADDLE = default_paddle()
HALF = PADDLE.a

SETTLED = 1e-6
"""Sixty elements to a second mode: (k h)⁴/720 ≈ 1e-7, and rounding of a matrix of condition 1e8."""


def first_roots(equation: Callable[[float], float], brackets: list[tuple[float, float]]) -> Floats:
    return np.array([brentq(equation, *bracket, xtol=1e-13) for bracket in brackets])


CANTILEVER = first_roots(lambda k: math.cos(k) * math.cosh(k) + 1.0, [(1.5, 2.5), (4.0, 5.5)])
FREE_FREE = first_roots(lambda k: math.cos(k) * math.cosh(k) - 1.0, [(4.0, 5.5), (7.0, 8.5)])


@pytest.mark.parametrize(("free", "roots"), [(False, CANTILEVER), (True, FREE_FREE)],
                         ids=["cos·cosh = −1", "cos·cosh = 1"])
def test_uniform_bar_without_shear(free: bool, roots: Floats) -> None:
    ei, mass, length = 130.0, 0.4, 0.8
    axis = straight(np.linspace(0.0, length, 61))
    found = frequencies(axis, rigid(axis, ei, mass=mass), free=free)
    exact = (roots / length) ** 2 * math.sqrt(ei / mass)
    assert found == pytest.approx(exact, rel=SETTLED)


@pytest.mark.parametrize(("roots", "printed"), [
    (CANTILEVER, [1.8751, 4.6941]), (FREE_FREE, [4.7300, 7.8532]),
])
def test_the_roots_are_the_well_known_ones(roots: Floats, printed: list[float]) -> None:
    assert roots == pytest.approx(printed, abs=5e-5)  # four decimals that every handbook prints


def kirchhoff(order: int) -> Floats:
    """First two ω√(m₀/EI₀)·L² of a cantilever tapering to a point, EI ∝ ξ^(n+2), m ∝ ξⁿ.

    G. Kirchhoff, Monatsberichte der Berliner Akademie (1879). Regular at the point ξ = 0 are
    ξ^(−n/2) Jₙ(q√ξ) and the same of Iₙ, with q²/4 the wanted number; their derivatives are those
    of order n + 1, so that y = y' = 0 at ξ = 1 needs Jₙ Iₙ₊₁ + Iₙ Jₙ₊₁ = 0.
    """

    def equation(q: float) -> float:
        return float(jv(order, q) * iv(order + 1, q) + iv(order, q) * jv(order + 1, q))

    grid = np.linspace(2.0, 14.0, 400)
    signs = [(a, b) for a, b in pairwise(grid) if equation(a) * equation(b) < 0.0]
    return 0.25 * first_roots(equation, signs[:2]) ** 2


@pytest.mark.parametrize(("order", "printed"), [(1, 5.315), (2, 8.719)], ids=["wedge", "cone"])
def test_cantilevers_that_taper_to_a_point(order: int, printed: float) -> None:
    exact = kirchhoff(order)
    assert exact[0] == pytest.approx(printed, abs=5e-4)  # the digits handbooks print
    # Elements that shorten towards the point, where curvature would be unbounded otherwise.
    axis = straight(1.0 - np.linspace(1.0, 0.0, 61) ** 2)
    stiff = rigid(axis, lambda x: (1.0 - x) ** (order + 2), mass=lambda x: (1.0 - x) ** order)
    # Of 1e-6 at forty such elements, for the first; the second mode's waves are shorter.
    found = frequencies(axis, stiff)
    assert found[0] == pytest.approx(exact[0], rel=1e-6)
    assert found[1] == pytest.approx(exact[1], rel=2e-5)


def timoshenko_cantilever(shear: float, rotary: float, guess: float) -> float:
    """ω of a clamped Timoshenko bar with EI = m = L = 1, near a guess.

    Exact: y' = θ + V/S, θ' = M, M' = −V − ω²rθ, V' = −ω²y has constant coefficients, and what
    leaves the clamp with y = θ = 0 must arrive with M = V = 0.
    """

    def free_end(omega: float) -> float:
        square = omega * omega
        system = np.array([
            [0.0, 1.0, 0.0, 1.0 / shear],
            [0.0, 0.0, 1.0, 0.0],
            [0.0, -square * rotary, 0.0, -1.0],
            [-square, 0.0, 0.0, 0.0],
        ])
        return float(np.linalg.det(expm(system)[2:, 2:]))

    return float(brentq(free_end, 0.9 * guess, 1.1 * guess, xtol=1e-12))


@pytest.mark.parametrize(("shear", "rotary"), [(300.0, 1e-3), (2000.0, 1e-4), (60.0, 5e-3)])
def test_clamped_timoshenko_bar(shear: float, rotary: float) -> None:
    axis = straight(np.linspace(0.0, 1.0, 201))
    found = frequencies(axis, rigid(axis, 1.0, shear, rotary=rotary))
    exact = [timoshenko_cantilever(shear, rotary, guess) for guess in found]
    # Shear's part converges with the square of the element's length: 1/200² of it, at most a tenth.
    assert found == pytest.approx(exact, rel=1e-5)


@pytest.mark.parametrize(("shear", "rotary"), [(300.0, 1e-3), (2000.0, 1e-4), (60.0, 5e-3)])
def test_hinged_timoshenko_bar(shear: float, rotary: float) -> None:
    # y = Y sin(nπx), θ = Θ cos(nπx): S(a²Y − aΘ) = ω²Y and a²Θ − S(aY − Θ) = ω²rΘ.
    axis = straight(np.linspace(0.0, 1.0, 201))
    stiff, mass = assembled(axis, rigid(axis, 1.0, shear, rotary=rotary))
    held = [0, len(stiff) - 2]
    stiff, mass = (np.delete(np.delete(m, held, 0), held, 1) for m in (stiff, mass))
    squares = np.sort(np.linalg.eigvals(np.linalg.solve(mass, stiff)).real)
    for mode in (1, 2):
        a = mode * math.pi
        # rω⁴ − (a² + S + rSa²)ω² + Sa⁴ = 0, its lower root
        b, c = a * a + shear + rotary * shear * a * a, shear * a**4
        exact = 2.0 * c / (b + math.sqrt(b * b - 4.0 * rotary * c))
        assert squares[mode - 1] == pytest.approx(exact, rel=4e-5)  # ω² is twice as far off as ω


def rates(errors: list[Floats]) -> Floats:
    """Order of convergence from one halving of the elements to the next."""
    return np.array([np.log2(rough / fine) for rough, fine in pairwise(errors)])


@pytest.mark.parametrize("rotary", [0.0, 1e-3])
def test_bending_converges_with_the_fourth_power(rotary: float) -> None:
    def found(count: int) -> Floats:
        axis = straight(np.linspace(0.0, 1.0, count + 1))
        # Condition grows with count⁴ and drowns finer meshes.
        return frequencies(axis, rigid(axis, lambda x: 1.0 - 0.5 * x, rotary=rotary))

    settled = found(48)
    errors = [np.abs(found(count) / settled - 1.0) for count in (3, 6, 12)]
    # Against a reference that has an error of its own, 1/256 of the finest's, the order shows
    # to a tenth or two.
    np.testing.assert_allclose(rates(errors)[-1], 4.0, atol=0.3)


def test_shear_converges_with_the_square() -> None:
    def found(count: int) -> Floats:
        axis = straight(np.linspace(0.0, 1.0, count + 1))
        return frequencies(axis, rigid(axis, 1.0, 60.0, rotary=5e-3))

    exact = np.array([timoshenko_cantilever(60.0, 5e-3, guess) for guess in found(24)])
    errors = [np.abs(found(count) / exact - 1.0) for count in (8, 16, 32)]
    np.testing.assert_allclose(rates(errors)[-1], 2.0, atol=0.2)


def test_blade_and_paddle_have_settled() -> None:
    blade = half_axis(HALF, HALF.loom.root, pieces=12)
    paddle = whole_axis(PADDLE, -HALF.tip, HALF.tip, pieces=12)
    fine = frequencies(blade, rigidity(blade, CEDAR)) / (2.0 * math.pi)
    fine_free = frequencies(paddle, rigidity(paddle, CEDAR), free=True) / (2.0 * math.pi)
    # The module's own claim for one element between stations.
    assert clamped_frequencies(HALF, CEDAR) == pytest.approx(fine, rel=2e-4)
    assert free_frequencies(PADDLE, CEDAR) == pytest.approx(fine_free, rel=2e-4)


def test_pieces_refine_the_blade_by_the_fourth_power_at_first() -> None:
    def found(pieces: int) -> Floats:
        axis = half_axis(HALF, HALF.loom.root, pieces=pieces)
        # Without shear and rotary inertia only bending's order is seen.
        stiff = replace(rigidity(axis, CEDAR), shear=np.full_like(axis.x, 1e30))
        return frequencies(axis, replace(stiff, rotary=0.0 * axis.x))

    settled = found(8)
    errors = [np.abs(found(pieces) / settled - 1.0) for pieces in (1, 2)]
    # The second mode; the first is down at rounding with two pieces already.
    assert rates(errors)[0, 1] == pytest.approx(4.0, abs=0.6)


def test_hanging_free_leaves_two_rigid_motions() -> None:
    axis = whole_axis(PADDLE, -HALF.tip, HALF.tip)
    stiff, mass = assembled(axis, rigidity(axis, CEDAR))
    lift, turn = np.zeros((2, len(stiff)))
    lift[::2] = 1.0
    turn[::2], turn[1::2] = axis.ends, 1.0
    scale = np.max(np.abs(stiff))
    for motion in (lift, turn):
        # No force resists it, but for rounding of forces that cancel.
        assert np.max(np.abs(stiff @ motion)) < 1e-12 * scale
    # Their inertias are the mass, and the moment of inertia about the centre.
    rig = rigidity(axis, CEDAR)
    assert lift @ mass @ lift == pytest.approx(axis.integral(rig.mass), rel=1e-9)
    inertia = axis.integral(rig.mass * axis.x**2 + rig.rotary)
    assert turn @ mass @ turn == pytest.approx(inertia, rel=1e-9)


def test_matrices_are_symmetric() -> None:
    axis = half_axis(HALF, HALF.loom.root)
    for matrix in assembled(axis, rigidity(axis, CEDAR)):
        np.testing.assert_allclose(matrix, matrix.T, atol=1e-12 * np.max(np.abs(matrix)))


def test_tip_stiffness_of_the_elements_is_that_of_the_beam() -> None:
    # Nodal statics are exact whatever the elements' number.
    axis = straight([0.0, 0.2, 0.7, 1.0])
    stiff, _ = assembled(axis, rigid(axis, 130.0, 2.0e4))
    force = np.zeros(len(stiff) - 2)
    force[-2] = 1.0
    deflection = np.linalg.solve(stiff[2:, 2:], force)[-2]
    assert deflection == pytest.approx(1.0 / (3.0 * 130.0) + 1.0 / 2.0e4, rel=1e-10)


@given(stiffer=st.floats(0.3, 3.0), heavier=st.floats(0.3, 3.0))
def test_frequency_goes_with_the_root_of_stiffness_over_density(
    stiffer: float, heavier: float
) -> None:
    other = replace(CEDAR, e_pa=stiffer * CEDAR.e_pa, g_pa=stiffer * CEDAR.g_pa,
                    density_kg_m3=heavier * CEDAR.density_kg_m3)
    ratio = np.array(clamped_frequencies(HALF, other)) / clamped_frequencies(HALF, CEDAR)
    assert ratio == pytest.approx([math.sqrt(stiffer / heavier)] * 2, rel=1e-9)


def test_shear_and_rotary_inertia_lower_every_frequency() -> None:
    axis = half_axis(HALF, HALF.loom.root)
    full = rigidity(axis, CEDAR)
    bare = replace(full, shear=np.full_like(axis.x, 1e30), rotary=0.0 * axis.x)
    assert np.all(frequencies(axis, full) < frequencies(axis, bare))


def test_clamping_further_out_raises_the_frequency() -> None:
    places = (0.28, 0.4, 0.6, 0.8)
    found = np.array([clamped_frequencies(HALF, CEDAR, place) for place in places])
    assert np.all(np.diff(found, axis=0) > 0.0)


def test_unlike_blades_ring_between_the_two_paddles_of_like_blades() -> None:
    thin = HALF.with_crowns([0.9 * s.crown for s in HALF.stations])
    mixed = free_frequencies(Paddle(HALF, thin), CEDAR)
    thick_pair, thin_pair = (free_frequencies(Paddle.mirrored(h), CEDAR) for h in (HALF, thin))
    for one, two, both in zip(thick_pair, thin_pair, mixed, strict=True):
        assert min(one, two) < both < max(one, two)
