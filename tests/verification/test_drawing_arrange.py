"""Finding room: rows without overlap, nearest to where things belong; words inside a width."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import nnls

from springloom.drawing.arrange import lines_up, lines_within, spread
from springloom.drawing.lettering import settled, text_box, width_mm
from springloom.drawing.model import Text, Weight

rows = st.lists(st.tuples(st.floats(0, 1000), st.floats(1, 90)), min_size=1, max_size=14)
words = st.text("abc deWÅ./0123½ ", min_size=1, max_size=60).filter(lambda s: bool(s.strip()))


@given(rows)
def test_spread_keeps_order_room_and_ends(row: list[tuple[float, float]]) -> None:
    wanted, widths = np.array(sorted(x for x, _ in row)), np.array([w for _, w in row])
    placed = spread(wanted.tolist(), widths.tolist(), 5.0, -50.0, 1050.0)
    if placed is None:
        assert widths.sum() + 5.0 * (len(row) - 1) > 1100.0
        return
    x = np.array(placed)
    assert np.all(x[1:] - widths[1:] / 2 - (x[:-1] + widths[:-1] / 2) > 5.0 - 1e-9)
    assert x[0] - widths[0] / 2 > -50.0 - 1e-9
    assert x[-1] + widths[-1] / 2 < 1050.0 + 1e-9


@given(rows)
def test_spread_moves_least(row: list[tuple[float, float]]) -> None:
    """Against non-negative least squares on the gaps, another method for the same problem."""
    wanted, widths = np.array(sorted(x for x, _ in row)), np.array([w for _, w in row])
    placed = spread(wanted.tolist(), widths.tolist(), 5.0, -50.0, 1e6)
    assert placed is not None
    nearest = np.concatenate(([0.0], np.cumsum((widths[1:] + widths[:-1]) / 2 + 5.0)))
    nearest += -50.0 + widths[0] / 2
    _, rest = nnls(np.tril(np.ones((len(row), len(row)))), wanted - nearest)
    # Its own tolerance is about 1e-9 of the largest number.
    assert np.linalg.norm(np.array(placed) - wanted) == pytest.approx(rest, abs=1e-5)


def test_spread_leaves_alone_what_has_room() -> None:
    assert spread([10, 50, 90], [20, 20, 20], 5, 0, 100) == pytest.approx((10, 50, 90))


def test_spread_says_when_there_is_no_room() -> None:
    assert spread([10, 50, 90], [40, 40, 40], 5, 0, 100) is None


@given(words, st.floats(12, 60))
def test_no_line_is_wider_than_asked(string: str, width: float) -> None:
    made = lines_within(string, width, 3.5)
    assert all(width_mm(row, 3.5) <= width for row in made)
    assert all(row.strip() for row in made)


@given(words, st.floats(12, 60))
def test_no_letter_is_lost(string: str, width: float) -> None:
    made = "".join(lines_within(string, width, 3.5))
    assert "".join(made.split()) == "".join(settled(string).split())


@given(words)
def test_lines_upward_keep_clear_of_each_other(string: str) -> None:
    made = lines_up(Text(0, 10, string, 5.0, weight=Weight.BOLD), 40.0)
    assert made[0].y == 10
    for below, above in pairwise(made):
        assert text_box(above).y0 > text_box(below).y1
