"""The table of figures to set off at each place, in mm and inches, for one face."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.lettering import block, width_mm
from springloom.drawing.model import Anchor, Baseline, Block, Item, Pen, Text, Weight
from springloom.drawing.offsets import NONE
from springloom.drawing.paths import lines
from springloom.drawing.tables import PAD, Align, Column, table
from springloom.shape.facets import LINES
from springloom.shape.marks import BlankMarks, FlatMarks
from springloom.units import Denominator, System, format_length, nearest_fraction

LAYER = "tables"
HEADS = (("From", "centre"), ("Half-", "width"), ("Taper", "from blank"),
         ("a on face", "from edge"), ("b on edge", "from face"),
         ("c on face", "from edge"), ("d on flat 1", "from a"),
         ("e on edge", "from face"), ("f on flat 1", "from b"))
GROUPS = (("Blank", 1, 3), ("Flat 1", 3, 5), ("Flat 2", 5, 7), ("Flat 3", 7, 9))
"""Heads over several pairs of columns: first pair, and the one past the last."""


@dataclass(frozen=True, slots=True)
class Figures:
    """One face's figures for a rule in ``system``, at the same places in both."""

    system: System
    blank: BlankMarks
    flats: FlatMarks
    upper: bool

    def rows(self) -> list[list[float | None]]:
        """Return the figures by place, m; None where there is nothing to set off."""
        taper = self.blank.taper_top if self.upper else self.blank.taper_low
        values = [self.blank.x, self.blank.half_width, taper, *self.flats.values]
        half = self.flats.flats.half
        found: list[list[float | None]] = []
        for n in range(len(self.blank.x)):
            row: list[float | None] = [float(v[n]) for v in values]
            # Where the first flat has no depth to cut to, this face has no flats.
            if values[3 + LINES.index("first_down")][n] <= 0.0:
                row[3:] = [None] * len(LINES)
            found.append(row)
        found[-1][1] = 0.0 if self.blank.x[-1] >= half.tip else found[-1][1]
        return found


def layout_table(names: Sequence[str], both: Sequence[Figures], title: str,
                 denominator: Denominator, *, size_mm: float = 3.0) -> Block:
    """Set the table of one face at (0, 0) down; ``both`` are its figures in two systems."""
    every = [figures.rows() for figures in both]
    cells = [[name, *(cell(length, figures.system, denominator)
                      for pair in zip(*rows, strict=True)
                      for length, figures in zip(pair, both, strict=True))]
             for name, *rows in zip(names, *every, strict=True)]
    pad = 2 * PAD * size_mm
    first = max(width_mm("Place", size_mm, Weight.BOLD),
                *(width_mm(name, size_mm) for name in names)) + pad
    pair = max(width_mm(part, size_mm, Weight.BOLD) for head in HEADS for part in head) + pad
    units = [figures.system for figures in both]
    columns = [Column("Place", "", Align.LEFT, first),
               *(Column("", unit, width_mm=pair / 2) for unit in units * len(HEADS))]
    head = Text(0.0, 0.0, title, 1.15 * size_mm, baseline=Baseline.TOP, weight=Weight.BOLD,
                layer=LAYER)
    top = -7.6 * size_mm
    made = table(columns, cells, 0.0, top, size_mm=size_mm, layer=LAYER)
    return block((head, *made.items, *_headings(made, first, top, size_mm)))


def _headings(made: Block, left: float, top: float, size_mm: float) -> list[Item]:
    """Name each pair of columns in two lines, and each flat over its pairs."""
    # A unit stands a pad in from its column's right edge.
    units = [t.x + PAD * size_mm for t in made.items
             if isinstance(t, Text) and t.string in ("mm", "in") and t.size_mm < size_mm]
    edges = [left, *units[1::2]]
    items: list[Item] = []
    for (upper, lower), (a, b) in zip(HEADS, itertools.pairwise(edges), strict=True):
        for string, y, weight in ((upper, top + 2.0 * size_mm, Weight.BOLD),
                                  (lower, top + 0.4 * size_mm, Weight.REGULAR)):
            items.append(Text((a + b) / 2, y, string, 0.9 * size_mm, Anchor.MIDDLE, weight=weight,
                              layer=LAYER))
    over = top + 3.6 * size_mm
    for name, start, stop in GROUPS:
        a, b = edges[start], edges[stop]
        items.append(Text((a + b) / 2, over, name, size_mm, Anchor.MIDDLE, weight=Weight.BOLD,
                          layer=LAYER))
    rules = [((edges[start] + 1.0, over - 0.5 * size_mm), (edges[stop] - 1.0, over - 0.5 * size_mm))
             for _, start, stop in GROUPS]
    parts = [((x, top), (x, made.bounds.y0)) for x in edges[:-1]]
    return [*items, lines(rules, Pen.DIMENSION, layer=LAYER), lines(parts, Pen.GRID, layer=LAYER)]


def cell(length_m: float | None, system: System, denominator: Denominator) -> str:
    """Return a figure as its rule shows it, without the unit."""
    if length_m is None:
        return NONE
    if system == "in":
        return str(nearest_fraction(length_m, denominator))
    return format_length(length_m, "mm").removesuffix(" mm")
