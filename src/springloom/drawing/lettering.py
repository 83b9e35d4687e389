"""Setting type: settled characters, stacked fractions, paragraphs, and boxes for overlap checks.

All measures are the face's own, without kerning, so that SVG and PDF break no line differently.
Sizes are heights of capitals, as in ISO 3098.
"""

from __future__ import annotations

import functools
import math
import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from springloom.drawing.fonts import em_mm, face, plain_width_mm
from springloom.drawing.model import (
    Anchor,
    Array,
    Baseline,
    Block,
    Bounds,
    Fill,
    Item,
    Path,
    Text,
    Weight,
    sequence_bounds,
)
from springloom.drawing.paths import path_bounds, rect
from springloom.errors import in_range

# Proportions of a stacked fraction, in capital heights of its line; chosen by eye on paper.
FRACTION_SCALE = 0.72  # numerals of the fraction
FRACTION_GAP = 0.18  # from the bar's middle to either numeral
BAR_THICKNESS = 0.085
BAR_OVERHANG = 0.09  # bar beyond the wider numeral
WHOLE_GAP = 0.14  # between the whole number and the bar
# No fraction numeral is smaller than the smallest lettering of ISO 3098-1 (from memory),
# which at 600 mm is 10 minutes of arc, twice what normal sight resolves.
SMALLEST_MM = 1.8

_FRACTION = re.compile(r"(?<![\w.,/])(\d{1,3})/(\d{1,3})(?![\w/]|[.,]\d)")
_SLASH = "\N{FRACTION SLASH}"
_ALIKE = {
    "\N{FRACTION SLASH}": "/",
    "\N{DIVISION SLASH}": "/",
    "\N{PRIME}": "'",
    "\N{DOUBLE PRIME}": '"',
    "\N{HYPHEN}": "-",
    "\N{NON-BREAKING HYPHEN}": "-",
    "\N{FIGURE DASH}": "\N{EN DASH}",
    "\N{DIAMETER SIGN}": "Ø",
    "\N{EMPTY SET}": "Ø",
    "\N{THIN SPACE}": "\N{NO-BREAK SPACE}",
    "\N{NARROW NO-BREAK SPACE}": "\N{NO-BREAK SPACE}",
}


@dataclass(frozen=True, slots=True)
class Run:
    """Characters set at one size; (x, y) is where the first one's foot stands, mm."""

    string: str
    x: float
    y: float
    size_mm: float
    visible: bool = True


@dataclass(frozen=True, slots=True)
class Setting:
    """A line of text taken apart for a writer, relative to the text's own (x, y), unrotated.

    Attributes:
        runs: in reading order; a fraction's slash is there, invisible, to be selected.
        bars: fraction bars.
        foot: height of the line's own foot.
        box: room taken: advance by capital height at least, and all ink.
    """

    runs: tuple[Run, ...]
    bars: tuple[Bounds, ...]
    foot: float
    box: Bounds


def width_mm(string: str, size_mm: float, weight: Weight = Weight.REGULAR) -> float:
    """Return the room a line takes in x, fractions stacked."""
    return set_text(Text(0.0, 0.0, string, size_mm, weight=weight)).box.width


def fraction_size_mm(size_mm: float) -> float:
    """Return the height of a fraction's numerals in a line of this size."""
    return max(FRACTION_SCALE * size_mm, min(size_mm, SMALLEST_MM))


def has_fraction(string: str) -> bool:
    """Whether the line holds a fraction that would be stacked."""
    return _FRACTION.search(settled(string)) is not None


def missing(string: str) -> str:
    """Return the characters that the face has no likeness of; each is set as a question mark."""
    return "".join(c for c in string if c != "?" and "?" in settled(c))


@functools.lru_cache(maxsize=4096)
def settled(string: str, fractions: bool = True) -> str:
    """Return the line in characters the face has.

    ``½`` becomes ``1/2`` (so it can be stacked), primes and thin spaces their plain relatives,
    a letter with an unknown accent the bare letter, and what is left a question mark.
    """
    known = face().advance
    out = ""
    for char in string:
        spread = unicodedata.normalize("NFKC", char)
        if _SLASH in spread and (fractions or char not in known):
            out += (" " if out[-1:].isdigit() else "") + spread.replace(_SLASH, "/")
        elif char in known:
            out += char
        else:
            plain = _ALIKE.get(char) or _bare(char)
            out += plain if plain and all(c in known for c in plain) else "?"
    return out


def _bare(char: str) -> str:
    spread = unicodedata.normalize("NFKD", char)
    return "".join(c for c in spread if not unicodedata.combining(c))


def set_text(text: Text) -> Setting:
    """Take a line apart into runs and bars, shifted for its anchor and baseline."""
    # Equal lines at other places share one setting.
    return _set_text(replace(text, x=0.0, y=0.0, rotation_deg=0.0, layer="text"))


@functools.lru_cache(maxsize=8192)
def _set_text(text: Text) -> Setting:
    setting = _set_line(settled(text.string, text.fractions), text)
    dx = {Anchor.START: 0.0, Anchor.MIDDLE: -0.5, Anchor.END: -1.0}[text.anchor]
    dy = {Baseline.FOOT: 0.0, Baseline.MIDDLE: -0.5, Baseline.TOP: -1.0}[text.baseline]
    return _shifted(setting, dx * _advance(setting, text.weight), dy * text.size_mm)


def text_box(text: Text) -> Bounds:
    """Return the upright rectangle around a line of text, ink and advance, rotation included."""
    corners = text_corners(text)
    low, high = corners.min(axis=0), corners.max(axis=0)
    return Bounds(float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def text_corners(text: Text) -> Array:
    """Return the four corners of the line's own rectangle, shape (4, 2), counterclockwise."""
    box = set_text(text).box
    local = np.array([(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1)])
    turn = math.radians(text.rotation_deg)
    c, s = math.cos(turn), math.sin(turn)
    corners: Array = local @ np.array([(c, s), (-s, c)]) + (text.x, text.y)
    return corners


def item_box(item: Item) -> Bounds:
    """Return the rectangle around an item, line width included."""
    return path_bounds(item, stroke=True) if isinstance(item, Path) else text_box(item)


def block(items: Iterable[Item]) -> Block:
    """Bind items together with the room they take."""
    bound = tuple(items)
    return Block(bound, sequence_bounds([item_box(item) for item in bound]))


def backing(text: Text, margin_mm: float = 0.5) -> Path:
    """Return a patch of bare ground to go beneath a line of text, so that no line crosses it."""
    box = text_box(text).grown(margin_mm)
    return rect(box.x0, box.y0, box.width, box.height, None, fill=Fill.GROUND, layer=text.layer)


def wrap(string: str, width: float, size_mm: float,
         weight: Weight = Weight.REGULAR) -> tuple[str, ...]:
    """Break a paragraph into lines of at most ``width`` mm; a longer word stands alone.

    A mixed number is never torn from its fraction, nor words joined by a no-break space.
    """
    in_range(width, "wrap.width", 0.0, unit="mm", open_low=True)
    held = re.sub(r"(?<=\d) (?=\d{1,3}/\d)", "\u00a0", settled(string))
    rows = [""]
    for word in held.split(" "):
        longer = f"{rows[-1]} {word}".strip(" ")
        if rows[-1] and width_mm(longer, size_mm, weight) > width:
            rows.append(word)
        else:
            rows[-1] = longer
    return tuple(row.replace("\u00a0", " ") for row in rows if row)


def paragraph(x: float, y: float, width: float, string: str, size_mm: float = 2.5, *,
              weight: Weight = Weight.REGULAR, leading: float = 1.9,
              layer: str = "text") -> Block:
    """Set a paragraph downward from y, one line each ``leading`` capital heights.

    The first line's capitals end at y, or its stacked fractions do. A line with a fraction
    gets half a capital height more, shared above and below.
    """
    items: list[Text] = []
    top = y
    for row in wrap(string, width, size_mm, weight):
        text = Text(x, top, row, size_mm, baseline=Baseline.TOP, weight=weight, layer=layer)
        extra = 0.25 * size_mm if has_fraction(row) else 0.0
        above = text_box(text).y1 - top if extra and not items else extra
        items.append(text.moved(0.0, -above))
        top -= above + leading * size_mm + extra
    return block(items)


def characters(texts: Iterable[Text]) -> dict[Weight, str]:
    """Return the characters each weight is used for, sorted."""
    used: dict[Weight, set[str]] = {}
    for text in texts:
        runs = set_text(text).runs
        used.setdefault(text.weight, set()).update(*(run.string for run in runs))
    return {w: "".join(sorted(used[w])) for w in Weight if w in used}


def _set_line(string: str, text: Text) -> Setting:
    runs: list[Run] = []
    bars: list[Bounds] = []
    x, done = 0.0, 0
    for found in _FRACTION.finditer(string) if text.fractions else ():
        before = string[done:found.start()]
        if before:
            runs.append(Run(before, x, 0.0, text.size_mm))
            x += _step_before(before, text)
        stack, bar = _stack(found[1], found[2], x, text)
        runs += stack
        bars.append(bar)
        x, done = bar.x1, found.end()
    if string[done:]:
        runs.append(Run(string[done:], x + (_after_gap(string[done]) if bars else 0.0)
                        * text.size_mm, 0.0, text.size_mm))
    return Setting(tuple(runs), tuple(bars), 0.0, _box(runs, bars, text.weight))


def _step_before(before: str, text: Text) -> float:
    """Advance up to a fraction; a whole number stands closer to it than a word would."""
    if re.search(r"\d[ \u00a0]$", before):
        return (plain_width_mm(before[:-1], text.size_mm, text.weight)
                + WHOLE_GAP * text.size_mm)
    return plain_width_mm(before, text.size_mm, text.weight)


def _after_gap(char: str) -> float:
    return 0.0 if char in " \u00a0" else WHOLE_GAP


def _stack(top: str, bottom: str, x: float, text: Text) -> tuple[list[Run], Bounds]:
    """Numerator, unseen slash and denominator about the line's half capital height."""
    h, small = text.size_mm, fraction_size_mm(text.size_mm)
    over, under, slash = (plain_width_mm(s, small, text.weight) for s in (top, bottom, "/"))
    width = max(over, under) + 2 * BAR_OVERHANG * h
    middle, axis = x + width / 2, h / 2
    runs = [
        Run(top, middle - over / 2, axis + FRACTION_GAP * h, small),
        Run("/", middle - slash / 2, axis - small / 2, small, visible=False),
        Run(bottom, middle - under / 2, axis - FRACTION_GAP * h - small, small),
    ]
    half = BAR_THICKNESS * h / 2
    return runs, Bounds(x, axis - half, x + width, axis + half)


def _advance(setting: Setting, weight: Weight) -> float:
    last = setting.runs[-1]
    pen = last.x + plain_width_mm(last.string, last.size_mm, weight)
    return max(pen, *(bar.x1 for bar in setting.bars)) if setting.bars else pen


def _box(runs: list[Run], bars: list[Bounds], weight: Weight) -> Bounds:
    boxes = [*bars, *(_run_box(run, weight) for run in runs if run.visible)]
    return sequence_bounds(boxes)


def _run_box(run: Run, weight: Weight) -> Bounds:
    """Advance by capital height, widened to whatever ink sticks out of it."""
    measures, em = face(weight), em_mm(run.size_mm, weight)
    x0, y0, x1, y1 = 0.0, 0.0, 0.0, measures.capital
    pen = 0.0
    for char in run.string:
        if char in measures.ink:
            left, foot, right, head = measures.ink[char]
            x0, y0 = min(x0, pen + left), min(y0, foot)
            x1, y1 = max(x1, pen + right), max(y1, head)
        pen += measures.advance[char]
    return Bounds(run.x + x0 * em, run.y + y0 * em, run.x + max(x1, pen) * em, run.y + y1 * em)


def _shifted(setting: Setting, dx: float, dy: float) -> Setting:
    return Setting(
        tuple(replace(run, x=run.x + dx, y=run.y + dy) for run in setting.runs),
        tuple(bar.moved(dx, dy) for bar in setting.bars),
        setting.foot + dy,
        setting.box.moved(dx, dy),
    )
