"""Dimension lines, leaders, and the bars that show whether a print came out at full size.

Sizes are mm on paper. Conventions follow ISO 129-1 (from memory): the figure stands above its
line and reads from the foot or the right of the sheet; projection lines leave a gap at the
object and run a little past the dimension line.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from springloom.drawing.lettering import block, set_text
from springloom.drawing.model import (
    Anchor,
    Array,
    Baseline,
    Block,
    Fill,
    Item,
    Path,
    Pen,
    Point,
    Text,
)
from springloom.drawing.paths import circle, line, lines, polyline, rect
from springloom.errors import InputError

LAYER = "dimensions"

ARROW_MM = 2.6
# Half of the 15 degrees between an arrow's sides.
ARROW_HALF = ARROW_MM * math.tan(math.radians(7.5))
TICK_MM = 2.6
DOT_MM = 0.5
GAP_MM = 1.0  # object to projection line
PAST_MM = 1.5  # projection line beyond the dimension line
LIFT_MM = 0.9  # dimension line to the figure above it
INCH_MM = 25.4
DASH = "\N{EN DASH}"


class Ends(Enum):
    """How a dimension line ends."""

    ARROW = "arrow"
    TICK = "tick"
    DOT = "dot"


class Along(Enum):
    """Which distance between two points is meant."""

    ALIGNED = "aligned"
    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"


@dataclass(frozen=True, slots=True)
class _Look:
    ends: Ends
    size_mm: float
    layer: str


@dataclass(frozen=True, slots=True)
class _Frame:
    """Axes of a dimension: u along the line, reading direction; n to the left of it."""

    u: Array
    n: Array

    def at(self, s: float, h: float) -> Point:
        p = s * self.u + h * self.n
        return float(p[0]), float(p[1])

    @property
    def angle_deg(self) -> float:
        return math.degrees(math.atan2(self.u[1], self.u[0]))


def dimension(a: Point, b: Point, string: str, offset_mm: float, *, along: Along = Along.ALIGNED,
              ends: Ends = Ends.ARROW, size_mm: float = 2.5, layer: str = LAYER) -> Block:
    """Dimension the distance from a to b.

    Args:
        a: one end of what is measured, mm.
        b: the other end.
        string: the figure, as it shall read.
        offset_mm: dimension line beyond the outer of the two points, to the left of the
            reading direction (up, for a horizontal one) when positive.
        along: which distance is meant.
        ends: arrows, oblique ticks or dots.
        size_mm: height of the figure's capitals.
        layer: name of the layer.

    Raises:
        InputError: the distance is nought.
    """
    return chain((a, b), (string,), offset_mm, along=along, ends=ends, size_mm=size_mm,
                 layer=layer)


def chain(points: Sequence[Point], strings: Sequence[str], offset_mm: float, *,
          along: Along = Along.ALIGNED, ends: Ends = Ends.TICK, size_mm: float = 2.5,
          layer: str = LAYER) -> Block:
    """Dimension the steps between points, in their order, along one common line.

    Raises:
        InputError: not one figure for each step, or a step of nought.
    """
    if len(points) < 2 or len(strings) != len(points) - 1:
        raise InputError("needs one figure for each step", field="chain.strings",
                         given=len(strings), allowed=f"{len(points) - 1}")
    frame = _frame(points[0], points[-1], along)
    p = np.asarray(points, dtype=np.float64)
    s, h = p @ frame.u, p @ frame.n
    level = float(h.max() if offset_mm >= 0 else h.min()) + offset_mm
    if np.any(np.diff(s) == 0):
        raise InputError("the distance is nought", field="dimension", given=tuple(points))
    items: list[Item] = [_projections(frame, s, h, level, layer)]
    look = _Look(ends, size_mm, layer)
    for pair, string in zip(itertools.pairwise(s.tolist()), strings, strict=True):
        items += _dimension_line(frame, (min(pair), max(pair)), level, string, look)
    return block(items)


def leader(point: Point, elbow: Point, string: str, *, end: Ends = Ends.ARROW,
           size_mm: float = 2.5, landing_mm: float = 3.0, layer: str = LAYER) -> Block:
    """Point at something: a line from it to ``elbow``, a short landing, and the words."""
    run = np.subtract(elbow, point)
    if not np.any(run):
        raise InputError("the line has no length", field="leader.elbow", given=elbow)
    side = 1.0 if run[0] >= 0 else -1.0
    stop = (elbow[0] + side * landing_mm, elbow[1])
    u = run / np.hypot(*run)
    start = np.asarray(point) + (u * ARROW_MM / 2 if end is Ends.ARROW else 0.0)
    words = Text(stop[0] + side * LIFT_MM, stop[1], string, size_mm,
                 Anchor.START if side > 0 else Anchor.END, Baseline.MIDDLE, layer=layer)
    return block((polyline((tuple(start), elbow, stop), Pen.DIMENSION, layer=layer),
                  _end(_Frame(u, _left(u)), np.asarray(point), 1.0, end, layer), words))


def check_bar_mm(x: float, y: float, *, layer: str = "check") -> Block:
    """Draw the 100 mm bar, ticks each 10 mm; (x, y) is the left end of its line."""
    return _check_bar((x, y), _Bar(10.0, 10, 5, 10.0, f"100 mm {DASH} measure me"), layer)


def check_bar_inch(x: float, y: float, *, layer: str = "check") -> Block:
    """Draw the 4 in bar, ticks each 1/4 in; (x, y) is the left end of its line."""
    return _check_bar((x, y), _Bar(INCH_MM / 4, 16, 4, 0.25, f"4 in {DASH} measure me"), layer)


@dataclass(frozen=True, slots=True)
class _Bar:
    """A bar of ``count`` steps, every ``every``-th tick tall and figured."""

    step_mm: float
    count: int
    every: int
    figure: float
    label: str


def _check_bar(at: Point, bar: _Bar, layer: str) -> Block:
    x, y = at
    places = [x + bar.step_mm * n for n in range(bar.count + 1)]
    marked = places[:: bar.every]
    ticks = [((p, y), (p, y + (3.4 if p in marked else 2.2))) for p in places]
    return block((
        line((x, y), (places[-1], y), Pen.DIMENSION, layer=layer),
        lines(ticks, Pen.DIMENSION, layer=layer),
        *(rect(p, y, bar.step_mm, 0.8, None, fill=Fill.INK, layer=layer)
          for p in places[:-1:2]),
        *(Text(p, y + 4.2, f"{n * bar.every * bar.figure:g}", 1.8, Anchor.MIDDLE, layer=layer)
          for n, p in enumerate(marked)),
        Text((x + places[-1]) / 2, y - 1.4, bar.label, 2.5, Anchor.MIDDLE, Baseline.TOP,
             layer=layer),
    ))


def _frame(a: Point, b: Point, along: Along) -> _Frame:
    """Turn the direction so that the figure reads from the foot or from the right."""
    if along is Along.HORIZONTAL:
        u = np.array([1.0, 0.0])
    elif along is Along.VERTICAL:
        u = np.array([0.0, 1.0])
    else:
        run = np.subtract(b, a)
        length = float(np.hypot(*run))
        if not length:
            raise InputError("the distance is nought", field="dimension", given=(a, b))
        u = run / length
        if u[0] < -1e-12 or (abs(u[0]) <= 1e-12 and u[1] < 0):
            u = -u
    return _Frame(u, _left(u))


def _left(u: Array) -> Array:
    return np.array([-u[1], u[0]])


def _projections(frame: _Frame, s: Array, h: Array, level: float, layer: str) -> Path:
    pairs = []
    for si, hi in zip(s.tolist(), h.tolist(), strict=True):
        way = math.copysign(1.0, level - hi)
        start = hi + way * min(GAP_MM, abs(level - hi))
        pairs.append((frame.at(si, start), frame.at(si, level + way * PAST_MM)))
    return lines(pairs, Pen.DIMENSION, layer=layer)


def _dimension_line(frame: _Frame, reach: tuple[float, float], level: float, string: str,
                    look: _Look) -> list[Item]:
    """Line, ends and figure; what finds no room between the ends goes outside."""
    low, high = reach
    arrows = look.ends is Ends.ARROW
    inside = not arrows or high - low >= 2.5 * ARROW_MM
    box = set_text(Text(0.0, 0.0, string, look.size_mm, Anchor.MIDDLE)).box
    fits = box.width <= high - low - 2 * LIFT_MM
    tail = 0.0 if inside else 2 * ARROW_MM
    far = high + tail if fits else high + max(tail, ARROW_MM) + box.width
    middle = (low + high) / 2 if fits else far - box.width / 2
    # An arrow's point is finer than the line, so the line stops short of it.
    trim = ARROW_MM / 2 if arrows and inside else 0.0
    stop = far if far > high else high - trim
    sign = 1.0 if inside else -1.0
    x, y = frame.at(middle, level + LIFT_MM - box.y0)
    return [
        line(frame.at(low + trim - tail, level), frame.at(stop, level), Pen.DIMENSION,
             layer=look.layer),
        _end(frame, np.array(frame.at(low, level)), sign, look.ends, look.layer),
        _end(frame, np.array(frame.at(high, level)), -sign, look.ends, look.layer),
        Text(x, y, string, look.size_mm, Anchor.MIDDLE, layer=look.layer,
             rotation_deg=round(frame.angle_deg, 9)),
    ]


def _end(frame: _Frame, tip: Array, sign: float, ends: Ends, layer: str) -> Path:
    """Draw the mark at ``tip``; an arrow's body lies ``sign`` along u."""
    if ends is Ends.DOT:
        return circle(float(tip[0]), float(tip[1]), DOT_MM, None, fill=Fill.INK, layer=layer)
    if ends is Ends.TICK:
        half = (frame.u + frame.n) * TICK_MM / 2 / math.sqrt(2.0)
        return polyline((tip - half, tip + half), Pen.VISIBLE, layer=layer)
    back = tip + sign * ARROW_MM * frame.u
    corners = (tip, back + ARROW_HALF * frame.n, back - ARROW_HALF * frame.n)
    return polyline(corners, None, closed=True, fill=Fill.INK, layer=layer)
