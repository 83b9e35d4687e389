"""A drawing too large for the printer, cut into sheets that are laid together again.

Neighbours share a strip. In its middle runs the line of their join, drawn on both, from target
to target; whoever cuts one sheet there and lays it on the other's line has the whole. Lines and
fills are cut exactly; words stand whole where a sheet has room for them, and are cut as shapes
where none has.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from springloom.drawing.clip import clipped, clipped_fill
from springloom.drawing.columns import shortened
from springloom.drawing.glyphs import as_shapes
from springloom.drawing.lettering import block, text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Bounds,
    Drawing,
    Fill,
    Item,
    Pen,
    Point,
    Text,
    Weight,
    moved,
)
from springloom.drawing.paper import Paper, check_bars
from springloom.drawing.paths import circle, lines, rect
from springloom.errors import InputError, in_range

OVERLAP_MM = 20.0
BAND_MM = 9.0  # beside the window, for targets and what is said of a join
FOOT_MM = 12.0  # check bars and the key
TARGET_MM = 2.2  # radius of a target; its cross is half as long again
CLEAR_MM = 0.8  # between the line of a join and any word
NUMBER_MM, SAID_MM = 3.0, 2.5
LEAST_SAID_MM = 25.0  # in less room nothing is said
LAYER = "joins"
HOW = ("Print at 100 %. Cut one sheet along a join and lay it on the other's line, target on "
       "target; then lay a tape along.")

Say = Callable[[float], str]


@dataclass(frozen=True, slots=True)
class Grid:
    """Where a drawing is cut.

    Attributes:
        area: what is shown of the drawing.
        columns: places of the joins along x, rising.
        rows: places of the joins along y, rising.
        overlap: width of the strip that neighbours share.
    """

    area: Bounds
    columns: tuple[float, ...] = ()
    rows: tuple[float, ...] = ()
    overlap: float = OVERLAP_MM

    def windows(self) -> tuple[tuple[Bounds, ...], ...]:
        """What each sheet shows: rows from the top, each from the left."""
        area, half = self.area, self.overlap / 2
        across = _spans(area.x0, area.x1, self.columns, half)
        up = _spans(area.y0, area.y1, self.rows, half)
        return tuple(tuple(Bounds(x0, y0, x1, y1) for x0, x1 in across)
                     for y0, y1 in reversed(up))


def room_on(paper: Paper, *, rows: bool) -> tuple[float, float]:
    """Width and height of the greatest window on a sheet; ``rows`` if joins run across too."""
    inner = paper.inner
    return inner.width - 2 * BAND_MM * rows, inner.height - FOOT_MM - 2 * BAND_MM


def grid_for(area: Bounds, paper: Paper, overlap: float = OVERLAP_MM) -> Grid:
    """Cut an area into as few sheets as hold it, all of a size."""
    width, height = room_on(paper, rows=False)
    rows = joins_along(area.y0, area.y1, height, overlap)
    width, height = room_on(paper, rows=bool(rows))
    return Grid(area, joins_along(area.x0, area.x1, width, overlap), rows, overlap)


def joins_along(low: float, high: float, room: float, overlap: float = OVERLAP_MM, *,
                avoid: Sequence[tuple[float, float]] = (), start: float = 0.0,
                step: float = 0.0) -> tuple[float, ...]:
    """Place joins so that each sheet shows at most ``room``.

    Args:
        low: one end of what is shown, mm.
        high: the other end.
        room: greatest extent of a window.
        overlap: width of the strip that neighbours share.
        avoid: intervals that a join should leave alone; where it can't, it stays as far from
            their ends as it can.
        start: joins stand at whole steps from here.
        step: 0 lets them stand anywhere.

    Raises:
        RangeError: a window hardly wider than the strips it shares.
    """
    in_range(overlap, "tiling.overlap", 0.0, room / 3, "mm", open_low=True)
    length = high - low
    if length <= room + 1e-9:
        return ()
    count = math.ceil((length - overlap) / (room - overlap) - 1e-9)
    pitch = (length - overlap) / count
    found: list[float] = []
    for n in range(1, count):
        least = max(high - room + overlap / 2 - (count - 1 - n) * (room - overlap),
                    (found[-1] if found else low) + overlap)
        most = low + room - overlap / 2 if not found else found[-1] + room - overlap
        found.append(_place(low + overlap / 2 + n * pitch, (least, most), avoid, start, step))
    return tuple(found)


def _place(even: float, reach: tuple[float, float], avoid: Sequence[tuple[float, float]],
           start: float, step: float) -> float:
    """Choose the clear place nearest to ``even``; the clearest where none is clear."""
    low, high = reach
    pace = step or 1.0
    origin = start if step else even
    numbers = np.arange(math.ceil((low - origin) / pace - 1e-9),
                        math.floor((high - origin) / pace + 1e-9) + 1)
    places = origin + pace * numbers
    if not len(places):
        return min(max(even, low), high)
    gaps = [np.maximum(a - places, places - b) for a, b in avoid]
    clear = np.minimum(np.min(gaps, axis=0), 0.0) if gaps else np.zeros(len(places))
    best = np.lexsort((np.abs(places - even), -clear))[0]
    return float(places[best])


def tiled(drawing: Drawing, grid: Grid, paper: Paper, *, say: Say | None = None,
          title: str = "") -> tuple[Drawing, ...]:
    """Cut a drawing into sheets.

    Args:
        drawing: any page; its items keep their layers.
        grid: where it is cut.
        paper: what each sheet is printed on.
        say: words for the place of an upright join, given its x, such as a distance to check.
        title: set on each sheet; the drawing's own when empty.

    Raises:
        InputError: a window is larger than the sheet has room for.
    """
    windows = [window for row in grid.windows() for window in row]
    room = room_on(paper, rows=bool(grid.rows))
    widest = max(w.width for w in windows), max(w.height for w in windows)
    if widest[0] > room[0] + 1e-6 or widest[1] > room[1] + 1e-6:
        raise InputError("a sheet is too small for its window", field="tiling.grid",
                         given=f"{widest[0]:.1f} × {widest[1]:.1f} mm",
                         allowed=f"{room[0]:.1f} × {room[1]:.1f} mm")
    items = _settled(drawing, windows)
    made = []
    for number, window in enumerate(windows, 1):
        sheet = _Sheet(drawing, grid, paper, window, number, say, title or drawing.title)
        made.append(_page(sheet, items))
    return tuple(made)


def inside(items: Iterable[Item], window: Bounds) -> tuple[Item, ...]:
    """Return what lies in the window, lines and fills cut at its edges; words whole or not."""
    kept: list[Item] = []
    for item in items:
        if isinstance(item, Text):
            kept += [item] if window.contains(text_box(item)) else []
            continue
        if item.fill:
            kept += [piece] if (piece := clipped_fill(item, window)) else []
        if item.pen:
            kept += [piece] if (piece := clipped(replace(item, fill=None), window)) else []
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class _Sheet:
    """One sheet to be made."""

    drawing: Drawing
    grid: Grid
    paper: Paper
    window: Bounds
    number: int
    say: Say | None
    title: str

    @property
    def place(self) -> Bounds:
        """Where the window stands on the sheet: in the middle of what is left for it."""
        inner = self.paper.inner
        low = inner.y0 + FOOT_MM + BAND_MM
        x = inner.centre[0] - self.window.width / 2
        y = (low + inner.y1 - BAND_MM) / 2 - self.window.height / 2
        return Bounds(x, y, x + self.window.width, y + self.window.height)

    @property
    def shift(self) -> Point:
        """From the drawing to the sheet."""
        return self.place.x0 - self.window.x0, self.place.y0 - self.window.y0

    def joins(self, axis: int) -> list[tuple[int, float]]:
        """Numbers and places on the sheet of the joins it shows, upright ones for axis 0."""
        window = (self.window.x0, self.window.x1) if axis == 0 else (self.window.y0,
                                                                     self.window.y1)
        every = self.grid.columns if axis == 0 else self.grid.rows
        return [(n, at + self.shift[axis]) for n, at in enumerate(every, 1)
                if window[0] < at < window[1]]


def _page(sheet: _Sheet, items: Sequence[Item]) -> Drawing:
    shown = moved(inside(items, sheet.window), *sheet.shift)
    words = [text_box(item) for item in shown if isinstance(item, Text)]
    made = [*shown, *_upright_joins(sheet, words), *_level_joins(sheet, words),
            *_headings(sheet), *_foot(sheet)]
    count = (len(sheet.grid.columns) + 1) * (len(sheet.grid.rows) + 1)
    title = f"{sheet.title}, sheet {sheet.number} of {count}"
    return Drawing(sheet.paper.width_mm, sheet.paper.height_mm, title, tuple(made),
                   sheet.drawing.layers, sheet.drawing.description)


def _settled(drawing: Drawing, windows: Sequence[Bounds]) -> list[Item]:
    """Turn words that no window holds whole into shapes, in the order they are drawn."""
    items: list[Item] = []
    for layer in drawing.layers:
        for item in drawing.on_layer(layer):
            if isinstance(item, Text):
                box = text_box(item)
                held = any(window.contains(box) for window in windows)
                items.append(item if held else as_shapes(item))
            else:
                items.append(item)
    return items


def _upright_joins(sheet: _Sheet, words: Sequence[Bounds]) -> list[Item]:
    """Draw the joins with the sheets beside: line, targets, number and what is said of them."""
    place = sheet.place
    ends = place.y0 - BAND_MM / 2, place.y1 + BAND_MM / 2
    items: list[Item] = []
    for n, x in sheet.joins(0):
        items += [*_target(x, ends[0]), *_target(x, ends[1])]
        parts = _broken(ends, [(b.y0, b.y1) for b in words
                               if b.x0 - CLEAR_MM < x < b.x1 + CLEAR_MM])
        items.append(lines([((x, a), (x, b)) for a, b in parts], Pen.CONSTRUCTION, layer=LAYER))
        side = 1.0 if x < place.centre[0] else -1.0
        room = (place.width - sheet.grid.overlap) / 2
        said = sheet.say(x - sheet.shift[0]) if sheet.say else ""
        items += _beside((x + side * 5.0, ends[1]), f"Join {n}", said, side, room)
        items += _beside((x + side * 5.0, ends[0]), f"Join {n}", "", side, room)
    return items


def _level_joins(sheet: _Sheet, words: Sequence[Bounds]) -> list[Item]:
    """Draw the joins with the sheets above and below; they are lettered, from the top."""
    place = sheet.place
    ends = place.x0 - BAND_MM / 2, place.x1 + BAND_MM / 2
    count = len(sheet.grid.rows) + 1
    items: list[Item] = []
    for n, y in sheet.joins(1):
        parts = _broken(ends, [(b.x0, b.x1) for b in words
                               if b.y0 - CLEAR_MM < y < b.y1 + CLEAR_MM])
        items.append(lines([((a, y), (b, y)) for a, b in parts], Pen.CONSTRUCTION, layer=LAYER))
        side = 1.0 if y < place.centre[1] else -1.0
        for x in ends:
            items += _target(x, y)
            items.append(Text(x, y + side * 5.0, f"Join {_letters(count - n)}", NUMBER_MM,
                              Anchor.START if side > 0 else Anchor.END, Baseline.MIDDLE, 90.0,
                              Weight.BOLD, LAYER))
    return items


def _beside(at: Point, number: str, said: str, side: float, room: float) -> list[Text]:
    """Set a join's number and words from ``at`` away from its target, within ``room``."""
    width = width_mm(number, NUMBER_MM, Weight.BOLD)
    anchor = Anchor.START if side > 0 else Anchor.END
    texts = [Text(*at, number, NUMBER_MM, anchor, Baseline.MIDDLE, weight=Weight.BOLD,
                  layer=LAYER)]
    left = room - 10.0 - width
    if said.strip() and left > LEAST_SAID_MM:
        string, size = shortened(said, left, SAID_MM)
        texts.append(Text(at[0] + side * (width + 2.5), at[1], string, size, anchor,
                          Baseline.MIDDLE, layer=LAYER))
    return texts


def _target(x: float, y: float) -> tuple[Item, ...]:
    """Draw a register cross in a circle."""
    arm = 1.5 * TARGET_MM
    return (circle(x, y, TARGET_MM, Pen.DIMENSION, layer=LAYER),
            lines([((x - arm, y), (x + arm, y)), ((x, y - arm), (x, y + arm))], Pen.DIMENSION,
                  layer=LAYER))


def _headings(sheet: _Sheet) -> list[Item]:
    """Set the title over the window and how to join under it, between what joins say."""
    place = sheet.place
    several = bool(sheet.grid.columns or sheet.grid.rows)
    rows = ((place.y1, sheet.title, NUMBER_MM, Weight.BOLD), (place.y0 - BAND_MM, HOW, SAID_MM,
                                                               Weight.REGULAR))
    items: list[Item] = []
    for foot, words, size, weight in rows if several else rows[:1]:
        taken = [text_box(t) for t in _upright_joins(sheet, ()) if isinstance(t, Text)
                 and foot <= t.y <= foot + BAND_MM]
        left = max((b.x1 for b in taken if b.x0 < place.centre[0]), default=place.x0)
        right = min((b.x0 for b in taken if b.x1 > place.centre[0]), default=place.x1)
        if right - left > LEAST_SAID_MM:
            string, fitting = shortened(words, right - left - 8.0, size, weight)
            items.append(Text((left + right) / 2, foot + BAND_MM / 2, string, fitting,
                              Anchor.MIDDLE, Baseline.MIDDLE, weight=weight, layer=LAYER))
    return items


def _foot(sheet: _Sheet) -> list[Item]:
    """Set the check bars and, right of them, which sheet this is."""
    inner = sheet.paper.inner
    bars = check_bars(inner.x0, inner.y0, beside=True)
    rows, columns = len(sheet.grid.rows) + 1, len(sheet.grid.columns) + 1
    words = Text(inner.x1, bars.bounds.y1, f"Sheet {sheet.number} of {rows * columns}", 3.5,
                 Anchor.END, Baseline.TOP, weight=Weight.BOLD, layer=LAYER)
    room = Bounds(bars.bounds.x1 + 8.0, inner.y0 + 0.2, inner.x1, bars.bounds.y1 - 5.0)
    return [*bars.items, words, *(_key(sheet, room).items if rows * columns > 1 else ())]


def _key(sheet: _Sheet, room: Bounds) -> Block:
    """Draw all sheets in small, this one in ink, in the lower right corner of ``room``."""
    area = sheet.grid.area
    scale = min(room.width / area.width, room.height / area.height)
    x0, y0 = room.x1 - scale * area.width, room.y0
    across = _spans(area.x0, area.x1, sheet.grid.columns, 0.0)
    up = _spans(area.y0, area.y1, sheet.grid.rows, 0.0)
    cells = list(itertools.product(reversed(up), across))
    items: list[Item] = []
    for n, ((low, high), (left, right)) in enumerate(cells, 1):
        items.append(rect(x0 + scale * (left - area.x0), y0 + scale * (low - area.y0),
                          scale * (right - left), scale * (high - low), Pen.CONSTRUCTION,
                          fill=Fill.INK if n == sheet.number else None, layer=LAYER))
    return block(items)


def _spans(low: float, high: float, joins: Sequence[float],
           half: float) -> list[tuple[float, float]]:
    ends = [low, *joins, high]
    return [(a - (half if a > low else 0.0), b + (half if b < high else 0.0))
            for a, b in itertools.pairwise(ends)]


def _broken(ends: tuple[float, float],
            words: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return what is left of a line once it keeps clear of words."""
    parts = [ends]
    for low, high in words:
        cut = low - CLEAR_MM, high + CLEAR_MM
        parts = [piece for a, b in parts
                 for piece in ((a, min(b, cut[0])), (max(a, cut[1]), b)) if piece[1] > piece[0]]
    return parts


def _letters(n: int) -> str:
    return "" if n < 1 else _letters((n - 1) // 26) + chr(ord("A") + (n - 1) % 26)


__all__ = ["Grid", "grid_for", "inside", "joins_along", "room_on", "tiled"]
