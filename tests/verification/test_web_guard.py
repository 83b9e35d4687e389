"""What stands before every page: other hosts, other sites, strangers, tokens, sizes, headers."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from springloom.store.opening import Store, open_store
from springloom.store.settings import signing_key
from springloom.store.shares import open_share
from springloom.store.writers import revoke, writers
from springloom.web.app import bench_app
from springloom.web.bench import LOCAL_HOSTS, Bench
from springloom.web.guard import HEADERS, MOST_BYTES
from springloom.web.tokens import COOKIE

HERE = "http://127.0.0.1"
LAN = "http://192.0.2.7"  # a documentation address, RFC 5737


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "bench.db")
    yield opened
    opened.close()


def bench(store: Store, *, shared: bool = False) -> Bench:
    hosts = LOCAL_HOSTS | {"192.0.2.7"} if shared else LOCAL_HOSTS
    return Bench(store, signing_key(store), shared, hosts)


def here(store: Store, *, shared: bool = False) -> TestClient:
    return TestClient(bench_app(bench(store, shared=shared)), base_url=HERE)


def stranger(store: Store, address: str = "192.0.2.50") -> TestClient:
    return TestClient(bench_app(bench(store, shared=True)), base_url=LAN, client=(address, 5000))


def token(client: TestClient, path: str = "/") -> str:
    found = re.search(r'name="csrf" content="([^"]+)"', client.get(path).text)
    assert found is not None
    return found[1]


def example(client: TestClient, csrf: str, **headers: str) -> int:
    sent = client.post("/examples", headers=headers, follow_redirects=False, data={
        "csrf": csrf, "uid": str(uuid.uuid4()), "example": "marsh_tern"})
    return sent.status_code


def test_a_name_that_is_not_ours_is_refused(store: Store) -> None:
    # DNS rebinding: another site's name that leads to this machine
    client = here(store)
    assert client.get("/", headers={"Host": "elsewhere.example"}).status_code == 421
    assert client.get("/", headers={"Host": "127.0.0.1:9999"}).status_code == 200
    assert client.get("/", headers={"Host": ""}).status_code == 421


@pytest.mark.parametrize("headers", [
    {"Origin": "http://elsewhere.example"}, {"Origin": "null"},
    {"Origin": "http://127.0.0.1:1"}, {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
])
def test_another_sites_form_is_refused(store: Store, headers: dict[str, str]) -> None:
    client = here(store)
    assert example(client, token(client), **headers) == 403


@pytest.mark.parametrize("headers", [
    {}, {"Origin": HERE}, {"Sec-Fetch-Site": "same-origin"}, {"Sec-Fetch-Site": "none"},
])
def test_a_form_of_ours_is_taken(store: Store, headers: dict[str, str]) -> None:
    client = here(store)
    assert example(client, token(client), **headers) == 303


def test_a_form_without_its_sessions_token_is_refused(store: Store) -> None:
    client, other = here(store), here(store)
    mine, theirs = token(client), token(other)
    assert mine != theirs
    assert [example(client, text) for text in ("", "made up", theirs, mine[:-1])] == [403] * 4
    assert example(client, mine) == 303


def test_a_token_may_come_as_a_header(store: Store) -> None:
    client = here(store)
    assert example(client, "", **{"X-CSRF": token(client)}) == 303


def test_every_answer_carries_the_browsers_rules(store: Store) -> None:
    client = here(store)
    for path in ("/", "/nothing/here", "/static/bench.css", "/api/paddles", "/figures/figures.css"):
        answer = client.get(path)
        assert {name: answer.headers[name] for name in HEADERS} == HEADERS, path
    rules = HEADERS["Content-Security-Policy"]
    assert "unsafe" not in rules
    assert "default-src 'none'" in rules


def test_a_page_has_no_script_or_style_of_its_own(store: Store) -> None:
    client = here(store)
    example(client, token(client))
    for path in ("/", "/share", "/join", "/paddles/1/tune", "/paddles/1/design"):
        text = client.get(path).text
        assert re.search(r"<script(?![^>]* src=)", text) is None, path
        assert re.search(r"<style|\sstyle=|\son[a-z]+=", text) is None, path


def test_the_session_cookie_is_kept_from_scripts_and_other_sites(store: Store) -> None:
    cookie = here(store).get("/").headers["set-cookie"]
    assert cookie.startswith(COOKIE)
    assert "httponly" in cookie.lower()
    assert "samesite=strict" in cookie.lower()


def test_too_much_is_refused_before_it_is_read(store: Store) -> None:
    client = here(store)
    assert client.post("/examples", content=b"x" * (MOST_BYTES + 1)).status_code == 413


def test_too_much_without_a_length_is_refused_too(store: Store) -> None:
    client = here(store)
    parts = (b"x" * 2**20 for _ in range(MOST_BYTES // 2**20 + 2))
    answer = client.post("/examples", content=parts, headers={
        "Content-Type": "application/x-www-form-urlencoded"})
    assert 400 <= answer.status_code < 500
    with store.read() as connection:
        assert [one.name for one in writers(connection)] == ["The bench"]


def test_a_stranger_is_asked_to_join_and_sees_nothing(store: Store) -> None:
    client = stranger(store)
    for path in ("/", "/people", "/about", "/paddles/1/tune"):
        answer = client.get(path, follow_redirects=False)
        assert (answer.status_code, answer.headers.get("location")) == (303, "/join"), path
    told = client.get("/api/paddles", follow_redirects=False)
    assert (told.status_code, told.json()["field"]) == (401, "session")
    assert client.get("/join").status_code == 200
    assert client.get("/health").text == "here"


def joined(client: TestClient, code: str, name: str = "Ada") -> int:
    return client.post("/join", follow_redirects=False, data={
        "csrf": token(client, "/join"), "uid": str(uuid.uuid4()), "code": code, "name": name,
    }).status_code


def test_whoever_has_the_code_writes_in_their_own_name_until_sent_out(store: Store) -> None:
    with store.write("me") as pen:
        code = open_share(pen, 30)
    client = stranger(store)
    assert joined(client, code) == 303
    assert "Ada" in client.get("/").text
    assert client.post("/share", data={"csrf": token(client), "minutes": "30",
                                       "uid": str(uuid.uuid4())}).status_code == 422
    with store.read() as connection:
        ada = next(one for one in writers(connection) if one.name == "Ada")
    with store.write("me") as pen:
        revoke(pen, ada.id)
    assert client.get("/", follow_redirects=False).headers["location"] == "/join"


def test_guessing_the_code_ends_soon(store: Store) -> None:
    with store.write("me") as pen:
        code = open_share(pen, 30)
    client = stranger(store)
    answers = [joined(client, "000000" if code != "000000" else "111111")
               for _ in range(6)]
    assert answers == [422] * 5 + [429]
    assert joined(client, code) != 303  # even the right one, for a while
    assert joined(stranger(store, "192.0.2.51"), code) == 303


def test_a_cookie_of_another_store_is_nobody(store: Store, tmp_path: Path) -> None:
    client = here(store)
    client.get("/")
    other = open_store(tmp_path / "other.db")
    elsewhere = TestClient(bench_app(replace(bench(other), key=bench(store).key)),
                           base_url=HERE, cookies=dict(client.cookies))
    assert elsewhere.get("/").status_code == 200
    other.close()


@pytest.mark.parametrize("back", ["//elsewhere.example/", "https://elsewhere.example", "/\\x", "x"])
def test_choosing_units_leads_nowhere_else(store: Store, back: str) -> None:
    answer = here(store).get("/units/in", params={"back": back}, follow_redirects=False)
    assert answer.headers["location"] == "/"
