"""The blank and what a board leaves out: closed forms, and every verdict seen to fire."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import RangeError
from springloom.shape.blade import HalfPaddle
from springloom.shape.blank import (
    NO_ALLOWANCE,
    Allowances,
    blank_for,
    place_name,
    profile,
    shortfalls,
)
from springloom.shape.paddle import Paddle, default_paddle
from tests.verification.plan_designs import random_paddle

PADDLE = default_paddle()
HALF = PADDLE.a
ALLOW = Allowances()
# A board on which the default paddle has a millimetre to spare each way, m.
LENGTH = PADDLE.length + 2 * ALLOW.end_m + 0.001
WIDTH = 0.083 + 2 * ALLOW.edge_m + 0.001
THICKNESS = 0.038 + 2 * ALLOW.planing_m + 0.001


def one_faced() -> Paddle:
    stations = tuple(replace(s, share=1.0) for s in HALF.stations)
    return Paddle.mirrored(HalfPaddle(HALF.loom, stations))


def test_blank_is_the_paddle_and_its_allowances() -> None:
    blank = blank_for(PADDLE)
    # The outline's top lies at a station here; samples stand at every station.
    assert blank.length_m == pytest.approx(PADDLE.length + 2 * ALLOW.end_m)
    assert blank.width_m == pytest.approx(0.083 + 2 * ALLOW.edge_m)
    assert blank.thickness_m == pytest.approx(0.038)
    assert blank.above_m == pytest.approx(blank.below_m)
    assert blank.volume_m3 == pytest.approx(
        blank.length_m * blank.width_m * blank.thickness_m)


def test_one_faced_blank_holds_the_ridge_and_the_loom() -> None:
    """Root crown 34 mm all above the edges, the loom's lower 19 mm below: 53 mm in all."""
    blank = blank_for(one_faced(), NO_ALLOWANCE)
    # The blend that runs into the root rises over it by less than a hundredth of a mm.
    assert blank.above_m == pytest.approx(0.034, abs=1e-5)
    assert blank.below_m == pytest.approx(0.019)
    assert blank.thickness_m == pytest.approx(0.053, abs=1e-5)


@pytest.mark.parametrize("seed", range(12))
def test_profile_is_the_model(seed: int) -> None:
    paddle = random_paddle(seed)
    line = profile(paddle)
    assert line.x[0] == pytest.approx(-paddle.b.tip)
    assert line.x[-1] == pytest.approx(paddle.a.tip)
    assert np.all(np.diff(line.x) > 0.0)
    for side, half in ((1.0, paddle.a), (-1.0, paddle.b)):
        at = side * line.x > 1e-9
        values = half.values(half.parameter(side * line.x[at]))
        # A micrometre: x(u) and back again, near the tip, where the width falls steeply.
        assert line.half_width[at] == pytest.approx(values[0], abs=1e-6)
        assert line.top[at] + line.bottom[at] == pytest.approx(values[1], abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_no_place_reaches_out_of_its_blank(seed: int) -> None:
    paddle = random_paddle(seed)
    blank = blank_for(paddle, NO_ALLOWANCE)
    for half in (paddle.a, paddle.b):
        values = half.values(np.linspace(0.0, half.knots[-1], 5001))
        # A 5000th of the half between samples: the outline bows by less than 0.05 mm there.
        assert 2.0 * values[0].max() <= blank.width_m + 5e-5
        assert (values[1] * values[5]).max() <= blank.above_m + 5e-5
        assert (values[1] * (1.0 - values[5])).max() <= blank.below_m + 5e-5


def test_a_board_with_room_lacks_nothing() -> None:
    assert shortfalls(PADDLE, LENGTH, WIDTH, THICKNESS) == ()


@pytest.mark.parametrize(("size", "short"), [("length", 0.010), ("width", 0.009),
                                             ("thickness", 0.010)])
def test_each_size_that_is_short_is_told_with_its_place(size: str, short: float) -> None:
    sizes = {"length": LENGTH, "width": WIDTH, "thickness": THICKNESS}
    sizes[size] -= 0.001 + short
    (lack,) = shortfalls(PADDLE, sizes["length"], sizes["width"], sizes["thickness"])
    assert lack.size == size
    assert lack.short_m == pytest.approx(short)
    assert lack.place == {"length": "tip", "width": "75 mm from tip", "thickness": "loom"}[size]
    # These lacks are more than the allowances of width and thickness, less than the ends'.
    assert lack.only_allowance is (size == "length")


@pytest.mark.parametrize(("size", "short"), [("length", 0.050), ("width", 0.005),
                                             ("thickness", 0.002)])
def test_a_bare_fit_is_told_from_none(size: str, short: float) -> None:
    sizes = {"length": LENGTH - 0.001, "width": WIDTH - 0.001, "thickness": THICKNESS - 0.001}
    sizes[size] -= short  # exactly the allowance of that size
    (bare,) = shortfalls(PADDLE, sizes["length"], sizes["width"], sizes["thickness"])
    assert bare.only_allowance
    sizes[size] -= 1e-5
    (none,) = shortfalls(PADDLE, sizes["length"], sizes["width"], sizes["thickness"])
    assert not none.only_allowance


def test_where_a_board_is_too_thin_is_where_the_blade_is_thicker() -> None:
    """Between places 1e-3 of a half apart the crown is over what the board leaves, or not."""
    (lack,) = shortfalls(PADDLE, LENGTH, WIDTH, 0.032, NO_ALLOWANCE)
    x = np.linspace(0.0, HALF.tip, 4001)
    crown = HALF.values(HALF.parameter(x))[1]
    over = x[crown > 0.032 + 1e-7]
    assert lack.from_m == 0.0
    assert lack.to_m == pytest.approx(float(over.max()), abs=0.005)
    assert lack.needed_m == pytest.approx(0.038)


def test_two_stretches_of_one_blade_are_two_lacks() -> None:
    crowns = [0.036, 0.012, 0.030, 0.014, 0.010, 0.0075]
    wavy = Paddle.mirrored(HALF.with_crowns(crowns))
    found = shortfalls(wavy, LENGTH, WIDTH, 0.025, NO_ALLOWANCE)
    assert [lack.size for lack in found] == ["thickness", "thickness"]
    assert [lack.place for lack in found] == ["loom", "1/2"]
    assert found[0].to_m < found[1].from_m


def test_blades_that_differ_are_told_apart() -> None:
    wide = tuple(replace(s, width=1.2 * s.width) for s in HALF.stations)
    paddle = Paddle(HALF, HalfPaddle(HALF.loom, wide))
    (lack,) = shortfalls(paddle, LENGTH, WIDTH, THICKNESS)
    assert (lack.blade, lack.size) == ("B", "width")


def test_one_faced_paddle_is_judged_by_both_its_heights() -> None:
    whole = blank_for(one_faced()).thickness_m + 2 * ALLOW.planing_m
    assert shortfalls(one_faced(), LENGTH, WIDTH, whole) == ()
    found = shortfalls(one_faced(), LENGTH, WIDTH, whole - 0.004)
    assert {lack.size for lack in found} == {"thickness"}
    # 2 mm are missing over the ridge at the root and 2 mm under the loom.
    assert max(lack.short_m for lack in found) == pytest.approx(0.004)


def test_sawn_boards_are_asked_a_greater_allowance() -> None:
    thickness = 0.038 + 2 * ALLOW.planing_m
    assert shortfalls(PADDLE, LENGTH, WIDTH, thickness) == ()
    (lack,) = shortfalls(PADDLE, LENGTH, WIDTH, thickness, sawn=True)
    assert lack.short_m == pytest.approx(2 * (ALLOW.sawn_m - ALLOW.planing_m))


@given(st.floats(1.5, 3.0), st.floats(0.05, 0.2), st.floats(0.02, 0.06))
def test_a_larger_board_never_lacks_more(length: float, width: float, thickness: float) -> None:
    small = shortfalls(PADDLE, length, width, thickness)
    large = shortfalls(PADDLE, length + 0.1, width + 0.01, thickness + 0.005)
    assert {lack.size for lack in large} <= {lack.size for lack in small}
    assert all(lack.short_m > 0.0 for lack in small)


def test_places_are_named_as_makers_do() -> None:
    assert place_name(HALF, 0.1) == "loom"
    assert place_name(HALF, HALF.loom.root) == "root"
    assert place_name(HALF, HALF.at_fraction(0.5) + 0.01) == "1/2"
    assert place_name(HALF, HALF.tip) == "tip"


@pytest.mark.parametrize("name", ["kerf_m", "planing_m", "sawn_m", "edge_m", "end_m"])
@pytest.mark.parametrize("value", [-0.001, 1.0, float("nan")])
def test_allowances_no_shop_makes_are_refused(name: str, value: float) -> None:
    with pytest.raises(RangeError, match=name):
        Allowances(**{name: value})
