"""What is marked across the blade at each station, and the table of it in mm and inches."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.lettering import block, width_mm
from springloom.drawing.model import Anchor, Baseline, Block, Item, Pen, Text, Weight
from springloom.drawing.paths import lines
from springloom.drawing.tables import PAD, Align, Column, table
from springloom.shape.blade import EDGE_INSET, HalfPaddle, Station, station_name
from springloom.units import Denominator, System, format_length, nearest_fraction

LAYER = "offsets"
NONE = "\N{EN DASH}"
FROM_TIP = " from tip"
CENTRE, SHOULDER = "centre", "shoulder"
HEADS = ("From centre", "From tip", "Width", "Half-width", "Crown", "Edge")


@dataclass(frozen=True, slots=True)
class Offset:
    """One station's figures, m, read off the model's own curves.

    Attributes:
        name: what the maker calls the place.
        x: distance from the paddle's centre.
        from_tip: distance from the tip.
        width: across the blade.
        crown: thickness at the ridge.
        edge: thickness where calipers read the edge; None at the tip, which has no width.
    """

    name: str
    x: float
    from_tip: float
    width: float
    crown: float
    edge: float | None

    @property
    def lengths(self) -> tuple[float | None, ...]:
        """The figures in the order of :data:`HEADS`, m."""
        return self.x, self.from_tip, self.width, 0.5 * self.width, self.crown, self.edge


def offsets(half: HalfPaddle, system: System = "mm",
            denominator: Denominator = 64) -> tuple[Offset, ...]:
    """Return the figures at the centre, the shoulder and each station, in order outward.

    ``system`` words a name that is itself a distance from the tip.
    """
    places = [(0.0, CENTRE), (half.loom.half_length, SHOULDER)]
    places += [(s.x, _name(s, half, system, denominator)) for s in half.stations]
    return tuple(_offset(half, x, name) for x, name in places)


def figure(length_m: float, system: System, denominator: Denominator = 64) -> str:
    """Return a length as a dimension line gives it: ``255 mm``, ``467.5 mm`` or ``3 1/4 in``."""
    return format_length(length_m, system, denominator=denominator).replace(".0 mm", " mm")


def held(name: str) -> str:
    """Return a name that is a distance from the tip so that it breaks before "from tip" only."""
    if not name.endswith(FROM_TIP):
        return name
    distance = name.removesuffix(FROM_TIP)
    return f"{_held(distance)} {_held(FROM_TIP.strip())}"


def _held(words: str) -> str:
    return words.replace(" ", "\N{NO-BREAK SPACE}")


def offsets_table(rows: Sequence[Offset], x: float, y: float, *, system: System = "mm",
                  denominator: Denominator = 64, size_mm: float = 3.5) -> Block:
    """Set the table, mm and inches side by side; the upper left corner is (x, y), mm."""
    order: tuple[System, ...] = ("mm", "in") if system == "mm" else ("in", "mm")
    cells = [[row.name, *(_cell(length, unit, denominator)
                          for length in row.lengths for unit in order)] for row in rows]
    pad = 2 * PAD * size_mm
    names = max(width_mm("Station", size_mm, Weight.BOLD),
                *(width_mm(row.name, size_mm) for row in rows)) + pad
    pair = max(width_mm(head, size_mm, Weight.BOLD) for head in HEADS) + pad
    head = Text(x, y, "Offsets", size_mm, baseline=Baseline.TOP, weight=Weight.BOLD, layer=LAYER)
    rounding = Text(x + names, y, f"inches to the nearest 1/{denominator}", size_mm,
                    baseline=Baseline.TOP, layer=LAYER)
    y -= 2.6 * size_mm
    columns = [Column("Station", "", Align.LEFT, names),
               *(Column("", unit, width_mm=pair / 2) for unit in order * len(HEADS))]
    made = table(columns, cells, x, y, size_mm=size_mm, layer=LAYER)
    return block((head, rounding, *made.items, *_headings(made, x + names, y, size_mm)))


def _headings(made: Block, left: float, top: float, size_mm: float) -> list[Item]:
    """Name each pair of columns across both, and part the pairs by hairlines."""
    # A unit stands a pad in from its column's right edge.
    units = [t.x + PAD * size_mm for t in made.items
             if isinstance(t, Text) and t.string in ("mm", "in") and t.size_mm < size_mm]
    edges = [left, *units[1::2]]
    items: list[Item] = [
        Text((a + b) / 2, top - 0.55 * size_mm, head, size_mm, Anchor.MIDDLE, Baseline.TOP,
             weight=Weight.BOLD, layer=LAYER)
        for head, (a, b) in zip(HEADS, itertools.pairwise(edges), strict=True)
    ]
    parts = [((x, top), (x, made.bounds.y0)) for x in edges[:-1]]
    return [*items, lines(parts, Pen.GRID, layer=LAYER)]


def _cell(length_m: float | None, system: System, denominator: Denominator) -> str:
    if length_m is None:
        return NONE
    if system == "in":
        return str(nearest_fraction(length_m, denominator))
    return format_length(length_m, "mm").removesuffix(" mm")


def _offset(half: HalfPaddle, x: float, name: str) -> Offset:
    width, crown = (float(v) for v in half.values(half.parameter(x))[:2] * (2.0, 1.0))
    if x >= half.tip:
        return Offset(name, x, 0.0, 0.0, crown, None)
    # As the station's own edge is read: closer in where the blade is very narrow.
    edge = half.section(x).thickness_at(min(EDGE_INSET, 0.45 * width))
    return Offset(name, x, half.tip - x, width, crown, edge)


def _name(station: Station, half: HalfPaddle, system: System, denominator: Denominator) -> str:
    own = station_name(station.x, half.loom, half.tip)
    name = station.name if station.name.strip() else own
    if name != own or not own.endswith(f" mm{FROM_TIP}"):
        return name
    if system == "in":
        own = f"{nearest_fraction(half.tip - station.x, denominator)} in{FROM_TIP}"
    return own
