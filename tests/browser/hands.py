"""Two ways to work a page: by keyboard alone, and by touch alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from playwright.sync_api import Locator, Page

MOST_TABS = 400


class Hands(Protocol):
    """What a maker does with a page."""

    @property
    def page(self) -> Page:
        """The tab it is done in."""

    def press(self, what: Locator) -> None:
        """Press a link or a button."""

    def write(self, where: Locator, text: str) -> None:
        """Write into a field in place of what is there."""

    def choose(self, where: Locator, label: str) -> None:
        """Choose from a list."""

    def number(self, where: Locator, text: str) -> None:
        """Write a reading and keep it, by the keypad where that is how one works."""


@dataclass(frozen=True)
class Keyboard:
    """Nothing but keys: what can't be reached with Tab can't be used."""

    page: Page

    def press(self, what: Locator) -> None:
        """Go there and press Enter."""
        self._go(what)
        self.page.keyboard.press("Enter")

    def write(self, where: Locator, text: str) -> None:
        """Go there, select all, type."""
        self._go(where)
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.type(text)

    def number(self, where: Locator, text: str) -> None:
        """Type it and press Enter."""
        self.write(where, text)
        self.page.keyboard.press("Enter")

    def choose(self, where: Locator, label: str) -> None:
        """Go there and type the beginning of what is wanted."""
        self._go(where)
        self.page.keyboard.type(label)

    def _go(self, what: Locator) -> None:
        what.wait_for()
        for _ in range(MOST_TABS):
            if what.evaluate("one => one === document.activeElement"):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"{MOST_TABS} times Tab do not lead to {what}")


@dataclass(frozen=True)
class Touch:
    """Fingers: everything is tapped, readings are typed on the page's own keys."""

    page: Page

    def press(self, what: Locator) -> None:
        """Tap it; it has to be large enough for a finger."""
        what.scroll_into_view_if_needed()
        what.tap()

    def write(self, where: Locator, text: str) -> None:
        """Tap the field and write by the phone's keys."""
        where.tap()
        where.fill("")
        self.page.keyboard.type(text)

    def choose(self, where: Locator, label: str) -> None:
        """Tap the list; the phone shows its own."""
        where.select_option(label=label)

    def number(self, where: Locator, text: str) -> None:
        """Tap the keys of the page one by one."""
        where.tap()
        keys = self.page.get_by_role("group", name="Keys")
        for sign in text:
            keys.locator(f'[data-key="{sign}"]').tap()
        keys.get_by_role("button", name="Keep, next").tap()
