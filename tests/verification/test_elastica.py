"""Large deflection against elliptic integrals, and when it is used.

The closed form is that of K. E. Bisshopp & D. C. Drucker, Large deflection of cantilever beams,
Quarterly of Applied Mathematics 3 (1945) 272–275.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import ellipe, ellipeinc, ellipk, ellipkinc

from springloom.errors import UnreachableError
from springloom.fit.bend import Limits, Target, design_for_bend
from springloom.mechanics.beam import Load, cantilever
from springloom.mechanics.elastica import NOTICEABLE, bend_deeply, worth_trying
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import default_paddle
from springloom.wood.material import species_material
from tests.verification.hand_beams import rigid, straight

CEDAR = species_material("western_redcedar")
LOADS = (0.25, 0.5, 1.0, 2.0, 3.0, 5.0, 7.5, 10.0)

# The search for where the load hangs ends at 1e-12; lines are integrated to rounding.
TOLERANCE = 1e-10


@dataclass(frozen=True)
class Elastica:
    """A cantilever of length 1 under PL²/EI: how far its tip sinks and reaches, its slope."""

    down: float
    out: float
    slope: float


def elastica(load: float) -> Elastica:
    """Bisshopp & Drucker's solution: the modulus k from the load, then the tip."""

    def parts(sine: float) -> tuple[float, float]:
        m = 0.5 * (1.0 + sine)
        return m, math.asin(1.0 / math.sqrt(2.0 * m))

    def gap(sine: float) -> float:
        m, angle = parts(sine)
        return float(ellipk(m) - ellipkinc(angle, m)) - math.sqrt(load)

    sine = float(brentq(gap, 1e-12, 1.0 - 1e-12, xtol=1e-15, rtol=1e-14))
    m, angle = parts(sine)
    down = 1.0 - 2.0 / math.sqrt(load) * float(ellipe(m) - ellipeinc(angle, m))
    return Elastica(down, math.sqrt(2.0 * sine / load), math.asin(sine))


@pytest.mark.parametrize("load", LOADS)
def test_cantilever_is_bisshopp_and_drucker(load: float) -> None:
    axis = straight(np.linspace(0.0, 1.0, 5), points=12)
    bent = bend_deeply(axis, rigid(axis, 1.0), [Load(1.0, load)])
    exact = elastica(load)
    assert bent.deflection_ends[-1] == pytest.approx(exact.down, rel=TOLERANCE)
    assert bent.slope_ends[-1] == pytest.approx(exact.slope, rel=TOLERANCE)
    # The lever of the load is what is left of the length.
    assert axis.integral(np.cos(bent.slope)) == pytest.approx(exact.out, rel=TOLERANCE)


@pytest.mark.parametrize("load", [0.5, 5.0])
def test_curvature_is_the_elastic_energy_at_every_point(load: float) -> None:
    # First integral of EI θ'' = −P cos θ with θ' = 0 at the tip: θ'² = 2P/EI (sin θ_tip − sin θ)
    axis = straight(np.linspace(0.0, 1.0, 5), points=12)
    bent = bend_deeply(axis, rigid(axis, 1.0), [Load(1.0, load)])
    squares = 2.0 * load * (math.sin(elastica(load).slope) - np.sin(bent.slope))
    # Near the tip both sides are small differences: absolute, of the clamp's 2P sin θ_tip.
    np.testing.assert_allclose(bent.curvature**2, squares, atol=1e-10 * 2.0 * load)


def test_small_loads_give_the_small_deflection_line() -> None:
    load = 0.02
    axis = straight([0.0, 0.5, 1.0])
    both = rigid(axis, 1.0, shear=40.0)
    deep = bend_deeply(axis, both, [Load(1.0, load)])
    linear = cantilever(axis, both, [Load(1.0, load)])
    # δ/L = α/3 − 4α³/105 + … (the elliptic integrals expanded), so that the difference is
    # (36/35)(δ/L)²; the term after it is smaller by about α² again.
    bending, shearing = load / 3.0, load / 40.0
    tips = [bent.deflection_ends[-1] - shearing for bent in (deep, linear)]
    gap = 1.0 - tips[0] / tips[1]
    assert gap == pytest.approx(36.0 / 35.0 * bending**2, rel=2.0 * load**2)


def test_beyond_the_load_the_blade_stays_straight() -> None:
    axis = straight([0.0, 0.3, 0.6, 1.0])
    bent = bend_deeply(axis, rigid(axis, 1.0), [Load(0.6, 4.0)])
    inner = elastica(4.0 * 0.6**2)  # an elastica of length 0.6, its load scaled with L²
    assert bent.at(0.6) == pytest.approx(0.6 * inner.down, rel=TOLERANCE)
    tip = 0.6 * inner.down + 0.4 * math.sin(inner.slope)
    assert bent.deflection_ends[-1] == pytest.approx(tip, rel=TOLERANCE)


def test_a_turned_clamp_turns_the_line_as_a_whole() -> None:
    # With no load to speak of the blade is a straight line under the clamp's own angle.
    axis = straight([0.0, 0.5, 1.0])
    bent = bend_deeply(axis, rigid(axis, 1.0), [Load(1.0, 1e-12)], rotation=0.15)
    np.testing.assert_allclose(bent.deflection_ends, axis.ends * math.sin(0.15), atol=1e-11)


def test_several_loads_balance_about_the_clamp() -> None:
    axis = straight([0.0, 0.4, 0.7, 1.0], points=12)
    loads = [Load(0.4, 1.0), Load(0.7, 2.0), Load(1.0, 1.5)]
    bent = bend_deeply(axis, rigid(axis, lambda x: 1.2 - x), loads)
    out = axis.running(np.cos(bent.slope))[1]
    moment = sum(load.force * out[axis.end_index(load.x)] for load in loads)
    # The clamp's moment, by carrying EI κ from the first point back with its shear.
    first = bent.moment[0, 0] + bent.shear[0, 0] * axis.running(np.cos(bent.slope))[0][0, 0]
    assert first == pytest.approx(moment, rel=1e-9)


def test_a_blade_that_folds_up_is_refused() -> None:
    axis = straight(np.linspace(0.0, 1.0, 5))
    with pytest.raises(UnreachableError, match="folds up") as caught:
        bend_deeply(axis, rigid(axis, 1.0), [Load(1.0, 1e6)])
    assert caught.value.field == "load"


def changes(half: HalfPaddle, setup: Clamped) -> tuple[float, float, float]:
    """Tip deflection as chosen, small, and large."""
    chosen, small, large = (
        float(clamped_line(half, CEDAR, setup, large=kind).deflection_ends[-1])
        for kind in (None, False, True)
    )
    return chosen, small, large


def progressive(progression: float) -> HalfPaddle:
    """A flexible blade of the default outline whose bend is more or less progressive."""
    bounds = Limits(least_crown_mid=0.002, least_crown_tip=0.001, least_edge=0.0005, margin=0.2)
    target = Target(0.05, progression=progression)
    return design_for_bend(default_paddle().a, CEDAR, target, bounds).half


@pytest.mark.parametrize("progression", [0.0, 1.9, 4.0, 6.0])
@pytest.mark.parametrize(("at", "most"), [(1.0, 150.0), (0.6, 400.0)])
def test_elastica_is_used_only_where_it_changes_the_tip_noticeably(
    progression: float, at: float, most: float
) -> None:
    half = progressive(progression)
    used = []
    for force in np.linspace(5.0, most, 30):
        setup = Clamped(loads=(Load(half.at_fraction(at), float(force)),))
        chosen, small, large = changes(half, setup)
        used.append(abs(large / small - 1.0) > NOTICEABLE)
        assert chosen == (large if used[-1] else small)
    # Both were seen, and once it is used it stays in use as the load grows.
    assert used == sorted(used)
    assert used[-1] > used[0]


def test_half_a_per_cent_is_the_border() -> None:
    half = default_paddle().a

    def change(force: float) -> float:
        setup = Clamped(loads=(Load(half.tip, force),))
        _, small, large = changes(half, setup)
        return abs(large / small - 1.0) - 0.005

    border = float(brentq(change, 20.0, 120.0))
    for share, deep in ((0.999, False), (1.001, True)):
        setup = Clamped(loads=(Load(half.tip, share * border),))
        chosen, small, large = changes(half, setup)
        assert chosen == (large if deep else small)


def test_what_is_not_worth_trying_would_not_be_noticed() -> None:
    half = progressive(6.0)  # the most progressive target differs most at the same deflection
    setup = Clamped(loads=(Load(half.tip, 1.0),))
    per_newton = clamped_line(half, CEDAR, setup, large=False)
    deepest = 0.0
    for force in np.linspace(1.0, 80.0, 80):
        loaded = replace(per_newton, deflection_ends=per_newton.deflection_ends * force)
        if worth_trying(loaded):
            break
        deepest = float(force)
    _, small, large = changes(half, Clamped(loads=(Load(half.tip, deepest),)))
    assert deepest > 20.0
    assert abs(large / small - 1.0) <= NOTICEABLE
