"""Measures of body and boat: what is refused, what is estimated, what is doubted."""

from __future__ import annotations

import math

import pytest

from springloom.errors import RangeError, UnknownNameError
from springloom.fit.body import (
    BEAM_RANGE,
    BODYSPACE,
    DOUBTFUL_SIGMA,
    HEIGHT_RANGE,
    MEASURES,
    TRADE,
    Boat,
    Body,
    Measure,
    estimate,
    measure_named,
)

FIELDS = [measure.field for measure in MEASURES]


def expected(field: str, height_m: float = 1.75) -> float:
    return Body(height_m).figures()[field].value_m


@pytest.mark.parametrize("height", [175.0, 1750.0, 5.74, 0.5, -1.75, math.nan, math.inf])
def test_a_height_in_another_unit_is_refused_with_field_and_unit(height: float) -> None:
    with pytest.raises(RangeError) as caught:
        Body(height)
    assert caught.value.field == "height_m"
    assert caught.value.allowed == f"{HEIGHT_RANGE[0]:g} to {HEIGHT_RANGE[1]:g} m"


@pytest.mark.parametrize("measure", MEASURES, ids=FIELDS)
@pytest.mark.parametrize("scale", [1000.0, 100.0, 1.0 / 0.0254, 1.0 / 0.3048, 0.0, -1.0])
def test_a_measure_in_another_unit_is_refused_with_field_and_unit(
    measure: Measure, scale: float
) -> None:
    with pytest.raises(RangeError) as caught:
        Body(1.75, **{measure.field: scale * expected(measure.field)})
    assert caught.value.field == measure.field
    assert caught.value.allowed == f"{measure.low_m:g} to {measure.high_m:g} m"


@pytest.mark.parametrize("measure", MEASURES, ids=FIELDS)
@pytest.mark.parametrize("side", [-1, 1])
def test_what_no_body_of_this_height_is_asks_for_the_tape(measure: Measure, side: int) -> None:
    height = 1.75
    share = measure.low_share if side < 0 else measure.high_share
    # Just inside passes, just outside does not: 0.1 % either side of the limit.
    inside, outside = (share * height * (1.0 + sign * side * 1e-3) for sign in (-1, 1))
    assert Body(height, **{measure.field: inside}).measured(measure.field) == inside
    with pytest.raises(RangeError, match="check the tape") as caught:
        Body(height, **{measure.field: outside})
    assert caught.value.field == measure.field
    assert caught.value.allowed.endswith(" m")


def test_arm_span_limits_are_those_agreed_on() -> None:
    measure = measure_named("arm_span_m")
    assert (measure.low_share, measure.high_share) == (0.85, 1.20)


@pytest.mark.parametrize("beam", [54.0, 0.0, 0.2, 1.5, math.nan])
def test_a_beam_no_such_boat_has_is_refused_with_field_and_unit(beam: float) -> None:
    with pytest.raises(RangeError) as caught:
        Boat(beam)
    assert caught.value.field == "beam_m"
    assert caught.value.allowed == f"{BEAM_RANGE[0]:g} to {BEAM_RANGE[1]:g} m"


def test_a_truth_value_is_no_length() -> None:
    with pytest.raises(RangeError, match="needs a number"):
        Body(height_m=True)


def test_an_unknown_measure_is_named() -> None:
    with pytest.raises(UnknownNameError, match="arm_span_m"):
        measure_named("arm_spam_m")


def test_only_what_is_missing_is_estimated_and_it_says_so() -> None:
    figures = Body(1.80, cubit_m=0.50).figures()
    assert not figures["height_m"].estimated
    assert figures["cubit_m"].value_m == 0.50
    assert figures["cubit_m"].sd_m == 0.0
    for field in set(FIELDS) - {"cubit_m"}:
        assert figures[field].estimated
        assert figures[field].sd_m > 0.0
        assert "estimated" in figures[field].how
        assert figures[field].source.startswith((BODYSPACE, TRADE))


@pytest.mark.parametrize("field", FIELDS)
def test_estimates_grow_in_proportion_to_height(field: str) -> None:
    small, tall = Body(1.5).figures()[field], Body(2.1).figures()[field]
    # Proportional by construction: rounding only.
    assert tall.value_m / small.value_m == pytest.approx(2.1 / 1.5, rel=1e-12)
    assert tall.sd_m / small.sd_m == pytest.approx(2.1 / 1.5, rel=1e-12)


def test_grip_is_estimated_from_a_measured_hand_and_then_less_doubtful() -> None:
    guessed = Body(1.75).figures()["grip_circumference_m"]
    better = Body(1.75, hand_length_m=0.20).figures()["grip_circumference_m"]
    grip = measure_named("grip_circumference_m")
    assert better.value_m == grip.share * 0.20
    assert better.sd_m == grip.share_sd * 0.20
    assert better.sd_m / better.value_m < guessed.sd_m / guessed.value_m
    assert "hand length" in better.how


def test_an_estimate_from_an_estimate_carries_both_doubts() -> None:
    hand = Body(1.75).figures()["hand_length_m"]
    grip = measure_named("grip_circumference_m")
    sd = estimate(grip, hand).sd_m
    # Independent errors of a product a·b, to first order.
    assert sd == pytest.approx(math.hypot(grip.share_sd * hand.value_m, grip.share * hand.sd_m))


def test_a_rare_measure_is_doubted_and_a_common_one_is_not() -> None:
    span = Body(1.75).figures()["arm_span_m"]
    within = span.value_m + 0.99 * DOUBTFUL_SIGMA * span.sd_m
    beyond = span.value_m + 1.01 * DOUBTFUL_SIGMA * span.sd_m
    assert Body(1.75, arm_span_m=within).doubts() == ()
    (sentence,) = Body(1.75, arm_span_m=beyond).doubts()
    assert "arm span" in sentence
    assert "measure again" in sentence
    assert "more" in sentence


def test_a_rarely_small_measure_is_doubted_too() -> None:
    (sentence,) = Body(1.75, shoulder_breadth_m=0.325).doubts()
    assert "shoulder breadth" in sentence
    assert "less" in sentence
