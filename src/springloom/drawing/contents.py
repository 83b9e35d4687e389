"""A contents page for many sheets in one document, each line leading to its page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.columns import GAP, Head, framed, shortened, split
from springloom.drawing.lettering import text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Bounds,
    Drawing,
    Item,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.paper import Page, paper
from springloom.drawing.paths import line
from springloom.drawing.pdf import Jump, Mark

LAYER = "contents"
STEP_MM = 5.6  # from line to line
SIZE_MM = (2.5, 2.2)  # of outer and inner lines
INDENT_MM = 5.0
NUMBER_MM = 2.0  # of a page's own number
NUMBER_FOOT = 5.0  # page edge to its foot: outside every frame, inside what printers reach


@dataclass(frozen=True, slots=True)
class Part:
    """Sheets that follow one another under one name; ``level`` 0 opens a chapter."""

    title: str
    drawings: tuple[Drawing, ...]
    level: int = 0


@dataclass(frozen=True, slots=True)
class Book:
    """Pages ready for a document with an outline and a contents page that leads everywhere."""

    drawings: tuple[Drawing, ...]
    marks: tuple[Mark, ...]
    jumps: tuple[Jump, ...]


def book(title: str, under: str, parts: Sequence[Part], page: Page = "a4") -> Book:
    """Put a contents page before the parts and a number on every page.

    A part without sheets of its own stands for the next one's first page.
    """
    count = _contents_pages(title, under, len(parts), page)
    starts: list[int] = []
    at = count
    for part in parts:
        starts.append(at)
        at += len(part.drawings)
    contents, jumps = _contents(title, under, parts, starts, page)
    sheets = [*contents, *(drawing for part in parts for drawing in part.drawings)]
    marks = [Mark("Contents", 0), *(Mark(part.title, start, part.level)
                                    for part, start in zip(parts, starts, strict=True))]
    return Book(tuple(numbered(drawing, n + 1, len(sheets)) for n, drawing in enumerate(sheets)),
                tuple(marks), tuple(jumps))


def numbered(drawing: Drawing, number: int, count: int) -> Drawing:
    """Return a page with its number in the lower right corner, outside its frame."""
    return drawing.with_items(Text(drawing.width_mm - 10.0, NUMBER_FOOT, f"{number} of {count}",
                                   NUMBER_MM, Anchor.END, layer="page-number", fractions=False))


def _rooms(title: str, under: str, page: Page) -> tuple[tuple[Item, ...], tuple[Bounds, ...]]:
    items, room = framed(paper(page), Head(title, under, "Contents"))
    return items, split(room, (1.0, 1.0), GAP)


def _lines_a_column(room: Bounds) -> int:
    return int(room.height / STEP_MM)


def _contents_pages(title: str, under: str, entries: int, page: Page) -> int:
    columns = _rooms(title, under, page)[1]
    return max(1, math.ceil(entries / (_lines_a_column(columns[0]) * len(columns))))


def _contents(title: str, under: str, parts: Sequence[Part], starts: Sequence[int],
              page: Page) -> tuple[list[Drawing], list[Jump]]:
    frame, columns = _rooms(title, under, page)
    each = _lines_a_column(columns[0])
    drawings: list[Drawing] = []
    jumps: list[Jump] = []
    sheet = paper(page)
    for first in range(0, max(len(parts), 1), each * len(columns)):
        items: list[Item] = list(frame)
        for n in range(first, min(first + each * len(columns), len(parts))):
            column, row = divmod(n - first, each)
            box = columns[column]
            y = box.y1 - (row + 0.6) * STEP_MM
            items += _line(parts[n], starts[n] + 1, box, y)
            jumps.append(Jump(len(drawings), Bounds(box.x0, y - 0.35 * STEP_MM, box.x1,
                                                    y + 0.65 * STEP_MM), starts[n]))
        drawings.append(Drawing(sheet.width_mm, sheet.height_mm, f"{title}: contents",
                                tuple(items), description="Contents, each line with its page"))
    return drawings, jumps


def _line(part: Part, number: int, box: Bounds, y: float) -> list[Item]:
    """Set title, a fine line and the page's number."""
    outer = part.level == 0
    size, indent = SIZE_MM[0 if outer else 1], 0.0 if outer else INDENT_MM
    weight = Weight.BOLD if outer else Weight.REGULAR
    far = Text(box.x1, y, str(number), size, Anchor.END, weight=weight, layer=LAYER)
    room = box.width - indent - width_mm(str(number), size, weight) - 6.0
    string, size = shortened(part.title, room, size, weight)
    name = Text(box.x0 + indent, y, string, size, weight=weight, layer=LAYER)
    ends = text_box(name).x1 + 2.0, text_box(far).x0 - 2.0
    rule = [line((ends[0], y), (ends[1], y), Pen.GRID, layer=LAYER)] if ends[1] > ends[0] else []
    return [name, *rule, far]
