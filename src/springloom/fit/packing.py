"""Laying pieces into boards, and the boards to buy for a list of pieces.

Pieces lie in lanes that run along the board, each lane as wide as its widest piece, so that
a rip saw and a crosscut free them all. Longest and widest first, each into the first lane that
has room: a board too many is possible, a cut that can't be made is not.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from springloom.shape.blank import Allowances
from springloom.wood.species import Group
from springloom.wood.stock import Market, Stock, Surface, stock_for

LONGEST_CARRIED = 5.0
"""Longer boards are bought only where no shorter one will do, m (common practice, no source)."""

SLIGHT = 0.0003
"""So much of a blank's thickness may be missing in a planed board: no hand feels it at the loom,
m (common practice, no source)."""

_SAME = 1e-7  # m; sizes typed in inches and compared in metres


@dataclass(frozen=True, slots=True)
class Item:
    """A piece to come out of a board, m; a strip may be turned, and is planed on all faces."""

    label: str
    length_m: float
    width_m: float
    thickness_m: float
    is_strip: bool = False

    def ways(self, allow: Allowances) -> tuple[tuple[float, float], ...]:
        """(through the board, across it with what is planed off), least across first."""
        if not self.is_strip:
            return ((self.thickness_m, self.width_m),)
        sizes = (self.width_m, self.thickness_m), (self.thickness_m, self.width_m)
        return tuple(sorted(((a, b + 2.0 * allow.planing_m) for a, b in sizes),
                            key=lambda way: way[1]))

    def way(self, thickness_m: float, allow: Allowances) -> tuple[float, float] | None:
        """(through, across) in a board that leaves this thickness; None if it is too thick."""
        give = _SAME if self.is_strip else SLIGHT
        return next((way for way in self.ways(allow) if way[0] <= thickness_m + give), None)

    def across(self, thickness_m: float, allow: Allowances) -> float | None:
        """Width it takes of such a board; None if it is too thick."""
        way = self.way(thickness_m, allow)
        return None if way is None else way[1]


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece in a board: its lower left corner, and its room across and through, m."""

    item: Item
    along_m: float
    across_m: float
    width_m: float
    through_m: float

    @property
    def end_m(self) -> float:
        """Where it ends along the board, m."""
        return self.along_m + self.item.length_m


@dataclass(frozen=True, slots=True)
class Bought:
    """A board to buy and what comes out of it."""

    stock: Stock
    length_m: float
    placed: tuple[Placed, ...]

    @property
    def volume_m3(self) -> float:
        """Its wood, m³."""
        return self.stock.volume_m3(self.length_m)

    @property
    def board_feet(self) -> float:
        """What it is paid for, board feet."""
        return self.stock.board_feet(self.length_m)

    @property
    def spare_m(self) -> float:
        """Thickness left for truing both faces of the thickest piece, m; never below −SLIGHT."""
        return self.stock.thickness_m - max(p.through_m for p in self.placed)


@dataclass(slots=True)
class _Lane:
    across: float
    width: float
    used: float = 0.0


def lay(items: Sequence[Item], length_m: float, width_m: float, thickness_m: float,
        allow: Allowances) -> tuple[tuple[Placed, ...], tuple[Item, ...]]:
    """Lay pieces into one board; return where each lies, and those that found no room.

    Args:
        items: what is wanted.
        length_m, width_m: the board's.
        thickness_m: what the board leaves once its faces are true.
        allow: the saw cut, and what is planed off strips.
    """
    placed: list[Placed] = []
    left: list[Item] = []
    lanes: list[_Lane] = []
    for item in _largest_first(items, thickness_m, allow):
        way = item.way(thickness_m, allow)
        lane = None if way is None else _lane(lanes, item, way[1], length_m, width_m, allow)
        if lane is None or way is None:
            left.append(item)
            continue
        placed.append(Placed(item, lane.used, lane.across, way[1], way[0]))
        lane.used += item.length_m + allow.kerf_m
    return tuple(placed), tuple(left)


def _largest_first(items: Sequence[Item], thickness: float, allow: Allowances) -> list[Item]:
    return sorted(items, key=lambda i: (-(i.across(thickness, allow) or 0.0), -i.length_m))


def _lane(lanes: list[_Lane], item: Item, across: float, length: float, width: float,
          allow: Allowances) -> _Lane | None:
    for lane in lanes:
        if across <= lane.width + _SAME and lane.used + item.length_m <= length + _SAME:
            return lane
    start = lanes[-1].across + lanes[-1].width + allow.kerf_m if lanes else 0.0
    if start + across > width + _SAME or item.length_m > length + _SAME:
        return None
    lanes.append(_Lane(start, across))
    return lanes[-1]


def shop(items: Sequence[Item], market: Market, group: Group, allow: Allowances | None = None,
         surface: Surface | None = None) -> tuple[Bought, ...] | None:
    """Return the boards to buy that together cost the least wood; None if no section will do.

    Each piece is first given the section it costs least in by itself; then one section for all
    is tried, and the cheaper way taken.
    """
    allow = allow or Allowances()
    racks = [s for s in stock_for(market, group) if surface in (None, s.surface)]
    ways = [_each_its_own(items, racks, allow), _one_section(items, racks, allow)]
    found = [way for way in ways if way is not None]
    return min(found, key=_paid, default=None)


def _paid(boards: Sequence[Bought]) -> tuple[float, int, float]:
    """Wood paid for, then the number of boards, then the thickness to spare."""
    paid = sum(b.stock.nominal_m[0] * b.stock.nominal_m[1] * b.length_m for b in boards)
    return round(paid, 9), len(boards), -min((b.spare_m for b in boards), default=0.0)


def _each_its_own(items: Sequence[Item], racks: Sequence[Stock],
                  allow: Allowances) -> tuple[Bought, ...] | None:
    chosen: dict[Stock, list[Item]] = {}
    cheapest: dict[Item, Stock | None] = {}
    for item in items:
        plain = replace(item, label="")
        if plain not in cheapest:
            cheapest[plain] = _cheapest(plain, racks, allow)
        stock = cheapest[plain]
        if stock is None:
            return None
        chosen.setdefault(stock, []).append(item)
    parts = [_all_of(group, stock, allow) for stock, group in chosen.items()]
    return tuple(itertools.chain.from_iterable(part for part in parts if part is not None))


def _cheapest(item: Item, racks: Sequence[Stock], allow: Allowances) -> Stock | None:
    found = _one_section([item], racks, allow)
    return None if found is None else found[0].stock


def _one_section(items: Sequence[Item], racks: Sequence[Stock],
                 allow: Allowances) -> tuple[Bought, ...] | None:
    """Lay all into boards of whichever one section costs least."""
    best: tuple[Bought, ...] | None = None
    for least, stock in sorted(((_least(items, s, allow), s) for s in racks),
                               key=lambda pair: pair[0]):
        if best is not None and least > _paid(best)[0]:
            break  # no further section can be cheaper
        found = _all_of(items, stock, allow)
        if found is not None and (best is None or _paid(found) < _paid(best)):
            best = found
    return best


def _least(items: Sequence[Item], stock: Stock, allow: Allowances) -> float:
    """Return what no way of laying these into a section can be cheaper than, m³ paid for."""
    narrowest = sum(item.length_m * min(way[1] for way in item.ways(allow)) for item in items)
    thick, wide = stock.nominal_m
    longest = max(item.length_m for item in items)
    # Paid width over real width: what a lane of a given width costs at least.
    return thick * max(narrowest * min(1.0, wide / stock.width_m), wide * longest) - 1e-9


def _all_of(items: Sequence[Item], stock: Stock, allow: Allowances) -> tuple[Bought, ...] | None:
    """Lay all into boards of one section, of the length that wastes least."""
    thickness = stock.thickness_m - 2.0 * (allow.sawn_m if stock.surface == "sawn" else 0.0)
    if any((room := item.across(thickness, allow)) is None or room > stock.width_m + _SAME
           for item in items):
        return None
    longest = max(item.length_m for item in items)
    lengths = [n for n in stock.lengths_m if n >= longest - _SAME]
    carried = [n for n in lengths if n <= LONGEST_CARRIED + _SAME] or lengths[:1]
    ways = [_filled(items, stock, length, thickness, allow) for length in carried]
    return min(ways, key=_paid, default=None)


def _filled(items: Sequence[Item], stock: Stock, length: float, thickness: float,
            allow: Allowances) -> tuple[Bought, ...]:
    boards: list[Bought] = []
    rest: Sequence[Item] = items
    while rest:
        placed, rest = lay(rest, length, stock.width_m, thickness, allow)
        needed = max(p.end_m for p in placed)
        shortest = next(n for n in stock.lengths_m if n >= needed - _SAME)
        boards.append(Bought(stock, shortest, placed))
    return tuple(boards)


def totals(boards: Iterable[Bought]) -> tuple[float, float]:
    """Board feet and volume in m³ of some boards."""
    held = list(boards)
    return sum(b.board_feet for b in held), sum(b.volume_m3 for b in held)
