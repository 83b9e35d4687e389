"""PDF: page size, full size on paper, selectable fractions, and agreement with the SVG."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path as FilePath

import numpy as np
import pypdf
import pytest
from pypdf.generic import DictionaryObject

from springloom.drawing.dimension import check_bar_inch, check_bar_mm
from springloom.drawing.lettering import set_text
from springloom.drawing.model import Anchor, Array, Baseline, Drawing, Fill, Text
from springloom.drawing.paths import circle, line, rect
from springloom.drawing.pdf import write_pdf
from springloom.drawing.svg import write_svg
from springloom.errors import InputError
from tests.verification.drawing_readback import (
    POINT_MM,
    SVG,
    grey_pixels,
    path_segments,
    paths_of,
    pdf_operations,
    pdf_paths,
    pdf_text,
    sample,
    svg_root,
)

DPI = 300
MM_PER_PIXEL = 25.4 / DPI
# Numbers of a thousand points and more are written with three decimals: half of the last, mm.
LAST_DECIMAL = 0.5e-3 * POINT_MM + 1e-9


def test_page_size_is_exact() -> None:
    pages = [sample(), Drawing(297.0, 420.0, "a3", (line((0, 0), (1, 1)),))]
    reader = pypdf.PdfReader(io.BytesIO(write_pdf(pages)))
    for page, drawing in zip(reader.pages, pages, strict=True):
        width, height = float(page.mediabox.width), float(page.mediabox.height)
        assert width * POINT_MM == pytest.approx(drawing.width_mm, abs=LAST_DECIMAL)
        assert height * POINT_MM == pytest.approx(drawing.height_mm, abs=LAST_DECIMAL)


def test_print_dialogue_is_told_not_to_scale() -> None:
    reader = pypdf.PdfReader(io.BytesIO(write_pdf([sample()])))
    preferences = reader.root_object["/ViewerPreferences"]
    assert isinstance(preferences, DictionaryObject)
    assert str(preferences["/PrintScaling"]) == "/None"
    assert reader.metadata is not None
    assert reader.metadata.title == "Trial <sheet> & more"
    assert reader.metadata.subject == "One of everything"
    assert str(reader.root_object["/Lang"]) == "en"


def tick_centres(pixels: Array, row_mm: float, height_mm: float) -> Array:
    """Centres, mm, of the strokes that cross a level of the page."""
    ink = 255 - pixels[round((height_mm - row_mm) / MM_PER_PIXEL)]
    dark = np.flatnonzero(ink > 60)
    groups = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
    return np.array([np.average(g + 0.5, weights=ink[g]) for g in groups]) * MM_PER_PIXEL


@pytest.mark.parametrize("inch", [False, True])
def test_check_bar_prints_at_full_size(inch: bool, tmp_path: FilePath) -> None:
    bar = check_bar_inch(20, 30) if inch else check_bar_mm(20, 30)
    page = Drawing(150, 60, "bar", bar.items)
    pixels = grey_pixels(write_pdf([page]), DPI, tmp_path)
    # A page is rounded up to whole pixels.
    assert abs(pixels.shape[1] - 150 / MM_PER_PIXEL) <= 1
    centres = tick_centres(pixels, 31.5, 60)
    step = 25.4 / 4 if inch else 10.0
    count = 16 if inch else 10
    assert len(centres) == count + 1
    # One pixel: what the renderer rounds a stroke to.
    assert np.abs(centres - (20 + step * np.arange(count + 1))).max() <= MM_PER_PIXEL
    whole = 4 * 25.4 if inch else 100.0
    assert centres[-1] - centres[0] == pytest.approx(whole, abs=MM_PER_PIXEL)


def test_fractions_are_selectable_in_reading_order(tmp_path: FilePath) -> None:
    pdf = write_pdf([sample()])
    text = pdf_text(pdf)
    assert "Blade width 3 1/4 in, crown 15/16 & <edge> 7/8" in text
    assert "1/2 turned" in text
    assert "100 mm – measure me" in text
    # A second reader, which goes by the place of the letters and by the spoken text.
    source = tmp_path / "s.pdf"
    source.write_bytes(pdf)
    other = subprocess.run(["pdftotext", str(source), "-"], check=True, capture_output=True,
                           text=True, timeout=60).stdout
    assert "Blade width 3 1/4 in, crown 15/16 & <edge> 7/8" in other


def test_letters_are_embedded_and_no_other_font_is_named() -> None:
    reader = pypdf.PdfReader(io.BytesIO(write_pdf([sample()])))
    resources = reader.pages[0]["/Resources"]
    assert isinstance(resources, DictionaryObject)
    fonts = resources["/Font"]
    assert isinstance(fonts, DictionaryObject)
    assert len(fonts) == 2
    for font in fonts.values():
        descriptor = font.get_object()["/FontDescriptor"]
        assert "/FontFile2" in descriptor
        assert "+" in descriptor["/FontName"]  # the mark of a subset


def test_pdf_and_svg_agree_on_every_path() -> None:
    page = sample()
    bars = sum(len(set_text(item).bars) for item in page.items if isinstance(item, Text))
    printed = pdf_paths(write_pdf([page]))
    shown = [path_segments(e.attrib["d"], page.height_mm)[0]
             for e in svg_root(write_svg(page)).iter(f"{SVG}path")]
    assert len(printed) == len(shown) + bars
    # Fraction bars are painted among the paths of the PDF; take the paths out in order.
    wanted = iter(shown)
    matched = 0
    following = next(wanted)
    for segments in printed:
        # Last decimal of the SVG plus that of the PDF (1e-3 pt).
        if segments.shape == following.shape and np.abs(segments - following).max() < 0.0006:
            matched += 1
            following = next(wanted, following)
    assert matched == len(shown)


def test_pdf_paths_are_the_model() -> None:
    page = Drawing(100, 80, "t", tuple(paths_of(sample())))
    for segments, path in zip(pdf_paths(write_pdf([page])), paths_of(page), strict=True):
        assert np.abs(segments - path.segments).max() < LAST_DECIMAL


def test_fraction_numerals_print_where_the_model_puts_them(tmp_path: FilePath) -> None:
    # Text set to the top after a fraction: a rise left over would push it down.
    page = Drawing(60, 40, "t", (
        Text(5, 30, "take 1/2", 4.0, baseline=Baseline.TOP),
        Text(40, 30, "H", 4.0, baseline=Baseline.TOP),
    ))
    pixels = grey_pixels(write_pdf([page]), DPI, tmp_path)
    dark = np.flatnonzero((pixels[:, round(38 / MM_PER_PIXEL):] < 128).any(axis=1))
    assert 40 - dark[0] * MM_PER_PIXEL == pytest.approx(30, abs=MM_PER_PIXEL)
    assert 40 - (dark[-1] + 1) * MM_PER_PIXEL == pytest.approx(26, abs=MM_PER_PIXEL)
    bar = set_text(Text(5, 30, "take 1/2", 4.0, baseline=Baseline.TOP)).bars[0].moved(5, 30)
    left, right = (round(x / MM_PER_PIXEL) for x in (bar.x0 + 0.2, bar.x1 - 0.2))
    stripe = (pixels[:, left:right] < 128).all(axis=1)
    rows = np.flatnonzero(stripe)
    assert 40 - (rows.mean() + 0.5) * MM_PER_PIXEL == pytest.approx(bar.centre[1],
                                                                    abs=MM_PER_PIXEL)


def test_text_rotates_counterclockwise_about_its_anchor(tmp_path: FilePath) -> None:
    page = Drawing(60, 60, "t", (Text(30, 10, "HHHH", 4.0, Anchor.START, rotation_deg=90.0),))
    rows, columns = np.nonzero(grey_pixels(write_pdf([page]), DPI, tmp_path) < 128)
    assert (columns.max() + 1) * MM_PER_PIXEL == pytest.approx(30, abs=MM_PER_PIXEL)
    assert columns.min() * MM_PER_PIXEL == pytest.approx(26, abs=MM_PER_PIXEL)
    assert 60 - rows.max() * MM_PER_PIXEL > 10


def test_fills_are_ink_wash_and_ground(tmp_path: FilePath) -> None:
    page = Drawing(40, 20, "t", (
        rect(0, 0, 20, 20, None, fill=Fill.INK),
        rect(20, 0, 20, 20, None, fill=Fill.WASH),
        circle(10, 10, 5, None, fill=Fill.GROUND),
    ))
    pixels = grey_pixels(write_pdf([page]), 72, tmp_path)
    at = [pixels[28, round(x / POINT_MM)] for x in (2, 30, 10)]
    assert at[0] == 0
    assert 220 < at[1] < 235
    assert at[2] == 255


def test_every_colour_is_a_grey() -> None:
    colours = [(operands, operator) for operands, operator in pdf_operations(write_pdf([sample()]))
               if operator in (b"g", b"G", b"rg", b"RG", b"k", b"K")]
    assert any(operator == b"g" for _, operator in colours)
    # Red, green and blue alike, if the writer uses them at all; never process colours.
    assert all(len(set(operands)) == 1 for operands, _ in colours)
    assert not any(operator in (b"k", b"K") for _, operator in colours)


def test_one_document_holds_all_pages() -> None:
    page = sample()
    pdf = write_pdf([page, page, page], title="Three")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert len(reader.pages) == 3
    assert reader.metadata is not None
    assert reader.metadata.title == "Three"
    assert "3 1/4" in pdf_text(pdf, 2)


def test_no_pages_is_refused() -> None:
    with pytest.raises(InputError):
        write_pdf([])


def test_page_without_text_is_written() -> None:
    pdf = write_pdf([Drawing(10, 10, "t", (line((0, 0), (5, 5)),))])
    assert pdf_text(pdf) == ""
