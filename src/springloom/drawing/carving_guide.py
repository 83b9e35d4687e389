"""The carving guide: stage after stage on small sheets, to tick off and write on at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.drawing.arrange import lines_within
from springloom.drawing.columns import Head, fitted_table, framed, poured, said, split
from springloom.drawing.lettering import block, text_box, width_mm
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
    moved,
)
from springloom.drawing.notes import notes_block
from springloom.drawing.paper import Page, paper
from springloom.drawing.paths import line, rect
from springloom.drawing.tables import Align, Column

LAYER = "stages"
LAYERS = ("heading", LAYER, "notes", "tables")
SHARES = (1.5, 1.0)  # words, and what is measured
GUTTER = 6.0
NAME_MM = 3.5
WORDS_MM = 2.2
TABLE_MM = 2.2
BOX_MM = 5.0
BOX_ROOM = 8.5  # from the left edge to a stage's name
WRITE_MM = 20.0  # room to write a figure in
BETWEEN = 3.5  # from a stage to the next one's rule
HAIR_MM = 0.1
EVEN_MM = 3.0  # step in which pages are shortened to make them even
COLUMNS = ("Check", "Should be", "Measured")


@dataclass(frozen=True, slots=True)
class StageText:
    """Words of one stage, set as they are, one line each without line breaks.

    Attributes:
        name: of the stage.
        tools: that it takes.
        work: what is done.
        limits: how deep, how near, how much at most.
        cautions: that belong to it.
        checks: what is measured when it is done, and what that should be ("" for an open one).
    """

    name: str
    tools: str = ""
    work: tuple[str, ...] = ()
    limits: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    checks: tuple[tuple[str, str], ...] = ()

    def entries(self, *, tools: bool) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """Return heads and what stands under each, those without words left out."""
        heads = (("Tools", (self.tools if tools else "",)), ("Work", self.work),
                 ("Limits", self.limits), ("Take care", self.cautions))
        kept = ((head, tuple(word for word in words if word.strip())) for head, words in heads)
        return tuple((head, words) for head, words in kept if words)


@dataclass(frozen=True, slots=True)
class CarvingText:
    """Words of the whole guide; ``before`` stands over the stages, ``foot`` under every page."""

    title: str
    subtitle: str = ""
    before: tuple[str, ...] = ()
    stages: tuple[StageText, ...] = ()
    foot: str = ""


def carving_sheets(words: CarvingText, page: Page = "a4") -> tuple[Drawing, ...]:
    """Draw the guide on as many pages as it takes.

    Raises:
        UnknownNameError: no such page.
        InputError: words with line breaks.
    """
    sheet = paper(page)
    _, room = framed(sheet, _head(words, 1, 1))
    blocks = [_stage(n, stage, room.width) for n, stage in enumerate(words.stages, 1)]
    before = [word for word in words.before if word.strip()]
    if before:
        blocks.insert(0, _before(before, room.width))
    made = _evenly(blocks, room) if blocks else [()]
    drawings = []
    for n, items in enumerate(made, 1):
        heading, _ = framed(sheet, _head(words, n, len(made)))
        drawings.append(Drawing(sheet.width_mm, sheet.height_mm, f"{words.title}: carving guide",
                                (*heading, *items), LAYERS, _description(words)))
    return tuple(drawings)


def _before(words: Sequence[str], width: float) -> Block:
    """Set paragraphs over the stages, a hair inside the margin: some letters lean over it."""
    made = said("", words, width - 2 * HAIR_MM, WORDS_MM)
    return Block(moved(made.items, HAIR_MM, 0.0), made.bounds)


def _evenly(blocks: Sequence[Block], room: Bounds) -> list[tuple[Item, ...]]:
    """Pour blocks down as few pages as hold them, each about as full as the others."""
    made = poured(blocks, (room,), (room,), BETWEEN)
    tallest = max(one.bounds.height for one in blocks)
    while room.height - EVEN_MM >= tallest:
        room = Bounds(room.x0, room.y0 + EVEN_MM, room.x1, room.y1)
        tried = poured(blocks, (room,), (room,), BETWEEN)
        if len(tried) > len(made):
            break
        made = tried
    return made


def _head(words: CarvingText, number: int, count: int) -> Head:
    kind = "Carving guide" if count == 1 else f"Carving guide, {number} of {count}"
    return Head(words.title, words.subtitle, kind, words.foot)


def _stage(number: int, stage: StageText, width: float) -> Block:
    """Set one stage downward from y = 0: rule, box and name, words beside its table."""
    rule = line((0.0, 0.0), (width, 0.0), Pen.DIMENSION, layer=LAYER)
    box = rect(0.0, -2.2 - BOX_MM, BOX_MM, BOX_MM, Pen.VISIBLE, layer=LAYER)
    names = _name(f"{number} {stage.name}", width - BOX_ROOM)
    items: list[Item] = [rule, box, *names]
    # Tools stand beside the name where there is room.
    room = width - text_box(names[0]).x1 - 2 * GUTTER if len(names) == 1 else 0.0
    beside = bool(stage.tools.strip()) and width_mm(stage.tools, WORDS_MM) <= room
    if beside:
        items.append(Text(width, -2.2 - BOX_MM / 2, stage.tools, WORDS_MM, Anchor.END,
                          Baseline.MIDDLE, layer=LAYER))
    top = min(text_box(names[-1]).y0, -2.2 - BOX_MM) - 2.6
    left, right = split(Bounds(0.0, top - 1.0, width, top), SHARES, GUTTER)
    entries = stage.entries(tools=not beside)
    if entries:
        items += notes_block(entries, left.x0, top, left.width, size_mm=WORDS_MM).items
    if stage.checks:
        made = _checks(stage.checks, right.width)
        items += moved(made.items, right.x0 - made.bounds.x0, top - made.bounds.y1)
    bounds = block(items).bounds
    # Half a line's width may stand over the margin; the stage itself keeps to it.
    return Block(tuple(items), Bounds(0.0, bounds.y0, width, bounds.y1))


def _name(string: str, width: float) -> list[Text]:
    """Set a stage's name beside its box, broken where it is too long."""
    rows = lines_within(string, width, NAME_MM, Weight.BOLD)
    first = Text(BOX_ROOM, -2.2 - BOX_MM / 2 + NAME_MM / 2, rows[0], NAME_MM,
                 baseline=Baseline.TOP, weight=Weight.BOLD, layer=LAYER)
    made = [first]
    for row in rows[1:]:
        below = made[-1]
        made.append(Text(BOX_ROOM, below.y - 1.8 * NAME_MM, row, NAME_MM, baseline=Baseline.TOP,
                         weight=Weight.BOLD, layer=LAYER))
    return made


def _checks(checks: Sequence[tuple[str, str]], width: float) -> Block:
    """Set the table to this width; what it doesn't need is room to write in."""
    rows = [(what, should, "") for what, should in checks]

    def made(write: float) -> Block:
        columns = [Column(COLUMNS[0], "", Align.LEFT), Column(COLUMNS[1], "", Align.RIGHT),
                   Column(COLUMNS[2], "", Align.LEFT, write)]
        return fitted_table(columns, rows, width, size_mm=TABLE_MM)

    spare = width - made(WRITE_MM).bounds.width
    return made(WRITE_MM + max(spare - 0.1, 0.0))


def _description(words: CarvingText) -> str:
    names = ", ".join(stage.name for stage in words.stages)
    return f"Stages of carving to tick off: {names}." if names else "Stages of carving."
