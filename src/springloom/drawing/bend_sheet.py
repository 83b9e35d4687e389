"""The bend sheet: line, thickness, stiffness and curvature on a page that any printer takes.

The card at full size is :mod:`springloom.drawing.bend_card`; this page carries the same figures.
"""

from __future__ import annotations

from dataclasses import replace

from springloom.drawing.bend_card import bend_card
from springloom.drawing.bend_job import BendJob, falls
from springloom.drawing.bend_plots import line_plot, plots
from springloom.drawing.columns import (
    GAP,
    Head,
    fitted_table,
    framed,
    pages,
    rows_apart,
    rows_in,
    said,
    split,
)
from springloom.drawing.model import Block, Bounds, Drawing, Item
from springloom.drawing.paper import Page, paper
from springloom.drawing.tables import Align, Column

CHART_MM = 49.0
CHART_GAP = 5.0
BETWEEN = 2.2  # from one sentence to the next
TABLE_MM = 2.4
SHARES = (1.35, 1.0)  # widths of the figures' and the words' columns


def bend_sheets(job: BendJob, page: Page = "a4") -> tuple[Drawing, ...]:
    """Draw the page of charts and figures, more where stations are many, then the card."""
    sheet = paper(page, landscape=True)
    words = job.words
    blade = f", blade {words.blade}" if words.blade else ""
    head = Head(words.title, words.load, f"Bend sheet{blade}", words.subtitle)
    room = framed(sheet, head)[1]
    left, right = split(room, SHARES)
    charts = _charts(job, room)
    below = rows_in(charts.bounds.y0 - GAP - room.y0, TABLE_MM)
    tables = _tables(job, left.width, below, rows_in(room.height, TABLE_MM))
    made = pages(sheet, head, charts, (tables, _words(job, right.width)), SHARES,
                 (CHART_GAP, BETWEEN),
                 title=f"{words.title}: bend sheet",
                 description=f"Charts of a blade's bend. {words.expected}")
    return (*made, bend_card(job))


def _charts(job: BendJob, room: Bounds) -> Block:
    """Set the four charts two by two, the boxes inside their axes one over the other."""
    columns = split(room, (1.0, 1.0))
    width = columns[0].width
    made = [line_plot(job, width, CHART_MM), *plots(job, width, CHART_MM)]
    left = max(chart.frame.x0 for chart in made)
    right = max(width - chart.frame.x1 for chart in made)
    items: list[Item] = []
    for n, chart in enumerate(made):
        y = room.y1 - CHART_MM - (n // 2) * (CHART_MM + CHART_GAP)
        items += replace(chart, left_mm=left, right_mm=right).block(columns[n % 2].x0, y).items
    return Block(tuple(items), Bounds(room.x0, room.y1 - 2 * CHART_MM - CHART_GAP, room.x1,
                                      room.y1))


def _tables(job: BendJob, width: float, first: int, later: int) -> list[Block]:
    unit = job.system
    columns = [Column("Place", "", Align.LEFT), Column("From centre", unit), Column("Crown", unit),
               Column("EI", "N·m²"), Column("Falls", unit), Column("stiffest of 90 %", unit),
               Column("softest of 90 %", unit)]
    rows = falls(job.rows, job)
    return [fitted_table(columns, rows[part], width, size_mm=TABLE_MM)
            for part in rows_apart(len(rows), first, later)]


def _words(job: BendJob, width: float) -> list[Block]:
    words = job.words
    sentences = (words.expected, words.wanted, words.wood, *words.notes, *words.cautions)
    return [said("", (s,), width, 2.2) for s in sentences if s.strip()]
