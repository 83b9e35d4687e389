"""A new paddle in the browser: fitted, usual, copied or from a file, each with its bend."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from importlib import resources

import pytest

from springloom.fit.body import Body
from springloom.fit.dimensions import fit, paddle_from_fit
from springloom.fit.scaled import CLASS_TARGET, scaled_target
from springloom.records.design import Design
from springloom.store.layout import design_of
from springloom.store.paddles import paddle, paddles
from tests.verification.web_client import Browser, bench_at, put_example

EXAMPLE = (resources.files("springloom.examples") / "low_skerry.toml").read_bytes()
HALF_MM = 0.50001e-3  # typed lengths of this size are whole millimetres
TENTH_MM = 0.0500001e-3  # others are tenths


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    store = bench_at(tmp_path_factory.mktemp("paddles"))
    browser = Browser(store)
    page = browser.text("/paddles/new")  # on an empty bench
    assert "nobody yet" in page
    assert "no board yet" in page
    yield browser
    store.close()


@pytest.fixture(scope="module")
def person(browser: Browser) -> str:
    sent = browser.send("/people/new", {"name": "Ann", "paddler.height": "168 cm"})
    return sent.headers["location"].rsplit("/", 1)[1]


def made(browser: Browser, **typed: str) -> Design:
    answer = browser.send("/paddles/new", {"name": "Tern", **typed})
    assert answer.status_code == 303, answer.text[:2000]
    return stored(browser, answer.headers["location"])


def stored(browser: Browser, location: str) -> Design:
    assert location.endswith("/design")
    with browser.store.read() as connection:
        return design_of(connection, int(location.split("/")[2]))


def test_the_fitted_start_is_the_fit_s_in_round_figures(browser: Browser, person: str) -> None:
    shape = paddle_from_fit(fit(Body(1.68)))
    design = made(browser, person=person, start="fitted")
    assert abs(design.paddle.length - shape.length) <= HALF_MM
    for typed, exact in zip(design.paddle.a.stations, shape.a.stations, strict=True):
        assert abs(typed.width - exact.width) <= TENTH_MM
        assert abs(typed.crown - exact.crown) <= TENTH_MM
    assert design.body == Body(1.68)
    usual = scaled_target(CLASS_TARGET, shape.a)
    assert abs(design.wanted().deflection_m - usual.deflection_m) <= TENTH_MM


def test_a_typed_bend_is_kept_as_typed(browser: Browser) -> None:
    typed = {"start": "usual", "target.sinks": "1 1/2", "target.under": "12 lb"}
    design = made(browser, **typed)
    assert abs(design.wanted().deflection_m - 1.5 * 0.0254) < 1e-12  # exact but for the float
    page = browser.text("/paddles/new")
    assert "33.0 mm" in page  # the usual bend, beside the field


def test_a_copy_has_the_shape_and_another_bend(browser: Browser) -> None:
    number = put_example(browser.store)
    with browser.store.read() as connection:
        old = design_of(connection, number)
    same = made(browser, start=f"copy-{number}")
    assert same.paddle == old.paddle
    assert same.target == old.target
    other = made(browser, start=f"copy-{number}", **{"target.sinks": "40"})
    assert abs(other.wanted().deflection_m - 0.040) < 1e-12
    assert other.paddle == old.paddle
    assert f'value="copy-{number}" selected' in browser.text(f"/paddles/new?from={number}")


@pytest.mark.parametrize(("typed", "field", "says"), [
    ({"name": ""}, "name", "Is empty"),
    ({"start": "fitted"}, "person", "Needs somebody"),
    ({"start": "usual", "target.sinks": "4 m"}, "target-sinks", "Is out of range"),
    ({"start": "usual", "target.under": "12 lb"}, "target-sinks", "a weight alone is no bend"),
    ({"start": "copy-999"}, "", "is not in the store"),
    ({"start": "round"}, "start", "Is no start"),
])
def test_what_is_wrong_is_told_beside_its_field(browser: Browser, typed: dict[str, str],
                                                field: str, says: str) -> None:
    answer = browser.send("/paddles/new", {"name": "Kept name", "start": "usual"} | typed)
    assert answer.status_code == 422
    assert says in answer.text
    assert f'id="{field}-wrong"' in answer.text or not field
    assert 'value="Kept name"' in answer.text or "name" in typed


def test_the_same_form_twice_is_one_paddle(browser: Browser) -> None:
    uid = str(uuid.uuid4())
    for _ in range(2):
        browser.send("/paddles/new", {"name": "Twice", "start": "usual"}, uid)
    with browser.store.read() as connection:
        assert sum(one.name == "Twice" for one in paddles(connection)) == 1


def test_a_design_file_is_taken_in_whole(browser: Browser) -> None:
    sent = browser.send("/paddles/file", {}, files={"file": ("x.toml", EXAMPLE, "text/plain")})
    assert stored(browser, sent.headers["location"]).name == "Low Skerry"


@pytest.mark.parametrize(("content", "says"), [
    (b"format = 1\nname = 3", "name: is of the wrong kind"), (b"\xff\xfe\x00", "Is not text"),
    (b"no toml at all", "Is not valid TOML"), (b"a = 1\n" * 200_000, "too large"),
])
def test_what_is_no_design_file_is_told(browser: Browser, content: bytes, says: str) -> None:
    sent = browser.send("/paddles/file", {}, files={"file": ("x.toml", content, "text/plain")})
    assert sent.status_code == 422
    assert says.lower() in sent.text.lower()


def test_a_board_can_be_named_from_the_start(browser: Browser) -> None:
    at = browser.send("/boards/new", {
        "name": "cedar", "board.species": "western_redcedar", "board.length": "2440",
        "board.width": "89", "board.thickness": "40"}).headers["location"]
    number = at.rsplit("/", 1)[1]
    sent = browser.send("/paddles/new", {"name": "Of cedar", "start": "usual", "board": number})
    with browser.store.read() as connection:
        assert paddle(connection, int(sent.headers["location"].split("/")[2])).board_id == int(
            number)
    assert f'value="{number}" selected' in browser.text(f"/paddles/new?board={number}")
    # Nobody was named, and with a board it goes on: for anybody.
    page = browser.text(sent.headers["location"])
    assert "Say whom it is for" not in page
    assert "Square the blank" in page
