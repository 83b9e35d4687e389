"""Body and boat in the browser: dimensions as the core has them, measures kept as versions."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from html import unescape

import pytest

from springloom.fit.body import Boat, Body
from springloom.fit.dimensions import fit
from springloom.report.fit_words import fit_words
from springloom.report.words import Words
from springloom.store.people import body_history, people
from tests.verification.web_client import Browser, bench_at

MEASURES = {"name": "Ann Tern", "paddler.height": "176 cm", "paddler.arm_span": "5' 10\"",
            "paddler.boat_beam": "600", "paddler.use": "touring"}
BODY, BOAT = Body(1.76, 70 * 0.0254), Boat(0.6)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    store = bench_at(tmp_path_factory.mktemp("people"))
    yield Browser(store)
    store.close()


@pytest.fixture(scope="module")
def ann(browser: Browser) -> str:
    return browser.send("/people/new", MEASURES).headers["location"]


def count(browser: Browser) -> int:
    with browser.store.read() as connection:
        return len(people(connection))


def test_pages_answer_before_anybody_is_measured(browser: Browser) -> None:
    assert "Nobody has been measured" in browser.text("/people")
    page = browser.text("/people/new")
    assert page.count("<svg") == 4
    assert page.count("<h1") == 1


@pytest.mark.parametrize("system", ["mm", "in"])
def test_dimensions_are_those_of_the_core_in_either_units(browser: Browser, ann: str,
                                                          system: str) -> None:
    browser.get(f"/units/{system}")
    page, words = browser.text(ann), Words("in" if system == "in" else "mm")
    browser.millimetres()
    said = fit_words(fit(BODY, BOAT), words)
    assert said.headline in page
    for dimension in said.dimensions:
        assert dimension.proposed in page
        assert dimension.within in page
        for rule in dimension.rules:
            assert rule.sentence in page
            assert rule.source in page
    for caution in said.cautions:
        assert caution in page
    for one in said.estimated:
        assert one.how in page
        assert one.source in page


def test_rules_that_disagree_are_told_in_the_reader_s_units(browser: Browser) -> None:
    typed = {"paddler.height": "176 cm", "paddler.boat_beam": "75 cm"}
    shown = unescape(browser.send("/people/fit", typed, **{"hx-request": "true"}).text)
    said = fit_words(fit(Body(1.76), Boat(0.75)), Words("mm"))
    assert said.conflicts
    assert all(conflict in shown for conflict in said.conflicts)
    browser.inches()
    inches = unescape(browser.send("/people/fit", typed, **{"hx-request": "true"}).text)
    browser.millimetres()
    conflict = inches.split("disagree:")[1].split("</li>")[0]
    assert " in" in conflict
    assert " mm" not in conflict


def test_the_live_answer_is_a_part_and_without_scripts_a_page(browser: Browser) -> None:
    before = count(browser)
    typed = {"name": "Somebody", "paddler.height": "180 cm"}
    live = browser.send("/people/fit", typed, **{"hx-request": "true"})
    whole = browser.send("/people/fit", typed)
    assert "<html" not in live.text
    assert "<html" in whole.text
    assert 'value="Somebody"' in whole.text
    for answer in (live, whole):
        assert fit_words(fit(Body(1.8)), Words("mm")).headline in unescape(answer.text)
    assert count(browser) == before  # looking keeps nothing


def test_what_cannot_be_read_yet_is_said_quietly_while_typing(browser: Browser) -> None:
    live = browser.send("/people/fit", {"paddler.height": "17"}, **{"hx-request": "true"})
    assert live.status_code == 200
    assert "Height: is out of range" in live.text


def test_a_bad_measure_is_told_beside_its_field_with_all_that_was_typed(browser: Browser) -> None:
    before = count(browser)
    answer = browser.send("/people/new", MEASURES | {"paddler.cubit": "2 m"})
    assert answer.status_code == 422
    page = unescape(answer.text)
    assert re.search(r'name="paddler.cubit" value="2 m".*?aria-invalid="true"', page, re.S)
    assert 'id="paddler-cubit-wrong"' in page
    assert "you typed 2 m" in page
    assert "<strong>Not kept yet.</strong> Cubit: " in page
    assert 'value="5\' 10"' in page or "5' 10" in page
    assert count(browser) == before


def test_the_same_form_twice_is_one_person(browser: Browser) -> None:
    before, uid = count(browser), str(uuid.uuid4())
    first = browser.send("/people/new", MEASURES | {"name": "Twice"}, uid)
    second = browser.send("/people/new", MEASURES | {"name": "Twice"}, uid)
    assert first.headers["location"] == second.headers["location"]
    assert first.headers["x-kept"] == uid
    assert count(browser) == before + 1


def test_new_measures_are_another_version_and_a_late_one_is_a_choice(browser: Browser) -> None:
    at = browser.send("/people/new", MEASURES | {"name": "Versions"}).headers["location"]
    number = int(at.rsplit("/", 1)[1])
    seen = re.search(r'name="seen" value="(\d+)"', browser.text(at))
    assert seen is not None
    late = {"seen": seen[1], "paddler.height": "1.75 m"}
    assert browser.send(at, {"seen": seen[1], "paddler.height": "177 cm"}).status_code == 303
    page = browser.text(at)
    assert "176 cm → 177 cm" in page
    answer = browser.send(at, late)
    text = unescape(answer.text)
    assert answer.status_code == 409
    assert "changed this since" in text
    assert re.search(r"<td>177 cm</td><td>1.75 m</td>", text)
    newer = re.search(r'name="seen" value="(\d+)"', text)
    assert newer is not None
    assert browser.send(at, late | {"seen": newer[1]}).status_code == 303
    with browser.store.read() as connection:
        kept = [one.paddler["height"] for one in body_history(connection, number)]
    assert kept == ["176 cm", "177 cm", "1.75 m"]


def test_bare_numbers_keep_their_unit_when_read_in_inches(browser: Browser, ann: str) -> None:
    browser.inches()
    page = browser.text(ann)
    browser.millimetres()
    assert 'value="600 mm"' in page


def test_a_person_can_be_renamed_and_nobody_s_page_is_not_found(browser: Browser) -> None:
    at = browser.send("/people/new", MEASURES | {"name": "Bob"}).headers["location"]
    assert browser.send(f"{at}/name", {"name": "Robert"}).status_code == 303
    assert "Robert" in browser.text("/people")
    assert browser.send(f"{at}/name", {"name": ""}).status_code == 422
    assert browser.get("/people/999").status_code in {404, 422}
