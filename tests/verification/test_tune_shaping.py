"""Fairness in the advice: the fast measure is the bend's own, and passes go where they help."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from springloom.fit.bend import Target
from springloom.mechanics.bend import wanted_curvature
from springloom.mechanics.setups import clamped_line
from springloom.shape.blade import HalfPaddle
from springloom.tune.advice import Advice, advise, plans
from springloom.tune.allotment import allotted
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import SIDES, BenchReading
from springloom.tune.planing import FAIRER, FEW, UNFAIR
from springloom.tune.rules import FINE_PASS, PLANING_SD, SETTING_SHARE
from springloom.tune.shaping import CREST, CREST_SHARE, Shaping
from tests.verification.tune_bench import Floats, cedar, everywhere, exact, model

HALF = model().bench("a").half
TARGET = Target(0.038)


def _departs(half: HalfPaddle) -> tuple[Floats, Floats, Floats]:
    """Places, weights and how far ln curvature departs from the wanted shape, by the mechanics."""
    line = clamped_line(half, cedar(), TARGET.setup(half), large=False)
    inside = line.axis.x <= half.cap[0]
    x, weight = line.axis.x[inside], line.axis.weight[inside] / line.axis.weight[inside].sum()
    xi = (x - half.loom.root) / (half.tip - half.loom.root)
    departs = np.log(line.curvature[inside] / wanted_curvature(xi, TARGET.progression))
    return x, weight, departs - weight @ departs


def _badness(half: HalfPaddle) -> float:
    """Mean square departure, and the crest's station beside its neighbours; nothing planed."""
    x, weight, departs = _departs(half)
    places = np.array([s.x for s in half.stations])
    xi = (places - half.loom.root) / (half.tip - half.loom.root)
    k = int(np.argmax(wanted_curvature(xi, TARGET.progression)))
    at = np.interp(places, x, departs)
    straight = np.interp(places[k], places[[k - 1, k + 1]], at[[k - 1, k + 1]])
    return float(weight @ departs**2 + CREST_SHARE * (at[k] - straight - CREST) ** 2)


class TestShaping:
    """The quadratic form against the bent blade itself."""

    def test_before_any_removal_it_is_the_bends_own(self) -> None:
        shaping = Shaping.of(HALF, cedar(), TARGET)
        _, weight, departs = _departs(HALF)
        assert shaping.unfair_now == pytest.approx(math.sqrt(weight @ departs**2), rel=1e-9)
        assert shaping.badness(np.zeros((1, 6)))[0] == pytest.approx(_badness(HALF), rel=1e-9)

    @pytest.mark.parametrize("off_mm", [(0, 0, 0.4, 0, 0, 0), (0.4, 0.8, 0.8, 0.4, 0.4, 0.4),
                                        (0, 0, 0, 0, 0.4, 0.4)])
    def test_after_a_removal_it_is_near_the_bends_own(self, off_mm: tuple[float, ...]) -> None:
        shaping, off = Shaping.of(HALF, cedar(), TARGET), 1e-3 * np.array(off_mm)
        thinner = [replace(s, crown=s.crown - o, edge=s.edge and s.edge * (1 - o / s.crown))
                   for s, o in zip(HALF.stations, off, strict=True)]
        expected = _badness(replace(HALF, stations=tuple(thinner)))
        left = shaping.crowns - off
        planing = (off > 0.0) * 18.0 * (PLANING_SD / left) ** 2 @ np.diag(shaping.gram)
        along = 3.0 * SETTING_SHARE * off / left
        noise = planing + along @ shaping.gram @ along
        # edges, cap and crowns between stations follow the crowns only about: a fifth, or 1 % rms
        found = shaping.badness(off[None])[0] - noise
        assert found == pytest.approx(expected, rel=0.2, abs=1e-4)

    def test_a_scale_is_no_matter_of_shape(self) -> None:
        stiffer = replace(cedar(), e_pa=2 * cedar().e_pa, g_pa=2 * cedar().g_pa)
        one, other = (Shaping.of(HALF, wood, TARGET) for wood in (cedar(), stiffer))
        assert one.unfair_now == pytest.approx(other.unfair_now, rel=1e-9)


class TestAllotment:
    """The search ends where no move betters it, inside its bounds."""

    def _to(self, want: list[float], most: float = 9.0, grain: float = 1.0) -> list[float]:
        goal, bounds = np.array(want), (np.zeros(4), np.full(4, most))
        found = allotted(np.zeros(4), bounds, lambda rows: np.ones(len(rows), dtype=bool),
                         lambda rows: np.sum((rows - goal)[:, :3] ** 2, axis=1), grain)
        return [float(v) for v in found]

    def test_it_finds_the_nearest_whole_passes(self) -> None:
        assert self._to([2.2, 0.4, 3.7, 0.0]) == [2.0, 0.0, 4.0, 4.0]

    def test_by_single_faces_it_comes_nearer(self) -> None:
        assert self._to([2.2, 0.4, 3.7, 0.0], grain=0.5) == [2.0, 0.5, 3.5, 3.5]

    def test_it_keeps_to_the_most(self) -> None:
        assert self._to([2.2, 0.4, 3.7, 0.0], most=1.0) == [1.0, 0.0, 1.0, 1.0]

    def test_nothing_allowed_nothing_done(self) -> None:
        found = allotted(np.ones(4), (np.zeros(4), np.full(4, 9.0)),
                         lambda rows: np.zeros(len(rows), dtype=bool),
                         lambda rows: -np.sum(rows, axis=1))
        assert found.tolist() == [1.0] * 4


def _known(lump_mm: float, *, bench: bool = True) -> Estimate:
    """The plan with a hump at half the length of both blades, carefully read."""
    truth, at = model().start(), model().layout
    for side in SIDES:
        truth[at.crowns(side)][2] += 1e-3 * lump_mm
    readings = [r for r in exact(model(), truth, everywhere(model().paddle))
                if bench or not isinstance(r, BenchReading)]
    return estimate(model().paddle, model().build, readings)


def _advice(known: Estimate, tolerance_m: float = 0.004) -> Advice:
    """A target that the blade meets."""
    now = known.sink("a", TARGET.setup(HALF))[0]
    return advise(known, Target(now, tolerance_m=tolerance_m))


class TestFairing:
    """A blade that bends far enough is planed where it is stiff, if that fits the tolerance."""

    def test_a_hump_is_taken_down(self) -> None:
        known = _known(1.5)
        blade = _advice(known).a
        assert (blade.call, blade.reason) == ("plane", "as flexible as wanted, but stiff in places")
        assert max(blade.removals, key=lambda r: r.passes).station == "1/2"
        assert 0.0 < blade.overshoot_chance <= 0.05
        # the middle goes past the goal by half the tolerance at most
        assert blade.goal_m < blade.predicted_m <= blade.goal_m + 0.002

    def test_it_bends_fairer_then(self) -> None:
        known = _known(1.5)
        blade = _advice(known).a
        now = known.sink("a", TARGET.setup(HALF))[0]
        plan = plans(known, Target(now, tolerance_m=0.004))[0]
        after = known.model.shaped("a", plan.theta_after(blade.per_face))
        before, then = (Shaping.of(half, plan.build, plan.target).unfair_now
                        for half in (plan.half, after))
        assert before > UNFAIR
        assert then < before - FAIRER

    def test_a_fair_blade_is_left(self) -> None:
        assert _advice(_known(0.0)).a.call == "stop: on target"

    def test_not_where_the_tolerance_is_tight(self) -> None:
        """No pass is safe within half a millimetre."""
        assert _advice(_known(1.5), tolerance_m=0.0005).a.call != "plane"

    def test_not_where_nothing_was_hung(self) -> None:
        assert _advice(_known(1.5, bench=False)).a.call == "measure again"


class TestSingleFaces:
    """A small removal may be one pass more off one face."""

    def test_only_small_removals_have_halves(self) -> None:
        halves = 0
        for proud in np.arange(0.3, 1.6, 0.1):
            truth, at = model().start(), model().layout
            truth[at.crowns("a")] += 1e-3 * proud
            known = estimate(model().paddle, model().build,
                             exact(model(), truth, everywhere(model().paddle)))
            blade = advise(known, TARGET).a
            passes = np.array([r.passes for r in blade.removals])
            assert 2 * passes == pytest.approx(np.round(2 * passes), abs=1e-9)
            odd = bool(np.any(passes % 1.0 > 0.0))
            halves += odd
            assert not odd or passes.max() <= FEW
            for removal in blade.removals:
                assert abs(removal.upper_passes - removal.lower_passes) == 2 * (removal.passes % 1)
                assert removal.per_face_m == pytest.approx(removal.passes * FINE_PASS, abs=1e-12)
        assert halves > 0
