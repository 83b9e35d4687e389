"""Sheets for a whole class: the fit table, what to buy, and how the boards are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.columns import Head, fitted_table, framed, pages, said
from springloom.drawing.cut_drawing import LAYERS, View, board_above, scale_for
from springloom.drawing.model import Block, Drawing
from springloom.drawing.paper import Page, paper
from springloom.drawing.tables import Align, Column
from springloom.shape.paddle import Paddle

ROWS_A_TABLE = 20
GAP_MM = 5.0
BOARD_GAP_MM = 7.0


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: a title, its columns as (head, unit, left-aligned), and rows of cells."""

    title: str
    columns: tuple[tuple[str, str, bool], ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class ClassText:
    """Words of a class's sheets, set as they are.

    Attributes:
        title, subtitle: the class.
        notes: how it was done, one sentence each.
        missing: the lines that could not be used, one sentence each.
        cautions: one sentence each.
    """

    title: str
    subtitle: str
    notes: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def table_sheets(words: ClassText, kind: str, grids: Sequence[Grid],
                 page: Page = "a4") -> tuple[Drawing, ...]:
    """Draw tables one under the other, then the words, on as many pages as that takes."""
    sheet = paper(page, landscape=True)
    head = Head(words.title, words.subtitle, kind)
    width = framed(sheet, head)[1].width
    blocks = [made for grid in grids for made in _tables(grid, width)]
    blocks += _words(words, width)
    return pages(sheet, head, None, (blocks,), (1.0,), (GAP_MM,), title=f"{words.title}: {kind}",
                 description=f"{kind} of {words.title}")


def board_sheets(words: ClassText, kind: str, boards: Sequence[tuple[View, str]], paddle: Paddle,
                 page: Page = "a4") -> tuple[Drawing, ...]:
    """Draw every board from above with the pieces that come out of it.

    ``paddle`` is any of the class's; only solid blanks' rectangles are drawn.
    """
    sheet = paper(page, landscape=True)
    width = sheet.inner.width
    scale = scale_for(max(view.length_m for view, _ in boards), width)
    head = Head(words.title, words.subtitle, kind, f"boards from above 1:{scale:g}")
    drawn = [board_above(view, paddle, width, figure, scale) for view, figure in boards]
    return pages(sheet, head, None, (drawn,), (1.0,), (BOARD_GAP_MM,),
                 title=f"{words.title}: {kind}", layers=LAYERS,
                 description=f"{kind} of {words.title}")


def _tables(grid: Grid, width: float) -> list[Block]:
    columns = [Column(name, unit, Align.LEFT if left else Align.POINT)
               for name, unit, left in grid.columns]
    return [fitted_table(columns, grid.rows[n:n + ROWS_A_TABLE], width,
                         title=grid.title if n == 0 else f"{grid.title}, continued")
            for n in range(0, len(grid.rows), ROWS_A_TABLE)]


def _words(words: ClassText, width: float) -> list[Block]:
    blocks = []
    for heading, sentences in (("Lines that could not be used", words.missing),
                               ("", (*words.notes, *words.cautions))):
        for n, sentence in enumerate(sentences):
            blocks.append(said(heading if n == 0 else "", (sentence,), width, 2.2))
    return blocks
