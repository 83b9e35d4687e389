"""The calls of the JSON interface that the documentation shows are answered as it shows them."""

from __future__ import annotations

import argparse
import doctest
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest
from docs import generate
from starlette.testclient import TestClient

from springloom.cli_bench import lay_out_examples
from springloom.store.opening import open_store
from springloom.store.settings import signing_key
from springloom.web.app import bench_app
from springloom.web.bench import Bench
from springloom.web.serve import PORT
from tests.verification.test_docs import blocks

ADDRESS = f"http://127.0.0.1:{PORT}"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """A client of a demo's bench."""
    store = open_store(tmp_path / "bench.db")
    lay_out_examples(store)
    yield TestClient(bench_app(Bench(store, signing_key(store))), base_url=ADDRESS)
    store.close()


def calls() -> list[tuple[str, str]]:
    """Every call of the page about the bench, with the answer shown."""
    page = generate.DOCS / "bench.md"
    shown = "".join(block for block in blocks(page, "text") if block.startswith("$ curl "))
    parted = [part.partition("\n") for part in shown.split("$ ") if part]
    return [(call, answer) for call, _, answer in parted]


def sent(client: TestClient, call: str) -> str:
    """Send what curl would send."""
    parser = argparse.ArgumentParser(exit_on_error=False)
    parser.add_argument("program", choices=["curl"])
    parser.add_argument("-X", dest="method")
    parser.add_argument("-H", dest="headers", action="append", default=[])
    parser.add_argument("-d", dest="data")
    parser.add_argument("url")
    words = parser.parse_args(shlex.split(call))
    headers = dict(header.split(": ", 1) for header in words.headers)
    method = words.method or ("GET" if words.data is None else "POST")
    return client.request(method, words.url, content=words.data, headers=headers).text


def test_each_call_is_answered_as_shown(client: TestClient) -> None:
    checker = doctest.OutputChecker()
    every = calls()
    assert len(every) > 3
    for call, wanted in every:
        got = f"{sent(client, call)}\n".lstrip("\n")
        assert checker.check_output(wanted, got, doctest.ELLIPSIS), f"{call}\n{got}"
