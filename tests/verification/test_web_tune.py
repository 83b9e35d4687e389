"""The tuning page: one reading at a time, advice by the core's own functions, rounds, conflicts."""

from __future__ import annotations

import re
import tomllib
import uuid
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from springloom.records.design import load_design
from springloom.records.readings_layout import CaliperTable, ReadingsTable
from springloom.report.cautions import BENCH_TEST
from springloom.report.tune_tables import detail_grids, outcome_grid, removal_grid, unknown_grids
from springloom.report.tune_text import more_words, round_words
from springloom.report.tune_words import blade_words, headline
from springloom.report.words import Words
from springloom.store.opening import Store
from springloom.store.paddles import add_paddle, paddle
from springloom.store.rounds import add_reading, readings, rounds
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import Estimate
from springloom.tune.walk import walk
from springloom.web.pages.tune_state import tuning_of
from tests.verification.command import MARSH_TERN
from tests.verification.web_client import WHO, Browser, bench_at, put_example

SEEN = ("passes", "crown", "edge")


@pytest.fixture(scope="module")
def looked_at(tmp_path_factory: pytest.TempPathFactory) -> Browser:
    """A bench with the demo paddle, for tests that only look."""
    store = bench_at(tmp_path_factory.mktemp("tune"))
    put_example(store)
    return Browser(store)


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Browser]:
    """A bench with the demo paddle, for tests that write."""
    store = bench_at(tmp_path)
    put_example(store)
    yield Browser(store)
    store.close()


def by_the_file() -> tuple[Estimate, Counsel]:
    """What the command line works from."""
    design = load_design(MARSH_TERN)
    course = design.tuned()
    known = course.now()
    return known, counsel(known, design.wanted(), design.limits, course.rules(design.rules))


def plain(page: str) -> str:
    """A page's text, blanks alike."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def bare_paddle(store: Store) -> int:
    """The demo paddle again, with nothing read."""
    with store.read() as connection:
        demo = paddle(connection, 1)
    with store.write(WHO) as pen:
        return add_paddle(pen, str(uuid.uuid4()), "Bare", {**demo.design, "name": "Bare"},
                          demo.person_id, demo.board_id).id


def typed_demo() -> list[tuple[str, dict[str, str]]]:
    """The demo's readings as one types them, step by step."""
    table = load_table()
    found: list[tuple[str, dict[str, str]]] = []
    for caliper in table.caliper:
        for i, crown in enumerate(caliper.crown or []):
            found.append((f"{caliper.blade}-crown-{i}", {"value": str(crown)}))
            edge = (caliper.edge or [])[i]
            if edge != "-":
                found.append((f"{caliper.blade}-edge-{i}", {"value": str(edge)}))
    found.append(("weight", {"value": "788", "unit": "g"}))
    for bench in table.bench:
        found += [(f"{bench.blade}-bench-{i}", {"value": str(sinks), "load": "10 lb"})
                  for i, sinks in enumerate(bench.sinks)]
    return found


def type_in(bench: Browser, number: int, steps: list[tuple[str, dict[str, str]]]) -> None:
    """Type readings one after another, on one page's token."""
    token = bench.token
    for step, typed in steps:
        data = {"csrf": token, "uid": str(uuid.uuid4()), "step": step, **typed}
        answer = bench.client.post(f"/paddles/{number}/tune/readings", data=data,
                                   follow_redirects=False)
        assert answer.status_code == 303, plain(answer.text)


def load_table() -> ReadingsTable:
    return ReadingsTable.model_validate(tomllib.loads(MARSH_TERN.read_text())["readings"])


@pytest.mark.parametrize("system", ["mm", "in"])
def test_all_that_the_command_line_prints_is_on_the_page(looked_at: Browser, system: Any) -> None:
    (looked_at.inches if system == "in" else looked_at.millimetres)()
    text, words = plain(looked_at.text("/paddles/1/tune")), Words(system)
    known, told = by_the_file()
    assert told.prediction is not None
    target = load_design(MARSH_TERN).wanted()
    sentences = [headline(told.advice), *round_words(told, told.prediction, target, words)]
    sentences += [blade_words(blade, told.plans[0].rules.pass_m, words)
                  for blade in told.advice.blades]
    sentences += [one for _, said in more_words(known, told, target, words) for one in said]
    grids = [removal_grid(told.advice, words), outcome_grid(told.advice, told.prediction, words),
             *detail_grids(told, words), *unknown_grids(known, words)]
    sentences += [" ".join(" ".join(row).split()) for grid in grids for row in grid.rows]
    for sentence in sentences:
        assert sentence in text
    looked_at.millimetres()


def test_one_reading_at_a_time_comes_to_what_one_table_does(bench: Browser) -> None:
    number = bare_paddle(bench.store)
    type_in(bench, number, typed_demo())
    made = tuning_of(bench.store, number)
    assert len(made.entries) == len(walk(made.design.paddle))
    assert made.worked is not None
    _, told = by_the_file()
    for ours, theirs in zip(made.worked.told.advice.blades, told.advice.blades, strict=True):
        assert ours.call == theirs.call
        assert [r.passes for r in ours.removals] == [r.passes for r in theirs.removals]
        # the same readings in another order: Gauss-Newton's own stopping is all that differs
        assert ours.deflection_m == pytest.approx(theirs.deflection_m, rel=1e-6)
        assert ours.predicted_sd_ln == pytest.approx(theirs.predicted_sd_ln, rel=1e-6)


def test_the_page_asks_for_the_next_reading_and_goes_past_what_is_skipped(bench: Browser) -> None:
    number = bare_paddle(bench.store)
    home = f"/paddles/{number}/tune"
    assert 'value="a-crown-0" selected' in bench.text(home)
    assert 'value="a-edge-0" selected' in bench.text(f"{home}?after=a-crown-0")
    answer = bench.send(f"{home}/readings", {"step": "a-edge-0", "value": "18.6"})
    assert 'value="a-crown-1" selected' in bench.text(answer.headers["location"])
    assert 'value="a-crown-1" selected' in bench.text(home)
    assert "left out" in bench.text(f"{home}?after=b-bench-2")


def test_too_few_readings_are_no_error(bench: Browser) -> None:
    number = bare_paddle(bench.store)
    home = f"/paddles/{number}/tune"
    assert "Nothing has been read in this round yet" in bench.text(home)
    bench.send(f"{home}/readings", {"step": "a-crown-0", "value": "35.2"})
    text = plain(bench.text(home))
    assert "Measure first" in text
    assert "What to plane" not in text
    with bench.store.write(WHO) as pen:
        bare = add_paddle(pen, str(uuid.uuid4()), "Nothing", {}).id
    assert "The wood has to be known" in bench.text(f"/paddles/{bare}/tune")


def test_a_bad_value_is_told_beside_its_field_and_kept(bench: Browser) -> None:
    number = bare_paddle(bench.store)
    answer = bench.send(f"/paddles/{number}/tune/readings",
                        {"step": "a-crown-1", "value": "3 1 4"})
    assert answer.status_code == 422
    page = unescape(answer.text)
    assert re.search(r'name="value" value="3 1 4"[^>]*aria-invalid="true"', page)
    assert 'id="value-wrong"' in page
    assert 'value="a-crown-1" selected' in page
    assert not tuning_of(bench.store, number).entries


def test_the_same_uid_is_kept_once(bench: Browser) -> None:
    number, uid = bare_paddle(bench.store), str(uuid.uuid4())
    for _ in range(2):
        answer = bench.send(f"/paddles/{number}/tune/readings",
                            {"step": "a-crown-0", "value": "35.2"}, uid)
        assert answer.headers["x-kept"] == uid
    assert len(tuning_of(bench.store, number).entries) == 1


def test_a_bare_number_is_in_the_visitors_unit(bench: Browser) -> None:
    number = bare_paddle(bench.store)
    bench.inches()
    bench.send(f"/paddles/{number}/tune/readings", {"step": "a-crown-0", "value": "1 3/8"})
    bench.send(f"/paddles/{number}/tune/readings", {"step": "a-crown-1", "value": "1.0"})
    read = [one.value for found in tuning_of(bench.store, number).read.values() for one in found]
    assert read == pytest.approx([1.375 * 0.0254, 0.0254])  # exact: an inch is 25.4 mm


def test_a_correction_stands_and_the_old_one_is_struck_through(bench: Browser) -> None:
    entry = next(one for one in tuning_of(bench.store, 1).entries if one.kind == "caliper")
    table = CaliperTable.model_validate(entry.table)
    edges = ["" if edge == "-" else str(edge) for edge in table.edge or []]
    typed = {"blade": "a", "face": "both", "at": [str(at) for at in table.at], "edge": edges,
             "crown": ["35.0", *(str(one) for one in (table.crown or [])[1:])]}
    path = f"/paddles/1/tune/readings/{entry.id}"
    assert "35.2" in bench.text(path)
    assert bench.send(path, typed).status_code == 303
    page = bench.text("/paddles/1/tune")
    assert re.search(r"<s>[^<]*root: 35\.2 mm", page)
    assert "root: 35.0 mm" in page
    again = bench.send(path, typed)
    assert again.status_code == 422
    assert "corrected in the meantime" in again.text


def test_a_withdrawn_reading_no_longer_counts_and_stays_readable(bench: Browser) -> None:
    entry = next(one for one in tuning_of(bench.store, 1).entries if one.kind == "weight")
    path = f"/paddles/1/tune/readings/{entry.id}"
    assert bench.send(f"{path}/withdraw", {}).status_code == 303
    assert not any(one.kind == "weight" for one in tuning_of(bench.store, 1).entries)
    assert "788 g" in bench.text(path)


@pytest.mark.parametrize(("kind", "typed"), [
    ("width", {"blade": "a", "at": ["1/2", "", ""], "width": ["73", "", ""]}),
    ("blade_length", {"blade": "b", "length": "860"}),
    ("trace", {"blade": "a", "at": "1/2", "face": "upper",
               "across": [str(5 * i) for i in range(15)],
               "high": ["0", "4.0", "6.1", "7.5", "8.4", "8.9", "9.2", "9.3", "9.2", "8.9", "8.4",
                        "7.5", "6.1", "4.0", "0"]}),
    ("bench", {"blade": "a", "load": "10 lb", "read_at": ["tip", "3/4"], "sinks": ["28.4", "14.9"],
               "unloading": ["28.6", "15.0"], "again1": ["28.3", "14.8"], "again2": ["", ""]}),
    ("hands", {"blade": "a", "load": "89 N", "read_at": ["889 mm from centre"], "sinks": ["38"]}),
    ("tap", {"frequency": "27", "blade": "a"}),
    ("balance", {"balance": "4", "towards": "b"}),
    ("remark", {"text": "feels stiffer on the right"}),
])
def test_every_other_kind_is_kept_and_shown_again(
    bench: Browser, kind: str, typed: dict[str, Any]
) -> None:
    path = f"/paddles/1/tune/new/{kind}"
    assert bench.get(path).status_code == 200
    answer = bench.send(path, typed)
    assert answer.status_code == 303, plain(answer.text)
    made = max(tuning_of(bench.store, 1).every, key=lambda one: one.id)
    assert made.kind == kind
    page = bench.text(f"/paddles/1/tune/readings/{made.id}")
    for value in typed.values():
        for one in [value] if isinstance(value, str) else value:
            assert f'value="{one}"' in page or f">{one}</textarea>" in page


def test_pounds_for_kilograms_are_asked_about_and_put_right_by_a_button(bench: Browser) -> None:
    """Hung 10 kg, typed 10 lb: everything sinks 2.2 times too far."""
    number = bare_paddle(bench.store)
    type_in(bench, number, [
        (step, {**typed, "value": f"{float(typed['value']) / 0.45359237:.1f}"}
         if "bench" in step else typed) for step, typed in typed_demo()])
    page = bench.text(f"/paddles/{number}/tune")
    assert "Clear this up first" in page
    key = re.search(r'name="answer" value="(load unit[^"]+)"', page)
    assert key is not None
    assert "It was 10 kg: correct 6 readings" in plain(page)
    answer = bench.send(f"/paddles/{number}/tune/answers", {"answer": key[1]})
    assert answer.status_code == 303, plain(answer.text)
    hung = [one.table for one in tuning_of(bench.store, number).entries if one.kind == "bench"]
    assert [table and table["load"] for table in hung] == ["10 kg"] * 6
    assert "Clear this up first" not in bench.text(f"/paddles/{number}/tune")
    gone = bench.send(f"/paddles/{number}/tune/answers", {"answer": key[1]})
    assert gone.status_code == 422
    assert "not asked any more" in gone.text


def test_a_misfit_is_named_with_its_reading(bench: Browser) -> None:
    number = bare_paddle(bench.store)
    slip = {"value": "24.8"}  # 18.8 with a slip of the pen
    type_in(bench, number, [(step, slip if step == "a-crown-2" else typed)
                            for step, typed in typed_demo()])
    page = bench.text(f"/paddles/{number}/tune")
    entry = next(one for one in tuning_of(bench.store, number).entries
                 if one.table and one.table.get("crown") == ["24.8"])
    assert "blade A, crown at 1/2" in page.split("What this rests on", maxsplit=1)[0].replace(
        "Blade A, crown", "blade A, crown")
    link = f'href="/paddles/{number}/tune/readings/{entry.id}">Look at: Thickness, blade A: crown'
    assert link in page


def planed_form(page: str) -> dict[str, str]:
    """The form for what was planed, as it is filled in."""
    found = dict(re.findall(r'name="([ab]\.\d)" value="([^"]*)"', page))
    seen = re.search(r'name="seen" value="(\d+)"', page)
    assert seen is not None
    return {**found, "seen": seen[1]}


def test_a_round_ends_with_its_advice_and_what_was_done(bench: Browser) -> None:
    _, told = by_the_file()
    form = planed_form(bench.text("/paddles/1/tune"))
    for blade in told.advice.blades:
        for i, one in enumerate(blade.removals):
            assert form[f"{blade.side}.{i}"] == f"{one.passes:g}"
    answer = bench.send("/paddles/1/tune/rounds", {**form, "a.1": "1/64", "b.3": "0.5 mm"})
    assert answer.status_code == 303, plain(answer.text)
    with bench.store.read() as connection:
        ended, = rounds(connection, 1)
        assert not readings(connection, 1)
    assert ended.closing is not None
    assert ended.closing.advice["do_now"] == headline(told.advice)
    a, b = ended.closing.planed
    assert (a["at"], a["per_face"]) == (["1/4", "1/2", "3/4"], ["1/64", "1/128 in", "1/64 in"])
    assert b["per_face"] == ["1/128 in", "1/64 in", "0.5 mm"]
    page = plain(bench.text("/paddles/1/tune"))
    assert "round 2" in page
    assert "Nothing has been read in this round yet" in page
    assert "Round 1, ended" in page
    assert "has borne no weight since" in page


def test_the_next_round_says_what_came_of_the_last(bench: Browser) -> None:
    bench.send("/paddles/1/tune/rounds", planed_form(bench.text("/paddles/1/tune")))
    bench.send("/paddles/1/tune/readings", {"step": "a-bench-0", "value": "31.0", "load": "10 lb"})
    page = plain(bench.text("/paddles/1/tune"))
    assert re.search(r"Blade A was to sink 31\.0 mm \(90 % sure of [\d.]+ to [\d.]+ mm\); sank "
                     r"3[01]\.\d mm by the next readings", page)


@pytest.mark.parametrize(("typed", "said"), [
    ({"a.1": "0.4"}, "Is no number of passes"), ({"a.1": "40 mm"}, "Is out of range"),
    ({"a.1": "a bit"}, "a bit"),
])
def test_what_can_not_have_been_planed_is_told_beside_its_field(
    bench: Browser, typed: dict[str, str], said: str
) -> None:
    form = planed_form(bench.text("/paddles/1/tune"))
    answer = bench.send("/paddles/1/tune/rounds", {**form, **typed})
    assert answer.status_code == 422
    assert said in plain(answer.text)
    assert 'id="a-1-wrong"' in answer.text
    assert f'name="a.1" value="{typed["a.1"]}"' in answer.text


def test_nothing_planed_ends_no_round(bench: Browser) -> None:
    form = planed_form(bench.text("/paddles/1/tune"))
    none = {key: "0" if key != "seen" else value for key, value in form.items()}
    assert bench.send("/paddles/1/tune/rounds", none).status_code == 422
    assert tuning_of(bench.store, 1).open_turn is not None


def test_two_at_one_paddle_lose_nothing_and_see_each_other(bench: Browser) -> None:
    """Both open the page; one reads on while the other ends the round."""
    form, other = planed_form(bench.text("/paddles/1/tune")), Browser(bench.store)
    with bench.store.write("Bo") as pen:
        add_reading(pen, str(uuid.uuid4()), 1, "tap", {"frequency": "27 Hz", "blade": "a"})
    answer = bench.send("/paddles/1/tune/rounds", {**form, "a.1": "3"})
    assert answer.status_code == 422
    page = plain(answer.text)
    assert "somebody has written to it since you opened the page" in page
    assert "Tone, blade A: 27 Hz, clamped at root (Bo, " in page
    assert 'name="a.1" value="3"' in answer.text
    again = planed_form(unescape(answer.text))
    assert again["seen"] > form["seen"]
    assert other.send("/paddles/1/tune/rounds", again).status_code == 303
    assert tuning_of(bench.store, 1).open_turn is None


def test_the_wanted_bend_is_typed_carried_over_or_as_light_as_is_safe(bench: Browser) -> None:
    other = put_example(bench.store, "low_skerry")
    path = "/paddles/1/tune/target"
    seen = re.search(r'name="seen" value="(\d+)"', bench.text(path))
    assert seen is not None
    usual = {"under": "10 lb", "within": "1.5", "progression": "1.9"}
    assert bench.send(path, {**usual, "way": "sinks", "sinks": "35", "seen": seen[1]}
                      ).status_code == 303
    assert "is to sink 35.0 mm" in bench.text("/paddles/1/tune")
    late = bench.send(path, {**usual, "way": "sinks", "sinks": "36", "seen": seen[1]})
    assert late.status_code == 422
    assert "changed in the meantime" in late.text
    assert bench.send(path, {**usual, "way": "light", "seen": "2"}).status_code == 303
    assert "as light as is safe" in bench.text("/paddles/1/tune")
    assert bench.send(path, {**usual, "way": "like", "like": str(other), "seen": "3"}
                      ).status_code == 303
    assert "like Low Skerry" in bench.text(path)
    bad = bench.send(path, {**usual, "way": "sinks", "sinks": "far", "seen": "4"})
    assert bad.status_code == 422
    assert re.search(r'name="sinks" value="far"[^>]*aria-invalid', unescape(bad.text), re.DOTALL)


def test_a_reading_is_of_its_own_paddle(bench: Browser) -> None:
    other = bare_paddle(bench.store)
    entry = tuning_of(bench.store, 1).entries[0]
    assert bench.get(f"/paddles/{other}/tune/readings/{entry.id}").status_code == 422
    assert bench.send(f"/paddles/{other}/tune/readings/{entry.id}/withdraw", {}
                      ).status_code == 422


def test_a_form_that_went_on_offline_tells_of_the_next_and_keeps_no_other_tool(
        bench: Browser) -> None:
    number = bare_paddle(bench.store)
    home = f"/paddles/{number}/tune"
    text = bench.text(home)
    for key in ("place", "how", "planned", "before", "unit", "caution"):
        assert f'data-told="{key}"' in text
        assert f'data-{key}="' in text
    assert BENCH_TEST in text.split('value="a-bench', 1)[1].split(">", 1)[0]
    # Rendered for a crown, read by a vernier caliper; then gone on to the tip and the scale.
    bench.send(f"{home}/readings", {"sort": "crown", "step": "a-bench-0", "value": "31",
                                    "tool": "vernier caliper"})
    bench.send(f"{home}/readings", {"sort": "crown", "step": "weight", "value": "715",
                                    "tool": "vernier caliper"})
    with bench.store.read() as connection:
        sunk, weighed = (one.table or {} for one in readings(connection, number))
    assert "instrument" not in sunk
    assert weighed == {"weight": "715 g"}
