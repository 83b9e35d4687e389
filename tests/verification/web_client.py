"""A browser for tests of the pages: it keeps cookies, and its forms carry the page's token."""

from __future__ import annotations

import re
import tomllib
import uuid
from collections.abc import Mapping, Sequence
from html import unescape
from importlib import resources
from pathlib import Path
from typing import Any

from httpx2 import Response
from starlette.testclient import TestClient

from springloom.records.reading import check_layout
from springloom.store.layout import take_in
from springloom.store.opening import Store, open_store
from springloom.store.settings import signing_key
from springloom.web.app import bench_app
from springloom.web.bench import Bench

HERE = "http://127.0.0.1"
WHO = "Ann"


class Browser:
    """One visitor at the bench's own machine."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.client = TestClient(bench_app(Bench(store, signing_key(store))), base_url=HERE)

    def get(self, path: str, **headers: str) -> Response:
        """Fetch a page."""
        return self.client.get(path, headers=headers, follow_redirects=False)

    def text(self, path: str) -> str:
        """Return a page that must be there, its entities read."""
        answer = self.get(path)
        assert answer.status_code == 200, answer.text[:500]
        return unescape(answer.text)

    def send(self, path: str, typed: Mapping[str, str | Sequence[str]], uid: str = "",
             files: Any = None, **headers: str) -> Response:
        """Send a form as the page's would."""
        data = {"csrf": self.token, "uid": uid or str(uuid.uuid4()), **typed}
        return self.client.post(path, data=data, files=files, headers=headers,
                                follow_redirects=False)

    def inches(self) -> None:
        """Read in inches from now on."""
        self.get("/units/in")

    def millimetres(self) -> None:
        """Read in millimetres from now on."""
        self.get("/units/mm")

    @property
    def token(self) -> str:
        """The token of this session's forms."""
        found = re.search(r'name="csrf" content="([^"]+)"', self.get("/").text)
        assert found is not None
        return found[1]


def bench_at(path: Path) -> Store:
    """Open a store for a test."""
    return open_store(path / "bench.db")


def put_example(store: Store, name: str = "marsh_tern") -> int:
    """Put an example on the bench; return its number."""
    text = (resources.files("springloom.examples") / f"{name}.toml").read_text(encoding="utf-8")
    with store.write(WHO) as pen:
        return take_in(pen, str(uuid.uuid4()), check_layout(tomllib.loads(text))).id
