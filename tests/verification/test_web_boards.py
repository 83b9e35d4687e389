"""Wood in the browser: the rack, tests corrected and withdrawn, photos, and a choice."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from html import unescape

import pytest

from springloom.fit.choice import suitability
from springloom.report.board_words import property_rows, stiffness_words
from springloom.report.choice_words import choice_words
from springloom.report.words import Words
from springloom.store.attachments import MOST_BYTES, attachments
from springloom.store.boards import board, boards
from springloom.store.layout import design_of
from springloom.store.paddles import paddle
from springloom.wood.assess import assess
from springloom.wood.board import Board, CentralLoadTest, TapTone
from springloom.wood.species import all_species, canadian_ids
from springloom.wood.verdict import judge
from tests.verification.web_client import Browser, bench_at, put_example

SHEET = {"name": "spruce 1", "board.species": "sitka_spruce/canada", "board.length": "2440",
         "board.width": "90", "board.thickness": "40", "board.weight": "3.9 kg",
         "board.moisture": "11 %", "board.grain_slope": "1 in 24", "board.rings": "quarter"}
BENDING = {"kind": "bending", "bending.span": "2000", "bending.load": "10 lb",
           "bending.sinks": "1.4"}
PLAIN = Board("sitka_spruce", 2.44, 0.09, 0.04, origin="canada", mass_kg=3.9, moisture_percent=11,
              grain_slope=1 / 24, ring="quarter")
PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)


@dataclass(frozen=True)
class Bench:
    browser: Browser
    paddle: int


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    store = bench_at(tmp_path_factory.mktemp("boards"))
    browser = Browser(store)
    assert "The rack is empty" in browser.text("/boards")
    assert "There is no paddle yet" in browser.text("/boards/compare")
    yield Bench(browser, put_example(store))
    store.close()


@pytest.fixture(scope="module")
def browser(bench: Bench) -> Browser:
    return bench.browser


def added(browser: Browser, **changes: str) -> str:
    answer = browser.send("/boards/new", SHEET | changes)
    assert answer.status_code == 303, answer.text[:2000]
    return answer.headers["location"]


def test_every_wood_can_be_chosen_those_of_canada_by_themselves(browser: Browser) -> None:
    page = browser.text("/boards/new")
    options = re.findall(r'<option value="([^"]+)"', page)
    for wood in all_species():
        assert wood.id in options
        assert (f"{wood.id}/canada" in options) == (wood.id in canadian_ids())


@pytest.mark.parametrize("system", ["mm", "in"])
def test_numbers_are_those_of_the_core_in_either_units(browser: Browser, system: str) -> None:
    at = added(browser)
    browser.send(f"{at}/tests", BENDING)
    browser.send(f"{at}/tests", {"kind": "tap", "tap.frequency": "41"})
    known = assess(Board(**{f: getattr(PLAIN, f) for f in (
        "species", "length_m", "width_m", "thickness_m", "origin", "mass_kg", "moisture_percent",
        "grain_slope", "ring")}, bending_tests=(CentralLoadTest(2.0, 44.4822161526, 0.0014),),
        tap_tones=(TapTone(41.0),)))
    browser.get(f"/units/{system}")
    page, rack = browser.text(at), browser.text("/boards")
    browser.millimetres()
    words = Words("in" if system == "in" else "mm")
    for row in property_rows(known, words):
        assert all(cell in page for cell in row)
    for text in (stiffness_words(known, words), judge(known).grade):
        assert text in page
        assert text in rack
    assert all(reason.sentence in page for reason in judge(known).reasons)


def test_a_test_is_corrected_and_withdrawn_and_stays_readable(browser: Browser) -> None:
    at = added(browser)
    browser.send(f"{at}/tests", BENDING)
    number = int(at.rsplit("/", 1)[1])
    with browser.store.read() as connection:
        first = board(connection, number).tests[0].id
    wrong = browser.send(f"{at}/tests", BENDING | {"bending.sinks": "1.5", "replaces": str(first)})
    assert wrong.status_code == 303
    page = browser.text(at)
    assert "Sank 1.5 mm under 10 lb, span 2000 mm" in page
    assert "<s>Sank 1.4 mm under 10 lb, span 2000 mm</s>" in page
    late = browser.send(f"{at}/tests", BENDING | {"replaces": str(first)})
    assert late.status_code == 409
    assert "corrected in the meantime" in late.text
    with browser.store.read() as connection:
        second, = board(connection, number).tests
    assert browser.send(f"{at}/tests/{second.id}/withdraw", {}).status_code == 303
    page = browser.text(at)
    assert "Withdrawn" in page
    assert "<s>Sank 1.5 mm under 10 lb, span 2000 mm</s>" in page
    with browser.store.read() as connection:
        assert board(connection, number).tests == ()


@pytest.mark.parametrize(("path", "typed", "field", "given"), [
    ("", {"board.length": "7 pigs"}, "board.length", "7 pigs"),
    ("/tests", BENDING | {"bending.span": "3 m"}, "bending.span", "3 m"),
    ("/tests", {"kind": "tap", "tap.frequency": "40 kg"}, "tap.frequency", "40 kg"),
    ("/weigh", {"board.weight": "many"}, "board.weight", "many"),
])
def test_a_bad_value_is_told_beside_its_field(browser: Browser, path: str,
                                              typed: dict[str, str], field: str,
                                              given: str) -> None:
    at = added(browser)
    seen = re.search(r'name="seen" value="(\d+)"', browser.text(at))
    assert seen is not None
    sheet = SHEET if path == "" else {}
    answer = browser.send(at + path, {"seen": seen[1]} | sheet | typed)
    assert answer.status_code == 422
    page = unescape(answer.text)
    assert re.search(rf'name="{field}" value="{given}"[^>]*aria-invalid="true"', page, re.S)
    assert len(re.findall('aria-invalid="true"', page)) == 1  # and beside no other form's


def test_a_weight_is_another_description_and_a_late_one_is_a_choice(browser: Browser) -> None:
    at = added(browser)
    seen = re.search(r'name="seen" value="(\d+)"', browser.text(at))
    assert seen is not None
    typed = {"seen": seen[1], "board.weight": "3.8 kg"}
    assert browser.send(f"{at}/weigh", typed).status_code == 303
    assert "3.9 kg → 3.8 kg" in browser.text(at)
    late = browser.send(f"{at}/weigh", typed | {"board.weight": "3.7 kg"})
    assert late.status_code == 409
    assert re.search(r"<td>3.8 kg</td><td>3.7 kg</td>", late.text)
    newer = re.search(r'name="seen" value="(\d+)"', late.text)
    assert newer is not None
    assert 'value="3.7 kg"' in late.text
    browser.send(f"{at}/weigh", {"seen": newer[1], "board.weight": "3.7 kg"})
    assert "3.8 kg → 3.7 kg" in browser.text(at)


def test_a_late_description_is_a_choice_with_all_that_was_typed(browser: Browser) -> None:
    at = added(browser)
    seen = re.search(r'name="seen" value="(\d+)"', browser.text(at))
    assert seen is not None
    browser.send(f"{at}/weigh", {"seen": seen[1], "board.weight": "3.8 kg"})
    late = browser.send(at, SHEET | {"seen": seen[1], "board.length": "2438"})
    page = unescape(late.text)
    assert late.status_code == 409
    assert re.search(r"<td>2440</td><td>2438</td>", page)
    assert 'name="board.length" value="2438"' in page


def test_the_same_form_twice_is_one_entry(browser: Browser) -> None:
    uid, other = str(uuid.uuid4()), str(uuid.uuid4())
    first = browser.send("/boards/new", SHEET, uid).headers["location"]
    assert browser.send("/boards/new", SHEET, uid).headers["location"] == first
    for _ in range(2):
        browser.send(f"{first}/tests", BENDING, other)
    with browser.store.read() as connection:
        assert len(board(connection, int(first.rsplit("/", 1)[1])).tests) == 1


def test_a_hopeless_reading_leaves_no_verdict_but_a_page_to_mend_it(browser: Browser) -> None:
    at = added(browser, **{"board.weight": "39 kg"})
    assert "Weight: does not go with Sitka spruce of this size" in browser.text(at)
    assert "no verdict" in browser.text("/boards")


def test_photos_are_pictures_only_by_how_they_begin(browser: Browser) -> None:
    at = added(browser)
    number = int(at.rsplit("/", 1)[1])
    for name, content, media_type in (("a.png", b"<svg onload=x/>", "image/png"),
                                      ("b.html", b"<html>", "text/html")):
        sent = browser.send(f"{at}/photos", {}, files={"photo": (name, content, media_type)})
        assert sent.status_code == 422
        assert "is no picture" in sent.text.lower()
    assert browser.send(f"{at}/photos", {}).status_code == 422
    large = PNG + bytes(MOST_BYTES)
    assert browser.send(f"{at}/photos", {},
                        files={"photo": ("large.png", large, "image/png")}).status_code == 422
    for name, content in (("end.txt", PNG), ("x.webp", b"RIFF\0\0\0\0WEBPVP8 "),
                          ("y.jpg", b"\xff\xd8\xff\xe0")):
        sent = browser.send(f"{at}/photos", {}, files={"photo": (name, content, "text/html")})
        assert sent.status_code == 303
    with browser.store.read() as connection:
        kept = attachments(connection, "board", number)
    page = browser.text(at)
    for one, kind in zip(kept, ("image/png", "image/webp", "image/jpeg"), strict=True):
        answer = browser.get(f"{at}/photos/{one.id}")
        assert answer.headers["content-type"] == kind
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert f'src="{at}/photos/{one.id}"' in page
    assert browser.get(f"/boards/1/photos/{kept[0].id}").status_code in {404, 422}


def test_notes_are_kept_as_text_and_taken_away(browser: Browser) -> None:
    at = added(browser)
    browser.send(f"{at}/notes", {"text": "<b>from the mill</b>"})
    assert "&lt;b&gt;from the mill&lt;/b&gt;" in browser.get(at).text
    assert browser.send(f"{at}/notes", {"text": " "}).status_code == 422
    found = re.search(rf"{at}/notes/(\d+)/withdraw", browser.text(at))
    assert found is not None
    browser.send(f"{at}/notes/{found[1]}/withdraw", {})
    assert "from the mill" not in browser.text(at)


@pytest.mark.parametrize("system", ["mm", "in"])
def test_boards_side_by_side_best_first_as_the_core_has_it(bench: Bench, system: str) -> None:
    browser = bench.browser
    added(browser, **{"name": "much too short", "board.length": "1.5 m", "board.weight": ""})
    browser.get(f"/units/{system}")
    page = browser.text(f"/boards/compare?paddle={bench.paddle}&all=1")
    browser.millimetres()
    with browser.store.read() as connection:
        design, first = design_of(connection, bench.paddle), boards(connection)
    mine = next(one for one in first if one.name == "Marsh Tern's board")
    found = suitability(design.paddle, design.assessment, design.target, design.limits)
    words = choice_words(design.paddle, [found], Words("in" if system == "in" else "mm"))[0]
    for text in (words.stiffness, words.weighs, words.sinks, words.margin, words.wanted):
        assert text in page
    for _, rows in words.schedules:
        assert all(cell in page for row in rows for cell in row)
    order = re.findall(r'<h2><a href="/boards/(\d+)">', page)
    short = {str(one.id) for one in first if one.name == "much too short"}
    assert set(order[-len(short):]) == short
    assert str(mine.id) in order


def test_a_full_rack_is_reckoned_through_only_where_it_promises_something(
        bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("springloom.web.pages.boards_compare.AT_ONCE", 2)
    at = f"/boards/compare?paddle={bench.paddle}"
    page, whole = bench.browser.text(at), bench.browser.text(f"{at}&all=1")
    assert page.count('<h2><a href="/boards/') == 2
    assert whole.count('<h2><a href="/boards/') > 2
    assert "Promising less" in page
    assert "Promising less" not in whole


def test_a_board_is_chosen_by_a_button(bench: Bench) -> None:
    at = added(bench.browser)
    number = at.rsplit("/", 1)[1]
    sent = bench.browser.send("/boards/compare", {"paddle": str(bench.paddle), "board": number})
    assert sent.headers["location"] == f"/paddles/{bench.paddle}/design"
    with bench.browser.store.read() as connection:
        assert paddle(connection, bench.paddle).board_id == int(number)
    assert f"/paddles/{bench.paddle}/design" in bench.browser.text(at)


def test_strips_need_no_board_and_no_paddle_is_asked_for_twice(bench: Bench) -> None:
    laminated = put_example(bench.browser.store, "low_skerry")
    page = bench.browser.text(f"/boards/compare?paddle={laminated}")
    with bench.browser.store.read() as connection:
        glued = design_of(connection, laminated).layup is not None
    assert ("glued of strips" in page) == glued
    assert bench.browser.get("/boards/compare?paddle=999999").status_code in {404, 422}
    assert bench.browser.get("/boards/compare?paddle=x").status_code == 200
