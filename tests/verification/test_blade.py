"""One half of a paddle: stations are kept, the tip closes round, what can't be is refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import RangeError, ShapeError
from springloom.shape.blade import (
    CHANNELS,
    EDGE_INSET,
    HalfPaddle,
    Station,
    edge_inset,
    station_name,
)
from springloom.shape.paddle import Paddle, default_paddle, standard_places
from springloom.shape.section import ELLIPSE

HALF = default_paddle().a
LOOM = HALF.loom
ROUNDING = 1e-12


def altered(index: int, **changes: float | str | None) -> HalfPaddle:
    """The default half with one station changed."""
    stations = list(HALF.stations)
    stations[index] = replace(stations[index], **changes)  # type: ignore[arg-type]  # any field
    return replace(HALF, stations=tuple(stations))


def each(**changes: float | None) -> HalfPaddle:
    """The default half with all its stations changed alike."""
    stations = tuple(replace(s, **changes) for s in HALF.stations)  # type: ignore[arg-type]  # any
    return replace(HALF, stations=stations)


UNLIKE = each(ridge=0.6, ridge_bottom=0.3, share=0.7, edge=None)
FLAT = each(share=1.0, edge=None)


# --- along the length -------------------------------------------------------------------------


def test_place_is_the_parameter_as_far_as_the_last_station_before_the_tip() -> None:
    u = np.linspace(0.0, HALF.stations[-2].x, 100)
    x, slope = HALF.place(u)
    np.testing.assert_allclose(x, u, atol=1e-15)
    np.testing.assert_array_equal(slope, 1.0)


def test_place_is_smooth_to_the_second_derivative_where_the_rounded_tip_starts() -> None:
    start, length = HALF.cap
    step = 1e-4 * length
    (before, slope_before), (after, slope_after) = (
        HALF.place(start + sign * step) for sign in (-1.0, 1.0)
    )
    # x = x₀ + a(3t − t³)/2 with t = (u − x₀)/1.5a leaves the straight line by −a t³/2.
    t = step / (1.5 * length)
    assert float(before) == pytest.approx(start - step, abs=1e-15)
    assert float(after) == pytest.approx(start + step - 0.5 * length * t**3, abs=1e-15)
    # Its slope 1 − t² and its second derivative −2t/1.5a are those of the line at t = 0.
    assert float(slope_before) == 1.0
    assert float(slope_after) == pytest.approx(1.0 - t * t, abs=1e-15)


def test_place_stands_still_at_the_tip() -> None:
    x, slope = HALF.place(HALF.knots[-1])
    assert float(x) == pytest.approx(HALF.tip, rel=1e-15)
    assert float(slope) == pytest.approx(0.0, abs=1e-15)


def test_slope_of_place_is_its_derivative() -> None:
    u = np.linspace(0.9, HALF.knots[-1], 400)
    x, slope = HALF.place(u)
    middle = HALF.place(0.5 * (u[1:] + u[:-1]))[1]
    # A central difference of a cubic is off by its third derivative, −3a/(1.5a)³, × step²/24.
    error = HALF.cap[1] / (1.5 * HALF.cap[1]) ** 3 * (u[1] - u[0]) ** 2 / 8.0
    np.testing.assert_allclose(np.diff(x) / np.diff(u), middle, atol=error + ROUNDING)
    assert np.all(slope[:-1] > 0.0)


@given(st.floats(0.0, 1.0))
def test_parameter_undoes_place(share: float) -> None:
    u = share * float(HALF.knots[-1])
    x, _ = HALF.place(u)
    back = float(HALF.place(HALF.parameter(x))[0])
    assert back == pytest.approx(float(x), abs=1e-15)
    # u itself to the square root of rounding at the tip, where x(u) is flat.
    assert float(HALF.parameter(x)) == pytest.approx(u, abs=1e-8)


@pytest.mark.parametrize("half", [HALF, UNLIKE, FLAT], ids=["default", "unlike faces", "flat face"])
def test_section_gives_every_station_back(half: HalfPaddle) -> None:
    for station in half.stations[:-1]:
        section = half.section(station.x)
        low = station.ridge if station.ridge_bottom is None else station.ridge_bottom
        assert 2.0 * section.half_width == pytest.approx(station.width, rel=ROUNDING)
        assert section.top == pytest.approx(station.share * station.crown, rel=ROUNDING)
        assert section.bottom == pytest.approx((1.0 - station.share) * station.crown, abs=1e-15)
        assert section.ridge_top == pytest.approx(station.ridge, rel=ROUNDING)
        assert section.ridge_bottom == pytest.approx(low, rel=ROUNDING)


def test_calipers_read_the_edge_thickness_that_was_given() -> None:
    for station in HALF.stations[:-1]:
        read = HALF.section(station.x).thickness_at(EDGE_INSET)
        assert read == pytest.approx(station.edge, rel=ROUNDING)


@pytest.mark.parametrize("share", [0.5, 0.65, 0.8])
def test_unlike_ridges_read_the_edge_a_little_off(share: float) -> None:
    half = each(ridge=0.6, ridge_bottom=0.35, share=share)
    for station in half.stations[:-1]:
        read = half.section(station.x).thickness_at(EDGE_INSET)
        # One fullness serves both faces, placed by their mean ridge: within 2 %, under what
        # calipers do on the slope of an edge.
        assert read == pytest.approx(station.edge, rel=0.02)


def test_narrow_sections_are_read_nearer_to_their_edge() -> None:
    assert edge_inset(0.08) == EDGE_INSET
    assert edge_inset(0.01) == pytest.approx(0.45 * 0.01)  # never past the middle


def test_an_elliptic_edge_is_meant_where_none_is_given() -> None:
    half = each(edge=None)
    assert half.section(0.7).edge == pytest.approx(ELLIPSE, rel=ROUNDING)


def test_a_flat_lower_face_is_flat_everywhere() -> None:
    # Rounding of the curves must not lift the face above the widest line.
    for x in np.linspace(FLAT.loom.root, FLAT.tip * (1.0 - 1e-8), 500):
        assert FLAT.section(float(x)).bottom == pytest.approx(0.0, abs=1e-15)


def test_the_loom_is_the_same_from_the_centre_to_the_shoulder() -> None:
    u = np.linspace(0.0, LOOM.half_length, 20)
    expected = np.array(LOOM.channels())[:, None] * np.ones_like(u)
    np.testing.assert_allclose(HALF.values(u), expected, atol=1e-15)


def test_blend_leaves_the_loom_level_and_meets_the_blade_in_value() -> None:
    shoulder, root = LOOM.half_length, LOOM.root
    step = 1e-7
    left, right = HALF.values(np.array([shoulder, shoulder + step])).T
    # Level to first order: what is left is half the second derivative times step².
    np.testing.assert_allclose(right, left, atol=1e-9)
    before, after = HALF.values(np.array([root - 1e-12, root])).T
    np.testing.assert_allclose(before, after, atol=1e-10)
    np.testing.assert_allclose(after, HALF.station_values[0], rtol=ROUNDING)


@pytest.mark.parametrize("half", [HALF, UNLIKE, FLAT], ids=["default", "unlike faces", "flat face"])
def test_many_values_at_once_are_the_same_values(half: HalfPaddle) -> None:
    nodes = np.array([0.05, 0.4, 0.93])
    breaks = np.sort(np.concatenate([half.knots, [0.1, 0.5, 1.05, 1.08]]))
    at = breaks[:-1, None] + np.diff(breaks)[:, None] * nodes
    np.testing.assert_allclose(half.span_values(breaks, nodes), half.values(at), atol=1e-14)


@pytest.mark.parametrize("half", [HALF, UNLIKE, FLAT], ids=["default", "unlike faces", "flat face"])
def test_nothing_is_thicker_or_wider_than_the_stations_either_side(half: HalfPaddle) -> None:
    for index, (before, after) in enumerate(pairwise(half.station_values)):
        u = np.linspace(half.knots[index + 2], half.knots[index + 3], 200)
        values = half.values(u)
        low, high = np.minimum(before, after)[:, None], np.maximum(before, after)[:, None]
        # Overshoot is looked for at 17 places a span: see test_curves.
        allowed = 5e-3 * (high - low) + ROUNDING
        assert np.all(values >= low - allowed)
        assert np.all(values <= high + allowed)


# --- the tip ----------------------------------------------------------------------------------


def tip_radius(half: HalfPaddle, back: float) -> float:
    """w²/2d of the outline at d = ``back`` from the tip: its radius there as d goes to 0."""
    return half.section(half.tip - back).half_width ** 2 / (2.0 * back)


@pytest.mark.parametrize(("width", "length"), [(0.083, 0.075), (0.09, 0.03), (0.06, 0.12)])
def test_tip_is_three_quarters_as_round_as_an_ellipse(width: float, length: float) -> None:
    # With the greatest width at the last station the half-width falls as b(1 − 3t²/2 + t³/2), so
    # by b per 1.5a·(2/3) of u at the tip; x lacks 1.5a(1 − t)² there, and the radius is
    # (b·1.5(1 − t))²/(2·1.5a(1 − t)²) = ¾ b²/a. An ellipse's is b²/a.
    near = replace(HALF.stations[-2], x=HALF.tip - length, width=width, edge=None)
    narrower = tuple(
        replace(s, width=min(s.width, 0.95 * width), edge=None) for s in HALF.stations[:-2]
    )
    half = replace(HALF, stations=(*narrower, near, replace(HALF.stations[-1], edge=None)))
    exact = 0.75 * (0.5 * width) ** 2 / length
    # Beside the tip the next term is of the order of √(d/a): 1e-3 and 5e-4 at these two.
    first, second = (tip_radius(half, length * back) for back in (1e-6, 2.5e-7))
    assert 2.0 * second - first == pytest.approx(exact, rel=1e-5)


def test_tip_is_round_whatever_the_slope_at_the_last_station() -> None:
    # In general the radius is ¾ m² a, m the slope of the half-width in u at the tip.
    half = altered(-2, width=0.075)
    _, length = half.cap
    curve = half.blade_curves[0]
    c = curve.coefficients[-1]
    m = (c[1] + 2.0 * c[2] + 3.0 * c[3]) / (1.5 * length)
    first, second = (tip_radius(half, length * back) for back in (1e-6, 2.5e-7))
    assert 2.0 * second - first == pytest.approx(0.75 * m * m * length, rel=1e-5)  # as above


def test_outline_of_the_tip_is_convex() -> None:
    u = np.linspace(HALF.knots[-2], HALF.knots[-1], 400)
    x, w = HALF.place(u)[0], HALF.values(u)[0]
    turn = np.diff(x)[:-1] * np.diff(w)[1:] - np.diff(x)[1:] * np.diff(w)[:-1]
    assert np.all(turn < 0.0)


def test_the_very_tip_has_no_section() -> None:
    with pytest.raises(RangeError) as caught:
        HALF.section(HALF.tip)
    assert caught.value.field == "x"


# --- changing it ------------------------------------------------------------------------------


@given(st.floats(0.7, 1.3))
def test_with_crowns_keeps_each_edge_in_proportion(scale: float) -> None:
    crowns = [s.crown * scale for s in HALF.stations]
    thinner = HALF.with_crowns(crowns)
    for before, after in zip(HALF.stations, thinner.stations, strict=True):
        assert after.crown == pytest.approx(scale * before.crown, rel=ROUNDING)
        assert after.edge is not None
        assert before.edge is not None
        assert after.edge == pytest.approx(scale * before.edge, rel=ROUNDING)
    # The section's form is the same: only the crown column of the stations changed.
    kept = [i for i, name in enumerate(CHANNELS) if name != "crown"]
    np.testing.assert_allclose(thinner.station_values[:, kept], HALF.station_values[:, kept],
                               rtol=1e-9)  # s is a small difference of thicknesses
    assert thinner.stations[0].width == HALF.stations[0].width


def test_with_crowns_leaves_an_elliptic_edge_elliptic() -> None:
    half = each(edge=None)
    assert half.with_crowns([s.crown for s in half.stations]).stations[2].edge is None


def test_with_crowns_wants_one_for_each_station() -> None:
    with pytest.raises(ValueError, match="shorter"):
        HALF.with_crowns([0.03, 0.02])


def test_places_by_name() -> None:
    tip = HALF.tip
    assert [s.name for s in HALF.stations] == ["root", "1/4", "1/2", "3/4", "75 mm from tip", "tip"]
    assert [station_name(s.x, LOOM, tip) for s in HALF.stations] == [s.name for s in HALF.stations]
    assert station_name(tip - 0.1, LOOM, tip) == "100 mm from tip"
    assert HALF.at_fraction(0.25) == pytest.approx(HALF.stations[1].x)
    assert HALF.at_fraction(0.0) == LOOM.half_length
    assert HALF.at_fraction(1.0) == pytest.approx(tip)
    assert standard_places(LOOM, tip) == pytest.approx([s.x for s in HALF.stations])


def test_a_paddle_has_two_halves_with_one_loom() -> None:
    paddle = default_paddle()
    assert paddle.is_symmetric
    assert paddle.length == pytest.approx(2.0 * HALF.tip)
    other = Paddle(HALF, HALF.with_crowns([0.9 * s.crown for s in HALF.stations]))
    assert not other.is_symmetric
    equal = [s.crown for s in HALF.stations]
    assert paddle.with_crowns(equal, equal).is_symmetric
    assert not paddle.with_crowns(equal, [*equal[:-1], 0.9 * equal[-1]]).is_symmetric
    with pytest.raises(ShapeError, match="same loom") as caught:
        Paddle(HALF, replace(HALF, loom=replace(LOOM, width=0.034)))
    assert caught.value.field == "loom"


# --- what is said and what is refused ---------------------------------------------------------


def test_nothing_is_said_where_every_curve_runs_free() -> None:
    assert HALF.notes() == ()
    assert {curve.fairness for curve in HALF.blade_curves} == {"batten", "flat at extremes"}


def test_a_shape_preserving_curve_is_said_by_its_channel() -> None:
    # Crowns that fall by next to nothing, then by much, then by nothing again.
    crowns = [0.0300, 0.0299, 0.0298, 0.0120, 0.0119, 0.0118]
    half = replace(HALF, stations=tuple(
        replace(s, crown=crown, edge=None) for s, crown in zip(HALF.stations, crowns, strict=True)
    ))
    assert [c.fairness for c in half.blade_curves].count("shape-preserving") == 1
    (said,) = half.notes()
    assert said.startswith("crown: a batten through these stations would overshoot")
    assert "half width" in altered(2, width=0.0601).notes()[0]


STATION = {"x": 0.5, "width": 0.07, "crown": 0.02}


@pytest.mark.parametrize(("changes", "field"), [
    ({"x": -0.1}, "x"), ({"x": 3.1}, "x"),
    ({"width": -0.01}, "width"), ({"width": 0.31}, "width"),
    ({"crown": 0.0}, "crown"), ({"crown": 0.11}, "crown"),
    ({"ridge": -0.01}, "ridge"), ({"ridge": 1.01}, "ridge"),
    ({"ridge_bottom": 1.01}, "ridge_bottom"),
    ({"share": -0.1}, "share"), ({"share": 1.1}, "share"),
    ({"edge": 0.0}, "edge"), ({"edge": 0.021}, "edge"),
    ({"crown": float("nan")}, "crown"),
])
def test_what_is_no_station(changes: dict[str, float], field: str) -> None:
    with pytest.raises(RangeError) as caught:
        Station(**(STATION | changes))  # type: ignore[arg-type]  # a name is no float
    assert caught.value.field == field
    assert caught.value.allowed


@pytest.mark.parametrize(("changes", "field"), [
    ({"half_length": 0.04}, "half_length"), ({"half_length": 1.1}, "half_length"),
    ({"width": 0.01}, "width"), ({"thickness": 0.09}, "thickness"),
    ({"blend": 0.0}, "blend"), ({"ridge": 1.5}, "ridge"), ({"edge": -0.1}, "edge"),
])
def test_what_is_no_loom(changes: dict[str, float], field: str) -> None:
    with pytest.raises(RangeError) as caught:
        replace(LOOM, **changes)
    assert caught.value.field == field


def without(*indices: int) -> HalfPaddle:
    kept = tuple(s for i, s in enumerate(HALF.stations) if i not in indices)
    return replace(HALF, stations=kept)


@pytest.mark.parametrize(("make", "field", "message"), [
    (lambda: without(1, 2, 3), "stations", "two stations between"),
    (lambda: without(0), "stations", "first station must be the root"),
    (lambda: altered(0, x=LOOM.root + 1e-4), "stations", "first station must be the root"),
    (lambda: altered(2, x=0.4), "station 1/2", "must run from root to tip"),
    (lambda: altered(4, x=HALF.tip - 0.004), "station tip", "5 mm apart"),
    (lambda: altered(3, width=0.0, edge=None), "station 3/4", "only the tip has no width"),
    (lambda: altered(3, width=0.007), "station 3/4", "thicker than it is wide"),
    (lambda: altered(-1, width=0.01), "station tip", "closes round"),
])
def test_stations_that_make_no_blade(
    make: Callable[[], HalfPaddle], field: str, message: str
) -> None:
    with pytest.raises(ShapeError, match=message) as caught:
        make()
    assert caught.value.field == field


@pytest.mark.parametrize(("index", "edge"), [(3, 0.0125), (3, 0.001), (-1, 0.0074)])
def test_an_edge_no_section_has_is_refused_at_its_station(index: int, edge: float) -> None:
    half = altered(index, edge=edge)  # stations alone are in order
    with pytest.raises(ShapeError, match="no convex section") as caught:
        half.checked()
    assert caught.value.field == f"station {HALF.stations[index].name}.edge"
    low, high = (float(word) for word in caught.value.allowed.split(" ")[0:3:2])
    assert not low <= 1e3 * edge <= high
    # What it says is possible is possible.
    within = [altered(index, edge=1e-3 * value).checked() for value in (low + 0.01, high - 0.01)]
    assert len(within) == 2


def test_a_sound_half_is_returned_by_its_check() -> None:
    assert HALF.checked() is HALF


@pytest.mark.parametrize(("length", "loom"), [(2.0, 0.44), (2.21, 0.51), (2.4, 0.6)])
def test_default_paddles_of_other_lengths_are_sound(length: float, loom: float) -> None:
    paddle = default_paddle(length, loom)
    paddle.a.checked()
    assert paddle.length == pytest.approx(length)
    assert 2.0 * paddle.a.loom.half_length == pytest.approx(loom)


def test_a_default_paddle_too_short_for_its_stations_is_refused() -> None:
    with pytest.raises(ShapeError, match="must run from root to tip"):
        default_paddle(0.8, 0.6)
