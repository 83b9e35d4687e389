"""The logbook finds, orders and compares paddles, and shows the core's numbers."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from springloom.records.classfile import parse_class
from springloom.report.compare import Compared, compare_rows
from springloom.report.words import Words
from springloom.store.class_rows import take_students
from springloom.store.classes import add_class
from springloom.store.layout import design_of
from springloom.store.logbook import Asked, choose, lines
from springloom.store.notes import add_note, withdraw_note
from springloom.store.opening import Store
from springloom.store.paddles import set_aside
from springloom.store.progress import progress_of
from springloom.store.rounds import add_reading
from springloom.units import System
from tests.verification.web_client import Browser, bench_at, put_example


def mark() -> str:
    return str(uuid.uuid4())


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = bench_at(tmp_path_factory.mktemp("logbook"))
    tern, skerry = put_example(opened), put_example(opened, "low_skerry")
    with opened.write("Bea") as pen:
        add_note(pen, mark(), "paddle", tern, "Oiled TWICE, größer gemacht")
        gone = add_note(pen, mark(), "paddle", tern, "varnished")
        withdraw_note(pen, mark(), gone.id)
        add_reading(pen, mark(), skerry, "remark", {"text": "feels soft on the left"})
        set_aside(pen, mark(), skerry, aside=True)
        klass = add_class(pen, mark(), "Autumn", {"format": 1, "board": {
            "species": "sitka_spruce", "length": "2.4 m", "width": "90 mm",
            "thickness": "40 mm"}})
    take_students(opened, "Bea", klass.id, parse_class("name,height,use\nCid,180 cm,rolling\n"))
    for number in (tern, skerry, 3):
        progress_of(opened, number)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(store: Store) -> Browser:
    return Browser(store)


def found(store: Store, asked: Asked) -> list[str]:
    with store.read() as connection:
        return [one.name for one in choose(connection, lines(connection), asked)]


@pytest.mark.parametrize(("text", "names"), [
    ("marsh", ["Marsh Tern"]), ("TWICE oiled", ["Marsh Tern"]), ("GRÖSSER", ["Marsh Tern"]),
    ("soft left", ["Low Skerry"]), ("sitka", ["Cid", "Low Skerry"]), ("varnished", []),
    ("autumn", ["Cid"]), ("western redcedar storm", ["Low Skerry"]),
    ("tern's paddler", ["Marsh Tern"]),
])
def test_every_word_is_looked_for_in_names_woods_remarks_and_notes(
        store: Store, text: str, names: list[str]) -> None:
    assert sorted(found(store, Asked(text=text))) == sorted(names)


def test_filters_take_what_they_say(store: Store) -> None:
    assert found(store, Asked(use="rolling")) == ["Cid"]
    assert found(store, Asked(species="western_redcedar", aside="at hand")) == ["Marsh Tern"]
    assert found(store, Asked(aside="set aside")) == ["Low Skerry"]
    assert found(store, Asked(stage="carve")) == ["Cid"]
    assert found(store, Asked(work="done")) == []
    assert len(found(store, Asked(work="under way"))) == 3
    assert found(store, Asked(class_id=1)) == ["Cid"]


def test_orders_go_by_what_progress_says(store: Store) -> None:
    figures = {n: progress_of(store, n).figures for n in (1, 2, 3)}
    names = {1: "Marsh Tern", 2: "Low Skerry", 3: "Cid"}
    for order, key in (("weight", "mass_kg"), ("bend", "tip_m"), ("stiffness", "e_pa")):
        right = sorted(figures, key=lambda n: getattr(figures[n], key))
        assert found(store, Asked(order=order)) == [names[n] for n in right]  # type: ignore[arg-type]  # one of Order
        backwards = Asked(order=order, backwards=True)  # type: ignore[arg-type]  # one of Order
        assert found(store, backwards) == [names[n] for n in reversed(right)]
    assert found(store, Asked(order="name")) == ["Cid", "Low Skerry", "Marsh Tern"]
    assert found(store, Asked()) == ["Cid", "Low Skerry", "Marsh Tern"]  # the last touched first


def test_the_page_shows_the_cores_numbers_in_both_units(store: Store, browser: Browser) -> None:
    figures = progress_of(store, 1).figures
    assert figures is not None
    assert figures.measured
    assert None not in (figures.mass_kg, figures.wanted_m, figures.tip_a_m, figures.e_pa)
    for system, choose_units in (("mm", browser.millimetres), ("in", browser.inches)):
        choose_units()
        words, text = Words(system), browser.text("/logbook?q=tern")  # type: ignore[arg-type]  # a System
        for said in (words.mass(figures.mass_kg or 0.0), words.length(figures.wanted_m or 0.0),
                     f"A {words.length(figures.tip_a_m or 0.0)}",
                     words.modulus(figures.e_pa or 0.0), words.length(figures.length_m)):
            assert said in text
    browser.millimetres()


def test_the_last_to_touch_it_is_named(browser: Browser) -> None:
    assert "Bea" in browser.text("/logbook?q=tern")


def test_a_live_change_gets_the_list_alone(browser: Browser) -> None:
    part = browser.get("/logbook?q=tern", **{"HX-Request": "true"}).text
    assert "Marsh Tern" in part
    assert "<html" not in part
    whole = browser.get("/logbook?q=tern", **{
        "HX-Request": "true", "HX-History-Restore-Request": "true"}).text
    assert "<html" in whole


def test_odd_questions_are_answered_too(browser: Browser) -> None:
    for query in ("?page=99", "?page=x", "?sort=zzz&stage=zzz&class=zzz&wood=%00", "?q=%25%27"):
        assert browser.get(f"/logbook{query}").status_code == 200


@pytest.mark.parametrize("system", ["mm", "in"])
def test_paddles_are_compared_as_measured(store: Store, browser: Browser, system: System) -> None:
    browser.get(f"/units/{system}")
    text = browser.text("/logbook/compare?paddle=1&paddle=3")
    with store.read() as connection:
        chosen = [Compared.of(design_of(connection, n)) for n in (1, 3)]
    assert [one.measured for one in chosen] == [True, False]
    for row in compare_rows(chosen, Words(system)):
        for cell in row:
            assert cell in text
    assert text.count("<svg") == 4  # the line and the thickness, of A and of B


def test_one_or_five_are_no_comparison(browser: Browser) -> None:
    for query in ("paddle=1", "paddle=1&paddle=1", "", "&".join(f"paddle={n}" for n in range(5))):
        answer = browser.get(f"/logbook/compare?{query}")
        assert answer.status_code == 422
        assert "Tick two to four paddles" in answer.text
        assert "Marsh Tern" in answer.text


def test_an_empty_store_says_how_to_begin(tmp_path: Path) -> None:
    store = bench_at(tmp_path)
    assert "No paddle has been written down yet" in Browser(store).text("/logbook")
    store.close()


def test_figures_not_worked_out_yet_are_told(tmp_path: Path,
                                             monkeypatch: pytest.MonkeyPatch) -> None:
    store = bench_at(tmp_path)
    put_example(store)
    monkeypatch.setattr("springloom.web.pages.logbook._SECONDS", 0.0)
    assert "figures of 1 are still being worked out" in Browser(store).text("/logbook")
    monkeypatch.setattr("springloom.web.pages.logbook._SECONDS", 60.0)
    assert "worked out" not in Browser(store).text("/logbook")
    store.close()
