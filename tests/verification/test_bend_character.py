"""The character of a bend, on curvatures made up for it and on blades with planted faults."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.mechanics.analysis import analyse
from springloom.mechanics.beam import Bent, Load
from springloom.mechanics.bend import (
    FADE_POWER,
    NOTICED,
    BendCharacter,
    character,
    wanted_curvature,
)
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.wood.material import species_material
from tests.verification.hand_beams import Floats, straight

CEDAR = species_material("western_redcedar")
HALF = default_paddle().a
START, END, UNTIL = 0.28, 1.08, 1.0
LENGTH = END - START


def bent_like(curvature: Callable[[Floats], Floats]) -> Bent:
    """A line of 80 spans with this curvature, as a function of ξ; nothing else of it is read."""
    axis = straight(np.linspace(START, END, 81))
    kappa = curvature((axis.x - START) / LENGTH)
    none = np.zeros_like(kappa)
    return Bent(axis, none, none, kappa, none, none, axis.ends, axis.ends)


def judged(curvature: Callable[[Floats], Floats], progression: float | None = None,
           until: float = UNTIL) -> BendCharacter:
    return character(bent_like(curvature), until, progression)


def fade(xi: Floats) -> Floats:
    return np.asarray(1.0 - xi**FADE_POWER)


def bump(xi: Floats, at: float, size: float, width: float = 0.05) -> Floats:
    return np.asarray(1.0 + size * np.exp(-(((xi - at) / width) ** 2)))


def planted(at: float, size: float, width: float = 0.05) -> Callable[[Floats], Floats]:
    """A wanted bend of p = 1.5 with a stretch that bends more, or less."""
    return lambda xi: wanted_curvature(xi, 1.5) * bump(xi, at, size, width)


def rippled(swing: float) -> Callable[[Floats], Floats]:
    return lambda xi: 1.0 + swing * np.sin(25.0 * xi)


# --- fair or not -----------------------------------------------------------------------------


@pytest.mark.parametrize("curvature", [
    fade,
    lambda xi: (1.0 + 2.0 * xi) * fade(xi),
    lambda xi: 1.0 + 0.0 * xi,
    lambda xi: 0.3 + xi * (1.0 - xi),
], ids=["even", "progressive", "constant", "one crest"])
def test_a_bend_with_one_crest_at_most_is_fair(curvature: Callable[[Floats], Floats]) -> None:
    assert judged(curvature).fair


@pytest.mark.parametrize("curvature", [
    lambda xi: (1.0 + xi) * bump(xi, 0.4, -0.1) * fade(xi),
    lambda xi: 1.0 + 0.05 * np.sin(12.0 * xi),
], ids=["hollow before the crest", "waves"])
def test_a_wavering_bend_is_not_fair(curvature: Callable[[Floats], Floats]) -> None:
    found = judged(curvature)
    assert not found.fair
    assert "not fair (the curvature wavers)" in found.words


def test_what_no_eye_sees_is_no_wave() -> None:
    # An even bend with ripples from crest to trough of 1.6 % and of 0.8 %: 1 % is the border.
    for swing, fair in ((0.008, False), (0.004, True)):
        assert judged(rippled(swing)).fair is fair


@given(st.floats(0.05, 20.0))
def test_character_does_not_ask_how_hard_it_was_loaded(scale: float) -> None:
    def shape(xi: Floats) -> Floats:
        return (1.0 + 1.5 * xi) * bump(xi, 0.6, 0.2) * fade(xi)

    one, other = judged(shape), judged(lambda xi: scale * shape(xi))
    assert other.fair == one.fair
    assert other.growth_share == pytest.approx(one.growth_share)
    assert other.progression == pytest.approx(one.progression, rel=1e-9)
    assert [s.kind for s in other.spots] == [s.kind for s in one.spots]


# --- progressive or not ----------------------------------------------------------------------


@pytest.mark.parametrize("crest", [0.2, 0.4, 0.5, 0.65, 0.85])
def test_growth_share_is_where_the_crest_lies(crest: float) -> None:
    found = judged(lambda xi: 2.0 - (xi - crest) ** 2)
    # Of the stretch judged, START to UNTIL; to within the points' spacing either end, 2 mm each.
    share = crest * LENGTH / (UNTIL - START)
    assert found.growth_share == pytest.approx(share, abs=5e-3)
    assert found.peak_m == pytest.approx(START + crest * LENGTH, abs=2e-3)
    assert found.progressive == (share >= 0.5)
    assert f"{100 * found.growth_share:.0f} %" in found.words
    assert ("not progressive" in found.words) == (not found.progressive)


def test_nothing_beyond_the_start_of_the_rounded_tip_is_judged() -> None:
    def wild(xi: Floats) -> Floats:
        return np.where(xi * LENGTH + START > UNTIL, 5.0 * np.cos(60.0 * xi) + 6.0, 1.0 + xi)

    found = judged(wild)
    assert found.fair
    assert found.peak_m <= UNTIL
    assert not judged(wild, until=END).fair


@given(level=st.floats(0.01, 2.0), p=st.floats(-0.8, 6.0))
def test_progression_of_a_wanted_bend_is_found_back(level: float, p: float) -> None:
    found = judged(lambda xi: level * wanted_curvature(xi, p))
    # Linear least squares without a residual.
    assert found.progression == pytest.approx(p, abs=1e-9)
    assert found.spots == ()


def test_wanted_bend_by_its_formula() -> None:
    xi = np.linspace(0.0, 1.0, 11)
    for p in (0.0, 1.9, 6.0):
        np.testing.assert_allclose(wanted_curvature(xi, p), (1.0 + p * xi) * (1.0 - xi**6))
    assert wanted_curvature(np.array([0.0, 1.0]), 3.0).tolist() == [1.0, 0.0]


# --- stiff and soft spots --------------------------------------------------------------------


@pytest.mark.parametrize(("size", "kind"), [(0.3, "soft"), (-0.3, "stiff")])
@pytest.mark.parametrize("at", [0.25, 0.5, 0.75])
def test_a_planted_spot_is_found_where_it_was_planted(at: float, size: float, kind: str) -> None:
    found = judged(planted(at, size), progression=1.5)
    (spot,) = found.spots
    assert spot.kind == kind
    assert spot.from_m < START + at * LENGTH < spot.to_m
    assert np.sign(spot.excess) == np.sign(size)
    # Its ends are where κ is NOTICED away from the wanted bend, scaled to the same mean of ln κ.
    xi = (bent_like(fade).axis.x.ravel() - START) / LENGTH
    level = float(np.exp(np.mean(np.log(bump(xi[xi * LENGTH + START <= UNTIL], at, size)))))
    beyond = np.abs(bump(xi, at, size) / level - 1.0) > NOTICED
    ends = START + LENGTH * xi[beyond][[0, -1]]
    assert [spot.from_m, spot.to_m] == pytest.approx(list(ends), abs=1e-9)
    excess = np.mean(bump(xi[beyond], at, size) / level - 1.0)
    assert spot.excess == pytest.approx(float(excess), rel=1e-9)


def test_a_spot_too_small_to_notice_is_not_named() -> None:
    for size, named in ((0.06, False), (0.12, True)):
        found = judged(planted(0.5, size), progression=1.5)
        assert bool(found.spots) is named


def test_a_spot_shorter_than_two_centimetres_is_not_named() -> None:
    for width, named in ((0.008, False), (0.04, True)):
        found = judged(planted(0.5, 0.3, width), progression=1.5)
        assert bool(found.spots) is named


def test_spots_are_named_against_the_bend_that_is_wanted() -> None:
    def even(xi: Floats) -> Floats:
        return wanted_curvature(xi, 0.0)

    assert judged(even).spots == ()
    kinds = [spot.kind for spot in judged(even, progression=3.0).spots]
    # Against a progressive target an even bend is soft inside and stiff outside.
    assert kinds == ["soft", "stiff"]


# --- on blades -------------------------------------------------------------------------------


def scaled(index: int, factor: float) -> HalfPaddle:
    crowns = [s.crown for s in HALF.stations]
    crowns[index] *= factor
    return HALF.with_crowns(crowns)


@pytest.mark.parametrize("index", [1, 2, 3])
@pytest.mark.parametrize(("factor", "kind"), [(1.12, "stiff"), (0.89, "soft")])
def test_a_station_left_thick_or_planed_thin_is_named(index: int, factor: float, kind: str) -> None:
    # Stiffness goes with the thickness cubed: a tenth in thickness is a third of the curvature.
    wrong = scaled(index, factor)
    plain = clamped_line(HALF, CEDAR, large=False)
    wanted = character(plain, HALF.cap[0]).progression
    found = character(clamped_line(wrong, CEDAR, large=False), wrong.cap[0], wanted)
    place = HALF.stations[index].x
    at_station = [spot for spot in found.spots if spot.from_m < place < spot.to_m]
    assert [spot.kind for spot in at_station] == [kind]


def test_the_default_blade_is_fair_and_progressive() -> None:
    found = analyse(default_paddle(), CEDAR).a.line.character
    assert found.fair
    assert found.progressive
    # The target's own default is 1.9: "about 2 the default blade".
    assert found.progression == pytest.approx(1.9, abs=0.2)


def test_a_blade_with_a_hump_is_not_fair() -> None:
    humped = analyse(Paddle.mirrored(scaled(2, 1.2)), CEDAR).a.line.character
    assert not humped.fair


def test_wood_does_not_change_the_character() -> None:
    spruce = species_material("sitka_spruce")
    one, other = (
        character(clamped_line(HALF, wood, large=False), HALF.cap[0]) for wood in (CEDAR, spruce)
    )
    assert one.fair == other.fair
    assert one.progression == pytest.approx(other.progression, rel=1e-9)
    assert one.growth_share == pytest.approx(other.growth_share)


def test_a_load_hung_further_in_is_judged_as_far_as_it_hangs() -> None:
    at = HALF.at_fraction(0.6)
    result = analyse(default_paddle(), CEDAR, Clamped(loads=(Load(at, 60.0),)))
    found = result.a.line.character
    assert found.peak_m < at
    assert np.isfinite(found.progression)
    assert all(spot.to_m <= at for spot in found.spots)
