"""What to measure on a paddler and a boat, drawn calmly: four small figures for a narrow screen.

Sizes are mm on a page 120 mm wide; at the width of a phone the lettering is still read without
glasses. Proportions are shares of height as :mod:`springloom.fit.body` estimates them, so that
each line lies on the body where the tape does.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import numpy as np

from springloom.drawing.dimension import Along, Ends, dimension, leader
from springloom.drawing.model import (
    Array,
    Drawing,
    Fill,
    Item,
    Path,
    Pen,
    Text,
    moved,
)
from springloom.drawing.paths import bezier_from_points, circle, line, lines, polyline

WIDTH = 120.0
LETTERS = 3.6
"""Height of capitals: 11 pixels where the page is shown 370 pixels wide."""
_BODY = "body"
_LAYERS = ("body", "drawing", "dimensions", "text")


def body_figures() -> tuple[Drawing, ...]:
    """Return the figures in the order one measures: standing, seated, forearm, grip."""
    return standing(), seated(), forearm(), grip()


@functools.cache
def standing() -> Drawing:
    """Return the figure for height and arm span: from the front, arms straight out."""
    x, foot, height = 54.0, 8.0, 96.0
    items: list[Item] = [*_silhouette(_front(height), x, foot), _head(x, foot, height),
                         line((3.0, foot), (117.0, foot), Pen.VISIBLE)]
    top, reach = foot + height, 0.515 * height
    items += dimension((x - reach, foot + 0.80 * height), (x + reach, foot + 0.80 * height),
                       "arm span", 0.20 * height + 9.0, size_mm=LETTERS).items
    items += dimension((x, top), (x, foot), "height", -(reach + 7.0), along=Along.VERTICAL,
                       size_mm=LETTERS).items
    return _drawing(122.0, "Height and arm span", items,
                    "A person stands with the arms straight out sideways. Height runs from the "
                    "ground to the top of the head, arm span from one middle fingertip to the "
                    "other.")


@functools.cache
def seated() -> Drawing:
    """Return the figure for shoulder breadth and beam: boat and paddler from behind."""
    x, water, height = 52.0, 29.0, 100.0
    seat = water + 0.035 * height
    shoulder, point, beam = seat + 0.325 * height, 0.1138 * height, 0.33 * height
    items: list[Item] = [*_silhouette(_back(height), x, seat), *_hull(x, water, beam),
                         _head(x, seat - 0.465 * height, height)]
    items += [circle(x + side * point, shoulder, 0.9, None, fill=Fill.INK, layer="dimensions")
              for side in (-1.0, 1.0)]
    items += dimension((x - point, shoulder), (x + point, shoulder), "shoulder breadth",
                       0.235 * height, size_mm=LETTERS).items
    widest = water + 0.19 * beam
    items += dimension((x - beam, widest), (x + beam, widest), "beam", -26.0,
                       size_mm=LETTERS).items
    return _drawing(100.0, "Shoulder breadth and the boat's beam", items,
                    "A paddler sits in a boat, seen from behind, the boat cut across. Shoulder "
                    "breadth runs between the bony points at the outer end of the shoulders, the "
                    "beam across the boat at its widest.")


@functools.cache
def forearm() -> Drawing:
    """Return the figure for cubit and hand length: the elbow bent square."""
    items: list[Item] = _arm()
    items += dimension((12.0, 30.0), (108.0, 31.0), "cubit", -14.0, along=Along.HORIZONTAL,
                       size_mm=LETTERS).items
    items += dimension((108.0, 31.0), (69.0, 35.0), "hand length", 8.0, along=Along.HORIZONTAL,
                       size_mm=LETTERS).items
    items = list(moved(items, 0.0, -6.0))
    return _drawing(60.0, "Cubit and hand length", items,
                    "An arm with the elbow bent square and the hand flat. The cubit runs from the "
                    "back of the elbow to the tip of the middle finger, hand length from the "
                    "crease of the wrist to the same tip.")


@functools.cache
def grip() -> Drawing:
    """Return the figure for the grip's girth: a stick in the hand, seen from its end."""
    x, y, radius = 46.0, 26.0, 12.0
    items: list[Item] = [*_fingers(x, y, radius),
                         circle(x, y, radius, Pen.OUTLINE, fill=Fill.GROUND),
                         *_rings(x, y, radius)]
    on = (x + radius * math.cos(1.05), y + radius * math.sin(1.05))
    items += leader(on, (70.0, 54.0), "girth of the stick", end=Ends.DOT, size_mm=LETTERS).items
    items.append(Text(4.0, 52.2, "tips just meet", LETTERS))
    items.append(line((16.0, 50.4), (x - radius - 4.0, y + 0.6), Pen.DIMENSION))
    return _drawing(62.0, "Grip", items,
                    "A hand closed round a stick, seen along the stick: the tips of thumb and "
                    "forefinger just meet. The girth of that stick is the measure.")


def _drawing(height: float, title: str, items: Sequence[Item], description: str) -> Drawing:
    return Drawing(WIDTH, height, title, tuple(items), _LAYERS, description)


def _at(points: Array, x: float, y: float) -> Array:
    shifted: Array = points + np.array((x, y))
    return shifted


def _silhouette(runs: Sequence[Array], x: float, y: float) -> list[Item]:
    """Return a body from its right-hand outline, mirrored: a light wash, its line on top."""
    right = np.concatenate([bezier_from_points(run).segments for run in runs])
    left = right[::-1, ::-1] * (-1.0, 1.0)
    top = polyline((left[-1, 3], right[0, 0])).segments  # lies under the head
    whole = _at(np.concatenate([right, left, top]), x, y)
    return [Path(whole, Pen.VISIBLE, True, Fill.WASH, _BODY)]


def _front(h: float) -> list[Array]:
    """Outline of half a person from the front, m of height ``h``: neck, arm, side, leg, crotch.

    Each run is smooth; runs meet in a corner.
    """
    return [h * np.array(run) for run in (
        ((0.029, 0.895), (0.030, 0.868), (0.036, 0.848), (0.070, 0.832), (0.125, 0.822),
         (0.200, 0.817), (0.280, 0.812), (0.400, 0.807)),
        ((0.400, 0.807), (0.420, 0.815), (0.438, 0.822), (0.449, 0.820), (0.440, 0.812)),
        ((0.440, 0.812), (0.480, 0.810), (0.512, 0.803), (0.5155, 0.798), (0.505, 0.794),
         (0.455, 0.786), (0.400, 0.790)),
        ((0.400, 0.790), (0.340, 0.781), (0.280, 0.779), (0.200, 0.766), (0.128, 0.752)),
        ((0.128, 0.752), (0.116, 0.715), (0.098, 0.640), (0.097, 0.600), (0.110, 0.540),
         (0.113, 0.480), (0.104, 0.390), (0.083, 0.290), (0.087, 0.220), (0.068, 0.110),
         (0.058, 0.050)),
        ((0.058, 0.050), (0.074, 0.026), (0.088, 0.010), (0.082, 0.0)),
        ((0.082, 0.0), (0.032, 0.0)),
        ((0.032, 0.0), (0.027, 0.026), (0.029, 0.060), (0.019, 0.170), (0.028, 0.235),
         (0.027, 0.290), (0.012, 0.400), (0.0, 0.462)),
    )]


def _back(h: float) -> list[Array]:
    """Outline of half a sitting trunk from behind, arms hanging to the lap; nought is the seat."""
    return [h * np.array(run) for run in (
        ((0.029, 0.428), (0.030, 0.401), (0.036, 0.376), (0.070, 0.352), (0.112, 0.336),
         (0.139, 0.308), (0.148, 0.250), (0.163, 0.160), (0.150, 0.080), (0.118, 0.058)),
        ((0.118, 0.058), (0.106, 0.075), (0.110, 0.105), (0.124, 0.145), (0.116, 0.200),
         (0.106, 0.260)),
        ((0.106, 0.260), (0.096, 0.160), (0.098, 0.110), (0.114, 0.050), (0.118, 0.020),
         (0.105, 0.0)),
        ((0.105, 0.0), (0.0, 0.0)),
    )]


def _head(x: float, foot: float, h: float) -> Path:
    """Head of a person ``h`` tall whose feet are at ``foot``."""
    half = ((0.0, 1.0), (0.032, 0.987), (0.043, 0.945), (0.034, 0.893), (0.0, 0.868))
    right = h * np.array(half)
    whole = _at(np.concatenate([right, right[-2:0:-1] * (-1.0, 1.0)]), x, foot)
    return bezier_from_points(whole, pen=Pen.VISIBLE, closed=True, fill=Fill.WASH, layer=_BODY)


def _hull(x: float, water: float, beam: float) -> list[Item]:
    """A boat of half the width ``beam`` cut across: hull, deck, rim, seat, and its water."""
    side = ((0.0, -0.35), (0.47, -0.295), (0.82, -0.13), (0.97, 0.08), (1.0, 0.19))
    deck = ((1.0, 0.19), (0.89, 0.35), (0.60, 0.47))
    rim = ((0.60, 0.47), (0.60, 0.55))
    seat = beam * np.array(((-0.5, -0.12), (-0.39, 0.1), (0.39, 0.1), (0.5, -0.12)))
    found: list[Item] = [
        bezier_from_points(_at(beam * np.array(run) * (sign, 1.0), x, water), pen=Pen.OUTLINE)
        for sign in (1.0, -1.0) for run in (side, deck, rim)]
    return [*found, polyline(_at(seat, x, water), Pen.VISIBLE),
            lines([((4.0, water), (x - 0.95 * beam, water)),
                   ((x + 0.95 * beam, water), (116.0, water))], Pen.DIMENSION)]


def _arm() -> list[Item]:
    """Upper arm hanging, forearm level, hand flat: seen from the side."""
    above = [np.array(run, float) for run in (
        ((30.0, 60.0), (30.2, 50.0), (31.5, 42.5), (36.0, 39.6), (46.0, 39.4), (60.0, 36.4),
         (69.0, 35.0), (76.0, 36.0), (84.0, 35.8), (96.0, 34.2), (106.5, 32.2), (108.0, 31.0)),
        ((108.0, 31.0), (106.5, 29.7), (96.0, 29.4), (86.0, 29.0), (77.0, 27.8), (69.0, 27.8),
         (58.0, 26.6), (44.0, 24.2), (28.0, 23.6), (17.0, 24.4), (12.6, 27.2), (12.0, 31.0),
         (13.4, 40.0), (13.6, 50.0), (13.0, 60.0)),
    )]
    outline = np.concatenate([bezier_from_points(run).segments for run in above])
    thumb = bezier_from_points(np.array(((74.0, 34.4), (80.0, 38.6), (87.0, 39.4), (89.6, 38.0),
                                         (87.6, 36.2), (82.0, 34.0))), pen=Pen.VISIBLE,
                               fill=Fill.WASH, layer=_BODY)
    crease = bezier_from_points(np.array(((69.0, 35.0), (68.2, 32.6), (68.4, 30.6))),
                                pen=Pen.DIMENSION)
    return [Path(outline, None, False, Fill.WASH, _BODY), Path(outline, Pen.VISIBLE, layer=_BODY),
            thumb, crease]


def _fingers(x: float, y: float, radius: float) -> list[Item]:
    """Forefinger over a stick, thumb under it, and the hand they come from."""
    hand = np.array(((16.0, 21.5), (24.0, 19.5), (36.0, 18.0), (52.0, 17.0)))
    lower = np.array(((52.0, -17.0), (36.0, -19.0), (24.0, -20.0), (14.0, -21.0)))
    over = _arc(radius + 9.4, 66.0, 150.0)
    under = _arc(radius + 9.0, 300.0, 212.0)
    inner_over = _arc(radius, 179.0, 40.0)
    inner_under = _arc(radius, 181.0, 320.0)
    tip_over = np.array([over[-1], (-radius - 8.2, 4.2), (-radius - 4.0, 0.4), inner_over[0]])
    tip_under = np.array([under[-1], (-radius - 8.2, -4.2), (-radius - 4.0, -0.4),
                          inner_under[0]])
    finger = [hand[::-1], np.vstack((hand[:1], over)), tip_over, inner_over]
    thumb = [lower, np.vstack((lower[-1:], under)), tip_under, inner_under]
    palm = np.vstack((inner_over[-1:], inner_under[-1:]))
    found = [_joined([*finger, palm, inner_under[::-1], tip_under[::-1],
                      np.vstack((lower[-1:], under))[::-1], lower[::-1]], x, y, None)]
    found += [_joined([run], x, y, Pen.VISIBLE) for run in (*finger[:3], *thumb[:3])]
    nail = _arc(radius + 7.4, 163.0, 150.0)
    return [*found, _joined([nail], x, y, Pen.DIMENSION)]


def _joined(runs: Sequence[Array], x: float, y: float, pen: Pen | None) -> Path:
    whole = _at(np.concatenate([bezier_from_points(run).segments for run in runs]), x, y)
    return Path(whole, pen, False, Fill.WASH if pen is None else None, _BODY)


def _arc(radius: float, start_deg: float, stop_deg: float) -> Array:
    angle = np.radians(np.linspace(start_deg, stop_deg, 9))
    return radius * np.column_stack((np.cos(angle), np.sin(angle)))


def _rings(x: float, y: float, radius: float) -> list[Item]:
    """Growth rings on the stick's end."""
    found: list[Item] = []
    for share in (0.35, 0.62, 0.85):
        run = _at(_arc(share * radius, 20.0, 320.0), x - 1.0, y - 1.0)
        found.append(bezier_from_points(run, pen=Pen.CONSTRUCTION))
    return found
