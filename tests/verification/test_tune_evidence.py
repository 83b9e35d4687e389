"""Readings: what they say of themselves, and repeats put together."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import RangeError, SpringloomError, UnknownNameError
from springloom.tune.evidence import (
    INSTRUMENTS,
    BalanceReading,
    BenchReading,
    FullnessReading,
    HandsReading,
    LengthReading,
    Reading,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
    repeated,
)
from springloom.tune.settle import noise_of

SD = INSTRUMENTS["ruler"]


def test_finer_instruments_err_less() -> None:
    order = ["dial caliper", "vernier caliper", "profile gauge", "combination square", "ruler",
             "ruler against a string", "tape"]
    assert list(INSTRUMENTS) == order
    assert list(INSTRUMENTS.values()) == sorted(INSTRUMENTS.values())


class TestRepeated:
    """Several readings of one thing."""

    def test_one_reading_is_itself(self) -> None:
        told = repeated([0.030], [], SD)
        assert (told.value, told.scatter, told.hysteresis) == (0.030, 0.0, 0.0)
        assert told.sd == pytest.approx(SD, rel=1e-12)

    @given(st.lists(st.floats(0.0295, 0.0305), min_size=2, max_size=8))
    def test_repeats_are_their_mean(self, values: list[float]) -> None:
        told = repeated(values, [], SD)
        assert told.value == pytest.approx(float(np.mean(values)), rel=1e-12)
        assert told.scatter == pytest.approx(float(np.std(values, ddof=1)), rel=1e-9, abs=1e-15)
        # variance of one: the instrument's, counted four times, pooled with the repeats' own
        n = len(values)
        one = (told.scatter**2 * (n - 1) + 4.0 * SD**2) / (n - 1 + 4)
        assert told.sd == pytest.approx(math.sqrt(one / n), rel=1e-9)

    def test_repeats_that_agree_narrow_and_wild_ones_widen(self) -> None:
        assert repeated([0.030] * 4, [], SD).sd < 0.5 * SD
        assert repeated([0.030, 0.034, 0.026], [], SD).sd > SD

    def test_the_way_back_adds_half_its_difference(self) -> None:
        told = repeated([0.0300], [0.0310], SD)
        assert told.value == pytest.approx(0.0305, rel=1e-12)
        assert told.hysteresis == pytest.approx(0.0010, rel=1e-12)
        assert told.sd == pytest.approx(math.hypot(SD / math.sqrt(2.0), 0.0005), rel=1e-9)

    @given(st.floats(-0.003, 0.003))
    def test_the_interval_holds_both_ways(self, gap: float) -> None:
        told = repeated([0.030], [0.030 + gap], SD)
        assert abs(told.value - 0.030) <= told.sd + 1e-15
        assert told.hysteresis == pytest.approx(gap, abs=1e-15)

    def test_on_the_whole_it_is_as_good_as_told(self) -> None:
        """Means of three by a ruler: errors in units of the told sd are about unit normals."""
        random = np.random.default_rng(2)
        scores = []
        for _ in range(4000):
            told = repeated((0.03 + SD * random.standard_normal(3)).tolist(), [], SD)
            scores.append((told.value - 0.03) / told.sd)
        # Student's t of 6 degrees has sd √(6/4); the instrument's share brings it nearly to 1
        assert 1.0 < np.std(scores) < 1.1


READINGS: list[tuple[Reading, str, float]] = [
    (ThicknessReading("a", 0.68, 0.0174, name="1/2"), "blade A, crown at 1/2", 0.0174),
    (ThicknessReading("b", 0.68, 0.0071, "edge"), "blade B, edge at 680 mm", 0.0071),
    (ThicknessReading("a", 0.68, 0.009, face="upper"), "blade A, upper face, crown at 680 mm",
     0.009),
    (ThicknessReading("a", 0.68, 0.012, "inset", inset=0.0125),
     "blade A, thickness 12.5 mm in at 680 mm", 0.012),
    (WidthReading("b", 0.68, 0.0731, name="1/2"), "blade B, width at 1/2", 0.0731),
    (LengthReading("a", 0.851), "blade A, length", 0.851),
    (FullnessReading("a", 0.68, 0.7, 0.7, 0.6, 0.03, "lower"),
     "blade A, lower face, trace at 680 mm", 0.6),
    (BenchReading("a", 0.03, 1.1, 1.1, 0.28, name="tip"), "blade A, bench reading at tip", 0.03),
    (HandsReading("b", 0.04), "blade B, two-hands reading at 889 mm", 0.04),
    (TapReading("a", 27.0, 0.28), "blade A, tap", 27.0),
    (TapReading(None, 29.0), "tap of the paddle", 29.0),
    (WeightReading(0.78), "paddle weight", 0.78),
    (BalanceReading(-0.004), "balance point", -0.004),
]


@pytest.mark.parametrize(("reading", "label", "value"), READINGS)
def test_each_says_what_it_is(reading: Reading, label: str, value: float) -> None:
    assert reading.label == label
    assert reading.value == value
    assert reading.own_sd > 0.0


def test_errors_in_common() -> None:
    """Readings under one weight share its error, tones share the method's, and no others."""
    bench = [BenchReading("a", d, 1.1, 1.1, 0.28, load) for d, load in
             ((0.030, 44.0), (0.015, 44.0), (0.020, 30.0))]
    hands = HandsReading("b", 0.040, load=44.0)
    taps = [TapReading("a", 27.0, 0.28), TapReading(None, 29.0)]
    noise = noise_of([*bench, hands, *taps, WeightReading(0.8)])
    expected = np.diag([r.own_sd**2 for r in [*bench, hands, *taps, WeightReading(0.8)]])
    for share, values in ((0.01, [0.030, 0.015, 0.0, 0.040, 0.0, 0.0, 0.0]),  # 44 N
                          (0.01, [0.0, 0.0, 0.020, 0.0, 0.0, 0.0, 0.0]),  # 30 N
                          (0.015, [0.0, 0.0, 0.0, 0.0, 27.0, 29.0, 0.0])):  # taps
        expected += np.outer(values, values) * share**2
    assert noise == pytest.approx(expected, rel=1e-12, abs=1e-18)


@pytest.mark.parametrize(("make", "error", "words"), [
    (lambda: BenchReading("a", -0.03, 1.1, 1.1, 0.28), RangeError, "is the sign wrong?"),
    (lambda: BenchReading("a", 0.0, 1.1, 1.1, 0.28), RangeError, "more than 0"),
    (lambda: BenchReading("a", 0.6, 1.1, 1.1, 0.28), RangeError, "0.5 m"),
    (lambda: BenchReading("a", 0.03, 1.1, 0.29, 0.28), RangeError, "hung_at"),
    (lambda: HandsReading("a", -0.03), RangeError, "is the sign wrong?"),
    (lambda: HandsReading("a", 0.03, load_x=0.2), RangeError, "hung_at"),
    (lambda: TapReading("a", 0.1), RangeError, "frequency"),
    (lambda: TapReading("c", 27.0), UnknownNameError, "blade"),  # type: ignore[arg-type] # the slip
    (lambda: ThicknessReading("a", 0.6, 0.01, "inset"), RangeError, "inset"),
    (lambda: ThicknessReading("a", 0.6, 0.01, face="top"), UnknownNameError, "face"),  # type: ignore[arg-type] # the slip
    (lambda: WidthReading("a", 0.6, 0.5), RangeError, "width"),
    (lambda: LengthReading("a", 3.0), RangeError, "length"),
    (lambda: FullnessReading("a", 0.6, 2.0, 0.0, 0.5, 0.1), RangeError, "ridge"),
    (lambda: BalanceReading(0.9), RangeError, "balance"),
])
def test_what_cannot_be_is_refused(
    make: Callable[[], Reading], error: type[SpringloomError], words: str
) -> None:
    with pytest.raises(error) as caught:
        make()
    assert words in str(caught.value)
