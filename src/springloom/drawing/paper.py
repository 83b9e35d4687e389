"""Sheets that any printer takes, and the check bars along their foot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

from springloom.drawing.dimension import check_bar_inch, check_bar_mm
from springloom.drawing.lettering import block
from springloom.drawing.model import Block, Bounds
from springloom.errors import known

Page: TypeAlias = Literal["a4", "letter"]

MARGIN_MM = 10.0
"""What stays bare all round; printers need 3 to 6.4 mm (from memory)."""

BARS_GAP_MM = 10.0


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet as it lies before the reader, mm; A4 by ISO 216, Letter by ANSI Y14.1."""

    name: str
    width_mm: float
    height_mm: float

    @property
    def inner(self) -> Bounds:
        """What may be printed on."""
        return Bounds(0.0, 0.0, self.width_mm, self.height_mm).grown(-MARGIN_MM)

    @property
    def turned(self) -> Paper:
        """The same sheet, long edge for short."""
        return Paper(self.name, self.height_mm, self.width_mm)


_PAPERS = {"a4": Paper("A4", 210.0, 297.0), "letter": Paper("Letter", 215.9, 279.4)}


def paper(page: str, *, landscape: bool = False) -> Paper:
    """Return a sheet by name, upright unless ``landscape``.

    Raises:
        UnknownNameError: not one of ``a4`` and ``letter``.
    """
    sheet = _PAPERS[known(page, _PAPERS, "page")]
    return sheet.turned if landscape else sheet


def check_bars(x: float, y: float, *, beside: bool, layer: str = "check") -> Block:
    """Draw the 100 mm and the 4 in bar; the lower left corner of all that is drawn is (x, y).

    ``beside`` sets them side by side, else one over the other.
    """
    upper, lower = check_bar_mm(0.0, 0.0, layer=layer), check_bar_inch(0.0, 0.0, layer=layer)
    if beside:
        lower = lower.moved(upper.bounds.x1 + BARS_GAP_MM - lower.bounds.x0, 0.0)
    else:
        upper = upper.moved(lower.bounds.x0 - upper.bounds.x0, lower.bounds.height + 3.0)
    both = block((*upper.items, *lower.items))
    return both.moved(x - both.bounds.x0, y - both.bounds.y0)
