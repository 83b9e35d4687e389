"""What browser tests share: the browser, its screens, who may be asked, and what is judged."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, ConsoleMessage, Page, Playwright, Request

ROOT = Path(__file__).resolve().parents[2]
AXE = ROOT / "frontend" / "node_modules" / "axe-core" / "axe.min.js"
BUILT = ROOT / "src" / "springloom" / "web" / "static" / "built"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
HERE = {"127.0.0.1", "localhost", "::1"}
NO_HOST = {"about", "blob", "data"}  # schemes that ask nobody
PATIENCE_MS = 20_000  # a shared machine stalls at times

# Without these Chromium asks its maker's hosts at every start. The last draws WebGL in software.
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--enable-unsafe-swiftshader",
]
SCREENS: Mapping[str, Mapping[str, Any]] = MappingProxyType({
    "wide": {"viewport": {"width": 1280, "height": 900}},
    "narrow": {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True,
               "device_scale_factor": 2},
})
PROGRAMS = (
    "chromium", "chromium-browser", "google-chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
)


def launch(playwright: Playwright) -> Browser:
    """Start the machine's own Chromium; ``SPRINGLOOM_CHROMIUM`` names another."""
    return playwright.chromium.launch(executable_path=chromium_program(), args=FLAGS)


def chromium_program() -> str:
    """Find Chromium or a kin of it.

    Raises:
        FileNotFoundError: there is none; tests of the browser can't be left out silently.
    """
    named = os.environ.get("SPRINGLOOM_CHROMIUM")
    for program in (named, *PROGRAMS):
        found = shutil.which(program) if program else None
        if found:
            return found
    raise FileNotFoundError("Chromium is not installed; SPRINGLOOM_CHROMIUM may name it")


@contextmanager
def opened(browser: Browser, screen: str, **options: Any) -> Iterator[Page]:
    """Open a tab of its own; it may ask nobody outside and may break no rule of the page."""
    context = browser.new_context(**{**SCREENS[screen], **options})
    context.set_default_timeout(PATIENCE_MS)
    try:
        page = context.new_page()
        with no_outside_requests(page), no_faults(page):
            yield page
    finally:
        context.close()


@contextmanager
def no_outside_requests(page: Page) -> Iterator[None]:
    """Fail if the page, or another of its context, asks any host but this machine."""
    outside: list[str] = []

    def note(request: Request) -> None:
        url = urlsplit(request.url)
        if url.scheme not in NO_HOST and url.hostname not in HERE:
            outside.append(request.url)

    page.context.on("request", note)
    yield
    page.context.remove_listener("request", note)
    assert not outside, outside


@contextmanager
def no_faults(page: Page) -> Iterator[None]:
    """Fail if a script of the page, or of another of its context, breaks or breaks the policy."""
    faults: list[str] = []

    def note(message: ConsoleMessage) -> None:
        # A server that is away is an error of the console's too, and none of the page's.
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            faults.append(message.text)

    page.context.on("console", note)
    page.context.on("weberror", lambda error: faults.append(str(error.error)))
    yield
    assert not faults, faults


def axe(page: Page, within: str | None = None) -> list[str]:
    """List what axe-core finds against WCAG 2.2 AA and common practice, one line a place."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate(
        "([within, rules]) => axe.run(within ?? document, {runOnly: rules})", [within, RULES])
    return [f"{violation['id']}: {node['html'][:160]} ({node['failureSummary']})"
            for violation in found["violations"] for node in violation["nodes"]]


def scrolls_sideways(page: Page) -> bool:
    """Whether the page is wider than its screen."""
    return bool(page.evaluate("document.documentElement.scrollWidth > innerWidth"))


def shots(page: Page, name: str) -> list[Path]:
    """Save the page by day, by night and printed, in the folder ``SPRINGLOOM_SHOTS`` if set."""
    folder = os.environ.get("SPRINGLOOM_SHOTS")
    if not folder:
        return []
    size = page.viewport_size
    stem = f"{name}-{size['width'] if size else 0}"
    looks: dict[str, dict[str, Any]] = {
        "light": {"media": "screen", "color_scheme": "light"},
        "dark": {"media": "screen", "color_scheme": "dark"},
        "print": {"media": "print", "color_scheme": "light"},
    }
    saved = []
    for look, media in looks.items():
        page.emulate_media(**media)
        saved.append(Path(folder) / f"{stem}-{look}.png")
        page.screenshot(path=saved[-1], full_page=True, caret="initial")
    page.emulate_media(media="screen", color_scheme="light")
    return saved


def springloom_program() -> str:
    """Give the program of the environment that runs the tests."""
    folder = Path(sys.executable).parent
    return str(folder / ("springloom.exe" if os.name == "nt" else "springloom"))
