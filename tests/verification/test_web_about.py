"""Where it is kept, copies of it, everything out and in again, and the words used."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from springloom.report.cautions import EVERY
from springloom.report.terms import TERMS
from springloom.store.archive import archive
from springloom.store.backup import backups_of
from springloom.store.layout import layout_of
from springloom.store.opening import Store, open_store
from springloom.store.paddles import paddles
from springloom.store.settings import signing_key
from springloom.store.writers import welcome
from springloom.web.app import bench_app
from springloom.web.bench import LOCAL_HOSTS, Bench
from springloom.web.tokens import Session, form_token, sealed, session_cookie
from tests.verification.web_client import Browser, bench_at, put_example

UID = "8f14e45f-ceea-467f-a0e6-5f2d4b8a1c11"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    opened = bench_at(tmp_path_factory.mktemp("about"))
    put_example(opened)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def browser(store: Store) -> Browser:
    return Browser(store)


def sent(browser: Browser, content: bytes) -> tuple[int, str]:
    answer = browser.send("/about/import", {}, files={
        "archive": ("old.json", content, "application/json")})
    return answer.status_code, answer.text


def test_it_says_where_and_warns_in_full_and_explains_every_word(store: Store,
                                                                 browser: Browser) -> None:
    text = browser.text("/about")
    assert str(store.path) in text
    for caution in EVERY:
        assert caution in text
    for term, meaning in TERMS:
        assert f"<dt>{term}</dt><dd>{meaning}</dd>" in text
    assert "MIT License" in text


def test_each_word_is_explained_once_in_a_line() -> None:
    names = [term for term, _ in TERMS]
    assert len(set(names)) == len(names)
    assert {"station", "root", "crown", "edge", "flat", "progression", "margin"} <= set(names)
    assert all("\n" not in meaning and len(meaning) < 200 for _, meaning in TERMS)


def test_a_backup_lies_beside_the_store_and_is_listed(store: Store, browser: Browser) -> None:
    assert store.path is not None
    before = len(backups_of(store.path))
    assert browser.send("/about/backup", {}).status_code == 303
    made = backups_of(store.path)
    assert len(made) == before + 1
    assert made[-1].name in browser.text("/about")
    copied = open_store(made[-1])
    with store.read() as ours, copied.read() as theirs:
        assert archive(theirs) == archive(ours)
    copied.close()


def test_the_archive_goes_out_and_into_another_bench(store: Store, browser: Browser,
                                                     tmp_path: Path) -> None:
    answer = browser.get("/about/archive.json")
    assert answer.headers["content-disposition"].startswith('attachment; filename="springloom-')
    with store.read() as connection:
        assert answer.json() == archive(connection)
    other = bench_at(tmp_path)
    there = Browser(other)
    status, text = sent(there, answer.content)
    assert status == 200
    assert re.search(r'<th scope="row">paddles</th><td>1</td><td>0</td>', text)
    with other.read() as connection:
        assert paddles(connection) == ()  # only told so far
    held = re.search(r'name="held" value="([^"]+)"', text)
    assert held is not None
    assert there.send("/about/import/confirm", {"held": held[1]}).status_code == 303
    with store.read() as ours, other.read() as theirs:
        assert layout_of(theirs, 1) == layout_of(ours, 1)
    assert "holds nothing that isn't here already" in sent(there, answer.content)[1].replace(
        "&#39;", "'")
    again = there.send("/about/import/confirm", {"held": held[1]})
    assert again.status_code == 422  # it waits no longer
    other.close()


@pytest.mark.parametrize("content", [
    b"", b"no json", b"[]", b"{}", b'{"format": "springloom archive", "version": 999}',
    b"[" * 100_000])
def test_what_is_no_archive_is_told_beside_the_file(browser: Browser, content: bytes) -> None:
    status, text = sent(browser, content)
    assert status == 422
    assert "Not kept yet" in text


@pytest.mark.parametrize("held", ["", "../../etc/passwd", UID])
def test_nothing_else_is_read_as_a_file_that_waits(browser: Browser, held: str) -> None:
    assert browser.send("/about/import/confirm", {"held": held}).status_code == 422


def test_readings_come_as_a_table(browser: Browser) -> None:
    answer = browser.get("/about/readings.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert {"788 g", "28.4"} <= {row["typed"] for row in rows}


def test_another_machine_reads_but_touches_no_file(store: Store) -> None:
    key = signing_key(store)
    bench = Bench(store, key, shared=True, hosts=LOCAL_HOSTS | {"192.0.2.7"})
    with store.write("Bea") as pen:
        guest = welcome(pen, UID, "Guest", "192.0.2.50")
    session = Session.new(guest.id)
    client = TestClient(bench_app(bench), base_url="http://192.0.2.7",
                        client=("192.0.2.50", 5000),
                        cookies={session_cookie(key): sealed(key, session)})
    shown = client.get("/about")
    assert shown.status_code == 200
    assert "Back up now" not in shown.text
    form = {"csrf": form_token(key, session), "uid": UID}
    assert client.post("/about/backup", data=form).status_code == 403
    assert client.post("/about/import", data=form, files={
        "archive": ("a.json", json.dumps({}).encode())}).status_code == 403
    assert client.post("/about/import/confirm", data=form | {"held": UID}).status_code == 403
