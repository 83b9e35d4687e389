"""From a file on disk to a checked layout: nothing is believed before it is looked at."""

from __future__ import annotations

import tomllib
import types
import typing
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from springloom.errors import FileError, InputError, SpringloomError, known
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
    return check_layout(_parsed(_text(path), str(path)))


def check_layout(data: dict[str, Any]) -> DesignFile:
    """Check parsed TOML against the layout; errors as in :func:`read_layout`."""
    try:
        return DesignFile.model_validate(data)
    except ValidationError as error:
        raise _translated(error) from None
    except RecursionError:
        raise FileError("is nested too deeply", field="design file") from None


def _text(path: Path) -> str:
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise FileError("is too large for a design file", field=str(path),
                            given=f"{size} bytes", allowed=f"at most {MOST_BYTES} bytes")
        return path.read_bytes().decode("utf-8")
    except UnicodeDecodeError:
        raise FileError("is not text (UTF-8)", field=str(path)) from None
    except FileNotFoundError:
        raise FileError("does not exist", field=str(path)) from None
    except OSError as error:
        raise FileError(f"can't be read: {error.strerror}", field=str(path)) from None


def _parsed(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, ValueError) as error:
        raise FileError(f"is not valid TOML: {error}", field=name) from None
    except RecursionError:
        raise FileError("is nested too deeply", field=name) from None


def _translated(error: ValidationError) -> SpringloomError:
    """Turn pydantic's first complaint into one of ours; unknown keys come first."""
    complaints = error.errors(include_url=False, include_context=True)
    first = next((c for c in complaints if c["type"] == "extra_forbidden"), complaints[0])
    parts = [part for part in first["loc"] if part not in _UNION_MEMBERS]
    field = _dotted(parts)
    kind = first["type"]
    if kind == "extra_forbidden":
        return _unknown_key(parts)
    if kind == "missing":
        return InputError("is missing", field=field, allowed="a value")
    if kind == "literal_error":
        allowed = str(first.get("ctx", {}).get("expected", ""))
        return InputError("is not one of the choices", field=field, given=_plain(first["input"]),
                          allowed=allowed)
    if kind == "too_long":
        return InputError("has too many entries", field=field,
                          allowed=f"at most {first['ctx']['max_length']}")
    return InputError("is of the wrong kind", field=field, given=_plain(first["input"]),
                      allowed=_wanted(kind))


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
    model: type[BaseModel] = DesignFile
    for part in where:
        if isinstance(part, int):
            continue
        model = _table_of(model.model_fields[part].annotation) or model
    return list(model.model_fields)


def _table_of(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if typing.get_origin(annotation) in (list, typing.Union, types.UnionType):
        tables = (_table_of(member) for member in typing.get_args(annotation))
        return next((table for table in tables if table is not None), None)
    return None


def _wanted(kind: str) -> str:
    kinds = {
        "string_type": 'text or a number, such as "83 mm"',
        "model_type": "a table",
        "model_attributes_type": "a table",
        "list_type": "a list",
        "bool_type": "true or false",
        "float_type": "a number",
        "int_type": "a number",
        "string_too_long": "a shorter text",
    }
    return kinds.get(kind, kind.replace("_", " "))


def _plain(value: object) -> str:
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    return repr(value)


def _dotted(parts: list[int | str]) -> str:
    text = ""
    for part in parts:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text
