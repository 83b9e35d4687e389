"""The real bench is ended while somebody types, and comes back."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Page, expect

from springloom.store.opening import open_store
from springloom.store.people import people
from tests.browser.served import Served, served


def names(store: str) -> list[str]:
    opened = open_store(store)
    try:
        with opened.read() as connection:
            return [person.name for person in people(connection)]
    finally:
        opened.engine.dispose()


def measure(page: Page, name: str) -> None:
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("Height", exact=True).fill("1760")
    page.get_by_role("button", name="Keep these measures").click()


def test_a_person_typed_at_the_bench_is_stored(page: Page, bench: Served) -> None:
    before = names(bench.store)
    page.goto(f"{bench.address}/people/new")
    measure(page, "Ann")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Ann")
    expect(page.locator("#offline")).to_be_hidden()
    assert names(bench.store) == [*before, "Ann"]


def test_people_typed_while_the_server_is_gone_are_stored_once_it_is_back(
    page: Page, tmp_path: Path
) -> None:
    store = tmp_path / "bench.sqlite"
    with served(store) as before:
        page.goto(f"{before.address}/people/new")
    for count, name in enumerate(("Ann", "Bo"), 1):
        measure(page, name)
        expect(page.locator("#offline")).to_contain_text(f"Offline: {count} ")
    with served(store, port=urlsplit(before.address).port or 0) as after:
        expect(page.locator("#offline")).to_contain_text("All sent: 2 ", timeout=40_000)
        assert names(after.store) == ["Ann", "Bo"]
