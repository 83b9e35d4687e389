"""The layout sheet: what is drawn on the squared blank, and in which order it is planed off.

Half a paddle at full size on one long page. From the top: face and side with the blank's edges,
the outline, the taper and every flat's lines; figures that explain the letters and the order;
along the foot the check bars, the words, the figures to set off, and the title block.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.layout_figures import ROUND_TIP, face_figures
from springloom.drawing.layout_key import GAP_MM, SHOWN, letters_key, order_row, row_width
from springloom.drawing.layout_lines import blank_edges, layout_lines, unnamed_places
from springloom.drawing.layout_table import layout_table
from springloom.drawing.lettering import block
from springloom.drawing.model import Block, Drawing, Item, Path, Text
from springloom.drawing.notes import check_block, notes_block
from springloom.drawing.offsets import figure, offsets
from springloom.drawing.outline import MM, side_outline
from springloom.drawing.paths import path_bounds
from springloom.drawing.plan_sheet import (
    COLUMN_MM,
    LEFT_MM,
    NOTES_MM,
    RIGHT_MM,
    ROOM_MM,
)
from springloom.drawing.rolls import BORDER_MM, INSIDE_MM, along_foot, double_frame, stacked
from springloom.drawing.title_block import WIDTH_MM, Title, title_block
from springloom.drawing.views import Frame, views
from springloom.shape.marks import places
from springloom.shape.paddle import Paddle
from springloom.shape.stages import Carving, carvings
from springloom.units import Denominator, System

LAYERS = ("frame", "centre-lines", "stations", "dimensions", "blank", "layout", "key", "outline",
          "side")
LARGEST = 2.0  # key figures are no larger than this
KEY_GAP = 26.0  # between the groups of key figures


@dataclass(frozen=True, slots=True)
class LayoutText:
    """Words set on the sheet as they are, one line each without line breaks; "" leaves out.

    Attributes:
        title: the paddle's name.
        subtitle: a line under it.
        order: what to draw and plane, step by step.
        close: how near to the line to work at each step.
        guides: which flats guide themselves, and where wood is left.
        cautions: what to take care of.
        date: of the sheet.
    """

    title: str
    subtitle: str = ""
    order: tuple[str, ...] = ()
    close: tuple[str, ...] = ()
    guides: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    date: str = ""

    def entries(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return heads and what stands under each, those without words left out."""
        said = (("Order", self.order), ("How near", self.close), ("Guides", self.guides),
                ("Take care", self.cautions))
        kept = ((head, tuple(word for word in words if word.strip())) for head, words in said)
        return tuple((head, words) for head, words in kept if words)


@dataclass(frozen=True, slots=True)
class _Job:
    """What was asked for."""

    carving: Carving
    other: Carving
    words: LayoutText
    length_m: float
    system: System
    denominator: Denominator
    sheet: str = "1 of 1"
    blade: str = ""


def layout_sheets(paddle: Paddle, words: LayoutText, system: System = "mm",
                  denominator: Denominator = 64) -> tuple[Drawing, ...]:
    """Draw the layout sheet of a paddle, or one for each blade where they differ.

    Args:
        paddle: what is carved.
        words: what the caller says, set as it is.
        system: units that come first; the table gives both.
        denominator: finest division of the inch.

    Raises:
        InputError: words with line breaks, or a page of more than 10 m.
    """
    a, b = carvings(paddle)
    job = _Job(a, b, words, paddle.length, system, denominator)
    if a is b:
        return (_sheet(job),)
    pairs = ((a, b, "1 of 2", "A"), (b, a, "2 of 2", "B"))
    return tuple(_sheet(_Job(one, other, words, paddle.length, system, denominator, sheet, blade))
                 for one, other, sheet, blade in pairs)


def _sheet(job: _Job) -> Drawing:
    tables = _tables(job)
    # Two tables stand side by side, or one under the other where that makes a lower foot.
    ways = (tables, _under(tables)) if len(tables) > 1 else (tables,)
    made = [_foot(job, (check_block(0.0, 0.0), *columns)) for columns in ways]
    width, foot = min(made, key=lambda each: each[1].bounds.y1)
    frame = Frame(LEFT_MM, BORDER_MM + ROOM_MM, width - BORDER_MM - ROOM_MM, job.system,
                  job.denominator)
    height, items = stacked((_views(job, frame), _keys(job, frame)), foot.bounds.y1)
    page = (*double_frame(width, height), *items, *foot.items)
    return Drawing(width, height, f"{job.words.title}: layout", page, LAYERS, _description(job))


def _foot(job: _Job, columns: tuple[Block, ...]) -> tuple[int, Block]:
    """Stand check bars, words, tables and title along the foot; return the page's width too."""
    half = job.carving.half
    fixed = (sum(c.bounds.width for c in columns) + WIDTH_MM + INSIDE_MM
             + (len(columns) + 1) * COLUMN_MM + 2 * BORDER_MM)
    width = math.ceil(max(MM * half.tip + LEFT_MM + RIGHT_MM, fixed + NOTES_MM[0]))
    title = title_block(_title(job), half, job.other.half, width - BORDER_MM, BORDER_MM)
    check, *tables = columns
    return width, along_foot((check, *_notes(job, width - fixed), *tables), title)


def _under(tables: tuple[Block, ...]) -> tuple[Block, ...]:
    """Set tables one under the other."""
    items: list[Item] = []
    y = 0.0
    for made in tables:
        items += made.moved(-made.bounds.x0, y - made.bounds.y1).items
        y -= made.bounds.height + COLUMN_MM
    return (block(items),)


def _notes(job: _Job, room: float) -> list[Block]:
    """Set the words in one column, or in two where they fit side by side."""
    entries = _entries(job)
    beside = (room - COLUMN_MM) / 2
    if beside < NOTES_MM[0] or len(entries) < 2:
        return [notes_block(entries, 0.0, 0.0, min(NOTES_MM[1], room))]
    width = min(NOTES_MM[1], beside)
    made = [[notes_block(part, 0.0, 0.0, width) for part in (entries[:n], entries[n:])]
            for n in range(1, len(entries))]
    return min(made, key=lambda pair: max(part.bounds.height for part in pair))


def _views(job: _Job, frame: Frame) -> Block:
    """Draw face and side with everything that is drawn on the wood."""
    carving = job.carving
    made = views(carving.half, offsets(carving.half, job.system, job.denominator), frame)
    side = next(item for item in made.items if isinstance(item, Path) and item.layer == "side")
    drop = path_bounds(side).y1 - path_bounds(side_outline(carving.half)).y1
    texts = [item for item in made.items if isinstance(item, Text)]
    return block((*made.items, *blank_edges(carving, frame, drop, texts),
                  *unnamed_places(carving, frame, drop, _round_tip(job)),
                  *layout_lines(carving, frame, drop)))


def _keys(job: _Job, frame: Frame) -> Block:
    """Draw the key to the letters, and the order on the loom and on the blade, in one row."""
    carving = job.carving
    middle = _middle(job)
    key = letters_key(carving)
    gaps = 2 * KEY_GAP + 2 * (len(SHOWN) - 1) * GAP_MM + 20.0
    free = frame.high - frame.low - key.bounds.width - gaps
    rows = ((0.0, "On the loom"), (middle.x, f"On the blade, at {middle.name}"))
    scale = min(LARGEST, free / sum(row_width(carving, x) for x, _ in rows))
    figures = [key, *(order_row(carving, x, title, scale) for x, title in rows)]
    left = frame.low + 9.0
    spare = frame.high - left - sum(f.bounds.width for f in figures)
    gap = min(spare / 2, 3.0 * KEY_GAP)
    items: list[Item] = []
    for made in figures:
        items += made.moved(left - made.bounds.x0, -made.bounds.y1).items
        left += made.bounds.width + gap
    return block(items)


def _tables(job: _Job) -> tuple[Block, ...]:
    """Set one table, or one for each face where they differ."""
    made = []
    for one in face_figures(job.carving, job.system, job.denominator):
        title = f"Figures to set off{f', {one.face} face' if one.face else ''}"
        made.append(layout_table(one.names, one.figures, title, job.denominator))
    return tuple(made)


def _round_tip(job: _Job) -> list[float]:
    half = job.carving.half
    named = {row.x for row in offsets(half, job.system, job.denominator)}
    return [float(x) for x in places(half, ROUND_TIP[job.system]) if x not in named]


def _entries(job: _Job) -> list[tuple[str, Sequence[str]]]:
    alike = job.carving.alike
    reading = (
        "Full lines a and b: flat 1. Broken lines c and e: flats 2 and 3. Thin lines d and f: "
        "drawn on flat 1 once it is planed.",
        "Both faces are alike." if alike else
        "Over the centre lines stands the upper face, under them the lower face.",
        "Every figure is rounded so that wood is left. From the root to the last place before "
        "the round of the tip spring a batten through the marks; over the shoulder trace the "
        "drawing; round the tip join the marks.",
    )
    return [*job.words.entries(), ("Sheet", reading)]


def _title(job: _Job) -> Title:
    words = job.words
    whole = f"{figure(job.length_m, job.system, job.denominator)} overall"
    units = "millimetres" if job.system == "mm" else "inches"
    cells = [("Scale", "1:1"), ("Units", units), ("Sheet", job.sheet)]
    if words.date.strip():
        cells.append(("Date", words.date))
    under = [words.subtitle, f"Layout of the flats{', blade ' + job.blade if job.blade else ''}"]
    return Title(words.title, tuple(w for w in under if w.strip()), whole, tuple(cells))


@dataclass(frozen=True, slots=True)
class _Place:
    x: float
    name: str


def _middle(job: _Job) -> _Place:
    """Return the station nearest to the middle of the blade."""
    half = job.carving.half
    inner = [row for row in offsets(half, job.system, job.denominator)[2:] if row.x < half.tip]
    middle = half.at_fraction(0.5)
    row = min(inner, key=lambda row: abs(row.x - middle))
    return _Place(row.x, row.name)


def _description(job: _Job) -> str:
    names = ", ".join(row.name for row in offsets(job.carving.half, job.system, job.denominator))
    return (f"Layout of half a paddle at full size: the blank's edges, the outline, the taper and "
            f"the lines of every flat, with figures at {names}.")
