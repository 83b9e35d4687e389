"""What a yard sells: sections by the name they are bought under, with the size they really have.

Sources:
    North American softwood, planed: American Softwood Lumber Standard, Voluntary Product Standard
        PS 20-20, nominal and minimum dressed sizes, dry (found as reprinted by The Engineering
        ToolBox, "Softwood Lumber - Standard Sizes"). Sawn: an eighth of an inch more each way
        (PS 20, from memory). Lengths in even feet: sizes.com, "lumber, softwood, US".
    North American hardwood: FPL-GTR-282 Table 6-3, rough and surfaced (S2S) thickness (found as
        reprinted by woodbin.com and The Engineering ToolBox); widths at random, here by the inch;
        lengths of 4 to 16 ft by the foot (NHLA, found at woodbin.com).
    Metric softwood: EN 336 target sizes, sawn (T1) and planed (T2), from 47 mm up (found in Chudley
        and Greeno, Building Construction Handbook, 8th ed., "Timber sizes and surface finishes");
        thinner sawn sizes and their planed ones: EN 1313-1 preferred sizes, from memory. Lengths of
        1.8 to 7.2 m by 300 mm (found at wiki.dtonline.org, "Timber").
    Metric hardwood: thicknesses with widths by 10 mm (found in The Architects' Journal, "Size
        matters"); lengths as for softwood, from memory.

Which of these a yard has on its racks is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Literal, get_args

from springloom.errors import in_range, known
from springloom.units import METRE_PER_FOOT, METRE_PER_INCH
from springloom.wood.species import Group

Market = Literal["north american", "metric"]
MARKETS: tuple[Market, ...] = get_args(Market)
Surface = Literal["planed", "sawn"]

BOARD_FOOT_M3 = 144.0 * METRE_PER_INCH**3
"""A board a foot square and an inch thick, m³: exact."""

# nominal: dressed dry, in
PS20_THICKNESS: dict[str, str] = {
    "1": "3/4", "5/4": "1", "6/4": "5/4", "2": "3/2", "5/2": "2", "3": "5/2", "7/2": "3",
    "4": "7/2",
}
PS20_WIDTH: dict[str, str] = {
    "2": "3/2", "3": "5/2", "4": "7/2", "5": "9/2", "6": "11/2", "7": "13/2", "8": "29/4",
    "9": "33/4", "10": "37/4", "11": "41/4", "12": "45/4",
}
PS20_ROUGH_IN = Fraction(1, 8)
"""How much thicker and wider than dressed sawn softwood is at least, in (PS 20, from memory)."""

# nominal: surfaced two sides, in
HARDWOOD_S2S: dict[str, str] = {
    "4/4": "13/16", "5/4": "17/16", "6/4": "21/16", "8/4": "7/4", "12/4": "11/4", "16/4": "15/4",
}

EN_PLANED_MM: dict[int, int] = {
    16: 13, 19: 16, 22: 19, 25: 22, 32: 29, 38: 35, 44: 41, 50: 47, 63: 60, 75: 72, 100: 97,
    125: 120, 150: 145, 175: 170, 200: 195, 225: 220,
}
"""Sawn target size: planed target size, mm; below 50 from memory."""

METRIC_HARDWOOD_MM = (16, 19, 25, 38, 50, 63, 75, 100)

_STOCKED_THICKNESS = ("1", "5/4", "2", "3", "4")
_STOCKED_WIDTH = ("3", "4", "6", "8", "10", "12")
_THINNEST_FROM_BOOK_MM = 50

_FEET_SOFT = tuple(METRE_PER_FOOT * n for n in range(6, 21, 2))
_FEET_HARD = tuple(METRE_PER_FOOT * n for n in range(4, 17))
_METRIC_LENGTHS = tuple(0.3 * n for n in range(6, 25))


@dataclass(frozen=True, slots=True)
class Stock:
    """One section a yard sells, lengths in m.

    Attributes:
        name: what it is asked for by, "2 × 4", "8/4 × 6 in", "50 × 100".
        market: where it is sold so.
        group: softwood or hardwood.
        surface: planed, or as the saw left it.
        thickness_m, width_m: what a rule shows.
        nominal_m: thickness and width that it is paid for.
        lengths_m: in which lengths it comes, short to long.
        source: where the size is printed.
        from_memory: whether some of it was not checked against that source.
    """

    name: str
    market: Market
    group: Group
    surface: Surface
    thickness_m: float
    width_m: float
    nominal_m: tuple[float, float]
    lengths_m: tuple[float, ...]
    source: str
    from_memory: bool = False

    def volume_m3(self, length_m: float) -> float:
        """Wood in one board of this length, m³."""
        return self.thickness_m * self.width_m * in_range(length_m, "length_m", 0.0, 20.0, "m")

    def board_feet(self, length_m: float) -> float:
        """Board feet it is paid for: nominal sizes, anything under an inch as an inch."""
        return board_feet(*self.nominal_m, length_m)


def board_feet(thickness_m: float, width_m: float, length_m: float) -> float:
    """Return board feet; a thickness below one inch counts as one inch (PS 20; NHLA).

    Raises:
        RangeError: a size that is not positive.
    """
    in_range(thickness_m, "thickness_m", 0.0, 1.0, "m", open_low=True)
    in_range(width_m, "width_m", 0.0, 2.0, "m", open_low=True)
    in_range(length_m, "length_m", 0.0, 20.0, "m", open_low=True)
    return max(thickness_m, METRE_PER_INCH) * width_m * length_m / BOARD_FOOT_M3


def stock_for(market: Market, group: Group) -> tuple[Stock, ...]:
    """Return the sections a yard of this market sells of softwood or hardwood.

    Raises:
        UnknownNameError: no such market or group.
    """
    known(market, MARKETS, "market")
    known(group, ("softwood", "hardwood"), "group")
    return _stock()[market, group]


@cache
def _stock() -> dict[tuple[Market, Group], tuple[Stock, ...]]:
    return {
        ("north american", "softwood"): _na_softwood(),
        ("north american", "hardwood"): _na_hardwood(),
        ("metric", "softwood"): _metric_softwood(),
        ("metric", "hardwood"): _metric_hardwood(),
    }


def _inches(text: str | Fraction) -> float:
    return float(Fraction(text)) * METRE_PER_INCH


def _na_softwood() -> tuple[Stock, ...]:
    found = []
    for thick in _STOCKED_THICKNESS:
        for wide in _STOCKED_WIDTH:
            nominal = _inches(thick), _inches(wide)
            if nominal[1] < nominal[0]:
                continue
            name = f"{thick} × {wide}"
            planed = Fraction(PS20_THICKNESS[thick]), Fraction(PS20_WIDTH[wide])
            sawn = planed[0] + PS20_ROUGH_IN, planed[1] + PS20_ROUGH_IN
            found += [
                Stock(name, "north american", "softwood", "planed", _inches(planed[0]),
                      _inches(planed[1]), nominal, _FEET_SOFT, "PS 20-20"),
                Stock(name, "north american", "softwood", "sawn", _inches(sawn[0]),
                      _inches(sawn[1]), nominal, _FEET_SOFT, "PS 20-20", True),
            ]
    return tuple(found)


def _na_hardwood() -> tuple[Stock, ...]:
    found = []
    for name, surfaced in HARDWOOD_S2S.items():
        for wide in range(4, 13):
            nominal = _inches(name), wide * METRE_PER_INCH
            surfaces: tuple[tuple[Surface, float], ...] = (
                ("planed", _inches(surfaced)), ("sawn", nominal[0]))
            found += [
                Stock(f"{name} × {wide} in", "north american", "hardwood", surface, thickness,
                      nominal[1], nominal, _FEET_HARD, "FPL-GTR-282 Table 6-3")
                for surface, thickness in surfaces
            ]
    return tuple(found)


def _metric_softwood() -> tuple[Stock, ...]:
    found = []
    for thick in (16, 19, 22, 25, 32, 38, 50, 63, 75, 100):
        for wide in (75, 100, 125, 150, 175, 200, 225):
            if wide < thick:
                continue
            memory = thick < _THINNEST_FROM_BOOK_MM
            source = "EN 1313-1" if memory else "EN 336"
            nominal = 1e-3 * thick, 1e-3 * wide
            planed = 1e-3 * EN_PLANED_MM[thick], 1e-3 * EN_PLANED_MM[wide]
            sizes: tuple[tuple[Surface, tuple[float, float]], ...] = (
                ("planed", planed), ("sawn", nominal))
            found += [
                Stock(f"{thick} × {wide}", "metric", "softwood", surface, *size, nominal,
                      _METRIC_LENGTHS, source, memory)
                for surface, size in sizes
            ]
    return tuple(found)


def _metric_hardwood() -> tuple[Stock, ...]:
    return tuple(
        Stock(f"{thick} × {wide}", "metric", "hardwood", "sawn", 1e-3 * thick, 1e-3 * wide,
              (1e-3 * thick, 1e-3 * wide), _METRIC_LENGTHS, "The Architects' Journal", True)
        for thick in METRIC_HARDWOOD_MM for wide in range(100, 310, 10)
    )
