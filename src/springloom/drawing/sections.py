"""Cross-sections at full size, in rows, each as near under its station as there is room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from springloom.drawing.arrange import lines_up, spread
from springloom.drawing.lettering import block
from springloom.drawing.model import (
    Anchor,
    Block,
    Fill,
    Item,
    Path,
    Pen,
    Point,
    Text,
    Weight,
    moved,
)
from springloom.drawing.offsets import Offset, held
from springloom.drawing.outline import MM, section_outline
from springloom.drawing.paths import lines, path_bounds
from springloom.drawing.views import FIGURE_MM, NAME_MM, NAME_WIDTH, Frame
from springloom.shape.blade import HalfPaddle, edge_inset
from springloom.shape.section import Section

LAYER = "sections"
GAP = 10.0
ROW_GAP = 12.0
OVER = 4.0  # centre lines past the section
TICK = 2.2
UNDER = 4.0  # from the deepest axis of a row down to its words
LEADING = 7.6  # from line to line of the figures


def sections_block(half: HalfPaddle, rows: Sequence[Offset], frame: Frame) -> Block:
    """Draw the section at every place that has one, rows downward from y = 0.

    The shoulder's is the centre's, since the loom is one oval, and the tip has no width.
    """
    drawn = [row for row in rows
             if row.edge is not None and row.x != half.loom.half_length]
    cells = [(_cell(half, row), _words(row, frame)) for row in drawn]
    widths = [max(part.bounds.width for part in cell) for cell in cells]
    count, places = _rows([frame.at(row.x) for row in drawn], widths, frame)
    items: list[Item] = []
    top = 0.0
    for n in range(count):
        shapes, words = zip(*cells[n::count], strict=True)
        high = max(shape.bounds.y1 for shape in shapes)
        low = min(shape.bounds.y0 for shape in shapes)
        foot = top - (high - low) - UNDER - max(said.bounds.y1 for said in words)
        for x, shape, said in zip(places[n], shapes, words, strict=True):
            items += moved(shape.items, x, top - high)
            items += moved(said.items, x, foot)
        top = foot + min(said.bounds.y0 for said in words) - ROW_GAP
    return block(items)


def _rows(wanted: list[float], widths: list[float],
          frame: Frame) -> tuple[int, list[tuple[float, ...]]]:
    """Deal the cells to as few rows as hold them all; return their middles in each."""
    for count in range(1, len(wanted) + 1):
        placed = [spread(wanted[n::count], widths[n::count], GAP, frame.low, frame.high)
                  for n in range(count)]
        found = [row for row in placed if row is not None]
        if len(found) == count:
            return count, found
    return len(wanted), [(x,) for x in wanted]


def _cell(half: HalfPaddle, row: Offset) -> Block:
    """Draw one section about (0, 0), with its axes and where calipers read the edge."""
    section = half.section(row.x)
    outline = section_outline(section)
    box = path_bounds(outline)
    ground = Path(outline.segments, None, True, Fill.WASH, LAYER)
    axes = [((box.x0 - OVER, 0.0), (box.x1 + OVER, 0.0)),
            ((0.0, box.y0 - OVER), (0.0, box.y1 + OVER))]
    return block((ground, lines(axes, Pen.CENTRE, layer="centre-lines"),
                  lines(edge_ticks(section), Pen.DIMENSION, layer=LAYER), outline))


def edge_ticks(section: Section) -> list[tuple[Point, Point]]:
    """Return ticks outward from both faces where calipers read the edge, mm."""
    inset = edge_inset(2 * section.half_width)
    at = MM * (section.half_width - inset)
    heights = zip(_heights(section, inset), (TICK, -TICK), strict=True)
    return [((s * at, y), (s * at, y + tick)) for y, tick in heights for s in (1, -1)]


def _heights(section: Section, inset: float) -> tuple[float, float]:
    """Heights of the upper and the lower face at ``inset`` (m) from the edge, mm."""
    both = MM * section.thickness_at(inset)
    if not section.bottom:
        return both, 0.0
    # The same face twice reads twice its own height.
    upper = replace(section, bottom=section.top, ridge_bottom=section.ridge_top)
    top = 0.5 * MM * upper.thickness_at(inset)
    return top, top - both


def _words(row: Offset, frame: Frame) -> Block:
    """Set the name upward and the figures downward from y = 0, centred on x = 0."""
    name = Text(0.0, 0.0, held(row.name), NAME_MM, Anchor.MIDDLE, weight=Weight.BOLD, layer=LAYER)
    width, _ = frame.figure(row.width).rsplit(" ", 1)
    said = (f"{width} × {frame.figure(row.crown)}", f"edge {frame.figure(row.edge or 0.0)}")
    figures = [Text(0.0, -LEADING * (n + 1.25), string, FIGURE_MM, Anchor.MIDDLE, layer=LAYER)
               for n, string in enumerate(said)]
    return block((*lines_up(name, NAME_WIDTH), *figures))
