"""A tape drawn along the sheet: millimetres over its line, inches under it."""

from __future__ import annotations

from springloom.drawing.dimension import INCH_MM
from springloom.drawing.lettering import block
from springloom.drawing.model import Anchor, Baseline, Block, Item, Pen, Text
from springloom.drawing.paths import line, lines

LAYER = "tape"
FIGURE_MM = 2.2
APART_MM = 0.8  # from a tick to its figure


def tape(x: float, y: float, length_mm: float) -> Block:
    """Draw a tape from (x, y) towards +x; ticks each 10 mm and half inch, as far as it goes."""
    hundreds = [(n, x + 100.0 * n) for n in range(int(length_mm / 100.0 + 1e-9) + 1)]
    inches = [(n, x + INCH_MM * n) for n in range(int(length_mm / INCH_MM + 1e-9) + 1)]
    tens = int(length_mm / 10.0 + 1e-9) + 1
    halves = int(2 * length_mm / INCH_MM + 1e-9) + 1
    over = [(x + 10.0 * n, 4.0 if n % 10 == 0 else 2.8 if n % 5 == 0 else 1.8)
            for n in range(tens)]
    under = [(x + INCH_MM / 2 * n, -4.0 if n % 2 == 0 else -1.8) for n in range(halves)]
    items: list[Item] = [
        line((x, y), (x + length_mm, y), Pen.DIMENSION, layer=LAYER),
        lines([((p, y), (p, y + tick)) for p, tick in (*over, *under)], Pen.DIMENSION,
              layer=LAYER),
    ]
    items += [Text(p, y + 4.0 + APART_MM, f"{100 * n}", FIGURE_MM, Anchor.MIDDLE, layer=LAYER)
              for n, p in hundreds]
    items += [Text(p, y - 4.0 - APART_MM, f"{n}", FIGURE_MM, Anchor.MIDDLE, Baseline.TOP,
                   layer=LAYER) for n, p in inches]
    items += [Text(x - 3.0, y + sign * 2.0, unit, FIGURE_MM, Anchor.END, Baseline.MIDDLE,
                   layer=LAYER) for unit, sign in (("mm", 1), ("in", -1))]
    return block(items)
