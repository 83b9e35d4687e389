"""Words flown from upright lines like flags from poles, left or right, wherever there is room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.arrange import lines_within
from springloom.drawing.lettering import block, text_box
from springloom.drawing.model import Anchor, Baseline, Block, Item, Text, Weight

HEAD_MM, LINE_MM = 4.5, 3.0
GAP_MM = 1.6  # from the pole to its words
CLEAR_MM = 1.2  # from words to the next pole or barrier
BETWEEN = 0.55  # between lines' boxes, in capital heights
WIDEST_MM = 60.0  # a longer head is broken
UPRIGHT_MM = 2.5


@dataclass(frozen=True, slots=True)
class Flag:
    """A pole at x, a head and what is said under it."""

    x: float
    head: str
    lines: tuple[str, ...] = ()


def flown(flags: Sequence[Flag], y: float, low: float, high: float, *,
          barriers: Sequence[float] = (), layer: str = "stations") -> Block:
    """Set flags upward from y, poles in rising order; neither poles nor barriers are crossed.

    Where they have no room side by side, each head is set upright along its pole, by itself.
    """
    cloths = [(_cloth(flag, y, 1.0, layer), _cloth(flag, y, -1.0, layer)) for flag in flags]
    widths = [right.bounds.x1 - flag.x for flag, (right, _) in zip(flags, cloths, strict=True)]
    chosen = sides([flag.x for flag in flags], widths, low, high, barriers)
    if chosen is None:
        return block([_upright(flag, y, layer) for flag in flags])
    return block([item for (right, left), side in zip(cloths, chosen, strict=True)
                  for item in (right if side > 0 else left).items])


def sides(poles: Sequence[float], widths: Sequence[float], low: float, high: float,
          barriers: Sequence[float] = ()) -> tuple[int, ...] | None:
    """Choose a side for each flag, 1 for right, so that none meets another; None if none can.

    Right is taken where it can be.
    """
    best: dict[int, tuple[int, tuple[int, ...]]] = {1: (0, ())}
    reach = {1: low, -1: low}
    for n, (x, width) in enumerate(zip(poles, widths, strict=True)):
        others = [*poles[:n], *poles[n + 1:], *barriers]
        found: dict[int, tuple[int, tuple[int, ...]]] = {}
        for side in (1, -1):
            a, b = (x, x + width) if side > 0 else (x - width, x)
            if a < low or b > high or any(a - CLEAR_MM < p < b + CLEAR_MM for p in others):
                continue
            before = [(cost + (side < 0), (*way, side)) for last, (cost, way) in best.items()
                      if reach[last] + CLEAR_MM <= a or (n == 0)]
            if before:
                found[side] = min(before, key=lambda way: way[0])
        best = found
        reach = {1: x + width, -1: x}
    return min(best.values(), key=lambda way: way[0])[1] if best else None


def _cloth(flag: Flag, y: float, side: float, layer: str) -> Block:
    """Set the words beside the pole from y upward: what is said at the foot, the head on top."""
    anchor = Anchor.START if side > 0 else Anchor.END
    said = [(row, LINE_MM, Weight.REGULAR) for row in reversed(flag.lines)]
    head = reversed(lines_within(flag.head, WIDEST_MM, HEAD_MM, Weight.BOLD))
    items: list[Item] = []
    level = y
    for string, size, weight in (*said, *((row, HEAD_MM, Weight.BOLD) for row in head)):
        text = Text(flag.x + side * GAP_MM, level, string, size, anchor, weight=weight,
                    layer=layer)
        # A stacked fraction reaches under the foot.
        text = text.moved(0.0, level - text_box(text).y0)
        items.append(text)
        level = text_box(text).y1 + BETWEEN * size
    return block(items)


def _upright(flag: Flag, y: float, layer: str) -> Text:
    """Set the head alone so that it reads from the right, left of its pole."""
    text = Text(flag.x, y, flag.head, UPRIGHT_MM, Anchor.START, Baseline.FOOT, 90.0, Weight.BOLD,
                layer, fractions=False)
    # The deepest letter keeps clear of the pole.
    return text.moved(flag.x - 0.5 - text_box(text).x1, 0.0)
