"""A small drawing of one blade, root to the left: its stations, which are read, which is next."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from springloom.drawing.lettering import width_mm
from springloom.drawing.model import Anchor, Baseline, Drawing, Fill, Item, Pen, Text, Weight
from springloom.drawing.paths import circle, line, polyline
from springloom.shape.blade import HalfPaddle

WIDTH_MM, MARGIN_MM, NAME_MM, MARK_MM = 96.0, 5.0, 3.0, 1.7
_GAP_MM = 2.0
_SAMPLES = 121
_SAME = 1e-3  # m

Mark = tuple[float, str]
"""A place, m from the centre, and its name."""


def blade_strip(
    title: str, half: HalfPaddle, marks: Sequence[Mark], read: Collection[float],
    now: Collection[float] = (),
) -> Drawing:
    """Draw a blade in proportion.

    Args:
        title: what it is called.
        half: the blade.
        marks: its stations.
        read: places that were read: their marks are filled.
        now: the place that is being read: ringed, and named in bold.
    """
    start, end = half.loom.half_length, half.tip
    scale = (WIDTH_MM - 2.0 * MARGIN_MM) / (end - start)
    widest = max(station.width for station in half.stations) * scale
    middle = 2.0 * MARGIN_MM + NAME_MM + 0.5 * widest
    height = middle + 0.5 * widest + MARGIN_MM

    def across(x: float) -> float:
        return MARGIN_MM + scale * (x - start)

    items: list[Item] = [*_outline(half, scale, across(start), middle)]
    for x, _ in marks:
        items += _mark(across(x), middle, read=_among(x, read), now=_among(x, now))
    items += _names([(across(x), name, _among(x, now)) for x, name in marks])
    said = ", ".join(name for x, name in marks if _among(x, read)) or "nothing yet"
    asked = "".join(f" Being read: {name}." for x, name in marks if _among(x, now))
    return Drawing(WIDTH_MM, height, title, tuple(items), description=f"Read: {said}.{asked}")


def _among(x: float, places: Collection[float]) -> bool:
    return any(abs(x - place) < _SAME for place in places)


def _outline(half: HalfPaddle, scale: float, left: float, middle: float) -> list[Item]:
    u = np.linspace(half.loom.half_length, half.knots[-1], _SAMPLES)
    x, _ = half.place(u)
    wide = half.values(u)[0] * scale
    x = left + scale * (x - half.loom.half_length)
    upper, lower = np.stack([x, middle + wide], 1), np.stack([x, middle - wide], 1)
    return [
        polyline(np.concatenate([upper, lower[::-1]]), Pen.VISIBLE, closed=True, fill=Fill.WASH),
        line((left, middle), (float(x[-1]), middle), Pen.CENTRE),
    ]


def _mark(x: float, middle: float, *, read: bool, now: bool) -> list[Item]:
    dot = circle(x, middle, MARK_MM, Pen.VISIBLE, fill=Fill.INK if read else Fill.GROUND,
                 layer="marks")
    ring = [circle(x, middle, 2.0 * MARK_MM, Pen.OUTLINE, layer="marks")] if now else []
    return [*ring, dot]


def _names(places: Sequence[tuple[float, str, bool]]) -> list[Item]:
    """Names below, as many as have room; the one being read before all others."""
    found: list[Item] = []
    taken: list[tuple[float, float]] = []
    order = sorted(places, key=lambda place: (not place[2], len(place[1]), -place[0]))
    for x, name, now in order:
        half = 0.5 * width_mm(name, NAME_MM, _weight(now))
        at = min(max(x, half + 1.0), WIDTH_MM - half - 1.0)
        if any(at - half < high + _GAP_MM and low - _GAP_MM < at + half for low, high in taken):
            continue
        taken.append((at - half, at + half))
        found.append(Text(at, 0.5 * MARGIN_MM, name, NAME_MM, Anchor.MIDDLE, Baseline.FOOT,
                          weight=_weight(now), layer="names", fractions=False))
    return found


def _weight(now: bool) -> Weight:
    return Weight.BOLD if now else Weight.REGULAR
