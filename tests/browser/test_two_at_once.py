"""Two browsers on one paddle in the middle of a round: nothing is lost, and both are told."""

from __future__ import annotations

import re
import tomllib
from importlib import resources
from pathlib import Path

import httpx2
from playwright.sync_api import Browser, Page, expect

from springloom.store.opening import open_store
from springloom.store.rounds import readings, rounds
from tests.browser.browse import opened
from tests.browser.served import served

EXAMPLE = (resources.files("springloom.examples") / "marsh_tern.toml").read_text("utf-8")
NOTICE_MS = 20_000  # it asks every six seconds; a shared machine stalls at times


def test_what_one_adds_the_other_is_told_before_the_round_ends(
    chromium: Browser, tmp_path: Path
) -> None:
    with (served(tmp_path / "bench.db", "--workers", "2") as bench,
          opened(chromium, "wide") as laptop, opened(chromium, "narrow") as phone):
        made = httpx2.post(f"{bench.address}/api/paddles", json=tomllib.loads(EXAMPLE),
                           timeout=60.0)
        address = f"{bench.address}/paddles/{made.json()['id']}/tune"
        laptop.goto(address)
        phone.goto(address)
        laptop.get_by_label("Blade A at tip").fill("1")  # typed, not sent
        remark(phone, "stiff near the tip")
        expect(laptop.get_by_text("Somebody has added")).to_be_visible(timeout=NOTICE_MS)
        laptop.get_by_role("button", name="End round 1").click()
        expect(laptop.get_by_role("alert").first).to_contain_text("stiff near the tip")
        expect(laptop.get_by_label("Blade A at tip")).to_have_value("1")
        laptop.get_by_role("button", name="I have looked: end round 1").click()
        expect(laptop.get_by_role("heading", level=1)).to_contain_text("round 2")
        expect(phone.get_by_text("Somebody has added")).to_be_visible(timeout=NOTICE_MS)
    assert kept(tmp_path / "bench.db") == ("stiff near the tip", "1/128 in at the tip")


def remark(page: Page, text: str) -> None:
    page.get_by_text("Any other kind of reading").click()
    page.get_by_role("link", name=re.compile("remark", re.IGNORECASE)).click()
    page.get_by_role("textbox").first.fill(text)
    page.get_by_role("button", name="Keep").first.click()
    expect(page.get_by_text("Kept")).to_be_visible()


def kept(path: Path) -> tuple[str, str]:
    """The remark, and what was planed at blade A's tip."""
    store = open_store(path)
    with store.read() as connection:
        said = [one.table for one in readings(connection, 1, 1) if one.kind == "remark"]
        closing = rounds(connection, 1)[0].closing
    store.close()
    assert closing is not None
    blade = next(table for table in closing.planed if table["blade"] == "a")
    off = dict(zip(blade["at"], blade["per_face"], strict=True))["tip"]
    return str((said[0] or {})["text"]), f"{off} at the tip"
