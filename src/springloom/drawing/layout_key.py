"""Small figures that explain the layout: what the letters measure, and the flats in their order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from springloom.drawing.dimension import Along, dimension
from springloom.drawing.layout_lines import LETTERS
from springloom.drawing.lettering import block, text_box
from springloom.drawing.model import (
    Anchor,
    Array,
    Baseline,
    Block,
    Bounds,
    Drawing,
    Fill,
    Item,
    Path,
    Pen,
    Point,
    Text,
    Weight,
    moved,
    sequence_bounds,
)
from springloom.drawing.outline import MM, section_outline
from springloom.drawing.paths import line, lines, path_bounds, polyline
from springloom.shape.facets import FLATS, PLANED
from springloom.shape.stages import STAGES, Carving

LAYER = "key"
QUARTER_MM = 68.0  # width of the quarter on paper
SIZE_MM = 3.0
HEAD_MM = 3.5
CAPTION_MM = 3.0
GAP_MM = 14.0  # between two figures of a row
AXIS_MM = 4.0  # axes past a figure
SLANT_MM = 2.2  # from a flat to the line that measures along it
MARGIN_MM = 2.0  # about a figure that stands by itself
LETTER_MM = 2.8  # from there to its letter's middle

SHOWN = (("tapered", "squared"), ("first flats", "flat 1"), ("second flats", "flats 2 and 3"),
         ("finished", "rounded"))
"""Stages that have a figure, and what stands under it."""


def letters_key(carving: Carving) -> Block:
    """Draw a quarter of the loom with its flats, and what each letter of the table measures."""
    flats = carving.flats[0]
    loom = carving.half.loom
    scale = QUARTER_MM / (0.5 * loom.width)
    first, both = (scale * flats.vertices(np.zeros(1), PLANED[n])[0] for n in (1, 2))
    w, h = float(both[0, 0]), float(both[-1, 1])
    (b, a), (e, f, d, c) = first[1:3], both[1:5]
    items: list[Item] = [
        *_quarter(carving, scale),
        line(_at(a), _at(b), Pen.DIMENSION, layer=LAYER),
        lines((both[1:3], both[3:5]), Pen.DIMENSION, layer=LAYER),
    ]
    corner = (w, h)
    for name, point, level, along in (
        ("first_in", a, 7.0, Along.HORIZONTAL), ("second_in", c, 14.0, Along.HORIZONTAL),
        ("first_down", b, -7.0, Along.VERTICAL), ("third_down", e, -14.0, Along.VERTICAL),
    ):
        items += _measure(_at(point), corner, LETTERS[name], level, along)
    items += _aslant(a, d, LETTERS["second_across"])
    items += _aslant(f, b, LETTERS["third_across"])
    items += _corner(w, h, [text_box(i).grown(0.6) for i in items if isinstance(i, Text)])
    for name, (p, q) in zip(FLATS, ((f, d), (d, c), (e, f)), strict=True):
        x, y = 0.5 * (p + q) - 4.2 * _outward(p, q)
        items.append(Text(float(x), float(y), name, SIZE_MM, Anchor.MIDDLE, Baseline.MIDDLE,
                          weight=Weight.BOLD, layer=LAYER))
    return _headed(items, "What a to f measure", "a quarter of the loom, enlarged")


def order_row(carving: Carving, x: float, title: str, scale: float) -> Block:
    """Draw the section at x (m) after each shown stage, side by side, ``scale`` to 1."""
    u = np.array([float(carving.half.parameter(x))])
    whole = [_section(carving, u, STAGES.index(name), scale) for name, _ in SHOWN]
    width = max(path_bounds(p).width for p in whole)
    low = min(path_bounds(p).y0 for p in whole)
    items: list[Item] = []
    for n, (_, caption) in enumerate(SHOWN):
        at = n * (width + GAP_MM)
        if n:
            items.append(_drawn(whole[n - 1], at, Pen.CONSTRUCTION, None))
        items.append(_drawn(whole[n], at, None, Fill.WASH))
        items.append(_axes(whole[n].moved(at, 0.0), at))
        items.append(_drawn(whole[n], at, Pen.OUTLINE, None))
        items.append(Text(at, low - AXIS_MM - 2.0, caption, CAPTION_MM, Anchor.MIDDLE,
                          Baseline.TOP, layer=LAYER))
    return _headed(items, title, "")


def order_drawings(carving: Carving, x: float, place: str,
                   scale: float = 1.0) -> tuple[tuple[str, Drawing], ...]:
    """Draw the section at x (m) after each shown stage by itself: what it is, and the drawing."""
    u = np.array([float(carving.half.parameter(x))])
    whole = [_section(carving, u, STAGES.index(name), scale) for name, _ in SHOWN]
    made = []
    for n, (name, caption) in enumerate(SHOWN):
        before = [_drawn(whole[n - 1], 0.0, Pen.CONSTRUCTION, None)] if n else []
        items = (*before, _drawn(whole[n], 0.0, None, Fill.WASH), _axes(whole[n], 0.0),
                 _drawn(whole[n], 0.0, Pen.OUTLINE, None))
        made.append((caption, _alone(items, whole, f"{caption}, {place}",
                                     f"The section after the stage {name}.")))
    return tuple(made)


def letters_drawing(carving: Carving) -> Drawing:
    """Draw what the letters measure by itself."""
    key = letters_key(carving)
    return _page(key.items, key.bounds.grown(MARGIN_MM), "What a to f measure",
                 "A quarter of the loom with its flats: a, c and e, b from the corner, d and f "
                 "along flat 1.")


def _alone(items: Sequence[Item], like: Sequence[Path], title: str, said: str) -> Drawing:
    """Set items on a page that would hold every one of ``like``."""
    room = sequence_bounds([path_bounds(path) for path in like])
    return _page(items, room.grown(AXIS_MM + MARGIN_MM), title, said)


def _page(items: Sequence[Item], room: Bounds, title: str, said: str) -> Drawing:
    return Drawing(room.width, room.height, title, moved(items, -room.x0, -room.y0), (LAYER,),
                   said)


def row_width(carving: Carving, x: float) -> float:
    """Room the figures of :func:`order_row` take across at full size, without their gaps."""
    return len(SHOWN) * 2.0 * MM * float(carving.half.values(carving.half.parameter(x))[0])


def _quarter(carving: Carving, scale: float) -> list[Item]:
    """Draw the wanted quarter section with its axes."""
    controls = scale * carving.half.section(0.0).controls()[0]
    (w, _), (_, h) = controls[0], controls[-1]
    sides = polyline(((0.0, float(h)), (0.0, 0.0), (float(w), 0.0))).segments
    ground = Path(np.concatenate((controls[None], sides)), None, True, Fill.WASH, LAYER)
    axes = lines((((-AXIS_MM, 0.0), (w + AXIS_MM, 0.0)), ((0.0, -AXIS_MM), (0.0, h + AXIS_MM))),
                 Pen.CENTRE, layer=LAYER)
    return [ground, axes, Path(controls[None], Pen.OUTLINE, layer=LAYER)]


def _measure(a: Point, b: Point, letter: str, level: float, along: Along) -> tuple[Item, ...]:
    return dimension(a, b, letter, level, along=along, size_mm=SIZE_MM, layer=LAYER).items


def _corner(w: float, h: float, boxes: Sequence[Bounds]) -> list[Item]:
    """Draw the squared corner, with gaps where a letter stands."""
    flat = [(box.x0, box.x1) for box in boxes if box.y0 < h < box.y1 and box.x0 < w]
    upright = [(box.y0, box.y1) for box in boxes if box.x0 < w < box.x1 and box.y0 < h]
    runs = [((a, h), (b, h)) for a, b in _between(-AXIS_MM, w, flat)]
    runs += [((w, a), (w, b)) for a, b in _between(-AXIS_MM, h, upright)]
    return [lines(runs, Pen.VISIBLE, layer=LAYER)]


def _between(low: float, high: float, gaps: Sequence[Point]) -> list[Point]:
    """Return what of a stretch lies outside gaps."""
    stops = [low, *(min(max(x, low), high) for gap in sorted(gaps) for x in gap), high]
    return [(a, b) for a, b in zip(stops[::2], stops[1::2], strict=True) if b > a]


def _aslant(p: Array, q: Array, letter: str) -> list[Item]:
    """Measure along a flat, close to it, with an upright letter beside the line."""
    n = _outward(p, q)
    ends = p + SLANT_MM * n, q + SLANT_MM * n
    x, y = 0.5 * (p + q) + (SLANT_MM + LETTER_MM) * n
    return [
        line(_at(ends[0]), _at(ends[1]), Pen.DIMENSION, layer=LAYER),
        lines([(start + 0.8 * n, end + 1.2 * n) for start, end in zip((p, q), ends, strict=True)],
              Pen.DIMENSION, layer=LAYER),
        Text(float(x), float(y), letter, SIZE_MM, Anchor.MIDDLE, Baseline.MIDDLE, layer=LAYER),
    ]


def _section(carving: Carving, u: Array, stage: int, scale: float) -> Path:
    """Return the closed outline of the section after a stage, mm times ``scale``."""
    if stage == len(STAGES) - 1:
        whole = section_outline(carving.half.section(float(carving.half.place(u)[0][0])))
        return whole.mapped(np.eye(2) * scale)
    top, low = (face[0] for face in carving.faces(u, stage))
    flip = np.array([-1.0, 1.0])
    points = np.concatenate((top, (top * flip)[-2::-1], -low[1:], (low * -flip)[-2:0:-1]))
    return polyline(_apart(scale * MM * points), closed=True, layer=LAYER)


def _apart(points: Array) -> Array:
    """Leave out points that are no further from the one before than a hair."""
    gaps = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1)
    return np.asarray(points[gaps > 1e-6])


def _drawn(path: Path, x: float, pen: Pen | None, fill: Fill | None) -> Path:
    return Path(path.moved(x, 0.0).segments, pen, True, fill, LAYER)


def _axes(path: Path, x: float) -> Path:
    box = path_bounds(path)
    pairs = (((box.x0 - AXIS_MM, 0.0), (box.x1 + AXIS_MM, 0.0)),
             ((x, box.y0 - AXIS_MM), (x, box.y1 + AXIS_MM)))
    return lines(pairs, Pen.CENTRE, layer=LAYER)


def _headed(items: Sequence[Item], title: str, under: str) -> Block:
    """Set a heading over a figure, and a line of words under it."""
    made = block(items)
    x, top = made.bounds.x0, made.bounds.y1 + 5.0
    words = [Text(x, top, title, HEAD_MM, weight=Weight.BOLD, layer=LAYER)]
    if under:
        words.append(Text(x, made.bounds.y0 - 3.0, under, CAPTION_MM, baseline=Baseline.TOP,
                          layer=LAYER))
    said = block(words)
    return Block((*items, *words), sequence_bounds((made.bounds, said.bounds)))


def _outward(p: Array, q: Array) -> Array:
    """Unit normal of the line from p to q that points up and right."""
    run = p - q
    normal = np.array([abs(run[1]), abs(run[0])])
    return np.asarray(normal / np.hypot(*normal))


def _at(point: Array) -> Point:
    return float(point[0]), float(point[1])
