"""How a board is tested, drawn for a narrow screen: on two supports with a weight, and tapped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from springloom.drawing.dimension import dimension
from springloom.drawing.lettering import text_box
from springloom.drawing.model import Anchor, Array, Baseline, Drawing, Fill, Item, Path, Pen, Text
from springloom.drawing.paths import bezier_from_points, circle, line, polyline, rect

WIDTH = 120.0
LETTERS = 3.6
NODE = 0.224
"""Where a free bar's first bending tone leaves it at rest, as a share of the length: the zero of
its shape, cos and cosh of k x about the middle with k L = 4.730."""
_LEFT, _RIGHT, _MIDDLE = 10.0, 110.0, 60.0
_THICK = 4.0
_LAYERS = ("body", "drawing", "dimensions", "text")


def bending_figure() -> Drawing:
    """Return the bending test: where the supports, the weight and the reading are."""
    held, sag, y = (18.0, 102.0), 7.0, 44.0
    x = np.linspace(_LEFT, _RIGHT, 21)
    share = np.clip(2.0 * np.abs(x - _MIDDLE) / (held[1] - held[0]), 0.0, None)
    bent = np.column_stack((x, y - sag * (1.0 - 1.5 * share**2 + 0.5 * share**3)))
    items: list[Item] = [
        line((_LEFT, y), (_RIGHT, y), Pen.HIDDEN), _board(bent),
        *(_support(place, y) for place in held), *_weight(y - sag),
    ]
    items += dimension((held[0], y - 8.0), (held[1], y - 8.0), "span", -27.0,
                       size_mm=LETTERS).items
    items += [*_reading(y, sag),
              Text(_MIDDLE + 8.0, 21.0, "the weight", LETTERS, baseline=Baseline.MIDDLE)]
    return Drawing(WIDTH, 62.0, "Bending test", tuple(items), _LAYERS,
                   "A board lies flat on two supports near its ends. A weight hangs half-way "
                   "between them. The span is measured from support to support; read how far the "
                   "middle sinks from where it was without the weight.")


def tap_figure(node: str, length: str) -> Drawing:
    """Return the tap: where to hold the board and where to knock.

    Args:
        node: how far in from each end it is held, as it shall read.
        length: the board's length, as it shall read.
    """
    y, span = 34.0, _RIGHT - _LEFT
    nodes = (_LEFT + NODE * span, _RIGHT - NODE * span)
    x = np.linspace(_LEFT, _RIGHT, 31)
    mode = np.column_stack((x, y + 0.5 * _THICK + 5.0 * _mode((x - _LEFT) / span)))
    items: list[Item] = [
        rect(_LEFT, y, span, _THICK, Pen.VISIBLE, fill=Fill.WASH, layer="body"),
        bezier_from_points(mode, pen=Pen.HIDDEN),
        *(circle(place, y - 3.0, 3.0, Pen.VISIBLE, fill=Fill.GROUND) for place in nodes),
        *_knock(_MIDDLE, y + _THICK),
    ]
    held = dimension((_LEFT, y - 6.0), (nodes[0], y - 6.0), node, -6.0, size_mm=LETTERS).items
    items += [*held, *map(_mirrored, held)]
    items += dimension((_LEFT, y - 6.0), (_RIGHT, y - 6.0), length, -19.0, size_mm=LETTERS).items
    return Drawing(WIDTH, 60.0, "Tap tone", tuple(items), _LAYERS,
                   "A board lies on two soft supports, each 0.224 of its length in from an end. "
                   "It is knocked in the middle. The dashed line shows how it swings.")


def _mirrored(item: Item) -> Item:
    """A dimension on the other side: its lines turned over, its figure still to be read."""
    if isinstance(item, Path):
        return item.mapped(((-1.0, 0.0), (0.0, 1.0)), (2.0 * _MIDDLE, 0.0))
    return replace(item, x=2.0 * _MIDDLE - item.x)


def _board(middle: Array) -> Path:
    """A board along a line that is its upper side."""
    upper = bezier_from_points(middle).segments
    lower = bezier_from_points(middle[::-1] - np.array((0.0, _THICK))).segments
    ends = [polyline((a, b)).segments for a, b in ((upper[-1, 3], lower[0, 0]),
                                                   (lower[-1, 3], upper[0, 0]))]
    return Path(np.concatenate([upper, ends[0], lower, ends[1]]), Pen.VISIBLE, True, Fill.WASH,
                "body")


def _support(x: float, y: float) -> Path:
    top = y - _THICK
    return polyline(((x, top), (x - 5.0, top - 9.0), (x + 5.0, top - 9.0)), Pen.VISIBLE,
                    closed=True, fill=Fill.GROUND)


def _weight(top: float) -> list[Item]:
    """A block on a cord round the middle of the board."""
    hung = top - _THICK - 7.0
    return [line((_MIDDLE, top), (_MIDDLE, hung)),
            rect(_MIDDLE - 5.5, hung - 9.0, 11.0, 9.0, Pen.OUTLINE, fill=Fill.GROUND)]


def _reading(y: float, sag: float) -> list[Item]:
    """The fall of the middle: arrows from outside at the line it lay on and where it is."""
    found: list[Item] = [Text(_MIDDLE, y + 10.5, "sinks", LETTERS, Anchor.MIDDLE)]
    for tip, way in ((y, 1.0), (y - sag, 1.0)):
        found.append(polyline(((_MIDDLE, tip), (_MIDDLE - 0.9, tip + 3.0 * way),
                               (_MIDDLE + 0.9, tip + 3.0 * way)), None, closed=True,
                              fill=Fill.INK, layer="dimensions"))
    found.append(line((_MIDDLE, y - sag), (_MIDDLE, y + 9.0), Pen.DIMENSION, layer="dimensions"))
    return found


def _knock(x: float, top: float) -> list[Item]:
    words = Text(x, top + 15.0, "tap here", LETTERS, Anchor.MIDDLE)
    low = text_box(words).y0 - 1.2
    return [words, line((x, low), (x, top + 3.0), Pen.VISIBLE),
            polyline(((x, top + 0.6), (x - 1.0, top + 3.6), (x + 1.0, top + 3.6)), None,
                     closed=True, fill=Fill.INK)]


def _mode(share: Sequence[float] | Array) -> Array:
    """First bending mode of a free bar, -1 in the middle: cosh and cos about the middle."""
    k = 4.730040744862704
    z = k * (np.asarray(share) - 0.5)
    half = 0.5 * k
    shape = np.cos(z) * np.cosh(half) + np.cosh(z) * np.cos(half)
    at_middle = np.cosh(half) + np.cos(half)
    made: Array = -shape / at_middle
    return made
