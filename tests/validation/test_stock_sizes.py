"""Sizes of lumber against the standards they are named after, as these are printed elsewhere."""

from __future__ import annotations

from fractions import Fraction

import pytest

from springloom.units import parse_length
from springloom.wood.stock import (
    BOARD_FOOT_M3,
    EN_PLANED_MM,
    HARDWOOD_S2S,
    PS20_THICKNESS,
    PS20_WIDTH,
    board_feet,
    stock_for,
)

# American Softwood Lumber Standard PS 20, nominal and minimum dressed sizes, dry, as reprinted by
# The Engineering ToolBox, "Softwood Lumber - Standard Sizes": boards and dimension lumber.
PS20_PRINTED_THICKNESS = {
    "1": "3/4", "1 1/4": "1", "1 1/2": "1 1/4", "2": "1 1/2", "2 1/2": "2", "3": "2 1/2",
    "3 1/2": "3", "4": "3 1/2",
}
PS20_PRINTED_WIDTH = {
    "2": "1 1/2", "3": "2 1/2", "4": "3 1/2", "5": "4 1/2", "6": "5 1/2", "7": "6 1/2",
    "8": "7 1/4", "9": "8 1/4", "10": "9 1/4", "11": "10 1/4", "12": "11 1/4",
}
# FPL-GTR-282 Table 6-3, rough and surfaced two sides, as reprinted by woodbin.com and The
# Engineering ToolBox, "Hardwood Lumber - Dimensions".
S2S_PRINTED = {"1": "13/16", "1 1/4": "1 1/16", "1 1/2": "1 5/16", "2": "1 3/4", "3": "2 3/4",
               "4": "3 3/4"}
# Chudley and Greeno, Building Construction Handbook, 8th ed., "Timber sizes and surface
# finishes": target sizes to BS EN 336, sawn (T1) and planed (T2), mm.
EN336_SAWN = (50, 63, 75, 100, 125, 150, 175, 200, 225)
EN336_PLANED = (47, 60, 72, 97, 120, 145, 170, 195, 220)


def inches(text: str) -> float:
    return parse_length(f"{text} in")


def quarters(text: str) -> float:
    return float(Fraction(text)) * 0.0254


@pytest.mark.parametrize(("printed", "table"), [
    (PS20_PRINTED_THICKNESS, PS20_THICKNESS), (PS20_PRINTED_WIDTH, PS20_WIDTH),
    (S2S_PRINTED, HARDWOOD_S2S),
])
def test_nominal_and_real_sizes_are_the_printed_ones(
    printed: dict[str, str], table: dict[str, str]
) -> None:
    ours = {round(quarters(name), 9): round(quarters(size), 9) for name, size in table.items()}
    theirs = {round(inches(name), 9): round(inches(size), 9) for name, size in printed.items()}
    assert ours == theirs


def test_metric_sizes_are_the_printed_ones() -> None:
    assert [EN_PLANED_MM[sawn] for sawn in EN336_SAWN] == list(EN336_PLANED)


def test_a_two_by_four_is_what_everybody_knows() -> None:
    """1 1/2 by 3 1/2 in, of which 8 ft are 5 1/3 board feet (PS 20; common practice)."""
    (stud,) = [s for s in stock_for("north american", "softwood")
               if s.name == "2 × 4" and s.surface == "planed"]
    assert (stud.thickness_m, stud.width_m) == pytest.approx((inches("1 1/2"), inches("3 1/2")))
    assert stud.board_feet(8 * 0.3048) == pytest.approx(2.0 * 4.0 * 8.0 / 12.0)


def test_a_board_foot_is_a_twelfth_of_a_cubic_foot() -> None:
    assert pytest.approx(0.3048**3 / 12.0) == BOARD_FOOT_M3
    assert board_feet(0.0254, 0.3048, 0.3048) == pytest.approx(1.0)


def test_board_feet_count_thin_boards_as_inch_boards() -> None:
    """American Softwood Lumber Standard: thicknesses below one inch are counted as one inch."""
    half_inch, inch = (board_feet(t, 0.3048, 3.048) for t in (0.0127, 0.0254))
    assert half_inch == inch == pytest.approx(10.0)
    assert board_feet(0.0508, 0.3048, 3.048) == pytest.approx(20.0)
