"""Whatever is typed into an address or a form: no page fails, and every page is still one."""

from __future__ import annotations

import contextlib
import re
import sqlite3
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from httpx2 import Response
from hypothesis import given, settings
from hypothesis import strategies as st

from springloom.store.opening import Store
from springloom.web.app import bench_app
from springloom.web.bench import LOCAL_HOSTS, Bench
from tests.verification.web_client import Browser, bench_at, put_example
from tests.verification.web_forms import FoundForm, Page
from tests.verification.web_routes import USUAL, address, every_route

ODD = (
    "", " ", "-", "0", "-1", "1e999", "nan", "inf", "1e-400", "-0.0", "9" * 19, "9" * 30,
    "9" * 4299, "9" * 5000, "1" * 100_000, "½", "1/0", "1/2/3", "١٢", "１２", "²", "𝟙",
    "1 mm", "-5 mm", "1e300 mm", "0 kg", "5 m", "99999999 kg", "1 from tip", "-1 from tip",
    "3' 4\"", "\0", "a\0b", "\x0b", "\x1b[2J", "\r\n\r\n", "\N{RIGHT-TO-LEFT OVERRIDE}txt.exe",
    "\ufffe", "\U0010ffff", "e" + "\u0301" * 300, "<script>alert(1)</script>",
    "\"'><xss-probe onxss=1>", "{{ 7*7 }}", "%s%n%00", "../../../etc/passwd", "'; drop table x; --",
    "=1+1", "a" * 5000, "[" * 2000, "true", "None", "null", "v1", "p1", "1,2,3",
)
"""Numbers that are none or too large, units out of place, letters that mean something elsewhere."""

TEXTS = st.sampled_from(ODD) | st.text(st.characters(codec="utf-8"), max_size=20)
NUMBERS = st.sampled_from(("1", "1", "1", "2", "3", "0", "9" * 12, "9" * 30))
QUERIES = ("q", "page", "n", "class", "stage", "wood", "use", "work", "aside", "sort", "back",
           "paddle", "person", "board", "one", "other", "tab", "since", "open", "all", "charts",
           "after", "kind", "show", "mark", "value", "blade", "at", "step", "units", "measured.w")
_SLOW = re.compile(r"solids|\.glb|plans/files|/print")  # drawn at full size, their addresses alike


class Fuzzed:
    """A bench with the demonstration paddle, put back as it was before each form."""

    def __init__(self, store: Store) -> None:
        self.store, self.browser = store, Browser(store)
        put_example(store)
        self.routes = [path for method, path in every_route(_app(store))
                       if method == "GET" and not _SLOW.search(path)]
        self.forms = list(self._forms())
        self._before = sqlite3.connect(":memory:")
        with contextlib.closing(sqlite3.connect(store.path or "")) as kept:
            kept.backup(self._before)

    def _forms(self) -> Iterator[FoundForm]:
        """Find a form of each kind that the demonstration's pages show."""
        seen = set()
        for path in self.routes:
            for kind in ("weight", "bench", "caliper", "trace") if "{kind}" in path else ("",):
                answer = self.browser.get(address(path, {"kind": kind}))
                for form in Page(answer.text).forms if _is_page(answer) else ():
                    key = (re.sub(r"\d+", "1", form.action), *sorted(form.values))
                    if form.action != "/about/backup" and key not in seen:
                        seen.add(key)
                        yield form

    def put_back(self) -> None:
        with contextlib.closing(sqlite3.connect(self.store.path or "")) as now:
            self._before.backup(now)

    def send(self, form: FoundForm, odd: dict[str, str]) -> Response:
        """Send a form as it was shown but for what is odd."""
        data = form.values | {"uid": str(uuid.uuid4())} | odd
        return self.browser.client.post(form.action, data=data, follow_redirects=True,
                                        headers={"X-CSRF": self.browser.token})


def _app(store: Store) -> Any:
    return bench_app(Bench(store, b"key", hosts=LOCAL_HOSTS))


def _is_page(answer: Response) -> bool:
    return answer.headers.get("content-type", "").startswith("text/html")


@pytest.fixture(scope="module")
def fuzzed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Fuzzed]:
    store = bench_at(Path(tmp_path_factory.mktemp("odd")))
    yield Fuzzed(store)
    store.close()


def sound(answer: Response) -> None:
    """Whether it is an answer as any other; a fault inside raises in the client already."""
    assert answer.status_code < 500, answer.text[:300]
    assert "Traceback" not in answer.text
    if _is_page(answer):
        page = Page(answer.text)
        assert page.faults == []
        assert "xss-probe" not in page.tags
        assert not any(name.startswith("on") for name in page.attributes)


def test_every_page_of_the_demonstration_is_sound_as_it_is(fuzzed: Fuzzed) -> None:
    assert len(fuzzed.routes) > 40
    assert len(fuzzed.forms) > 30
    for path in fuzzed.routes:
        sound(fuzzed.browser.get(address(path)))


@settings(max_examples=120)
@given(data=st.data())
def test_no_address_makes_a_page_fail(fuzzed: Fuzzed, data: st.DataObject) -> None:
    path = data.draw(st.sampled_from(fuzzed.routes))
    words = {name: quote(data.draw(TEXTS)[:900], safe="") for name in USUAL
             if f"{{{name}}}" in path and data.draw(st.booleans())}
    numbers = {name: data.draw(NUMBERS) for name in re.findall(r"{(\w+):int}", path)}
    asked = data.draw(st.dictionaries(st.sampled_from(QUERIES), TEXTS, max_size=4))
    query = urlencode({name: text[:4500] for name, text in asked.items()})
    sound(fuzzed.browser.get(address(path, words | numbers) + (f"?{query}" if query else "")))


@settings(max_examples=110)
@given(data=st.data())
def test_nothing_typed_makes_a_page_fail(fuzzed: Fuzzed, data: st.DataObject) -> None:
    fuzzed.put_back()
    form = data.draw(st.sampled_from(fuzzed.forms))
    names = sorted(set(form.values) - {"csrf"}) or ["text"]
    odd = data.draw(st.dictionaries(st.sampled_from(names), TEXTS, min_size=1, max_size=5))
    sound(fuzzed.send(form, odd))
