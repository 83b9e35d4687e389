"""Tables of figures, ruled lightly: a heavier line above and below, hairlines between rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from springloom.drawing.lettering import block, has_fraction, width_mm
from springloom.drawing.model import (
    Anchor,
    Baseline,
    Block,
    Item,
    Pen,
    Point,
    Text,
    Weight,
    on_layer,
)
from springloom.drawing.paths import line, lines
from springloom.errors import InputError, in_range

LAYER = "tables"
PAD = 0.7  # room either side of a cell, in capital heights
ROW = 2.1  # height of a row, in capital heights
FRACTION_ROW = 2.6  # where fractions are stacked


class Align(Enum):
    """How a column's cells stand under each other."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"
    POINT = "point"


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes:
        title: head of the column.
        unit: written under the head.
        align: by an edge, or by the decimal point.
        width_mm: at least this wide; as wide as its cells when None.
    """

    title: str
    unit: str = ""
    align: Align = Align.POINT
    width_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse a width that isn't one."""
        if self.width_mm is not None:
            in_range(self.width_mm, "column.width_mm", 0.0, unit="mm", open_low=True)


def table(columns: Sequence[Column], rows: Sequence[Sequence[str]], x: float, y: float, *,
          size_mm: float = 2.5, title: str = "", layer: str = LAYER) -> Block:
    """Set a table whose upper left corner is (x, y), mm; an empty cell stays empty.

    Raises:
        InputError: no columns, or a row with another number of cells.
    """
    _check(columns, rows)
    widths = [_width(column, [row[n] for row in rows], size_mm)
              for n, column in enumerate(columns)]
    edges = [x + sum(widths[:n]) for n in range(len(widths) + 1)]
    stacked = any(has_fraction(cell) for row in rows for cell in row)
    step = (FRACTION_ROW if stacked else ROW) * size_mm
    items: list[Item] = []
    if title:
        items.append(Text(x, y, title, size_mm * 1.2, baseline=Baseline.TOP, weight=Weight.BOLD,
                          layer=layer))
        y -= 2.1 * size_mm
    head = (3.5 if any(column.unit for column in columns) else 2.1) * size_mm
    foot = y - head - step * len(rows)
    for n, column in enumerate(columns):
        cells = [row[n] for row in rows]
        x_cell, anchor = _edge(column.align, edges[n], edges[n + 1], PAD * size_mm)
        items += on_layer(_heading(column, (x_cell, y), anchor, size_mm), layer)
        items += on_layer(_cells(column, cells, Text(x_cell, y - head - step / 2, "0", size_mm,
                                                     anchor, Baseline.MIDDLE), step), layer)
    items += _rules(edges[0], edges[-1], (y, y - head, foot), step, layer)
    return block(items)


def _check(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> None:
    if not columns:
        raise InputError("needs a column", field="table.columns")
    for n, row in enumerate(rows):
        if len(row) != len(columns):
            raise InputError("has another number of cells than the head",
                             field=f"table.rows.{n}", given=len(row), allowed=str(len(columns)))


def _rules(x0: float, x1: float, levels: tuple[float, float, float], step: float,
           layer: str) -> list[Item]:
    top, under, foot = levels
    count = round((under - foot) / step)
    between = [((x0, under - n * step), (x1, under - n * step)) for n in range(1, count)]
    return [
        *((lines(between, Pen.GRID, layer=layer),) if between else ()),
        line((x0, top), (x1, top), Pen.VISIBLE, layer=layer),
        line((x0, under), (x1, under), Pen.DIMENSION, layer=layer),
        line((x0, foot), (x1, foot), Pen.VISIBLE, layer=layer),
    ]


def _heading(column: Column, at: Point, anchor: Anchor, size_mm: float) -> list[Text]:
    words = ((column.title, 0.55, 1.0, Weight.BOLD), (column.unit, 2.1, 0.8, Weight.REGULAR))
    return [Text(at[0], at[1] - down * size_mm, string, size_mm * scale, anchor, Baseline.TOP,
                 weight=weight)
            for string, down, scale, weight in words if string]


def _cells(column: Column, cells: Sequence[str], first: Text, step: float) -> list[Text]:
    """Set the cells downward from the pattern ``first``, decimal points under each other."""
    pointed = column.align is Align.POINT
    tails = [_tail(cell, first.size_mm) if pointed else 0.0 for cell in cells]
    widest = max(tails, default=0.0)
    return [replace(first, string=cell, x=first.x - widest + tail, y=first.y - n * step)
            for n, (cell, tail) in enumerate(zip(cells, tails, strict=True)) if cell.strip()]


def _edge(align: Align, x0: float, x1: float, pad: float) -> tuple[float, Anchor]:
    if align is Align.LEFT:
        return x0 + pad, Anchor.START
    if align is Align.MIDDLE:
        return (x0 + x1) / 2, Anchor.MIDDLE
    return x1 - pad, Anchor.END


def _tail(cell: str, size_mm: float) -> float:
    """Room a figure takes from its decimal point on; none for words, fractions and integers."""
    _, point, decimals = cell.partition(".")
    return width_mm(point + decimals, size_mm) if decimals.isdigit() else 0.0


def _width(column: Column, cells: Sequence[str], size_mm: float) -> float:
    filled = [cell for cell in cells if cell.strip()]
    tails = [_tail(cell, size_mm) if column.align is Align.POINT else 0.0 for cell in filled]
    tail = max(tails, default=0.0)
    wide = [width_mm(cell, size_mm) - t + tail for cell, t in zip(filled, tails, strict=True)]
    wide += [width_mm(column.title, size_mm, Weight.BOLD)] if column.title else []
    wide += [width_mm(column.unit, size_mm * 0.8)] if column.unit else []
    return max(max(wide, default=0.0) + 2 * PAD * size_mm, column.width_mm or 0.0)
