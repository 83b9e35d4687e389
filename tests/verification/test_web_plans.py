"""The page of sheets: each to look at, to keep as a file and to print at its true size."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

import pypdf
import pytest

from springloom.drawing.paper import paper
from springloom.report.all_sheets import SHEETS, SOLID_PURPOSES, SOLIDS
from springloom.report.words import Words
from springloom.store.layout import design_of
from springloom.store.opening import Store
from tests.verification.web_client import Browser, bench_at, put_example

POINT_MM = 25.4 / 72.0


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = bench_at(tmp_path_factory.mktemp("plans"))
    put_example(opened)
    yield opened
    opened.close()


@pytest.fixture
def browser(store: Store) -> Browser:
    return Browser(store)


def test_every_sheet_and_solid_is_listed_with_what_it_is_for(browser: Browser) -> None:
    shown = browser.text("/paddles/1/plans")
    for maker in SHEETS:
        assert maker.title in shown
        assert maker.purpose in shown
    assert set(SOLID_PURPOSES) == set(SOLIDS)
    for suffix, purpose in SOLID_PURPOSES.items():
        assert f"/paddles/1/plans/solids/paddle.{suffix}" in shown
        assert purpose in shown


def test_what_is_not_there_is_said(browser: Browser) -> None:
    for path in ("/paddles/9/plans", "/paddles/1/plans/nothing", "/paddles/1/plans/plan?n=2",
                 "/paddles/1/plans/plan?n=-1", "/paddles/1/plans/files/plan.exe",
                 "/paddles/1/plans/solids/paddle.exe"):
        assert browser.get(path).status_code == 404, path
    assert browser.get("/paddles/1/plans/plan?page=a5").status_code == 422


@pytest.mark.parametrize("page", ["a4", "letter"])
def test_every_page_of_a_sheet_can_be_looked_at(browser: Browser, store: Store, page: str) -> None:
    with store.read() as connection:
        design = design_of(connection, 1)
    maker = next(one for one in SHEETS if one.key == "carving")
    drawings = maker.make(design, Words("mm"), page)  # type: ignore[arg-type]  # a page
    for n in range(1, len(drawings) + 1):
        shown = browser.text(f"/paddles/1/plans/carving?page={page}&n={n}")
        assert f"Sheet {n} of {len(drawings)}" in shown
        assert "<svg" in shown
        assert ("Next sheet" in shown) == (n < len(drawings))
        assert ("Previous sheet" in shown) == (n > 1)


def test_a_live_page_gets_only_its_sheet(browser: Browser) -> None:
    part = browser.get("/paddles/1/plans/outline-tiles?n=2", **{"HX-Request": "true"}).text
    assert part.lstrip().startswith('<div id="sheet">')
    assert "<html" not in part


def test_sheets_are_lettered_in_the_visitors_units(browser: Browser) -> None:
    length = {"mm": "1240 × 594 mm", "in": "in</p>"}
    assert length["mm"] in browser.text("/paddles/1/plans/plan")
    browser.inches()
    shown = browser.text("/paddles/1/plans/plan")
    assert length["mm"] not in shown
    assert length["in"] in shown
    assert "page=letter" in shown  # the paper that goes with inches


def test_files_are_what_they_say(browser: Browser) -> None:
    whole = browser.get("/paddles/1/plans/files/outline-tiles.pdf?page=letter")
    assert whole.headers["content-disposition"] == (
        'attachment; filename="marsh-tern-outline-tiles.pdf"')
    box = pypdf.PdfReader(io.BytesIO(whole.content)).pages[0].mediabox
    sizes = sorted(float(side) * POINT_MM for side in (box.width, box.height))
    # a PDF's box is written to a thousandth of a point
    assert sizes == pytest.approx([paper("letter").width_mm, paper("letter").height_mm], abs=1e-3)
    one = browser.get("/paddles/1/plans/files/outline-tiles.svg?n=2")
    assert ET.fromstring(one.content).tag.endswith("svg")
    assert "marsh-tern-outline-tiles-2.svg" in one.headers["content-disposition"]
    many = browser.get("/paddles/1/plans/files/outline-tiles.dxf")
    count = len(pypdf.PdfReader(io.BytesIO(whole.content)).pages)
    with zipfile.ZipFile(io.BytesIO(many.content)) as found:
        assert len(found.namelist()) == count


def test_solids_are_those_of_the_design(browser: Browser, store: Store) -> None:
    with store.read() as connection:
        design = design_of(connection, 1)
    for suffix, make in SOLIDS.items():
        sent = browser.get(f"/paddles/1/plans/solids/paddle.{suffix}")
        # STEP carries the moment it was written, a ZIP (3MF) too
        assert len(sent.content) == pytest.approx(len(make(design)), rel=1e-3), suffix
        assert f'filename="marsh-tern.{suffix}"' in sent.headers["content-disposition"]


def test_small_sheets_print_from_the_page_at_their_true_size(browser: Browser) -> None:
    shown = browser.text("/paddles/1/plans/templates/print")
    sizes = re.findall(r'<figure class="page-sheet ([\w-]+)"', shown)
    rules = browser.text("/paddles/1/plans/templates/print.css")
    a4 = paper("a4")
    assert sizes
    for name in sizes:
        assert f"@page {name}{{size:{a4.width_mm:g}mm {a4.height_mm:g}mm;margin:0}}" in rules
        assert f"width:{a4.width_mm:g}mm;height:{a4.height_mm:g}mm" in rules
    assert "100 %" in shown
    assert "100 mm and 4 in" in shown


def test_a_roll_is_printed_from_its_pdf_alone(browser: Browser) -> None:
    shown = browser.text("/paddles/1/plans/outline/print")
    assert "page-sheet" not in shown
    assert "from a roll" in shown
    assert "/paddles/1/plans/outline-tiles/print" in shown  # what to print at home instead
    pdf = browser.get("/paddles/1/plans/files/outline.pdf?show=1")
    assert pdf.headers["content-disposition"].startswith("inline")
    assert pdf.content.startswith(b"%PDF")


def test_a_drawing_alone_may_use_its_own_style(browser: Browser) -> None:
    alone = browser.get("/paddles/1/plans/files/plan.svg?show=1")
    assert "style-src 'unsafe-inline'" in alone.headers["content-security-policy"]
    assert "script-src" not in alone.headers["content-security-policy"]
    assert "prefers-color-scheme" in alone.text


def test_without_a_wood_the_page_says_what_is_missing(tmp_path: Path) -> None:
    opened = bench_at(tmp_path)
    number = put_example(opened)
    browser = Browser(opened)
    from springloom.store.paddles import assign  # noqa: PLC0415 - of this test alone

    with opened.write("Ann") as pen:
        assign(pen, "6f0a4b8e-8b1b-4f1e-9a53-0d6c2d2a7c11", number, board_id=None)
    assert "Not all sheets can be drawn yet" in browser.text(f"/paddles/{number}/plans")
    assert browser.get(f"/paddles/{number}/plans/plan").status_code == 422
    assert browser.get(f"/paddles/{number}/plans/templates").status_code == 200
    opened.close()
