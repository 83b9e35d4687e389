"""Long pages for a roll: a double frame, bands stacked over a foot, columns along it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from springloom.drawing.lettering import block
from springloom.drawing.model import Block, Item, Pen
from springloom.drawing.paths import rect

HEIGHTS_MM = (594.0, 841.0)
"""A1 and A0 are this high; rolls of 24 and 36 in hold them with the printer's own margins."""

EDGE_MM = 10.0  # page to frame
RULE_MM = 2.0  # between the frame's two lines
INSIDE_MM = 18.0  # frame to drawing
LEAST_GAP = 22.0  # least room between the bands
BORDER_MM = EDGE_MM + RULE_MM
"""From the page's edge to the frame's inner line."""


def double_frame(width: float, height: float) -> list[Item]:
    """Draw the frame of a page of this size, mm."""
    return [rect(d, d, width - 2 * d, height - 2 * d, pen, layer="frame")
            for d, pen in ((EDGE_MM, Pen.OUTLINE), (BORDER_MM, Pen.DIMENSION))]


def along_foot(columns: Sequence[Block], title: Block) -> Block:
    """Stand columns beside a title block at the page's lower right, from one height down."""
    tallest = max(column.bounds.height for column in columns)
    top = max(title.bounds.y1, BORDER_MM + INSIDE_MM + tallest)
    left = BORDER_MM + INSIDE_MM
    taken = sum(column.bounds.width for column in columns)
    gap = (title.bounds.x0 - left - taken) / len(columns)
    items = list(title.items)
    for column in columns:
        placed = column.moved(left - column.bounds.x0, top - column.bounds.y1)
        items += placed.items
        left = placed.bounds.x1 + gap
    return block(items)


def stacked(bands: Sequence[Block], foot: float) -> tuple[float, list[Item]]:
    """Stack bands over the foot's height on the least page that holds them, spare room shared.

    Returns:
        the page's height, mm, and the placed items.
    """
    heights = sum(band.bounds.height for band in bands)
    least = foot + heights + LEAST_GAP * len(bands) + INSIDE_MM + BORDER_MM
    page = next((h for h in HEIGHTS_MM if h >= least), float(math.ceil(least)))
    spare = (page - least) / (len(bands) + 1)
    top = page - BORDER_MM - INSIDE_MM - spare
    items: list[Item] = []
    for band in bands:
        items += band.moved(0.0, top - band.bounds.y1).items
        top -= band.bounds.height + LEAST_GAP + spare
    return page, items
