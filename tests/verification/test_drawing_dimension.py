"""Dimension lines, leaders, check bars and tables: what they say, and that nothing collides."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.dimension import (
    ARROW_MM,
    GAP_MM,
    PAST_MM,
    Along,
    Ends,
    chain,
    check_bar_inch,
    check_bar_mm,
    dimension,
    leader,
)
from springloom.drawing.lettering import item_box, text_box
from springloom.drawing.model import Block, Fill, Path, Pen, Text
from springloom.drawing.paths import path_bounds
from springloom.drawing.tables import Align, Column, table
from springloom.errors import InputError


def texts(made: Block) -> list[Text]:
    return [item for item in made.items if isinstance(item, Text)]


def filled(made: Block) -> list[Path]:
    return [item for item in made.items if isinstance(item, Path) and item.fill is Fill.INK]


def stroked(made: Block) -> list[Path]:
    return [item for item in made.items if isinstance(item, Path) and item.pen]


def assert_text_is_free(made: Block) -> None:
    """No figure touches another figure or any line."""
    boxes = [text_box(text) for text in texts(made)]
    assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))
    for path in stroked(made):
        for run in path.runs():
            for segment in run:
                box = path_bounds(Path(segment[None], path.pen), stroke=True)
                assert not any(box.overlaps(other) for other in boxes)


def test_arrows_point_at_the_ends_of_what_is_measured() -> None:
    made = dimension((10, 20), (70, 20), "60", 8.0)
    tips = sorted(tuple(path.segments[0, 0]) for path in filled(made))
    assert tips == [(10.0, 28.0), (70.0, 28.0)]
    # Each arrow's body lies between the ends.
    assert all(path_bounds(path).x0 >= 10 and path_bounds(path).x1 <= 70 for path in filled(made))
    assert_text_is_free(made)


def test_projection_lines_leave_a_gap_and_run_past() -> None:
    made = dimension((10, 20), (70, 25), "60", 8.0, along=Along.HORIZONTAL)
    first, second = stroked(made)[0].runs()
    assert first[0, 0] == pytest.approx((10, 20 + GAP_MM))
    assert first[0, 3] == pytest.approx((10, 25 + 8 + PAST_MM))
    assert second[0, 0] == pytest.approx((70, 25 + GAP_MM))


def test_negative_offset_goes_to_the_other_side() -> None:
    below = dimension((10, 20), (70, 25), "60", -8.0, along=Along.HORIZONTAL)
    assert {tuple(p.segments[0, 0]) for p in filled(below)} == {(10.0, 12.0), (70.0, 12.0)}
    # The figure stays above its line.
    assert text_box(texts(below)[0]).y0 > 12.0
    assert_text_is_free(below)


@given(st.floats(0, 2 * math.pi), st.sampled_from(Along), st.floats(-20, 20))
def test_figures_read_from_the_foot_or_the_right(turn: float, along: Along,
                                                 offset: float) -> None:
    b = (50 + 30 * math.cos(turn), 50 + 30 * math.sin(turn))
    if along is not Along.ALIGNED and min(abs(b[0] - 50), abs(b[1] - 50)) < 1e-3:
        return
    made = dimension((50, 50), b, "30", offset, along=along)
    assert -90 < texts(made)[0].rotation_deg <= 90
    assert all(np.isfinite(item_box(item).width) for item in made.items)


def test_aligned_dimension_is_as_long_as_the_distance() -> None:
    made = dimension((0, 0), (30, 40), "50", 5.0)
    tips = np.array([path.segments[0, 0] for path in filled(made)])
    assert np.hypot(*(tips[1] - tips[0])) == pytest.approx(50)
    # Offset by 5 to the left of the reading direction (3, 4)/5.
    assert tips[np.argmin(tips[:, 0])] == pytest.approx((-4, 3))
    assert texts(made)[0].rotation_deg == pytest.approx(math.degrees(math.atan2(4, 3)))


def test_narrow_gap_turns_the_arrows_outside_and_moves_the_figure() -> None:
    made = dimension((10, 0), (13, 0), "3 1/16 in", 6.0)
    boxes = [path_bounds(path) for path in filled(made)]
    assert min(box.x0 for box in boxes) == pytest.approx(10 - ARROW_MM)
    assert max(box.x1 for box in boxes) == pytest.approx(13 + ARROW_MM)
    assert text_box(texts(made)[0]).x0 > 13
    assert_text_is_free(made)


@pytest.mark.parametrize("length", [2.0, 5.0, 8.0, 12.0, 20.0, 60.0])
@pytest.mark.parametrize("ends", list(Ends))
def test_figure_is_free_at_any_length(length: float, ends: Ends) -> None:
    assert_text_is_free(dimension((10, 0), (10 + length, 0), "7 5/8 in", 6.0, ends=ends))


def test_chain_shares_one_line() -> None:
    made = chain([(0, 0), (40, 5), (70, 3)], ["40", "30"], 6.0, along=Along.HORIZONTAL,
                 ends=Ends.DOT)
    assert [text.string for text in texts(made)] == ["40", "30"]
    assert {round(path_bounds(path).centre[1], 9) for path in filled(made)} == {11.0}
    assert_text_is_free(made)


def test_leader_points_at_its_place_and_keeps_clear_of_its_words() -> None:
    right, left = leader((0, 0), (10, 10), "crown 7/8"), leader((0, 0), (-10, 10), "crown")
    assert tuple(filled(right)[0].segments[0, 0]) == (0, 0)
    assert text_box(texts(right)[0]).x0 > 13
    assert text_box(texts(left)[0]).x1 < -13
    assert_text_is_free(right)
    assert_text_is_free(left)


@pytest.mark.parametrize(
    ("made", "whole", "count", "words"),
    [
        (check_bar_mm(5, 5), 100.0, 11, "100 mm – measure me"),
        # 1 in = 25.4 mm exactly (international yard, 1959).
        (check_bar_inch(5, 5), 4 * 25.4, 17, "4 in – measure me"),
    ],
)
def test_check_bars(made: Block, whole: float, count: int, words: str) -> None:
    base, ticks = stroked(made)
    assert path_bounds(base).width == pytest.approx(whole)
    assert path_bounds(ticks).width == pytest.approx(whole)
    assert len(ticks.segments) == count
    assert np.allclose(np.diff(ticks.segments[:, 0, 0]), whole / (count - 1))
    assert words in [text.string for text in texts(made)]
    assert_text_is_free(made)


def test_dimensions_without_length_are_refused() -> None:
    with pytest.raises(InputError):
        dimension((1, 1), (1, 1), "0", 5)
    with pytest.raises(InputError):
        dimension((1, 1), (1, 5), "0", 5, along=Along.HORIZONTAL)
    with pytest.raises(InputError):
        chain([(0, 0), (1, 0)], ["1", "2"], 5)
    with pytest.raises(InputError):
        leader((0, 0), (0, 0), "here")
    with pytest.raises(InputError):
        dimension((1, math.nan), (1, 5), "4", 5)


COLUMNS = (Column("Station", align=Align.LEFT), Column("Crown", "mm"),
           Column("Width", "in", Align.MIDDLE, 30.0), Column("Edge", "mm", Align.RIGHT))
ROWS = (("root", "34", "1 9/16", "18"), ("1/4", "24.5", "2 3/8", "9"), ("tip", "7.25", "", "4"))


def test_table_starts_at_its_corner_and_nothing_overlaps() -> None:
    made = table(COLUMNS, ROWS, 20, 100, title="Offsets")
    # Half the width of the outer rules; and f stands a little higher than capitals.
    assert made.bounds.x0 == pytest.approx(20, abs=Pen.VISIBLE.width_mm / 2 + 0.01)
    assert made.bounds.y1 == pytest.approx(100, abs=0.05 * 3.0)
    assert_text_is_free(made)
    assert "" not in [text.string for text in texts(made)]


def test_decimal_points_stand_under_each_other() -> None:
    made = table(COLUMNS, ROWS, 0, 0)
    points = []
    for text in texts(made):
        if text.string in ("34", "24.5", "7.25"):
            whole = text.string.partition(".")[0]
            points.append(text_box(text).x0 + text_box(Text(0, 0, whole)).width)
    assert len(points) == 3
    # Boxes are widened by ink beyond the advance, a tenth of a millimetre at most.
    assert max(points) - min(points) < 0.1


def test_column_keeps_its_least_width() -> None:
    narrow = table([Column("A")], [["1"]], 0, 0).bounds.width
    wide = table([Column("A", width_mm=40)], [["1"]], 0, 0).bounds.width
    assert narrow < 40
    assert wide == pytest.approx(40 + Pen.VISIBLE.width_mm)


def test_table_rules_are_heavier_above_and_below() -> None:
    rules = stroked(table(COLUMNS, ROWS, 0, 0))
    width = {round(path_bounds(r).centre[1], 6): r.pen.width_mm for r in rules if r.pen}
    assert width[max(width)] == width[min(width)] == Pen.VISIBLE.width_mm
    assert min(width.values()) == Pen.GRID.width_mm


def test_tables_that_do_not_add_up_are_refused() -> None:
    with pytest.raises(InputError):
        table([], [], 0, 0)
    with pytest.raises(InputError, match=r"table\.rows\.1"):
        table(COLUMNS, [ROWS[0], ("a",)], 0, 0)
    with pytest.raises(InputError):
        Column("A", width_mm=math.nan)
