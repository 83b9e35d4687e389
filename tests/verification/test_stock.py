"""What a yard sells: every market has both groups, sizes make sense, and doubts are marked."""

from __future__ import annotations

import pytest

from springloom.errors import RangeError, UnknownNameError
from springloom.wood.species import Group
from springloom.wood.stock import MARKETS, Market, board_feet, stock_for

GROUPS: tuple[Group, ...] = ("softwood", "hardwood")


@pytest.mark.parametrize("market", MARKETS)
@pytest.mark.parametrize("group", GROUPS)
def test_every_section_makes_sense(market: Market, group: Group) -> None:
    found = stock_for(market, group)
    assert len({(s.name, s.surface) for s in found}) == len(found) > 10
    for s in found:
        assert (s.market, s.group) == (market, group)
        assert 0.0 < s.thickness_m <= s.width_m
        assert list(s.lengths_m) == sorted(s.lengths_m)
        assert s.source
        # Nobody is sold more than the name says, but that rough softwood may be an eighth wider.
        assert s.thickness_m <= s.nominal_m[0] + 1e-12
        assert s.width_m <= s.nominal_m[1] + 1e-12


@pytest.mark.parametrize("market", MARKETS)
@pytest.mark.parametrize("group", GROUPS)
def test_planed_stock_is_smaller_than_sawn_stock_of_its_name(market: Market, group: Group) -> None:
    found = {(s.name, s.surface): s for s in stock_for(market, group)}
    for (name, surface), planed in found.items():
        if surface == "planed" and (name, "sawn") in found:
            sawn = found[name, "sawn"]
            assert planed.thickness_m < sawn.thickness_m
            assert planed.width_m <= sawn.width_m
            assert planed.nominal_m == sawn.nominal_m


def test_volume_and_board_feet_grow_with_length() -> None:
    board = stock_for("metric", "softwood")[0]
    assert board.volume_m3(2.0) == pytest.approx(board.thickness_m * board.width_m * 2.0)
    assert board.board_feet(4.0) == pytest.approx(2.0 * board.board_feet(2.0))


def test_sizes_taken_from_memory_say_so() -> None:
    remembered = [s for m in MARKETS for g in GROUPS for s in stock_for(m, g) if s.from_memory]
    # EN 1313-1 below 50 mm, PS 20's rough sizes, and lengths of metric hardwood.
    assert {(s.market, s.group) for s in remembered} == {
        ("metric", "softwood"), ("metric", "hardwood"), ("north american", "softwood")}
    assert all(s.surface == "sawn" for s in remembered if s.market == "north american")


def test_an_unknown_market_or_group_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="did you mean 'metric'"):
        stock_for("metrik", "softwood")  # type: ignore[arg-type]  # a typing slip, on purpose
    with pytest.raises(UnknownNameError, match="hardwood"):
        stock_for("metric", "hardwod")  # type: ignore[arg-type]  # a typing slip, on purpose


@pytest.mark.parametrize("sizes", [(0.0, 0.1, 1.0), (0.02, -0.1, 1.0), (0.02, 0.1, 0.0)])
def test_board_feet_of_nothing_are_refused(sizes: tuple[float, float, float]) -> None:
    with pytest.raises(RangeError):
        board_feet(*sizes)
