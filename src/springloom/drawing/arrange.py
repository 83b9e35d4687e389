"""Finding room: things side by side near where they belong, and words within a width."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.optimize import isotonic_regression

from springloom.drawing.lettering import text_box, width_mm, wrap
from springloom.drawing.model import Text, Weight

LEADING = 1.8  # least step from line to line, in capital heights
BETWEEN = 0.5  # least room between two lines' boxes, in capital heights


def spread(wanted: Sequence[float], widths: Sequence[float], gap: float, low: float,
           high: float) -> tuple[float, ...] | None:
    """Place things in a row, in their order, nearest to where they are wanted.

    Args:
        wanted: where each one's middle should be, mm, in rising order.
        widths: room each takes, mm.
        gap: least room between neighbours, mm.
        low: left end of the row, mm.
        high: right end of the row, mm.

    Returns:
        Their middles, least squares from ``wanted``; None if the row is too short.
    """
    w = np.asarray(widths, dtype=np.float64)
    steps = (w[1:] + w[:-1]) / 2 + gap
    offset = np.concatenate(([0.0], np.cumsum(steps)))
    first, last = low + w[0] / 2, high - w[-1] / 2 - offset[-1]
    if last < first:
        return None
    # Less its offset each middle must only not fall behind its neighbour's: isotonic regression.
    free = isotonic_regression(np.asarray(wanted) - offset).x
    return tuple((np.clip(free, first, last) + offset).tolist())


def lines_within(string: str, width: float, size_mm: float,
                 weight: Weight = Weight.REGULAR) -> tuple[str, ...]:
    """Wrap to a width that no line exceeds: a word too long for it is cut."""
    rows: list[str] = []
    for row in wrap(string, width, size_mm, weight):
        rest = row
        while width_mm(rest, size_mm, weight) > width and len(rest) > 1:
            keep = _longest(rest, width, size_mm, weight)
            rows.append(rest[:keep].rstrip())
            rest = rest[keep:].lstrip()
        rows.append(rest)
    return tuple(rows)


def lines_up(last: Text, width: float) -> list[Text]:
    """Wrap a text to a width and set its lines upward: the last one stands where it stood.

    Lines step as far as stacked fractions need, which reach over capitals and under the foot.
    """
    size = last.size_mm
    rows = lines_within(last.string, width, size, last.weight)
    items = [replace(last, string=rows[-1])]
    for row in reversed(rows[:-1]):
        below = items[-1]
        text = replace(below, string=row, y=below.y + LEADING * size)
        touch = text_box(below).y1 + BETWEEN * size - text_box(text).y0
        items.append(text.moved(0.0, max(touch, 0.0)))
    return items


def _longest(string: str, width: float, size_mm: float, weight: Weight) -> int:
    """Count the characters that fit, one at least; lines only grow with them."""
    low, high = 1, len(string) - 1
    while low < high:
        middle = (low + high + 1) // 2
        if width_mm(string[:middle], size_mm, weight) <= width:
            low = middle
        else:
            high = middle - 1
    return low
