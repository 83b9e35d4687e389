"""The title block: the whole paddle in small, its name, and what every sheet states."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.arrange import lines_up
from springloom.drawing.dimension import dimension
from springloom.drawing.lettering import block, text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Item,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.outline import silhouette
from springloom.drawing.paths import line, path_bounds, rect
from springloom.shape.blade import HalfPaddle

LAYER = "title"
PROJECT = "Springloom"
WIDTH_MM = 190.0
ROW_MM = 14.0
PAD_MM = 7.0
NAME_MM = 10.0
UNDER_MM = 3.5
VALUE_MM = 3.5


@dataclass(frozen=True, slots=True)
class Title:
    """What the block states; ``length`` is the whole paddle's, as it shall read."""

    name: str
    under: tuple[str, ...]
    length: str
    cells: tuple[tuple[str, str], ...]


def title_block(title: Title, half: HalfPaddle, other: HalfPaddle, right: float,
                foot: float) -> Block:
    """Build the block with its lower right corner at (right, foot), mm."""
    left = right - WIDTH_MM
    names, name_height = _names(title, left, foot + 2 * ROW_MM)
    small = _small(title, half, other, (left + right) / 2, foot + 2 * ROW_MM + name_height)
    top = small.bounds.y1 + PAD_MM
    cells = [*_cells(title.cells, left, foot + ROW_MM, WIDTH_MM),
             *_cells((("Maker", ""),), left, foot, WIDTH_MM - 54.0)]
    rules = [line((left, foot + n * ROW_MM), (right, foot + n * ROW_MM), Pen.DIMENSION,
                  layer=LAYER) for n in (1, 2)]
    mark = Text(right - 27.0, foot + ROW_MM / 2, PROJECT, 5.0, Anchor.MIDDLE, Baseline.MIDDLE,
                weight=Weight.BOLD, layer=LAYER)
    parting = line((right - 54.0, foot), (right - 54.0, foot + ROW_MM), Pen.DIMENSION,
                   layer=LAYER)
    frame = rect(left, foot, WIDTH_MM, top - foot, Pen.VISIBLE, layer=LAYER)
    return block((frame, *rules, parting, *small.items, *names, *cells, mark))


def _names(title: Title, left: float, foot: float) -> tuple[list[Text], float]:
    """Set name and lines under it upward from ``foot``; return them and the height taken."""
    room = WIDTH_MM - 2 * PAD_MM
    x, y = left + PAD_MM, foot + PAD_MM
    items: list[Text] = []
    for words in reversed(title.under):
        items += lines_up(Text(x, y, words, UNDER_MM, layer=LAYER), room)
        y = _top(items) + 1.0 * UNDER_MM
    name = Text(x, y + 0.8 * UNDER_MM, title.name, NAME_MM, weight=Weight.BOLD, layer=LAYER)
    items += lines_up(name, room)
    return items, _top(items) + PAD_MM - foot


def _top(texts: Sequence[Text]) -> float:
    return max(text_box(text).y1 for text in texts)


def _small(title: Title, half: HalfPaddle, other: HalfPaddle, middle: float,
           foot: float) -> Block:
    """Draw the whole paddle in small with its length under it, upward from ``foot``."""
    scale = (WIDTH_MM - 2 * PAD_MM) / (1e3 * (half.tip + other.tip))
    paddle = silhouette(half, other, scale, layer=LAYER)
    box = path_bounds(paddle)
    paddle = paddle.moved(middle - box.centre[0], foot + 11.0 - box.y0)
    box = path_bounds(paddle)
    y = box.centre[1]
    return block((paddle, *dimension((box.x0, y), (box.x1, y), title.length,
                                     -(y - foot - 2.0), layer=LAYER).items))


def _cells(cells: tuple[tuple[str, str], ...], left: float, foot: float,
           width: float) -> list[Item]:
    """Set captioned cells of equal width in one row, parted by lines."""
    step = width / len(cells)
    edges = [left + n * step for n in range(len(cells) + 1)]
    items: list[Item] = [line((x, foot), (x, foot + ROW_MM), Pen.DIMENSION, layer=LAYER)
                         for x in edges[1:-1]]
    for (caption, value), (x, _) in zip(cells, itertools.pairwise(edges), strict=True):
        items.append(Text(x + 2.0, foot + ROW_MM - 1.8, caption, 2.5, baseline=Baseline.TOP,
                          layer=LAYER))
        if value.strip():
            # What is too long for its cell is set smaller, never cut: it may be a date.
            size = min(VALUE_MM, VALUE_MM * (step - 4.0) / width_mm(value, VALUE_MM))
            items.append(Text(x + 2.0, foot + 2.8, value, size, layer=LAYER))
    return items
