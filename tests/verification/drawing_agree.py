"""Whether the three writers put every path of a drawing in the same place, and where it was."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.entities.line import Line
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.spline import Spline
from ezdxf.filemanagement import read

from springloom.drawing.dxf import write_dxf
from springloom.drawing.model import Array, Drawing, Path
from springloom.drawing.paths import curve_at, polyline
from springloom.drawing.pdf import write_pdf
from springloom.drawing.svg import write_svg
from tests.verification.drawing_readback import (
    SVG,
    path_segments,
    paths_of,
    pdf_paths,
    svg_root,
)

T = np.linspace(0.0, 1.0, 9)


def dxf_document(text: str) -> Document:
    return read(io.StringIO(text))


def dxf_segments(text: str) -> Array:
    """Return every line and curve of a DXF in drawing order as cubics; fraction bars left out."""
    found = [segments for entity in dxf_document(text).modelspace()
             for segments in _segments(entity)]
    return np.concatenate(found)


def _segments(entity: DXFEntity) -> list[Array]:
    if isinstance(entity, Line):
        ends = [(e.x, e.y) for e in (entity.dxf.start, entity.dxf.end)]
        return [polyline(ends).segments]
    if isinstance(entity, LWPolyline) and not entity.dxf.const_width:
        corners = [(x, y) for x, y, *_ in entity]
        return [polyline(corners, closed=entity.closed).segments]
    if isinstance(entity, Spline):
        points = np.array([(p[0], p[1]) for p in entity.control_points])
        count = (len(points) - 1) // 3
        inside = [n for n in range(1, count) for _ in range(3)]
        assert list(entity.knots) == [0.0] * 4 + inside + [count] * 4
        assert not len(entity.weights)
        return [np.stack([points[3 * n:3 * n + 4] for n in range(count)])]
    return []


def whole(path: Path) -> Array:
    """Return all that the pen draws: the line that closes a run too, nothing without length."""
    runs = []
    for run in path.runs():
        runs.append(run)
        if path.closed and np.any(run[-1, 3] != run[0, 0]):
            runs.append(polyline((run[-1, 3], run[0, 0])).segments)
    segments = np.concatenate(runs)
    drawn: Array = segments[np.ptp(segments, axis=1).max(axis=1) > 0]
    return drawn


def lines_only(drawing: Drawing) -> Drawing:
    """Return the drawing's paths alone, so that no fraction's bar is among what is painted."""
    return replace(drawing, items=tuple(paths_of(drawing)))


def widest_gap_mm(drawing: Drawing) -> float:
    """Return how far any path lies, in any of the three files, from the model's."""
    page = lines_only(drawing)
    paths = paths_of(page)
    svg = [path_segments(e.attrib["d"], page.height_mm)[0]
           for e in svg_root(write_svg(page)).iter(f"{SVG}path")]
    pdf = pdf_paths(write_pdf([page]))
    assert len(svg) == len(pdf) == len(paths)
    gaps = [_gap(a, path.segments) for made in (svg, pdf)
            for a, path in zip(made, paths, strict=True)]
    penned = [whole(path) for path in paths if path.pen]
    if penned:
        gaps.append(_gap(dxf_segments(write_dxf(page)), np.concatenate(penned)))
    return max(gaps)


def _gap(a: Array, b: Array) -> float:
    assert a.shape == b.shape
    return float(np.abs(curve_at(a, T) - curve_at(b, T)).max())
