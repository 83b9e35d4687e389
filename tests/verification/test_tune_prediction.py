"""What follows from advice: predictions against hidden truths, both blades brought together."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest
from scipy.stats import binom

from springloom.fit.bend import Target
from springloom.mechanics.beam import Load
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.mechanics.strength import margins, splitting
from springloom.shape.paddle import Paddle
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import SIDES, BalanceReading, WeightReading
from springloom.tune.matching import Match
from springloom.tune.prediction import Between, Prediction, wanted_line
from tests.verification.tune_bench import (
    Floats,
    Rough,
    everywhere,
    exact,
    model,
    planed,
    read,
    true_sink,
    valued,
)

TARGET = Target(0.038)
HALF = model().bench("a").half


def _truth(a_mm: float, b_mm: float) -> Floats:
    truth, at = model().start(), model().layout
    for side, proud in zip(SIDES, (a_mm, b_mm), strict=True):
        truth[at.crowns(side)] += 1e-3 * proud
        truth[at.edges(side)] += 0.5e-3 * proud
    return truth


def _known(a_mm: float = 1.5, b_mm: float = 1.5) -> Estimate:
    readings = exact(model(), _truth(a_mm, b_mm), everywhere(model().paddle))
    return estimate(model().paddle, model().build, readings)


@functools.cache
def _told(a_mm: float = 1.5, b_mm: float = 1.5, sinks: float = 0.038) -> Counsel:
    return counsel(_known(a_mm, b_mm), Target(sinks))


def _predicted(told: Counsel) -> Prediction:
    assert told.prediction is not None
    return told.prediction


def _matched(told: Counsel) -> Match:
    assert told.match is not None
    return told.match


class TestPrediction:
    """What both blades are and do, now and then."""

    def test_now_is_the_estimate(self) -> None:
        told, known = _told(), _known()
        for side, blade in zip(SIDES, (_predicted(told).a, _predicted(told).b), strict=True):
            for found, one in zip(blade.crowns_now_m, known.crowns(side), strict=True):
                assert (found.value, found.low_90, found.high_90) == pytest.approx(
                    (one.value, one.low, one.high), abs=1e-6)  # a hundredth of their sd
            value, sd_ln = known.sink(side, TARGET.setup(HALF))
            tip = blade.line_now_m[-1]
            assert tip.value == pytest.approx(value, rel=1e-9)
            assert math.log(tip.high_90 / tip.value) == pytest.approx(1.6448536 * sd_ln, rel=1e-6)

    def test_then_is_the_advice(self) -> None:
        told = _told()
        for advice, blade in zip(told.advice.blades, (_predicted(told).a, _predicted(told).b),
                                 strict=True):
            assert blade.tip_then_m.value == pytest.approx(advice.predicted_m, rel=1e-9)
            assert math.log(blade.tip_then_m.high_90 / advice.predicted_m) == pytest.approx(
                1.6448536 * advice.predicted_sd_ln, rel=1e-6)
            for removal, crown, edge in zip(advice.removals, blade.crowns_then_m,
                                            blade.edges_then_m, strict=True):
                assert crown.value == pytest.approx(removal.crown_after_m, rel=1e-12)
                assert edge.value == pytest.approx(removal.edge_after_m, rel=1e-6)
                assert crown.low_90 < crown.value < crown.high_90

    def test_the_line_is_the_mechanics_line(self) -> None:
        told = _told()
        blade, plan = _predicted(told).a, told.plans[0]
        for sunk, x in zip(blade.line_now_m[1:], blade.x_m[1:], strict=True):
            setup = Clamped(loads=(Load(plan.half.tip, TARGET.load_n),), read=(x,))
            line = clamped_line(plan.half, plan.build, setup, large=False)
            # the thicker blade's own spline may give way a little
            assert sunk.value == pytest.approx(line.at(x), rel=3e-3)
        assert blade.line_now_m[0] == Between(0.0, 0.0, 0.0)

    def test_the_wanted_line_ends_where_it_is_wanted(self) -> None:
        blade = _predicted(_told()).a
        assert blade.line_wanted_m[0] == 0.0
        assert blade.line_wanted_m[-1] == pytest.approx(0.038, rel=1e-12)
        # no line is straight or dips: it lies above the chord and falls outward
        chord = 0.038 * (np.array(blade.x_m) - HALF.loom.root) / (HALF.tip - HALF.loom.root)
        assert np.all(wanted_line(HALF, 0.038, 1.9)[1:-1] < chord[1:-1])

    def test_margins_are_the_mechanics_margins(self) -> None:
        told = _told()
        known, plan = _known(), told.plans[0]
        before = Paddle(known.half("a"), known.half("b"))
        after = Paddle(*(known.model.shaped(blade.side, blade.theta_after(advice.per_face))
                         for blade, advice in zip(told.plans, told.advice.blades, strict=True)))
        for case, was, then in zip(_predicted(told).a.margins, margins(before, plan.build),
                                   margins(after, plan.build), strict=True):
            assert (case.case, case.kind) == (then.case, then.kind)
            assert case.now_ratio == pytest.approx(was.margin, rel=1e-12)
            assert case.then_ratio.value == pytest.approx(then.margin, rel=1e-12)
            assert case.then_ratio.low_90 < case.then_ratio.value < case.then_ratio.high_90
            assert case.then_ratio.value < case.now_ratio
        assert _predicted(told).a.splitting_now_ratio == splitting(before.a, plan.build).index
        assert _predicted(told).a.weakest.then_ratio.value == min(
            case.then_ratio.value for case in _predicted(told).a.margins)

    def test_weight_and_balance_are_the_mass_properties(self) -> None:
        told, known = _told(1.5, 0.5), _known(1.5, 0.5)
        predicted = _predicted(told)
        properties = mass_properties(Paddle(known.half("a"), known.half("b")),
                                     known.scaled_build("a"))
        assert predicted.mass_now_kg.value == pytest.approx(properties.mass_kg, rel=1e-3)
        assert predicted.balance_now_m.value == pytest.approx(properties.balance_m, abs=2e-4)
        saved = sum(advice.mass_saved_kg for advice in told.advice.blades)
        assert predicted.mass_now_kg.value - predicted.mass_then_kg.value == pytest.approx(
            saved, rel=1e-6)

    def test_the_intervals_hold_on_hidden_truths(self) -> None:
        """Freshly carved paddles, read and planed badly: 90 % are 90 %."""
        random, inside = np.random.default_rng(12), []
        for truth in Rough().truths(model(), random, 60):
            known = estimate(model().paddle, model().build,
                             read(model(), truth, everywhere(model().paddle), random))
            told = counsel(known, TARGET)
            if told.prediction is None:
                continue
            after = truth
            for advice in told.advice.blades:
                after = planed(model(), after, advice, random)
            for side, blade in zip(SIDES, (told.prediction.a, told.prediction.b), strict=True):
                crowns = after[model().layout.crowns(side)]
                inside += [one.low_90 < value < one.high_90
                           for one, value in zip(blade.crowns_then_m, crowns, strict=True)]
                sinks = true_sink(model(), after, side, TARGET)
                inside.append(blade.tip_then_m.low_90 < sinks < blade.tip_then_m.high_90)
            inside.append(_inside(told.prediction.mass_then_kg,
                                  model().predict(WeightReading(1.0), after)[0]))
            inside.append(_inside(told.prediction.balance_then_m,
                                  model().predict(BalanceReading(0.0), after)[0]))
        low, high = (binom.ppf(p, len(inside), 0.9) for p in (1e-4, 1.0 - 1e-4))
        # readings of one paddle err together: half as many independent ones, hence √2
        assert 0.9 * len(inside) - 1.5 * (0.9 * len(inside) - low) < sum(inside)
        assert sum(inside) < 0.9 * len(inside) + 1.5 * (high - 0.9 * len(inside))


def _inside(one: Between, value: float) -> bool:
    return one.low_90 < value < one.high_90


class TestMatching:
    """The stiffer blade comes to the more flexible one."""

    @pytest.mark.parametrize(("a", "b", "stiffer"), [(1.5, 0.4, "a"), (0.4, 1.5, "b")])
    def test_the_difference_shrinks(self, a: float, b: float, stiffer: str) -> None:
        found = _matched(_told(a, b))
        assert found.stiffer == stiffer
        assert abs(found.bend_then_m.value) < 0.5 * abs(found.bend_now_m.value)
        assert (found.bend_now_m.value < 0.0) == (stiffer == "a")
        assert found.alike == (abs(found.bend_then_m.value) <= TARGET.tolerance_m)
        assert abs(found.mass_then_kg) < abs(found.mass_now_kg)
        assert abs(found.balance_then_m.value) < abs(found.balance_now_m.value)

    def test_bends_are_those_advised(self) -> None:
        told = _told(1.5, 0.4)
        found, (a, b) = _matched(told), told.advice.blades
        assert found.bend_now_m.value == pytest.approx(a.deflection_m - b.deflection_m, rel=1e-9)
        assert found.bend_then_m.value == pytest.approx(a.predicted_m - b.predicted_m, rel=1e-9)
        # what both share cancels: a difference is better known than either
        assert found.bend_now_m.high_90 - found.bend_now_m.value < (
            1.6448536 * a.deflection_sd_ln * a.deflection_m)

    def test_the_balance_point_shifts_towards_the_blade_that_keeps_its_wood(self) -> None:
        found = _matched(_told(1.5, 0.4))
        assert found.mass_now_kg > 0.0
        assert found.balance_now_m.value > 0.0
        assert found.balance_shift_m < 0.0
        truth = _truth(1.5, 0.4)
        assert found.balance_now_m.value == pytest.approx(
            model().predict(BalanceReading(0.0), truth)[0], abs=5e-4)

    def test_the_heavier_blade_is_named_when_it_can_be_told(self) -> None:
        assert _matched(_told(1.5, 0.4)).heavier == "a"
        assert _matched(_told(0.4, 1.5)).heavier == "b"
        assert _matched(_told()).heavier is None
        assert _matched(_told()).heavier_chance == pytest.approx(0.5, abs=0.05)

    def test_what_the_heavier_blade_can_spare_is_what_its_savings_are(self) -> None:
        told = _told(1.5, 0.4)
        found = _matched(told)
        side = "a" if found.mass_then_kg > 0.0 else "b"
        spare = sum(s.saved_kg for s in told.savings if s.now and s.side == side)
        assert found.spare_kg == pytest.approx(min(spare, abs(found.mass_then_kg)), rel=1e-12)

    def test_inside_the_tolerance_the_stiffer_still_comes_to_the_other(self) -> None:
        """Both would do for the target, but they are told apart: 33.7 and 36.1 mm for 35."""
        target = Target(0.0351, tolerance_m=0.0020)
        advice = counsel(_known(0.57, 0.2), target).advice
        for blade in advice.blades:
            assert abs(blade.deflection_m - target.deflection_m) < target.tolerance_m
        a, b = advice.blades
        assert advice.stiffer == "a"
        assert a.goal_m == b.goal_m == b.deflection_m
        assert b.call == "stop: on target"
        assert (a.call, a.reason) == ("plane", "stiffer than the other blade")
        assert a.deflection_m < a.predicted_m <= a.goal_m
        assert a.overshoot_chance <= 0.05  # of passing the target's own tolerance

    def test_where_that_is_not_safe_it_stays_on_target(self) -> None:
        target = Target(0.0349)
        a, b = counsel(_known(0.5, 0.2), target).advice.blades
        assert a.goal_m == b.deflection_m
        assert a.call == "stop: on target"
        assert "stiffer than the other" in a.reason
        assert not np.any(a.per_face)


def test_nothing_is_foretold_while_something_is_in_doubt() -> None:
    readings = exact(model(), _truth(1.5, 1.5), everywhere(model().paddle))
    i = next(i for i, r in enumerate(readings) if "bench reading at tip" in r.label)
    readings[i] = valued(readings[i], 0.010)
    told = counsel(estimate(model().paddle, model().build, readings), TARGET)
    assert told.advice.blocked
    assert (told.prediction, told.match, told.readings, told.savings) == (None, None, (), ())


def test_a_round_is_complete() -> None:
    told = _told()
    assert told.readings
    assert told.savings
    assert told.advice.blocked == ()
    stopped = counsel(_known(0.0, 0.0), Target(_told(0.0, 0.0).advice.a.deflection_m))
    assert stopped.readings == ()
    assert all(not s.now for s in stopped.savings)
