"""Lettering: measures, fractions, boxes, wrapping, and the embedded face."""

from __future__ import annotations

import io
import itertools
from pathlib import Path as FilePath

import numpy as np
import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.fonts import FAMILY, em_mm, face, font_file, plain_width_mm, woff
from springloom.drawing.lettering import (
    FRACTION_GAP,
    SMALLEST_MM,
    backing,
    block,
    characters,
    fraction_size_mm,
    has_fraction,
    missing,
    paragraph,
    set_text,
    settled,
    text_box,
    text_corners,
    width_mm,
    wrap,
)
from springloom.drawing.model import Anchor, Baseline, Drawing, Text, Weight
from springloom.drawing.paths import path_bounds
from springloom.drawing.pdf import write_pdf
from tests.verification.drawing_readback import grey_pixels

MM_PER_PIXEL = 25.4 / 300


def reading(string: str) -> str:
    return "".join(run.string for run in set_text(Text(0, 0, string)).runs)


def visible_sizes(string: str, size_mm: float = 3.5) -> list[tuple[str, float]]:
    runs = set_text(Text(0, 0, string, size_mm)).runs
    return [(run.string, run.size_mm) for run in runs if run.visible]


def test_size_is_the_height_of_capitals() -> None:
    box = text_box(Text(10, 20, "H", 5.0))
    assert box.y0 == pytest.approx(20)
    assert box.height == pytest.approx(5.0, abs=1e-12)
    top = text_box(Text(10, 20, "H", 5.0, baseline=Baseline.TOP))
    middle = text_box(Text(10, 20, "H", 5.0, baseline=Baseline.MIDDLE))
    assert top.y1 == pytest.approx(20)
    assert middle.centre[1] == pytest.approx(20)


@pytest.mark.parametrize("weight", list(Weight))
def test_widths_agree_with_reportlab(weight: Weight) -> None:
    from reportlab.pdfbase.ttfonts import TTFont as PrintFont  # noqa: PLC0415 - independent reader

    font = PrintFont("independent", str(font_file(weight)))
    string = "Greatest width 83 mm, at 75 mm × 3/4 — Åß"
    # reportlab rounds advances to thousandths of an em: half of one a character.
    expected = font.stringWidth(string, em_mm(2.5, weight))
    slack = 0.0005 * len(string) * em_mm(2.5, weight)
    assert plain_width_mm(string, 2.5, weight) == pytest.approx(expected, abs=slack)


def test_anchors_place_the_advance() -> None:
    width = width_mm("Hull 12", 3.0)
    start, middle, end = (text_box(Text(50, 0, "Hull 12", 3.0, anchor)) for anchor in Anchor)
    assert start.x0 == pytest.approx(50)
    assert end.x1 == pytest.approx(50)
    assert middle.centre[0] == pytest.approx(50)
    assert start.width == pytest.approx(width)


@pytest.mark.parametrize(
    ("string", "stacked"),
    [
        ("3 1/4", True), ("1/4 blade", True), ("(15/16)", True), ("at 7/8.", True),
        ("7/8, then", True), ("½", True), ("1/2 × 3/4 in", True),
        ("N/m", False), ("1/m", False), ("and/or", False), ("1/2/2024", False),
        ("1.5/2", False), ("1/2.5", False), ("a1/2", False), ("1:4", False), ("2024/1", False),
    ],
)
def test_what_counts_as_a_fraction(string: str, stacked: bool) -> None:
    assert has_fraction(string) is stacked
    assert bool(set_text(Text(0, 0, string)).bars) is stacked


def test_fraction_reads_in_order_and_stands_in_a_stack() -> None:
    text = Text(0, 0, "width 3 1/4 in", 3.5)
    setting = set_text(text)
    assert reading("width 3 1/4 in") == "width 3 1/4 in"
    whole, top, slash, bottom, after = setting.runs
    bar = setting.bars[0]
    assert [whole.string, top.string, slash.string, bottom.string] == ["width 3 ", "1", "/", "4"]
    assert after.string == " in"
    assert not slash.visible
    # Numerator and denominator stand clear of the bar, the same distance from it.
    assert bar.centre[1] == pytest.approx(text.size_mm / 2)
    assert top.y - bar.centre[1] == pytest.approx(FRACTION_GAP * text.size_mm)
    assert bar.centre[1] - (bottom.y + bottom.size_mm) == pytest.approx(top.y - bar.centre[1])
    # The whole number ends before the bar and the words start after it.
    assert plain_width_mm("width 3", 3.5) < bar.x0
    assert bar.x1 <= after.x


def test_half_sign_and_mixed_half_are_stacked_too() -> None:
    assert reading("2½ in") == "2 1/2 in"
    assert reading("⅛") == "1/8"
    assert settled("½", False) == "½"
    assert not set_text(Text(0, 0, "1/2", fractions=False)).bars


@given(st.floats(0.5, 50.0))
def test_fraction_numerals_are_never_too_small_to_read(size_mm: float) -> None:
    small = fraction_size_mm(size_mm)
    assert small >= min(size_mm, SMALLEST_MM)
    assert small <= size_mm
    # 5 minutes of arc is what normal sight resolves in a letter; at 600 mm, 0.873 mm.
    if size_mm >= 2.5:
        assert small / 600 >= 2 * np.radians(5 / 60)


def test_letters_the_face_lacks_find_a_likeness_or_are_named() -> None:
    assert settled("5′ 3″") == "5' 3\""
    assert settled("ź") == "z"
    assert settled("木κ") == "??"
    assert missing("a木κ?½ź") == "木κ"
    assert missing("Łódź 3½ × Ø 12 − 4 ≤ 9") == ""
    assert set(face(Weight.BOLD).advance) == set(face().advance)


@given(st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Cn")), min_size=1)
       .filter(str.strip))
def test_any_printable_text_can_be_set(string: str) -> None:
    setting = set_text(Text(0, 0, string))
    assert all(char in face().advance for run in setting.runs for char in run.string)
    assert setting.box.width >= 0


@pytest.mark.parametrize(
    "text",
    [
        Text(20, 30, "Qjpgy 3 15/16 in, (f)", 4.0),
        Text(40, 30, "fÅ_ 1/8", 5.0, Anchor.MIDDLE, Baseline.TOP, weight=Weight.BOLD),
        Text(40, 30, "1/2 dipping gy", 4.0, Anchor.MIDDLE, Baseline.MIDDLE, 90.0),
        Text(30, 20, "Slanted 7/8", 4.0, rotation_deg=33.0),
        Text(60, 30, "END jf", 4.0, Anchor.END),
    ],
)
def test_box_covers_the_ink_and_hardly_more(text: Text, tmp_path: FilePath) -> None:
    page = Drawing(80, 60, "t", (text,))
    rows, columns = np.nonzero(grey_pixels(write_pdf([page]), 300, tmp_path) < 250)
    box = text_box(text)
    x0, x1 = columns.min() * MM_PER_PIXEL, (columns.max() + 1) * MM_PER_PIXEL
    y1, y0 = (60 - rows.min() * MM_PER_PIXEL), 60 - (rows.max() + 1) * MM_PER_PIXEL
    # The renderer moves a line of text to whole pixels (half of one at most), and
    # anti-aliasing spreads its ink over one more.
    room = box.grown(1.5 * MM_PER_PIXEL)
    assert room.x0 <= x0
    assert room.y0 <= y0
    assert x1 <= room.x1
    assert y1 <= room.y1
    if text.rotation_deg % 90 == 0:
        # Ink may miss the box by the side bearings of the outer letters, 0.15 em at most.
        slack = 0.15 * em_mm(text.size_mm)
        assert x0 - box.x0 < slack
        assert box.x1 - x1 < slack
        assert y0 - box.y0 < slack
        assert box.y1 - y1 < slack


def test_corners_turn_about_the_text_origin() -> None:
    level = text_corners(Text(10, 20, "abc"))
    turned = text_corners(Text(10, 20, "abc", rotation_deg=90))
    assert np.allclose(turned - (10, 20), (level - (10, 20)) @ np.array([(0, 1), (-1, 0)]))


def test_wrapped_lines_fit_and_lose_no_word() -> None:
    string = "Take 1 1/16 in from each face, never 1/8 in from one of them alone"
    rows = wrap(string, 40.0, 2.5)
    assert " ".join(rows) == string
    assert len(rows) > 2
    assert all(width_mm(row, 2.5) <= 40.0 for row in rows)
    assert not any(row.endswith(" 1") for row in rows)
    assert wrap("unbreakable", 1.0, 2.5) == ("unbreakable",)


def test_paragraph_lines_keep_clear_of_each_other() -> None:
    made = paragraph(10, 100, 40, "Take 1/16 in off, then 1/16 in again, till it is 7/8 in", 2.5)
    boxes = [text_box(item) for item in made.items if isinstance(item, Text)]
    assert len(boxes) > 1
    assert not any(a.overlaps(b) for a, b in itertools.pairwise(boxes))
    assert made.bounds.y1 <= 100.0 + 1e-9


def test_backing_covers_the_words() -> None:
    text = Text(5, 5, "3 1/4")
    assert path_bounds(backing(text)).contains(text_box(text))
    assert block((text,)).bounds == text_box(text)


@pytest.mark.parametrize("weight", list(Weight))
def test_embedded_face_has_the_same_letters(weight: Weight) -> None:
    original = TTFont(font_file(weight))
    cut = TTFont(io.BytesIO(woff(weight, "Hxg/48½ ")))
    assert cut.flavor == "woff"
    for char in "Hxg/48½ ":
        name, own = original.getBestCmap()[ord(char)], cut.getBestCmap()[ord(char)]
        assert original["hmtx"][name] == cut["hmtx"][own]
        a = original["glyf"][name].getCoordinates(original["glyf"])[0]
        b = cut["glyf"][own].getCoordinates(cut["glyf"])[0]
        assert list(a) == list(b)
    assert len(cut.getBestCmap()) == 8
    assert "kern" not in cut


def test_embedded_face_goes_by_its_own_name_and_carries_the_licence() -> None:
    names = TTFont(io.BytesIO(woff(Weight.REGULAR, "a")))["name"]
    own = [str(names.getName(n, 3, 1, 0x409)) for n in (1, 4, 6)]
    assert own[0] == FAMILY
    assert not any("Vera" in name or "Bitstream" in name for name in own)
    assert "Copyright (c) 2003 by Bitstream" in str(names.getName(0, 3, 1, 0x409))
    assert "Permission is hereby granted" in str(names.getName(13, 3, 1, 0x409))


def test_only_used_characters_are_asked_for() -> None:
    texts = [Text(0, 0, "ab 1/2"), Text(0, 0, "bc", weight=Weight.BOLD)]
    assert characters(texts) == {Weight.REGULAR: " /12ab", Weight.BOLD: "bc"}
