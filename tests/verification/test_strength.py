"""Load cases by statics, margins by the flexure formula, and warnings that can fire."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from springloom.mechanics import strength as module
from springloom.mechanics.analysis import analyse
from springloom.mechanics.axis import whole_axis
from springloom.mechanics.stiffness import rigidity, rigidity_at
from springloom.mechanics.strength import (
    CASES,
    SAFE_MARGIN,
    Case,
    Margin,
    all_case_moments,
    case_moments,
    margins,
    splitting,
)
from springloom.shape.blade import EDGE_INSET, HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import ELLIPSE, Section
from springloom.shape.torsion import torsion_constant
from springloom.wood.material import species_material

CEDAR = species_material("western_redcedar")
PADDLE = default_paddle()
HALF = PADDLE.a
HALF_LOOM = HALF.loom.half_length
EXACT = 1e-12
every_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)


def places(case: Case) -> tuple[float, float, float]:
    """Where the case's far hand and near hand hold and where its force acts, m."""
    at = HALF_LOOM + case.at * (HALF.tip - HALF_LOOM)
    return case.far * HALF_LOOM, case.support * HALF_LOOM, min(at, HALF.stations[-2].x)


# --- statics ----------------------------------------------------------------------------------


@every_case
def test_moment_and_shear_are_those_of_three_forces_in_balance(case: Case) -> None:
    far, near, at = places(case)
    # ΣM about each hand gives the other's force.
    forces = {at: case.force, near: -case.force * (at - far) / (near - far),
              far: case.force * (at - near) / (near - far)}
    assert sum(forces.values()) == pytest.approx(0.0, abs=1e-10)
    assert sum(x * force for x, force in forces.items()) == pytest.approx(0.0, abs=1e-10)
    x = np.linspace(-1.0, HALF.tip, 700)  # no point falls on a force
    moment, shear, _ = case_moments(case, HALF, x)
    by_forces = sum(force * np.maximum(place - x, 0.0) for place, force in forces.items())
    np.testing.assert_allclose(moment, by_forces, atol=1e-10)
    # Its size alone is asked for: shear stress has no good or bad side.
    cut = sum(force * (x < place) for place, force in forces.items())
    np.testing.assert_allclose(np.abs(shear), np.abs(cut), atol=1e-10)


@every_case
def test_greatest_moment_is_at_the_near_hand(case: Case) -> None:
    _, near, at = places(case)
    moment, _, _ = case_moments(case, HALF, np.array([near]))
    assert float(moment[0]) == pytest.approx(case.force * (at - near), rel=EXACT)
    everywhere, _, _ = case_moments(case, HALF, np.linspace(-1.0, HALF.tip, 2001))
    assert np.max(everywhere) <= float(moment[0]) + 1e-9


@every_case
def test_torque_is_the_force_times_its_offset_out_to_where_it_acts(case: Case) -> None:
    _, near, at = places(case)
    x = np.array([near - 0.01, near + 0.01, at - 0.001, at + 0.001])
    torque = case_moments(case, HALF, x)[2]
    lever = case.offset * 0.5 * HALF.stations[-2].width
    np.testing.assert_allclose(torque, case.force * lever * np.array([0.0, 1.0, 1.0, 0.0]),
                               rtol=EXACT)


def test_cases_together_are_the_cases_one_by_one() -> None:
    x = np.linspace(-0.3, 1.0, 33).reshape(3, 11)
    together = all_case_moments(HALF, x)
    for i, case in enumerate(CASES):
        for all_of_them, alone in zip(together, case_moments(case, HALF, x), strict=True):
            np.testing.assert_array_equal(all_of_them[i], alone)


def test_each_case_says_what_it_assumes() -> None:
    assert len({case.name for case in CASES}) == len(CASES) == 4
    for case in CASES:
        assert f"{case.force:.0f} N" in case.assumption


# --- bending ----------------------------------------------------------------------------------


def by_name(found: tuple[Margin, ...]) -> dict[str, Margin]:
    return {margin.case: margin for margin in found}


def section_at(x: float) -> Section:
    return HALF.section(abs(x))


@every_case
def test_stress_is_the_flexure_formula_where_the_margin_is_least(case: Case) -> None:
    found = by_name(margins(PADDLE, CEDAR))[case.name]
    section = section_at(found.at_m)
    moment = float(case_moments(case, HALF, np.array([found.at_m]))[0][0])
    stress = abs(moment) * section.top / section.i_flat
    assert found.kind == "bending"
    assert found.stress_pa == pytest.approx(stress, rel=1e-10)
    assert found.strength_pa == CEDAR.mor_pa
    assert found.margin == pytest.approx(CEDAR.mor_pa / stress, rel=1e-10)
    assert found.percentile == 0.05
    assert found.assumption == case.assumption


@every_case
def test_no_other_place_has_less_margin(case: Case) -> None:
    found = by_name(margins(PADDLE, CEDAR))[case.name]
    x = np.linspace(-HALF.loom.root, HALF.stations[-2].x, 400)
    moment, _, _ = case_moments(case, HALF, x)
    stress = np.array([abs(m) * (s := section_at(float(p))).top / s.i_flat
                       for p, m in zip(x, moment, strict=True)])
    # Gauss points stand within 0.5 mm of the root, where every case peaks: 0.2 % is twice what
    # the moment changes on that way.
    assert CEDAR.mor_pa / np.max(stress) > 0.998 * found.margin


@given(share=st.floats(0.2, 5.0))
def test_margin_goes_with_strength(share: float) -> None:
    # Every strength alike, so that what gives first stays the same.
    other = replace(CEDAR, mor_pa=share * CEDAR.mor_pa, shear_pa=share * CEDAR.shear_pa)
    for before, after in zip(margins(PADDLE, CEDAR), margins(PADDLE, other), strict=True):
        assert after.margin == pytest.approx(share * before.margin, rel=EXACT)
        assert after.stress_pa == pytest.approx(before.stress_pa, rel=EXACT)


@pytest.mark.parametrize("share", [0.5, 2.0, 3.7])
def test_margin_goes_with_one_over_the_load(share: float, monkeypatch: pytest.MonkeyPatch) -> None:
    before = margins(PADDLE, CEDAR)
    harder = tuple(replace(case, force=share * case.force) for case in CASES)
    monkeypatch.setattr(module, "CASES", harder)
    moments = module.all_case_moments
    monkeypatch.setattr(module, "all_case_moments", lambda half, x: moments(half, x, harder))
    for one, other in zip(before, margins(PADDLE, CEDAR), strict=True):
        assert other.margin == pytest.approx(one.margin / share, rel=EXACT)


@given(scale=st.floats(0.85, 1.15))
def test_margin_of_a_blade_goes_with_the_square_of_its_thickness(scale: float) -> None:
    # Section modulus of a fixed form goes with w·h². Only the blade's own part scales, so the
    # stress is compared at the root itself.
    other = HALF.with_crowns([scale * s.crown for s in HALF.stations])
    for case in CASES:
        x = np.array([HALF.loom.root])
        moment = float(case_moments(case, HALF, x)[0][0])
        before, after = HALF.section(x[0]), other.section(x[0])
        ratio = (moment * after.top / after.i_flat) / (moment * before.top / before.i_flat)
        assert ratio == pytest.approx(scale**-2, rel=1e-9)


def test_stiffness_alone_changes_no_margin() -> None:
    # Statically determinate: the moment does not ask what the wood is.
    stiff = replace(CEDAR, e_pa=2.0 * CEDAR.e_pa)
    for one, other in zip(margins(PADDLE, CEDAR), margins(PADDLE, stiff), strict=True):
        assert other.margin == pytest.approx(one.margin, rel=EXACT)


# --- shear and twist --------------------------------------------------------------------------


def test_weak_shear_can_give_first() -> None:
    brittle = replace(CEDAR, shear_pa=0.02 * CEDAR.shear_pa)
    for case in CASES:
        if case.offset:
            continue
        found = by_name(margins(PADDLE, brittle))[case.name]
        assert found.kind == "shear"
        assert found.strength_pa == brittle.shear_pa
        # Zhuravskii's formula τ = VQ/Ib at the widest line, where both faces are alike.
        section = section_at(found.at_m)
        shear = float(case_moments(case, HALF, np.array([found.at_m]))[1][0])
        first = half_first(section)
        exact = abs(shear) * first / (section.i_flat * 2.0 * section.half_width)
        assert found.stress_pa == pytest.approx(exact, rel=1e-5)


def half_first(section: Section) -> float:
    """First moment of the upper half, by trapezia under its outline."""
    outline = section.outline(2000)
    upper = outline[: len(outline) // 2 + 1]
    y, z = upper[::-1].T
    return float(np.trapezoid(0.5 * z * z, y))


def elliptic(half: HalfPaddle) -> HalfPaddle:
    return replace(half, stations=tuple(
        replace(s, edge=None, ridge=ELLIPSE) for s in half.stations
    ))


def test_twist_can_give_first_and_is_the_ellipse_formula() -> None:
    half = elliptic(HALF)
    isotropic = replace(CEDAR, g_width_pa=CEDAR.g_pa, shear_pa=0.02 * CEDAR.shear_pa)
    found = by_name(margins(Paddle.mirrored(half), isotropic))["tip caught"]
    assert found.kind == "twist"
    section = half.section(found.at_m)
    case = CASES[3]
    _, shear, torque = (float(v[0]) for v in case_moments(case, half, np.array([found.at_m])))
    a, b = section.half_width, section.top
    bending_shear = shear * half_first(section) / (section.i_flat * 2.0 * a)
    membrane = torque * 2.0 * b / torsion_constant(section)
    assert found.stress_pa == pytest.approx(membrane + bending_shear, rel=1e-5)
    # Saint-Venant: τ = 2T/(π a b²) at the ends of the short axis; the membrane's rule is
    # (1 + b²/a²) times that, on the safe side.
    exact = 2.0 * torque / (math.pi * a * b * b)
    assert membrane / exact == pytest.approx(1.0 + (b / a) ** 2, rel=2e-3)  # a Bézier ellipse


def test_only_an_offset_force_twists() -> None:
    isotropic = replace(CEDAR, shear_pa=0.02 * CEDAR.shear_pa)
    kinds = [margin.kind for margin in margins(PADDLE, isotropic)]
    assert kinds == ["shear", "shear", "shear", "twist"]


# --- warnings ---------------------------------------------------------------------------------


def test_a_sound_default_paddle_passes_every_case() -> None:
    # What the cases' forces were chosen for.
    assert all(m.margin > SAFE_MARGIN for m in margins(PADDLE, CEDAR))


def test_a_margin_below_one_is_reported() -> None:
    thin = Paddle.mirrored(HALF.with_crowns([0.7 * s.crown for s in HALF.stations]))
    result = analyse(thin, CEDAR)
    low = [m for m in result.a.margins if m.margin < SAFE_MARGIN]
    assert low
    assert result.a.weakest == min(low, key=lambda m: m.margin)
    assert result.a.weakest.margin < 0.8
    assert all(math.isfinite(m.stress_pa) for m in low)


def test_turning_the_paddle_round_checks_the_other_blade() -> None:
    thin = HALF.with_crowns([0.7 * s.crown for s in HALF.stations])
    result = analyse(Paddle(HALF, thin), CEDAR)
    both = Paddle(HALF, thin), Paddle(thin, HALF)
    assert result.a.margins == margins(both[0], CEDAR)
    assert result.b.margins == margins(both[1], CEDAR)
    strokes = [by_name(blade.margins)["hard stroke"].margin for blade in (result.a, result.b)]
    assert strokes[1] < strokes[0]


# --- splitting --------------------------------------------------------------------------------


def test_default_redcedar_blade_is_one_on_the_splitting_screen() -> None:
    # The constant's lower 5 % has the normal quantile to eight figures.
    assert splitting(HALF, CEDAR).index == pytest.approx(1.0, rel=1e-5)
    assert not splitting(HALF, CEDAR).caution


def test_lower_five_per_cent_of_tension_across_the_grain() -> None:
    # Lognormal with the mean of Table 5-3b (220 lb/in²) and 25 % (FPL-GTR-282).
    sd = math.sqrt(math.log(1.0 + 0.25**2))
    lower = 220.0 * 6894.757293168 * math.exp(norm.ppf(0.05) * sd - 0.5 * sd * sd)
    assert pytest.approx(lower, rel=1e-4) == CEDAR.tperp_pa  # a printed conversion between


@given(scale=st.floats(0.6, 1.3))
def test_splitting_goes_with_the_square_of_the_edge(scale: float) -> None:
    other = HALF.with_crowns([scale * s.crown for s in HALF.stations])
    found, plain = splitting(other, CEDAR), splitting(HALF, CEDAR)
    assert found.index == pytest.approx(scale**2 * plain.index, rel=1e-9)
    assert found.edge_thickness_m == pytest.approx(scale * plain.edge_thickness_m, rel=1e-9)
    assert found.caution == (found.index < 0.8)


@given(share=st.floats(0.3, 3.0))
def test_splitting_goes_with_strength_across_the_grain(share: float) -> None:
    other = replace(CEDAR, tperp_pa=share * CEDAR.tperp_pa)
    assert splitting(HALF, other).index == pytest.approx(share * splitting(HALF, CEDAR).index)


def test_splitting_caution_fires() -> None:
    border = math.sqrt(0.8)  # four fifths of the default blade's; the edge counts squared
    for scale, warned in ((0.99 * border, True), (1.01 * border, False)):
        blade = HALF.with_crowns([scale * s.crown for s in HALF.stations])
        assert splitting(blade, CEDAR).caution is warned
    assert analyse(
        Paddle.mirrored(HALF.with_crowns([0.8 * s.crown for s in HALF.stations])), CEDAR
    ).a.splitting.caution


def test_splitting_reads_the_thinnest_edge_as_calipers_would() -> None:
    found = splitting(HALF, CEDAR)
    read = HALF.section(found.at_m).thickness_at(EDGE_INSET)
    assert found.edge_thickness_m == pytest.approx(read, rel=1e-9)
    outer = np.linspace(HALF.at_fraction(0.5), HALF.stations[-2].x, 200)
    thinnest = min(HALF.section(float(x)).thickness_at(EDGE_INSET) for x in outer)
    assert found.edge_thickness_m == pytest.approx(thinnest, rel=1e-3)  # nine places are read


def test_the_further_ridge_bears_the_greater_stress() -> None:
    # One flat face: the ridge of the other is further from the neutral axis, and rules.
    flat = replace(HALF, stations=tuple(replace(s, share=1.0, edge=None) for s in HALF.stations))
    axis = whole_axis(Paddle.mirrored(flat), -flat.loom.root, flat.tip)
    rigid = rigidity(axis, CEDAR)
    found = by_name(margins(Paddle.mirrored(flat), CEDAR))["hard stroke"]
    spot = int(np.argmin(np.abs(axis.x.ravel() - found.at_m)))
    moment = float(case_moments(CASES[0], flat, np.array([found.at_m]))[0][0])
    reach = max(float(rigid.top.ravel()[spot]), float(rigid.bottom.ravel()[spot]))
    stress = moment * CEDAR.e_pa * reach / float(rigid.ei.ravel()[spot])
    assert found.stress_pa == pytest.approx(stress, rel=1e-9)


def test_a_flat_back_has_a_shear_stress_too() -> None:
    """Q vanishes at the widest line, so the rectangle's 1.5/A stands in.

    The true peak Q/(I·b) at the neutral axis, from the section cut into thin layers, is within
    15 % of it: no load case of any blade is ruled by shear by so little.
    """
    stations = tuple(replace(s, share=1.0) for s in HALF.stations)
    flat = HalfPaddle(HALF.loom, stations)
    places = np.linspace(flat.loom.root + 0.05, flat.cap[0] - 0.01, 5)
    rigid = rigidity_at(flat.values(places), CEDAR)
    for x, stand_in in zip(places, rigid.shear_peak, strict=True):
        cut = flat.section(float(x))
        y, z = cut.outline(4000)[:8000].T  # the upper face, from one edge over the ridge
        half_width = np.interp(heights := np.linspace(0.0, cut.top, 4001), z[:4001], y[:4001])
        layer = np.diff(heights)
        middle = 0.5 * (heights[1:] + heights[:-1])
        breadth = half_width[1:] + half_width[:-1]
        above = middle > cut.centroid
        q = np.sum((layer * breadth * (middle - cut.centroid))[above])
        true = q / (cut.i_flat * np.interp(cut.centroid, middle, breadth))
        assert stand_in == pytest.approx(true, rel=0.15)
