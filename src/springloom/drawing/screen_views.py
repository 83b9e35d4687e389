"""Half a paddle for a small screen: face and side, drawn wider and thicker than they are long.

A blade is ten times as long as it is wide: true to scale nothing of its thickness is seen on a
phone. Above the two views the whole paddle stands true to scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.arrange import spread
from springloom.drawing.lettering import text_box
from springloom.drawing.model import Anchor, Drawing, Item, Pen, Text, moved
from springloom.drawing.offsets import FROM_TIP, Offset, figure, offsets
from springloom.drawing.outline import MM, face_outline, side_outline, silhouette
from springloom.drawing.paths import line, polyline
from springloom.shape.blade import HalfPaddle
from springloom.units import System

WIDTH_MM = 90.0
SIDE_MM = 4.0  # left and right of the paddle
WIDER, THICKER = 4.0, 8.0
LETTER_MM = 2.6
ROOM_M = (0.100, 0.042)
"""Width and thickness that have room; the page grows only for more, so that it keeps its size
while a value is drawn along."""
_WHOLE_MM, _NAMES_MM, _GAP_MM = 7.0, 9.0, 5.0
_LAYER = "stations"


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the two views stand on their page.

    Attributes:
        tip_m: half the paddle's length.
        width_m: room across, of the widest place.
        thickness_m: room through it.
    """

    tip_m: float
    width_m: float
    thickness_m: float

    @classmethod
    def of(cls, *halves: HalfPaddle) -> Stand:
        """Give half paddles that are drawn over one another their room."""
        widest = max(max(h.loom.width, *(s.width for s in h.stations)) for h in halves)
        thickest = max(max(h.loom.thickness, *(s.crown for s in h.stations)) for h in halves)
        return cls(max(h.tip for h in halves),
                   max(ROOM_M[0], 1.1 * widest), max(ROOM_M[1], 1.1 * thickest))

    @property
    def along(self) -> float:
        """Millimetres of the page for a metre along the paddle."""
        return (WIDTH_MM - 2 * SIDE_MM) / self.tip_m

    @property
    def across(self) -> float:
        """Millimetres of the page for a metre across it."""
        return WIDER * self.along

    @property
    def through(self) -> float:
        """Millimetres of the page for a metre through it."""
        return THICKER * self.along

    @property
    def side_y(self) -> float:
        """Height of the side's middle line above the foot of the page, mm."""
        return 1.5 + 0.5 * self.through * self.thickness_m

    @property
    def face_y(self) -> float:
        """Height of the face's middle line, mm."""
        return self.side_y + 0.5 * (self.through * self.thickness_m
                                    + self.across * self.width_m) + _GAP_MM

    @property
    def names_y(self) -> float:
        """Height of the stations' names, mm."""
        return self.face_y + 0.5 * self.across * self.width_m + 2.0

    @property
    def height_mm(self) -> float:
        """Height of the page."""
        return self.names_y + _NAMES_MM + _WHOLE_MM

    def x(self, length_m: float) -> float:
        """Page x of a distance from the paddle's centre."""
        return SIDE_MM + self.along * length_m


def screen_views(half: HalfPaddle, other: HalfPaddle, system: System = "mm",
                 blade: str = "", over: HalfPaddle | None = None) -> Drawing:
    """Draw face and side of one half, and the whole paddle small above them.

    Args:
        half: what is drawn.
        other: the other half, for the small whole.
        system: in which distances from the tip are named.
        blade: which blade it is, where the two differ.
        over: another half to be drawn over it, dashed.
    """
    at, rows = Stand.of(half, *([over] if over else [])), offsets(half, system)
    second = _outlines(over, at, Pen.HIDDEN) if over else []
    items = (*_levels(at), *_stations(rows, at), *_whole(half, other, at), *second,
             *_outlines(half, at, Pen.OUTLINE),
             _title("Face", at.face_y + 0.5 * at.across * half.loom.width),
             _title("Side", at.side_y + 0.5 * at.through * half.loom.thickness))
    named = f"blade {blade}" if blade else "half a paddle"
    return Drawing(WIDTH_MM, at.height_mm, f"Face and side of {named}", items,
                   ("centre-lines", _LAYER, "outline", "side"), _description(half, rows, system))


def _outlines(half: HalfPaddle, at: Stand, pen: Pen) -> list[Item]:
    along, across, through = (value / MM for value in (at.along, at.across, at.through))
    return [face_outline(half, pen).mapped(((along, 0.0), (0.0, across)), (SIDE_MM, at.face_y)),
            side_outline(half, pen).mapped(((along, 0.0), (0.0, through)), (SIDE_MM, at.side_y))]


def _levels(at: Stand) -> list[Item]:
    return [line((SIDE_MM - 2.0, y), (WIDTH_MM - SIDE_MM + 2.0, y), Pen.CENTRE,
                 layer="centre-lines") for y in (at.face_y, at.side_y)]


def _title(name: str, y: float) -> Text:
    return Text(SIDE_MM, y + 1.0, name, LETTER_MM, layer="side")


def _whole(half: HalfPaddle, other: HalfPaddle, at: Stand) -> list[Item]:
    """The whole paddle, true to scale, over the full width."""
    scale = (WIDTH_MM - 2 * SIDE_MM) / (MM * (half.tip + other.tip))
    shape = silhouette(half, other, scale)
    return [shape.moved(SIDE_MM + scale * MM * other.tip, at.height_mm - 0.5 * _WHOLE_MM)]


def _stations(rows: Sequence[Offset], at: Stand) -> list[Item]:
    """Station lines through both views, up to their names, which find their room."""
    drawn = [row for row in rows if row.x > 0.0]
    names = [Text(0.0, 0.0, row.name.removesuffix(FROM_TIP), LETTER_MM, Anchor.MIDDLE,
                  layer=_LAYER, fractions=False) for row in drawn]
    wanted = [at.x(row.x) for row in drawn]
    placed = spread(wanted, [text_box(name).width for name in names], 1.4, 0.5, WIDTH_MM - 0.5)
    items: list[Item] = []
    for x, to, name in zip(wanted, placed or wanted, names, strict=True):
        way = ((to, at.names_y + 4.0), (x, at.names_y + 0.5), (x, 0.5))
        items.append(polyline(way, Pen.CONSTRUCTION, layer=_LAYER))
        if placed is not None:
            items += moved((name,), to, at.names_y + 5.0)
    return items


def _description(half: HalfPaddle, rows: Sequence[Offset], system: System) -> str:
    said = "; ".join(
        f"{row.name}: {figure(row.width, system) if row.width else 'round'} wide, "
        f"{figure(row.crown, system)} thick" for row in rows if row.x >= half.loom.root - 1e-9)
    return (f"{figure(half.tip, system)} from centre to tip. {said}. The face is drawn "
            f"{WIDER:g} times as wide, the side {THICKER:g} times as thick as it is long.")
