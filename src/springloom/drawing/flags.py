"""Words flown from upright lines like flags from poles, on whichever side there is room."""

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
COST = {1: 0.0, -1: 1.0, 0: 1000.0}


@dataclass(frozen=True, slots=True)
class Flag:
    """A pole at x, a head and what is said under it."""

    x: float
    head: str
    lines: tuple[str, ...] = ()


def flown(flags: Sequence[Flag], y: float, low: float, high: float, *,
          barriers: Sequence[float] = (), layer: str = "stations") -> Block:
    """Set flags upward from y, poles in rising order; neither poles nor barriers are crossed.

    A head that has no room on either side is set upright along its pole, by itself.
    """
    ways = [{1: _cloth(flag, y, 1.0, layer), -1: _cloth(flag, y, -1.0, layer),
             0: block([_upright(flag, y, layer)])} for flag in flags]
    reach = [(way[1].bounds.x1 - flag.x, flag.x - way[0].bounds.x0)
             for flag, way in zip(flags, ways, strict=True)]
    chosen = sides([flag.x for flag in flags], reach, low, high, barriers)
    return block([item for way, side in zip(ways, chosen, strict=True)
                  for item in way[side].items])


def sides(poles: Sequence[float], reach: Sequence[tuple[float, float]], low: float, high: float,
          barriers: Sequence[float] = ()) -> tuple[int, ...]:
    """Choose where each flag goes so that none meets another: 1 right, -1 left, 0 upright.

    Fewest stand upright, then fewest to the left. Where nothing else is left a flag stands
    upright whatever is there.

    Args:
        poles: their places, rising.
        reach: how far from its pole each flag goes, flying and upright (then to the left).
        low: no flag goes beyond, to the left.
        high: nor to the right.
        barriers: what no flying flag crosses.
    """
    best: list[tuple[float, float, tuple[int, ...]]] = [(0.0, low - CLEAR_MM, ())]
    for n, (x, (wide, tall)) in enumerate(zip(poles, reach, strict=True)):
        others = [*poles[:n], *poles[n + 1:]]
        found = []
        for side, a, b in ((1, x, x + wide), (-1, x - wide, x), (0, x - tall, x)):
            clear, lines = (CLEAR_MM, [*others, *barriers]) if side else (0.0, others)
            if side and (a < low or b > high or any(a - clear < p < b + clear for p in lines)):
                continue
            free = [(cost + COST[side], b, (*way, side)) for cost, end, way in best
                    if end + clear <= a]
            if free:
                found.append(min(free))
        if not found:
            cost, _, way = min(best)
            found = [(cost + COST[0], x, (*way, 0))]
        best = found
    return min(best)[2]


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
