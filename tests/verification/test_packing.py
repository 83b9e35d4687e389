"""Pieces in boards: closed forms, nothing overlapping, nothing outside, never dearer than plain."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.fit.packing import (
    LONGEST_CARRIED,
    SLIGHT,
    Bought,
    Item,
    Placed,
    lay,
    shop,
    totals,
)
from springloom.shape.blank import Allowances
from springloom.wood.stock import MARKETS, Market

ALLOW = Allowances()
FOOT = 0.3048
BLANK = Item("blank", 2.26, 0.088, 0.038)


def laid(count: int, length: float, width: float) -> int:
    items = [replace(BLANK, label=str(n)) for n in range(count)]
    placed, left = lay(items, length, width, 0.038, ALLOW)
    assert len(placed) + len(left) == count
    return len(placed)


@pytest.mark.parametrize("lanes", [1, 2, 3])
@pytest.mark.parametrize("ends", [1, 2, 3])
def test_count_of_blanks_is_lanes_by_ends(lanes: int, ends: int) -> None:
    """n pieces and n − 1 saw cuts go into a size, whichever way."""
    length = ends * 2.26 + (ends - 1) * ALLOW.kerf_m
    width = lanes * 0.088 + (lanes - 1) * ALLOW.kerf_m
    assert laid(99, length + 1e-9, width + 1e-9) == lanes * ends
    assert laid(99, length - 1e-4, width + 1e-9) == lanes * (ends - 1)
    assert laid(99, length + 1e-9, width - 1e-4) == (lanes - 1) * ends


def test_a_strip_is_turned_where_that_helps_and_a_blank_is_not() -> None:
    flat = Item("strip", 2.0, 0.040, 0.010, is_strip=True)
    (placed,), _ = lay([flat], 2.1, 0.05, 0.040, ALLOW)
    # On edge it takes its 10 mm and two planings of the board's width.
    assert placed.through_m == pytest.approx(0.040)
    assert placed.width_m == pytest.approx(0.010 + 2 * ALLOW.planing_m)
    (placed,), _ = lay([flat], 2.1, 0.05, 0.020, ALLOW)
    assert placed.width_m == pytest.approx(0.040 + 2 * ALLOW.planing_m)
    assert lay([replace(flat, is_strip=False)], 2.1, 0.05, 0.005, ALLOW)[0] == ()


def inside_and_apart(placed: tuple[Placed, ...], length: float, width: float) -> None:
    for p in placed:
        assert p.along_m >= 0.0
        assert p.across_m >= 0.0
        assert p.end_m <= length + 1e-6
        assert p.across_m + p.width_m <= width + 1e-6
    for p, q in itertools.combinations(placed, 2):
        along = max(p.along_m, q.along_m) - min(p.end_m, q.end_m)
        across = (max(p.across_m, q.across_m)
                  - min(p.across_m + p.width_m, q.across_m + q.width_m))
        assert max(along, across) >= ALLOW.kerf_m - 1e-9


@given(st.lists(st.tuples(st.floats(0.3, 2.5), st.floats(0.02, 0.12)), min_size=1, max_size=12),
       st.floats(2.0, 5.0), st.floats(0.05, 0.3))
def test_pieces_lie_inside_and_a_saw_cut_apart(
    sizes: list[tuple[float, float]], length: float, width: float
) -> None:
    items = [Item(str(n), long, wide, 0.03) for n, (long, wide) in enumerate(sizes)]
    placed, left = lay(items, length, width, 0.03, ALLOW)
    inside_and_apart(placed, length, width)
    assert sorted(p.item.label for p in placed) + sorted(i.label for i in left) != []
    assert {p.item.label for p in placed} | {i.label for i in left} == {i.label for i in items}


@pytest.mark.parametrize("market", MARKETS)
@pytest.mark.parametrize("count", [1, 2, 5, 12])
def test_everything_asked_for_is_bought_and_fits(market: Market, count: int) -> None:
    items = [replace(BLANK, label=str(n), length_m=1.8 + 0.06 * n) for n in range(count)]
    boards = shop(items, market, "softwood")
    assert boards is not None
    assert sorted(p.item.label for b in boards for p in b.placed) == sorted(str(n)
                                                                          for n in range(count))
    for board in boards:
        inside_and_apart(board.placed, board.length_m, board.stock.width_m)
        assert board.length_m in board.stock.lengths_m
        assert board.length_m <= LONGEST_CARRIED + 1e-6
        assert board.spare_m >= -SLIGHT - 1e-9


def paid(boards: tuple[Bought, ...]) -> float:
    return sum(b.stock.nominal_m[0] * b.stock.nominal_m[1] * b.length_m for b in boards)


@pytest.mark.parametrize("market", MARKETS)
def test_two_together_are_never_dearer_than_two_apart(market: Market) -> None:
    one = shop([BLANK], market, "softwood")
    two = shop([BLANK, replace(BLANK, label="second")], market, "softwood")
    assert one is not None
    assert two is not None
    assert paid(two) <= 2 * paid(one) + 1e-12


def test_the_default_blank_comes_from_a_two_by_four() -> None:
    """Eight feet of 2 × 4 for one (common practice), sixteen for two; 1 1/2 in is 38.1 mm."""
    one = shop([BLANK], "north american", "softwood")
    two = shop([BLANK, replace(BLANK, label="b")], "north american", "softwood")
    assert one is not None
    assert two is not None
    assert [f"{b.stock.name} {b.stock.surface}" for b in one] == ["2 × 4 planed"]
    assert one[0].length_m == pytest.approx(8 * FOOT)
    assert one[0].spare_m == pytest.approx(0.0381 - 0.038)
    feet, litres = totals(two)
    assert feet == pytest.approx(2 * 4 * 16 / 12)
    assert litres == pytest.approx(0.0381 * 0.0889 * 16 * FOOT)


def test_a_hair_too_thick_is_forgiven_and_more_is_not() -> None:
    def first(thickness: float) -> str:
        boards = shop([replace(BLANK, thickness_m=thickness)], "north american", "softwood",
                      surface="planed")
        assert boards is not None
        return boards[0].stock.name

    assert first(0.0381 + SLIGHT - 1e-5) == "2 × 4"
    assert first(0.0381 + SLIGHT + 1e-5) == "3 × 4"


def test_sawn_stock_gives_up_both_its_faces() -> None:
    boards = shop([BLANK], "metric", "softwood", surface="sawn")
    assert boards is not None
    assert all(b.stock.thickness_m >= 0.038 + 2 * ALLOW.sawn_m for b in boards)


def test_what_no_yard_sells_is_told_apart_from_nothing() -> None:
    assert shop([replace(BLANK, thickness_m=0.2)], "metric", "softwood") is None
    assert shop([replace(BLANK, length_m=9.0)], "metric", "softwood") is None
    assert shop([replace(BLANK, width_m=0.5)], "north american", "hardwood") is None


def test_a_long_piece_is_bought_although_no_car_carries_it() -> None:
    boards = shop([replace(BLANK, length_m=5.5)], "metric", "softwood")
    assert boards is not None
    assert boards[0].length_m == pytest.approx(5.7)
