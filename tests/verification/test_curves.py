"""Fair curves: through every station, as smooth as they say, and never past a station's value."""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline, PchipInterpolator

from springloom.shape.curves import (
    FairCurve,
    fair_curve,
    fair_curves,
    flat_stations,
    hermite,
    spline_operator,
)

Floats = npt.NDArray[np.float64]

MONOTONE_FALL = np.array([34.0, 24.5, 17.5, 13.0, 10.0, 7.5])
PLACES = np.array([0.28, 0.4675, 0.68, 0.8925, 1.03, 1.1425])

ROUNDING = 1e-12  # of values near 1, after a solve of a few equations


def stations(steps: st.SearchStrategy[float]) -> st.SearchStrategy[tuple[Floats, Floats]]:
    """Places 0.02 to 0.5 apart, with values that take these steps from one to the next."""
    spans = st.lists(st.tuples(st.floats(0.02, 0.5), steps), min_size=3, max_size=8)
    return spans.map(
        lambda pairs: (
            np.concatenate([[0.0], np.cumsum([gap for gap, _ in pairs])]),
            1.0 + np.concatenate([[0.0], np.cumsum([step for _, step in pairs])]),
        )
    )


wavering = stations(st.floats(-1.0, 1.0))
rising = stations(st.floats(0.0, 1.0))


def jets(curve: FairCurve) -> tuple[Floats, Floats]:
    """Value, slope and second derivative by place at each span's start and end, (spans, 3)."""
    length = np.diff(curve.knots)
    c0, c1, c2, c3 = curve.coefficients.T
    start = np.stack([c0, c1 / length, 2.0 * c2 / length**2], axis=1)
    end = np.stack([c0 + c1 + c2 + c3, (c1 + 2.0 * c2 + 3.0 * c3) / length,
                    (2.0 * c2 + 6.0 * c3) / length**2], axis=1)
    return start, end


def breaks(curve: FairCurve, order: int) -> Floats:
    """Jump of a derivative at each interior station, against what rounding is measured by."""
    start, end = jets(curve)
    return np.asarray(np.abs(start[1:, order] - end[:-1, order]) / size(curve, order))


def size(curve: FairCurve, order: int) -> float:
    """Values over the shortest span to the derivative's order: rounding is 1e-16 of this."""
    return float(np.max(np.abs(curve.coefficients[:, 0])) / np.min(np.diff(curve.knots)) ** order)


@given(wavering)
def test_every_curve_goes_through_its_stations(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    np.testing.assert_allclose(fair_curve(places, values)(places), values, atol=ROUNDING)


@given(wavering)
def test_every_curve_has_one_slope_at_each_station(drawn: tuple[Floats, Floats]) -> None:
    curve = fair_curve(*drawn)
    assert np.all(breaks(curve, 0) < ROUNDING)
    assert np.all(breaks(curve, 1) < ROUNDING)


@given(st.one_of(wavering, rising))
def test_no_curve_leaves_the_band_between_two_stations(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    curve = fair_curve(places, values)
    along = curve.coefficients @ (np.linspace(0.0, 1.0, 801)[:, None] ** np.arange(4)).T
    low = np.minimum(values[:-1], values[1:])[:, None]
    high = np.maximum(values[:-1], values[1:])[:, None]
    # Overshoot is looked for at 17 places a span. A cubic that turns between the first two of
    # them, at f'(0) = −m and f''(0) = 2b with m ≈ b/16, leaves by m²/4b = b/1024 of the span's
    # own step; b is 3 where the far end is flat, and little more where it isn't.
    allowed = 5e-3 * (high - low) + 2e-9 * np.max(np.abs(values))
    assert np.all(along > low - allowed)
    assert np.all(along < high + allowed)


@given(rising)
def test_rising_values_give_a_rising_curve(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    curve = fair_curve(places, values)
    assume(curve.fairness == "shape-preserving")
    fine = curve(np.linspace(places[0], places[-1], 2001))
    assert np.all(np.diff(fine) > -1e-12 * np.max(values))


@given(wavering)
def test_a_free_batten_is_smooth_to_the_second_derivative(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    batten = FairCurve(places, spline_operator(tuple(places.tolist()), ()) @ values, "batten")
    assert np.all(breaks(batten, 2) < ROUNDING)
    start, end = jets(batten)
    # no bending moment where the batten ends
    assert abs(start[0, 2]) < ROUNDING * size(batten, 2)
    assert abs(end[-1, 2]) < ROUNDING * size(batten, 2)


def test_a_batten_is_the_natural_cubic_spline() -> None:
    curve = fair_curve(PLACES, MONOTONE_FALL)
    assert curve.fairness == "batten"
    between = np.linspace(PLACES[0], PLACES[-1], 200)
    natural = CubicSpline(PLACES, MONOTONE_FALL, bc_type="natural")
    np.testing.assert_allclose(curve(between), natural(between), rtol=ROUNDING)
    assert np.all(breaks(curve, 2) < 1e-12)


def test_least_bending_energy_is_the_batten() -> None:
    # Of all curves through the stations the natural spline has the least ∫ y''² (Holladay,
    # 1957, from memory): the shape-preserving one through the same values has more.
    def energy(coefficients: Floats) -> float:
        length = np.diff(PLACES)
        _, _, c2, c3 = coefficients.T
        # y'' = (2c₂ + 6c₃t)/ℓ², squared and integrated over the span
        return float(np.sum((4.0 * c2**2 + 12.0 * c2 * c3 + 12.0 * c3**2) / length**3))

    pchip = PchipInterpolator(PLACES, MONOTONE_FALL)
    scale = np.diff(PLACES)[:, None] ** np.arange(4)
    other = pchip.c[::-1].T * scale
    assert energy(fair_curve(PLACES, MONOTONE_FALL).coefficients) < energy(other)


def test_a_greatest_value_is_flat_and_the_rest_stays_smooth() -> None:
    values = np.array([39.0, 60.0, 73.0, 82.0, 83.0, 0.0])
    curve = fair_curve(PLACES, values)
    assert curve.fairness == "flat at extremes"
    assert flat_stations(values) == (4,)
    start, end = jets(curve)
    assert start[4, 1] == pytest.approx(0.0, abs=1e-9)
    # C2 at the stations that are no extreme; the knot break is at the greatest width alone.
    jump = breaks(curve, 2)
    assert np.all(jump[:3] < ROUNDING)
    assert jump[3] > 1e-2
    # Either side of it is a spline of its own, natural at its free end.
    assert start[0, 2] == pytest.approx(0.0, abs=1e-9)
    assert end[-1, 2] == pytest.approx(0.0, abs=1e-6)


def test_last_span_after_a_flat_station_is_the_clamped_natural_cubic() -> None:
    # y = b (1 − 3t²/2 + t³/2): flat at t = 0, no curvature at t = 1.
    values = np.array([1.0, 2.0, 3.0, 5.0, 0.0])
    curve = fair_curve(np.array([0.0, 0.2, 0.5, 0.7, 0.9]), values)
    assert curve.fairness == "flat at extremes"
    np.testing.assert_allclose(curve.coefficients[-1], [5.0, 0.0, -7.5, 2.5], atol=1e-12)


@pytest.mark.parametrize("values", [
    [0.0, 0.0, 0.0, 1.0, 1.0, 1.0],  # a step: flat stations need no fallback
    [2.0, 2.0, 2.0, 2.0, 2.0, 2.0],
])
def test_level_stretches_stay_level(values: list[float]) -> None:
    curve = fair_curve(PLACES, np.array(values))
    assert curve.fairness in {"batten", "flat at extremes"}
    first = curve(np.linspace(PLACES[0], PLACES[2], 50))
    np.testing.assert_allclose(first, values[0], atol=1e-12)


def test_steep_rise_between_level_ends_falls_back_to_a_shape_preserving_cubic() -> None:
    # No station is an extreme, yet a batten would dip below the first values.
    values = np.array([0.0, 0.01, 0.02, 1.0, 1.01, 1.02])
    assert flat_stations(values) == ()
    curve = fair_curve(PLACES, values)
    assert curve.fairness == "shape-preserving"
    between = np.linspace(PLACES[0], PLACES[-1], 300)
    # Fritsch & Butland's slopes as scipy has them.
    np.testing.assert_allclose(curve(between), PchipInterpolator(PLACES, values)(between),
                               atol=1e-13)
    assert np.all(np.diff(curve(between)) > 0.0)


def test_the_rules_are_tried_in_their_order() -> None:
    chosen = [
        fair_curve(PLACES, np.array(values)).fairness
        for values in (MONOTONE_FALL, [39.0, 60.0, 73.0, 82.0, 83.0, 0.0],
                       [0.0, 0.01, 0.02, 1.0, 1.01, 1.02])
    ]
    assert chosen == ["batten", "flat at extremes", "shape-preserving"]


@given(wavering)
def test_the_linear_operator_is_the_curve(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    curve = fair_curve(places, values)
    assume(curve.fairness != "shape-preserving")
    flat = () if curve.fairness == "batten" else flat_stations(values)
    operator = spline_operator(tuple(places.tolist()), flat)
    np.testing.assert_array_equal(operator @ values, curve.coefficients)
    # Linear: the curve through a sum is the sum of the curves, for the same flat stations.
    half = operator @ (0.5 * values + 1.0)
    np.testing.assert_allclose(half[:, 0], 0.5 * curve.coefficients[:, 0] + 1.0, atol=1e-10)
    np.testing.assert_allclose(half[:, 1:], 0.5 * curve.coefficients[:, 1:], atol=1e-10)


def test_the_operator_is_shared_and_so_must_not_be_written_to() -> None:
    operator = spline_operator(tuple(PLACES.tolist()), ())
    assert spline_operator(tuple(PLACES.tolist()), ()) is operator
    with pytest.raises(ValueError, match="read-only"):
        operator[0, 0, 0] = 1.0


@given(wavering)
def test_a_curve_read_from_its_other_end_is_the_same_curve(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    there = fair_curve(places, values)
    back = fair_curve(places[-1] - places[::-1], values[::-1])
    # A value that lies within rounding of overshooting may be judged either way.
    assume(there.fairness == back.fairness)
    between = np.linspace(0.0, places[-1], 60)
    np.testing.assert_allclose(back(places[-1] - between), there(between), atol=1e-9)


@given(wavering)
def test_many_curves_at_once_are_the_same_curves(drawn: tuple[Floats, Floats]) -> None:
    places, values = drawn
    columns = np.stack([values, values[::-1], np.arange(len(values)) + 1.0], axis=1)
    for together, column in zip(fair_curves(places, columns), columns.T, strict=True):
        alone = fair_curve(places, column)
        assert together.fairness == alone.fairness
        np.testing.assert_allclose(together.coefficients, alone.coefficients, atol=ROUNDING)


def test_outside_its_stations_a_curve_is_held() -> None:
    curve = fair_curve(PLACES, MONOTONE_FALL)
    assert float(curve(0.0)) == MONOTONE_FALL[0]
    assert float(curve(2.0)) == pytest.approx(MONOTONE_FALL[-1], rel=ROUNDING)


@given(st.floats(0.01, 0.5), st.floats(-2.0, 2.0), st.floats(-50.0, 50.0), st.floats(-2.0, 2.0),
       st.floats(-50.0, 50.0))
def test_a_blend_never_overshoots_its_ends(
    length: float, start: float, slope: float, end: float, end_slope: float
) -> None:
    c = hermite(length, start, slope, end, end_slope)
    along = (np.linspace(0.0, 1.0, 401)[:, None] ** np.arange(4)) @ c
    assert along[0] == start
    assert along[-1] == pytest.approx(end, abs=1e-14)
    assert np.min(along) >= min(start, end) - 1e-14
    assert np.max(along) <= max(start, end) + 1e-14


def test_a_blend_keeps_slopes_that_do_no_harm() -> None:
    # Up to three times the mean slope a cubic with these ends stays monotone (Fritsch & Carlson,
    # SIAM J. Numer. Anal. 17, 1980).
    length, rise = 0.1, 0.02
    for share, kept in ((1.0, 1.0), (3.0, 3.0), (5.0, 3.0), (-1.0, 0.0)):
        c = hermite(length, 1.0, 0.0, 1.0 + rise, share * rise / length)
        assert c[1] == 0.0
        assert c[1] + 2.0 * c[2] + 3.0 * c[3] == pytest.approx(kept * rise, abs=1e-15)


def test_spans_meet_one_another_end_to_start() -> None:
    curve = fair_curve(PLACES, MONOTONE_FALL)
    for left, right in itertools.pairwise(curve.coefficients):
        assert float(np.sum(left)) == pytest.approx(float(right[0]), rel=ROUNDING)
