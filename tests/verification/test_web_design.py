"""The design page: what is typed is worked out, kept as versions, and never lost."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest

from springloom.mechanics.analysis import analyse
from springloom.records.design import Design
from springloom.report.forecast_words import sure_of
from springloom.report.words import Words
from springloom.store.layout import design_of
from springloom.store.paddles import add_paddle, design_versions, paddle
from springloom.units import System
from springloom.web.forms import Form
from springloom.web.pages.design_form import fields_of, typing_of
from springloom.web.pages.design_spots import difference_words
from tests.verification.web_client import WHO, Browser, bench_at, put_example

LIVE = {"HX-Request": "true"}


@pytest.fixture(scope="module")
def _seen(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A bench that is only read: the two examples, and a paddle of no wood."""
    store = bench_at(tmp_path_factory.mktemp("bench"))
    put_example(store)
    put_example(store, "low_skerry")
    with store.write(WHO) as pen:
        add_paddle(pen, str(uuid.uuid4()), "Bare", {})
    yield Browser(store)
    store.close()


@pytest.fixture
def seen(_seen: Browser) -> Browser:
    """The same, read in millimetres."""
    _seen.millimetres()
    return _seen


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Browser]:
    """A bench that is written to."""
    store = bench_at(tmp_path)
    put_example(store)
    yield Browser(store)
    store.close()


def at(number: int = 1, part: str = "") -> str:
    return f"/paddles/{number}/design{part}"


def typed(browser: Browser, number: int = 1, **changes: str) -> dict[str, str]:
    """The form as the page has it, with some fields typed over (``blade_crown_3`` for a row's)."""
    with browser.store.read() as connection:
        now = paddle(connection, number)
    form = fields_of(now.design) | {"seen": str(now.number)}
    return form | {_name(key): value for key, value in changes.items()}


def _name(key: str) -> str:
    row = re.fullmatch(r"(blade|blade_b|strip)__(\w+?)__(\d+)", key)
    return f"{row[1]}.{row[2]}[{row[3]}]" if row else key.replace("__", ".")


def kept(browser: Browser, number: int = 1) -> Design:
    with browser.store.read() as connection:
        return design_of(connection, number)


@pytest.mark.parametrize("system", ["mm", "in"])
@pytest.mark.parametrize("number", [1, 2])
def test_figures_are_the_forecasts_own(seen: Browser, number: int, system: System) -> None:
    if system == "in":
        seen.inches()
    design, words = kept(seen, number), Words(system)
    result = analyse(design.paddle, design.build)
    page = seen.text(at(number))
    tip = result.a.line.tip_deflection_m
    assert words.mass(result.mass.mass_kg) in page
    assert words.length(tip) in page
    assert f"{result.a.weakest.margin:.2f}" in page
    sd = design.build.sd_ln_e if number == 1 else None  # type: ignore[union-attr]  # a board
    if sd is not None:
        assert sure_of(tip, sd, words.length) in page


def test_a_paddle_of_no_wood_shows_its_shape(seen: Browser) -> None:
    page = seen.text(at(3))
    assert "No bend and no weight yet" in page
    assert 'name="blade.crown[1]" value="34"' in page  # the default blade, spelled out


def test_form_and_tables_are_each_others_inverse(seen: Browser) -> None:
    for number in (1, 2):
        with seen.store.read() as connection:
            design = paddle(connection, number).design
        fields = fields_of(design) | {"strips": "yes"}
        form = Form({name: (text,) for name, text in fields.items()})
        assert typing_of(form, design).design == design


def test_a_change_is_answered_with_every_part(seen: Browser) -> None:
    answer = seen.send(at(1, "/live"), typed(seen, blade__crown__3="16"), **LIVE)
    assert answer.status_code == 200
    for part in ("say", "views", "bend", "bend-words", "limits", "sections", "weight", "shape"):
        assert f'id="part-{part}"' in answer.text
    assert "<html" not in answer.text
    assert "16 mm" in unescape(answer.text)


def test_any_unit_may_be_typed(seen: Browser) -> None:
    texts = {seen.send(at(1, "/live"), typed(seen, blade__crown__3=text), **LIVE).text
             for text in ("12.7", "1/2", "1.27 cm", "0.5 in")}
    assert len({re.sub(r"blade-crown-3.*", "", text) for text in texts}) == 1


def test_a_bad_value_is_told_at_its_row_while_typing(seen: Browser) -> None:
    answer = seen.send(at(1, "/live"), typed(seen, blade__crown__3="1x7"), **LIVE)
    assert '<p class="wrong-words" id="blade-3-wrong" hx-swap-oob="true">' in answer.text
    assert "part-views" not in answer.text  # the drawing waits


def test_a_station_left_empty_goes_and_a_place_alone_comes(seen: Browser) -> None:
    form = Form({name: (text,) for name, text in typed(
        seen, blade__stations__4="", blade__stations__7="5/8").items()})
    made = typing_of(form, {}).design["blade"]
    assert made["stations"] == ["root", "1/4", "1/2", "5/8", "75 mm from tip", "tip"]
    low, new, high = made["crown"][2:5]
    assert high < new < low
    for row in (2, 6):  # a complaint goes to the row it was typed in
        bad = typed(seen, blade__stations__4="") | {f"blade.crown[{row}]": "thick"}
        text = seen.send(at(1, "/live"), bad, **LIVE).text
        assert f'id="blade-{row}-wrong"' in text


def test_without_scripts_the_page_works_it_out(seen: Browser) -> None:
    answer = seen.send(at(1, "/work"), typed(seen, blade__crown__3="16"))
    page = unescape(answer.text)
    assert answer.status_code == 200
    assert "<html" in page
    assert 'name="blade.crown[3]" value="16"' in page
    assert "73 × 16 mm" in page
    assert kept(seen).paddle.a.stations[2].crown == pytest.approx(0.0175)  # nothing is kept


def test_blades_are_told_apart(seen: Browser) -> None:
    page = seen.send(at(1, "/work"), typed(seen, alike="no", blade__crown__3="16")).text
    assert 'name="blade_b.crown[3]" value="16"' in page  # it begins as blade A
    both = typed(seen, alike="no") | {
        name.replace("blade.", "blade_b."): text for name, text in typed(seen).items()
        if name.startswith("blade.")} | {"blade_b.crown[3]": "19"}
    page = unescape(seen.send(at(1, "/work"), both).text)
    assert "Tip A sinks" in page
    assert "Tip B sinks" in page


def test_what_is_kept_is_another_version(bench: Browser) -> None:
    form, uid = typed(bench, blade__crown__3="16", why="softer"), str(uuid.uuid4())
    for _ in range(2):  # sent again by a phone that heard no answer
        assert bench.send(at(), form, uid).status_code == 303
    with bench.store.read() as connection:
        versions = design_versions(connection, 1)
    assert [one.number for one in versions] == [1, 2]
    assert versions[-1].why == "softer"
    assert versions[-1].design["blade"]["crown"][2] == 16
    page = bench.text(at())
    assert "softer" in page
    assert "crown at 1/2 17.5 to 16" in page


def test_without_a_why_it_says_what_was_changed(bench: Browser) -> None:
    bench.send(at(), typed(bench, paddle__length="2200"))
    with bench.store.read() as connection:
        assert paddle(connection, 1).why == "overall length 2240 to 2200"


def test_what_was_changed_is_said_in_few_words(seen: Browser) -> None:
    with seen.store.read() as connection:
        now = dict(paddle(connection, 1).design)
    form = Form({name: (text,) for name, text in typed(seen, blade__stations__7="2/3").items()})
    added = typing_of(form, now).design
    assert difference_words(now, added) == "station 2/3 added"
    assert difference_words(added, now) == "station 2/3 left out"
    assert difference_words(now, now | {"blade_b": now["blade"]}) == "blades made different"
    assert difference_words(now, now) == ""


def test_a_bad_value_is_told_beside_its_field_and_kept_as_typed(bench: Browser) -> None:
    answer = bench.send(at(), typed(bench, blade__crown__3="17 furlongs", limits__blank="thick"))
    page = unescape(answer.text)
    assert answer.status_code == 422
    assert 'value="17 furlongs" aria-label="Crown, row 3"' in page
    assert 'value="thick"' in page
    assert "Not kept yet" in page
    with bench.store.read() as connection:
        assert paddle(connection, 1).number == 1


def test_going_back_makes_a_new_version(bench: Browser) -> None:
    before = kept(bench).paddle
    bench.send(at(), typed(bench, blade__crown__3="16"))
    answer = bench.send(at(part="/back"), {"number": "1", "seen": "2"})
    assert answer.status_code == 303
    with bench.store.read() as connection:
        assert paddle(connection, 1).why == "back to version 1"
        assert paddle(connection, 1).number == 3
    assert kept(bench).paddle == before


def test_two_who_save_are_told_what_the_other_did(bench: Browser) -> None:
    mine = typed(bench, blade__crown__3="16", blade__width__2="61")
    bench.send(at(), typed(bench, blade__crown__3="16.5", blade__edge__4="5.5"))
    answer = bench.send(at(), mine)
    page = unescape(answer.text)
    assert answer.status_code == 409
    assert "has kept version 2 meanwhile" in page
    assert 'name="blade.crown[3]" value="16"' in page
    crown, edge = "choose:blade.crown@1/2", "choose:blade.edge@3/4"
    assert f'name="{crown}" value="mine" checked' in page
    assert f'name="{edge}" value="theirs" checked' in page  # nobody changed it here
    assert 'name="seen" value="2"' in page
    answer = bench.send(at(), mine | {"seen": "2", crown: "mine", edge: "theirs"})
    assert answer.status_code == 303
    with bench.store.read() as connection:
        blade = paddle(connection, 1).design["blade"]
    assert (blade["crown"][2], blade["edge"][3], blade["width"][1]) == (16, 5.5, 61)


def test_a_station_of_theirs_can_be_taken(bench: Browser) -> None:
    mine = typed(bench, blade__crown__3="16")
    bench.send(at(), typed(bench, blade__stations__7="2/3"))
    assert "station 2/3" in unescape(bench.send(at(), mine).text)
    taken = {"seen": "2", "choose:blade.stations@2/3": "theirs"}
    assert bench.send(at(), mine | taken).status_code == 303
    with bench.store.read() as connection:
        blade = paddle(connection, 1).design["blade"]
    assert blade["stations"][3] == "2/3"
    assert blade["crown"][2] == 16
    assert len(blade["crown"]) == 7


def test_the_wanted_bend_gives_thickness_and_puts_it_in(bench: Browser) -> None:
    page = unescape(bench.send(at(part="/bend"), typed(bench, target__sinks="40"), **LIVE).text)
    assert "For 40.0 mm at the tip under 10 lb" in page
    assert bench.send(at(part="/take"), typed(bench, target__sinks="40")).status_code == 303
    with bench.store.read() as connection:
        now = paddle(connection, 1)
    assert now.why == "thickness for 40.0 mm under 10 lb (44.5 N)"
    design = kept(bench)
    sinks = analyse(design.paddle, design.build).a.line.tip_deflection_m
    # Crowns are kept to 0.1 mm: half of that on 10 mm moves a deflection by 1.5 %.
    assert sinks == pytest.approx(0.040, rel=0.015)


def test_a_bend_out_of_reach_names_the_nearest(bench: Browser) -> None:
    page = unescape(bench.send(at(part="/bend"), typed(bench, target__sinks="120")).text)
    assert "the nearest possible is" in page
    assert 'name="target.sinks" value="120"' in page


def test_limits_that_are_passed_are_told(seen: Browser) -> None:
    page = unescape(seen.send(at(1, "/work"), typed(
        seen, blade__crown__3="12", blade__edge__5="2.5")).text)
    assert "1/2: a crown of 12.0 mm is below the least of 13.0 mm" in page
    assert "75 mm from tip: an edge of 2.5 mm is below the least of 3.0 mm" in page


def test_too_weak_is_told(seen: Browser) -> None:
    page = unescape(seen.send(at(1, "/work"), typed(seen, blade__crown__1="20",
                                                    blade__edge__1="12")).text)
    assert "WARNING" in page
    assert "TOO WEAK" in page


def test_versions_and_other_paddles_are_compared(seen: Browser) -> None:
    page = seen.text(at(1, "/compare?one=v1&other=p2"))
    for said in ("1/4, crown", "weight, bare wood", "margin: hard stroke", "Low Skerry"):
        assert said in page
    assert page.count("<svg") == 2
    same = seen.text(at(1, "/compare?one=v1&other=v1"))
    assert "alike" in same
    assert "+" not in re.sub(r"<[^>]*>", "", same.split("Both designs")[1].split("<footer")[0])
    assert seen.get(at(1, "/compare?one=v9&other=v1")).status_code == 422


def test_strips_come_and_go(seen: Browser) -> None:
    form = typed(seen, 2, strips="yes", strip__species__4="sitka_spruce", strip__left__4="-0.5",
                 strip__right__4="0.5")
    page = unescape(seen.send(at(2, "/work"), form).text)
    assert 'id="strip-4-wrong">Overlaps strip[2]' in page
    gone = form | {f"strip.species[{n}]": "" for n in (1, 2, 3, 4)}
    assert "strip.species[2]" not in unescape(seen.send(at(2, "/work"), gone).text)


def test_the_solid_is_a_binary_gltf(seen: Browser) -> None:
    answer = seen.get(at(1, "/solid.glb"))
    assert answer.headers["content-type"] == "model/gltf-binary"
    assert answer.content[:4] == b"glTF"
    assert "data-solid" not in seen.text(at())  # its scripts are large: only when asked for
    assert 'data-solid="/paddles/1/design/solid.glb?1"' in seen.text(at(1, "/solid"))


def test_board_and_paddler_are_chosen(bench: Browser) -> None:
    assert bench.send(at(part="/made-of"), {"board_id": "", "person_id": "1"}).status_code == 303
    with bench.store.read() as connection:
        now = paddle(connection, 1)
    assert (now.board_id, now.person_id) == (None, 1)
    assert "No bend and no weight yet" in bench.text(at())


@pytest.mark.parametrize(("key", "axis", "values"), [
    ("crown", "y", ("16", "20")), ("width", "y", ("70", "78")), ("edge", "y", ("6", "8")),
    ("ridge", "x", ("0.4", "0.6")),
])
def test_a_handle_moves_what_it_says(seen: Browser, key: str, axis: str,
                                     values: tuple[str, str]) -> None:
    """Moving a handle by one unit of the drawing changes its value by ``data-mm``."""
    def place(value: str) -> tuple[float, float, float]:
        form = typed(seen) | {f"blade.{key}[3]": value}
        text = seen.send(at(1, "/live"), form, **LIVE).text
        found = re.search(rf'data-drag="blade-{key}-3" data-axis="{axis}" data-mm="([^"]+)" '
                          r'data-value="([^"]+)".*?translate\((\S+) ([^)]+)\)', text)
        assert found is not None
        mm, at_value, x, y = (float(part) for part in found.groups())
        return mm, at_value, x if axis == "x" else y

    (mm, low, first), (_, high, second) = (place(value) for value in values)
    assert [low, high] == [float(value) for value in values]
    # Places are written to five decimals.
    assert (second - first) * mm == pytest.approx(high - low, abs=1e-3)
