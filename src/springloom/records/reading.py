"""From a file on disk to a checked layout: nothing is believed before it is looked at."""

from __future__ import annotations

import tomllib
import types
import typing
from datetime import date, time
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from springloom.errors import AsIs, FileError, InputError, SpringloomError, known
from springloom.records.layout import DesignFile

MOST_BYTES = 1_000_000
"""A design file is a page or two; anything larger is something else."""

_UNION_MEMBERS = {"str", "float", "int", "bool"}


def read_layout(path: Path) -> DesignFile:
    """Read and check a design file.

    Raises:
        FileError: it is missing, too large, no text or no TOML.
        InputError, UnknownNameError: a key is missing, unknown or of the wrong kind.
    """
    return check_layout(_parsed(read_text(path), str(path)))


def check_layout(data: dict[str, Any]) -> DesignFile:
    """Check parsed TOML against the layout; errors as in :func:`read_layout`."""
    try:
        return DesignFile.model_validate(data)
    except ValidationError as error:
        raise _translated(error) from None
    except RecursionError:
        raise FileError("is nested too deeply", field="design file",
                        allowed="lists of numbers and texts") from None


def read_text(path: Path) -> str:
    """Return a design file's text; a byte-order mark is left out, line ends stay.

    Raises:
        FileError: it is missing, too large or no text.
    """
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)  # no more, whatever the file says of its size
        if len(content) > MOST_BYTES:
            raise FileError("is too large for a design file", field=str(path),
                            given=AsIs(f"more than {MOST_BYTES} bytes"),
                            allowed=f"at most {MOST_BYTES} bytes")
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileError("is not text", field=str(path), allowed="a TOML file in UTF-8") from None
    except FileNotFoundError:
        raise FileError("does not exist", field=str(path), allowed="a design file") from None
    except OSError as error:
        raise FileError(f"can't be read: {error.strerror}", field=str(path),
                        allowed="a design file") from None
    except ValueError as error:  # a null byte in its name
        raise FileError(f"can't be a file's name: {error}", field=repr(str(path))) from None


def _parsed(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError) as error:
        raise FileError(f"is not valid TOML: {error}", field=name,
                        allowed="key = value lines under [table] headings") from None
    except RecursionError:
        raise FileError("is nested too deeply", field=name,
                        allowed="lists of numbers and texts") from None


def _translated(error: ValidationError) -> SpringloomError:
    """Turn pydantic's first complaint into one of ours; unknown keys come first."""
    complaints = error.errors(include_url=False, include_context=True)
    first = next((c for c in complaints if c["type"] == "extra_forbidden"), complaints[0])
    kind = first["type"]
    if kind == "extra_forbidden":
        return _unknown_key(list(first["loc"]))
    parts = [part for part in first["loc"] if part not in _UNION_MEMBERS]
    field = _dotted(parts)
    if kind == "missing":
        return InputError("is missing", field=field, allowed=_meaning(parts))
    given, allowed = _plain(first["input"]), _wanted(kind, parts, first.get("ctx", {}))
    message = _MESSAGES.get(kind, "is of the wrong kind")
    return InputError(message, field=field, given=given, allowed=allowed)


_MESSAGES = {
    "literal_error": "is not one of the choices",
    "too_long": "has too many entries",
    "too_short": "has too few entries",
    "string_too_long": "is too long",
    "string_too_short": "is empty",
    "value_error": "is out of every range",
}


def _unknown_key(parts: list[int | str]) -> SpringloomError:
    *where, key = parts
    names = _keys_at(where)
    try:
        known(str(key), names, _dotted([*where, key]))
    except SpringloomError as error:
        return error
    return InputError("is unknown here", field=_dotted(parts))


def _keys_at(where: list[int | str]) -> list[str]:
    """Return the keys of the table at a place in the layout."""
    return list(_model_at(where).model_fields)


def _model_at(where: list[int | str]) -> type[BaseModel]:
    model: type[BaseModel] = DesignFile
    for part in where:
        if isinstance(part, str):
            model = table_of(model.model_fields[part].annotation) or model
    return model


def _field_at(parts: list[int | str]) -> FieldInfo | None:
    names = [part for part in parts if isinstance(part, str)]
    return _model_at([*names[:-1]]).model_fields.get(names[-1]) if names else None


def _meaning(parts: list[int | str]) -> str:
    """What a key is for, by its description and first example."""
    field = _field_at(parts)
    if field is None or not field.description:
        return "a value"
    example = f", such as {field.examples[0]!r}" if field.examples else ""
    return field.description + example


def table_of(annotation: Any) -> type[BaseModel] | None:
    """Return the table a key holds, be it one, a list of them or none; None for a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if typing.get_origin(annotation) in (list, typing.Union, types.UnionType):
        tables = (table_of(member) for member in typing.get_args(annotation))
        return next((table for table in tables if table is not None), None)
    return None


def _wanted(kind: str, parts: list[int | str], context: dict[str, Any]) -> str:
    if kind == "literal_error":
        return str(context.get("expected", ""))
    limits = {"too_long": "max_length", "too_short": "min_length", "string_too_long": "max_length"}
    if kind in limits:
        most = "at least" if kind == "too_short" else "at most"
        return f"{most} {context[limits[kind]]}"
    if kind == "string_type" and not _is_quantity(parts):
        return "a text in quotes"
    kinds = {
        "string_type": 'a number, or a text such as "83 mm"',
        "string_too_short": "a text",
        "model_type": "a table",
        "list_type": "a list",
        "bool_type": "true or false",
        "float_type": "a number",
        "int_type": "a number",
        "value_error": "a number that can be reckoned with",
    }
    return kinds.get(kind, kind.replace("_", " "))


def _is_quantity(parts: list[int | str]) -> bool:
    """Whether a number may stand at this key as well as a text."""
    field = _field_at(parts)
    return field is not None and "float" in str(field.annotation)


def _plain(value: object) -> object:
    """What was given, as the file has it."""
    if isinstance(value, bool):
        return AsIs(str(value).lower())
    if isinstance(value, dict):
        return AsIs("a table")
    if isinstance(value, list):
        return AsIs(f"a list of {len(value)}")
    if isinstance(value, date | time):
        return AsIs(value.isoformat())
    return value


def _dotted(parts: list[int | str]) -> str:
    text = ""
    for part in parts:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text
