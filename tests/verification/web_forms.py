"""Pages taken apart: whether their tags close as they open, their forms, where they lead."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

_VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source",
         "track", "wbr"}
_FIELDS = {"input", "textarea", "select", "button"}


@dataclass
class FoundForm:
    """A form that writes: where it goes, and what it sends as it was shown."""

    action: str
    values: dict[str, str] = field(default_factory=dict)


class Page(HTMLParser):
    """Reads one page.

    Attributes:
        forms: those that are posted.
        tags: every tag's name.
        attributes: every attribute's name.
        faults: tags that close what is not open, or are left open.
    """

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[FoundForm] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.faults: list[str] = []
        self._open: list[str] = []
        self._form: FoundForm | None = None
        self._choice = ""
        self.feed(text)
        self.close()
        self.faults += [f"<{tag}> is left open" for tag in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._note(tag, attrs)
        if tag not in _VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._note(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open.pop() != tag:
            self.faults.append(f"</{tag}> at {self.getpos()} closes what is not open")
        if tag == "form":
            self._form = None

    def _note(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self.tags.add(tag)
        self.attributes |= set(given)
        if len(given) < len(attrs):
            self.faults.append(f"<{tag}> at {self.getpos()} says something twice")
        if tag == "form" and given.get("method") == "post":
            self._form = FoundForm(given["action"])
            self.forms.append(self._form)
        if "hx-post" in given:
            self.forms.append(FoundForm(given["hx-post"], {} if self._form is None
                                        else self._form.values))
        self._fill(tag, given)

    def _fill(self, tag: str, given: dict[str, str]) -> None:
        if self._form is None:
            return
        values, name = self._form.values, given.get("name", "")
        if tag in _FIELDS and name:
            self._choice = name
            if given.get("type") not in {"radio", "checkbox"} or "checked" in given:
                values[name] = given.get("value", "")
        elif tag == "option" and ("selected" in given or not values.get(self._choice)):
            values[self._choice] = given.get("value", "")
