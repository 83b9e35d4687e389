"""A class in the browser: students in, paddles that fit, one list, everybody's plans."""

from __future__ import annotations

import io
import tomllib
import uuid
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from springloom.records.classfile import parse_class
from springloom.records.design import design_from
from springloom.records.reading import check_layout
from springloom.report.class_words import buy_rows, fit_rows, saw_rows
from springloom.report.classroom import classroom, shopping
from springloom.report.words import Words
from springloom.store.class_rows import class_base, room_of
from springloom.store.classes import students
from springloom.store.jobs import result
from springloom.store.layout import design_of
from springloom.store.opening import Store
from springloom.store.paddles import paddle, save_design
from springloom.units import System
from springloom.web.jobs import Worker
from springloom.web.work import MAKERS
from springloom.wood.stock import Market
from tests.verification.web_client import Browser, bench_at, put_example

CSV = """name,height,arm_span,use,species,board_length,board_width,board_thickness,note
Ann,176 cm,178 cm,touring,,,,,
# a remark
Bo,5' 4",,rolling,sitka_spruce,,,,loves blue
Cy,1800,,storm,western_redcedar,2400,100,45,
Di,tall,,touring,,,,,
Eve,170 cm,,flying,,,,,
"""


def mark() -> str:
    return str(uuid.uuid4())


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = bench_at(tmp_path_factory.mktemp("classes"))
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(store: Store) -> Browser:
    """At a bench with one class, its students sent by file."""
    made = Browser(store)
    made.send("/classes/new", {"name": "Autumn", "like": "", "board.species": "western_redcedar",
                               "target.sinks": "35", "target.under": "10 lb"})
    answer = send_file(made)
    assert answer == 422  # two lines could not be used
    return made


def send_file(browser: Browser, text: str = CSV, path: str = "/classes/1/file") -> int:
    files = {"file": ("class.csv", text.encode(), "text/csv")}
    status: int = browser.send(path, {}, files=files).status_code
    return status


def test_bad_lines_are_told_by_number_and_the_rest_taken_in(store: Store,
                                                            browser: Browser) -> None:
    answer = browser.send("/classes/1/file", {}, files={
        "file": ("class.csv", CSV.encode(), "text/csv")})
    assert answer.status_code == 422
    assert "0 students taken in, 3 were in the class already, 2 lines could not be used." in (
        answer.text)
    for said in ("line 6 (Di): height", "line 7 (Eve): use"):
        assert said in answer.text
    with store.read() as connection:
        assert [one.name for _, one in students(connection, 1)] == ["Ann", "Bo", "Cy"]


def test_everybodys_paddle_is_the_one_the_class_file_makes(store: Store,
                                                           browser: Browser) -> None:
    assert browser.get("/classes/1").status_code == 200
    with store.read() as connection:
        room, paddles = room_of(connection, 1)
        base = class_base(connection, 1)
        kept = [design_of(connection, paddles[line]) for line in (1, 2, 3)]
    wanted = classroom(parse_class(CSV, "mm"), base, "mm")
    assert room.bad == ()
    for student, design, one in zip(room.students, kept, wanted.students, strict=True):
        # Kept in round figures: whole millimetres if long, else tenths, of 8 mm and more.
        assert design.paddle.length == pytest.approx(one.design.paddle.length, abs=0.501e-3)
        assert student.mass_kg == pytest.approx(one.mass_kg, rel=0.05 / 8)
        off = student.made.deflection_m - one.made.deflection_m
        assert abs(off) < one.target.tolerance_m  # the wanted bend all the same
        assert student.row.owns_board == one.row.owns_board
        assert design.board is not None
        assert one.design.board is not None
        assert design.board.species == one.design.board.species
        assert design.wanted().deflection_m == pytest.approx(one.target.deflection_m,
                                                             abs=0.0501e-3)


@pytest.mark.parametrize(("system", "market"), [("mm", "metric"), ("in", "north american")])
def test_fit_and_shopping_are_the_sheets_own(store: Store, browser: Browser, system: System,
                                             market: Market) -> None:
    browser.get(f"/units/{system}")
    text, words = browser.text("/classes/1"), Words(system)
    with store.read() as connection:
        room, _ = room_of(connection, 1)
    for row in (*fit_rows(room.students, words), *saw_rows(room.students, words),
                *buy_rows(shopping(room.students, market), words)):
        for cell in row[1:]:
            assert f">{cell}</td>" in text or f">{cell}</th>" in text
    assert "/paddles/1/carve" in text
    browser.millimetres()


def test_one_student_at_a_time(store: Store, browser: Browser) -> None:
    uid = mark()
    for _ in range(2):
        answer = browser.send("/classes/1/students", {
            "name": "Flo", "height": "1650", "use": "touring", "note": ""}, uid)
        assert answer.status_code == 303
    with store.read() as connection:
        assert [one.name for _, one in students(connection, 1)].count("Flo") == 1
    assert "Flo" in browser.text("/classes/1")


def test_a_bad_value_is_told_beside_its_field_with_all_kept(store: Store,
                                                            browser: Browser) -> None:
    with store.read() as connection:
        before = len(students(connection, 1))
    answer = browser.send("/classes/1/students", {
        "name": "Gil", "height": "170 cm", "use": "touring", "cubit": "46 ells"})
    assert answer.status_code == 422
    assert 'id="cubit-wrong"' in answer.text
    assert 'value="46 ells"' in answer.text
    assert 'value="Gil"' in answer.text
    with store.read() as connection:
        assert len(students(connection, 1)) == before


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"who,where\nAnn,here\n",
                                     b"name,height\n"])
def test_what_is_no_class_is_told_beside_the_file(browser: Browser, content: bytes) -> None:
    answer = browser.send("/classes/1/file", {}, files={
        "file": ("class.csv", content, "text/csv")})
    assert answer.status_code == 422
    assert "Not kept yet" in answer.text


def test_the_pack_holds_paddles_as_they_are_designed_now(tmp_path: Path) -> None:
    store = bench_at(tmp_path)
    browser = Browser(store)
    browser.send("/classes/new", {"name": "Autumn", "like": ""})
    send_file(browser, "name,height\nAnn,176 cm\n")
    with store.write("Bea") as pen:
        now = paddle(pen.connection, 1)
        save_design(pen, mark(), 1, {**now.design, "note": "for the left-handed"}, "", now.number)
    answer = browser.send("/classes/1/pack", {"page": "a4"})
    assert Worker(store, MAKERS).once()
    with store.read() as connection:
        made = result(connection, int(answer.headers["location"].removeprefix("/jobs/")))
    pack = zipfile.ZipFile(io.BytesIO(made.content))
    assert {"autumn/class.pdf", "autumn/01-ann/plan.pdf"} <= set(pack.namelist())
    text = pack.read("autumn/01-ann/design.toml").decode()
    assert design_from(check_layout(tomllib.loads(text))).note == "for the left-handed"
    store.close()


def test_a_pack_of_nobody_says_so(tmp_path: Path) -> None:
    store = bench_at(tmp_path)
    browser = Browser(store)
    browser.send("/classes/new", {"name": "Empty", "like": ""})
    answer = browser.send("/classes/1/pack", {"page": "letter"})
    assert Worker(store, MAKERS).once()
    assert "has no student" in browser.text(answer.headers["location"])
    assert browser.send("/classes/1/pack", {"page": "a0"}).status_code == 422
    store.close()


def test_a_class_like_a_paddle_on_the_bench(tmp_path: Path) -> None:
    store = bench_at(tmp_path)
    number, browser = put_example(store), Browser(store)
    browser.send("/classes/new", {"name": "Like it", "like": str(number)})
    with store.read() as connection:
        base, own = class_base(connection, 1), design_of(connection, number)
    assert base.board == own.board  # its tests too
    assert base.target == own.target
    assert (base.body, base.readings) == (None, ())
    assert send_file(browser, "name,height\nAnn,176 cm\n") == 303
    assert "western redcedar" in browser.text("/classes/1")
    store.close()


def test_an_empty_store_and_an_empty_class(tmp_path: Path) -> None:
    store = bench_at(tmp_path)
    browser = Browser(store)
    assert "No class yet" in browser.text("/classes")
    answer = browser.send("/classes/new", {"name": "", "like": ""})
    assert answer.status_code == 422
    assert 'id="name-wrong"' in answer.text
    browser.send("/classes/new", {"name": "Empty", "like": ""})
    assert "Nobody is in it yet" in browser.text("/classes/1")
    assert "Empty" in browser.text("/classes")
    store.close()
