"""The joint estimate: it recovers hidden truths, its intervals hold, and it names what is wrong."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from springloom.errors import EvidenceError, RangeError
from springloom.fit.bend import Target
from springloom.mechanics.beam import Load
from springloom.mechanics.setups import POUND_FORCE, Clamped, clamped_line
from springloom.tune.estimate import (
    DOUBTFUL,
    NORMAL_90,
    SUSPECT,
    WITHIN_BOARD,
    Estimate,
    Prior,
    estimate,
    prior_of,
    reference_modulus,
)
from springloom.tune.evidence import (
    SIDES,
    BenchReading,
    FullnessReading,
    HandsReading,
    Reading,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.model import Model
from springloom.tune.rounds import Course
from springloom.tune.settle import Evidence, noise_of, settle, surprise
from springloom.wood.material import Material
from tests.verification.tune_bench import (
    Floats,
    cedar,
    drawn,
    every_kind,
    everywhere,
    exact,
    model,
    places,
    read,
    valued,
)
from tests.verification.tune_coverage import EVIDENCE

HALF = model().bench("a").half
TIP, ROOT = HALF.tip, HALF.loom.root


def _known(readings: list[Reading], of: Model | None = None) -> Estimate:
    used = of or model()
    return estimate(used.paddle, used.build, readings)


def _sds(known: Estimate) -> Floats:
    return np.sqrt(np.diag(known.covariance))


def test_no_evidence_leaves_the_prior() -> None:
    known, (mean, spread) = _known([]), prior_of(model())
    assert np.array_equal(known.theta, mean)
    assert known.covariance == pytest.approx(spread, abs=1e-12)  # inverted twice
    assert known.misfits == ()
    assert known.modulus("a").value == known.modulus("a").before == reference_modulus(model().build)


def test_exact_readings_of_the_plan_confirm_it() -> None:
    known = _known(exact(model(), model().start(), everywhere(model().paddle)))
    assert known.theta == pytest.approx(model().start(), abs=1e-9)
    assert np.all(_sds(known) <= known.prior_sd)


def test_a_known_truth_is_recovered() -> None:
    """Three tenths softer wood than its species, everything read exactly."""
    base = Model(model().paddle, cedar(sd_ln_e=0.2))
    at, truth = base.layout, base.start()
    truth[:2] = math.log(0.7)
    truth[at.crowns("a")] += 0.0010
    truth[at.edges("a")] += 0.0004
    known = _known(exact(base, truth, everywhere(base.paddle)), base)
    for side in SIDES:
        e = known.modulus(side)
        assert e.low < 0.7 * reference_modulus(base.build) < e.high
        assert e.sd < 0.3 * e.before_sd  # ±20 % before; a clamp and a weight leave some 4 %
    # A caliper sd of 0.1 mm against a prior of 1.7: pulled back by 1/290 of 1 mm at most.
    assert known.theta[at.crowns("a")] == pytest.approx(truth[at.crowns("a")], abs=2e-5)


def test_intervals_are_the_posteriors() -> None:
    known = _known(exact(model(), model().start(), everywhere(model().paddle)))
    at, sds = known.model.layout, _sds(known)
    e, crown, clamp = known.modulus("a"), known.crowns("b")[2], known.clamp_turning("a")
    assert e.low * e.high == pytest.approx(e.value**2, rel=1e-12)  # lognormal
    assert math.log(e.high / e.value) == pytest.approx(NORMAL_90 * sds[at.ln_e("a")], rel=1e-9)
    assert crown.high - crown.low == pytest.approx(
        2.0 * NORMAL_90 * sds[at.crowns("b")][2], rel=1e-9
    )
    assert crown.name == "crown at 1/2"
    # the mean lies within a tenth of an sd of the mode
    assert known.edges("a")[1].value == pytest.approx(HALF.stations[1].edge or 0.0, rel=1e-3)
    assert clamp.low < 0.0 < clamp.high
    assert known.density().low < cedar().density_kg_m3 < known.density().high


def test_errors_of_all_unknowns_together() -> None:
    """(θ̂ − θ)ᵀ Σ⁻¹ (θ̂ − θ) is χ² with as many degrees of freedom as unknowns."""
    random = np.random.default_rng(8)
    for _ in range(10):
        truth = drawn(model(), random)
        known = _known(read(model(), truth, everywhere(model().paddle), random))
        off = known.theta - truth
        distance = off @ np.linalg.solve(known.covariance, off)
        low, high = (chi2.ppf(p, len(off)) for p in (1e-4, 1.0 - 1e-4))
        assert low < distance < high


def test_laplace_agrees_with_importance_sampling() -> None:
    """Draws from a wider Gaussian, weighted by the exact posterior, have its mean and sd."""
    random = np.random.default_rng(11)
    truth = drawn(model(), random)
    readings = read(model(), truth, everywhere(model().paddle), random)
    known = _known(readings)
    mean, spread = prior_of(model())
    draws = np.asarray(random.multivariate_normal(known.theta, 1.2 * known.covariance, 2500))
    weight = np.array([_log_posterior(readings, theta, mean, spread) for theta in draws])
    off = draws - known.theta
    weight += 0.5 * np.einsum("ij,ij->i", off, np.linalg.solve(1.2 * known.covariance, off.T).T)
    weight = np.exp(weight - np.max(weight))
    weight /= np.sum(weight)
    effective = 1.0 / np.sum(weight**2)
    assert effective > 500.0
    middle = np.asarray(weight @ draws)
    sd = np.sqrt(np.asarray(weight @ (draws - middle) ** 2))
    # means are sampled to sd/√n, sds to sd/√2n; 53 unknowns stay below 4 of those
    assert np.all(np.abs(middle - known.theta) < 4.0 / math.sqrt(effective) * _sds(known))
    assert sd == pytest.approx(_sds(known), rel=4.0 / math.sqrt(2.0 * effective))


def _log_posterior(readings: list[Reading], theta: Floats, mean: Floats, spread: Floats) -> float:
    """Written out again: Gaussian prior, and errors with each weight's own in common."""
    off = theta - mean
    total = -0.5 * off @ np.linalg.solve(spread, off)
    errors, covariance = [], np.zeros((len(readings), len(readings)))
    for i, reading in enumerate(readings):
        errors.append(reading.value - model().predict(reading, theta)[0])
        covariance[i, i] = reading.sd**2
        if isinstance(reading, WeightReading):
            covariance[i, i] = reading.total_sd**2
        if isinstance(reading, BenchReading):
            for j, other in enumerate(readings):
                if isinstance(other, BenchReading) and other.load == reading.load:
                    covariance[i, j] += 1e-4 * reading.deflection * other.deflection
    left = np.array(errors)
    return float(total - 0.5 * left @ np.linalg.solve(covariance, left))


@settings(max_examples=20)
@given(order=st.permutations(range(len(everywhere(model().paddle)))), count=st.integers(0, 26))
def test_a_further_reading_never_widens_anything(order: list[int], count: int) -> None:
    """Exact readings of the plan, so that all is linearised at one place."""
    all_of_them = exact(model(), model().start(), everywhere(model().paddle))
    chosen = [all_of_them[i] for i in order[: count + 1]]
    fewer, more = _known(chosen[:-1]), _known(chosen)
    assert np.all(_sds(more) <= _sds(fewer) * (1.0 + 1e-9))


def test_stiffness_is_told_before_and_after() -> None:
    truth = model().start()
    truth[:2] = 0.12
    e = _known(exact(model(), truth, everywhere(model().paddle))).modulus("a")
    reference = reference_modulus(model().build)
    assert e.before == reference
    assert e.before_sd == pytest.approx(reference * math.hypot(0.1, WITHIN_BOARD), rel=1e-9)
    assert e.sd < 0.5 * e.before_sd
    assert e.low < reference * math.exp(0.12) < e.high


def test_the_board_ties_both_blades() -> None:
    """Read on A alone, B's ln E follows by the share that the blades have in common."""
    truth = model().start()
    truth[:2] = 0.15
    known = _known(exact(model(), truth, places(HALF, "a")))
    moved = known.theta - known.prior
    common = 0.1**2 / (0.1**2 + WITHIN_BOARD**2)
    assert moved[0] > 0.08
    assert moved[1] == pytest.approx(common * moved[0], rel=1e-6)


def test_readings_under_one_weight_share_its_error() -> None:
    """However finely and often it is read, a 1 % weight tells the bend to 1 %, two to less."""
    at = [HALF.at_fraction(share) for share in (0.5, 0.7, 0.8, 0.9, 1.0)]
    ten: list[Reading] = [BenchReading("a", 0.01, x, TIP, ROOT, sd=2e-5) for x in at]
    six: list[Reading] = [
        BenchReading("a", 0.01, x, TIP, ROOT, load=6.0 * POUND_FORCE, sd=2e-5) for x in at
    ]
    setup = Target(0.035).setup(HALF)
    plan, calipers = model().start(), places(HALF, "a", bench=False)
    _, one = _known(exact(model(), plan, [*calipers, *ten])).sink("a", setup)
    _, two = _known(exact(model(), plan, [*calipers, *ten, *six])).sink("a", setup)
    assert one > 0.01
    assert two < one / 1.1


def test_a_deep_reading_counts_as_deep() -> None:
    """30 lb sinks the tip by a sixth of the blade: taken in proportion E would be 3 % high."""
    build, load = model().build, 30.0 * POUND_FORCE
    assert isinstance(build, Material)
    setup = Clamped(ROOT, (Load(TIP, load),), (TIP,))
    deep, flat = (clamped_line(HALF, build, setup, large=large).at(TIP) for large in (True, False))
    readings = [*exact(model(), model().start(), places(HALF, "a", bench=False)),
                BenchReading("a", deep, TIP, TIP, ROOT, load, sd=1e-4, load_sd_share=0.001)]
    median, _ = _known(readings).sink("a", setup)
    assert deep < 0.98 * flat
    assert median == pytest.approx(flat, rel=2 * 0.04**2)  # as the model's own test says


def test_two_rounds_are_one() -> None:
    """What was believed after the calipers, carried on to the bench and scale: as all at once."""
    random = np.random.default_rng(4)
    readings = read(model(), drawn(model(), random), everywhere(model().paddle), random)
    calipers: list[Reading] = [r for r in readings if isinstance(r, ThicknessReading)]
    others: list[Reading] = [r for r in readings if not isinstance(r, ThicknessReading)]
    early, once = _known(calipers), _known(readings)
    late = estimate(model().paddle, model().build, others, Prior(early.theta, early.covariance))
    assert early.softened == once.softened == ()  # or weights would differ
    # at the stations calipers read the unknowns themselves, so that nothing is linearised early
    assert late.theta == pytest.approx(once.theta, rel=1e-6, abs=1e-9)
    assert _sds(late) == pytest.approx(_sds(once), rel=1e-6)
    assert np.array_equal(late.prior, early.theta)


def _spoilt(index: int, value: float) -> tuple[list[Reading], list[Reading]]:
    """A clean noisy set with one reading mistyped, and the same set without it."""
    random = np.random.default_rng(31)
    clean = read(model(), drawn(model(), random), everywhere(model().paddle), random)
    assert _known(clean).misfits == ()
    left = [*clean[:index], *clean[index + 1:]]
    return [*clean[:index], valued(clean[index], value), *clean[index + 1:]], left


def _index(label: str) -> int:
    return [r.label for r in everywhere(model().paddle)].index(label)


@pytest.mark.parametrize(("label", "value"), [
    ("blade A, bench reading at tip", 0.31),  # 31 mm with the point left out
    ("blade A, bench reading at tip", 0.0012),  # inches taken for mm
    ("blade B, bench reading at 3/4", 0.030),
    ("blade A, crown at 1/2", 0.0241),
    ("blade B, edge at 3/4", 0.0140),
    ("paddle weight", 1.6),
])
def test_a_wild_reading_is_named_and_left_out(label: str, value: float) -> None:
    spoilt, left = _spoilt(_index(label), value)
    known = _known(spoilt)
    assert [misfit.label for misfit in known.misfits] == [label]
    assert known.misfits[0].sigmas > SUSPECT
    # both settle to 1e-6 sd, from different starts
    assert np.all(np.abs(known.theta - _known(left).theta) < 1e-5 * _sds(known))
    assert len(known.readings) == len(spoilt) - 1


def test_two_that_contradict_each_other_are_noticed() -> None:
    """The same place read twice, 12 mm apart: one of the two is named."""
    both = exact(model(), model().start(), places(HALF, "a"))
    tip = next(r for r in both if isinstance(r, BenchReading))
    known = _known([*both, replace(tip, deflection=tip.deflection + 0.012)])
    assert [m.label for m in known.misfits] == [tip.label]


def test_a_mistyped_load_shows_as_strange_wood() -> None:
    """Kilograms typed as pounds: all readings agree, on wood that nobody planed."""
    as_read = exact(model(), model().start(), everywhere(model().paddle))
    typed = [replace(r, load=r.load / 0.45359237) if isinstance(r, BenchReading) else r
             for r in as_read]
    known = _known(typed)
    assert [m.label for m in known.misfits] == ["stiffness of blade A", "stiffness of blade B"]
    assert all(m.sigmas > SUSPECT for m in known.misfits)


def test_calipers_in_another_unit_are_named() -> None:
    """Inches typed as millimetres."""
    readings: list[Reading] = [ThicknessReading("a", s.x, 0.0009) for s in HALF.stations]
    assert "blade A, crown at 280 mm" in [misfit.label for misfit in _known(readings).misfits]


@pytest.mark.parametrize(("reading", "sentence"), [
    # metres typed as millimetres: nothing else was read, so none can be called the culprit
    (BenchReading("a", 3e-5, TIP, TIP, ROOT), "check their units"),
    (BenchReading("a", 0.5, HALF.at_fraction(0.1), TIP, ROOT), "bends so far"),
])
def test_what_no_blade_does_is_refused(reading: Reading, sentence: str) -> None:
    with pytest.raises(EvidenceError, match=sentence):
        _known([reading])


@pytest.mark.parametrize(("reading", "field"), [
    (ThicknessReading("a", TIP + 0.01, 0.01), "crown at"),
    (ThicknessReading("a", TIP, 0.005, "edge"), "edge at"),
    (BenchReading("b", 0.03, TIP + 0.01, TIP, ROOT), "read_at"),
    (BenchReading("b", 0.03, TIP, TIP + 0.01, ROOT), "hung_at"),
    (BenchReading("b", 0.03, TIP, TIP, TIP - 0.06), "clamp"),
    (HandsReading("a", 0.03, TIP + 0.01), "read_at"),
    (HandsReading("b", 0.03, load_x=TIP + 0.01), "hung_at"),
    (HandsReading("b", 0.03, half_span=ROOT + 0.01), "half_span"),
    (TapReading("a", 27.0, TIP - 0.03), "clamp"),
    (WidthReading("a", TIP - 0.03, 0.05), "width at"),
    (FullnessReading("b", TIP, 1.0, 0.0, 0.5, 0.1), "trace at"),
    (ThicknessReading("a", TIP, 0.01, "inset", inset=0.01), "in at"),
    (ThicknessReading("a", HALF.stations[2].x, 0.01, "inset", inset=0.037), "inset"),
])
def test_what_lies_beyond_the_blade_is_refused(reading: Reading, field: str) -> None:
    with pytest.raises(RangeError) as caught:
        _known([reading])
    assert field in caught.value.field


class TestMoved:
    """Each unknown says what moved it."""

    def _read(self, mix: str, seed: int) -> Estimate:
        random = np.random.default_rng(seed)
        truth = drawn(model(), random)
        return _known(read(model(), truth, EVIDENCE[mix](model().paddle), random))

    @pytest.mark.parametrize("mix", EVIDENCE)
    @pytest.mark.parametrize("seed", range(3))
    def test_parts_add_up_to_the_shift(self, mix: str, seed: int) -> None:
        known = self._read(mix, seed)
        assert known.taken is not None
        # settled to a millionth of a prior sd
        assert known.taken.parts.sum(axis=0) == pytest.approx(
            known.theta - known.prior, abs=1e-5 * float(np.max(known.prior_sd)))
        shift = (known.taken.parts.sum(axis=0) - (known.theta - known.prior)) / known.prior_sd
        assert np.max(np.abs(shift)) < 1e-5
        e = known.modulus("a")
        assert sum(moved.shift for moved in e.moved_by) == pytest.approx(
            known.theta[0] - known.prior[0], abs=1e-6)
        sizes = [abs(moved.shift) for moved in e.moved_by]
        assert sizes == sorted(sizes, reverse=True)

    def test_parts_add_up_over_rounds_under_one_weight(self) -> None:
        """The weight's own error is kept apart from round to round, and so are its parts."""
        random = np.random.default_rng(6)
        truth = drawn(model(), random)
        course = Course(model().paddle, model().build)
        for _ in range(2):
            course = course.read(read(model(), truth, everywhere(model().paddle), random))
            known = course.now()
            assert known.taken is not None
            off = known.taken.parts.sum(axis=0) - (known.theta - known.prior)
            assert np.max(np.abs(off) / known.prior_sd) < 1e-5

    def test_what_agrees_moves_nothing(self) -> None:
        known = _known(exact(model(), model().start(), everywhere(model().paddle)))
        assert known.taken is not None
        assert np.max(np.abs(known.taken.parts / known.prior_sd)) < 1e-6

    def test_the_parts_name_the_kinds_of_evidence(self) -> None:
        told = {moved.evidence for moved in self._read("every kind of reading", 1).density()
                .moved_by}
        assert told == {"bench, blade A", "bench, blade B", "calipers, blade A",
                        "calipers, blade B", "traces, blade A", "traces, blade B",
                        "outline, blade A", "outline, blade B", "two hands", "tap", "weight",
                        "balance"}

    def test_a_caliper_moves_its_crown_and_a_weight_the_density(self) -> None:
        truth, at = model().start(), model().layout
        truth[at.crowns("b").start + 2] += 0.001
        truth[at.ln_density] = 0.05
        known = _known(exact(model(), truth, everywhere(model().paddle)))
        crown, density = known.crowns("b")[2], known.density()
        assert crown.moved_by[0].evidence == "calipers, blade B"
        assert crown.moved_by[0].shift == pytest.approx(0.001, rel=0.1)
        assert density.moved_by[0].evidence == "weight"

    def test_what_the_readings_do_not_tell_stays_wide(self) -> None:
        known = _known(exact(model(), model().start(), everywhere(model().paddle)))
        assert all(ridge.wide for ridge in known.ridges("a"))
        assert known.longer("b").wide
        assert all(width.wide for width in known.widths("a"))
        assert not known.modulus("a").wide
        assert not any(crown.wide for crown in known.crowns("a"))
        full = _known(exact(model(), model().start(), every_kind(model().paddle)))
        assert not full.longer("b").wide
        assert not any(width.wide for width in full.widths("a"))


class TestSlips:
    """One slip of the ruler, from none to wild, does not spoil the forecast."""

    setup = Target(0.037).setup(HALF)

    def _clean(self) -> list[Reading]:
        return exact(model(), model().start(), everywhere(model().paddle))

    def _slipped(self, sigmas: float, label: str) -> Estimate:
        """``sigmas`` are of the reading against all others, before it slips."""
        clean = self._clean()
        i = [r.label for r in clean].index(label)
        base = Evidence.of(model(), clean)
        at = settle(base, prior_of(model()))
        assert at is not None
        _, spread = surprise(base, at, prior_of(model()))
        off = sigmas / math.sqrt(np.linalg.inv(spread)[i, i])
        return _known([*clean[:i], valued(clean[i], clean[i].value + off), *clean[i + 1:]])

    @pytest.mark.parametrize("label", ["blade A, bench reading at tip", "blade A, crown at 3/4"])
    def test_its_pull_is_bounded(self, label: str) -> None:
        right, _ = _known(self._clean()).sink("a", self.setup)
        pulls = []
        for sigmas in (0.0, 1.0, 2.0, 2.8, 3.3, 3.6, 3.8, 4.4, 6.0, 12.0):
            known = self._slipped(sigmas, label)
            median, sd_ln = known.sink("a", self.setup)
            pulls.append(abs(math.log(median / right)) / sd_ln)
            named = [m.label for m in known.misfits]
            softer = [m.label for m in known.softened]
            assert named == ([label] if sigmas > SUSPECT else [])
            assert softer == ([label] if DOUBTFUL < sigmas <= SUSPECT else [])
        assert max(pulls) < 3.0
        assert max(pulls) in pulls[3:7]  # near where it begins to count for less
        assert max(pulls[-3:]) < 0.2
        if "bench" in label:
            assert pulls[5] > pulls[6] > pulls[7]  # and gives way, not at once

    def test_clean_readings_keep_all_their_weight(self) -> None:
        known = self._slipped(2.8, "blade A, bench reading at tip")
        assert known.softened == ()
        assert known.evidence is not None
        assert np.all(known.evidence.kept == 1.0)
        assert known.evidence.noise == pytest.approx(noise_of(known.readings), rel=1e-12)

    def test_a_doubtful_one_counts_for_less(self) -> None:
        known = self._slipped(3.5, "blade A, bench reading at tip")
        assert known.evidence is not None
        assert sorted(known.evidence.kept)[0] == pytest.approx(0.25, abs=0.06)  # (4 − 3.5)²
        assert known.softened[0].sigmas == pytest.approx(3.5, abs=0.06)
