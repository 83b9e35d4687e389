"""The face: its measures in ems, and its file cut down for a web page.

Bitstream Vera Sans comes with the reportlab package; its licence allows embedding, and subsets
under another name.
"""

from __future__ import annotations

import functools
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any

from springloom.drawing.model import Weight

FAMILY = "Springloom Lettering"

_FILES = {Weight.REGULAR: "Vera.ttf", Weight.BOLD: "VeraBd.ttf"}

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Face:
    """Measures of one weight of the face, in ems.

    Attributes:
        advance: step to the next character.
        ink: x0, y0, x1, y1 of each character that leaves ink.
        capital: height of H.
        ascent: foot line to the top of the tallest character.
        descent: foot line to the bottom of the lowest, negative.
    """

    advance: Mapping[str, float]
    ink: Mapping[str, Box]
    capital: float
    ascent: float
    descent: float


@functools.cache
def face(weight: Weight = Weight.REGULAR) -> Face:
    """Read the measures of one weight of the face."""
    font = open_font(weight)
    em = float(font["head"].unitsPerEm)
    names = {chr(code): name for code, name in font.getBestCmap().items()}
    glyphs, metrics = font["glyf"], font["hmtx"]
    ink = {}
    for char, name in names.items():
        glyph = glyphs[name]
        if glyph.numberOfContours:
            ink[char] = (glyph.xMin / em, glyph.yMin / em, glyph.xMax / em, glyph.yMax / em)
    advance = {char: metrics[name][0] / em for char, name in names.items()}
    return Face(advance, ink, ink["H"][3], font["hhea"].ascent / em, font["hhea"].descent / em)


def font_file(weight: Weight = Weight.REGULAR) -> FilePath:
    """Return the TrueType file of one weight, inside the reportlab package."""
    import reportlab  # noqa: PLC0415 - loaded late: only writers and measures need it

    return FilePath(reportlab.__file__).parent / "fonts" / _FILES[weight]


def em_mm(size_mm: float, weight: Weight = Weight.REGULAR) -> float:
    """Return the em (what CSS and PDF call the font size) for a height of capitals."""
    return size_mm / face(weight).capital


def plain_width_mm(string: str, size_mm: float, weight: Weight = Weight.REGULAR) -> float:
    """Return the advance of characters set one after the other, fractions not stacked."""
    advance = face(weight).advance
    return em_mm(size_mm, weight) * sum(advance[c] for c in string)


@functools.lru_cache(maxsize=64)
def woff(weight: Weight = Weight.REGULAR, chars: str | None = None) -> bytes:
    """Return the face as WOFF 1.0, cut down to ``chars`` (all when None).

    The subset goes by the family name ``FAMILY``, since the licence keeps its own names for the
    untouched fonts; copyright, trademark and licence stay in it. Same bytes for the same call.
    """
    from fontTools import subset  # noqa: PLC0415 - loaded late: only the SVG writer needs it

    options = subset.Options(hinting=False, layout_features=[], name_IDs=[0, 7, 13],
                             name_legacy=True, notdef_outline=True, glyph_names=False,
                             recalc_timestamp=False, flavor="woff")
    options.drop_tables += ["PCLT", "hdmx", "kern", "gasp"]
    font = open_font(weight)
    cutter = subset.Subsetter(options)
    cutter.populate(text="".join(face(weight).advance) if chars is None else chars)
    cutter.subset(font)
    _rename(font, weight)
    out = io.BytesIO()
    subset.save_font(font, out, options)
    return out.getvalue()


def _rename(font: Any, weight: Weight) -> None:
    style = "Bold" if weight is Weight.BOLD else "Regular"
    own = {1: FAMILY, 2: style, 3: f"{FAMILY} {style}", 4: f"{FAMILY} {style}",
           6: f"{FAMILY.replace(' ', '')}-{style}"}
    for number, value in own.items():
        font["name"].setName(value, number, 3, 1, 0x409)


def open_font(weight: Weight) -> Any:
    """Read one weight's file anew."""
    from fontTools.ttLib import TTFont  # noqa: PLC0415 - loaded late: it takes 0.2 s

    return TTFont(font_file(weight), recalcTimestamp=False)
