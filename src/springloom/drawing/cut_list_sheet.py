"""The cut list: what to buy and what to saw, with the boards and the blank's end drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.columns import Head, fitted_table, framed, pages, said, split
from springloom.drawing.cut_drawing import LAYERS, View, board_above, end_view, scale_for
from springloom.drawing.lettering import block
from springloom.drawing.model import Block, Drawing, Item
from springloom.drawing.paper import Page, paper
from springloom.drawing.tables import Align, Column
from springloom.fit.cutlist import CutList
from springloom.mechanics.stiffness import Build
from springloom.shape.paddle import Paddle

SHARES = (1.0, 1.3)
GAPS = (4.5, 5.0)
VIEW_GAP = 7.0
ROWS_A_TABLE = 14
SAW = (("No.", Align.LEFT), ("Wood", Align.LEFT), ("Length", Align.RIGHT),
       ("Width", Align.RIGHT), ("Thickness", Align.RIGHT), ("Rings", Align.LEFT))
BUY = (("For", Align.LEFT), ("Ask for", Align.LEFT), ("Length", Align.RIGHT),
       ("Real size", Align.LEFT), ("Board feet", Align.RIGHT), ("Litres", Align.RIGHT))


@dataclass(frozen=True, slots=True)
class CutText:
    """Words of a cut list, set as they are; cells of its tables in the order of SAW and BUY.

    Attributes:
        title, subtitle: the paddle.
        verdict: whether the maker's board will do, in one line; empty without one.
        findings: where not, and other things found, one sentence each.
        blank: width and thickness of the squared blank.
        saw: rows of what is sawn.
        buy: heading and rows of each market.
        notes, cautions: one sentence each.
    """

    title: str
    subtitle: str
    verdict: str
    findings: tuple[str, ...]
    blank: tuple[str, str]
    saw: tuple[tuple[str, ...], ...]
    buy: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CutJob:
    """What is drawn: the boards from above with their lengths as dimensioned, and the words.

    ``board`` is the width and thickness of the board a solid blank comes from, m.
    """

    paddle: Paddle
    build: Build
    made: CutList
    views: tuple[tuple[View, str], ...]
    board: tuple[float, float] | None
    words: CutText


def cut_list_sheets(job: CutJob, page: Page = "a4") -> tuple[Drawing, ...]:
    """Draw the cut list on one page, or more where strips and ways to buy are many."""
    sheet, words = paper(page, landscape=True), job.words
    scale = _scale(job, sheet.inner.width)
    head = Head(words.title, words.subtitle, "Cut list",
                f"boards from above 1:{scale:g}" if job.views else "")
    room = framed(sheet, head)[1]
    left, right = split(room, SHARES)
    end = end_view(job.made, job.build, job.paddle, job.board, words.blank, left.width)
    notes = [said("", (s,), left.width, 2.2) for s in words.notes]
    columns = ([end, *_saw(words, left.width), *notes], _right(words, right.width))
    return pages(sheet, head, _boards(job, room.width, scale), columns, SHARES, GAPS,
                 title=f"{words.title}: cut list", layers=LAYERS,
                 description=f"Boards and pieces of a paddle's blank. {words.verdict}".strip())


def _scale(job: CutJob, room: float) -> float:
    # A board that is too short has the outline reach out of it.
    longest = [max(view.length_m, job.paddle.length if view.outlines else 0.0)
               for view, _ in job.views]
    return max((scale_for(length, room) for length in longest), default=1.0)


def _boards(job: CutJob, width: float, scale: float) -> Block | None:
    """Stack the boards one under the other, left ends in line."""
    items: list[Item] = []
    y = 0.0
    for view, figure in job.views:
        made = board_above(view, job.paddle, width, figure, scale)
        items += made.moved(0.0, y - made.bounds.y1).items
        y -= made.bounds.height + VIEW_GAP
    return block(items) if items else None


def _saw(words: CutText, width: float) -> list[Block]:
    columns = [Column(name, "", align) for name, align in SAW]
    return [fitted_table(columns, rows, width, title="Saw and plane to")
            for rows in _chunks(words.saw)]


def _right(words: CutText, width: float) -> list[Block]:
    blocks = [said(words.verdict, words.findings, width, 2.4)] if words.verdict else []
    if not words.verdict and words.findings:
        blocks = [said("Found", words.findings, width, 2.4)]
    columns = [Column(name, "", align) for name, align in BUY]
    for heading, rows in words.buy:
        blocks += [fitted_table(columns, part, width, title=heading, size_mm=2.2)
                   for part in _chunks(rows)]
    return [*blocks, *(said("", (s,), width, 2.2) for s in words.cautions)]


def _chunks(rows: Sequence[tuple[str, ...]]) -> list[list[tuple[str, ...]]]:
    return [list(rows[n:n + ROWS_A_TABLE]) for n in range(0, len(rows), ROWS_A_TABLE)]
