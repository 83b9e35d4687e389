"""The next reading: what it is expected to tell is what it tells, and the best comes first."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pytest

from springloom.fit.bend import Limits, Target
from springloom.mechanics.stiffness import rigidity_at
from springloom.tune.advice import advise_on, plans
from springloom.tune.estimate import Estimate, Prior, estimate, prior_of
from springloom.tune.evidence import (
    SIDES,
    BenchReading,
    Reading,
    Side,
    TapReading,
    ThicknessReading,
)
from springloom.tune.next_reading import (
    State,
    best_sd_ln,
    candidates,
    ln_ei_gradients,
    next_readings,
    removal_gradients,
    valued,
)
from springloom.tune.planing import Planing
from springloom.tune.rules import Rules
from tests.verification.tune_bench import Floats, drawn, everywhere, exact, model, places, read

TARGET = Target(0.038)
HALF = model().bench("a").half


@functools.cache
def _known() -> Estimate:
    """Everything read without error on a blade 1.2 mm proud: all is linear where it lies."""
    truth, at = model().start(), model().layout
    for side in SIDES:
        truth[at.crowns(side)] += 0.0012
        truth[at.edges(side)] += 0.0005
    readings = exact(model(), truth, everywhere(model().paddle))
    return estimate(model().paddle, model().build, readings)


def _plans(known: Estimate) -> tuple[Planing, Planing]:
    return plans(known, TARGET)


def _rms(q: Floats, covariance: Floats) -> float:
    return math.sqrt(float(np.mean(np.einsum("ki,ij,kj->k", q, covariance, q))))


def _posterior(known: Estimate, state: State, reading: Reading) -> Floats:
    """Written out again: all readings together with the new one, linearised at one place."""
    readings = [*state.before, reading]
    noise = np.diag([r.own_sd**2 for r in readings])
    for i, one in enumerate(readings):
        for j, other in enumerate(readings):
            noise[i, j] += sum(a * b for source, a in one.shared for name, b in other.shared
                               if source == name)
    gradients = np.array([known.model.predict(r, state.theta)[1] for r in readings])
    before = prior_of(known.model).covariance
    precision = np.linalg.inv(before) + gradients.T @ np.linalg.solve(noise, gradients)
    return np.asarray(np.linalg.inv(precision))


class TestExpectation:
    """Linear and Gaussian: the expected reduction is the actual one, whatever is read."""

    @pytest.mark.parametrize("index", range(0, 46, 3))
    def test_it_is_the_linearised_posteriors(self, index: int) -> None:
        known, both = _known(), _plans(_known())
        state = State.now(known)
        offered = next_readings(state, both)
        told = offered[index % len(offered)]
        q = np.concatenate([removal_gradients(state, blade) for blade in both])
        after = _posterior(known, state, told.reading)
        # rounding: variances of mm² beside inverses of a 50 by 50 matrix
        assert told.removal_sd_after_m == pytest.approx(_rms(q, after), rel=1e-6)
        assert told.removal_sd_before_m == pytest.approx(_rms(q, known.covariance), rel=1e-9)

    @pytest.mark.parametrize("kind", ["crown at 1/2", "edge at 3/4", "bench reading at tip",
                                      "width at 1/4", "tap", "balance point", "paddle weight"])
    def test_it_is_what_the_estimate_then_says(self, kind: str) -> None:
        """Read as expected, so that nothing moves."""
        known, both = _known(), _plans(_known())
        state = State.now(known)
        told = next(one for one in next_readings(state, both) if one.label.endswith(kind))
        again = estimate(known.model.paddle, known.model.build, [*known.readings, told.reading])
        q = np.concatenate([removal_gradients(state, blade) for blade in both])
        # Gauss–Newton stops within 1e-6 of a prior sd, and gradients move that little too
        assert told.removal_sd_after_m == pytest.approx(_rms(q, again.covariance), rel=1e-5)
        bend = [again.sink(blade.side, TARGET.setup(HALF))[1] for blade in both]
        assert told.bend_sd_ln_after == pytest.approx(
            math.sqrt(float(np.mean(np.square(bend)))), rel=1e-5)

    def test_it_holds_after_noisy_readings_too(self) -> None:
        """Also what the hung weight's error is believed to be goes into what is expected."""
        random = np.random.default_rng(4)
        known = estimate(model().paddle, model().build, read(
            model(), drawn(model(), random), everywhere(model().paddle), random))
        assert not known.misfits
        state, both = State.now(known), _plans(known)
        told = next(one for one in next_readings(state, both)
                    if one.label == "blade A, bench reading at tip")
        again = estimate(model().paddle, model().build, [*known.readings, told.reading])
        assert np.max(np.abs(again.theta - known.theta) / np.sqrt(np.diag(known.covariance))) < 0.01
        q = np.concatenate([removal_gradients(state, blade) for blade in both])
        assert told.removal_sd_after_m == pytest.approx(_rms(q, again.covariance), rel=1e-4)

    def test_it_holds_after_planing(self) -> None:
        """The next round starts from what this one left, and the weight is hung anew."""
        known, both = _known(), _plans(_known())
        advice = advise_on(both)
        taken = [(blade, told.per_face) for blade, told in zip(both, advice.blades, strict=True)]
        state = State.planed(known, taken)
        told = next_readings(state, both)[0]
        again = estimate(model().paddle, model().build, [told.reading],
                         Prior(state.theta, state.covariance))
        q = np.concatenate([removal_gradients(state, blade) for blade in both])
        assert told.removal_sd_after_m == pytest.approx(_rms(q, again.covariance), rel=1e-5)
        assert told.removal_sd_before_m > _rms(q, known.covariance)  # planing adds to the doubt

    def test_readings_under_one_weight_share_its_error(self) -> None:
        """A further reading under the same weight tells less than under one of its own."""
        state, both = State.now(_known()), _plans(_known())
        shared = state.offer([BenchReading("a", 0.01, HALF.tip, HALF.tip, HALF.loom.root)])
        fresh = replace(state, before=()).offer(shared.readings)
        by = removal_gradients(state, both[0])

        def left(noise: float, gradient: Floats) -> float:
            spread = state.covariance @ gradient
            taken = (by @ spread) ** 2 / (gradient @ spread + noise)
            return float(np.sum(taken))

        assert (left(float(shared.noise[0, 0]), shared.gradients[0])
                < left(float(fresh.noise[0, 0]), fresh.gradients[0]))


def test_the_most_telling_comes_first() -> None:
    offered = next_readings(State.now(_known()), _plans(_known()))
    after = [one.removal_sd_after_m for one in offered]
    assert after == sorted(after)
    assert all(0.0 <= one.reduction < 1.0 for one in offered)
    assert offered[0].reduction > 0.01


def test_nothing_is_asked_for_no_blade() -> None:
    assert next_readings(State.now(_known()), []) == ()


@pytest.mark.parametrize(("missing", "named"), [
    ("blade A, crown at 1/2", "blade A, crown at 1/2"),
    ("blade B, crown at 1/4", "blade B, crown at 1/4"),
])
def test_what_was_left_out_is_asked_for(missing: str, named: str) -> None:
    """One crown that nobody read, on a paddle that is known otherwise."""
    everything = exact(model(), model().start(), everywhere(model().paddle))
    known = estimate(model().paddle, model().build,
                     [r for r in everything if r.label != missing])
    assert next_readings(State.now(known), _plans(known))[0].label == named


def test_a_load_is_asked_for_where_only_calipers_were_used() -> None:
    chosen = [r for side in SIDES for r in places(HALF, side, bench=False)]
    known = estimate(model().paddle, model().build, exact(model(), model().start(), chosen))
    best = next_readings(State.now(known), _plans(known))[0]
    assert isinstance(best.reading, BenchReading | TapReading)
    assert best.reduction > 0.05


def test_candidates_use_the_makers_own_tools() -> None:
    fine = [replace(r, sd=0.00005) if isinstance(r, ThicknessReading) else r
            for r in exact(model(), model().start(), everywhere(model().paddle))]
    heavy = [replace(r, load=60.0) if isinstance(r, BenchReading) else r for r in fine]
    known = estimate(model().paddle, model().build, exact(model(), model().start(), heavy))
    for reading in candidates(known, _plans(known)):
        if isinstance(reading, ThicknessReading):
            assert reading.sd == 0.00005
        if isinstance(reading, BenchReading):
            assert reading.load == 60.0


@pytest.mark.parametrize("side", SIDES)
def test_stiffness_of_a_section_by_the_unknowns(side: Side) -> None:
    """Against differences of the sections the mechanics make."""
    truth = drawn(model(), np.random.default_rng(9))
    known = estimate(model().paddle, model().build,
                     exact(model(), truth, everywhere(model().paddle)))
    state, at = State.now(known), model().layout
    found = ln_ei_gradients(state, side)

    def ln_ei(theta: Floats) -> Floats:
        values = model().shaped(side, theta).station_values[:-1].T  # the tip bears no moment
        return np.asarray(np.log(rigidity_at(values, model().build).ei))

    scale = known.prior_sd
    for part in (at.crowns(side), at.edges(side), at.ridges(side), at.widths(side)):
        for j in range(part.start, part.stop):
            step = np.zeros(at.size)
            step[j] = 1e-4 * scale[j]
            rise = (ln_ei(state.theta + step) - ln_ei(state.theta - step)) / 2e-4
            # a difference over 1e-4 of a prior sd errs by its square
            assert found[:-1, j] * scale[j] == pytest.approx(rise, abs=1e-6)
    assert np.all(found[:, at.ln_e(side)] == 1.0)


def test_what_further_readings_could_tell_at_best() -> None:
    """All of them together tell more than any alone, and never all."""
    known, both = _known(), _plans(_known())
    state = State.now(known)
    best = best_sd_ln(state, both[0])
    now = known.sink("a", TARGET.setup(HALF))[1]
    alone = min(one.bend_sd_ln_after for one in next_readings(state, [both[0]]))
    assert 0.0 < best < alone < now


def test_a_doubtful_reading_counts_for_less_here_as_it_does_there() -> None:
    """Its variance is what the estimate gave it."""
    readings = exact(model(), model().start(), everywhere(model().paddle))
    i = next(i for i, r in enumerate(readings) if isinstance(r, BenchReading))
    for off in np.linspace(1.0, 3.0, 21):
        bent = list(readings)
        bent[i] = valued(readings[i], readings[i].value + off * 0.001)
        known = estimate(model().paddle, model().build, bent)
        if known.softened:
            break
    assert known.softened
    state, both = State.now(known), plans(known, TARGET, Limits(), Rules())
    told = next(one for one in next_readings(state, both)
                if one.label.endswith("bench reading at 3/4"))
    again_state = State(known, known.theta, known.covariance, ())
    plain = next(one for one in next_readings(again_state, both) if one.label == told.label)
    assert told.removal_sd_before_m == plain.removal_sd_before_m
    assert told.removal_sd_after_m != plain.removal_sd_after_m
