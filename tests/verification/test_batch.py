"""The compiled batch path must be the single path, only faster."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import RangeError, ShapeError
from springloom.mechanics.batch import Batch
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import tip_deflection
from springloom.shape.blade import HalfPaddle
from springloom.shape.curves import fair_curve
from springloom.shape.paddle import Paddle, default_paddle
from springloom.wood.material import Material, species_material

Floats = npt.NDArray[np.float64]

HALF = default_paddle().a
WOOD = species_material("western_redcedar")
CROWNS = np.array([station.crown for station in HALF.stations])
BATCH = Batch(HALF, WOOD)

AGREE = 1e-12  # both sum the same numbers in another order; only rounding may differ


def single(half: HalfPaddle, wood: Material) -> tuple[float, float]:
    return tip_deflection(half, wood), mass_properties(Paddle.mirrored(half), wood).mass_kg


def scaled(wood: Material, e_pa: float, density: float) -> Material:
    ratio = e_pa / wood.e_pa
    return replace(wood, e_pa=e_pa, g_pa=wood.g_pa * ratio, g_width_pa=wood.g_width_pa * ratio,
                   density_kg_m3=density)


@given(
    scale=st.floats(0.7, 1.2),
    wobble=st.lists(st.floats(-0.15, 0.15), min_size=6, max_size=6),
    e_pa=st.floats(3e9, 2e10),
    density=st.floats(150.0, 900.0),
)
def test_batch_equals_the_single_path(
    scale: float, wobble: list[float], e_pa: float, density: float
) -> None:
    crowns = CROWNS * scale * (1.0 + np.array(wobble))
    got = BATCH.run(crowns[None], [e_pa], [density])
    deflection, mass = single(HALF.with_crowns(crowns), scaled(WOOD, e_pa, density))
    assert got.tip_deflection_m[0] == pytest.approx(deflection, rel=AGREE)
    assert got.mass_kg[0] == pytest.approx(mass, rel=AGREE)


def test_a_design_that_would_overshoot_takes_the_single_path() -> None:
    wavy = CROWNS.copy()
    wavy[2] = wavy[1] * 1.15  # a bump: a free batten would rise above it
    assert fair_curve(HALF.knots[2:], wavy).fairness != "batten"
    got = BATCH.run(np.stack([CROWNS, wavy, CROWNS]))
    deflection, mass = single(HALF.with_crowns(wavy), WOOD)
    assert got.tip_deflection_m[1] == pytest.approx(deflection, rel=AGREE)
    assert got.mass_kg[1] == pytest.approx(mass, rel=AGREE)
    assert got.tip_deflection_m[0] == got.tip_deflection_m[2]


@pytest.mark.parametrize("count", [1, 63, 64, 65, 1000])
def test_every_lane_is_filled_whatever_the_count(count: int) -> None:
    modulus = np.linspace(5e9, 15e9, count)
    got = BATCH.run(np.tile(CROWNS, (count, 1)), modulus)
    # the shear modulus keeps its ratio, so deflection goes with 1/E to rounding
    expected = got.tip_deflection_m[0] * modulus[0] / modulus
    np.testing.assert_allclose(got.tip_deflection_m, expected, rtol=AGREE)


def test_another_outline_with_unlike_faces() -> None:
    stations = tuple(replace(s, share=0.7, ridge_bottom=0.3) for s in HALF.stations)
    half = HalfPaddle(HALF.loom, stations)
    got = Batch(half, WOOD).run([0.9 * CROWNS])
    deflection, mass = single(half.with_crowns(0.9 * CROWNS), WOOD)
    assert got.tip_deflection_m[0] == pytest.approx(deflection, rel=AGREE)
    assert got.mass_kg[0] == pytest.approx(mass, rel=AGREE)


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ShapeError) as caught:
        BATCH.run([CROWNS[:-1]])
    assert caught.value.field == "crowns"
    assert caught.value.allowed == "(n, 6)"


@pytest.mark.parametrize("bad", [0.0, -0.01, np.nan, np.inf])
def test_no_number_comes_from_what_is_no_number(bad: float) -> None:
    crowns = np.tile(CROWNS, (3, 1))
    crowns[1, 2] = bad
    with pytest.raises(RangeError) as caught:
        BATCH.run(crowns)
    assert caught.value.field == "crowns"
    with pytest.raises(RangeError):
        BATCH.run([CROWNS], [bad])
