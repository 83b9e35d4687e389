"""A paddle's story: everything that was written of it, and the core's numbers beside it."""

from __future__ import annotations

import math
import re
import tomllib
import uuid
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import numpy as np
import pytest

from springloom.mechanics.stage_mass import stage_masses
from springloom.records.reading import check_layout
from springloom.report.story_rounds import came_of, next_crowns_share, turns_of
from springloom.report.tune_data import tune_data
from springloom.report.words import Words
from springloom.store.attachments import MOST_BYTES, attach, attachments
from springloom.store.layout import design_of, layout_of
from springloom.store.marks import mark_stage
from springloom.store.notes import notes
from springloom.store.opening import Store
from springloom.store.paddles import add_paddle, paddle, save_design
from springloom.store.rounds import add_reading, close_round, readings, rounds, withdraw_reading
from springloom.tune.counsel import counsel
from springloom.units import System
from tests.verification.web_client import Browser, bench_at, put_example

PNG = b"\x89PNG\r\n\x1a\n" + bytes(40)
JPEG, WEBP, PDF = b"\xff\xd8\xff\xe0" + bytes(9), b"RIFF\x10\0\0\0WEBPVP8 ", b"%PDF-1.7\n%"
PLANED = [{"blade": side, "at": ["1/2", "3/4"], "per_face": ["1/128", "1/64"]} for side in "ab"]


def mark() -> str:
    return str(uuid.uuid4())


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A paddle with a round that is over, one at hand, a correction, a tick, two versions."""
    opened = bench_at(tmp_path_factory.mktemp("story"))
    number = put_example(opened)
    with opened.write("Bea") as pen:
        design = design_of(pen.connection, number)
        course = design.tuned()
        told = counsel(course.now(), design.wanted(), design.limits, course.rules(design.rules))
        advice = tune_data(course.now(), told, design.wanted())
        mark_stage(pen, mark(), number, "squared", True, {"weight": "2.85 kg"})
        now = paddle(pen.connection, number)
        save_design(pen, mark(), number, {**now.design, "target": {"sinks": 34, "under": "10 lb"}},
                    "livelier", now.number)
        heavy = next(r for r in readings(pen.connection, number) if r.kind == "weight")
        add_reading(pen, mark(), number, "weight", {"weight": "787 g"}, heavy.id)
        wrong = add_reading(pen, mark(), number, "remark", {"text": "said of another paddle"})
        withdraw_reading(pen, mark(), wrong.id)
        close_round(pen, mark(), number, advice, PLANED, rounds(pen.connection, number)[-1].seen)
        for side, sinks in (("a", 29.4), ("b", 29.3)):
            add_reading(pen, mark(), number, "bench", {
                "blade": side, "load": "10 lb", "read_at": ["tip"], "sinks": [sinks]})
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(store: Store) -> Browser:
    return Browser(store)


def test_everything_that_was_written_is_there(browser: Browser) -> None:
    text = browser.text("/paddles/1/story")
    for said in ("176 cm", "3.23 kg", "Bending test", "34 Hz", "Verdict: use", "livelier",
                 "to 34", "787 g", "corrected; before: <s>788 g; kitchen scale", "2.85 kg",
                 "withdrawn by Bea", "said of another paddle", "Round 1 of tuning",
                 "Round 2 of tuning (under way)", "Advised then", "Blade A, off each face: "
                 "0.20 mm at 1/2, 0.40 mm at 3/4", "What came of it",
                 "What it teaches for the next one", "Demonstration. Invented paddler",
                 "one pin knot"):
        assert said in text, said
    assert text.count('<section class="part') == 7  # for whom, design, plan, carving, 2 rounds, end


@pytest.mark.parametrize("system", ["mm", "in"])
def test_numbers_are_the_cores_in_both_units(store: Store, browser: Browser,
                                             system: System) -> None:
    browser.get(f"/units/{system}")
    text, words = browser.text("/paddles/1/story"), Words(system)
    with store.read() as connection:
        design = design_of(connection, 1)
    turns, trouble = turns_of(design)
    assert (len(turns), trouble) == (2, "")
    course = design.tuned()
    known = course.now()  # the last step is what the tuning page shows
    np.testing.assert_array_equal(turns[-1].known.theta, known.theta)
    told = turns[0].told
    assert told is not None
    came = came_of(turns[0], design.rounds[0].removals, turns[1])
    for one, plan in zip(came, told.plans, strict=True):
        assert one.foretold.value == plan.sinks(design.rounds[0].removals[one.side])[0]
        assert f"<td>{words.bare(one.foretold.value)}</td>" in text
        assert one.found_m is not None
        assert f"<td>{words.bare(one.found_m)}</td>" in text
    for mass in stage_masses(design.paddle, design.build):
        assert words.mass(mass) in text
    for side in ("a", "b"):
        assert words.modulus(known.modulus(side).value) in text
    browser.millimetres()


def test_the_next_crowns_follow_from_the_stiffness_learnt(store: Store) -> None:
    with store.read() as connection:
        turns, _ = turns_of(design_of(connection, 1))
    share = next_crowns_share(turns)
    learnt = math.prod(turns[-1].known.modulus(side).value for side in ("a", "b")) ** 0.5
    # E·h³ is what bends: the same for the believed wood at 1 and the learnt at the share
    assert learnt * share**3 == pytest.approx(turns[0].known.modulus("a").before, rel=1e-12)


def test_charts_of_every_round_are_one_link_away(browser: Browser) -> None:
    pages = (browser.text(f"/paddles/1/story{query}") for query in ("", "?charts=all"))
    last, every = (set(re.findall(r'id="r(\d[ab])-page-title"', text)) for text in pages)
    assert (last, every) == ({"2a", "2b"}, {"1a", "1b", "2a", "2b"})


def test_the_design_file_reads_back_as_the_same(store: Store, browser: Browser) -> None:
    answer = browser.get("/paddles/1/design.toml")
    assert answer.headers["content-disposition"] == 'attachment; filename="marsh-tern.toml"'
    with store.read() as connection:
        assert check_layout(tomllib.loads(answer.text)) == layout_of(connection, 1)


def test_a_note_shows_up_once_however_often_it_is_sent(store: Store, browser: Browser) -> None:
    uid = mark()
    for _ in range(2):
        answer = browser.send("/paddles/1/story/notes", {"text": "oiled <b>twice</b>"}, uid)
        assert answer.status_code == 303
        assert answer.headers["X-Kept"] == uid
    assert browser.get("/paddles/1/story").text.count(
        '<p class="note-text">oiled &lt;b&gt;twice&lt;/b&gt;</p>') == 1
    with store.read() as connection:
        one, = notes(connection, "paddle", 1)
    browser.send("/paddles/1/story/notes", {"text": "oiled once", "replaces": str(one.id)})
    with store.read() as connection:
        now, = notes(connection, "paddle", 1)
    assert now.text == "oiled once"
    browser.send(f"/paddles/1/story/notes/{now.id}/withdraw", {})
    with store.read() as connection:
        assert notes(connection, "paddle", 1) == ()


def test_a_note_that_is_too_long_keeps_what_was_typed(browser: Browser) -> None:
    answer = browser.send("/paddles/1/story/notes", {"text": "long " * 900})
    assert answer.status_code == 422
    assert "Not kept yet" in answer.text
    assert "long long" in answer.text
    assert 'id="note-wrong"' in answer.text


@pytest.mark.parametrize(("content", "kind", "ending", "how"), [
    (PNG, "image/png", "png", "inline"), (JPEG, "image/jpeg", "jpg", "inline"),
    (WEBP, "image/webp", "webp", "inline"), (PDF, "application/pdf", "pdf", "attachment")])
def test_photos_and_papers_are_told_by_what_is_in_them(
        store: Store, browser: Browser, content: bytes, kind: str, ending: str, how: str) -> None:
    claims = {"file": ("../My page.html", content, "text/html")}
    assert browser.send("/paddles/1/story/files", {}, files=claims).status_code == 303
    with store.read() as connection:
        kept = attachments(connection, "paddle", 1)[-1]
    assert kept.media_type == kind
    sent = browser.get(f"/paddles/1/files/{kept.id}")
    assert sent.content == content
    assert sent.headers["content-type"] == kind
    assert sent.headers["x-content-type-options"] == "nosniff"
    assert sent.headers["content-disposition"] == f'{how}; filename="my-page.{ending}"'
    assert f"/paddles/1/files/{kept.id}" in browser.text("/paddles/1/story")


@pytest.mark.parametrize("content", [
    b"<!doctype html><script>1</script>", b'<svg xmlns="http://www.w3.org/2000/svg"/>', b"GIF89a",
    b"", PNG + bytes(MOST_BYTES)])
def test_anything_else_is_refused_beside_its_field(store: Store, browser: Browser,
                                                   content: bytes) -> None:
    with store.read() as connection:
        before = attachments(connection, "paddle", 1)
    answer = browser.send("/paddles/1/story/files", {"caption": "the loom"},
                          files={"file": ("photo.png", content, "image/png")})
    assert answer.status_code == 422
    assert 'id="file-wrong"' in answer.text
    assert "the loom" in answer.text
    with store.read() as connection:
        assert attachments(connection, "paddle", 1) == before


def test_what_an_archive_brought_is_never_shown_as_a_page(store: Store, browser: Browser) -> None:
    with store.write("archive") as pen:
        odd = attach(pen, mark(), "paddle", 1, "page.html", "text/html", b"<script>1</script>")
    sent = browser.get(f"/paddles/1/files/{odd.id}")
    assert sent.headers["content-type"] == "application/octet-stream"
    assert sent.headers["content-disposition"].startswith("attachment")


def test_a_paddles_files_are_its_own(store: Store, browser: Browser) -> None:
    with store.write("Bea") as pen:
        kept = attach(pen, mark(), "board", 1, "board.png", "image/png", PNG)
    assert browser.get(f"/paddles/1/files/{kept.id}").status_code == 404


def test_it_is_set_aside_and_taken_up_again(browser: Browser) -> None:
    for aside, shown in (("1", "Take it up again"), ("0", "Set it aside")):
        browser.send("/paddles/1/story/aside", {"aside": aside})
        assert shown in browser.text("/paddles/1/story")


def test_a_bare_paddle_has_a_story_too(tmp_path: Path) -> None:
    store = bench_at(tmp_path)
    with store.write("Bea") as pen:
        add_paddle(pen, mark(), "Bare", {})
    text = Browser(store).text("/paddles/1/story")
    assert "For nobody in particular" in text
    assert "What it teaches" not in text
    assert Browser(store).get("/paddles/2/story").status_code in {404, 422}
    store.close()


def test_ids_on_the_page_are_each_there_once(browser: Browser) -> None:
    text = unescape(browser.get("/paddles/1/story?charts=all").text)
    ids = re.findall(r'\sid="([^"]+)"', text)
    assert [one for one in ids if ids.count(one) > 1] == []


def test_a_note_costs_no_working_out_anew(store: Store, browser: Browser,
                                          monkeypatch: pytest.MonkeyPatch) -> None:
    browser.text("/paddles/1/story")
    monkeypatch.setattr("springloom.web.pages.story_page._story", None)  # calling it would fail
    browser.send("/paddles/1/story/notes", {"text": "quick"})
    assert "quick" in browser.text("/paddles/1/story")
    with store.read() as connection:
        last = notes(connection, "paddle", 1)[-1]
    browser.send(f"/paddles/1/story/notes/{last.id}/withdraw", {})
