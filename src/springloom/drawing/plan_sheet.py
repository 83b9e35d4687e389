"""The plan sheet: half a paddle at full size on one long page, ready to be cut by.

From the top: the face with the stations' names, the side, the lengths, the sections; along the
foot the check bars, the words, the offsets and the title block. The page is as long as the
paddle needs and as high as a sheet that a common roll holds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from springloom.drawing.model import Block, Drawing
from springloom.drawing.notes import SheetText, check_block, notes_block
from springloom.drawing.offsets import Offset, figure, offsets, offsets_table
from springloom.drawing.outline import MM
from springloom.drawing.rolls import BORDER_MM, INSIDE_MM, along_foot, double_frame, stacked
from springloom.drawing.sections import sections_block
from springloom.drawing.title_block import WIDTH_MM, Title, title_block
from springloom.drawing.views import Frame, views
from springloom.shape.blade import EDGE_INSET, HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.units import Denominator, System

__all__ = ["SheetText", "plan_sheet", "plan_sheets"]

LAYERS = ("frame", "centre-lines", "stations", "dimensions", "sections", "outline", "side")
ROOM_MM = 9.0  # frame to the outermost name or section
LEFT_MM, RIGHT_MM = 62.0, 58.0  # page edge to centre, tip to page edge
NOTES_MM = (105.0, 240.0)  # least and greatest width of the words
COLUMN_MM = 18.0  # least room between the columns at the foot


@dataclass(frozen=True, slots=True)
class _Job:
    """What was asked for."""

    half: HalfPaddle
    other: HalfPaddle
    words: SheetText
    length_m: float
    system: System
    denominator: Denominator
    sheet: str
    blade: str
    rows: tuple[Offset, ...]


def plan_sheet(half: HalfPaddle, words: SheetText, *, length_m: float, system: System = "mm",
               denominator: Denominator = 64, other: HalfPaddle | None = None,
               sheet: str = "1 of 1", blade: str = "") -> Drawing:
    """Draw one half at full size on one page.

    Args:
        half: what is drawn.
        words: what the caller says of it, set as it is.
        length_m: the whole paddle's length, m, as it shall be stated.
        system: units of dimensions; the table gives both.
        denominator: finest division of the inch.
        other: the other half, for the small view in the title block; None for the mirror.
        sheet: which of how many.
        blade: which blade is drawn, where the two differ.

    Raises:
        InputError: words with line breaks, or a page of more than 10 m.
    """
    job = _Job(half, other or half, words, length_m, system, denominator, sheet, blade,
               offsets(half, system, denominator))
    check, figures = check_block(0.0, 0.0), offsets_table(job.rows, 0.0, 0.0, system=system,
                                                          denominator=denominator)
    fixed = check.bounds.width + figures.bounds.width + WIDTH_MM + INSIDE_MM + 3 * COLUMN_MM
    width = math.ceil(max(MM * half.tip + LEFT_MM + RIGHT_MM,
                          fixed + NOTES_MM[0] + 2 * BORDER_MM))
    room = min(NOTES_MM[1], width - 2 * BORDER_MM - fixed)
    title = title_block(_title(job), job.half, job.other, width - BORDER_MM, BORDER_MM)
    foot = along_foot((check, _notes(job, room), figures), title)
    frame = Frame(LEFT_MM, BORDER_MM + ROOM_MM, width - BORDER_MM - ROOM_MM, system, denominator)
    bands = views(half, job.rows, frame), sections_block(half, job.rows, frame)
    height, items = stacked(bands, foot.bounds.y1)
    return Drawing(width, height, words.title, (*double_frame(width, height), *items, *foot.items),
                   LAYERS, _description(job))


def plan_sheets(paddle: Paddle, words: SheetText, system: System = "mm",
                denominator: Denominator = 64) -> tuple[Drawing, ...]:
    """Draw the sheet of a paddle, or one for each blade where they differ; as plan_sheet."""
    a, b, length = paddle.a, paddle.b, paddle.length
    if paddle.is_symmetric:
        return (plan_sheet(a, words, length_m=length, system=system, denominator=denominator),)
    pairs = ((a, b, "1 of 2", "A"), (b, a, "2 of 2", "B"))
    return tuple(
        plan_sheet(half, words, length_m=length, system=system, denominator=denominator,
                   other=other, sheet=sheet, blade=blade)
        for half, other, sheet, blade in pairs
    )


def _notes(job: _Job, width: float) -> Block:
    inset = f"{figure(EDGE_INSET, 'mm')} ({figure(EDGE_INSET, 'in', job.denominator)})"
    mirror = (f"Blade {job.blade} is drawn; the other blade has a sheet of its own."
              if job.blade else "Half of the paddle is drawn; the other half is its mirror.")
    reading = (mirror, "Figures under the stations' names are distances from the centre.",
               f"Edge thickness is read {inset} inside the edge, at the ticks on the sections.")
    return notes_block((*job.words.entries(), ("Sheet", reading)), 0.0, 0.0, width)


def _title(job: _Job) -> Title:
    words = job.words
    whole = f"{figure(job.length_m, job.system, job.denominator)} overall"
    units = "millimetres" if job.system == "mm" else "inches"
    cells = [("Scale", "1:1"), ("Units", units), ("Sheet", job.sheet)]
    under = [words.subtitle, f"Blade {job.blade}" if job.blade else ""]
    if words.date.strip():
        cells.append(("Date", words.date))
    return Title(words.title, tuple(w for w in under if w.strip()), whole, tuple(cells))


def _description(job: _Job) -> str:
    names = ", ".join(row.name for row in job.rows)
    tip = figure(job.half.tip, job.system, job.denominator)
    return (f"Full-size plan of half a paddle, {tip} from centre to tip: face, side, sections "
            f"and offsets at {names}.")
