"""Advice's manners: fair ends, kept crowns, unlike faces, and every stop when it is due."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from springloom.fit.bend import Limits, Target
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.tune.advice import BladeAdvice, Rules, advise, plans
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import SIDES, BenchReading, Reading
from springloom.tune.model import Model
from springloom.tune.planing import LIMITS, Planing
from springloom.tune.rules import FINE_PASS, STEEPEST
from springloom.tune.targets import lightest_target
from tests.verification.tune_bench import Floats, cedar, everywhere, exact, model

HALF = model().bench("a").half


def _readings(of: Model, proud_mm: float) -> list[Reading]:
    truth, at = of.start(), of.layout
    for side in SIDES:
        truth[at.crowns(side)] += 1e-3 * proud_mm
        truth[at.edges(side)] += 0.5e-3 * proud_mm
    return exact(of, truth, everywhere(of.paddle))


@functools.cache
def _known(proud_mm: float = 1.5) -> Estimate:
    return estimate(model().paddle, model().build, _readings(model(), proud_mm))


def _passes(blade: BladeAdvice) -> list[float]:
    return [removal.passes for removal in blade.removals]


def _blade(known: Estimate, sinks: float, rules: Rules | None = None) -> Planing:
    return plans(known, Target(sinks), Limits(), rules)[0]


class TestFairEnds:
    """A removal runs out; it never ends in a step, and never on the shoulder."""

    @settings(max_examples=40)
    @given(lumps=st.lists(st.floats(-0.0005, 0.0030), min_size=6, max_size=6),
           pass_m=st.sampled_from([0.00005, FINE_PASS, 0.0005]))
    def test_neighbours_differ_by_no_more_than_the_distance_allows(
        self, lumps: list[float], pass_m: float
    ) -> None:
        truth, at = model().start(), model().layout
        for side in SIDES:
            truth[at.crowns(side)] += np.array(lumps)
        known = estimate(model().paddle, model().build,
                         exact(model(), truth, everywhere(model().paddle)))
        rules = Rules(pass_m=pass_m, most_m=0.005)
        for blade in advise(known, Target(0.045), rules=rules).blades:
            places = np.array([HALF.loom.half_length, *(r.x_m for r in blade.removals)])
            off = np.array([0.0, *(r.per_face_m for r in blade.removals)])
            # one pass can start anywhere
            most = np.maximum(STEEPEST * np.diff(places), pass_m) + 1e-9
            assert np.all(np.abs(np.diff(off)) <= most)

    def test_a_root_far_too_thick_comes_down_over_rounds(self) -> None:
        """A blend of 10 mm lets 0.4 mm off a face run out; more is wanted off the root."""
        loom = replace(HALF.loom, blend=0.010)
        half = HalfPaddle(loom, (replace(HALF.stations[0], x=loom.root), *HALF.stations[1:]))
        of = Model(Paddle.mirrored(half), cedar())
        known = estimate(of.paddle, of.build, _readings(of, 2.0))
        plan = plans(known, Target(0.045))[0]
        taking = plan.taking()
        reach = STEEPEST * loom.blend
        assert taking.wanted[0] > reach + FINE_PASS  # else this shows nothing
        assert taking.per_face[0] == pytest.approx(np.floor(reach / FINE_PASS) * FINE_PASS)
        assert taking.per_face[1] > taking.per_face[0]

    def test_the_shoulder_itself_loses_nothing(self) -> None:
        known = _known()
        blade = _blade(known, 0.045)
        after = model().shaped("a", blade.theta_after(blade.taking().per_face))
        shoulder = HALF.loom.half_length
        assert after.section(shoulder) == HALF.section(shoulder)


class TestKeptCrowns:
    """Where the design says so the crown stays."""

    def _keeping(self, *stations: int) -> Rules:
        return Rules(keep_m=tuple(HALF.stations[i].x for i in stations))

    def test_nothing_comes_off_there(self) -> None:
        free, kept = (advise(_known(), Target(0.040), rules=rules).a
                      for rules in (Rules(), self._keeping(1, 2)))
        assert _passes(free)[1] > 0
        assert _passes(free)[2] > 0
        assert _passes(kept)[1] == _passes(kept)[2] == 0
        assert _passes(kept)[3] >= _passes(free)[3]  # the rest makes up for it
        assert "kept crown at 1/4, 1/2" in kept.reason

    def test_all_kept_is_a_limit(self) -> None:
        blade = advise(_known(), Target(0.040), rules=self._keeping(*range(6))).a
        assert blade.call == "stop: a limit is reached"
        assert "the kept crown at root, 1/4, 1/2, 3/4" in blade.reason
        assert blade.nearest_m == blade.deflection_m

    def test_it_is_one_of_the_limits(self) -> None:
        rooms = _blade(_known(), 0.040, self._keeping(0)).rooms()
        assert rooms.shape == (len(LIMITS), 6)
        assert rooms[LIMITS.index("kept crown"), 0] == 0.0
        assert np.all(rooms[LIMITS.index("kept crown"), 1:] > 0.1)


def _unlike(share: float) -> Model:
    half = default_paddle().a
    stations = tuple(replace(s, share=share) for s in half.stations)
    return Model(Paddle.mirrored(HalfPaddle(half.loom, stations)), cedar())


@pytest.mark.parametrize("share", [0.5, 0.7, 1.0])
def test_each_face_loses_in_proportion_to_what_it_has(share: float) -> None:
    """So that a flat face stays flat and a hollow grows no deeper."""
    of = _unlike(share)
    known = estimate(of.paddle, of.build, _readings(of, 1.5))
    now = known.sink("a", Target(0.03).setup(of.paddle.a))[0]
    blade = advise(known, Target(1.3 * now)).a
    assert blade.call == "plane"
    assert max(_passes(blade)) > 2
    for removal in blade.removals:
        assert removal.upper_passes + removal.lower_passes == 2 * removal.passes
        assert removal.upper_passes == pytest.approx(2 * share * removal.passes, abs=0.5)
        off = removal.crown_before_m - removal.crown_after_m
        total = removal.upper_passes + removal.lower_passes
        assert off == pytest.approx(total * FINE_PASS, abs=1e-12)
        if share == 1.0:
            assert removal.lower_passes == 0


class TestStops:
    """Each stop with its reason, and none of them otherwise."""

    def _near(self, off_m: float, tolerance_m: float, rules: Rules | None = None) -> BladeAdvice:
        """A carefully measured blade this much stiffer than the target."""
        known = _known(0.2)
        now = known.sink("a", Target(0.03).setup(HALF))[0]
        return advise(known, Target(now + off_m, tolerance_m=tolerance_m), rules=rules).a

    def test_when_no_reading_can_tell(self) -> None:
        """1.7 % short, known to 3 %, and all readings once more would not make a pass safe."""
        blade = self._near(0.0006, 0.0005)
        assert blade.call == "stop: the readings can't tell"
        assert blade.reason.startswith("the 1.7 % it is stiffer than wanted is less than these")
        assert f"({100 * blade.deflection_sd_ln:.1f} %)" in blade.reason
        assert not np.any(blade.per_face)

    def test_not_where_nothing_was_hung_or_read_badly(self) -> None:
        readings = _readings(model(), 0.2)
        rough = [replace(r, sd=0.004, load_sd_share=0.05) if isinstance(r, BenchReading) else r
                 for r in readings]
        bare = [r for r in readings if not isinstance(r, BenchReading)]
        for chosen in (rough, bare):
            known = estimate(model().paddle, model().build, chosen)
            now = known.sink("a", Target(0.03).setup(HALF))[0]
            blade = advise(known, Target(now + 0.0006, tolerance_m=0.0005)).a
            assert blade.call == "measure again"

    def test_when_the_plane_is_too_coarse(self) -> None:
        """A millimetre at a time changes the bend by more than is wanted."""
        tip = tuple(station.x for station in HALF.stations[-2:])  # where it would change little
        coarse = Rules(pass_m=0.001, most_m=0.002, target_risk=0.4, keep_m=tip)
        blade = self._near(0.0007, 0.0004, coarse)
        assert blade.call == "stop: the plane is too coarse"
        assert "set the plane finer" in blade.reason
        assert self._near(0.0007, 0.0004, replace(coarse, pass_m=FINE_PASS)).call == "plane"

    def test_the_target_out_of_reach_names_the_nearest(self) -> None:
        """The nearest is what the blade would do with every limit reached."""
        limits = Limits()
        blade = advise(_known(), Target(0.100), limits).a
        plan = plans(_known(), Target(0.100), limits)[0]
        room = plan.rooms(finest=True).min(axis=0)
        assert blade.nearest_m == pytest.approx(plan.sinks(room)[0], rel=1e-12)
        assert blade.deflection_m < blade.nearest_m < blade.goal_m
        assert f"can come to {100 * blade.nearest_m / blade.goal_m:.0f} % of that" in blade.reason
        assert advise(_known(), Target(0.038)).a.nearest_m == 0.038

    def test_a_blade_too_thin_already_is_named(self) -> None:
        limits = Limits(least_crown_mid=0.018, least_crown_tip=0.006, least_edge=0.0055)
        blade = advise(_known(0.0), Target(0.045), limits).a
        named = {(one.station, one.kind): one for one in blade.below}
        assert set(named) == {("1/2", "crown"), ("75 mm from tip", "edge")}
        crown = named["1/2", "crown"]
        assert (crown.thickness_m, crown.least_m) == pytest.approx((0.0175, 0.018), abs=2e-5)
        assert crown.chance > 0.99
        assert advise(_known(0.0), Target(0.045)).a.below == ()


class TestLightest:
    """As light as it can safely be: the limits are where it ends, the cap where it must."""

    def _followed(self, target: Target, limits: Limits) -> tuple[Floats, BladeAdvice]:
        """Advice followed exactly, read exactly, until nothing comes off."""
        at, truth = model().layout, _known().theta.copy()
        truth[:5] = 0.0
        for _ in range(12):
            known = estimate(model().paddle, model().build,
                             exact(model(), truth, everywhere(model().paddle)))
            advice = advise(known, target, limits)
            if all(blade.call != "plane" for blade in advice.blades):
                return truth, advice.a
            for blade in advice.blades:
                before = truth[at.crowns(blade.side)].copy()
                left = before - 2.0 * blade.per_face
                truth[at.crowns(blade.side)] = left
                truth[at.edges(blade.side)] *= left / before
        raise AssertionError("twelve rounds")

    def test_it_ends_at_the_limits(self) -> None:
        """Thick limits: they end it long before any cap."""
        limits = Limits(least_crown_mid=0.0165, least_crown_tip=0.0080, least_edge=0.0045)
        truth, blade = self._followed(lightest_target(HALF, 0.2), limits)
        assert blade.call in {"stop: a limit is reached", "measure again"}
        if blade.call == "stop: a limit is reached":
            assert blade.reason.startswith("it is as light as it can safely be: one more pass")
        plan = plans(_known(), lightest_target(HALF, 0.2), limits)[0]
        least = np.maximum(*plan.floors)
        crowns = truth[model().layout.crowns("a")]
        assert np.all(crowns >= least)
        # what is left is less than a pass off each face and what keeps the risk: 4 sd or so
        thin = (crowns - least)[2:5] < 2.0 * FINE_PASS + 0.0009
        edges = truth[model().layout.edges("a")][2:5] - limits.least_edge
        assert np.all(thin | (edges < 2.0 * FINE_PASS + 0.0009))

    def test_it_ends_at_the_cap(self) -> None:
        truth, blade = self._followed(lightest_target(HALF, 0.042), Limits())
        assert blade.call == "stop: on target"
        assert "it bends as far as it may" in blade.reason
        assert truth.shape == _known().theta.shape

    def test_it_says_that_it_is_heavier_than_need_be(self) -> None:
        blade = advise(_known(), lightest_target(HALF)).a
        assert blade.call == "plane"
        assert blade.reason.startswith("heavier than it has to be")
        assert "of that" not in blade.reason
