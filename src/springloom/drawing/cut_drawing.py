"""Boards with what is cut from them: from above in small, and from the end at full size."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from springloom.drawing.columns import shortened
from springloom.drawing.dimension import Along, dimension
from springloom.drawing.lettering import block, text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Bounds,
    Fill,
    Item,
    Path,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.outline import MM, face_outline, section_outline
from springloom.drawing.paths import line, lines, polyline, rect
from springloom.fit.cutlist import CutList, clipped
from springloom.fit.packing import Placed
from springloom.mechanics.stiffness import Build
from springloom.shape.blank import Shortfall
from springloom.shape.nest import Nest
from springloom.shape.paddle import Paddle
from springloom.wood.elastic import Ring
from springloom.wood.material import Material

BOARD, PIECES, MARKS, GRAIN = "board", "pieces", "marks", "grain"
LAYERS = (GRAIN, BOARD, PIECES, MARKS)
SCALES = (5.0, 8.0, 10.0, 12.5, 15.0, 20.0, 25.0, 30.0, 40.0)
END_SCALES = (1.0, 2.0, 2.5, 5.0, 10.0)
LABEL_MM = 2.2
RING_MM = 2.2  # between growth rings as drawn
INSIDE_MM = 3.6  # least height of a piece that is lettered inside
DIMENSION_ROOM = 15.0  # beside the end view


@dataclass(frozen=True, slots=True)
class View:
    """A board from above: its size in m, its name, and what lies in it.

    A solid blank shows as its outline, ``nest`` adds a second; strips and other pieces show as
    rectangles.
    """

    label: str
    length_m: float
    width_m: float
    placed: tuple[Placed, ...] = ()
    outlines: bool = False
    nest: Nest | None = None
    lacks: tuple[Shortfall, ...] = ()


def scale_for(length_m: float, room_mm: float) -> float:
    """Return the scale 1:n at which a board of this length fits in the room."""
    wanted = MM * length_m / room_mm
    return next((n for n in SCALES if n >= wanted), float(np.ceil(wanted)))


def board_above(view: View, paddle: Paddle, room_mm: float, figure: str, scale: float) -> Block:
    """Draw a board from above at 1:``scale``, its lower left corner at the origin, mm.

    ``figure`` is the length as it is dimensioned.
    """
    k = MM / scale
    long, high = k * view.length_m, k * view.width_m
    items: list[Item] = [rect(0.0, 0.0, long, high, Pen.VISIBLE, layer=BOARD)]
    if view.outlines:
        items += _outlines(view, paddle, scale)
    else:
        items += [item for p in view.placed for item in _piece(p, k)]
    items += _lacks(view, k)
    drawn = block(items).bounds
    foot = min(drawn.y0, 0.0)
    items += dimension((0.0, foot), (long, foot), figure, -7.0, along=Along.HORIZONTAL,
                       size_mm=LABEL_MM, layer=MARKS).items
    label, size = shortened(view.label, room_mm - 30.0, LABEL_MM, Weight.BOLD)
    head = Text(0.0, max(drawn.y1, high) + 2.2, label, size, weight=Weight.BOLD, layer=MARKS)
    items += [head, *_grain_arrow(text_box(head).x1 + 8.0, head.y + 0.5 * LABEL_MM)]
    return block(items)


def _piece(placed: Placed, k: float) -> list[Item]:
    """A rectangle with its label inside where that has room."""
    x, y = k * placed.along_m, k * placed.across_m
    long, high = k * placed.item.length_m, k * placed.width_m
    items: list[Item] = [rect(x, y, long, high, Pen.DIMENSION, layer=PIECES)]
    if high >= INSIDE_MM and long > 12.0:
        string, size = shortened(placed.item.label, long - 3.0, min(LABEL_MM, 0.5 * high))
        items.append(Text(x + 0.5 * long, y + 0.5 * high, string, size, Anchor.MIDDLE,
                          Baseline.MIDDLE, layer=MARKS, fractions=False))
    return items


def _grain_arrow(x: float, y: float) -> list[Item]:
    """A double arrow along the grain."""
    long, barb = 14.0, 1.3
    ends = [(x + 1.0, y), (x + long - 1.0, y)]
    heads = [polyline([(e, y), (e + s * 2.4, y + barb / 2), (e + s * 2.4, y - barb / 2)], None,
                      closed=True, fill=Fill.INK, layer=MARKS)
             for e, s in ((x, 1.0), (x + long, -1.0))]
    return [line(ends[0], ends[1], Pen.DIMENSION, layer=MARKS), *heads,
            Text(x + long + 2.0, y, "grain", LABEL_MM, baseline=Baseline.MIDDLE, layer=MARKS)]


def _outlines(view: View, paddle: Paddle, scale: float) -> list[Item]:
    k = MM / scale
    nest = view.nest if view.nest is not None and view.nest.fits else None
    low = k * (0.5 * view.width_m if nest is None else nest.low_m)
    first = _whole(paddle, scale)
    spare = view.length_m - paddle.length
    if nest is None:
        start = 0.5 * spare
        return [first.moved(k * (start + paddle.b.tip), low)]
    reach = paddle.length + abs(nest.shift_m)
    start = 0.5 * (view.length_m - reach)
    at = start + max(0.0, -nest.shift_m) + paddle.b.tip
    other = first.mapped(-np.eye(2)) if nest.turned else first
    return [first.moved(k * at, low),
            other.moved(k * (at + nest.shift_m), low + k * nest.apart_m)]


def _whole(paddle: Paddle, scale: float) -> Path:
    """The whole paddle's outline at 1:``scale``, its centre at the origin, blade A to the right."""
    right = face_outline(paddle.a, Pen.DIMENSION, layer=PIECES).segments
    left = face_outline(paddle.b, Pen.DIMENSION).segments * (-1.0, -1.0)
    return Path(np.concatenate((right, left)) / scale, Pen.DIMENSION, closed=True, layer=PIECES)


def _lacks(view: View, k: float) -> list[Item]:
    """Mark along the board's upper edge where it is too narrow or too thin."""
    items: list[Item] = []
    middle, y = 0.5 * view.length_m, k * view.width_m
    for lack in view.lacks:
        if lack.size == "length":
            continue
        sides = {"": (1.0, -1.0), "A": (1.0,), "B": (-1.0,)}[lack.blade]
        for side in sides:
            ends = sorted(middle + side * p for p in (lack.from_m, lack.to_m))
            a, b = (k * min(max(p, 0.0), view.length_m) for p in ends)
            if b - a > 0.2:
                fill = Fill.INK if lack.size == "width" else Fill.WASH
                band = (-2.2, 0.9) if lack.size == "width" else (0.0, y)
                items.append(rect(a, band[0], b - a, band[1], None, fill=fill, layer=GRAIN))
    return items


def end_view(made: CutList, build: Build, paddle: Paddle, board: tuple[float, float] | None,
             figures: tuple[str, str], room_mm: float) -> Block:
    """Draw the squared blank from its end, in the board it comes from if it is one piece.

    Args:
        made: the cut list.
        build: the layup or the one wood.
        paddle: whose loom and widest section are shown in it.
        board: the board's width and thickness, m; None where strips are glued up.
        figures: the blank's width and thickness as they are dimensioned.
        room_mm: greatest width; the scale is 1:1 unless that is too wide.
    """
    blank = made.blank
    widest = MM * max(blank.width_m, 0.0 if board is None else board[0])
    scale = next((n for n in END_SCALES if widest / n <= room_mm - DIMENSION_ROOM),
                 END_SCALES[-1])
    k = MM / scale
    w, h, low = k * blank.width_m, k * blank.thickness_m, -k * blank.below_m
    items: list[Item] = [*_layup(made, build, k)]
    if board is not None:
        bw, bh = k * board[0], k * board[1]
        items.append(rect(-0.5 * bw, low + 0.5 * (h - bh), bw, bh, Pen.VISIBLE, layer=BOARD))
    items += [rect(-0.5 * w, low, w, h, Pen.HIDDEN if board else Pen.VISIBLE, layer=BOARD),
              *_sections(paddle, scale)]
    box = block(items).bounds
    below = dimension((-0.5 * w, box.y0), (0.5 * w, box.y0), figures[0], -6.0,
                      along=Along.HORIZONTAL, size_mm=LABEL_MM, layer=MARKS)
    beside = dimension((box.x1, low), (box.x1, low + h), figures[1], -8.0, along=Along.VERTICAL,
                       size_mm=LABEL_MM, layer=MARKS)
    head = Text(box.x0, box.y1 + 3.0, f"Blank from the end, 1:{scale:g}", LABEL_MM,
                weight=Weight.BOLD, layer=MARKS)
    return block((*items, *below.items, *beside.items, head))


def _sections(paddle: Paddle, scale: float) -> list[Path]:
    half = paddle.a
    widest = max(half.stations[:-1], key=lambda s: s.width)
    return [section_outline(half.section(x), pen, layer=PIECES).mapped(np.eye(2) / scale)
            for x, pen in ((0.0, Pen.DIMENSION), (widest.x, Pen.DIMENSION))]


def _layup(made: CutList, build: Build, k: float) -> list[Item]:
    """Draw each strip with its growth rings, and its number above or below it."""
    if isinstance(build, Material):
        whole = made.pieces[0]
        return _rings(Bounds(-0.5 * k * made.blank.width_m, -k * made.blank.below_m,
                             0.5 * k * made.blank.width_m, k * made.blank.above_m), whole.ring)
    items: list[Item] = []
    for number, s in clipped(build, made.blank):
        box = Bounds(k * s.y_min_m, k * s.z_min_m, k * s.y_max_m, k * s.z_max_m)
        items += [*_rings(box, s.ring),
                  rect(box.x0, box.y0, box.width, box.height, Pen.DIMENSION, layer=BOARD)]
        items += _number(number, box, made, k)
    return items


def _number(number: int, box: Bounds, made: CutList, k: float) -> list[Item]:
    """Number a strip outside the blank, on the side it reaches; an inner one is listed only."""
    top, low = k * made.blank.above_m, -k * made.blank.below_m
    text = Text(box.centre[0], 0.0, str(number), LABEL_MM, Anchor.MIDDLE, weight=Weight.BOLD,
                layer=MARKS)
    if width_mm(str(number), LABEL_MM) > box.width:
        return []
    if abs(box.y1 - top) < 1e-6:
        return [text.moved(0.0, top + 1.6)]
    if abs(box.y0 - low) < 1e-6:
        return [text.moved(0.0, low - 1.6 - LABEL_MM)]
    return []


def _rings(box: Bounds, ring: Ring) -> list[Item]:
    """Fine lines as the growth rings lie: level, upright or slanting."""
    if ring == "flat":
        n = max(1, round(box.height / RING_MM))
        ys = [box.y0 + box.height * (i + 0.5) / n for i in range(n)]
        pairs = [((box.x0, y), (box.x1, y)) for y in ys]
    elif ring == "quarter":
        n = max(1, round(box.width / RING_MM))
        xs = [box.x0 + box.width * (i + 0.5) / n for i in range(n)]
        pairs = [((x, box.y0), (x, box.y1)) for x in xs]
    else:
        pairs = _slanting(box)
    return [lines(pairs, Pen.GRID, layer=GRAIN)] if pairs else []


def _slanting(box: Bounds) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    pairs = []
    step = RING_MM * 2.0**0.5
    for c in np.arange(step / 2 - box.height, box.width, step).tolist():
        x0, x1 = max(c, 0.0), min(c + box.height, box.width)
        if x1 - x0 > 0.05:
            pairs.append(((box.x0 + x0, box.y0 + x0 - c), (box.x0 + x1, box.y0 + x1 - c)))
    return pairs
