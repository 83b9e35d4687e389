"""A whole store as one file: out, in, the same again; and what is no such file is refused whole."""

from __future__ import annotations

import copy
import csv
import io
import json
import math
from collections.abc import Callable
from typing import Any

import jsonschema
import pytest

from springloom.errors import FileError, InputError, SpringloomError
from springloom.store import Store, archive_layout, open_store, schema
from springloom.store.archive import PARTS, archive, readings_csv, restore
from springloom.store.attachments import attach, content
from springloom.store.boards import add_board_test, rename_board, withdraw_board_test
from springloom.store.classes import add_class, add_student
from springloom.store.jobs import ask
from springloom.store.layout import layout_of, take_in
from springloom.store.marks import mark_stage
from springloom.store.notes import add_note, withdraw_note
from springloom.store.paddles import assign, paddle, paddles, save_design, set_aside
from springloom.store.people import add_person, measure_person, person, rename_person
from springloom.store.readings_csv import COLUMNS
from springloom.store.rounds import add_reading, close_round, readings, withdraw_reading
from springloom.store.settings import put_setting, setting, signing_key
from springloom.store.shares import open_share
from springloom.store.writers import welcome
from springloom.units import parse_length
from tests.stores import other_engine
from tests.verification.store_entries import (
    BENCH,
    BOARD,
    BODY,
    DESIGN,
    LAYOUTS,
    PLANED,
    a_paddle,
    new_paddle,
    uid,
)

Data = dict[str, Any]
Break = Callable[[Data], object]


def filled(store: Store) -> Store:
    """Write something of everything, some of it corrected, withdrawn, renamed."""
    signing_key(store)
    with store.write("Anna Ø.") as pen:
        for layout in LAYOUTS.values():
            take_in(pen, uid(), layout)
        one = a_paddle(pen)
        who, plank = one.person_id or 0, one.board_id or 0
        measure_person(pen, uid(), who, {"height": 70}, person(pen.connection, who).body_id,
                       units="in")
        rename_person(pen, uid(), who, "Zoë")
        rename_board(pen, uid(), plank, "Plank 4")
        tap = add_board_test(pen, uid(), plank, "tap", {"frequency": 34})
        withdraw_board_test(pen, uid(), add_board_test(pen, uid(), plank, "tap",
                                                       {"frequency": 35}, tap.id).id)
        save_design(pen, uid(), one.id, DESIGN | {"note": "softer"}, "softer", 1)
        first = add_reading(pen, uid(), one.id, "bench", BENCH)
        last = add_reading(pen, uid(), one.id, "bench", BENCH | {"sinks": [29, 6]}, first.id)
        close_round(pen, uid(), one.id, {"say": "plane"}, PLANED, last.id)
        withdraw_reading(pen, uid(), add_reading(pen, uid(), one.id, "tap", {"frequency": 9}).id)
        mark_stage(pen, uid(), one.id, "blank", True, {"width": 90.5})
        withdraw_note(pen, uid(), add_note(pen, uid(), "board", plank, "a knot").id)
        add_note(pen, uid(), "person", who, "left-handed")
        attach(pen, uid(), "paddle", one.id, "blade.jpg", "image/jpeg", bytes(range(256)))
        course = add_class(pen, uid(), "Autumn", DESIGN | {"board": BOARD})
        _, theirs = add_student(pen, uid(), course.id, "Ben", BODY)
        set_aside(pen, uid(), theirs.id, True)
        assign(pen, uid(), theirs.id, board_id=plank)
        put_setting(pen, "units", "in")
        welcome(pen, uid(), "Anna", "10.0.0.7")
        open_share(pen, 10)
        ask(pen, uid(), "plans", {})
    return store


def archived(store: Store) -> Data:
    """An archive as its file has it."""
    with store.read() as connection:
        found: Data = json.loads(json.dumps(archive(connection)))
        return found


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Data:
    """An archive with something of everything."""
    store = filled(open_store(tmp_path_factory.mktemp("whole") / "store.db"))
    data = archived(store)
    store.close()
    return data


def test_an_archive_taken_in_elsewhere_is_the_same_archive(
    store: Store, request: pytest.FixtureRequest, tmp_path: Any
) -> None:
    data = archived(filled(store))
    other = other_engine(store, request, tmp_path)
    assert restore(other, data) == sum(len(data[part]) for part in PARTS)
    assert archived(other) == data
    assert restore(other, data) == 0
    assert archived(other) == data
    assert restore(store, data) == 0
    with store.read() as here, other.read() as there:
        for one in (*paddles(here), *paddles(here, aside=True)):
            twin = next(other for other in (*paddles(there), *paddles(there, aside=True))
                        if other.uid == one.uid)
            assert layout_of(there, twin.id) == layout_of(here, one.id)
        assert content(there, 1) == bytes(range(256))
        assert setting(there, "units") == "in"
    other.close()


def test_an_archive_holds_no_keys_codes_writers_or_work(store: Store) -> None:
    text = json.dumps(archived(filled(store)))
    assert signing_key(store).hex() not in text
    with store.read() as connection:
        code = connection.execute(schema.join_code.select()).one().code
    assert f'"{code}"' not in text
    assert "10.0.0.7" not in text
    kept = {table.name for table in PARTS.values()} | {"setting"}
    assert set(schema.METADATA.tables) - kept == {
        "writer", "join_code", "attempt", "job", "summary"}


def test_every_part_has_an_example_and_fits_its_schema(whole: Data) -> None:
    assert [part for part in PARTS if not whole[part]] == []
    form = archive_layout.json_schema()
    jsonschema.Draft202012Validator.check_schema(form)
    jsonschema.validate(whole, form)
    assert set(form["properties"]) == set(whole)


def test_two_stores_that_went_on_by_themselves_become_one(
    store: Store, request: pytest.FixtureRequest, tmp_path: Any
) -> None:
    one = new_paddle(store)
    other = other_engine(store, request, tmp_path)
    with other.write("Ben") as pen:
        add_person(pen, uid(), "Somebody", BODY)  # so that the numbers differ
    restore(other, archived(store))
    with other.read() as connection:
        twin = next(each for each in paddles(connection) if each.uid == one.uid)
    with store.write("Anna") as pen:
        rename_person(pen, uid(), one.person_id or 0, "first")
        ours = add_reading(pen, uid(), one.id, "bench", BENCH)
    with other.write("Ben") as pen:
        rename_person(pen, uid(), twin.person_id or 0, "last")
        set_aside(pen, uid(), twin.id, True)
        add_note(pen, uid(), "paddle", twin.id, "from the other")
    assert restore(other, archived(store)) == 3  # the name, the round, the reading
    assert restore(store, archived(other)) == 5  # and somebody with their measures
    with store.read() as here, other.read() as there:
        for connection, number, who in ((here, one.id, one.person_id),
                                        (there, twin.id, twin.person_id)):
            assert person(connection, who or 0).name == "last"
            assert paddle(connection, number).set_aside
            assert [each.uid for each in readings(connection, number)] == [ours.uid]
    other.close()


def test_two_stores_that_changed_the_same_are_not_mixed(
    store: Store, request: pytest.FixtureRequest, tmp_path: Any
) -> None:
    one = new_paddle(store)
    other = other_engine(store, request, tmp_path)
    restore(other, archived(store))
    for here in (store, other):
        with here.write("Anna") as pen:
            save_design(pen, uid(), 1, DESIGN | {"note": here.url}, "", 1)
    before = archived(store)
    with pytest.raises(InputError, match=r"^designs\[2\]: does not go with what is in the store"):
        restore(store, archived(other))
    assert archived(store) == before
    assert one.number == 1
    other.close()


def _last(part: str, key: str, value: Any) -> Break:
    def broken(data: Data) -> None:
        data[part][-1][key] = value

    return broken


def _twice(part: str) -> Break:
    return lambda data: data[part].append(data[part][0])


def _nested(depth: int) -> Any:
    made: Any = 1
    for _ in range(depth):
        made = [made]
    return made


def _without(part: str) -> Break:
    return lambda data: data[part].clear()


@pytest.mark.parametrize(("broken", "named"), [
    (lambda data: data.pop("readings"), "readings: is broken: Field required"),
    (lambda data: data.update(extra=1), "extra: is broken"),
    (lambda data: data.update(version="1"), "version: is broken"),
    (lambda data: data.update(people=7), "people: is broken"),
    (_last("readings", "uid", "7"), r"readings\[\d+\]\.uid: is broken"),
    (_last("readings", "made_at", "yesterday"), r"readings\[\d+\]\.made_at: is broken"),
    (_last("notes", "made_at", "2026-13-01T09:30:00.000000Z"), r"notes\[\d+\]\.made_at: is brok"),
    (_last("readings", "kind", "photo"), r"readings\[\d+\]\.kind: is broken"),
    (_last("marks", "paddle", uid()), r"marks\[1\]\.paddle: is named before it comes"),
    (_last("readings", "replaces", uid()), r"readings\[\d+\]\.replaces: is named before"),
    (lambda data: data["readings"].reverse(), r"readings\[\d+\]\.replaces: is named before"),
    (_twice("readings"), r"readings\[\d+\]\.uid: is there twice"),
    (lambda data: data["readings"][0].update(table={"weight": "788 furlongs"}),
     r"paddles\[1\]\.readings\.weight: has an unknown unit"),
    (lambda data: data["readings"][0].update(table={"caliper": []}),
     r"readings\[1\]\.readings\.caliper: is unknown"),
    (_last("bodies", "paddler", {"heigth": 3}), r"bodies\[\d+\]\.paddler\.heigth: is unknown"),
    (_last("designs", "layout", {"format": 1}), r"designs\[\d+\]\.name: is missing"),
    (_last("designs", "number", 3), r"paddles\[\d+\]: has designs that are not numbered in order"),
    (_last("classes", "base", {}), r"classes\[\d+\]\.format: is missing"),
    (_without("bodies"), r"people\[1\]: has no entry among bodies"),
    (_without("board_sheets"), r"boards\[1\]: has no entry among board_sheets"),
    (_without("closings"), r"paddles\[\d+\]: has two open rounds"),
    (_last("attachments", "content", "not base64"), r"attachments\[1\]\.content: is broken"),
    (_last("attachments", "content", "AAAA"), r"attachments\[1\]\.content: is broken: its cont"),
    (_last("attachments", "person", uid()), r"attachments\[1\]: is about nothing, or about two"),
    (_last("changes", "now", {"uid": "x"}), r"changes\[\d+\]\.now\.uid: can't be changed"),
    (_last("changes", "now", {"board": uid()}), r"changes\[\d+\]\.now\.board: is not there"),
    (_last("changes", "now", {"set_aside": 7}), r"changes\[\d+\]\.now\.set_aside: is of the wro"),
    (_last("changes", "now", {"board": 7}), r"changes\[\d+\]\.now\.board: is of the wrong kind"),
    (_last("people", "name", "a\0b"), r"people\[\d+\]: holds what is no character"),
    (_last("people", "name", "a\x1b[2Jb"), r"people\[\d+\]: holds what is no character"),
    (lambda data: data["settings"].update(odd=math.nan), r"settings: can't be stored"),
    (lambda data: data["settings"].update(odd="\ud800"), r"settings: holds what is no character"),
    (lambda data: data["settings"].update({"x" * 81: 1}), r"settings: is too long"),
    (lambda data: data["settings"].update(odd=_nested(5000)), r"archive: is nested too deeply"),
    (lambda data: data["notes"][1].update(board=None, paddle=data["paddles"][0]["uid"]),
     r"notes\[2\]\.replaces: replaces an entry of something else"),
    (lambda data: data["readings"][1].update(replaces=data["readings"][0]["uid"]),
     r"readings\[2\]\.replaces: replaces an entry of something else"),
])
def test_a_broken_archive_is_refused_whole_and_the_place_named(
    store: Store, whole: Data, broken: Break, named: str
) -> None:
    data = copy.deepcopy(whole)
    broken(data)
    empty = archived(store)
    with pytest.raises(SpringloomError, match=f"^{named}") as caught:
        restore(store, data)
    assert "\n" not in str(caught.value)
    assert archived(store) == empty


@pytest.mark.parametrize("data", [
    {}, [], None, "x", {"format": "another archive"}, {"format": 1, "name": "Marsh Tern"},
])
def test_what_is_no_archive_is_refused(file_store: Store, data: Any) -> None:
    with pytest.raises(FileError, match=r"^archive: is no Springloom archive; allowed: a JSON"):
        restore(file_store, data)


def test_an_archive_of_a_newer_version_is_refused(file_store: Store) -> None:
    data = archived(file_store) | {"version": 2, "drawings": []}
    with pytest.raises(FileError, match=r"^archive: was made by a newer Springloom \(given 2\); "
                       "allowed: an archive of version 1: install the newer Springloom"):
        restore(file_store, data)


# A table for a spreadsheet ---------------------------------------------------------------------

def rows(store: Store, number: int | None = None) -> list[dict[str, str]]:
    with store.read() as connection:
        return list(csv.DictReader(io.StringIO(readings_csv(connection, number), newline="")))


def test_every_value_has_a_line_with_all_that_is_known_of_it(store: Store) -> None:
    one = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), one.id, "bench", BENCH)
        second = add_reading(pen, uid(), one.id, "bench", BENCH | {"sinks": ["1 1/8", 6]},
                             first.id)
    found = rows(store)
    assert list(found[0]) == list(COLUMNS)
    assert [(row["place"], row["typed"], row["si_value"], row["stands"]) for row in found] == [
        ("tip", "28.4", "0.0284", "corrected"), ("1/2", "5.8", "0.0058", "corrected"),
        ("tip", "1 1/8", f"{1.125 * 0.0254:.9g}", "yes"), ("1/2", "6", "0.006", "yes")]
    last = found[-1]
    assert (last["paddle"], last["round"], last["kind"], last["blade"], last["si_unit"],
            last["instrument"], last["made_by"]) == (
        "Marsh Tern", "1", "bench", "a", "m", "ruler", "Anna")
    assert last["what"] == "sinks under 10 lb at tip, clamped at root"
    assert (last["entry"], last["replaces"]) == (str(second.id), str(first.id))
    assert last["made_at"] == schema.moment_text(second.made_at)


def test_every_kind_is_written_out_in_si(store: Store) -> None:
    with store.write("Anna") as pen:
        made = {name: take_in(pen, uid(), layout).id for name, layout in LAYOUTS.items()}
    found = rows(store)
    assert {row["kind"] for row in found} == {
        "weight", "balance", "caliper", "width", "blade_length", "trace", "bench", "hands", "tap",
        "remark"}
    assert {row["si_unit"] for row in found} == {"m", "kg", "Hz", ""}
    assert [row for row in found if not row["si_value"] and row["kind"] != "remark"] == []
    assert [row for row in found if row["typed"] in {"-", ""}] == []
    alone = rows(store, made["low_skerry"])
    assert {row["paddle"] for row in alone} == {"Low Skerry"}
    crown = next(row for row in alone if row["kind"] == "caliper")
    assert (crown["typed"], crown["instrument"], crown["what"]) == (
        "1 3/8", "vernier caliper", "crown")
    assert float(crown["si_value"]) == pytest.approx(parse_length("1 3/8", default="in"))
    hung = [row["what"] for row in found if row["kind"] == "tap"]
    assert hung[:2] == ["tone of the paddle hung free", "tone, clamped at root"]


def test_a_withdrawn_value_is_said_to_be_withdrawn(store: Store) -> None:
    one = new_paddle(store)
    with store.write("Anna") as pen:
        withdraw_reading(pen, uid(), add_reading(pen, uid(), one.id, "weight",
                                                 {"weight": "788 g"}).id)
    row, = rows(store)
    assert (row["stands"], row["si_value"], row["instrument"]) == (
        "withdrawn", "0.788", "kitchen scale")


@pytest.mark.parametrize(("text", "cell"), [
    ("=1+1", "'=1+1"), ("+49", "+49"), ("+cmd", "'+cmd"), ("-2", "-2"), ("-2 g", "'-2 g"),
    ("@SUM(A1)", "'@SUM(A1)"), ("\t=1", "'\t=1"), ("\r=1", "'\r=1"), ("feels =", "feels ="),
    ('say "stiff", then', 'say "stiff", then'), ("two\nlines", "two\nlines"),
])
def test_no_text_becomes_a_formula_and_numbers_stay_numbers(
    store: Store, text: str, cell: str
) -> None:
    one = new_paddle(store)
    with store.write("=cmd|' /C calc'!A0") as pen:
        add_reading(pen, uid(), one.id, "remark", {"text": text})
        add_reading(pen, uid(), one.id, "balance", {"balance": -4})
    remark, balance = rows(store)
    assert remark["typed"] == cell
    assert remark["made_by"] == "'=cmd|' /C calc'!A0"
    assert (balance["typed"], balance["si_value"]) == ("-4", "-0.004")
