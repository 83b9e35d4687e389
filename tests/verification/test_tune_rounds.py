"""Knowledge carried from round to round: exact where it can be, and never overconfident."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom

from springloom.fit.bend import Limits, Target
from springloom.tune.advice import Rules, advise
from springloom.tune.carry import after_planing, clamped_anew
from springloom.tune.estimate import CLAMP_COMMON, CLAMP_SD, NORMAL_90, Estimate, estimate, prior_of
from springloom.tune.evidence import SIDES, BenchReading, Reading, Side
from springloom.tune.jobs import random_job
from springloom.tune.planing import Planing
from springloom.tune.rounds import LEAST_RISK, Course, Round, followed, removals_of
from springloom.tune.rules import PLANING_SD, SETTING_SHARE
from springloom.tune.simulate import follow_advice
from springloom.tune.virtual import Maker, Tools
from tests.verification.tune_bench import Floats, Rough, everywhere, exact, model, places, read

TARGET = Target(0.045)
LIMITS = Limits()
REMOVAL = np.array([0.0, 0.0002, 0.0004, 0.0006, 0.0004, 0.0004])
"""Off each face of the default paddle's blades, m."""


def _readings(seed: int = 5) -> list[Reading]:
    random = np.random.default_rng(seed)
    truth = next(Rough().truths(model(), random, 1))
    return read(model(), truth, everywhere(model().paddle), random)


@functools.cache
def _known() -> Estimate:
    return estimate(model().paddle, model().build, _readings())


def _planed(truths: Floats, side: Side, random: np.random.Generator) -> Floats:
    """Each truth after the removal, by the rule as stated and not to first order."""
    at, count = model().layout, len(truths)
    setting = 1.0 + SETTING_SHARE * random.standard_normal((count, 1))
    hand = PLANING_SD * random.standard_normal((count, 2, len(REMOVAL))).sum(axis=1)
    off = 2.0 * REMOVAL * setting + hand * (REMOVAL > 0.0)
    after, crowns = truths.copy(), truths[:, at.crowns(side)]
    after[:, at.crowns(side)] = crowns - off
    after[:, at.edges(side)] *= 1.0 - off / crowns
    return after


class TestPlaning:
    """What a removal leaves of what is known."""

    def test_mean_and_covariance_are_those_of_many_paddles(self) -> None:
        known, random, count = _known(), np.random.default_rng(1), 60_000
        truths = random.multivariate_normal(known.theta, known.covariance, count)
        after = _planed(np.asarray(truths), "a", random)
        believed = after_planing(known, {"a": REMOVAL})
        sd = np.sqrt(np.diag(believed.covariance))
        # 4.5 standard errors among some 800 numbers; edge over crown is not quite straight:
        # a second-order share of (0.1 mm / 10 mm)² and less
        assert (after.mean(axis=0) - believed.mean) / sd == pytest.approx(
            np.zeros(len(sd)), abs=4.5 / math.sqrt(count) + 0.005)
        off = (np.cov(after.T) - believed.covariance) / np.outer(sd, sd)
        assert np.max(np.abs(off)) < 4.5 * math.sqrt(2.0 / count) + 0.002

    def test_it_is_what_the_advice_reckons_with(self) -> None:
        known = _known()
        blade = Planing(known, "b", TARGET, LIMITS, Rules(), TARGET.deflection_m)
        believed = after_planing(known, {"b": REMOVAL})
        assert believed.mean == pytest.approx(blade.theta_after(REMOVAL), rel=1e-12)
        at, edge = model().layout, known.theta[model().layout.edges("b")]
        crown = known.theta[at.crowns("b")]
        sds = np.sqrt(np.diag(believed.covariance))[at.crowns("b")]
        own = np.diag(known.covariance)[at.crowns("b")]
        planing = (SETTING_SHARE * 2.0 * REMOVAL) ** 2 + 2.0 * PLANING_SD**2 * (REMOVAL > 0.0)
        assert sds == pytest.approx(np.sqrt(own + planing), rel=1e-9)
        assert believed.mean[at.edges("b")] / edge == pytest.approx(
            (crown - 2.0 * REMOVAL) / crown, rel=1e-12)

    def test_nothing_off_changes_nothing(self) -> None:
        believed = after_planing(_known(), {"a": np.zeros(6)})
        assert np.array_equal(believed.mean, _known().theta)
        assert np.array_equal(believed.covariance, _known().covariance)

    def test_the_other_blade_is_left_alone(self) -> None:
        believed, at = after_planing(_known(), {"a": REMOVAL}), model().layout
        for part in (at.crowns("b"), at.edges("b")):
            assert np.array_equal(believed.mean[part], _known().theta[part])


class TestClamp:
    """A new clamping keeps the bench's part and forgets the rest."""

    def test_without_readings_nothing_changes(self) -> None:
        before = prior_of(model())
        after = clamped_anew(model(), before)
        assert after.covariance == pytest.approx(before.covariance, rel=1e-9, abs=1e-18)
        assert after.mean == pytest.approx(before.mean, abs=1e-18)

    def test_what_both_turned_is_half_remembered(self) -> None:
        """Both known exactly: the regression of a new turning on them, in closed form."""
        before, at = prior_of(model()), model().layout
        clamps = [at.clamp(side) for side in SIDES]
        mean, covariance = before.mean.copy(), before.covariance.copy()
        mean[clamps] = 3e-5
        covariance[clamps, :] = covariance[:, clamps] = 0.0
        after = clamped_anew(model(), type(before)(mean, covariance))
        share = 2.0 * CLAMP_COMMON / (1.0 + CLAMP_COMMON)
        assert after.mean[clamps] == pytest.approx([share * 3e-5] * 2, rel=1e-9)
        left = CLAMP_SD**2 * (1.0 - share * CLAMP_COMMON)
        assert np.diag(after.covariance)[clamps] == pytest.approx([left] * 2, rel=1e-9)


class TestWeight:
    """One weight's error, the same in every round."""

    def test_one_round_is_the_plain_estimate(self) -> None:
        course = Course(model().paddle, model().build).read(_readings())
        assert course.known is not None
        sd = np.sqrt(np.diag(_known().covariance))
        # the clamp's turning is taken not to go with the weight's error: 1 % of its 1 mm
        assert (course.known.theta - _known().theta) / sd == pytest.approx(
            np.zeros(len(sd)), abs=0.05)
        assert np.sqrt(np.diag(course.known.covariance)) == pytest.approx(sd, rel=0.02)
        assert course.known.readings == _known().readings

    def test_its_error_never_averages_out(self) -> None:
        """However often the same weight is hung, ln E is not known better than the weight."""
        course, plain = Course(model().paddle, model().build), []
        readings = [r for r in exact(model(), model().start(), everywhere(model().paddle))
                    if not isinstance(r, BenchReading)]
        bench = [replace(r, sd=1e-5)
                 for r in exact(model(), model().start(), places(model().paddle.a, "a"))
                 if isinstance(r, BenchReading)]
        for _ in range(6):
            course = course.read([*readings, *bench])
            assert course.known is not None
            plain.append(course.known.covariance[0, 0])
        prior = prior_of(model()).covariance[0, 0]
        floor = 1.0 / (1.0 / prior + 1.0 / bench[0].load_sd_share**2)
        assert min(plain) > floor * (1.0 - 1e-9)
        assert plain[-1] < plain[0]


class TestCourse:
    """Rounds in their order."""

    def _after(self, removal: Floats) -> tuple[Course, list[Reading]]:
        readings = _readings()
        course = Course(model().paddle, model().build).read(readings)
        assert course.known is not None
        truth = course.known.theta.copy()
        at = model().layout
        for side in SIDES:
            left = 1.0 - 2.0 * removal / truth[at.crowns(side)]
            truth[at.crowns(side)] *= left
            truth[at.edges(side)] *= left
        again = read(model(), truth, everywhere(model().paddle), np.random.default_rng(9))
        return course.planed(dict.fromkeys(SIDES, removal)), again

    def test_carried_is_never_less_than_fresh(self) -> None:
        course, again = self._after(REMOVAL)
        carried = course.read(again).known
        fresh = Course(model().paddle, model().build).read(again).known
        assert carried is not None
        assert fresh is not None
        ratio = np.diag(carried.covariance) / np.diag(fresh.covariance)
        # the two stand at slightly other unknowns, so that gradients differ by 1 %
        assert np.all(ratio < 1.02)
        setup = TARGET.setup(model().bench("a").half)
        assert carried.sink("a", setup)[1] < 0.95 * fresh.sink("a", setup)[1]

    def test_followed_goes_through_them_in_order(self) -> None:
        course, again = self._after(REMOVAL)
        removals = dict.fromkeys(SIDES, REMOVAL)
        found = followed(model().paddle, model().build, [Round(tuple(_readings()), removals)],
                         again, TARGET, LIMITS, Rules())
        expected = course.read(again)
        assert found.known is not None
        assert expected.known is not None
        assert found.rounds == 1
        assert found.known.theta == pytest.approx(expected.known.theta, rel=1e-12)

    def test_what_a_removal_risked_is_what_the_advice_said(self) -> None:
        course = Course(model().paddle, model().build).read(_readings())
        advice = course.advise(TARGET, LIMITS, Rules())
        removals = removals_of(advice)
        assert removals
        chances = course.chances(removals, TARGET, LIMITS, course.rules(Rules()))
        assert chances == {blade.side: pytest.approx(blade.overshoot_chance, rel=1e-9)
                           for blade in advice.blades if blade.side in removals}

    def test_planing_before_reading_is_refused(self) -> None:
        with pytest.raises(ValueError, match="read before"):
            Course(model().paddle, model().build).planed({})


class TestRisk:
    """One risk for the whole tuning."""

    @settings(max_examples=50)
    @given(taken=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30),
           total=st.floats(0.002, 0.2))
    def test_all_removals_together_stay_below_it(self, taken: list[float], total: float) -> None:
        rules, spent = Rules(tuning_risk=total), 0.0
        for share in taken:
            course = Course(model().paddle, model().build, spent={"a": spent, "b": 0.0})
            allowed = course.rules(rules).target_risk
            assert allowed <= rules.target_risk
            if allowed > LEAST_RISK:
                spent += share * allowed
        assert spent <= 0.5 * total

    def test_the_first_removal_is_more_careful_than_a_lone_one(self) -> None:
        course = Course(model().paddle, model().build).read(_readings())
        assert course.known is not None
        alone = advise(course.known, TARGET, LIMITS, Rules())
        first = course.advise(TARGET, LIMITS, Rules())
        for one, other in zip(first.blades, alone.blades, strict=True):
            assert one.overshoot_chance <= 0.5 * 0.5 * Rules().tuning_risk
            assert one.predicted_m < other.predicted_m


@pytest.mark.slow
def test_carried_intervals_cover() -> None:
    """90 % intervals of the deflection, round after round, on virtual paddles."""
    inside: list[list[bool]] = []
    for number in range(45):
        job = random_job(np.random.default_rng([21, number]))
        maker = Maker(np.random.default_rng([21, number, 1]), Tools(), job.target.load_n)
        for k, step in enumerate(follow_advice(job, maker)):
            for blade in step.advice.blades:
                truth = step.truth.sinks(blade.side, job.target.load_n)
                z = math.log(truth / blade.deflection_m) / blade.deflection_sd_ln
                inside += [[] for _ in range(k + 1 - len(inside))]
                inside[k].append(abs(z) < NORMAL_90)
    every = [one for some in inside for one in some]
    # Blades of one paddle share a weight and a bench, its rounds too: some 45 × 2 are independent.
    low, high = (float(binom.ppf(p, 90, 0.9)) / 90 for p in (0.005, 0.995))
    assert low <= np.mean(every) <= high
    for some in inside[:3]:
        assert low <= np.mean(some) <= high
