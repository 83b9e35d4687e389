"""The control net is the model: it evaluates to the same channels and sections everywhere."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.solid.net import (
    ACROSS,
    QUADRANTS,
    bernstein_basis,
    is_flat,
    net_of,
    quadrant_columns,
)
from tests.solid_paddles import DEFAULT, FLAT, PADDLES, RUNS_OUT, UNLIKE
from tests.verification.plan_designs import random_paddle

Floats = npt.NDArray[np.float64]

ROUNDING = 1e-14
"""m: a place u of up to 1.3 m is rounded by 2e-16 m, and again where its span's t is worked out
from it; slopes along the paddle are under 3, and products add a few roundings of their own."""


def rows_at(net: list[Floats], t: Floats) -> list[Floats]:
    """The net's rows at t of [0, 1] in every span: (t, 12, 3) each."""
    return [np.tensordot(bernstein_basis(len(span) - 1, t), span, axes=1) for span in net]


def expected_rows(half: HalfPaddle, t: Floats) -> list[Floats]:
    """The same for one half from the centre out, from its channels."""
    rows = []
    for start, end in pairwise(half.knots.tolist()):
        u = start + (end - start) * t
        w, crown, r_top, r_low, s, share = half.values(u)
        top, low = crown * share, crown * (1.0 - share)
        y = np.stack([w, w, r_top * w, 0 * w, -r_top * w, -w, -w, -w, -r_low * w, 0 * w,
                      r_low * w, w], axis=-1)
        z = np.stack([0 * w, s * top, top, top, top, s * top, 0 * w, -s * low, -low, -low,
                      -low, -s * low], axis=-1)
        x = np.broadcast_to(half.place(u)[0][:, None], y.shape)
        rows.append(np.stack([x, y, z], axis=-1))
    return rows


def assert_net_is(paddle: Paddle, t: Floats) -> None:
    found, mirror = rows_at(net_of(paddle), t), np.array([-1.0, 1.0, 1.0])
    inner = len(paddle.b.knots) - 2  # spans of B beyond the shoulder
    a, b = expected_rows(paddle.a, t), expected_rows(paddle.b, 1.0 - t)
    for mine, theirs in zip(found, [*[row * mirror for row in b[:0:-1]], None, *a[1:]],
                            strict=True):
        if theirs is None:  # the straight loom, one span from shoulder to shoulder
            assert mine[:, :, 1:] == pytest.approx(a[0][:, :, 1:], abs=ROUNDING)
            continue
        assert mine == pytest.approx(theirs, abs=ROUNDING)
    ends = found[inner][[0, -1], 0, 0]
    shoulders = -paddle.b.loom.half_length, paddle.a.loom.half_length
    assert ends == pytest.approx(shoulders, abs=ROUNDING)


@pytest.mark.parametrize("paddle", PADDLES.values(), ids=PADDLES.keys())
def test_the_net_evaluates_to_the_channels(paddle: Paddle) -> None:
    assert_net_is(paddle, np.linspace(0.0, 1.0, 33))


@given(seed=st.integers(0, 100_000), t=st.floats(0.0, 1.0))
def test_the_net_of_any_paddle_evaluates_to_its_channels(seed: int, t: float) -> None:
    assert_net_is(random_paddle(seed), np.array([0.0, t, 1.0]))


@pytest.mark.parametrize("half", [DEFAULT.a, UNLIKE, FLAT], ids=["default", "unlike", "flat"])
def test_a_row_is_the_section_of_its_place(half: HalfPaddle) -> None:
    spans = net_of(Paddle.mirrored(half))[-len(half.stations) + 1 :]
    for station, span in zip(half.stations[:-1], spans, strict=True):
        row = span[0, np.array([quadrant_columns(k) for k in range(QUADRANTS)])]
        assert row[..., 1:] == pytest.approx(half.section(station.x).controls(), abs=ROUNDING)
        assert row[..., 0] == pytest.approx(station.x, abs=ROUNDING)


@pytest.mark.parametrize("paddle", PADDLES.values(), ids=PADDLES.keys())
def test_spans_share_the_row_between_them(paddle: Paddle) -> None:
    for before, after in pairwise(net_of(paddle)):
        assert before[-1] == pytest.approx(after[0], abs=ROUNDING)


@pytest.mark.parametrize("paddle", PADDLES.values(), ids=PADDLES.keys())
def test_spans_join_smoothly_but_for_the_roots(paddle: Paddle) -> None:
    net = net_of(paddle)
    roots = {len(paddle.b.knots) - 3, len(paddle.b.knots)}
    lengths = [*np.diff(paddle.b.knots)[:0:-1], paddle.a.knots[1] + paddle.b.knots[1],
               *np.diff(paddle.a.knots)[1:]]
    slopes = [
        ((len(span) - 1) * (span[1] - span[0]) / length,
         (len(span) - 1) * (span[-1] - span[-2]) / length)
        for span, length in zip(net, lengths, strict=True)
    ]
    for ring, ((_, before), (after, _)) in enumerate(pairwise(slopes), start=1):
        if ring not in roots:
            # Slopes under 3, from differences of points of 1 m over spans of 5 mm or more.
            assert before == pytest.approx(after, abs=1e-12)


def test_the_tips_have_no_width() -> None:
    net = net_of(DEFAULT)
    for row, x in ((net[0][0], -DEFAULT.b.tip), (net[-1][-1], DEFAULT.a.tip)):
        assert row[:, 0] == pytest.approx(x, abs=ROUNDING)
        assert row[:, 1] == pytest.approx(0.0, abs=ROUNDING)


def test_degrees_are_those_of_the_products() -> None:
    alike = [len(span) - 1 for span in net_of(DEFAULT)]
    assert alike == [6] * 6 + [1] + [6] * 6  # s·h and r·w; a straight loom
    varied = [len(span) - 1 for span in net_of(Paddle.mirrored(UNLIKE))]
    assert max(varied) == 9  # s·crown·share


def test_a_flat_face_is_known_by_its_span() -> None:
    blade = len(FLAT.stations) - 1
    flat = [is_flat(span) for span in net_of(Paddle(FLAT, RUNS_OUT))]
    assert flat == [False] * (len(flat) - blade) + [True] * blade


@given(st.integers(1, 9), st.floats(0.0, 1.0))
def test_bernstein_polynomials_add_up_to_one(degree: int, t: float) -> None:
    basis = bernstein_basis(degree, [t])
    assert basis.sum() == pytest.approx(1.0, abs=1e-14)
    assert (basis @ np.arange(degree + 1) / degree).item() == pytest.approx(t, abs=1e-14)


def test_quadrants_follow_one_another_around_the_ring() -> None:
    columns = [quadrant_columns(k) for k in range(QUADRANTS)]
    assert all(len(four) == ACROSS + 1 for four in columns)
    assert [four[-1] for four in columns] == [columns[(k + 1) % 4][0] for k in range(4)]
