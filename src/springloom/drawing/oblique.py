"""The whole paddle seen from above and aside, section behind section: a picture of the solid."""

from __future__ import annotations

import itertools
import math

import numpy as np

from springloom.drawing.model import Array, Drawing, Fill, Item, Path, Pen
from springloom.drawing.outline import MM, section_outline
from springloom.drawing.paths import polyline
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle

WIDTH_MM = 180.0
FACES = 2.4
"""How many times wider and thicker than long it is drawn, so that a phone shows its shape."""
_AWAY, _UP = math.radians(20.0), math.radians(30.0)  # how it lies, how high the eye is
_EVERY, _AROUND = 25, 8  # sections of each half; points on a quarter of one
_MARGIN = 3.0


def oblique(paddle: Paddle) -> Drawing:
    """Draw it from blade B, which lies near, to blade A; far sections come first."""
    rings = [*_rings(paddle.a, 1.0)[::-1], *_rings(paddle.b, -1.0)[1:]]
    flat = [_seen(ring) for ring in rings]
    low = np.min([ring.min(axis=0) for ring in flat], axis=0)
    high = np.max([ring.max(axis=0) for ring in flat], axis=0)
    scale = (WIDTH_MM - 2 * _MARGIN) / (high[0] - low[0])
    placed = [scale * (ring - low) + _MARGIN for ring in flat]
    height = scale * (high[1] - low[1]) + 2 * _MARGIN
    items: list[Item] = []
    for n, (far, near) in enumerate(itertools.pairwise(placed)):
        items += _skin(far, near, rib=n % 3 == 0)
    lines = ((0, Pen.OUTLINE), (_AROUND, Pen.DIMENSION), (2 * _AROUND, Pen.OUTLINE))
    items += [polyline([ring[at] for ring in placed], pen, layer="solid") for at, pen in lines]
    return Drawing(WIDTH_MM, float(height), "The paddle as a solid", tuple(items), ("solid",),
                   f"Both blades and the loom seen from aside, sections drawn {FACES:g} times "
                   "as large as the length.")


def _rings(half: HalfPaddle, way: float) -> list[Array]:
    """Sections from the centre outward, each (points, 3) in mm."""
    ends = np.sin(np.linspace(0.0, 0.5 * np.pi, _EVERY)) * half.tip * (1.0 - 1e-6)
    return [_ring(half, float(x), way) for x in ends]


def _ring(half: HalfPaddle, x: float, way: float) -> Array:
    outline = section_outline(half.section(x))
    t = np.linspace(0.0, 1.0, _AROUND, endpoint=False)[:, None]
    a, b, c, d = (outline.segments[:, None, i, :] for i in range(4))
    r = 1.0 - t
    points = (r**3 * a + 3 * r * r * t * b + 3 * r * t * t * c + t**3 * d).reshape(-1, 2)
    return np.column_stack([np.full(len(points), way * MM * x), points])


def _seen(ring: Array) -> Array:
    """Project: x runs to the right and away, y towards the eye, z up."""
    x, y, z = ring.T
    y, z = FACES * y, FACES * z
    across = x * math.cos(_AWAY) + y * math.sin(_AWAY)
    depth = x * math.sin(_AWAY) - y * math.cos(_AWAY)
    return np.column_stack([across, z * math.cos(_UP) + depth * math.sin(_UP)])


def _skin(far: Array, near: Array, *, rib: bool) -> list[Item]:
    """What lies between two sections: the ground of both, and the ribs that are seen."""
    hull = _hull(np.vstack([far, near]))
    items: list[Item] = [polyline(hull, None, closed=True, fill=Fill.WASH, layer="solid")]
    if rib:
        items.append(Path(polyline(near, closed=True).segments, Pen.CONSTRUCTION, closed=True,
                          layer="solid"))
    return items


def _hull(points: Array) -> Array:
    """Convex hull, counterclockwise; sections are convex, and so is what two of them span."""
    order = points[np.lexsort((points[:, 1], points[:, 0]))]

    def chain(some: Array) -> list[Array]:
        kept: list[Array] = []
        for p in some:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], p) <= 0.0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return np.array([*chain(order), *chain(order[::-1])])


def _turn(a: Array, b: Array, c: Array) -> float:
    u, v = b - a, c - a
    return float(u[0] * v[1] - u[1] * v[0])
