"""Stages of carving: volumes that fall to the closed form, and masses strip by strip."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from springloom.mechanics.mass import mass_properties
from springloom.mechanics.stage_mass import stage_masses
from springloom.shape.blank import Blank, blank_for
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.stages import STAGES, TAPERED, Carving, carvings, stages
from springloom.wood.layup import Layup, Strip
from springloom.wood.material import species_material
from tests.verification.plan_designs import random_half, random_paddle

CEDAR = species_material("western_redcedar")
ASH = species_material("white_ash")


@pytest.mark.parametrize("seed", range(30))
def test_every_stage_takes_wood_and_the_last_is_the_paddle(seed: int) -> None:
    paddle = random_paddle(seed)
    volumes = [stage.volume_m3 for stage in stages(paddle)]
    assert all(before > after for before, after in pairwise(volumes))
    # Two quadratures of one closed-form area.
    assert volumes[-1] == pytest.approx(mass_properties(paddle, CEDAR).volume_m3, rel=1e-8)


@pytest.mark.parametrize("seed", [1, 4, 10])
def test_sawn_volumes_by_adaptive_quadrature(seed: int) -> None:
    half, (carving, _) = random_half(seed), carvings(Paddle.mirrored(random_half(seed)))
    blank = carving.blank

    def over(u: float, power: int) -> float:
        values = half.values(u)
        thickness = float(values[1]) if power else blank.thickness_m
        return 2.0 * float(values[0]) * thickness * float(half.place(u)[1])

    for power, stage in enumerate(("sawn", "tapered")):
        whole = sum(quad(over, a, b, args=(power,), epsabs=1e-12)[0]
                    for a, b in pairwise(half.knots))
        assert carving.volumes()[STAGES.index(stage)] == pytest.approx(whole, rel=1e-9)


def test_squared_blank_is_the_box_that_was_bought() -> None:
    paddle = default_paddle()
    blank = blank_for(paddle)
    assert stages(paddle)[0].volume_m3 == pytest.approx(blank.volume_m3, rel=1e-14)
    other = Blank(2.5, 0.09, 0.05, 0.03)
    # 1 : 1 from the box; the rest of the stages only know its thickness.
    found = stages(paddle, other)
    assert found[0].volume_m3 == pytest.approx(2.5 * 0.09 * 0.05, rel=1e-14)
    assert found[1].volume_m3 == pytest.approx(
        stages(paddle)[1].volume_m3 * 0.05 / blank.thickness_m, rel=1e-12
    )
    assert found[TAPERED:] == stages(paddle)[TAPERED:]


@pytest.mark.parametrize("stage", range(len(STAGES) - 1))
@pytest.mark.parametrize("seed", [2, 5])
def test_area_is_that_of_the_corners(stage: int, seed: int) -> None:
    half = random_half(seed)
    carving = Carving(half, blank_for(Paddle.mirrored(half)))
    u = np.linspace(0.05, 0.99, 9) * half.knots[-1]
    areas = carving.areas(u)[stage]
    for n, faces in enumerate(zip(*carving.faces(u, stage), strict=True)):
        # Trapezia under each side of a face, both sides of the centre line.
        by_hand = sum(2.0 * float(np.sum(-np.diff(face[:, 0]) * 0.5
                                         * (face[1:, 1] + face[:-1, 1]))) for face in faces)
        assert areas[n] == pytest.approx(by_hand, rel=1e-12)


def test_area_of_the_octagon_of_a_round_loom() -> None:
    half = default_paddle().a
    areas = Carving(half, blank_for(default_paddle())).areas(np.array([0.1]))[:, 0]
    box = half.loom.width * half.loom.thickness
    # A regular octagon in its square, stretched with it: 2(√2 − 1) of its area; 16 sides about
    # a circle: 4 tan(π/16) of it. The Bézier circle is 2.8e-4 too large.
    assert areas[STAGES.index("first flats")] / box == pytest.approx(2.0 * (np.sqrt(2.0) - 1.0),
                                                                     rel=1e-6)
    assert areas[STAGES.index("second flats")] / box == pytest.approx(4.0 * np.tan(np.pi / 16.0),
                                                                      rel=4e-4)
    assert areas[-1] / box == pytest.approx(0.25 * np.pi, rel=3e-4)


@pytest.mark.parametrize("seed", [0, 3, 5, 7])
def test_wood_left_falls_stage_by_stage_to_none(seed: int) -> None:
    found = stages(random_paddle(seed))
    assert [s.left_m for s in found[:TAPERED]] == [None, None]
    left = [s.left_m for s in found[TAPERED:] if s.left_m is not None]
    assert len(left) == len(STAGES) - TAPERED
    assert all(before > after for before, after in pairwise(left))
    assert left[-1] == 0.0


def test_wood_left_names_the_blade_it_is_on() -> None:
    half = default_paddle().a
    full = half.with_crowns([1.3 * s.crown if n in {1, 2} else s.crown
                             for n, s in enumerate(half.stations)])
    squared = stages(Paddle(half, full))[TAPERED]
    mirror = stages(Paddle(full, half))[TAPERED]
    assert squared.left_at_m is not None
    assert mirror.left_at_m is not None
    assert squared.left_at_m == pytest.approx(-mirror.left_at_m)
    assert mirror.left_at_m > 0.0


def test_one_wood_weighs_its_volume() -> None:
    paddle = default_paddle()
    masses = stage_masses(paddle, CEDAR)
    assert masses == pytest.approx([CEDAR.density_kg_m3 * s.volume_m3 for s in stages(paddle)])
    assert masses[-1] == pytest.approx(mass_properties(paddle, CEDAR).mass_kg, rel=1e-9)


def test_strips_of_one_wood_weigh_as_one_wood() -> None:
    paddle = default_paddle()
    layup = Layup((Strip(CEDAR, -0.2, -0.007, -0.2, 0.2), Strip(CEDAR, -0.007, 0.011, -0.2, 0.004),
                   Strip(CEDAR, -0.007, 0.011, 0.004, 0.2), Strip(CEDAR, 0.011, 0.2, -0.2, 0.2)))
    # Strips are integrated over smooth faces by 32 points, polygons exactly.
    assert stage_masses(paddle, layup) == pytest.approx(stage_masses(paddle, CEDAR), rel=1e-5)


def across(y: np.typing.NDArray[np.float64], face: np.typing.NDArray[np.float64]
           ) -> np.typing.NDArray[np.float64]:
    """Height of a face over |y|, from its corners edge to ridge."""
    return np.where(np.abs(y) < face[0, 0], np.interp(np.abs(y), face[::-1, 0], face[::-1, 1]), 0.0)


@settings(max_examples=25)
@given(stage=st.integers(0, len(STAGES) - 2), y=st.floats(-0.02, 0.02), z=st.floats(-0.01, 0.01),
       wide=st.floats(0.002, 0.03), deep=st.floats(0.002, 0.02))
def test_a_heavy_strip_weighs_by_what_of_it_is_left(
    stage: int, y: float, z: float, wide: float, deep: float
) -> None:
    paddle = default_paddle()
    core = Strip(ASH, y, y + wide, z, z + deep)
    around = [Strip(CEDAR, -0.2, y, -0.2, 0.2), Strip(CEDAR, y + wide, 0.2, -0.2, 0.2),
              Strip(CEDAR, y, y + wide, -0.2, z), Strip(CEDAR, y, y + wide, z + deep, 0.2)]
    mass = stage_masses(paddle, Layup((core, *around)))[stage]
    carving, _ = carvings(paddle)
    u, weight = carving.nodes
    at = np.linspace(y, y + wide, 4001)
    core_volume = 0.0
    for top, low, w in zip(*carving.faces(u, stage), weight, strict=True):
        upper = np.minimum(across(at, top), z + deep)
        lower = np.maximum(-across(at, low), z)
        core_volume += w * float(np.trapezoid(np.maximum(upper - lower, 0.0), at))
    volumes = carving.volumes()
    box = stage == 0 and volumes[0] / (weight @ carving.areas(u)[0])  # room at the ends
    heavier = 2.0 * core_volume * (box or 1.0) * (ASH.density_kg_m3 - CEDAR.density_kg_m3)
    plain = 2.0 * volumes[stage] * CEDAR.density_kg_m3
    # The trapezium rule at 4000 steps where a face ends upright: a 4000th of the strip.
    assert mass - plain == pytest.approx(heavier, abs=1e-3 * heavier + 1e-6)


def test_a_blank_wider_than_its_strips_weighs_as_their_mean() -> None:
    paddle = default_paddle()
    narrow = Layup((Strip(CEDAR, -0.042, 0.042, -0.02, 0.02),))
    assert stage_masses(paddle, narrow) == pytest.approx(stage_masses(paddle, CEDAR), rel=1e-5)


def test_default_stages_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    paddle = default_paddle()
    with capsys.disabled():
        for stage, mass in zip(stages(paddle), stage_masses(paddle, CEDAR), strict=True):
            left = "" if stage.left_m is None else f", at most {1e3 * stage.left_m:.2f} mm left"
            print(f"\n{stage.name}: {1e3 * stage.volume_m3:.3f} L, {1e3 * mass:.0f} g{left}",
                  end="")
    # common practice, no source: a paddle comes out of four times its own wood or less.
    assert 3.0 < stages(paddle)[0].volume_m3 / stages(paddle)[-1].volume_m3 < 4.5
