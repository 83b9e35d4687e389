"""From a wanted bend to thicknesses: the bend is got, limits bind by name, the rest is refused."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from springloom.errors import RangeError, UnreachableError
from springloom.fit.bend import (
    DEFAULT_PROGRESSION,
    BendDesign,
    Limits,
    Target,
    design_for_bend,
    edge_crowns,
    strength_crowns,
)
from springloom.mechanics.bend import wanted_curvature
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import STANDARD_LOAD, clamped_line, tip_deflection
from springloom.mechanics.strength import CASES, case_moments, margins
from springloom.shape.blade import HalfPaddle, Station
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import Section, quadrant_second
from springloom.wood.layup import Layup, Strip
from springloom.wood.material import Material, species_material
from tests.verification.hand_beams import Floats

CEDAR, SPRUCE, ASH = (
    species_material(name) for name in ("western_redcedar", "sitka_spruce", "white_ash")
)
HALF = default_paddle().a
OPEN = Limits(least_crown_mid=0.002, least_crown_tip=0.001, least_edge=0.0005, blank=0.1,
              margin=0.2)
"""Limits so wide that none of them binds."""

SEARCH = 1e-9  # the scale is sought to 1e-10 of its logarithm


def inner(half: HalfPaddle) -> Floats:
    """Places of all stations but the tip, m."""
    return np.array([s.x for s in half.stations[:-1]])


def share_out(half: HalfPaddle) -> Floats:
    """ξ of those places, from the clamp to the tip."""
    return (inner(half) - half.loom.root) / (half.tip - half.loom.root)


def curvature_at_stations(half: HalfPaddle, wood: Material, load: float) -> Floats:
    """κ = M/EI by the section at each station."""
    return np.array([load * (half.tip - x) / (wood.e_pa * half.section(float(x)).i_flat)
                     for x in inner(half)])


def limits_at(found: BendDesign) -> dict[str, str]:
    return {binding.station: binding.limit for binding in found.binding}


# --- the bend that is wanted is the bend that is got ------------------------------------------


@settings(max_examples=25)  # a design takes a score of full analyses
@given(deflection=st.floats(0.015, 0.09), progression=st.floats(0.0, 6.0),
       load=st.floats(20.0, 80.0))
def test_the_tip_sinks_as_wanted(deflection: float, progression: float, load: float) -> None:
    target = Target(deflection, load, progression)
    found = design_for_bend(HALF, CEDAR, target, OPEN)
    assert found.deflection_m == pytest.approx(deflection, rel=1e-6)
    measured = tip_deflection(found.half, CEDAR, target.setup(found.half))
    assert measured == pytest.approx(found.deflection_m, rel=1e-9)


@pytest.mark.parametrize("wood", [CEDAR, SPRUCE, ASH], ids=lambda wood: wood.name)
@pytest.mark.parametrize("progression", [0.0, 1.9, 4.0])
def test_curvature_at_the_stations_is_the_wanted_one(wood: Material, progression: float) -> None:
    target = Target(0.036, progression=progression)
    found = design_for_bend(HALF, wood, target, OPEN)
    assert found.binding == ()
    ratio = curvature_at_stations(found.half, wood, target.load_n) / wanted_curvature(
        share_out(found.half), progression
    )
    # One step is exact in solid wood: EI goes with the crown's cube at a fixed form.
    np.testing.assert_allclose(ratio, ratio[0], rtol=1e-11)


def test_layers_above_one_another_take_a_few_steps_and_get_there() -> None:
    reach = 0.25
    layers = Layup(tuple(
        Strip(wood, -reach, reach, low, high)
        for wood, low, high in ((CEDAR, -reach, -0.003), (ASH, -0.003, 0.003),
                                (CEDAR, 0.003, reach))
    ))
    target = Target(0.036)
    found = design_for_bend(HALF, layers, target, OPEN)
    bent = clamped_line(found.half, layers, target.setup(found.half), large=False)
    assert bent.deflection_ends[-1] == pytest.approx(0.036, rel=1e-6)
    # κ at a station, between the points either side of it: a few 1e-3 of interpolation.
    x, kappa = bent.axis.x.ravel(), bent.curvature.ravel()
    at = np.interp(inner(found.half)[1:], x, kappa)
    ratio = at / wanted_curvature(share_out(found.half)[1:], DEFAULT_PROGRESSION)
    np.testing.assert_allclose(ratio, np.mean(ratio), rtol=0.01)


def test_a_uniform_arc_follows_the_cube_root_law() -> None:
    # With two like faces I ∝ w c³ q(r, s), and κ = M/EI asks for c³ ∝ (L − x)/((1 − ξ⁶) w q): the
    # cube-root taper of a circular arc, over what the width and the form of section do.
    found = design_for_bend(HALF, CEDAR, Target(0.036, progression=0.0), OPEN).half
    xi = share_out(found)
    width = np.array([s.width for s in found.stations[:-1]])
    sections = [found.section(float(x)) for x in inner(found)]
    form = np.array([quadrant_second(one.ridge_top, one.edge) for one in sections])
    law = np.cbrt((1.0 - xi) / (1.0 - xi**6) / (width * form))
    crowns = np.array([s.crown for s in found.stations[:-1]])
    np.testing.assert_allclose(crowns / law, crowns[0] / law[0], rtol=1e-10)


def test_a_uniform_arc_of_one_width_is_the_bare_cube_root_law() -> None:
    loom = HALF.loom
    places = (loom.root, 0.45, 0.6, 0.75, 0.9, 1.03, 1.105)
    oval = [Station(x, 0.06, 0.02, name=f"{x}") for x in places[:-1]]
    strip = HalfPaddle(loom, (*oval, Station(places[-1], 0.0, 0.01, name="tip")))
    found = design_for_bend(strip, CEDAR, Target(0.036, progression=0.0), OPEN).half
    xi = share_out(found)
    crowns = np.array([s.crown for s in found.stations[:-1]])
    law = np.cbrt((1.0 - xi) / (1.0 - xi**6))
    np.testing.assert_allclose(crowns / law, crowns[0], rtol=1e-10)


def test_widths_and_forms_of_section_stay() -> None:
    found = design_for_bend(HALF, CEDAR, Target(0.03), OPEN).half
    for before, after in zip(HALF.stations, found.stations, strict=True):
        assert (after.x, after.width, after.ridge) == (before.x, before.width, before.ridge)
        assert before.edge is not None
        assert after.edge is not None
        assert after.edge / after.crown == pytest.approx(before.edge / before.crown)
    # The tip keeps its ratio to its neighbour.
    tips = [half.stations[-1].crown / half.stations[-2].crown for half in (HALF, found)]
    assert tips[0] == pytest.approx(tips[1])


def test_the_starting_thickness_does_not_matter() -> None:
    thick = HALF.with_crowns([1.3 * s.crown for s in HALF.stations])
    one, other = (design_for_bend(half, CEDAR, Target(0.036), OPEN) for half in (HALF, thick))
    for a, b in zip(one.half.stations, other.half.stations, strict=True):
        assert a.crown == pytest.approx(b.crown, rel=SEARCH)


@given(st.floats(1.05, 2.0))
@settings(max_examples=15)  # as above
def test_stiffer_wood_makes_a_thinner_blade(stiffer: float) -> None:
    other = replace(CEDAR, e_pa=stiffer * CEDAR.e_pa, g_pa=stiffer * CEDAR.g_pa)
    one, two = (design_for_bend(HALF, wood, Target(0.036), OPEN) for wood in (CEDAR, other))
    ratio = [b.crown / a.crown for a, b in zip(one.half.stations, two.half.stations, strict=True)]
    # EI is the same: h goes with E^(−1/3). Shear, a hundredth of it all, follows h and not h³.
    assert ratio == pytest.approx([stiffer ** (-1.0 / 3.0)] * len(ratio), rel=5e-3)
    assert two.mass_kg < one.mass_kg


def test_more_bend_makes_a_thinner_and_lighter_blade() -> None:
    found = [design_for_bend(HALF, CEDAR, Target(d), OPEN) for d in (0.02, 0.03, 0.045, 0.07)]
    crowns = np.array([[s.crown for s in one.half.stations] for one in found])
    assert np.all(np.diff(crowns, axis=0) < 0.0)
    assert np.all(np.diff([one.mass_kg for one in found]) < 0.0)


def test_a_design_says_its_own_weight_and_character() -> None:
    found = design_for_bend(HALF, CEDAR, Target(0.036), OPEN)
    weight = mass_properties(Paddle.mirrored(found.half), CEDAR).mass_kg
    assert found.mass_kg == pytest.approx(weight)
    assert found.cost_kg == pytest.approx(0.0, abs=1e-9)
    assert found.character.fair
    # Right at the stations; splines between them leave the fitted p a tenth or so off.
    assert found.character.progression == pytest.approx(DEFAULT_PROGRESSION, abs=0.15)


# --- each limit, by name ----------------------------------------------------------------------


def test_no_limit_is_named_where_none_binds() -> None:
    assert design_for_bend(HALF, CEDAR, Target(0.036)).binding == ()


def test_least_crown_binds() -> None:
    bounds = replace(OPEN, least_crown_mid=0.020, least_crown_tip=0.005)
    found = design_for_bend(HALF, CEDAR, Target(0.036), bounds)
    least = dict(zip([s.name for s in HALF.stations], bounds.least_crowns(HALF), strict=True))
    assert limits_at(found)["1/2"] == "least crown"
    for binding in found.binding:
        assert binding.limit == "least crown"
        assert binding.crown_m == pytest.approx(least[binding.station])
        assert binding.wanted_m < binding.crown_m
    assert found.deflection_m == pytest.approx(0.036, rel=1e-6)
    assert found.cost_kg > 0.0


def test_least_crowns_fall_in_a_straight_line_from_mid_blade_to_tip() -> None:
    least = Limits(least_crown_mid=0.013, least_crown_tip=0.006).least_crowns(HALF)
    share = np.array([(s.x - HALF.loom.half_length) / HALF.blade_length for s in HALF.stations])
    line = 0.013 - 0.007 * (share - 0.5) / 0.5
    np.testing.assert_allclose(least, np.where(share < 0.5, 0.013, line), rtol=1e-12)


def test_least_edge_binds() -> None:
    thin_edged = replace(HALF, stations=tuple(
        replace(s, edge=0.6 * s.edge) if i > 2 else s
        for i, s in enumerate(HALF.stations) if s.edge is not None
    ))
    # Crowns under 7 mm could not have such edges at all.
    bounds = replace(OPEN, least_edge=0.0035, least_crown_mid=0.009, least_crown_tip=0.0072)
    found = design_for_bend(thin_edged, CEDAR, Target(0.034), bounds)
    named = limits_at(found)
    assert named["75 mm from tip"] == "least edge"
    for station in found.half.stations:
        assert station.edge is not None
        assert station.edge >= 0.0035
        assert (named.get(station.name) == "least edge") == (station.edge == 0.0035)
    # The tip sinks as wanted with the fuller edges in place.
    assert found.deflection_m == pytest.approx(0.034, rel=1e-6)


def test_strength_binds_and_keeps_the_margin() -> None:
    bounds = replace(OPEN, margin=1.5)
    found = design_for_bend(HALF, CEDAR, Target(0.045), bounds)
    assert limits_at(found) == {"root": "strength"}
    weakest = min(margins(Paddle.mirrored(found.half), CEDAR), key=lambda m: m.margin)
    # Held at the stations; in the blend just inside the root the moment is 0.2 % greater.
    assert weakest.margin == pytest.approx(1.5, rel=3e-3)
    assert found.cost_kg > 0.0


@pytest.mark.parametrize("margin", [1.0, 1.3, 1.5])
@pytest.mark.parametrize("deflection", [0.03, 0.045, 0.06])
def test_the_margin_is_kept_all_along(margin: float, deflection: float) -> None:
    found = design_for_bend(HALF, CEDAR, Target(deflection), replace(OPEN, margin=margin))
    least = min(m.margin for m in margins(Paddle.mirrored(found.half), CEDAR))
    assert least > margin * (1.0 - 3e-3)  # as above


@pytest.mark.parametrize("margin", [0.8, 1.0, 2.5])
def test_least_crown_for_strength_is_the_flexure_formula_turned_round(margin: float) -> None:
    crowns = strength_crowns(HALF, CEDAR, margin)
    assert crowns[-1] == 0.0  # a tip bears no moment
    blade = HALF.with_crowns([*crowns[:-1], HALF.stations[-1].crown])
    for station in blade.stations[:-2]:
        # Either blade may be the loaded one.
        x = np.array([station.x, -station.x])
        moment = max(float(np.max(np.abs(case_moments(case, HALF, x)[0]))) for case in CASES)
        section = blade.section(station.x)
        assert moment * section.top / section.i_flat == pytest.approx(CEDAR.mor_pa / margin)


def test_blank_binds() -> None:
    found = design_for_bend(HALF, CEDAR, Target(0.03), replace(OPEN, blank=0.030))
    assert limits_at(found) == {"root": "blank"}
    (binding,) = found.binding
    assert binding.crown_m == 0.030
    assert binding.wanted_m > 0.030
    assert found.deflection_m == pytest.approx(0.03, rel=1e-6)


def test_thickness_never_grows_outward() -> None:
    # A least crown that is greater at the tip than inside it lifts what lies inside.
    bounds = replace(OPEN, least_crown_mid=0.008, least_crown_tip=0.014)
    found = design_for_bend(HALF, CEDAR, Target(0.03), bounds)
    crowns = [s.crown for s in found.half.stations]
    assert all(a >= b for a, b in pairwise(crowns))
    assert limits_at(found)["75 mm from tip"] == "outward taper"
    assert limits_at(found)["tip"] == "least crown"


@pytest.mark.parametrize("progression", [0.0, 1.9, 6.0])
@pytest.mark.parametrize("bounds", [
    Limits(), Limits(blank=0.032), Limits(margin=1.5),
    replace(OPEN, least_crown_mid=0.016), replace(OPEN, least_crown_mid=0.020),
], ids=str)
def test_what_limits_cost_in_weight(bounds: Limits, progression: float) -> None:
    target = Target(0.036, progression=progression)
    found, free = (design_for_bend(HALF, CEDAR, target, limits) for limits in (bounds, OPEN))
    assert found.unlimited_mass_kg == pytest.approx(free.mass_kg, rel=SEARCH)
    assert found.cost_kg == pytest.approx(found.mass_kg - free.mass_kg, abs=SEARCH)
    # A wanted curvature is not the lightest blade of its deflection: a limit may by chance move
    # wood to where it serves better. That is worth under one per cent of the paddle.
    assert found.cost_kg > -0.01 * free.mass_kg
    if not found.binding:
        assert found.cost_kg == pytest.approx(0.0, abs=SEARCH)


def test_holding_the_outer_blade_thick_costs_weight() -> None:
    costs = [
        design_for_bend(HALF, CEDAR, Target(0.036), replace(OPEN, least_crown_tip=tip)).cost_kg
        for tip in (0.001, 0.009, 0.011, 0.013)
    ]
    assert costs[0] == pytest.approx(0.0, abs=SEARCH)
    assert np.all(np.diff(costs) > 0.0)


# --- what can't be --------------------------------------------------------------------------


def nearest_mm(error: UnreachableError) -> float:
    said = re.search(r"nearest possible is ([0-9.]+) mm", error.allowed)
    assert said
    return float(said.group(1))


@pytest.mark.parametrize(("wanted", "bounds", "kind", "nearer"), [
    (0.004, Limits(blank=0.030), "stiffer", -1.0),
    (0.15, Limits(), "more flexible", 1.0),
    (0.25, replace(OPEN, least_crown_mid=0.013, least_crown_tip=0.006), "more flexible", 1.0),
], ids=["stiffer than the blank", "more flexible than strength", "than the least crowns"])
def test_what_no_blade_does_is_refused_with_the_nearest_that_one_does(
    wanted: float, bounds: Limits, kind: str, nearer: float
) -> None:
    with pytest.raises(UnreachableError, match=f"no {kind} blade") as caught:
        design_for_bend(HALF, CEDAR, Target(wanted), bounds)
    assert caught.value.field == "target.sinks"
    nearest = nearest_mm(caught.value)
    assert nearer * (1e3 * wanted - nearest) > 0.0
    # A tenth of a millimetre on the possible side of what it says can be had; beyond it can't.
    possible = 1e-3 * (nearest - 0.1 * nearer)
    found = design_for_bend(HALF, CEDAR, Target(possible), bounds)
    assert found.deflection_m == pytest.approx(possible, rel=1e-6)
    with pytest.raises(UnreachableError):
        design_for_bend(HALF, CEDAR, Target(1e-3 * (nearest + 0.1 * nearer)), bounds)


def test_a_blank_that_strength_asks_more_of_is_refused() -> None:
    with pytest.raises(UnreachableError, match="blank is thinner") as caught:
        design_for_bend(HALF, CEDAR, Target(0.036), Limits(blank=0.024))
    assert caught.value.field == "limits.blank"
    asked = float(np.max(strength_crowns(HALF, CEDAR, 1.0)))
    assert f"{1e3 * asked:.1f} mm" in caught.value.allowed
    enough = Limits(blank=asked + 1e-5)
    assert design_for_bend(HALF, CEDAR, Target(0.06), enough).half.stations[0].crown <= enough.blank


@pytest.mark.parametrize(("changes", "field"), [
    ({"deflection_m": 0.001}, "target.sinks"), ({"deflection_m": 0.31}, "target.sinks"),
    ({"load_n": 0.5}, "target.under"), ({"load_n": 301.0}, "target.under"),
    ({"progression": -0.1}, "target.progression"), ({"progression": 6.1}, "target.progression"),
    ({"tolerance_m": 0.0001}, "target.within"),
])
def test_targets_no_blade_has(changes: dict[str, float], field: str) -> None:
    with pytest.raises(RangeError) as caught:
        replace(Target(0.036), **changes)  # type: ignore[arg-type]  # keys are the fields' names
    assert caught.value.field == field


@pytest.mark.parametrize(("changes", "field"), [
    ({"least_crown_mid": 0.0005}, "limits.least_crown_mid"),
    ({"least_crown_tip": 0.05}, "limits.least_crown_tip"),
    ({"least_edge": 0.0001}, "limits.least_edge"),
    ({"blank": 0.012}, "limits.blank"),  # under the least crown
    ({"margin": 0.1}, "limits.margin"),
])
def test_limits_that_contradict_one_another(changes: dict[str, float], field: str) -> None:
    with pytest.raises(RangeError) as caught:
        Limits(**changes)
    assert caught.value.field == field


def test_a_target_is_measured_in_the_standard_set_up() -> None:
    setup = Target(0.036).setup(HALF)
    (load,) = setup.loads
    assert (load.x, load.force) == (HALF.tip, STANDARD_LOAD)
    assert setup.on(HALF).clamp == HALF.loom.root



@pytest.mark.parametrize(
    "limits",
    [Limits(least_edge=0.005), Limits(least_crown_mid=0.005, least_crown_tip=0.003)],
)
def test_crowns_never_become_too_thin_for_the_least_edge(limits: Limits) -> None:
    """The search passes through thin crowns; each must still be able to have its edge."""
    made = design_for_bend(HALF, CEDAR, Target(0.045), limits)
    assert made.deflection_m == pytest.approx(0.045, rel=1e-6)  # the search's own tolerance
    edges = [s.edge for s in made.half.stations if s.edge is not None]
    assert min(edges) >= limits.least_edge
    named = {b.limit for b in made.binding}
    assert ("least edge" in named) == (limits.least_edge == 0.005)


def test_an_edge_floor_is_the_fullest_section_s() -> None:
    floor = edge_crowns(HALF, 0.005)
    for station, crown in zip(HALF.stations[:-1], floor[:-1], strict=True):
        full = Section.symmetric(0.5 * station.width, 0.5 * float(crown), station.ridge, 1.0)
        # the floor stands one part in 1e9 above, so that rounding can't undo it
        assert full.thickness_at(0.005) == pytest.approx(0.005, rel=1e-8)


def test_a_loom_too_weak_for_the_margin_is_told_with_what_it_keeps() -> None:
    with pytest.raises(UnreachableError) as caught:
        design_for_bend(HALF, CEDAR, Target(0.036), Limits(margin=3.0))
    assert caught.value.field == "limits.margin"
    keeps = float(caught.value.allowed.removeprefix("at most "))
    design_for_bend(HALF, CEDAR, Target(0.03), Limits(margin=keeps - 0.1))  # and no less
