"""Forms as they were typed, and what is wrong with them.

Inputs go by the dotted names that errors carry (``paddler.height``), so that a complaint finds
its place by itself.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TypeVar

from starlette.datastructures import UploadFile
from starlette.requests import Request

from springloom.errors import InputError, OutputError, SpringloomError
from springloom.web.tokens import check_token

T = TypeVar("T")

MOST_FIELDS, MOST_FILES, MOST_PART = 1000, 8, 1024 * 1024
_CHARSET = re.compile(r"charset[*0-9]*\s*=[\s\"]*([^\s\";]*)", re.IGNORECASE)


@dataclass(frozen=True)
class Form:
    """What was typed: lists of text by field name; empty fields are there as empty text."""

    fields: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    files: Mapping[str, tuple[Upload, ...]] = field(default_factory=dict)

    def text(self, name: str, default: str = "") -> str:
        """Return a field without the blanks around it."""
        return self.fields.get(name, (default,))[-1].strip()

    def texts(self, name: str) -> tuple[str, ...]:
        """Return all fields of one name, in the order of the page."""
        return tuple(text.strip() for text in self.fields.get(name, ()))

    def given(self, prefix: str) -> dict[str, str]:
        """Return what was filled in below ``prefix``: {"height": ...} of "paddler.height"."""
        start = f"{prefix}."
        names = [name for name in self.fields if name.startswith(start) and self.text(name)]
        return {name.removeprefix(start): self.text(name) for name in names}

    def whole(self, name: str) -> int:
        """Return a hidden field that holds a number.

        Raises:
            InputError: it doesn't.
        """
        text = self.text(name)
        if not text.isascii() or not text.isdigit() or len(text) > 18:
            raise InputError("is no whole number", field=name, given=text, allowed="digits")
        return int(text)

    @property
    def uid(self) -> str:
        """The entry's own mark, made when the form was shown.

        Raises:
            InputError: there is none.
        """
        try:
            return str(uuid.UUID(self.text("uid")))
        except ValueError:
            raise InputError("is missing: open the page again", field="uid",
                             allowed="the mark the page came with") from None

    def file(self, name: str) -> Upload | None:
        """Return an uploaded file, or None where none was chosen."""
        chosen = [upload for upload in self.files.get(name, ()) if upload.name]
        return chosen[0] if chosen else None


@dataclass(frozen=True, slots=True)
class Upload:
    """An uploaded file."""

    name: str
    media_type: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong, as the page shows it: beside its field, or on top."""

    sentence: str
    field: str = ""
    given: str = ""
    allowed: str = ""

    @property
    def named(self) -> str:
        """The sentence with its field before it, for where it doesn't stand beside that field."""
        what = _spoken(self.field)
        return f"{what}: {_small(self.sentence)}" if what else self.sentence

    def at(self, name: str) -> bool:
        """Whether it belongs to that input, or to one inside it."""
        return bool(self.field) and (self.field == name or self.field.startswith(f"{name}["))


def problem_of(error: SpringloomError, names: Sequence[str] = ()) -> Problem:
    """Turn an error into what the page shows; a field the page has not goes on top.

    Args:
        error: what went wrong.
        names: the page's inputs; all where none are named.
    """
    given = "" if error.given is None else str(error.given)[:80]
    whole = error.field.split("[")[0]
    placed = not names or error.field in names or whole in names
    sentence = f"{error.message[0].upper()}{error.message[1:]}" if error.message else "Is wrong"
    if not placed and error.field:
        sentence = f"{_spoken(error.field) or error.field}: {error.message}"
    return Problem(sentence, error.field if placed else "", given, error.allowed)


_PLAIN = re.compile(r"([a-z]+(?:_[a-z]+)*)(?:\[(\d+)\])?")
_UNSPOKEN = {"value", "step", "kind"}


def _spoken(field: str) -> str:
    """Return a field's name as one says it: ``Arm span`` of ``paddler.arm_span``; "" for none."""
    name = _PLAIN.fullmatch(field.rsplit(".", maxsplit=1)[-1])
    if name is None or name[1] in _UNSPOKEN:
        return ""
    line = f", line {name[2]}" if name[2] else ""
    return f"{name[1].replace('_', ' ').capitalize()}{line}"


def _small(sentence: str) -> str:
    """Begin small, where it begins with a word and not with letters that stand for one."""
    return sentence if sentence[1:2].isupper() else sentence[:1].lower() + sentence[1:]


def new_uid() -> str:
    """Return a fresh mark for a form's entry."""
    return str(uuid.uuid4())


async def read_form(request: Request) -> Form:
    """Read a form whole and check its token.

    Raises:
        InputError: it is in another encoding than UTF-8.
        HTTPException: too many or too large parts, or it can't be read as a form.
        OutputError: the disk has no room for what was sent.
        ForbiddenError: a token that is not this session's.
    """
    _refuse_other_letters(request)
    try:
        form = await _read(request)
    except OSError as error:  # a large file waits on the disk
        raise OutputError(f"can't be taken in: {error.strerror}", field="what was sent",
                          allowed="room on the disk for temporary files") from error
    check_token(request, form.text("csrf") or request.headers.get("x-csrf", ""))
    return form


async def _read(request: Request) -> Form:
    fields: dict[str, list[str]] = {}
    files: dict[str, list[Upload]] = {}
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS,
                            max_part_size=MOST_PART) as data:
        for name, value in data.multi_items():
            if isinstance(value, UploadFile):
                files.setdefault(name, []).append(Upload(
                    value.filename or "", value.content_type or "", await value.read()))
            else:
                fields.setdefault(name, []).append(value)
    return Form(_frozen(fields), _frozen(files))


def _refuse_other_letters(request: Request) -> None:
    """Pages send UTF-8; Python reads more encodings than are safe to be chosen by a sender."""
    for named in _CHARSET.findall(request.headers.get("content-type", "")):
        if named.lower() not in {"utf-8", "utf8"}:
            raise InputError("is in letters that no page of this bench sends", field="form",
                             given=named, allowed="utf-8")


def _frozen(lists: dict[str, list[T]]) -> Mapping[str, tuple[T, ...]]:
    return MappingProxyType({name: tuple(values) for name, values in lists.items()})
