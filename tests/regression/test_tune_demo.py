"""The shipped example's round of tuning, against our own past numbers (version 0.1)."""

from __future__ import annotations

import importlib.resources
from pathlib import Path

import pytest

from springloom.records.design import Design, load_design
from springloom.tune.advice import Advice, BladeAdvice, advise
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import Side


@pytest.fixture(scope="module")
def design() -> Design:
    file = importlib.resources.files("springloom.examples") / "marsh_tern.toml"
    return load_design(Path(str(file)))


@pytest.fixture(scope="module")
def known(design: Design) -> Estimate:
    return estimate(design.paddle, design.build, design.readings)


@pytest.fixture(scope="module")
def advice(design: Design, known: Estimate) -> Advice:
    return advise(known, design.wanted(), design.limits, design.rules)


def _blade(advice: Advice, side: Side) -> BladeAdvice:
    return advice.a if side == "a" else advice.b


# Tolerances: a tenth of an interval's width, so that a change of method shows and one of
# rounding does not.


@pytest.mark.parametrize(("side", "gpa", "sd"), [("a", 9.164, 0.280), ("b", 9.102, 0.281)])
def test_stiffness(known: Estimate, side: Side, gpa: float, sd: float) -> None:
    e = known.modulus(side)
    assert e.before == pytest.approx(9.088e9, abs=0.05e9)
    assert e.value == pytest.approx(1e9 * gpa, abs=0.1e9)
    assert e.sd == pytest.approx(1e9 * sd, rel=0.1)


def test_density_and_misfits(known: Estimate) -> None:
    density = known.density()
    assert density.value == pytest.approx(372.2, abs=0.7)
    assert density.sd == pytest.approx(1.99, rel=0.1)
    assert known.misfits == ()


@pytest.mark.parametrize(("side", "now_mm", "then_mm", "passes", "saved_g"), [
    ("a", 28.52, 32.23, [0, 3, 2, 2, 0, 0], 11.0),
    ("b", 28.24, 31.79, [1, 2, 2, 3, 0, 0], 11.7),
])
def test_advice(advice: Advice, side: Side, now_mm: float, then_mm: float, passes: list[int],
                saved_g: float) -> None:
    blade = _blade(advice, side)
    assert (blade.call, blade.reason) == ("plane", "stiffer than wanted")
    assert blade.goal_m == 0.033
    assert 1e3 * blade.deflection_m == pytest.approx(now_mm, abs=0.2)
    assert 1e3 * blade.predicted_m == pytest.approx(then_mm, abs=0.2)
    assert [removal.passes for removal in blade.removals] == passes
    assert 1e3 * blade.mass_saved_kg == pytest.approx(saved_g, abs=0.4)
    assert 0.01 < blade.overshoot_chance <= 0.05


def test_the_bend_is_described(advice: Advice) -> None:
    assert advice.a.bend.fair
    assert advice.a.bend.progressive
    assert [spot.kind for spot in advice.a.bend.spots] == ["stiff"]
    assert [spot.kind for spot in advice.b.bend.spots] == ["soft", "soft", "stiff"]


def test_the_blades_are_not_told_apart(advice: Advice) -> None:
    assert advice.stiffer is None
    assert advice.stiffer_chance == pytest.approx(0.63, abs=0.05)
    assert 1e3 * advice.difference_m == pytest.approx(0.29, abs=0.05)
