"""Words on a sheet: what the caller says of the paddle, and how the sheet is to be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.arrange import lines_within
from springloom.drawing.dimension import check_bar_inch, check_bar_mm
from springloom.drawing.lettering import block, has_fraction, width_mm
from springloom.drawing.model import Baseline, Block, Item, Text, Weight

LAYER = "notes"
LEADING = 1.9  # from line to line, in capital heights
BETWEEN = 1.1  # more between one entry and the next
CHECK = "Print at 100 %, never fitted to a page. Lay a rule on both bars before cutting."


@dataclass(frozen=True, slots=True)
class SheetText:
    """Words set on the sheet as they are, one line each without line breaks; "" leaves out."""

    title: str
    subtitle: str = ""
    wood: str = ""
    weight: str = ""
    bend: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    date: str = ""

    def entries(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return heads and what stands under each, those without words left out."""
        said = (("Wood", (self.wood,)), ("Weight", (self.weight,)), ("Bend", (self.bend,)),
                ("Notes", self.notes), ("Take care", self.cautions))
        kept = ((head, tuple(word for word in words if word.strip())) for head, words in said)
        return tuple((head, words) for head, words in kept if words)


def notes_block(entries: Sequence[tuple[str, Sequence[str]]], x: float, y: float, width: float,
                *, size_mm: float = 3.5) -> Block:
    """Set heads in a column and their words beside them, downward from (x, y), mm."""
    indent = max(width_mm(head, size_mm, Weight.BOLD) for head, _ in entries) + 2.4 * size_mm
    items: list[Item] = []
    for head, words in entries:
        items.append(Text(x, y, head, size_mm, baseline=Baseline.TOP, weight=Weight.BOLD,
                          layer=LAYER))
        for string in words:
            lines, y = _entry(x + indent, y, width - indent, string, size_mm)
            items += lines
        y -= 0.7 * BETWEEN * size_mm
    return block(items)


def _entry(x: float, y: float, width: float, string: str,
           size_mm: float) -> tuple[list[Text], float]:
    """Set one entry's lines; return them and where the next one begins."""
    lines = []
    for row in lines_within(string, width, size_mm):
        # A stacked fraction reaches over the capitals and under the foot.
        room = 0.35 * size_mm if has_fraction(row) else 0.0
        lines.append(Text(x, y - room, row, size_mm, baseline=Baseline.TOP, layer=LAYER))
        y -= LEADING * size_mm + 2 * room
    return lines, y - 0.3 * BETWEEN * size_mm


def check_block(x: float, y: float, *, size_mm: float = 3.5) -> Block:
    """Set both check bars under a line on what they are for; the upper left corner is (x, y)."""
    head = Text(x, y, "Check the print", size_mm, baseline=Baseline.TOP, weight=Weight.BOLD,
                layer=LAYER)
    words, under = _entry(x, y - 2.1 * size_mm, 101.6, CHECK, size_mm)
    upper = check_bar_mm(x, under - 10.0)
    lower = check_bar_inch(x, under - 30.0)
    return block((head, *words, *upper.items, *lower.items))
