"""Who is let in and what is refused, over every route there is: strangers, other sites' pages,
requests that lie about where they come from, and what they must never be shown.
"""

from __future__ import annotations

import errno
import json
import os
import re
import sqlite3
import tempfile
import traceback
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import anyio
import pytest
from starlette.testclient import TestClient
from starlette.types import Message

from springloom.errors import StoreError
from springloom.store import schema
from springloom.store.archive import archive
from springloom.store.jobs import ask
from springloom.store.opening import Store, open_store
from springloom.store.settings import SECRET, signing_key
from springloom.store.shares import open_share, share_now
from springloom.store.writers import Writer, revoke, writers
from springloom.web import guard
from springloom.web.app import bench_app
from springloom.web.bench import LOCAL_HOSTS, Bench
from springloom.web.guard import HEADERS, LONGEST_ADDRESS
from springloom.web.local import NAME
from springloom.web.tokens import session_cookie
from tests.verification.web_client import HERE, Browser, put_example
from tests.verification.web_forms import Page
from tests.verification.web_routes import address, every_route

LAN = "http://192.0.2.7"  # a documentation address, RFC 5737
FAR = "192.0.2.50"
OPEN = {"/join", "/health"}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(tmp_path / "bench.db")
    yield opened
    opened.close()


def shared(store: Store) -> Bench:
    return Bench(store, signing_key(store), True, LOCAL_HOSTS | {"192.0.2.7"})


def far(store: Store, port: int = 5000, **headers: str) -> TestClient:
    """A browser on another machine."""
    return TestClient(bench_app(shared(store)), base_url=LAN, client=(FAR, port), headers=headers)


def token(client: TestClient, path: str = "/") -> str:
    found = re.search(r'name="csrf" content="([^"]+)"', client.get(path).text)
    assert found is not None
    return found[1]


def invited(store: Store) -> str:
    with store.write("me") as pen:
        return open_share(pen, 30)


def join(client: TestClient, code: str) -> int:
    return client.post("/join", follow_redirects=False, data={
        "csrf": token(client, "/join"), "uid": str(uuid.uuid4()), "code": code, "name": "Eve",
    }).status_code


def joined(store: Store) -> tuple[TestClient, Writer]:
    client = far(store)
    assert join(client, invited(store)) == 303
    with store.read() as connection:
        return client, writers(connection)[0]


def test_every_form_is_refused_without_its_token(store: Store) -> None:
    put_example(store)
    browser = Browser(store)
    browser.get("/")
    before = _kept(store)
    routes = [path for method, path in every_route(bench_app(shared(store)))
              if method == "POST" and not path.startswith("/api/")]
    assert len(routes) > 40  # there are some 50
    for path in routes:
        answer = browser.client.post(address(path), data={"uid": str(uuid.uuid4())})
        assert answer.status_code == 403, path
    assert _kept(store) == before


@pytest.mark.parametrize("headers", [
    {"Origin": "http://elsewhere.example"}, {"Origin": "null"}, {"Origin": "http://["},
    {"Origin": "http://127.0.0.1:1"}, {"Sec-Fetch-Site": "cross-site"},
])
def test_no_write_is_taken_from_another_sites_page(store: Store, headers: dict[str, str]) -> None:
    put_example(store)
    browser = Browser(store)
    mark = browser.token
    before = _kept(store)
    for method, path in every_route(bench_app(shared(store))):
        if method in {"POST", "DELETE", "PUT", "PATCH"}:
            answer = browser.client.request(method, address(path), headers=headers | {
                "X-CSRF": mark})
            assert answer.status_code == 403, (method, path)
    assert _kept(store) == before


def test_the_interface_takes_json_alone_so_that_no_sites_form_can_be_meant_for_it(
    store: Store,
) -> None:
    put_example(store)
    sent = json.dumps({"kind": "weight", "table": {"weight": "800 g"}})
    for kind, status in (("text/plain", 422), ("application/x-www-form-urlencoded", 422),
                         ("application/json", 201)):
        answer = Browser(store).client.post("/api/paddles/1/readings", content=sent,
                                            headers={"Content-Type": kind})
        assert answer.status_code == status, kind


def test_a_stranger_reads_nothing_by_any_route(store: Store) -> None:
    put_example(store)
    client = far(store)
    for method, path in every_route(bench_app(shared(store))):
        if path in OPEN or path.startswith("/figures/"):
            continue
        answer = client.request(method, address(path), follow_redirects=False)
        if path.startswith("/api/"):
            assert answer.status_code == 401, (method, path)
        else:
            assert (answer.status_code, answer.headers["location"]) == (303, "/join"), path
        assert "Marsh" not in answer.text


@pytest.mark.parametrize("path", [
    "/static/../people", "/join/../people", "//people", "/static/..%2fpeople", "/joinx", "/join/1",
    "/figures/../api/paddles", "/health/../about/archive.json", "/static/%2e%2e/%2e%2e/serve.py",
])
def test_no_way_round_leads_a_stranger_in(store: Store, path: str) -> None:
    put_example(store)
    answer = far(store).get(path, follow_redirects=False)
    assert answer.status_code in {303, 401, 404}
    assert "Marsh" not in answer.text


@pytest.mark.parametrize("host", [
    "192.0.2.7/static/", "192.0.2.7/join?", "192.0.2.7#", "x@192.0.2.7", "[::1", "[::1]x", "[]",
    "192.0.2.7:99999999", "192.0.2.7:x", "192.0.2.7 ", "127.0.0.1\\", "127.0.0.1.", "", ":80",
    "elsewhere.example", "[::ffff:192.0.2.7]",
])
def test_a_host_that_is_none_of_ours_is_refused_whatever_it_looks_like(
    store: Store, host: str
) -> None:
    # A path inside Host would come before the page's own where a URL is made of both.
    for client in (far(store), Browser(store).client):
        answer = client.get("/people", headers={"Host": host}, follow_redirects=False)
        assert answer.status_code == 421


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8431", "LOCALHOST:1", "[::1]:8431"])
def test_this_machines_names_are_known(store: Store, host: str) -> None:
    assert Browser(store).client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("headers", [
    {"X-Forwarded-For": "127.0.0.1"}, {"Forwarded": "for=127.0.0.1"}, {"X-Real-IP": "127.0.0.1"},
    {"X-Forwarded-Host": "127.0.0.1"}, {"Host": "127.0.0.1"}, {"Host": "localhost"},
])
def test_nobody_is_at_this_machine_by_saying_so(store: Store, headers: dict[str, str]) -> None:
    answer = far(store).get("/", headers=headers, follow_redirects=False)
    assert answer.headers["location"] == "/join"


def test_guessing_is_counted_over_processes_ports_and_claimed_addresses(
    store: Store, tmp_path: Path
) -> None:
    code = invited(store)
    wrong = f"{(int(code) + 1) % 10**6:06d}"
    with_other = open_store(tmp_path / "bench.db")  # what another worker process has
    answers = [join(far((store, with_other)[i % 2], 5000 + i, **{"X-Forwarded-For": f"10.0.0.{i}"}),
                    wrong) for i in range(6)]
    assert answers == [422] * 5 + [429]
    assert join(far(with_other, 6000), code) == 429
    with_other.close()


def test_joining_begins_a_session_of_its_own(store: Store) -> None:
    client = far(store)
    mark = token(client, "/join")
    kept_as = session_cookie(signing_key(store))
    before = client.cookies[kept_as]
    assert join(client, invited(store)) == 303
    assert client.cookies[kept_as] != before
    # what somebody knew of the session before is worth nothing in this one
    sent = client.post("/classes/new", data={"csrf": mark, "uid": str(uuid.uuid4()), "name": "x"})
    assert sent.status_code == 403


def test_two_benches_of_one_machine_leave_each_others_sessions_alone(
    store: Store, tmp_path: Path
) -> None:
    # A browser sends its cookies to every port of a machine.
    other = open_store(tmp_path / "other.db")
    mine, theirs = Browser(store).client, Browser(other).client
    mark = token(mine)
    theirs.cookies = mine.cookies
    token(theirs)
    sent = mine.post("/examples", follow_redirects=False, data={
        "csrf": mark, "uid": str(uuid.uuid4()), "example": "marsh_tern"})
    assert sent.status_code == 303
    other.close()


@pytest.mark.parametrize("name", [NAME, f" {NAME.upper()} ", "Springloom"])
def test_nobody_joins_in_this_machines_name(store: Store, name: str) -> None:
    client = far(store)
    sent = client.post("/join", data={"csrf": token(client, "/join"), "uid": str(uuid.uuid4()),
                                      "code": invited(store), "name": name})
    assert sent.status_code == 422
    with store.read() as connection:
        assert writers(connection) == ()


def test_who_was_sent_out_writes_nothing_more(store: Store) -> None:
    put_example(store)
    client, eve = joined(store)
    mark = token(client)
    with store.write("me") as pen:
        revoke(pen, eve.id)
    before = _kept(store)
    for method, path in every_route(bench_app(shared(store))):
        if method in {"POST", "DELETE"} and path != "/join":
            answer = client.request(method, address(path), headers={"X-CSRF": mark},
                                    follow_redirects=False)
            assert answer.status_code in {303, 401}, path
            assert answer.headers.get("location", "/join") == "/join"
    assert _kept(store) == before


def test_sending_somebody_out_ends_the_code_they_know(store: Store) -> None:
    client, eve = joined(store)
    with store.read() as connection:
        now = share_now(connection)
    assert now is not None
    host = TestClient(bench_app(shared(store)), base_url=HERE)
    sent = host.post("/share/out", follow_redirects=False, data={
        "csrf": token(host), "uid": str(uuid.uuid4()), "writer": str(eve.id)})
    assert sent.status_code == 303
    assert client.get("/", follow_redirects=False).headers["location"] == "/join"
    assert join(client, now.code) == 422


def test_only_the_machine_that_serves_shares_and_sends_out(store: Store) -> None:
    client, eve = joined(store)
    for path in ("/share", "/share/end", "/share/out", "/about/backup", "/about/import",
                 "/about/import/confirm"):
        sent = client.post(path, follow_redirects=False, data={
            "csrf": token(client), "uid": str(uuid.uuid4()), "writer": str(eve.id),
            "minutes": "30", "held": str(uuid.uuid4())})
        assert sent.status_code in {403, 422}, path
    with store.read() as connection:
        assert writers(connection)[0].may_write
        assert share_now(connection) is not None


def test_reading_a_page_writes_nothing_down(store: Store) -> None:
    put_example(store)
    browser = Browser(store)
    browser.get("/")  # the first visit makes this machine's writer
    before = _kept(store)
    for method, path in every_route(bench_app(shared(store))):
        if method == "GET":
            assert browser.get(address(path)).status_code < 500, path
    assert _kept(store) == before


def _kept(store: Store) -> str:
    """Everything in a store but what is only worked out from the rest."""
    with sqlite3.connect(store.path or "") as connection:
        lines = [line for line in connection.iterdump() if '"summary"' not in line]
    connection.close()
    return "\n".join(line for line in lines if "sqlite_sequence" not in line)


def test_neither_key_nor_code_is_shown_anywhere_else(
    store: Store, caplog: pytest.LogCaptureFixture
) -> None:
    put_example(store)
    code, key = invited(store), signing_key(store)
    with store.write("me") as pen:
        ask(pen, str(uuid.uuid4()), "plans", {"paddle": 1})
    browser = Browser(store)
    for method, path in every_route(bench_app(shared(store))):
        if method == "GET" and path != "/share":
            shown = browser.get(address(path, {"suffix": "pdf"})).content
            assert key.hex().encode() not in shown, path
            assert key not in shown, path
            assert re.search(rb"\b%s\b" % code.encode(), shown) is None, path
    with store.read() as connection:
        assert key.hex() not in json.dumps(archive(connection))
    assert key.hex() not in caplog.text + repr(store)
    assert code not in caplog.text


def test_a_faults_traceback_has_nothing_of_what_was_written(store: Store) -> None:
    key = signing_key(store).hex()
    with pytest.raises(StoreError) as caught, store.write("me") as pen:
        pen.connection.execute(schema.setting.insert().values(key=SECRET, value=key))
    told = "".join(traceback.format_exception(caught.value))
    assert "UNIQUE" in told
    assert key not in told


def test_of_two_who_end_a_round_at_once_one_ends_it(store: Store) -> None:
    put_example(store)
    pages = [Browser(store), Browser(store)]
    forms = [next(form for form in Page(one.text("/paddles/1/tune")).forms
                  if form.action.endswith("/tune/rounds")) for one in pages]

    def end(i: int) -> int:
        csrf = {"csrf": pages[i].token, "uid": str(uuid.uuid4())}
        return pages[i].send(forms[i].action, forms[i].values | {"a.1": "1"} | csrf).status_code

    with ThreadPoolExecutor(2) as both:
        answers = sorted(both.map(end, range(2)))
    assert answers[0] == 303
    assert answers[1] in {409, 422}
    with store.read() as connection:
        assert len(archive(connection)["closings"]) == 1


def test_cookies_are_kept_from_scripts_and_other_sites(store: Store) -> None:
    # Secure is left out: over plain http a browser would not send such a cookie back.
    client, _ = joined(store)
    sent = client.post("/classes/new", follow_redirects=False, data={
        "csrf": token(client), "uid": str(uuid.uuid4()), "name": "Evening class"})
    for answer in (Browser(store).get("/"), far(store).get("/join"), client.get("/units/in"),
                   sent):
        for cookie in answer.headers.get_list("set-cookie"):
            assert "httponly" in cookie.lower(), cookie
            assert "samesite=strict" in cookie.lower(), cookie


def test_pages_are_kept_by_no_cache(store: Store) -> None:
    put_example(store)
    browser = Browser(store)
    for method, path in every_route(bench_app(shared(store))):
        if method == "GET" and not path.startswith("/figures/"):
            rule = browser.get(address(path)).headers["cache-control"]
            assert "no-store" in rule or rule.startswith("private"), path


@pytest.mark.parametrize("path", [
    "/paddles/" + "9" * 5000 + "/tune", "/logbook?class=" + "9" * 5000,
    "/api/paddles/" + "9" * 5000,
])
def test_an_address_longer_than_any_number_is_refused(store: Store, path: str) -> None:
    # Python reads no whole number of more than 4300 digits.
    assert LONGEST_ADDRESS < 4300
    assert Browser(store).get(path).status_code == 414


@pytest.mark.parametrize("number", ["0", "9" * 30, "9" * 3900, "18446744073709551616", "-1",
                                    "\N{ARABIC-INDIC DIGIT ONE}", "%00", "1e3"])
def test_a_number_that_no_entry_has_leads_nowhere(store: Store, number: str) -> None:
    put_example(store)
    browser = Browser(store)
    for path in ("/paddles/{}/story", "/paddles/1/files/{}", "/people/{}", "/jobs/{}",
                 "/boards/1/photos/{}"):
        assert browser.get(path.format(number)).status_code in {404, 405}, path
    assert browser.get(f"/api/paddles/{number}").status_code in {404, 422}


@pytest.mark.parametrize("charset", ["utf-7", "unicode_escape", "undefined", "punycode", "utf-16",
                                     "utf-8''utf-7", '"utf-8"; charset=utf-7'])
def test_a_form_in_letters_of_another_kind_is_refused(store: Store, charset: str) -> None:
    # Some of Python's codecs make halves of characters, others fail in ways of their own.
    kind = f"multipart/form-data; boundary=x; charset={charset}"
    for header in (kind, kind.replace("charset=", "charset*=")):
        answer = Browser(store).client.post("/join", headers={"Content-Type": header}, content=(
            b'--x\r\nContent-Disposition: form-data; name="code"\r\n\r\n+2AA-\\ud800\r\n--x--\r\n'))
        assert answer.status_code == 422, header


def test_half_a_character_is_told_as_any_other_fault(store: Store) -> None:
    put_example(store)
    for body in ({"kind": "\ud800", "table": {}}, {"\ud800": 1},
                 {"kind": "weight", "table": {"weight": "\ud800"}},
                 {"kind": "weight", "table": {"\ud800": "1 kg"}}):
        answer = Browser(store).client.post("/api/paddles/1/readings", content=json.dumps(body),
                                            headers={"Content-Type": "application/json"})
        assert answer.status_code == 422, body


def test_a_body_that_does_not_come_is_not_waited_for(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(guard, "SLOWEST_S", 0.05)
    assert _asked_slowly(store) == 408


def _asked_slowly(store: Store) -> int:
    """Ask for /join with a form of which the second half never comes."""
    answers: list[Message] = []
    halves = [{"type": "http.request", "body": b"code=1", "more_body": True}]

    async def receive() -> Message:
        if halves:
            return halves.pop()
        await anyio.sleep_forever()
        return {}

    async def send(message: Message) -> None:
        answers.append(message)

    scope: dict[str, Any] = {
        "type": "http", "method": "POST", "path": "/join", "query_string": b"", "headers": [
            (b"host", b"127.0.0.1"), (b"content-type", b"application/x-www-form-urlencoded")],
        "client": (FAR, 5000), "server": ("127.0.0.1", 80), "scheme": "http"}
    anyio.run(bench_app(shared(store)), scope, receive, send)
    return int(answers[0]["status"])


def test_a_store_in_trouble_is_told_before_anybody_is_known(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: Store) -> Writer:
        raise StoreError("is full: the disk has no room", field="bench.db", allowed="room")

    monkeypatch.setattr(guard, "local_writer", full)
    answer = Browser(store).get("/")
    assert (answer.status_code, answer.text) == (
        503, "bench.db: is full: the disk has no room; allowed: room.")
    assert answer.headers["x-content-type-options"] == "nosniff"


def test_a_fault_of_ours_shows_nothing_of_it_and_carries_the_browsers_rules(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("<b>secret</b>")

    monkeypatch.setattr("springloom.web.pages.start.person_names", broken)
    client = TestClient(bench_app(shared(store)), base_url=HERE, raise_server_exceptions=False)
    answer = client.get("/")
    assert answer.status_code == 500
    assert "RuntimeError" in answer.text
    assert "secret" not in answer.text
    assert {name: answer.headers[name] for name in HEADERS} == HEADERS


def test_a_disk_without_room_for_a_file_that_is_sent_is_told(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    put_example(store)
    browser = Browser(store)

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(tempfile.SpooledTemporaryFile, "rollover", full)
    sent = browser.send("/paddles/1/story/files", {}, files={"file": (
        "a.png", b"\x89PNG\r\n\x1a\n" + bytes(2**21), "image/png")})
    assert sent.status_code == 507
    assert "No space left" in sent.text
