"""The page beside the work: the next stage on top, ticks and weights kept, lines to read off."""

from __future__ import annotations

import uuid
from collections.abc import Iterator

import pytest

from springloom.report.carving_measures import (
    TITLES,
    stage_measures,
    stage_weights,
    weight_range,
    weight_said,
)
from springloom.report.carving_words import carving_text
from springloom.report.set_off_words import set_off
from springloom.report.words import Words
from springloom.shape.stages import STAGES
from springloom.store.layout import design_of
from springloom.store.marks import mark_history, mark_stage, marks
from springloom.store.opening import Store
from tests.verification.web_client import Browser, bench_at, put_example


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = bench_at(tmp_path_factory.mktemp("carve"))
    yield opened
    opened.close()


@pytest.fixture
def number(bench: Store) -> int:
    return put_example(bench)


@pytest.fixture
def browser(bench: Store) -> Browser:
    return Browser(bench)


@pytest.mark.parametrize("system", ["mm", "in"])
def test_stages_are_shown_with_what_belongs_to_them(bench: Store, browser: Browser, number: int,
                                                    system: str) -> None:
    words = Words("in" if system == "in" else "mm")
    browser.get(f"/units/{system}")
    shown = browser.text(f"/paddles/{number}/carve")
    with bench.read() as connection:
        design = design_of(connection, number)
    for stage in carving_text(design, words).stages:
        for said in (stage.name, stage.tools, *stage.work, *stage.limits, *stage.cautions):
            assert said in shown
    for weight in stage_weights(design):
        assert words.mass(weight.mass_kg) in shown
        assert weight_range(weight, words) in shown
    for measure in stage_measures(design, words.system)[-1]:
        assert words.length(measure.value_m) in shown


def test_the_next_stage_comes_first(bench: Store, browser: Browser, number: int) -> None:
    home = f"/paddles/{number}/carve"
    for done, name in enumerate(STAGES):
        shown = browser.text(home)
        top = shown[shown.index('<section class="stage"'):shown.index("</section>")]
        assert f"{done + 1} {TITLES[name]}" in top
        sent = browser.send(f"{home}/{name.replace(' ', '-')}", {"do": "tick"})
        assert sent.headers["location"] == home
    assert "All stages are ticked" in browser.text(home)
    with bench.read() as connection:
        assert {one.stage for one in marks(connection, number) if one.done} == set(STAGES)


def test_a_tick_says_who_and_can_be_taken_back(bench: Store, browser: Browser, number: int) -> None:
    home = f"/paddles/{number}/carve"
    browser.send(f"{home}/squared", {"do": "tick", "measured.length": "2290"})
    assert "ticked" in browser.text(home)
    browser.send(f"{home}/squared", {"do": "untick", "measured.length": "2290"})
    with bench.read() as connection:
        first, second = mark_history(connection, number)
    assert (first.done, second.done) == (True, False)
    shown = browser.text(home)
    assert f"{first.made_by}, " in shown
    assert "not done after all" in shown  # beside the earlier entry


def test_the_same_tick_twice_is_one(bench: Store, browser: Browser, number: int) -> None:
    uid = str(uuid.uuid4())
    for _ in range(2):
        sent = browser.send(f"/paddles/{number}/carve/squared", {"do": "tick"}, uid)
        assert sent.headers["x-kept"] == uid
    with bench.read() as connection:
        assert len(mark_history(connection, number)) == 1


def test_a_weight_outside_is_told_before_it_is_kept(bench: Store, browser: Browser,
                                                    number: int) -> None:
    with bench.read() as connection:
        weights = stage_weights(design_of(connection, number))
    heavy = round(1.2e3 * weights[0].mass_kg)
    said = weight_said(weights, "squared", {"squared": 1e-3 * heavy}, Words("mm"))
    assert said.call == "more"
    path = f"/paddles/{number}/carve/squared/weigh?measured.weight="
    assert said.sentence in browser.text(f"{path}{heavy}")  # grams
    assert said.sentence in browser.text(f"{path}{1e-3 * heavy:.3f}+kg")
    assert "unknown unit" in browser.text(f"{path}3+stone")
    assert browser.text(path).strip() == ""
    with bench.read() as connection:
        assert mark_history(connection, number) == ()


def test_a_kept_weight_shows_again_with_what_it_says(bench: Store, browser: Browser,
                                                     number: int) -> None:
    with bench.read() as connection:
        weights = stage_weights(design_of(connection, number))
    kept = round(0.8 * weights[0].mass_kg, 3)
    typed = {"measured.weight": f"{kept} kg"}
    browser.send(f"/paddles/{number}/carve/squared", {"do": "keep", **typed})
    said = weight_said(weights, "squared", {"squared": kept}, Words("mm"))
    shown = browser.text(f"/paddles/{number}/carve")
    assert said.sentence in shown
    assert f'value="{kept} kg"' in shown
    browser.send(f"/paddles/{number}/carve/squared", {"do": "tick", **typed})
    after = browser.text(f"/paddles/{number}/carve")
    assert f"After “{TITLES['squared']}”" in after  # on top of the stage that is next
    assert said.sentence in after


def test_what_can_t_be_read_is_told_beside_its_field(browser: Browser, bench: Store,
                                                     number: int) -> None:
    typed = {"do": "tick", "measured.weight": "1.9 kg", "measured.width-loom": "3x"}
    answer = browser.send(f"/paddles/{number}/carve/sawn", typed)
    assert answer.status_code == 422
    assert 'value="1.9 kg"' in answer.text
    assert 'value="3x"' in answer.text
    assert 'aria-describedby="sawn-measured-width-loom-wrong"' in answer.text
    for wrong in ("0", "900 kg", "-1 g", "2.41"):  # the last are kilograms without their unit
        again = browser.send(f"/paddles/{number}/carve/sawn", {"measured.weight": wrong})
        assert again.status_code == 422, wrong
    with bench.read() as connection:
        assert mark_history(connection, number) == ()


def test_a_measure_means_the_same_in_other_units(bench: Store, browser: Browser,
                                                 number: int) -> None:
    browser.send(f"/paddles/{number}/carve/squared", {"do": "keep", "measured.thickness": "38.6"})
    browser.inches()
    assert 'value="38.6 mm"' in browser.text(f"/paddles/{number}/carve")
    browser.send(f"/paddles/{number}/carve/squared", {"do": "keep", "measured.thickness": "1 1/2"})
    with bench.read() as connection:
        assert mark_history(connection, number)[-1].units == "in"


def test_a_mark_that_says_nothing_sensible_is_shown_all_the_same(bench: Store, browser: Browser,
                                                                 number: int) -> None:
    # an archive or the JSON interface may bring what this page would refuse
    with bench.write("Ann") as pen:
        mark_stage(pen, str(uuid.uuid4()), number, "squared", True,
                   {"weight": "heavy", "length": "long", "colour": "red"})
        mark_stage(pen, str(uuid.uuid4()), number, "painted", True, {"weight": "1 kg"})
    assert "heavy" in browser.text(f"/paddles/{number}/carve")


def test_a_stage_nobody_knows(browser: Browser, number: int) -> None:
    assert browser.send(f"/paddles/{number}/carve/painted", {"do": "tick"}).status_code == 404
    assert browser.get(f"/paddles/{number}/carve/painted/weigh").status_code == 404
    assert browser.get("/paddles/999/carve").status_code == 404


@pytest.mark.parametrize("system", ["mm", "in"])
def test_lines_are_read_off_place_by_place(bench: Store, browser: Browser, number: int,
                                           system: str) -> None:
    browser.get(f"/units/{system}")
    with bench.read() as connection:
        (face,) = set_off(design_of(connection, number), "in" if system == "in" else "mm")
    for n, place in enumerate(face.places):
        shown = browser.text(f"/paddles/{number}/carve/lines?at={n}")
        for group in place.groups:
            for one in group.figures:
                assert f'<span class="first">{one.first}</span>' in shown
                assert f'<span class="second">{one.second}</span>' in shown
        assert ("On to" in shown) == (n + 1 < len(face.places))
        assert ("Back to" in shown) == (n > 0)
    table = browser.text(f"/paddles/{number}/carve/lines/all")
    for place in face.places:
        assert place.name in table
        assert all(one.first in table and one.second in table for one in place.figures)


def test_only_the_lines_of_a_stage(browser: Browser, number: int) -> None:
    shown = browser.text(f"/paddles/{number}/carve/lines?at=3&work=8")
    assert "a on face" in shown
    assert "c on face" not in shown
    assert "work=8" in shown[shown.index('class="steps"'):]  # the next place keeps it
    part = browser.get(f"/paddles/{number}/carve/lines?at=3", **{"HX-Request": "true"}).text
    assert "<html" not in part
    assert browser.get(f"/paddles/{number}/carve/lines?at=99").status_code == 404
    assert browser.get(f"/paddles/{number}/carve/lines?face=upper").status_code == 404


def test_the_loom_to_its_sides(bench: Store, browser: Browser, number: int) -> None:
    with bench.read() as connection:
        (face,) = set_off(design_of(connection, number), "mm")
    shown = browser.text(f"/paddles/{number}/carve/loom")
    for one in face.places[0].figures[3:]:
        assert one.first in shown
    assert "What a to f measure" in shown
