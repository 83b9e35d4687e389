"""Drawings as DXF: native splines, lines and text, in mm, for a machine or a drawing program.

A run of cubics is one SPLINE whose knots are threefold at the joints, so its control points
are the model's own; straight runs are LINE or LWPOLYLINE; fills are HATCH. Ink is colour 7,
which is black on paper and light on a dark screen. The same drawing gives the same file.
"""

from __future__ import annotations

import io
import itertools
import math
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from springloom.drawing.fonts import plain_width_mm
from springloom.drawing.lettering import Run, set_text
from springloom.drawing.model import Array, Bounds, Drawing, Fill, Path, Pen, Text, Weight

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

# The oldest release whose text is UTF-8 and whose colours are free: AutoCAD 2010.
RELEASE = "R2010"
# Verdana's widths are close to Vera's (from memory), and most drawing programs find it. Text
# is fitted between two points besides, so that another face changes no layout.
FONTS = {Weight.REGULAR: "verdana.ttf", Weight.BOLD: "verdanab.ttf"}
INK = 7
_FILL_RGB = {Fill.WASH: (228, 228, 228), Fill.GROUND: (255, 255, 255)}
# The stamp that keeps dates and random identifiers out of a file is global to ezdxf.
_LOCK = threading.Lock()

Look: TypeAlias = dict[str, Any]
Flags: TypeAlias = NDArray[np.bool_]


def write_dxf(drawing: Drawing) -> str:
    """Write one page as the text of a DXF file, to be stored as UTF-8; y up, mm."""
    from ezdxf.filemanagement import new  # noqa: PLC0415 - loaded late: it takes 0.3 s

    with _LOCK, _without_dates():
        document = new(RELEASE, units=4)
        _set_up(document, drawing)
        space = document.modelspace()
        for layer in drawing.layers:
            for item in drawing.on_layer(layer):
                if isinstance(item, Path):
                    _path(space, item)
                else:
                    _text(space, item)
        out = io.StringIO()
        document.write(out)
    return out.getvalue()


@contextmanager
def _without_dates() -> Iterator[None]:
    """Let ezdxf write the same dates and identifiers each time."""
    from ezdxf._options import options  # noqa: PLC0415 - loaded late; `ezdxf` hides its type

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _set_up(document: Document, drawing: Drawing) -> None:
    """Units, page size, layers, line types and lettering."""
    size = (drawing.width_mm, drawing.height_mm)
    header = document.header
    header["$LTSCALE"] = 1.0
    header["$LWDISPLAY"] = 1
    space = document.modelspace()
    space.reset_extents((0.0, 0.0, 0.0), (*size, 0.0))
    space.reset_limits((0.0, 0.0), size)
    # An extent that begins at nought passes for none there, so it is told here as well.
    header["$EXTMIN"], header["$EXTMAX"] = (0.0, 0.0, 0.0), (*size, 0.0)
    header.custom_vars.append("Title", drawing.title)
    if drawing.description:
        header.custom_vars.append("Subject", drawing.description)
    for pen in Pen:
        if pen.dash_mm:
            lengths = [length * sign for length, sign
                       in zip(pen.dash_mm, itertools.cycle((1.0, -1.0)), strict=False)]
            document.linetypes.add(_linetype(pen), [sum(pen.dash_mm), *lengths],
                                   description=f"{pen.value} line, ISO 128-2")
    for weight in Weight:
        document.styles.add(_style(weight), font=FONTS[weight])
    for layer in drawing.layers:
        if layer not in document.layers:
            document.layers.add(layer, color=INK)


def _path(space: Modelspace, path: Path) -> None:
    runs = path.runs()
    if path.fill:
        _fill(space, path, runs)
    if path.pen is None:
        return
    look = _pen_look(path.pen, path.layer)
    done, straight = 0, path.straight()
    for run in runs:
        flat = straight[done:done + len(run)]
        done += len(run)
        if path.closed and flat.all():
            corners = run[:, 0] if np.array_equal(run[-1, 3], run[0, 0]) else _corners(run)
            space.add_lwpolyline(corners.tolist(), close=True, dxfattribs=look)
        else:
            _stroke(space, run, flat, look)
            if path.closed and np.any(run[-1, 3] != run[0, 0]):
                space.add_line(run[-1, 3].tolist(), run[0, 0].tolist(), dxfattribs=look)


def _stroke(space: Modelspace, run: Array, flat: Flags, look: Look) -> None:
    """Draw a run as straight and curved entities, each as long as it goes, joined end to end."""
    turns = np.flatnonzero(flat[1:] != flat[:-1]) + 1
    for piece, kind in zip(np.split(run, turns), flat[[0, *turns]], strict=True):
        if not kind:
            spline = space.add_spline(dxfattribs=look)
            spline.control_points = np.vstack((piece[0, :1], piece[:, 1:].reshape(-1, 2)))
            spline.knots = _knots(len(piece))
        elif len(piece) == 1:
            if np.any(piece[0, 0] != piece[0, 3]):
                space.add_line(piece[0, 0].tolist(), piece[0, 3].tolist(), dxfattribs=look)
        else:
            space.add_lwpolyline(_corners(piece).tolist(), dxfattribs=look)


def _fill(space: Modelspace, path: Path, runs: tuple[Array, ...]) -> None:
    hatch = space.add_hatch(INK, dxfattribs={"layer": path.layer, "hatch_style": 0})
    if path.fill in _FILL_RGB:
        hatch.rgb = _FILL_RGB[path.fill]
    done, straight = 0, path.straight()
    for run in runs:
        flat = straight[done:done + len(run)]
        done += len(run)
        boundary = hatch.paths.add_edge_path()
        for segment, kind in zip(run, flat, strict=True):
            if kind:
                boundary.add_line(segment[0].tolist(), segment[3].tolist())
            else:
                boundary.add_spline(control_points=segment.tolist(), knot_values=_knots(1))
        if np.any(run[-1, 3] != run[0, 0]):
            boundary.add_line(run[-1, 3].tolist(), run[0, 0].tolist())


def _text(space: Modelspace, text: Text) -> None:
    """Set each piece as a TEXT of its own; a fraction's slash is only there for selecting."""
    setting = set_text(text)
    turn = math.radians(text.rotation_deg)
    frame = np.array([(math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))])
    for run in setting.runs:
        if run.visible and run.string.strip():
            _run(space, run, text, frame)
    for bar in setting.bars:
        _bar(space, bar, text, frame)


def _run(space: Modelspace, run: Run, text: Text, frame: Array) -> None:
    from ezdxf.enums import TextEntityAlignment  # noqa: PLC0415 - loaded late, as above

    # Spaces at an end would be fitted away: leave them out, and their room with them.
    string = run.string.lstrip()
    skipped = plain_width_mm(run.string[:len(run.string) - len(string)], run.size_mm, text.weight)
    string = string.rstrip()
    width = plain_width_mm(string, run.size_mm, text.weight)
    start, stop = _placed(text, frame, run.y, run.x + skipped, run.x + skipped + width)
    look = {"layer": text.layer, "style": _style(text.weight)}
    made = space.add_text(_escaped(string), height=run.size_mm, rotation=text.rotation_deg,
                          dxfattribs=look)
    made.set_placement(start, stop, TextEntityAlignment.FIT)


def _bar(space: Modelspace, bar: Bounds, text: Text, frame: Array) -> None:
    """Draw a fraction's bar as a line as thick as the bar."""
    ends = _placed(text, frame, (bar.y0 + bar.y1) / 2, bar.x0, bar.x1)
    space.add_lwpolyline(ends, dxfattribs={"layer": text.layer, "const_width": bar.height})


def _placed(text: Text, frame: Array, y: float, *along: float) -> list[list[float]]:
    """Return where points of a text's own frame lie on the page."""
    local = np.array([(x, y) for x in along])
    return [[float(x), float(y)] for x, y in local @ frame + np.array((text.x, text.y))]


def _escaped(string: str) -> str:
    """Keep what would read as a control code in TEXT as it was written."""
    if "%%" in string:
        string = string.replace("%", "%%%")
    return string.replace("^", "^ ")


def _pen_look(pen: Pen, layer: str) -> Look:
    look: Look = {"layer": layer, "lineweight": round(100 * pen.width_mm)}
    if pen.dash_mm:
        look["linetype"] = _linetype(pen)
    return look


def _linetype(pen: Pen) -> str:
    return f"SPRINGLOOM-{pen.value.upper()}"


def _style(weight: Weight) -> str:
    return f"SPRINGLOOM-{weight.value.upper()}"


def _corners(run: Array) -> Array:
    return np.vstack((run[0, :1], run[:, 3]))


def _knots(count: int) -> list[float]:
    """Knots of ``count`` cubics in a row: fourfold at the ends, threefold at the joints."""
    return [0.0, *(float(n) for n in range(count + 1) for _ in range(3)), float(count)]
