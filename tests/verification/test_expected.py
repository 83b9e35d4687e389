"""The expected line: the model's own, as a shape that keeps the blade's length, with its band."""

from __future__ import annotations

import math

import numpy as np
import pytest

from springloom.mechanics.beam import Load
from springloom.mechanics.expected import SIGMA_90, expected, stiffer
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line
from springloom.mechanics.stiffness import Build, rigidity_at, spread_of
from springloom.shape.paddle import default_paddle
from springloom.wood.assess import assess
from springloom.wood.board import Board, CentralLoadTest
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.lognormal import LogNormal
from springloom.wood.material import material_from, species_material
from tests.verification.plan_designs import random_half

HALF = default_paddle().a
CEDAR, SPRUCE = species_material("western_redcedar"), species_material("sitka_spruce")
FAR = HALF_BLANK_M
LAYUP = Layup((Strip(CEDAR, -FAR, 0.0, -FAR, FAR), Strip(SPRUCE, 0.0, FAR, -FAR, FAR)))


@pytest.mark.parametrize("build", [CEDAR, LAYUP])
@pytest.mark.parametrize("force", [STANDARD_LOAD, 200.0])
def test_falls_are_the_models_at_every_station(build: Build, force: float) -> None:
    setup = Clamped(loads=(Load(HALF.tip, force),))
    line = expected(HALF, build, setup).middle
    for station in HALF.stations[1:]:
        read = Clamped(loads=setup.loads, read=(station.x,))
        bent = clamped_line(HALF, build, read)
        # Cut elsewhere the model integrates a hair differently: 1e-6 of the fall.
        assert np.interp(station.x, line.x, line.fall) == pytest.approx(bent.at(station.x),
                                                                        rel=1e-6)


@pytest.mark.parametrize("force", [10.0, STANDARD_LOAD, 200.0])
def test_the_drawn_shape_is_as_long_as_the_blade(force: float) -> None:
    """Shear leans the blade without stretching it: less than a part in ten thousand longer."""
    line = expected(HALF, CEDAR, Clamped(loads=(Load(HALF.tip, force),))).middle
    length = float(np.sum(np.hypot(np.diff(line.out), np.diff(line.fall))))
    assert length == pytest.approx(HALF.tip - HALF.loom.root, rel=1e-4)
    assert line.out[-1] < HALF.tip


def test_band_is_the_line_of_a_stiffer_and_a_softer_wood() -> None:
    """Under a load where small deflections hold, falls go with 1/E: a lognormal's 5 and 95 %."""
    bend = expected(HALF, CEDAR, Clamped(loads=(Load(HALF.tip, 5.0),)))
    sd, _ = spread_of(CEDAR)
    known = LogNormal(bend.middle.tip_m, sd)
    low, high = known.interval(0.9)
    assert bend.least.tip_m == pytest.approx(low)
    assert bend.most.tip_m == pytest.approx(high)
    assert pytest.approx(known.quantile(0.95) / known.median) == math.exp(SIGMA_90 * sd)


def test_a_deep_bend_has_a_band_of_its_own() -> None:
    bend = expected(HALF, CEDAR, Clamped(loads=(Load(HALF.tip, 200.0),)))
    assert bend.least.tip_m < bend.middle.tip_m < bend.most.tip_m
    assert bend.most.out[-1] < bend.middle.out[-1] < bend.least.out[-1]


@pytest.mark.parametrize("build", [CEDAR, LAYUP])
def test_rigidity_is_the_beams(build: Build) -> None:
    bend = expected(HALF, build)
    x = bend.middle.x[:-1]
    ei = rigidity_at(HALF.values(HALF.parameter(x)), build).ei
    assert bend.ei[:-1] == pytest.approx(ei)
    assert bend.ei[-1] == 0.0
    # κ = M/EI inside, and so at the clamp, where it is carried on straight.
    lever = STANDARD_LOAD * (HALF.tip - x)
    assert bend.middle.curvature[:-1] == pytest.approx(lever / ei, rel=2e-3)


@pytest.mark.parametrize("build", [CEDAR, LAYUP])
def test_stiffer_scales_every_rigidity(build: Build) -> None:
    values = HALF.values(np.array([0.4, 0.8]))
    one, two = (rigidity_at(values, b)
                for b in (build, stiffer(build, 2.0)))
    assert two.ei == pytest.approx(2.0 * one.ei)
    assert two.shear == pytest.approx(2.0 * one.shear)
    assert two.mass == pytest.approx(one.mass)


@pytest.mark.parametrize("seed", range(8))
def test_a_line_falls_and_turns_one_way(seed: int) -> None:
    line = expected(random_half(seed), CEDAR).middle
    assert np.all(np.diff(line.x) > 0.0)
    assert np.all(np.diff(line.out) > 0.0)
    assert np.all(np.diff(line.fall) >= 0.0)
    assert line.curvature.min() >= 0.0


def test_the_band_is_only_as_wide_as_what_is_known() -> None:
    board = Board("western_redcedar", 2.44, 0.089, 0.040)
    tested = Board("western_redcedar", 2.44, 0.089, 0.040,
                   bending_tests=(CentralLoadTest(2.0, STANDARD_LOAD, 0.0017),))
    wide, narrow = (expected(HALF, material_from(assess(b))) for b in (board, tested))
    assert (narrow.most.tip_m / narrow.least.tip_m) < (wide.most.tip_m / wide.least.tip_m)
