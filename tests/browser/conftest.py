"""Fixtures of tests in the browser."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.browser.browse import PATIENCE_MS, SCREENS, launch, opened
from tests.browser.served import Served, served

expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    """One browser for this folder; not longer, for no other loop can run beside Playwright's."""
    with sync_playwright() as playwright:
        browser = launch(playwright)
        yield browser
        browser.close()


@pytest.fixture
def wide(chromium: Browser) -> Iterator[Page]:
    """A laptop on the bench."""
    with opened(chromium, "wide") as page:
        yield page


@pytest.fixture
def narrow(chromium: Browser) -> Iterator[Page]:
    """A phone beside the paddle."""
    with opened(chromium, "narrow") as page:
        yield page


@pytest.fixture(params=SCREENS)
def page(chromium: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """Each of the two, one after the other."""
    with opened(chromium, request.param) as page:
        yield page


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A bench with an empty store, one for each module of tests."""
    with served(tmp_path_factory.mktemp("bench") / "bench.sqlite") as bench:
        yield bench
