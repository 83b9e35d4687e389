"""The bend card: a blade's expected line under its weight, at full size, on one long page.

Straight, the blade's edge lies on the straight line; loaded, on the heavy one. Below stand
thickness, stiffness and curvature, each place under its own place on the card. The page's x is
the distance from the clamp, at full size, as is every fall.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from springloom.drawing.arrange import lines_up, spread
from springloom.drawing.bend_job import BendJob, curve
from springloom.drawing.bend_plots import plots
from springloom.drawing.columns import said
from springloom.drawing.lettering import block, text_box
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Drawing,
    Fill,
    Item,
    Path,
    Pen,
    Text,
    Weight,
    moved,
)
from springloom.drawing.offsets import Offset, held
from springloom.drawing.outline import MM
from springloom.drawing.paper import Page, check_bars, paper
from springloom.drawing.paths import line, lines, polyline, rect
from springloom.drawing.plot import Plot
from springloom.drawing.plot import spread as spread_apart
from springloom.drawing.tiling import grid_for, joins_along, room_on, tiled

LINE, BAND, STRAIGHT, STATIONS = "line", "band", "straight", "stations"
LAYERS = (BAND, STRAIGHT, STATIONS, "plot", LINE)

LEFT, RIGHT = 62.0, 92.0  # page edge to clamp, tip to page edge
TOP, FOOT = 46.0, 14.0  # page edge to the names' head, and to the lowest words
NAME_MM, FIGURE_MM = 3.5, 2.5
NAME_WIDTH = 30.0
FURTHEST = 16.0  # a name further from its station is turned upright, with all the others
PLOT_MM = 62.0
CLAMP_MM = 26.0
TIP_MM = 10.0  # tip to the words beside it
BEYOND = 8.0


def bend_card(job: BendJob) -> Drawing:
    """Draw the card with its plots on one page as long as the blade needs."""
    card = card_block(job)
    reach = MM * (job.half.tip - job.clamp)
    charts = [_aligned(plot, reach) for plot in plots(job, reach, PLOT_MM)]
    width = math.ceil(LEFT + reach + RIGHT)
    notes = _notes(job, width - LEFT - 40.0)
    heights = [card.bounds.height, *(PLOT_MM for _ in charts), notes.bounds.height]
    height = math.ceil(TOP + FOOT + sum(heights) + 12.0 * len(heights))
    items: list[Item] = [*_heading(job, height)]
    y = height - TOP
    items += card.moved(LEFT, y - card.bounds.y1).items
    y -= card.bounds.height + 14.0
    for chart in charts:
        items += chart.moved(LEFT, y - PLOT_MM).items
        y -= PLOT_MM + 10.0
    items += notes.moved(LEFT - 40.0, y - notes.bounds.y1).items
    return Drawing(width, height, _title(job), tuple(items), LAYERS, _description(job))


def bend_card_tiles(job: BendJob, page: Page = "a4") -> tuple[Drawing, ...]:
    """Draw the card without its plots on sheets any printer takes, to be laid together.

    Raises:
        UnknownNameError: a page nobody knows.
    """
    sheet = paper(page, landscape=True)
    card = card_block(job)
    area = card.bounds.grown(1.0)
    grid = grid_for(area, sheet)
    if not grid.rows:
        words = [text_box(item) for item in card.items if isinstance(item, Text)]
        clear = [(box.x0 - 1.0, box.x1 + 1.0) for box in words]
        room = room_on(sheet, rows=False)[0]
        grid = replace(grid, columns=joins_along(area.x0, area.x1, room, avoid=clear, step=5.0))
    # The card stands about its clamp, which no page does; nothing but the tiles is ever seen.
    whole = Drawing(area.width, area.height, f"{_title(job)} on small sheets", card.items, LAYERS,
                    _description(job))
    return tiled(whole, grid, sheet, say=lambda x: f"{job.figure(x / MM)} from the clamp")


def _title(job: BendJob) -> str:
    blade = f", blade {job.words.blade}" if job.words.blade else ""
    return f"{job.words.title}: bend card{blade}"


def _description(job: BendJob) -> str:
    return f"Expected line of a blade under load, full size. {job.words.expected}"


def _heading(job: BendJob, height: float) -> list[Text]:
    words, left = job.words, LEFT - 40.0
    blade = f", blade {words.blade}" if words.blade else ""
    rows = ((f"{words.title}{blade}", 7.0, Weight.BOLD, 0.0),
            (f"Bend card, full size. {words.load}", 3.5, Weight.REGULAR, 12.0))
    return [Text(left, height - 14.0 - down, string, size, baseline=Baseline.TOP, weight=weight,
                 layer="heading") for string, size, weight, down in rows]


def _notes(job: BendJob, width: float) -> Block:
    """Set the words in columns beside the check bars, downward from y = 0."""
    words = job.words
    bars = check_bars(0.0, 0.0, beside=False)
    how = ("Print at 100 %, then lay a rule on both bars.",
           "Clamp the blade at the root so that its edge lies along the straight line, hang the "
           "weight, and hold the card behind the blade: the edge should lie along the heavy "
           "line. Anywhere in the grey is as expected of this wood.")
    parts = [("How to use it", how), ("Expected", (words.expected, words.wanted, words.wood)),
             ("Notes", words.notes), ("Take care", words.cautions)]
    parts = [(head, tuple(w for w in said_ if w.strip())) for head, said_ in parts]
    parts = [(head, said_) for head, said_ in parts if said_]
    each = (width - bars.bounds.width - 14.0 * len(parts)) / len(parts)
    items: list[Item] = [*bars.moved(-bars.bounds.x0, -bars.bounds.y1).items]
    x = bars.bounds.width + 14.0
    for head, sentences in parts:
        items += said(head, sentences, each, 3.0).moved(x, 0.0).items
        x += each + 14.0
    return block(items)


def card_block(job: BendJob) -> Block:
    """Draw the card itself: the clamp at x = 0, the straight line at y = 0, mm."""
    middle = curve(job, job.bend.middle)
    tip = middle.segments[-1, 3]
    reach = MM * (job.half.tip - job.clamp)
    straight = line((-CLAMP_MM - BEYOND, 0.0), (reach + BEYOND, 0.0), Pen.CENTRE, layer=STRAIGHT)
    return block((_band(job), straight, middle, *_clamp(), *_stations(job, reach),
                  *_at_tip(job, (float(tip[0]), float(tip[1])), reach)))


def _band(job: BendJob) -> Path:
    high, low = (curve(job, bent, Pen.CONSTRUCTION).segments
                 for bent in (job.bend.least, job.bend.most))
    tips = polyline((high[-1, 3], low[-1, 3])).segments
    whole = np.concatenate((high, tips, low[::-1, ::-1]))
    return Path(whole, None, True, Fill.WASH, BAND)


def _clamp() -> list[Item]:
    """A hatched block whose right side is the clamp's outer edge."""
    high = 7.0
    hatch = [((-CLAMP_MM + n, -high), (min(-CLAMP_MM + n + 2 * high, 0.0),
                                       min(high, -high + CLAMP_MM - n)))
             for n in np.arange(0.0, CLAMP_MM - 0.1, 3.0).tolist()]
    hatch += [((-CLAMP_MM, -high + n), (-CLAMP_MM + 2 * high - n, high))
              for n in np.arange(3.0, 2 * high, 3.0).tolist()]
    return [lines(hatch, Pen.GRID, layer=STRAIGHT),
            rect(-CLAMP_MM, -high, CLAMP_MM, 2 * high, Pen.VISIBLE, layer=STRAIGHT),
            Text(-CLAMP_MM, -high - 2.0, "clamp to here", FIGURE_MM, baseline=Baseline.TOP,
                 layer=STATIONS)]


def _stations(job: BendJob, reach: float) -> list[Item]:
    """Drop a line from the straight line to the bent one at each place; name it above."""
    rows = job.rows
    wanted = [MM * (row.x - job.clamp) for row in rows]
    labels = [_level(job, row) for row in rows]
    placed = spread(wanted, [label.bounds.width for label in labels], 4.0, -10.0, reach + 24.0)
    if placed is None or np.abs(np.subtract(placed, wanted)).max() > FURTHEST:
        labels = [_upright(job, row) for row in rows]
        widths = [label.bounds.width for label in labels]
        placed = spread(wanted, widths, 0.2, -10.0, reach + 40.0) or tuple(wanted)
    items: list[Item] = []
    for x, to, label, row in zip(wanted, placed, labels, rows, strict=True):
        down = job.bend.middle
        out = MM * (float(np.interp(row.x, down.x, down.out)) - job.clamp)
        foot = -MM * job.fall(down, row.x)
        way = [(to, 14.0), (x, 9.0), (x, 0.0), (out, foot)]
        items.append(polyline(way if foot < -1e-6 else way[:-1], Pen.CONSTRUCTION,
                              layer=STATIONS))
        items += moved(label.items, to, 15.5)
    return items


def _level(job: BendJob, row: Offset) -> Block:
    """Name, distance and fall over one another, centred on x = 0, upward from y = 0."""
    strings = [f"falls {job.figure(job.fall(job.bend.middle, row.x))}",
               job.figure(row.x)]
    items: list[Text] = []
    y = 0.0
    for string in strings:
        text = Text(0.0, 0.0, string, FIGURE_MM, Anchor.MIDDLE, layer=STATIONS)
        # 1.5 capital heights hold a stacked fraction, so that all feet are in line.
        items.append(text.moved(0.0, y + 0.35 * FIGURE_MM))
        y += 2.2 * FIGURE_MM
    name = Text(0.0, y + 0.8, held(row.name), NAME_MM, Anchor.MIDDLE, weight=Weight.BOLD,
                layer=STATIONS)
    return block((*items, *lines_up(name, NAME_WIDTH)))


def _upright(job: BendJob, row: Offset) -> Block:
    fall = job.figure(job.fall(job.bend.middle, row.x))
    name = Text(0.0, 0.0, row.name, FIGURE_MM, Anchor.START, Baseline.MIDDLE, 90.0, Weight.BOLD,
                STATIONS, fractions=False)
    rest = Text(0.0, text_box(name).y1 + FIGURE_MM, f"{job.figure(row.x)}, falls {fall}",
                FIGURE_MM, Anchor.START, Baseline.MIDDLE, 90.0, layer=STATIONS, fractions=False)
    return block((name, rest))


def _at_tip(job: BendJob, tip: tuple[float, float], reach: float) -> list[Item]:
    """Say beside the tip what each line is, and mark where the tip is wanted."""
    bend = job.bend
    marks = [(MM * bend.middle.tip_m, f"{job.figure(bend.middle.tip_m)} expected"),
             (MM * bend.least.tip_m, f"{job.figure(bend.least.tip_m)} stiffest of 90 %"),
             (MM * bend.most.tip_m, f"{job.figure(bend.most.tip_m)} softest of 90 %")]
    items: list[Item] = []
    if job.aim is not None:
        wanted = MM * job.aim.deflection_m
        marks.append((wanted, f"{job.figure(job.aim.deflection_m)} wanted"))
        items.append(line((tip[0] - 5.0, -wanted), (reach + TIP_MM - 2.0, -wanted), Pen.VISIBLE,
                          layer=STATIONS))
    places = spread_apart([-down for down, _ in marks], 2.3 * FIGURE_MM,
                          -MM * bend.most.tip_m - 40.0, 30.0)
    x = reach + TIP_MM + 8.0
    for (down, string), y in zip(marks, places, strict=True):
        items.append(polyline([(reach + 1.5, -down), (reach + TIP_MM, -down), (x - 1.0, y)],
                              Pen.CONSTRUCTION, layer=STATIONS))
        items.append(Text(x, y, string, FIGURE_MM, baseline=Baseline.MIDDLE, layer=STATIONS))
    return items


def _aligned(plot: Plot, reach: float) -> Block:
    """Widen a chart until its box is ``reach`` mm wide; the box's left side is then x = 0."""
    box = plot.frame
    wide = replace(plot, width_mm=plot.width_mm + reach - box.width)
    made = wide.block()
    return made.moved(-wide.frame.x0, 0.0)
