"""Full-size section templates for a small printer: a card gauge and the section itself, each place.

The gauge is the outside of half a section: a card with a mouth that is slid over the edge until
its open side lies on the centre line. The other half is its mirror, so one card serves both.
Beside it stands the inside, the whole section to be cut out or pricked through. Thin lines in
the gauge's mouth are the first flats, planed before anything is rounded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from springloom.drawing.arrange import lines_within
from springloom.drawing.columns import Head, framed, said, shortened
from springloom.drawing.lettering import block, text_box
from springloom.drawing.model import (
    Anchor,
    Array,
    Block,
    Bounds,
    Drawing,
    Item,
    Path,
    Pen,
    Text,
    Weight,
    moved,
)
from springloom.drawing.notes import SheetText
from springloom.drawing.offsets import CENTRE, Offset, figure, held, offsets
from springloom.drawing.outline import MM, section_outline
from springloom.drawing.paper import Page, check_bars, paper
from springloom.drawing.paths import curve_at, line, lines, path_bounds, polyline
from springloom.drawing.sections import edge_ticks
from springloom.errors import in_range, known
from springloom.shape.blade import EDGE_INSET, HalfPaddle
from springloom.shape.facets import LEAST_FACE, PLANED, Flats
from springloom.shape.section import Section
from springloom.units import Denominator, System

__all__ = ["section_templates"]

LOOM = "loom"
CUT, CENTRES, FACETS, NAMES = "cut", "centre-lines", "facets", "names"
LAYERS = (FACETS, CENTRES, NAMES, CUT)
BACK_MM = 14.0  # card beyond the edge
PAD_MM = 2.6  # from words to the card's edges
LEAST_ARM_MM = 9.0
NAME_MM, SAID_MM, SMALL_MM = 4.0, 2.5, 2.0
BETWEEN = 0.55  # between lines' boxes, in capital heights
WIDEST_NAME_MM = 54.0
OVER_MM = 4.0  # centre lines past the section
APART_MM = 8.0  # gauge to section, and least from row to row
MOST_APART_MM = 16.0
BARS_MM = 6.0  # from the check bars up to the rows
MEASURED = (0.5, 1.5)
"""Least and greatest measured width, as a share of the drawn one."""


@dataclass(frozen=True, slots=True)
class _Job:
    """What was asked for."""

    half: HalfPaddle
    words: SheetText
    system: System
    denominator: Denominator
    blade: str
    width_mm: float

    def figure(self, length_m: float) -> str:
        """Return a length as it is written on the card."""
        return figure(length_m, self.system, self.denominator)


@dataclass(frozen=True, slots=True)
class _Place:
    """One section and what is said of it.

    Attributes:
        row: the station's figures.
        section: as wide as drawn or as measured.
        flats: corners of the first flats from the edge to the centre line, (n, 2) in mm, one
            array for each face that has any.
        measured: whether the width was.
    """

    row: Offset
    section: Section
    flats: tuple[Array, ...]
    measured: bool

    @property
    def name(self) -> str:
        """What the maker calls the place; from centre to shoulder runs one oval, the loom's."""
        return LOOM if self.row.name == CENTRE else self.row.name


def section_templates(half: HalfPaddle, words: SheetText, *, page: Page = "a4",
                      system: System = "mm", denominator: Denominator = 64, blade: str = "",
                      widths: Mapping[str, float] | None = None) -> tuple[Drawing, ...]:
    """Draw gauge and section at full size at every place that has one.

    Args:
        half: what is drawn. The shoulder's section is the centre's; the tip has none.
        words: its title and date are set, no more.
        page: ``a4`` or ``letter``, upright.
        system: units of the figures.
        denominator: finest division of the inch.
        blade: which blade is drawn, where the two differ.
        widths: measured widths of the blade by a place's name, m; templates there are stretched
            to them, thickness and fullness kept.

    Raises:
        UnknownNameError: a page or a place nobody knows.
        RangeError: a measured width outside :data:`MEASURED` of the drawn one.
    """
    sheet = paper(page)
    job = _Job(half, words, system, denominator, blade, sheet.inner.width)
    rows = _rows(job, _places(job, widths or {}))
    _, room = framed(sheet, _head(job, 1, 1))
    foot = _foot(job, room)
    room = Bounds(room.x0, foot.bounds.y1 + BARS_MM, room.x1, room.y1)
    pages = _stacked(rows, room)
    made = []
    for n, items in enumerate(pages, 1):
        head = _head(job, n, len(pages))
        heading, _ = framed(sheet, head)
        made.append(Drawing(sheet.width_mm, sheet.height_mm, f"{words.title}: {head.kind}",
                            (*items, *foot.items, *heading), LAYERS, _description(job)))
    return tuple(made)


def _places(job: _Job, widths: Mapping[str, float]) -> list[_Place]:
    rows = [row for row in offsets(job.half, job.system, job.denominator)
            if row.edge is not None and row.x != job.half.loom.half_length]
    for name in widths:
        known(name, [row.name for row in rows], "templates.widths")
    u = job.half.parameter(np.array([row.x for row in rows]))
    corners = [MM * Flats(job.half, upper).vertices(u, PLANED[1]) for upper in (True, False)]
    return [_place(job.half, row, widths.get(row.name), both)
            for row, *both in zip(rows, *corners, strict=True)]


def _place(half: HalfPaddle, row: Offset, width: float | None, corners: list[Array]) -> _Place:
    section, stretch = half.section(row.x), 1.0
    if width is not None:
        low, high = (share * row.width for share in MEASURED)
        in_range(width, f"templates.widths.{row.name}", low, high, "m")
        stretch = width / row.width
        section = replace(section, half_width=0.5 * width)
    faces = ((section.top, 1.0), (section.bottom, -1.0))
    # A stretch keeps every tangent a tangent.
    flats = [points * np.array((stretch, side))
             for points, (depth, side) in zip(corners, faces, strict=True) if depth > LEAST_FACE]
    return _Place(row, section, tuple(flats), width is not None)


def _rows(job: _Job, places: Sequence[_Place]) -> list[Block]:
    """Set gauges and sections in two columns, the sections on one centre line."""
    gauges = [_gauge(job, place) for place in places]
    patterns = [_pattern(place, job.width_mm) for place in places]
    # Both stand about the section's own axes, so that a row's widest lines are in line.
    reach = max(gauge.bounds.x1 for gauge in gauges) + APART_MM
    low = min(pattern.bounds.x0 for pattern in patterns)
    high = max(pattern.bounds.x1 for pattern in patterns)
    middle = (reach + job.width_mm - low - high) / 2
    if reach + high - low > job.width_mm:
        return [made for pair in zip(gauges, patterns, strict=True) for made in pair]
    return [block((*gauge.items, *moved(pattern.items, middle, 0.0)))
            for gauge, pattern in zip(gauges, patterns, strict=True)]


def _gauge(job: _Job, place: _Place) -> Block:
    """Draw the card about the section's axes: open side on x = 0, the edge in its mouth."""
    upper, _, _, lower = section_outline(place.section).segments
    edge, top, low = upper[0, 0], upper[3, 1], lower[0, 1]
    above, below = _said(job, place, edge + BACK_MM - 2 * PAD_MM)
    high = _upward(above, top + PAD_MM)
    deep = _upward(below, 0.0)
    x1 = max(edge + BACK_MM, high.bounds.x1 + PAD_MM, deep.bounds.x1 + PAD_MM)
    y1 = max(high.bounds.y1 + PAD_MM, top + LEAST_ARM_MM)
    y0 = min(low - 2 * PAD_MM - deep.bounds.height, low - LEAST_ARM_MM)
    deep = deep.moved(0.0, y0 + PAD_MM - deep.bounds.y0)
    rim = polyline([(0.0, top), (0.0, y1), (x1, y1), (x1, y0), (0.0, y0), (0.0, low)])
    card = Path(np.concatenate((lower[None], upper[None], rim.segments)), Pen.OUTLINE, True,
                layer=CUT)
    flats = [polyline(corners, Pen.CONSTRUCTION, layer=FACETS) for corners in place.flats]
    axis = line((edge, 0.0), (x1, 0.0), Pen.CENTRE, layer=CENTRES)
    return block((*flats, axis, *high.items, *deep.items, card))


def _said(job: _Job, place: _Place, room: float) -> tuple[list[Text], list[Text]]:
    """Return what stands on the card over and under its mouth, each from its lowest line up."""
    row, section = place.row, place.section
    width, _ = job.figure(2 * section.half_width).rsplit(" ", 1)
    size = f"{width} × {job.figure(section.top + section.bottom)}"
    names = lines_within(held(place.name), max(room, WIDEST_NAME_MM), NAME_MM, Weight.BOLD)
    over = [_text(size, SAID_MM), *(_text(name, NAME_MM, Weight.BOLD)
                                    for name in reversed(names))]
    if place.measured:
        over.insert(0, _text("width as measured", SMALL_MM))
    title, small = shortened(job.words.title, max(room, WIDEST_NAME_MM), SMALL_MM)
    under = [_text(f"{title}{f', blade {job.blade}' if job.blade else ''}", small)]
    if row.x > 0.0:
        under.append(_text(f"{job.figure(row.x)} from centre", SMALL_MM))
    if section.top != section.bottom or section.ridge_top != section.ridge_bottom:
        over.insert(0, _text("upper face", SMALL_MM))
        under.append(_text("lower face", SMALL_MM))
    return over, under


def _text(string: str, size: float, weight: Weight = Weight.REGULAR) -> Text:
    return Text(PAD_MM, 0.0, string, size, weight=weight, layer=NAMES)


def _upward(texts: Sequence[Text], foot: float) -> Block:
    """Stand lines on each other from ``foot`` up; fractions get the room they need."""
    items: list[Text] = []
    for text in texts:
        placed = text.moved(0.0, foot - text_box(text).y0)
        items.append(placed)
        foot = text_box(placed).y1 + BETWEEN * text.size_mm
    return block(items)


def _pattern(place: _Place, room: float) -> Block:
    """Draw the section itself with its axes; half of it where the whole is too wide."""
    outline = section_outline(place.section, layer=CUT)
    ticks = np.array(edge_ticks(place.section))
    if path_bounds(outline).width + 2 * OVER_MM > room:
        upper, _, _, lower = outline.segments
        middle = polyline((upper[3], lower[0])).segments
        outline = replace(outline, segments=np.concatenate((lower[None], upper[None], middle)))
        ticks = ticks[ticks[:, 0, 0] > 0.0]
    box = path_bounds(outline)
    axes = [((box.x0 - OVER_MM, 0.0), (box.x1 + OVER_MM, 0.0)),
            ((0.0, box.y0 - OVER_MM), (0.0, box.y1 + OVER_MM))]
    return block((lines(axes, Pen.CENTRE, layer=CENTRES),
                  lines(ticks, Pen.DIMENSION, layer=CENTRES), outline,
                  *(_inside(place) or _under(place, box))))


def _under(place: _Place, box: Bounds) -> list[Text]:
    """Name the section under itself, downward from its axis."""
    items: list[Text] = []
    top = box.y0 - OVER_MM - 1.0
    for string in lines_within(held(place.name), max(box.width, WIDEST_NAME_MM), SAID_MM,
                               Weight.BOLD):
        row = Text(box.centre[0], 0.0, string, SAID_MM, Anchor.MIDDLE, weight=Weight.BOLD,
                   layer=NAMES)
        row = row.moved(0.0, top - text_box(row).y1)
        items.append(row)
        top = text_box(row).y0 - BETWEEN * SAID_MM
    return items


def _inside(place: _Place) -> list[Text]:
    """Name the section inside itself, for when it is cut out, if a quadrant has the room."""
    outer = curve_at(section_outline(place.section).segments[:1], np.linspace(0, 1, 65))[0]
    for size in (SAID_MM, SMALL_MM):
        text = Text(2.0, 0.8, place.name, size, layer=NAMES)
        text = text.moved(0.0, 0.8 - text_box(text).y0)
        box = text_box(text)
        # The curve falls outward: the far upper corner is the one that may stick out.
        height = float(np.interp(box.x1 + 0.6, outer[::-1, 0], outer[::-1, 1], right=0.0))
        if box.y1 + 0.6 < height:
            return [text]
    return []


def _stacked(rows: Sequence[Block], room: Bounds) -> list[list[Item]]:
    """Set rows down page after page, spare room shared between them; each page's items."""
    pages: list[list[Block]] = []
    left = 0.0
    for row in rows:
        if not pages or left < row.bounds.height:
            pages.append([])
            left = room.height
        pages[-1].append(row)
        left -= row.bounds.height + APART_MM
    return [_spaced(page, room) for page in pages]


def _spaced(rows: Sequence[Block], room: Bounds) -> list[Item]:
    spare = room.height - sum(row.bounds.height for row in rows)
    gap = min(spare / max(len(rows) - 1, 1), MOST_APART_MM)
    items: list[Item] = []
    top = room.y1
    for row in rows:
        items += moved(row.items, room.x0 - row.bounds.x0, top - row.bounds.y1)
        top -= row.bounds.height + gap
    return items


def _foot(job: _Job, room: Bounds) -> Block:
    """Set the check bars, and beside them how to use what is above; both stand on the foot."""
    bars = check_bars(room.x0, room.y0, beside=False)
    words = said("", (
        "Cut on the middle of the heavy lines. Left, the outside: slide the card over the edge "
        "until its open side lies on the centre line; where it binds, take wood off.",
        f"Right, the section itself; ticks are {job.figure(EDGE_INSET)} inside the edge. Thin "
        "lines in the card's mouth are the first flats, before rounding.",
    ), room.x1 - bars.bounds.x1 - APART_MM, 2.2)
    return block((*bars.items, *moved(words.items, bars.bounds.x1 + APART_MM,
                                      room.y0 - block(words.items).bounds.y0)))


def _head(job: _Job, number: int, count: int) -> Head:
    drawn = (f"Blade {job.blade}" if job.blade
             else "Half of the paddle is drawn; the other half is its mirror")
    under = "  ·  ".join(part for part in (drawn, job.words.date) if part.strip())
    return Head(job.words.title, under, f"section templates, sheet {number} of {count}",
                "Full size. Print at 100 %, never fitted to a page; lay a rule on both bars "
                "before cutting.")


def _description(job: _Job) -> str:
    return (f"Card gauges and sections at full size, for half a paddle "
            f"{job.figure(job.half.tip)} from centre to tip.")
