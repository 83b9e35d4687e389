"""What every sheet must keep: no word on another, none under a line, nothing off the paper."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path as FilePath

import numpy as np

from springloom.drawing.lettering import text_box
from springloom.drawing.model import Array, Bounds, Drawing, Fill, Path, Text
from springloom.drawing.paths import curve_at, path_bounds
from springloom.drawing.pdf import write_pdf
from tests.verification.drawing_readback import paths_of, texts_of

DPI = 300
PIXEL_MM = 25.4 / DPI


def boxes(drawing: Drawing) -> tuple[list[Text], Array]:
    texts = texts_of(drawing)
    found = [text_box(text) for text in texts]
    return texts, np.array([(b.x0, b.y0, b.x1, b.y1) for b in found])


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    """Pairs of lines of text whose boxes share any area."""
    texts, b = boxes(drawing)
    low = np.maximum(b[:, None, :2], b[None, :, :2])
    high = np.minimum(b[:, None, 2:], b[None, :, 2:])
    pairs = np.argwhere(np.triu((low < high).all(axis=2), 1))
    return [(texts[i].string, texts[j].string) for i, j in pairs]


def dense(path: Path) -> Array:
    """Points on a path, 1 mm apart or less."""
    legs = np.linalg.norm(np.diff(path.segments, axis=1), axis=2)
    # Speed along a cubic is at most three times the longest leg.
    counts = np.ceil(3 * legs.max(axis=1)).astype(int) + 1
    return np.concatenate([curve_at(segment[None], np.linspace(0, 1, count + 1))[0]
                           for segment, count in zip(path.segments, counts, strict=True)])


def crossed(drawing: Drawing) -> list[tuple[str, str]]:
    """Words that any line or the edge of ink runs through."""
    texts, b = boxes(drawing)
    found = []
    for path in paths_of(drawing):
        if path.pen or path.fill is Fill.INK:
            box = path_bounds(path)
            near = np.flatnonzero((b[:, 0] < box.x1) & (b[:, 2] > box.x0)
                                  & (b[:, 1] < box.y1) & (b[:, 3] > box.y0))
            p = dense(path) if len(near) else np.empty((0, 2))
            found += [(path.layer, texts[i].string) for i in near
                      if ((p > b[i, :2]) & (p < b[i, 2:])).all(axis=1).any()]
    return found


def beyond(drawing: Drawing, frame: Bounds) -> list[str]:
    """What reaches out of a rectangle, line width included."""
    texts, b = boxes(drawing)
    low = np.minimum(b[:, :2] - (frame.x0, frame.y0), 0.0).min(axis=1)
    high = np.minimum((frame.x1, frame.y1) - b[:, 2:], 0.0).min(axis=1)
    words = [t.string for t, out in zip(texts, np.minimum(low, high) < -1e-9, strict=True) if out]
    # A line on the edge has half its width outside; no printer minds a quarter of a mm.
    return words + [path.layer for path in paths_of(drawing)
                    if not frame.contains(path_bounds(path))]


def assert_tidy(drawing: Drawing, margin_mm: float) -> None:
    """No word in the way, nothing nearer to the paper's edge than ``margin_mm``."""
    assert overlapping(drawing) == []
    assert crossed(drawing) == []
    assert beyond(drawing, drawing.page.grown(-margin_mm)) == []


def rendered(pdf: bytes, height_mm: float, box: Bounds, folder: FilePath, *, page: int = 0,
             dpi: int = DPI) -> Array:
    """Render a rectangle (mm, from the lower left corner) of a page; rows from its top, 0 black."""
    source = folder / "sheet.pdf"
    source.write_bytes(pdf)
    pixel = 25.4 / dpi
    x, top = round(box.x0 / pixel), round((height_mm - box.y1) / pixel)
    width, height = round(box.width / pixel), round(box.height / pixel)
    made = subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-gray", "-singlefile", "-f", str(page + 1),
         "-l", str(page + 1), "-x", str(x), "-y", str(top), "-W", str(width), "-H", str(height),
         str(source)],
        check=True, capture_output=True, timeout=60,
    ).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", made)
    assert head
    pixels = np.frombuffer(made[head.end():], dtype=np.uint8)
    return pixels.reshape(int(head[2]), int(head[1])).astype(np.float64)


def bar_errors_mm(drawing: Drawing, folder: FilePath) -> tuple[float, float]:
    """How far the printed 100 mm and 4 in bar are from that, rendered at 300 dpi."""
    pdf = write_pdf([drawing])
    bases = [path_bounds(p) for p in paths_of(drawing)
             if p.layer == "check" and p.pen and len(p.segments) == 1]
    assert len(bases) == 2
    errors = []
    for base, length in zip(bases, (100.0, 4 * 25.4), strict=True):
        # A row of pixels over the bar's blocks (0.8 mm) and under its low ticks' ends (2.2 mm).
        box = Bounds(base.x0 - 3.0, base.y0 + 1.2, base.x1 + 3.0, base.y0 + 1.8)
        row = 255.0 - rendered(pdf, drawing.height_mm, box, folder)[3]
        dark = np.flatnonzero(row > 60)
        groups = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
        centres = [float(np.average(g, weights=row[g])) for g in groups]
        errors.append((centres[-1] - centres[0]) * PIXEL_MM - length)
    return errors[0], errors[1]
