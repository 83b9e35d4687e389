"""What is drawn on the wood, on face and side at full size: the lines that flats are planed to.

Seen on the face, what lies over the centre line belongs to the upper face and what lies under it
to the lower; on the side the same of the edge's middle line. Every line carries its letter.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from springloom.drawing.lettering import text_box
from springloom.drawing.model import (
    Anchor,
    Array,
    Baseline,
    Item,
    Path,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.outline import MM
from springloom.drawing.paths import line, lines
from springloom.drawing.views import BEYOND, STATIONS, Frame
from springloom.shape.facets import LEAST_FACE, LINES, PLANED, Flats
from springloom.shape.stages import Carving

LAYER = "layout"
BLANK = "blank"
OUTLINE = "outline"
LETTERS = dict(zip(LINES, "abcdef", strict=True))
"""Letter of each line, on the drawing and over its column in the table."""

LETTER_MM = 2.5
ROOM_MM = 0.7  # about a letter, to its own line's ends and to any other line
STEPS = 12
"""Cubics to a span; the drawn line is off the true one by less than 0.01 mm."""
LOOKED = 800  # places along a line at which room for letters is looked for
LETTERED_MM = 60.0  # a shorter stretch between two stations carries no letters

_PENS = {"first_in": Pen.VISIBLE, "first_down": Pen.VISIBLE, "second_in": Pen.HIDDEN,
         "third_down": Pen.HIDDEN, "second_across": Pen.CONSTRUCTION,
         "third_across": Pen.CONSTRUCTION}
_FACE = ("first_in", "second_in", "second_across", "third_across")
_EDGE = ("first_down", "third_down")


@dataclass(frozen=True)
class _View:
    """One face's lines in one view: where its middle line lies on the page and which way is out."""

    flats: Flats
    frame: Frame
    names: tuple[str, ...]
    level: float
    side: float

    def curve(self, name: str, u: Array) -> Path:
        """Draw a line over rising parameters u, knots among them: Hermite cubics.

        Slopes are taken inside each cubic, since a line may turn a little at a knot.
        """
        run = np.diff(u)
        step = 1e-4 * run
        start, near, far, end = np.split(
            self._points(name, np.concatenate((u[:-1], u[:-1] + step, u[1:] - step, u[1:]))), 4
        )
        third = (run / step / 3.0)[:, None]
        segments = np.stack((start, start + third * (near - start), end - third * (end - far),
                             end), axis=1)
        return Path(segments, _PENS[name], layer=LAYER)

    def heights(self, name: str, x: Array) -> Array:
        """How far out a line, or the view's own outline, lies at page x, mm."""
        places, heights = self._looked
        return np.interp(x, places, heights[name])

    @functools.cached_property
    def _looked(self) -> tuple[Array, dict[str, Array]]:
        """Page x and heights of all lines and of the outline, densely."""
        half = self.flats.half
        u = np.linspace(0.0, half.knots[-1], LOOKED)
        q = self.flats.quadrant(u)
        heights = {name: MM * _out(self.flats, name, u) for name in self.names}
        heights[OUTLINE] = MM * (q.w if self.names is _FACE else q.h)
        return self.frame.x + MM * half.place(u)[0], heights

    def _points(self, name: str, u: Array) -> Array:
        """Page points of a line at parameters u, (n, 2) mm."""
        x = self.frame.x + MM * self.flats.half.place(u)[0]
        return np.column_stack((x, self.level + self.side * MM * _out(self.flats, name, u)))


def layout_lines(carving: Carving, frame: Frame, drop: float) -> list[Item]:
    """Draw the lines of both faces on both views.

    Args:
        carving: the half and its flats.
        frame: where the views stand; y = 0 is the face's centre line.
        drop: height of the side's middle line.
    """
    items: list[Item] = []
    for flats, side in zip(carving.flats, (1.0, -1.0), strict=True):
        u = _parameters(flats)
        if len(u) < 2:
            continue
        for names, level in ((_FACE, 0.0), (_EDGE, drop)):
            view = _View(flats, frame, names, level, side)
            items += [item for n in range(len(names)) for item in _lettered(view, n, u)]
    return items


def blank_edges(carving: Carving, frame: Frame, drop: float, texts: Sequence[Text]) -> list[Item]:
    """Draw the squared blank's edges about both views, as far as the tip.

    They stop short of any of ``texts`` that stand in their way.
    """
    blank = carving.blank
    ends = frame.x - BEYOND, frame.at(carving.half.tip)
    edge = 0.5 * blank.width_m * MM
    boxes = [text_box(text).grown(ROOM_MM) for text in texts]
    name = Text(frame.x + 6.0, edge - 1.4, "edge of the squared blank", LETTER_MM,
                baseline=Baseline.TOP, layer=BLANK)
    beside = [name.moved(dx, 0.0) for dx in np.arange(0.0, MM * carving.half.loom.half_length, 4.0)]
    clear = [text for text in beside
             if text_box(text).x1 < frame.at(carving.half.loom.half_length)
             and not any(box.overlaps(text_box(text)) for box in boxes)]
    pairs = []
    for y in (edge, -edge, drop + blank.above_m * MM, drop - blank.below_m * MM):
        over = sorted((box.x0, box.x1) for box in boxes if box.y0 < y < box.y1)
        stops = [ends[0], *(np.clip(x, *ends) for pair in over for x in pair), ends[1]]
        pairs += [((a, y), (b, y)) for a, b in zip(stops[::2], stops[1::2], strict=True) if b > a]
    return [*clear[:1], lines(pairs, Pen.DIMENSION, layer=BLANK)]


def unnamed_places(carving: Carving, frame: Frame, drop: float,
                   places: Sequence[float]) -> list[Item]:
    """Draw a thin line across both views at each place (m) that has no name over it."""
    items: list[Item] = []
    for x in places:
        values = carving.half.values(carving.half.parameter(x))
        width, crown, share = MM * float(values[0]), MM * float(values[1]), float(values[5])
        top, low = drop + crown * share, drop - crown * (1.0 - share)
        for start, end in ((-width, width), (low, top)):
            items.append(line((frame.at(x), start), (frame.at(x), end), Pen.CONSTRUCTION,
                              layer=STATIONS))
    return items


def _lettered(view: _View, n: int, u: Array) -> list[Item]:
    """Draw the n-th of a view's lines, a gap in it where its letter stands."""
    name, half = view.names[n], view.flats.half
    stops = [0.0, half.loom.half_length, *(s.x for s in half.stations[:-1])]
    stretches = [(view.frame.at(a), view.frame.at(b)) for a, b in itertools.pairwise(stops)]
    share = (n + 1.0) / (len(view.names) + 1.0)
    wanted = [a + share * (b - a) for a, b in stretches if b - a > LETTERED_MM]
    items: list[Item] = []
    cuts = [float(u[0])]
    for x in wanted:
        letter = _letter(view, name, x)
        if letter is not None:
            box = text_box(letter).grown(ROOM_MM)
            ends = half.parameter((np.array([box.x0, box.x1]) - view.frame.x) / MM)
            if ends[0] > cuts[-1] and ends[1] < u[-1]:
                items.append(letter)
                cuts += ends.tolist()
    cuts.append(float(u[-1]))
    for low, high in zip(cuts[::2], cuts[1::2], strict=True):
        inner = u[(u > low) & (u < high)]
        items.append(view.curve(name, np.unique([low, *inner, high])))
    return items


def _letter(view: _View, name: str, x: float) -> Text | None:
    """Set a line's letter at page x; None where another line is too near."""
    room = LETTER_MM / 2 + ROOM_MM
    around = x + room * np.linspace(-1.0, 1.0, 5)
    own = view.heights(name, around)
    low, high = own.min() - room, own.max() + room
    others = [view.heights(other, around) for other in (*view.names, OUTLINE) if other != name]
    if low < 0.0 or any(o.max() > low and o.min() < high for o in others):
        return None
    return Text(x, view.level + view.side * float(own[2]), LETTERS[name], LETTER_MM,
                Anchor.MIDDLE, Baseline.MIDDLE, weight=Weight.BOLD, layer=LAYER)


def _parameters(flats: Flats) -> Array:
    """Return u at which the lines are drawn: where this face has a height, knots among them."""
    parts = [np.linspace(a, b, STEPS + 1) for a, b in itertools.pairwise(flats.half.knots)]
    u = np.unique(np.concatenate(parts))
    return np.asarray(u[flats.quadrant(u).h > LEAST_FACE])


def _out(flats: Flats, name: str, u: Array) -> Array:
    """Distance of a line from the view's middle line at u, m."""
    flat, corner, axis = _SEEN[name]
    return np.asarray(flats.vertices(u, PLANED[flat])[:, corner, axis])


# Number of the planing, of the corner in the planed quadrant, and y (face) or z (edge).
_SEEN = {"first_in": (1, 2, 0), "first_down": (1, 1, 1), "second_in": (2, 4, 0),
         "second_across": (2, 3, 0), "third_down": (2, 1, 1), "third_across": (2, 2, 0)}
