"""Two paddles in one board: the shift's closed form, and layouts that never touch."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.shape.blank import NO_ALLOWANCE, Allowances, Profile, profile
from springloom.shape.nest import SHIFT_STEP, Nest, Pair, pair
from springloom.shape.paddle import default_paddle
from tests.verification.plan_designs import random_paddle

HALF_LENGTH, HALF_WIDTH, WAIST = 1.0, 0.04, 0.015


def outline(x: np.ndarray, half_width: np.ndarray) -> Profile:
    return Profile(x, half_width, half_width, half_width)


def bow_tie() -> Profile:
    """Half-width growing straight from nothing at the centre to HALF_WIDTH at both ends."""
    x = np.array([-HALF_LENGTH, 0.0, HALF_LENGTH])
    return outline(x, HALF_WIDTH * np.abs(x) / HALF_LENGTH)


def dumbbell() -> Profile:
    """A waist of half-width WAIST within half the length, HALF_WIDTH outside it."""
    a, e = 0.5 * HALF_LENGTH, 1e-4
    x = np.array([-HALF_LENGTH, -a - e, -a + e, a - e, a + e, HALF_LENGTH])
    w = np.array([HALF_WIDTH, HALF_WIDTH, WAIST, WAIST, HALF_WIDTH, HALF_WIDTH])
    return outline(x, w)


def apart(both: Pair, shift: float) -> float:
    return float(both.apart[int(np.argmin(np.abs(both.shifts - shift)))])


@pytest.mark.parametrize("shift", [0.0, 0.25, 0.5, 0.9, 1.0, 1.5, 1.9])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_bow_ties_need_what_their_closed_form_says(shift: float, sign: float) -> None:
    """max over the overlap of a(|x| + |x − d|)/l is a(2 − d/l) for d ≤ l, a·d/l beyond."""
    both = pair(bow_tie(), bow_tie(), NO_ALLOWANCE)
    share = shift / HALF_LENGTH
    expected = HALF_WIDTH * max(2.0 - share, share)
    # The grid holds both ends and the corner, so it adds nothing but rounding.
    assert apart(both, sign * shift) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(("shift", "expected"), [
    (0.0, 2 * HALF_WIDTH), (0.4, 2 * HALF_WIDTH), (0.6, HALF_WIDTH + WAIST),
    (0.9, HALF_WIDTH + WAIST), (1.2, 2 * HALF_WIDTH),
])
def test_dumbbells_slip_past_each_other(shift: float, expected: float) -> None:
    """From half the length on each blade lies beside the other's waist; at the whole one beside
    the other's far blade again."""
    both = pair(dumbbell(), dumbbell(), NO_ALLOWANCE)
    assert apart(both, shift) == pytest.approx(expected, abs=1e-9)


def test_dumbbells_lie_in_the_least_board_of_their_closed_form() -> None:
    allow = Allowances(kerf_m=0.003, edge_m=0.002, end_m=0.01)
    both = pair(dumbbell(), dumbbell(), allow)
    width = 3 * HALF_WIDTH + WAIST + 2 * 0.002 + 0.003
    nest = both.in_board(4.0, width + 1e-6)
    assert nest.fits
    assert nest.kind == "shifted"
    assert nest.width_m == pytest.approx(width)
    # The least shift: half the length, to within one step and the corner's run of 0.2 mm.
    assert nest.shift_m == pytest.approx(0.5, abs=SHIFT_STEP + 3e-4)
    assert nest.length_m == pytest.approx(2 * HALF_LENGTH + nest.shift_m + 2 * 0.01)
    assert not both.in_board(4.0, width - 1e-4).fits


def test_squared_blanks_are_preferred_where_there_is_room() -> None:
    allow = Allowances()
    line = profile(default_paddle())
    both = pair(line, line, allow)
    beside = 2 * (0.083 + 2 * allow.edge_m) + allow.kerf_m
    assert both.in_board(2.3, beside + 1e-6).kind == "side by side"
    assert both.in_board(2.3, beside - 1e-4).kind == "shifted"
    long = 2 * (2.21 + 2 * allow.end_m) + allow.kerf_m
    assert both.in_board(long + 1e-6, 0.0881).kind == "end to end"
    assert not both.in_board(long - 1e-3, 0.0881).fits


def test_a_board_for_one_says_what_two_would_need() -> None:
    line = profile(default_paddle())
    nest = pair(line, line).in_board(2.44, 0.089)
    assert not nest.fits
    assert nest.width_m > 0.089
    assert nest.length_m <= 2.44 + 1e-9


def test_a_board_too_short_for_one_still_gets_an_answer() -> None:
    line = profile(default_paddle())
    nest = pair(line, line).in_board(1.0, 0.2)
    assert not nest.fits
    assert nest.length_m > 1.0


def edges(line: Profile, x: np.ndarray, shift: float, turned: bool) -> np.ndarray:
    at = (shift - x) if turned else (x - shift)
    return np.interp(at, line.x, line.half_width, left=np.nan, right=np.nan)


@pytest.mark.parametrize("seed", range(20))
def test_nested_outlines_keep_a_saw_cut_between_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    first, second = profile(random_paddle(seed)), profile(random_paddle(seed + 50))
    turned = bool(seed % 2)
    allow = Allowances()
    nest = pair(first, second, allow, turned=turned).in_board(rng.uniform(2.6, 4.2),
                                                              rng.uniform(0.12, 0.26))
    x = np.linspace(-3.0, 4.0, 20001)
    low = nest.low_m + edges(first, x, 0.0, False)
    high = nest.low_m + nest.apart_m - edges(second, x, nest.shift_m, turned)
    beside = ~np.isnan(low) & ~np.isnan(high)
    if nest.kind != "end to end":
        # Outlines may bow by a tenth of the cut between the points the shift was worked out on.
        assert np.all(high[beside] - low[beside] >= 0.9 * allow.kerf_m)
        top = nest.low_m + nest.apart_m + np.nanmax(edges(second, x, nest.shift_m, turned))
        assert top <= nest.width_m - allow.edge_m + 1e-4
    ends = (-np.min(x[~np.isnan(low)]), np.max(x[~np.isnan(low)]))
    assert nest.length_m >= sum(ends)


@given(st.floats(2.0, 5.0), st.floats(0.08, 0.3), st.floats(0.0, 0.5), st.floats(0.0, 0.1))
def test_a_larger_board_never_loses_the_second_paddle(
    length: float, width: float, longer: float, wider: float
) -> None:
    nest: Nest = BOTH.in_board(length, width)
    if nest.fits:
        assert BOTH.in_board(length + longer, width + wider).fits


BOTH = pair(profile(default_paddle()), profile(default_paddle()))
