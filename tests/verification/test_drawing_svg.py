"""SVG measured back against the model, read as text, and checked for both grounds."""

from __future__ import annotations

import hashlib
import subprocess
import sys
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.lettering import set_text
from springloom.drawing.model import Drawing, Path, Pen, Text, Weight
from springloom.drawing.paths import line, polyline
from springloom.drawing.svg import font_css, path_data, write_svg
from springloom.errors import InputError
from tests.verification.drawing_readback import (
    SVG,
    path_segments,
    paths_of,
    sample,
    svg_letters,
    svg_root,
    texts_of,
)

# Three decimals of a millimetre: half of the last one, plus rounding.
LAST_DECIMAL = 0.0005 + 1e-9


def test_paths_measured_back_are_the_model() -> None:
    page = sample()
    found = list(svg_root(write_svg(page)).iter(f"{SVG}path"))
    wanted = paths_of(page)
    assert len(found) == len(wanted)
    for element, path in zip(found, wanted, strict=True):
        segments, closed = path_segments(element.attrib["d"], page.height_mm)
        assert np.abs(segments - path.segments).max() <= LAST_DECIMAL
        assert closed == (len(path.runs()) if path.closed else 0)
        pen = path.pen.value if path.pen else ""
        fill = f"on-{path.fill.value}" if path.fill else "open"
        assert element.attrib["class"].split() == f"{pen} {fill}".split()


@given(st.lists(st.tuples(*[st.tuples(st.floats(-2000, 2000), st.floats(-2000, 2000))] * 4),
                min_size=1, max_size=6))
def test_any_path_measured_back_is_the_model(points: list[tuple[tuple[float, float], ...]]) -> None:
    path = Path(np.array(points))
    segments, _ = path_segments(path_data(path, 297.0), 297.0)
    assert np.abs(segments - path.segments).max() <= LAST_DECIMAL


def test_page_is_sized_in_millimetres() -> None:
    root = svg_root(write_svg(sample()))
    assert root.attrib["width"] == "210.3mm"
    assert root.attrib["height"] == "150.7mm"
    assert root.attrib["viewBox"] == "0 0 210.3 150.7"


def test_layers_are_groups_in_order() -> None:
    page = sample()
    groups = svg_root(write_svg(page, id_prefix="one-")).findall(f"{SVG}g")
    assert [group.attrib["id"] for group in groups] == [f"one-{name}" for name in page.layers]
    assert all("transform" not in group.attrib for group in groups)


def test_a_screen_reader_finds_title_and_description() -> None:
    root = svg_root(write_svg(sample()))
    assert root.attrib["role"] == "img"
    title, desc = root[0], root[1]
    assert (title.text, desc.text) == ("Trial <sheet> & more", "One of everything")
    assert root.attrib["aria-labelledby"] == f"{title.attrib['id']} {desc.attrib['id']}"


def test_text_is_text_in_reading_order_at_its_place() -> None:
    page = sample()
    svg = write_svg(page)
    words = ["".join(e.itertext()) for e in svg_root(svg).iter(f"{SVG}text")]
    assert "Blade width 3 1/4 in, crown 15/16 & <edge> 7/8" in words
    found = svg_letters(svg, page.height_mm)
    runs = [(text, run) for text in texts_of(page) for run in set_text(text).runs]
    assert len(found) == len(runs)
    for letters, (text, run) in zip(found, runs, strict=True):
        assert letters.string == run.string
        assert letters.x == pytest.approx(text.x + run.x, abs=LAST_DECIMAL)
        assert letters.y == pytest.approx(text.y + run.y, abs=LAST_DECIMAL)


def test_turned_text_turns_clockwise_in_a_page_with_y_down() -> None:
    svg = write_svg(Drawing(50, 40, "t", (Text(10, 30, "up", rotation_deg=90.0),)))
    assert 'transform="rotate(-90 10 10)"' in svg


def test_print_is_ink_on_white_and_screen_follows_the_scheme() -> None:
    page = sample()
    paper, screen = write_svg(page, ground="print"), write_svg(page, ground="screen")
    assert "prefers-color-scheme" not in paper
    assert "var(" not in paper
    assert ".springloom.print .outline{stroke:#000;stroke-width:0.5}" in paper
    assert "@media (prefers-color-scheme:dark){.springloom.screen{" in screen
    # Whatever the scheme, paper gets the print colours, and that rule comes last.
    assert screen.index("@media print{") > screen.index("@media (prefers-color-scheme:dark)")
    assert "@media print{.springloom.screen{--springloom-ink:#000;" in screen


def test_every_pen_has_its_rule() -> None:
    svg = write_svg(sample())
    for pen in Pen:
        assert f".{pen.value}{{stroke:#000;stroke-width:{pen.width_mm:g}" in svg
    assert "stroke-dasharray:3 0.75" in svg


def test_letters_are_embedded_unless_the_page_has_them() -> None:
    page = sample()
    assert write_svg(page).count("@font-face") == len(Weight)
    assert "@font-face" not in write_svg(page, embed_font=False)
    assert font_css().count("@font-face") == len(Weight)
    assert "@font-face" not in write_svg(Drawing(9, 9, "t", (line((0, 0), (1, 1)),)))


def test_no_number_is_written_with_an_exponent_or_a_negative_nought() -> None:
    data = path_data(polyline([(-1e-7, 1e-9), (1e6, 10.00049)]), 0.0)
    assert data == "M0 0L1000000 -10"


def test_markup_in_text_stays_text() -> None:
    nasty = Drawing(50, 50, "</title><script>", (Text(1, 1, '</text><script>"&'),))
    root = svg_root(write_svg(nasty))
    assert not list(root.iter(f"{SVG}script"))
    assert "".join(next(root.iter(f"{SVG}text")).itertext()) == '</text><script>"&'


def test_unknown_ground_and_prefix_are_refused() -> None:
    with pytest.raises(InputError, match=r"svg\.ground"):
        write_svg(sample(), ground="paper")  # type: ignore[arg-type]  # what a caller may send
    with pytest.raises(InputError):
        write_svg(sample(), id_prefix='x"')


def test_same_bytes_in_every_process() -> None:
    code = ("import hashlib, tests.verification.drawing_readback as r;"
            "from springloom.drawing.svg import write_svg;"
            "from springloom.drawing.pdf import write_pdf;"
            "d = r.sample();"
            "print(hashlib.sha256(write_svg(d).encode() + write_pdf([d])).hexdigest())")
    here = str(FilePath(__file__).parents[2])
    sums = {
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True,
                       timeout=120, env={"PYTHONHASHSEED": seed, "PYTHONPATH": here,
                                         "TZ": zone}).stdout.strip()
        for seed, zone in (("1", "UTC"), ("77", "America/Nuuk"))
    }
    assert len(sums) == 1
    assert len(sums.pop()) == hashlib.sha256().digest_size * 2
