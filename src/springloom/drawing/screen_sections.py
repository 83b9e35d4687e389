"""Sections for a small screen: half size, two in a row, each with its figures."""

from __future__ import annotations

from dataclasses import dataclass, replace

from springloom.drawing.lettering import width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Drawing,
    Fill,
    Item,
    Path,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.offsets import Offset, figure, offsets
from springloom.drawing.outline import MM, section_outline
from springloom.drawing.paths import lines, path_bounds
from springloom.shape.blade import HalfPaddle
from springloom.units import System

WIDTH_MM = 90.0
COLUMNS = 2
LETTER_MM = 2.6
_LAYER = "sections"
_GAP_MM = 3.0
_WORDS_MM = 12.0


@dataclass(frozen=True, slots=True)
class SectionPlace:
    """Where one station's section stands on the page.

    Attributes:
        row: its figures.
        x, y: page place of the section's middle, mm.
        words_y: where its words begin, mm.
    """

    row: Offset
    x: float
    y: float
    words_y: float


@dataclass(frozen=True, slots=True)
class SectionSheet:
    """The page of sections: its scale, its height, and where each stands."""

    scale: float
    height_mm: float
    places: tuple[SectionPlace, ...]


def section_sheet(half: HalfPaddle, system: System = "mm") -> SectionSheet:
    """Find room for the sections at the centre and at every station but the tip."""
    rows = [row for row in offsets(half, system)
            if row.edge is not None and row.x != half.loom.half_length]
    cell = (WIDTH_MM - (COLUMNS + 1) * _GAP_MM) / COLUMNS
    scale = min(0.5, cell / (MM * max(row.width for row in rows)))
    heights = [scale * MM * row.crown for row in rows]
    places, y = [], _GAP_MM
    for first in range(0, len(rows), COLUMNS):
        tall = max(heights[first:first + COLUMNS])
        y += tall / 2
        for column, row in enumerate(rows[first:first + COLUMNS]):
            x = _GAP_MM + cell / 2 + column * (cell + _GAP_MM)
            places.append(SectionPlace(row, x, y, y + tall / 2 + 1.6))
        y += tall / 2 + _WORDS_MM
    return SectionSheet(scale, y, tuple(replace(p, y=y - p.y, words_y=y - p.words_y)
                                        for p in places))


def screen_sections(half: HalfPaddle, system: System = "mm", blade: str = "",
                    sheet: SectionSheet | None = None) -> Drawing:
    """Draw the sections of one half, width along the page, upper face up.

    Args:
        half: what is drawn.
        system: units of the figures.
        blade: which blade it is, where the two differ.
        sheet: as :func:`section_sheet` gives it, where that is known already.
    """
    sheet = sheet or section_sheet(half, system)
    items = [item for place in sheet.places for item in _cell(half, place, sheet, system)]
    said = "; ".join(_said(place.row, system) for place in sheet.places)
    title = f"Sections of blade {blade}" if blade else "Sections"
    return Drawing(WIDTH_MM, sheet.height_mm, title, tuple(items), (_LAYER,), said)


def _cell(half: HalfPaddle, place: SectionPlace, sheet: SectionSheet,
          system: System) -> list[Item]:
    k = sheet.scale
    outline = section_outline(half.section(place.row.x)).mapped(((k, 0.0), (0.0, k)))
    box = path_bounds(outline)
    down = -0.5 * (box.y0 + box.y1)  # unlike faces do not lie about their widest line
    outline = outline.moved(place.x, place.y + down)
    wash = Path(outline.segments, None, True, Fill.WASH, _LAYER)
    level = place.y + down
    cross = lines([((place.x + box.x0 - 1.5, level), (place.x + box.x1 + 1.5, level))],
                  Pen.CENTRE, layer=_LAYER)
    return [wash, cross, outline, *_words(place, system)]


def _words(place: SectionPlace, system: System) -> list[Item]:
    row, top = place.row, place.words_y
    said = (f"{_bare(row.width, system)} × {figure(row.crown, system)}, "
            f"edge {_bare(row.edge or 0.0, system)}")
    size = min(LETTER_MM, LETTER_MM * (WIDTH_MM / COLUMNS - 4.0) / width_mm(said, LETTER_MM))
    return [
        Text(place.x, top, row.name, LETTER_MM, Anchor.MIDDLE, Baseline.TOP, weight=Weight.BOLD,
             layer=_LAYER, fractions=False),
        Text(place.x, top - 1.7 * LETTER_MM, said, size, Anchor.MIDDLE, Baseline.TOP,
             layer=_LAYER),
    ]


def _bare(length_m: float, system: System) -> str:
    return figure(length_m, system).removesuffix(f" {system}")


def _said(row: Offset, system: System) -> str:
    return (f"{row.name}: {figure(row.width, system)} wide, {figure(row.crown, system)} thick, "
            f"edge {figure(row.edge or 0.0, system)}")

