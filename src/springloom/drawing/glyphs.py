"""Lettering as filled shapes, for words that must be cut like any other line."""

from __future__ import annotations

import functools
import math
from typing import Any

import numpy as np

from springloom.drawing.fonts import em_mm, open_font
from springloom.drawing.lettering import set_text
from springloom.drawing.model import Array, Fill, Path, Text, Weight
from springloom.drawing.paths import polyline, rect


def as_shapes(text: Text) -> Path:
    """Return a line of text, fraction bars included, as one filled path in its place."""
    setting = set_text(text)
    pieces = [rect(bar.x0, bar.y0, bar.width, bar.height).segments for bar in setting.bars]
    for run in setting.runs:
        if not run.visible:
            continue
        pen = 0.0
        for char in run.string:
            shape, advance = _glyph(char, text.weight)
            if len(shape):
                em = em_mm(run.size_mm, text.weight)
                pieces.append((shape + np.array((pen, 0.0))) * em + np.array((run.x, run.y)))
            pen += advance
    turn = math.radians(text.rotation_deg)
    frame = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    placed = np.concatenate(pieces) @ frame + np.array((text.x, text.y))
    return Path(placed, None, True, Fill.INK, text.layer)


@functools.cache
def _font(weight: Weight) -> tuple[Any, dict[int, str], float]:
    font = open_font(weight)
    return font.getGlyphSet(), font.getBestCmap(), float(font["head"].unitsPerEm)


@functools.lru_cache(maxsize=512)
def _glyph(char: str, weight: Weight) -> tuple[Array, float]:
    """Contours of one character as cubics, shape (n, 4, 2), and its advance, in ems."""
    from fontTools.pens.basePen import BasePen  # noqa: PLC0415 - loaded late, as fontTools is

    glyphs, names, em = _font(weight)
    found: list[Array] = []

    class Collect(BasePen):  # type: ignore[misc]  # fontTools ships no types
        """Takes contours; quadratics arrive as the cubics they are."""

        def _moveTo(self, pt: tuple[float, float]) -> None:  # noqa: N802 - fontTools' name
            self.first = self.here = pt

        def _lineTo(self, pt: tuple[float, float]) -> None:  # noqa: N802 - fontTools' name
            found.append(polyline((self.here, pt)).segments[0])
            self.here = pt

        def _curveToOne(self, pt1: tuple[float, float], pt2: tuple[float, float],  # noqa: N802
                        pt3: tuple[float, float]) -> None:
            found.append(np.array((self.here, pt1, pt2, pt3), dtype=np.float64))
            self.here = pt3

        def _closePath(self) -> None:  # noqa: N802 - fontTools' name
            if self.here != self.first:
                self._lineTo(self.first)

    name = names[ord(char)]
    glyphs[name].draw(Collect(glyphs))
    return np.array(found).reshape(-1, 4, 2) / em, glyphs[name].width / em
