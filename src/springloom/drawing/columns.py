"""Small sheets: a heading, a foot, and blocks poured into columns, page after page."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from springloom.drawing.arrange import lines_within
from springloom.drawing.lettering import block, text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Bounds,
    Drawing,
    Item,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.paper import Paper
from springloom.drawing.paths import line
from springloom.drawing.tables import FRACTION_ROW, Align, Column, table

LAYER = "heading"
TITLE_MM = 5.0
KIND_MM = 3.5
UNDER_MM = 2.5
FOOT_MM = 2.0
FOOT_ROOM = 7.0  # from the inner box's foot to the lowest thing on the page
ASCENT_MM = 1.0  # what the tallest letters of the title reach over its capitals
GAP = 8.0
SMALLEST_MM = 1.8
"""Lettering smaller than this is not read in a shop (ISO 3098-1's smallest, from memory)."""


@dataclass(frozen=True, slots=True)
class Head:
    """Top and foot of a small sheet: the paddle's name, a line under it, what the sheet is."""

    title: str
    under: str
    kind: str
    foot: str = ""


def framed(paper: Paper, head: Head, layer: str = LAYER) -> tuple[tuple[Item, ...], Bounds]:
    """Return heading and foot of a sheet, and the room between them."""
    box = paper.inner
    top = box.y1 - ASCENT_MM
    kind = Text(box.x1, top, head.kind, KIND_MM, Anchor.END, Baseline.TOP, layer=layer)
    room = box.width - width_mm(head.kind, KIND_MM) - 8.0
    title, size = shortened(head.title, room, TITLE_MM, Weight.BOLD)
    name = Text(box.x0, top, title, size, baseline=Baseline.TOP, weight=Weight.BOLD, layer=layer)
    items: list[Item] = [kind, name]
    y = min(top - TITLE_MM, text_box(name).y0) - 1.6
    if head.under.strip():
        under, size = shortened(head.under, box.width, UNDER_MM)
        under_line = Text(box.x0, 0.0, under, size, layer=layer)
        # A stacked fraction reaches over the capitals and under the foot.
        under_line = under_line.moved(0.0, y - max(text_box(under_line).y1, UNDER_MM))
        items.append(under_line)
        y = min(text_box(under_line).y0, y - UNDER_MM) - 2.0
    items += [line((box.x0, y), (box.x1, y), Pen.VISIBLE, layer=layer),
              line((box.x0, box.y0 + 4.0), (box.x1, box.y0 + 4.0), Pen.DIMENSION, layer=layer),
              Text(box.x0, box.y0 + 1.0, "Springloom", FOOT_MM, weight=Weight.BOLD, layer=layer)]
    if head.foot.strip():
        words, size = shortened(head.foot, box.width - 60.0, FOOT_MM)
        items.append(Text(box.x0 + 24.0, box.y0 + 1.0, words, size, layer=layer, fractions=False))
    return tuple(items), Bounds(box.x0, box.y0 + FOOT_ROOM, box.x1, y - 5.0)


def split(box: Bounds, shares: Sequence[float], gap: float = GAP) -> tuple[Bounds, ...]:
    """Cut a box into columns of these shares of its width, ``gap`` mm apart."""
    free = box.width - gap * (len(shares) - 1)
    widths = [free * share / sum(shares) for share in shares]
    starts = [box.x0, *(box.x0 + gap * (n + 1) + w
                        for n, w in enumerate(itertools.accumulate(widths[:-1])))]
    return tuple(Bounds(x, box.y0, x + w, box.y1) for x, w in zip(starts, widths, strict=True))


def poured(blocks: Sequence[Block], first: Sequence[Bounds], later: Sequence[Bounds],
           gap: float = GAP) -> list[tuple[Item, ...]]:
    """Set blocks down the columns in their order; return the items of each page.

    ``first`` are the first page's columns, ``later`` those of any other. A block higher than a
    whole column stands at the top of one.
    """
    pages: list[list[Item]] = [[]]
    spaces = list(first)
    top = spaces[0].y1
    for made in blocks:
        while _moves_on(made, top, spaces, later):
            spaces = spaces[1:]
            if not spaces:
                pages.append([])
                spaces = list(later)
            top = spaces[0].y1
        pages[-1] += made.moved(spaces[0].x0 - made.bounds.x0, top - made.bounds.y1).items
        top -= made.bounds.height + gap
    return [tuple(page) for page in pages]


def _moves_on(made: Block, top: float, spaces: Sequence[Bounds], later: Sequence[Bounds]) -> bool:
    """Whether a block goes to the next column: it has no room here, and more further on."""
    here, needed = spaces[0], made.bounds.height
    if needed <= top - here.y0 + 1e-9:
        return False
    return top < here.y1 or any(space.height > here.height + 1e-9
                                for space in (*spaces[1:], *later))


def rows_apart(count: int, first: int, later: int) -> list[slice]:
    """Divide a table's rows: at most ``first`` in the first part, ``later`` in every other."""
    cuts = [0, *range(max(first, 0), count, max(later, 1)), count]
    return [slice(a, b) for a, b in itertools.pairwise(dict.fromkeys(cuts)) if b > a]


def rows_in(height: float, size_mm: float) -> int:
    """Rows of a table that surely go into a height, head and stacked fractions reckoned with."""
    return int((height - 6.0 * size_mm) / (FRACTION_ROW * size_mm))


def pages(paper: Paper, head: Head, upper: Block | None, columns: Sequence[Sequence[Block]],
          shares: Sequence[float], gaps: Sequence[float], *, title: str, description: str = "",
          layers: tuple[str, ...] = ()) -> tuple[Drawing, ...]:
    """Set a block over the whole width and columns of blocks under it, page after page.

    Args:
        paper: the sheet, as it is to lie.
        head: heading and foot of every page.
        upper: drawn at the origin's place, its upper left corner at the room's; None for nothing.
        columns: blocks of each column, in order.
        shares: widths of the columns relative to one another.
        gaps: room between the blocks of each column, mm.
        title: of every page.
        description: for whoever can't see it.
        layers: order of the layers.
    """
    items, room = framed(paper, head)
    top: tuple[Item, ...] = ()
    low = room.y1
    if upper is not None:
        placed = upper.moved(room.x0 - upper.bounds.x0, room.y1 - upper.bounds.y1)
        top, low = placed.items, placed.bounds.y0 - GAP
    below = split(Bounds(room.x0, min(room.y0, low), room.x1, low), shares)
    full = split(room, shares)
    texts = [poured(blocks, (below[n],), (full[n],), gaps[n]) if blocks else []
             for n, blocks in enumerate(columns)]
    count = max(1, *(len(column) for column in texts))
    return tuple(
        Drawing(paper.width_mm, paper.height_mm, title,
                (*items, *(top if n == 0 else ()),
                 *(item for column in texts if n < len(column) for item in column[n])),
                layers, description)
        for n in range(count)
    )


def fitted_table(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: float, *,
                 size_mm: float = 2.5, title: str = "", layer: str = "tables") -> Block:
    """Set a table at (0, 0) no wider than ``width``: smaller, then with its words cut short."""
    made = table(columns, rows, 0.0, 0.0, size_mm=size_mm, title=title, layer=layer)
    while made.bounds.width > width and size_mm > SMALLEST_MM:
        size_mm = max(SMALLEST_MM, 0.96 * size_mm)
        made = table(columns, rows, 0.0, 0.0, size_mm=size_mm, title=title, layer=layer)
    most = 40
    while made.bounds.width > width and most > 4:
        most -= 2
        short = [[_cut(cell, most) if column.align is Align.LEFT else cell
                  for cell, column in zip(row, columns, strict=True)] for row in rows]
        made = table(columns, short, 0.0, 0.0, size_mm=size_mm, title=title, layer=layer)
    return made


def _cut(string: str, most: int) -> str:
    return string if len(string) <= most else string[: most - 1].rstrip() + "…"


def shortened(string: str, width: float, size_mm: float,
              weight: Weight = Weight.REGULAR) -> tuple[str, float]:
    """Return a line and a size at which it takes no more than ``width`` mm.

    It is set smaller down to :data:`SMALLEST_MM`, then cut with an ellipsis.
    """
    natural = width_mm(string, size_mm, weight)
    if natural <= width:
        return string, size_mm
    size = max(min(SMALLEST_MM, size_mm), 0.999 * size_mm * width / natural)
    while width_mm(string, size, weight) > width and len(string) > 2:
        string = string.rstrip("…")[:-1].rstrip() + "…"
    return string, size


def said(heading: str, words: Sequence[str], width: float, size_mm: float = 2.5, *,
         layer: str = "notes") -> Block:
    """Set a bold heading over paragraphs, each wrapped to ``width``, downward from (0, 0)."""
    items: list[Item] = []
    y = 0.0
    if heading:
        items.append(Text(0.0, 0.0, heading, 1.15 * size_mm, baseline=Baseline.TOP,
                          weight=Weight.BOLD, layer=layer))
        y -= 2.4 * size_mm
    for string in words:
        for row in lines_within(string, width, size_mm):
            text = Text(0.0, y, row, size_mm, baseline=Baseline.TOP, layer=layer)
            # A stacked fraction reaches over the capitals.
            lift = block([text]).bounds.y1 - y
            items.append(text.moved(0.0, -lift))
            y = block([items[-1]]).bounds.y0 - 0.75 * size_mm
        y -= 0.45 * size_mm
    made = block(items)
    return replace(made, bounds=Bounds(0.0, made.bounds.y0, max(width, made.bounds.x1), 0.0))
