"""Drawings as PDF: exact page size, embedded lettering, no scaling in the print dialogue.

Colours are greys of black on white: print is always ink on white. The same drawings give the
same bytes.
"""

from __future__ import annotations

import functools
import io
import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from springloom.drawing.fonts import em_mm, font_file, plain_width_mm
from springloom.drawing.lettering import Run, Setting, set_text
from springloom.drawing.model import Bounds, Drawing, Fill, Path, Text, Weight
from springloom.errors import InputError, in_range

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.pdfgen.textobject import PDFTextObject

POINT_MM = 25.4 / 72.0
_GREY = {Fill.INK: 0.0, Fill.WASH: 0.894, Fill.GROUND: 1.0}
# reportlab keeps a font's subset and read position on the font itself.
_LOCK = threading.Lock()


@dataclass(frozen=True, slots=True)
class Mark:
    """A line of the document's outline; pages count from 0, ``level`` 0 is the outermost."""

    title: str
    page: int
    level: int = 0


@dataclass(frozen=True, slots=True)
class Jump:
    """A rectangle on a page, mm, that leads to another page; pages count from 0."""

    page: int
    box: Bounds
    to: int


def write_pdf(drawings: Sequence[Drawing], *, title: str = "", language: str = "en",
              marks: Sequence[Mark] = (), jumps: Sequence[Jump] = ()) -> bytes:
    """Write one page per drawing, each of its own size.

    Args:
        drawings: the pages, at least one.
        title: the document's title; the first page's when empty.
        language: BCP 47 tag of the text, for screen readers.
        marks: the document's outline, in the order of its pages.
        jumps: places that lead from page to page.

    Raises:
        InputError: no pages, or a mark or jump to a page there is not.
    """
    if not drawings:
        raise InputError("no pages to write", field="pdf.drawings", allowed="at least one")
    for page in (*(mark.page for mark in marks), *(n for j in jumps for n in (j.page, j.to))):
        in_range(page, "pdf.page", 0, len(drawings) - 1)
    from reportlab.pdfgen.canvas import Canvas  # noqa: PLC0415 - loaded late: it takes 0.1 s

    out = io.BytesIO()
    with _LOCK:
        canvas = Canvas(out, invariant=1, pageCompression=1, lang=language,
                        initialFontName=_font_name(Weight.REGULAR))  # type: ignore[arg-type]  # stub says float
        _describe(canvas, title or drawings[0].title, drawings[0].description)
        for n, drawing in enumerate(drawings):
            for jump in jumps:
                if jump.page == n:
                    box = jump.box
                    canvas.linkRect("", _place(jump.to), (_pt(box.x0), _pt(box.y0), _pt(box.x1),
                                                          _pt(box.y1)), relative=0, thickness=0)
            if jumps:
                canvas.bookmarkPage(_place(n))
            for number, mark in enumerate(marks):
                if mark.page == n:
                    # A name of its own, or two lines that lead to one page would be one.
                    canvas.bookmarkPage(f"mark-{number}")
                    canvas.addOutlineEntry(mark.title, f"mark-{number}", mark.level)
            _page(canvas, drawing)
        if marks:
            canvas.showOutline()
        canvas.save()
    return out.getvalue()


def _place(page: int) -> str:
    """Name of a page as a place to go to."""
    return f"page-{page + 1}"


def _describe(canvas: Canvas, title: str, subject: str) -> None:
    canvas.setTitle(title)
    canvas.setSubject(subject)
    canvas.setAuthor("")
    canvas.setCreator("Springloom")
    canvas.setViewerPreference("PrintScaling", "None")
    canvas.setViewerPreference("DisplayDocTitle", "true")


def _page(canvas: Canvas, drawing: Drawing) -> None:
    canvas.setPageSize((_pt(drawing.width_mm), _pt(drawing.height_mm)))
    canvas.setLineJoin(1)
    for layer in drawing.layers:
        for item in drawing.on_layer(layer):
            if isinstance(item, Path):
                _path(canvas, item)
            else:
                _text(canvas, item)
    canvas.showPage()


def _path(canvas: Canvas, path: Path) -> None:
    shape = canvas.beginPath()
    straight, done = path.straight(), 0
    for run in path.runs():
        points = (run / POINT_MM).tolist()
        shape.moveTo(*points[0][0])
        for (_, b, c, d), flat in zip(points, straight[done:done + len(run)], strict=True):
            if flat:
                shape.lineTo(*d)
            else:
                shape.curveTo(*b, *c, *d)
        if path.closed:
            shape.close()
        done += len(run)
    if path.pen:
        canvas.setStrokeGray(0.0)
        canvas.setLineWidth(_pt(path.pen.width_mm))
        canvas.setDash([_pt(length) for length in path.pen.dash_mm])
    if path.fill:
        canvas.setFillGray(_GREY[path.fill])
    canvas.drawPath(shape, stroke=int(path.pen is not None), fill=int(path.fill is not None))


def _text(canvas: Canvas, text: Text) -> None:
    setting = set_text(text)
    turn = math.radians(text.rotation_deg)
    frame = (math.cos(turn), math.sin(turn), -math.sin(turn), math.cos(turn))
    canvas.setFillGray(0.0)
    if setting.bars:
        # The span tells a reader how the stack reads: ISO 32000-1, 14.9.4.
        spoken = "".join(run.string for run in setting.runs).encode("utf-16-be").hex().upper()
        canvas.addLiteral(f"/Span <</ActualText <FEFF{spoken}>>> BDC")
    _runs(canvas, setting, text, frame)
    for bar in setting.bars:
        shape = canvas.beginPath()
        corners = ((bar.x0, bar.y0), (bar.x1, bar.y0), (bar.x1, bar.y1), (bar.x0, bar.y1))
        for step, corner in zip((shape.moveTo, *[shape.lineTo] * 3), corners, strict=True):
            step(*_placed(text, frame, *corner))
        shape.close()
        canvas.drawPath(shape, stroke=0, fill=1)
    if setting.bars:
        canvas.addLiteral("EMC")


def _runs(canvas: Canvas, setting: Setting, text: Text,
          frame: tuple[float, float, float, float]) -> None:
    """Show the runs as one line of text: stacked by rise, set apart by character spacing.

    Moving the text matrix instead would make extractors read each numeral as a new line.
    """
    line = canvas.beginText()
    runs = setting.runs
    line.setTextTransform(*frame, *_placed(text, frame, runs[0].x, setting.foot))
    following = (*runs[1:], None)
    for run, after in zip(runs, following, strict=True):
        line.setFont(_font_name(text.weight), _pt(em_mm(run.size_mm, text.weight)))
        if setting.bars:
            line.setRise(_pt(run.y - setting.foot))
        if not run.visible:
            line.setTextRenderMode(3)
        _show(line, run, after, text.weight)
        if not run.visible:
            line.setTextRenderMode(0)
    if setting.bars:
        line.setRise(0.0)  # the rise would outlive this line: ISO 32000-1, 9.3.1
    canvas.drawText(line)


def _show(line: PDFTextObject, run: Run, after: Run | None, weight: Weight) -> None:
    """Show one run; its last character's spacing brings the pen to the next run."""
    if after is None:
        line.textOut(run.string)
        return
    pen = run.x + plain_width_mm(run.string, run.size_mm, weight)
    if run.string[:-1]:
        line.textOut(run.string[:-1])
    line.setCharSpace(_pt(after.x - pen))
    line.textOut(run.string[-1])
    line.setCharSpace(0.0)


def _placed(text: Text, frame: tuple[float, float, float, float], x: float,
            y: float) -> tuple[float, float]:
    a, b, c, d = frame
    return _pt(text.x + a * x + c * y), _pt(text.y + b * x + d * y)


@functools.cache
def _font_name(weight: Weight) -> str:
    from reportlab.pdfbase.pdfmetrics import registerFont  # noqa: PLC0415 - loaded late, as above
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415 - loaded late, as above

    name = f"Springloom-{weight.value}"
    registerFont(TTFont(name, str(font_file(weight)), asciiReadable=0))
    return name


def _pt(mm: float) -> float:
    return mm / POINT_MM


