"""The two long views of half a paddle, with station lines, names and overall dimensions.

Page x is the caller's; y = 0 is the face's centre line. Sizes are mm on paper.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from springloom.drawing.arrange import lines_up, spread
from springloom.drawing.dimension import Along, chain, dimension
from springloom.drawing.lettering import block, text_box
from springloom.drawing.model import Anchor, Baseline, Block, Item, Path, Pen, Text, Weight, moved
from springloom.drawing.offsets import Offset, figure, held
from springloom.drawing.outline import MM, face_outline, side_outline
from springloom.drawing.paths import bezier_from_points, line, lines, path_bounds, polyline
from springloom.shape.blade import HalfPaddle
from springloom.units import Denominator, System

STATIONS, CENTRES, DIMENSIONS = "stations", "centre-lines", "dimensions"
NAME_MM = 5.0
FIGURE_MM = 3.5
NAME_WIDTH = 46.0  # a longer name is broken
KNEE = 12.0  # from the face up to where station lines turn to their names
TURN = 5.0  # height of that turn
BETWEEN = 34.0  # from the face down to the side
BEYOND = 9.0  # what is shown of the other half, and centre lines past the tip
FOOT = 7.0  # station lines below the side
ASIDE = 19.0  # dimension lines beside the views
FURTHEST = 45.0  # a name further from its station is turned upright, with all the others


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the views stand: page x of the paddle's centre, and how far names may reach."""

    x: float
    low: float
    high: float
    system: System = "mm"
    denominator: Denominator = 64

    def at(self, length_m: float) -> float:
        """Return the page x of a distance from the centre."""
        return self.x + MM * length_m

    def figure(self, length_m: float) -> str:
        """Return a length as it is dimensioned."""
        return figure(length_m, self.system, self.denominator)


def views(half: HalfPaddle, rows: Sequence[Offset], frame: Frame) -> Block:
    """Draw face and side, one under the other, with all that is said about their length."""
    face = face_outline(half).moved(frame.x, 0.0)
    wide = path_bounds(face).y1
    side = side_outline(half)
    drop = -(wide + BETWEEN + path_bounds(side).y1)
    side = side.moved(frame.x, drop)
    foot = path_bounds(side).y0
    return block((
        face, side,
        *_centre_lines(half, frame, (0.0, drop)),
        *_other_half(half, frame, drop),
        *_titles(half, frame, drop),
        *_names(rows, frame, wide + KNEE, foot - FOOT),
        *_lengths(half, frame, foot - FOOT),
        *_breadths(half, face, frame, drop),
    ))


def _centre_lines(half: HalfPaddle, frame: Frame, levels: tuple[float, float]) -> list[Item]:
    ends = frame.x - BEYOND - 4.0, frame.at(half.tip) + BEYOND
    return [line((ends[0], y), (ends[1], y), Pen.CENTRE, layer=CENTRES) for y in levels]


def _other_half(half: HalfPaddle, frame: Frame, drop: float) -> list[Item]:
    return [*stump(frame.x, 0.0, half.loom.width), *stump(frame.x, drop, half.loom.thickness)]


def stump(x: float, y: float, size_m: float) -> list[Item]:
    """Show the start of the other half's loom with a broken end, so that nobody saws there."""
    h, end = MM * size_m / 2, x - BEYOND
    edges = lines([((x, y + s * h), (end, y + s * h)) for s in (1, -1)], Pen.DIMENSION,
                  layer=CENTRES)
    wave = [(end, y + h), (end + 1.6, y + h / 2), (end, y), (end - 1.6, y - h / 2), (end, y - h)]
    return [edges, bezier_from_points(wave, pen=Pen.DIMENSION, layer=CENTRES)]


def _titles(half: HalfPaddle, frame: Frame, drop: float) -> list[Text]:
    width, crown = MM * half.loom.width / 2, MM * half.loom.thickness / 2
    return [Text(frame.x + 6.0, y + 3.5, name, NAME_MM, layer="views")
            for name, y in (("Face", width), ("Side", drop + crown))]


def _names(rows: Sequence[Offset], frame: Frame, knee: float, foot: float) -> list[Item]:
    """Draw station lines through both views, up to a name that has found its room."""
    wanted = [frame.at(row.x) for row in rows]
    labels = _levels(rows, frame)
    placed = spread(wanted, [label.bounds.width for label in labels], 4.0, frame.low, frame.high)
    if placed is None or np.abs(np.subtract(placed, wanted)).max() > FURTHEST:
        labels = [_upright(row, frame) for row in rows]
        widths = [label.bounds.width for label in labels]
        # Stations are 5 mm apart or more, about what an upright name takes.
        placed = spread(wanted, widths, 0.2, frame.low, frame.high) or tuple(wanted)
    items: list[Item] = []
    for x, to, label, row in zip(wanted, placed, labels, rows, strict=True):
        top = knee + TURN
        way = [(to, top), (x, knee), (x, foot)]
        pen = Pen.CENTRE if row.x == 0.0 else Pen.CONSTRUCTION
        items.append(polyline(way, pen, layer=STATIONS))
        items += moved(label.items, to, top + 1.5)
    return items


def _levels(rows: Sequence[Offset], frame: Frame) -> list[Block]:
    """Set names over distances, centred on x = 0, upward from y = 0, all feet in line."""
    distances = [Text(0.0, 0.0, frame.figure(row.x), FIGURE_MM, Anchor.MIDDLE, layer=STATIONS)
                 for row in rows]
    names = [lines_up(Text(0.0, 0.0, held(row.name), NAME_MM, Anchor.MIDDLE, weight=Weight.BOLD,
                           layer=STATIONS), NAME_WIDTH) for row in rows]
    foot = -min(text_box(text).y0 for text in distances)
    above = foot + max(text_box(text).y1 for text in distances) + 1.6
    above -= min(text_box(text[0]).y0 for text in names)
    return [block((distance.moved(0.0, foot), *moved(lines, 0.0, above)))
            for distance, lines in zip(distances, names, strict=True)]


def _upright(row: Offset, frame: Frame) -> Block:
    """Set name and distance in one line that reads from the right, fractions not stacked."""
    name = Text(0.0, 0.0, row.name, FIGURE_MM, Anchor.START, Baseline.MIDDLE, 90.0, Weight.BOLD,
                STATIONS, fractions=False)
    far = text_box(name).y1 + 1.2 * FIGURE_MM
    distance = Text(0.0, far, frame.figure(row.x), FIGURE_MM, Anchor.START, Baseline.MIDDLE,
                    90.0, layer=STATIONS, fractions=False)
    return block((name, distance))


def _lengths(half: HalfPaddle, frame: Frame, y: float) -> list[Item]:
    centre, shoulder, tip = (frame.at(x) for x in (0.0, half.loom.half_length, half.tip))
    parts = chain([(centre, y), (shoulder, y), (tip, y)],
                  [f"half loom {frame.figure(half.loom.half_length)}",
                   f"blade {frame.figure(half.blade_length)}"],
                  -9.0, along=Along.HORIZONTAL, size_mm=FIGURE_MM, layer=DIMENSIONS)
    whole = dimension((centre, y - 9.0), (tip, y - 9.0), f"half length {frame.figure(half.tip)}",
                      -12.0, size_mm=FIGURE_MM, layer=DIMENSIONS)
    return [*parts.items, *whole.items]


def _breadths(half: HalfPaddle, face: Path, frame: Frame, drop: float) -> list[Item]:
    """Dimension the greatest width past the tip, and the loom beside its stump."""
    widest = path_bounds(face).y1
    at = float(face.segments[np.argmax(face.segments[:, 3, 1]), 3, 0])
    loom = half.loom
    made = [_upright_dimension(frame.at(half.tip), at, 0.0, 2 * widest, ASIDE, frame)]
    for y, h in ((0.0, loom.width), (drop, loom.thickness)):
        made.append(_upright_dimension(frame.x - BEYOND, frame.x - BEYOND, y, MM * h,
                                       5.0 - ASIDE, frame))
    return [item for one in made for item in one.items]


def _upright_dimension(x: float, start: float, y: float, size: float, aside: float,
                       frame: Frame) -> Block:
    """Dimension a height about y; the line stands ``aside`` of x."""
    level = x + aside
    ends = [(start, y - size / 2), (start, y + size / 2)]
    # Left of the upward reading direction counts as positive.
    return dimension(ends[0], ends[1], frame.figure(size / MM), start - level,
                     along=Along.VERTICAL, size_mm=FIGURE_MM, layer=DIMENSIONS)
