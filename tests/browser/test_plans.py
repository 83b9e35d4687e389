"""Sheets printed from their page, and work asked for and waited for, in a real browser."""

from __future__ import annotations

import io
from typing import Any

import pypdf
import pytest
from playwright.sync_api import Page, expect

from springloom.drawing.paper import paper
from springloom.store.opening import open_store
from tests.browser.served import Served
from tests.verification.web_client import put_example

POINT_MM = 25.4 / 72.0
PAGE_MM = 25.4 / 96.0
"""A browser rounds a page to its own pixels, 96 to the inch."""


@pytest.fixture(scope="module")
def example(bench: Served) -> str:
    store = open_store(bench.store)
    number = put_example(store)
    store.close()
    return f"{bench.address}/paddles/{number}"


def places(page: pypdf.PageObject) -> dict[str, tuple[float, float]]:
    """Where each word stands first, mm from the page's lower left corner."""
    found: dict[str, tuple[float, float]] = {}

    def see(text: str, user: list[float], own: list[float], *_: Any) -> None:
        x = own[4] * user[0] + own[5] * user[2] + user[4]
        y = own[4] * user[1] + own[5] * user[3] + user[5]
        found.setdefault(text.strip(), (x * POINT_MM, y * POINT_MM))

    page.extract_text(visitor_text=see)
    return found


def test_a_small_sheet_prints_from_its_page_at_its_true_size(wide: Page, example: str) -> None:
    wide.goto(f"{example}/plans/outline-tiles/print?page=a4")
    made = pypdf.PdfReader(io.BytesIO(wide.pdf(prefer_css_page_size=True)))
    sent = wide.request.get(f"{example}/plans/files/outline-tiles.pdf?page=a4").body()
    ours = pypdf.PdfReader(io.BytesIO(sent))
    a4 = paper("a4")
    assert len(made.pages) == len(ours.pages)
    for printed, own in zip(made.pages, ours.pages, strict=True):
        box = printed.mediabox
        size = [float(side) * POINT_MM for side in (box.width, box.height)]
        assert size == pytest.approx([a4.height_mm, a4.width_mm], abs=PAGE_MM)
        there, wanted = places(printed), places(own)
        # words that stand once on a page, under the check bars and far from them
        words = [word for word in wanted if "measure me" in word or word.startswith("Sheet")]
        assert len(words) == 3
        for word in words[1:]:
            for got, ask, start, begin in zip(there[word], wanted[word], there[words[0]],
                                              wanted[words[0]], strict=True):
                # what lies between two words, to the 0.02 mm that a PDF's rounding may make
                assert got - start == pytest.approx(ask - begin, abs=0.02), word


def test_the_pages_of_a_sheet_are_turned_without_leaving_the_page(narrow: Page,
                                                                 example: str) -> None:
    narrow.goto(f"{example}/plans/outline-tiles")
    narrow.get_by_role("link", name="Next sheet").click()
    expect(narrow.locator(".pager")).to_contain_text("Sheet 2 of 5")
    assert narrow.url.endswith("n=2")


def test_everything_is_made_while_one_waits(narrow: Page, example: str) -> None:
    narrow.goto(f"{example}/plans")
    narrow.get_by_role("button", name="Everything as one ZIP").click()
    expect(narrow.get_by_role("progressbar")).to_be_visible()
    with narrow.expect_download() as waited:
        narrow.get_by_role("link", name="Download").click(timeout=120_000)
    assert waited.value.suggested_filename == "marsh-tern-plans.zip"


def test_a_weight_is_judged_as_it_is_typed(narrow: Page, example: str) -> None:
    narrow.goto(f"{example}/carve")
    narrow.get_by_label("Weight now").first.fill("5 kg")
    expect(narrow.locator("#squared-said")).to_contain_text("Heavy.")
    narrow.get_by_role("button", name="Done: tick it").first.click()
    expect(narrow.get_by_role("heading", level=2).first).to_contain_text("2 Outline")


def test_places_are_walked_by_one_button(narrow: Page, example: str) -> None:
    narrow.goto(f"{example}/carve/lines")
    for name in ("shoulder", "root", "1/4"):
        narrow.locator("#next-place").click()
        expect(narrow.locator("#place h2")).to_contain_text(name, ignore_case=True)
    assert narrow.evaluate("document.activeElement.id") == "next-place"
