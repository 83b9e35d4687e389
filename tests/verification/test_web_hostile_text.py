"""Text that would be more than text: names, notes, files and archives that try to be a page's
markup, a drawing's commands, a spreadsheet's formula or a path on somebody's disk.
"""

from __future__ import annotations

import base64
import hashlib
import io
import json
import tomllib
import uuid
import xml.dom.minidom
import zipfile
from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import read as read_dxf

from springloom.records.reading import check_layout
from springloom.store import notes, people, rounds
from springloom.store.archive import archive
from springloom.store.boards import rename_board
from springloom.store.classes import add_class
from springloom.store.layout import take_in
from springloom.store.opening import Store, open_store
from springloom.store.settings import signing_key
from springloom.web.app import bench_app
from springloom.web.bench import Bench
from springloom.web.guard import HEADERS
from tests.verification.web_client import HERE, Browser, bench_at, put_example
from tests.verification.web_forms import Page
from tests.verification.web_routes import address, every_route

MARKUP = "<xss-probe onxss=\"1\">'\"--></script></title></svg>]]>&amp;{{7*7}}"
PNG = b"\x89PNG\r\n\x1a\n"


def uid() -> str:
    return str(uuid.uuid4())


def example(name: str) -> dict[str, Any]:
    text = (resources.files("springloom.examples") / "marsh_tern.toml").read_text("utf-8")
    return tomllib.loads(text) | {"name": name, "note": MARKUP}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A bench on which every text that people type is markup."""
    opened = bench_at(Path(tmp_path_factory.mktemp("hostile")))
    with opened.write(MARKUP) as pen:
        made = take_in(pen, uid(), check_layout(example(MARKUP)))
        assert made.person_id is not None
        assert made.board_id is not None
        people.rename_person(pen, uid(), made.person_id, MARKUP)
        rename_board(pen, uid(), made.board_id, MARKUP)
        add_class(pen, uid(), MARKUP, {"format": 1, "name": "x", "board": example("x")["board"]})
        for about, number in (("paddle", made.id), ("board", made.board_id),
                              ("person", made.person_id)):
            notes.add_note(pen, uid(), about, number, MARKUP)  # type: ignore[arg-type]  # a literal
        rounds.add_reading(pen, uid(), made.id, "remark", {"text": MARKUP})
    browser = Browser(opened)
    for path in ("/paddles/1/story/files", "/boards/1/photos"):
        kind = "photo" if "photos" in path else "file"
        sent = browser.send(path, {}, files={kind: (f"{MARKUP}.png", PNG + b"<html>", "text/html")})
        assert sent.status_code == 303, sent.text
    yield opened
    opened.close()


def test_no_text_becomes_part_of_a_page(store: Store) -> None:
    browser, shown = Browser(store), 0
    for method, path in every_route(bench_app(Bench(store, signing_key(store)))):
        if method != "GET" or "glb" in path or "print" in path:
            continue
        answer = browser.get(address(path))
        kind = answer.headers.get("content-type", "")
        if kind.startswith("text/html"):
            page = Page(answer.text)
            assert page.faults == [], path
            assert "xss-probe" not in page.tags, path
            assert "onxss" not in page.attributes, path
            shown += "xss-probe" in answer.text
    assert shown > 12  # the text did come to the pages, as text


def test_no_text_becomes_part_of_a_drawing(store: Store) -> None:
    browser = Browser(store)
    for sheet in ("plan", "templates", "carving"):
        for drawing in _files(browser, f"/paddles/1/plans/files/{sheet}.svg"):
            made = xml.dom.minidom.parseString(drawing)
            assert made.getElementsByTagName("xss-probe") == []
            assert made.getElementsByTagName("script") == []
        for drawing in _files(browser, f"/paddles/1/plans/files/{sheet}.dxf"):
            text = drawing.decode().replace("\r\n", "\n")
            assert not read_dxf(io.StringIO(text)).audit().has_errors
        for drawing in _files(browser, f"/paddles/1/plans/files/{sheet}.pdf"):
            assert drawing.startswith(b"%PDF-")
            assert not any(word in drawing for word in (b"/JavaScript", b"/JS", b"/Launch"))


def _files(browser: Browser, path: str) -> list[bytes]:
    """What is sent: one file, or those of a ZIP, whose names stay in one folder."""
    answer = browser.get(path)
    assert answer.status_code == 200, path
    if answer.headers["content-type"] != "application/zip":
        return [answer.content]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        for name in packed.namelist():
            assert ".." not in name
            assert name.count("/") == 1
        return [packed.read(name) for name in packed.namelist()]


@pytest.mark.parametrize("path", [
    "/paddles/1/design.toml", "/paddles/1/plans/files/plan.svg", "/paddles/1/plans/files/plan.pdf",
    "/paddles/1/plans/solids/paddle.stl", "/paddles/1/files/1", "/boards/1/photos/2",
    "/about/archive.json", "/about/readings.csv",
])
def test_a_files_name_is_plain_whatever_the_paddle_is_called(store: Store, path: str) -> None:
    answer = Browser(store).get(path)
    assert answer.status_code == 200
    how = answer.headers["content-disposition"]
    assert how.isascii()
    assert not set(how) & set("<>/\\'%\r\n")
    assert how.count('"') in {0, 2}
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_page_that_says_it_is_a_picture_is_sent_as_one(store: Store) -> None:
    # With these headers no browser looks for markup behind a picture's first bytes.
    for path in ("/paddles/1/files/1", "/boards/1/photos/2"):
        answer = Browser(store).get(path)
        assert answer.headers["content-type"] == "image/png"
        assert {name: answer.headers[name] for name in HEADERS} == HEADERS


@pytest.mark.parametrize("content", [
    b"<html><script>alert(1)</script>", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"", b"\0",
    b"GIF89a<script>", b"\xef\xbb\xbf%PDF-", b"PK\x03\x04", b" \x89PNG\r\n\x1a\n", b"RIFF____WAVE",
])
@pytest.mark.parametrize("claimed", ["image/png", "application/pdf"])
def test_what_is_no_picture_is_refused_whatever_it_claims(
    store: Store, content: bytes, claimed: str
) -> None:
    for path, field in (("/paddles/1/story/files", "file"), ("/boards/1/photos", "photo")):
        sent = Browser(store).send(path, {}, files={field: ("a.png", content, claimed)})
        assert sent.status_code == 422, path


def test_a_page_that_came_with_an_archive_is_sent_as_nothing_a_browser_runs(
    tmp_path: Path
) -> None:
    store = open_store(tmp_path / "bench.db")
    put_example(store)
    browser = Browser(store)
    content = b"<script>alert(1)</script>"
    with store.read() as connection:
        data = archive(connection)
    for about in ("paddle", "board"):
        data["attachments"].append({
            "uid": uid(), "made_at": "2026-01-01T00:00:00.000000Z", "made_by": "x",
            "paddle": None, "board": None, "person": None,
            about: data[f"{about}s"][0]["uid"], "name": '../../x".html',
            "media_type": ("text/html", "image/svg+xml")[about == "board"],
            "sha256": hashlib.sha256(content).hexdigest(),
            "content": base64.b64encode(content).decode()})
    sent = browser.send("/about/import", {}, files={"archive": (
        "a.json", json.dumps(data).encode(), "application/json")})
    held = next(form for form in Page(sent.text).forms if "held" in form.values)
    assert browser.send("/about/import/confirm", held.values).status_code == 303
    for path in ("/paddles/1/files/1", "/boards/1/photos/2"):
        answer = browser.get(path)
        assert answer.headers["content-type"] == "application/octet-stream"
        assert answer.headers["x-content-type-options"] == "nosniff"
    store.close()


@pytest.mark.parametrize("name", ["a\nb", "a\tb", "a\x0bb", "a\x1b[2J", "a\x85b", "a\u2028b",
                                  "photo\u202egnp.exe", "a\u2066b", "a\ufffeb"])
def test_a_name_that_no_drawing_takes_is_refused_at_the_door(store: Store, name: str) -> None:
    # Kept, it would make every page that draws the paddle fail, for everybody.
    browser = Browser(store)
    answer = browser.client.post("/api/paddles", json=example(name))
    assert answer.status_code == 422
    assert browser.send("/people/1/name", {"name": name}).status_code == 422
    assert browser.send("/boards/1/name", {"name": name}).status_code == 422


def test_a_note_may_have_lines(store: Store) -> None:
    sent = Browser(store).send("/paddles/1/story/notes", {"text": "one\r\n\ttwo\n"})
    assert sent.status_code == 303


@pytest.mark.parametrize("table", [("blade", "ridge"), ("target", "progression"),
                                   ("limits", "margin")])
def test_a_whole_number_beyond_all_measure_is_refused(
    store: Store, table: tuple[str, str]
) -> None:
    sent = example("x")
    part = sent.setdefault(table[0], {})
    part[table[1]] = [10**400] * len(sent["blade"]["stations"]) if table[1] == "ridge" else 10**400
    answer = Browser(store).client.post("/api/paddles", json=sent)
    assert answer.status_code == 422
    text = f'format = 1\nname = "x"\n[limits]\nmargin = {"9" * 400}\n'
    filed = Browser(store).send("/paddles/file", {}, files={"file": ("x.toml", text, "")})
    assert filed.status_code == 422
    assert "reckoned" in filed.text


@pytest.mark.parametrize("content", [
    b"a = " + b"[" * 5000, b"a" * 1_000_001, b"\xff\xfe", b"a = " + b"9" * 5000, b"\0",
    b'name = "\\ud800"', b"a." * 2000 + b"b = 1", b"a = 1979-05-27T25:00:00Z",
])
def test_a_design_file_that_is_none_is_told(store: Store, content: bytes) -> None:
    filed = Browser(store).send("/paddles/file", {}, files={"file": ("x.toml", content, "")})
    assert filed.status_code == 422
    assert HERE not in filed.text
