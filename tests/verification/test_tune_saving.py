"""Weight off at equal bend: EI is kept, the saving is the mass, and risks are told."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest

from springloom.fit.bend import Limits, Target
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import tip_deflection
from springloom.mechanics.stiffness import rigidity_at
from springloom.mechanics.strength import SPLIT_CAUTION, margins, splitting
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.tune.advice import advise_on, plans
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import SIDES, Reading
from springloom.tune.model import Model
from springloom.tune.planing import Planing
from springloom.tune.rules import Rules
from springloom.tune.saving import (
    EDGE_STEP,
    SOFT_RIDGE,
    STIFF_RIDGE,
    Saving,
    savings,
    sharpest_ridge,
)
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import species_material
from tests.verification.tune_bench import Floats, everywhere, exact

Plans = tuple[Planing, Planing]
Taken = tuple[Floats, Floats]


@functools.cache
def _known(species: str, proud: float = 0.0015) -> Estimate:
    """Exact readings of a paddle left proud all over."""
    wood = replace(species_material(species), sd_ln_e=0.1, sd_ln_density=0.03)
    base = Model(default_paddle(), wood)
    truth = base.start()
    for side in SIDES:
        truth[base.layout.crowns(side)] += proud
        truth[base.layout.edges(side)] += 0.5 * proud
    readings: list[Reading] = exact(base, truth, everywhere(base.paddle))
    return estimate(base.paddle, wood, readings)


def _round(species: str, sinks: float, rules: Rules | None = None) -> tuple[Plans, Taken]:
    both = plans(_known(species), Target(sinks), Limits(), rules)
    advice = advise_on(both)
    return both, (advice.a.per_face, advice.b.per_face)


def _made(blade: Planing, per_face: Floats, saving: Saving) -> tuple[HalfPaddle, HalfPaddle]:
    """The blade after the removal, and the same with the saving made."""
    half = blade.known.model.shaped(blade.side, blade.theta_after(per_face))
    new = {s.station: s for s in saving.stations}
    stations = tuple(
        replace(s, crown=new[s.name].crown_after_m, edge=new[s.name].edge_after_m,
                ridge=new[s.name].ridge_after_fullness) if s.name in new else s
        for s in half.stations
    )
    return half, replace(half, stations=stations)


SPRUCE = ("sitka_spruce", 0.028)
CEDAR = ("western_redcedar", 0.038)


def _all(case: tuple[str, float]) -> tuple[Plans, Taken, tuple[Saving, ...]]:
    both, taken = _round(*case)
    return both, taken, savings(both, taken)


@pytest.mark.parametrize("case", [SPRUCE, CEDAR], ids=["spruce", "cedar"])
def test_stiffness_is_kept_and_the_saving_is_the_mass(case: tuple[str, float]) -> None:
    both, taken, found = _all(case)
    assert found
    for saving in found:
        i = SIDES.index(saving.side)
        blade, other = both[i], both[1 - i].half
        half, made = _made(blade, taken[i], saving)
        before, after = (rigidity_at(one.station_values[:-1].T, blade.build).ei
                         for one in (half, made))
        assert after == pytest.approx(before, rel=1e-6)
        mass = [mass_properties(Paddle(one, other), blade.build).mass_kg for one in (half, made)]
        # one side is integrated by itself in the product, from tip to tip here
        assert saving.saved_kg == pytest.approx(mass[0] - mass[1], rel=1e-6)
        assert saving.saved_kg > 0.0
        setup = blade.target.setup(half)
        change = tip_deflection(made, blade.build, setup) - tip_deflection(half, blade.build, setup)
        assert saving.deflection_change_m == pytest.approx(change, rel=1e-6, abs=1e-9)
        # between stations a batten carries crown and fullness over, not EI
        assert abs(change) < 0.005 * both[0].target.deflection_m


@pytest.mark.parametrize("case", [SPRUCE, CEDAR], ids=["spruce", "cedar"])
def test_margins_and_the_screen_are_those_of_the_new_blade(case: tuple[str, float]) -> None:
    both, taken, found = _all(case)
    for saving in found:
        i = SIDES.index(saving.side)
        half, made = _made(both[i], taken[i], saving)
        for one, margin, index in ((half, saving.margin_ratio, saving.splitting_ratio),
                                   (made, saving.margin_after_ratio, saving.splitting_after_ratio)):
            paddle = Paddle(one, both[1 - i].half)
            assert margin == pytest.approx(
                min(m.margin for m in margins(paddle, both[i].build)), rel=1e-6)
            assert index == pytest.approx(splitting(one, both[i].build).index, rel=1e-6)
        assert saving.margin_after_ratio <= saving.margin_ratio * (1.0 + 1e-9)
        assert saving.margin_after_ratio >= both[i].limits.margin
        assert saving.risk


def test_edges_stay_above_their_least_and_above_what_splits() -> None:
    for case in (SPRUCE, CEDAR):
        both, _, found = _all(case)
        thinned = [s for s in found if s.kind == "thinner edges"]
        assert thinned
        for saving in thinned:
            assert saving.splitting_after_ratio >= SPLIT_CAUTION - 1e-9
            for station in saving.stations:
                assert station.edge_after_m >= (1.0 - EDGE_STEP) * station.edge_m - 1e-12
                assert station.edge_after_m > both[0].limits.least_edge
                assert station.edge_after_m < station.edge_m
                assert station.flank_after_m < station.flank_m
                assert station.station not in {"root", "tip"}  # the root's are another saving


def test_the_crown_it_asks_for_is_still_there_where_it_can_be_had_now() -> None:
    both, _, found = _all(CEDAR)
    assert any(s.now for s in found)
    for saving in found:
        crowns = dict(zip((s.name for s in both[0].half.stations),
                          both[SIDES.index(saving.side)].crowns, strict=True))
        for station in saving.stations:
            assert station.crown_after_m > station.crown_m
            if saving.now:
                assert station.crown_after_m <= crowns[station.station]


def test_where_nothing_comes_off_it_is_for_the_next_blade() -> None:
    both = plans(_known("sitka_spruce"), Target(0.021))
    found = savings(both, (np.zeros(6), np.zeros(6)))
    assert found
    assert not any(s.now for s in found)


def test_a_ridge_is_sharper_in_the_stiffer_woods_only() -> None:
    """Common practice, no source: an eased diamond in redcedar, a plain one in spruce."""
    woods = [species_material(name) for name in
             ("western_redcedar", "sitka_spruce", "douglas_fir_coast", "white_ash")]
    soft = replace(woods[0], e_pa=7.0e9)
    assert sharpest_ridge(soft) == SOFT_RIDGE
    sharp = [sharpest_ridge(wood) for wood in sorted(woods, key=lambda wood: wood.e_pa)]
    assert sharp == sorted(sharp, reverse=True)
    assert min(sharp) == STIFF_RIDGE
    mixed = Layup((Strip(soft, -HALF_BLANK_M, 0.0, -HALF_BLANK_M, HALF_BLANK_M),
                   Strip(woods[1], 0.0, HALF_BLANK_M, -HALF_BLANK_M, HALF_BLANK_M)))
    assert sharpest_ridge(mixed) == SOFT_RIDGE  # the softest strip rules
    kinds = {name: {s.kind for s in _all(case)[2]} for name, case in
             (("cedar", CEDAR), ("spruce", SPRUCE))}
    assert "sharper ridge" not in kinds["cedar"]
    assert "sharper ridge" in kinds["spruce"]


def test_the_root_is_eased_by_its_edges_alone() -> None:
    """Only where the root's own crown has yet to come down can that be had now."""
    found = [s for s in savings(plans(_known("sitka_spruce"), Target(0.021)),
                                (np.zeros(6), np.zeros(6))) if s.side == "a"]
    blend = next(s for s in found if s.kind == "shoulder blend")
    (root,) = blend.stations
    assert (root.station, blend.now) == ("root", False)
    assert root.edge_after_m == pytest.approx((1.0 - EDGE_STEP) * root.edge_m, rel=1e-12)
    assert root.ridge_after_fullness == root.ridge_fullness
    ridge = next(s for s in found if s.kind == "sharper ridge")
    for station in ridge.stations:
        assert station.ridge_after_fullness < station.ridge_fullness
        assert station.edge_after_m == station.edge_m


def test_a_section_that_would_be_no_lighter_is_left_alone() -> None:
    """A sharp ridge on a root with thick edges has to be so much higher that it weighs more."""
    found = savings(plans(_known("sitka_spruce"), Target(0.021)), (np.zeros(6), np.zeros(6)))
    ridge = next(s for s in found if s.kind == "sharper ridge")
    assert [station.station for station in ridge.stations] == ["1/4"]


def test_an_edge_nobody_read_is_left_alone() -> None:
    known = _known("western_redcedar")
    calipered = [r for r in known.readings if "edge" not in r.label]
    blind = estimate(known.model.paddle, known.model.build, calipered)
    both = plans(blind, Target(0.038))
    advice = advise_on(both)
    found = savings(both, (advice.a.per_face, advice.b.per_face))
    assert not any(s.kind == "thinner edges" for s in found)


def test_the_greatest_that_can_be_had_now_comes_first() -> None:
    found = _all(SPRUCE)[2]
    assert [s.now for s in found] == sorted((s.now for s in found), reverse=True)
    now = [s.saved_kg for s in found if s.now]
    assert now == sorted(now, reverse=True)


def test_a_saving_that_would_take_a_margin_is_not_offered() -> None:
    both, taken = _round(*SPRUCE)
    least = min(s.margin_after_ratio for s in savings(both, taken))
    strict = tuple(replace(blade, limits=replace(blade.limits, margin=least + 1e-6))
                   for blade in both)
    left = savings((strict[0], strict[1]), taken)
    assert all(s.margin_after_ratio >= least + 1e-6 for s in left)
    assert len(left) < len(savings(both, taken))


