"""The face of half a paddle at full size, to be traced: one roll page, or many small sheets.

A tape runs along it, millimetres and inches from the paddle's centre, and the joins of the
small sheets stand at round distances on that tape, so that a tape laid on the wood proves them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.dimension import INCH_MM
from springloom.drawing.flags import Flag, flown
from springloom.drawing.lettering import block, item_box, text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Bounds,
    Drawing,
    Item,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.notes import SheetText
from springloom.drawing.offsets import Offset, figure, offsets
from springloom.drawing.outline import MM, face_outline
from springloom.drawing.paper import Page, check_bars, paper
from springloom.drawing.paths import line, lines, path_bounds
from springloom.drawing.rolls import BORDER_MM, INSIDE_MM, double_frame
from springloom.drawing.tape import tape
from springloom.drawing.tiling import Grid, grid_for, joins_along, room_on, tiled
from springloom.drawing.views import BEYOND, CENTRES, STATIONS, stump
from springloom.shape.blade import HalfPaddle
from springloom.units import Denominator, System

__all__ = ["outline_roll", "outline_tiles"]

LAYERS = ("frame", CENTRES, STATIONS, "tape", "outline")
HEIGHTS_MM = (297.0, 420.0, 594.0, 841.0)  # A3 to A0 across
POLE_MM = 4.0  # from the outline down to the station lines' feet
FLAG_MM = 7.0  # from the outline up to the flags
TAPE_MM = 13.0  # from the outline down to the tape's line
MOST_SAID = 2  # lines under a flag's head
FOOT_MM = 12.0  # from the border to the foot strip
BAND_GAP_MM = 13.0
STEP_MM: dict[System, float] = {"mm": 5.0, "in": INCH_MM / 4}


@dataclass(frozen=True, slots=True)
class _Job:
    """What was asked for."""

    half: HalfPaddle
    words: SheetText
    system: System
    denominator: Denominator
    blade: str
    rows: tuple[Offset, ...]

    @property
    def length(self) -> float:
        """Centre to tip, mm."""
        return MM * self.half.tip

    @property
    def heading(self) -> str:
        """What every page is called."""
        blade = f", blade {self.blade}" if self.blade else ""
        return f"{self.words.title}{blade}: outline at full size"


def outline_roll(half: HalfPaddle, words: SheetText, *, system: System = "mm",
                 denominator: Denominator = 64, blade: str = "") -> tuple[Drawing, ...]:
    """Draw the face of one half at full size on one long page, for a roll.

    Args:
        half: what is drawn.
        words: its title and date are set, no more.
        system: units of the figures; the tape has both.
        denominator: finest division of the inch.
        blade: which blade is drawn, where the two differ.

    Raises:
        InputError: words with line breaks, or a page of more than 10 m.
    """
    job = _Job(half, words, system, denominator, blade, offsets(half, system, denominator))
    border = BORDER_MM
    left = border + INSIDE_MM + BEYOND + 4.0
    foot = _foot(job, border + INSIDE_MM, border + FOOT_MM)
    width = math.ceil(max(left + job.length + INSIDE_MM + BEYOND + border,
                          foot.bounds.x1 + INSIDE_MM + border))
    face = _face(job, ()).moved(left, 0.0)
    least = foot.bounds.y1 + BAND_GAP_MM + face.bounds.height + BAND_GAP_MM + border
    height = next((h for h in HEIGHTS_MM if h >= least), float(math.ceil(least)))
    spare = (height - least) / 2
    face = face.moved(0.0, foot.bounds.y1 + BAND_GAP_MM + spare - face.bounds.y0)
    drawing = Drawing(width, height, job.heading,
                      (*double_frame(width, height), *face.items, *foot.items), LAYERS,
                      _description(job))
    return (drawing,)


def outline_tiles(half: HalfPaddle, words: SheetText, *, page: Page = "a4",
                  system: System = "mm", denominator: Denominator = 64,
                  blade: str = "") -> tuple[Drawing, ...]:
    """Draw the same on sheets any printer takes, long edge across, to be laid together.

    Raises:
        UnknownNameError: a page nobody knows.
    """
    job = _Job(half, words, system, denominator, blade, offsets(half, system, denominator))
    sheet = paper(page, landscape=True)
    room = room_on(sheet, rows=False)
    for said in range(MOST_SAID, -1, -1):
        face, grid = _cut(job, room[0], said)
        if grid.area.height <= room[1]:
            break
    else:
        grid = grid_for(grid.area, sheet)
    # The face stands about the origin, which no page does; nothing but the tiles is ever seen.
    whole = Drawing(grid.area.width, grid.area.height, job.heading, face.items, LAYERS,
                    _description(job))
    return tiled(whole, grid, sheet, say=lambda x: _said(job, x))


def _cut(job: _Job, room: float, said: int) -> tuple[Block, Grid]:
    """Draw the face with so many lines under each flag, and place its joins."""
    bare = _face(job, (), said)
    low, high = bare.bounds.x0 - 0.5, bare.bounds.x1 + 0.5
    joins = joins_along(low, high, room, step=STEP_MM[job.system], avoid=_obstacles(job, bare))
    face = _face(job, joins, said)
    return face, Grid(Bounds(low, face.bounds.y0 - 0.5, high, face.bounds.y1 + 0.5), joins)


def _said(job: _Job, x: float) -> str:
    """Word the distance of a join in both units."""
    other: System = "in" if job.system == "mm" else "mm"
    both = [figure(x / MM, unit, job.denominator) for unit in (job.system, other)]
    return f"{both[0]} ({both[1]}) from centre"


def _face(job: _Job, joins: Sequence[float], said: int = MOST_SAID) -> Block:
    """Draw the face about (0, 0) with stations, flags and tape."""
    half, outline = job.half, face_outline(job.half)
    wide = path_bounds(outline).y1
    flags = flown([_flag(job, row, said) for row in job.rows], wide + FLAG_MM,
                  -BEYOND - 4.0, job.length + BEYOND, barriers=joins)
    top, foot = flags.bounds.y1, -wide - POLE_MM
    poles = [((MM * row.x, foot), (MM * row.x, top)) for row in job.rows]
    centre = line((-BEYOND - 4.0, 0.0), (job.length + BEYOND, 0.0), Pen.CENTRE, layer=CENTRES)
    return block((
        lines(poles[1:], Pen.CONSTRUCTION, layer=STATIONS),
        line(*poles[0], Pen.CENTRE, layer=STATIONS),
        centre, *stump(0.0, 0.0, half.loom.width), *flags.items,
        *tape(0.0, -wide - TAPE_MM, job.length).items, outline,
    ))


def _flag(job: _Job, row: Offset, most: int) -> Flag:
    """Name a station and say, in at most so many lines, how far out and how wide it is."""
    said = []
    if row.x > 0.0:
        said.append(f"{figure(row.x, job.system, job.denominator)} from centre")
    if row.width > 0.0:
        said.append(f"{figure(row.width, job.system, job.denominator)} wide")
    return Flag(MM * row.x, row.name, tuple(said[:most]))


def _obstacles(job: _Job, face: Block) -> list[tuple[float, float]]:
    """Where a join would run through words, or too near a station."""
    words = [text_box(item) for item in face.items if isinstance(item, Text)]
    return [*((box.x0 - 1.5, box.x1 + 1.5) for box in words),
            *((MM * row.x - 2.0, MM * row.x + 2.0) for row in job.rows)]


def _foot(job: _Job, x: float, y: float) -> Block:
    """Set check bars and what the page is in one row along the foot."""
    bars = check_bars(x, y, beside=True)
    left = bars.bounds.x1 + 22.0
    mirror = (f"Blade {job.blade} is drawn; the other has a page of its own." if job.blade else
              "Half of the paddle is drawn; the other half is its mirror.")
    rows = [(job.words.title, 7.0, Weight.BOLD),
            (f"Outline at full size, {figure(job.half.tip, job.system, job.denominator)} from "
             f"centre to tip. {mirror} Print at 100 %, never fitted to a page.", 3.0,
             Weight.REGULAR)]
    items: list[Item] = [Text(left, y, rows[1][0], rows[1][1], layer="title")]
    items.append(Text(left, item_box(items[0]).y1 + 3.4, rows[0][0], rows[0][1],
                      weight=Weight.BOLD, layer="title"))
    if job.words.date.strip():
        past = left + width_mm(*rows[0]) + 8.0
        items.append(Text(past, items[1].y if isinstance(items[1], Text) else y, job.words.date,
                          3.0, Anchor.START, Baseline.FOOT, layer="title"))
    return block((*bars.items, *items))


def _description(job: _Job) -> str:
    names = ", ".join(row.name for row in job.rows)
    tip = figure(job.half.tip, job.system, job.denominator)
    return f"Full-size face of half a paddle, {tip} from centre to tip, with lines at {names}."
