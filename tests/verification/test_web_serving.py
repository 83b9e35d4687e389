"""The bench as it is served: by processes of its own, over sockets, to clients that misbehave."""

from __future__ import annotations

import contextlib
import http.client
import re
import socket
import subprocess
import sys
import uuid
from collections.abc import Iterator, Mapping
from pathlib import Path
from urllib.parse import urlencode

import pytest

from springloom.store.opening import open_store
from springloom.store.shares import open_share
from springloom.web.network import lan_addresses
from springloom.web.serve import MOST_HEAD, Serving, bound_socket, sharing_words

WORKERS = 2


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """Where two processes serve a bench that has a join code open."""
    place = Path(tmp_path_factory.mktemp("served")) / "bench.db"
    store = open_store(place)
    with store.write("me") as pen:
        open_share(pen, 30)
    store.close()
    program = str(Path(sys.executable).with_name("springloom"))
    command = [program, "serve", "--port", "0", "--store", str(place),
               "--workers", str(WORKERS)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        try:
            assert running.stdout is not None
            found = re.search(r"127\.0\.0\.1:(\d+)/", running.stdout.readline())
            assert found is not None
            yield int(found[1])
        finally:
            running.terminate()
            running.wait(20)


def asked(port: int, method: str, path: str, typed: Mapping[str, str] | None = None,
          **headers: str) -> tuple[int, str, str]:
    """Ask over a connection of its own, so from another port; return status, cookie, text."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    if typed is not None:
        headers["Content-Type"] = "application/x-www-form-urlencoded"
    with contextlib.closing(connection):
        connection.request(method, path, None if typed is None else urlencode(typed), headers)
        answer = connection.getresponse()
        cookie = (answer.getheader("set-cookie") or "").partition(";")[0]
        return answer.status, cookie, answer.read().decode()


def sent(port: int, data: bytes) -> bytes:
    """Send bytes as they are; return what comes back until the other side ends."""
    with socket.create_connection(("127.0.0.1", port), timeout=60) as connection:
        connection.sendall(data)
        found = b""
        with contextlib.suppress(ConnectionResetError):  # it may end before all of it was read
            while piece := connection.recv(65536):
                found += piece
        return found


def test_guessing_is_counted_over_the_processes_that_serve(port: int) -> None:
    answers = []
    for _ in range(5 + 2 * WORKERS):  # so many that some process is asked more than five times
        _, cookie, text = asked(port, "GET", "/join")
        csrf = re.search(r'name="csrf" value="([^"]+)"', text)
        assert csrf is not None
        status, _, _ = asked(port, "POST", "/join", {
            "csrf": csrf[1], "uid": str(uuid.uuid4()), "code": "no code", "name": "Eve"},
            Cookie=cookie)
        answers.append(status)
    assert answers == [422] * 5 + [429] * (2 * WORKERS)


def test_where_a_request_says_it_comes_from_is_not_believed(port: int) -> None:
    for claim in ("X-Forwarded-For", "Forwarded", "X-Real-IP"):
        assert asked(port, "GET", "/", None, **{claim: "192.0.2.50"})[0] == 200


@pytest.mark.parametrize("data", [
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"x" * (2 * MOST_HEAD),  # that never ends
    b"GET /" + b"x" * (2 * MOST_HEAD),
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\r\n\r\n",  # how TLS begins
    b"POST /join HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -1\r\n\r\n",
    b"POST /join HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\nab",
    b"GET / HTTP/1.1\r\n\r\n",  # without a Host
    b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nHost: elsewhere.example\r\n\r\n",
    b"GET /\xff HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
])
def test_what_is_no_request_is_refused_and_the_bench_goes_on(port: int, data: bytes) -> None:
    assert sent(port, data).startswith(b"HTTP/1.1 400 ")
    assert asked(port, "GET", "/health")[2] == "here"


def test_unless_it_is_shared_it_is_bound_to_this_machine_alone() -> None:
    with contextlib.closing(bound_socket(Serving(port=0))) as bound:
        assert bound.getsockname()[0] == "127.0.0.1"
        for host in lan_addresses():
            with pytest.raises(OSError), socket.create_connection(  # noqa: PT011 - any refusal
                    (host, bound.getsockname()[1]), timeout=5):
                pass
    with contextlib.closing(bound_socket(Serving(port=0, shared=True))) as bound:
        assert bound.getsockname()[0] == "0.0.0.0"


def test_sharing_tells_what_it_opens() -> None:
    assert "This machine alone" in sharing_words(shared=False, port=1)
    assert "read and write everything" in sharing_words(shared=True, port=1)
