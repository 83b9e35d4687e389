"""Errors in the words of the design file: its keys, what was typed there, its unit of length."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from pydantic import BaseModel

from springloom.errors import AsIs, SpringloomError
from springloom.units import METRE_PER_INCH, System, Typed, parse_length

_UNIT_SUFFIX = re.compile(r"_(m|kg|n|hz|percent)$")
_INDEXED = re.compile(r"^(\w+)(?:\[(\d+)\])?$")
_LENGTH = re.compile(r" (m|mm)(?= from centre$| at this width$|$)")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")


@contextmanager
def told(table: BaseModel, where: str, units: System, **called: str) -> Iterator[None]:
    """Raise the model's errors again as errors of this table's keys.

    Args:
        table: what was typed.
        where: the table's path in the file.
        units: the file's units.
        called: the table's key for a field that the model calls otherwise, its unit left off;
            may carry an index (``crown[3]``).
    """
    try:
        yield
    except SpringloomError as error:
        if error.field.startswith(f"{where}.") and error.field not in called:
            raise  # a parser's: it knew the key
        field = _UNIT_SUFFIX.sub("", error.field)
        key = called.get(field, field)
        path = f"{where}.{key}" if key else where
        raise retold(error, path, _typed_at(table, key), units) from None


def retold(error: SpringloomError, field: str, typed: object, units: System) -> SpringloomError:
    """Return an error about ``field`` with what was typed there, None for nothing in particular."""
    new = error.about(field)
    is_length = bool(_LENGTH.search(error.allowed))
    if typed is not None:
        bare = is_length and not isinstance(typed, str)
        new.given = AsIs(f"{typed} {units}") if bare else typed
    if is_length:
        new.allowed = _in_units(error.allowed, units)
    return new


def _typed_at(table: BaseModel, key: str) -> object:
    """Return what was typed at a key, or None where that is no single value."""
    typed: object = table
    for part in key.split("."):
        match = _INDEXED.match(part)
        typed = getattr(typed, match[1], None) if match else None
        if match and match[2] and isinstance(typed, list):
            typed = typed[int(match[2]) - 1]
    return typed if isinstance(typed, str | float | int) else None


def _in_units(text: str, units: System) -> str:
    """A text about metres or millimetres in the file's unit."""
    found = _LENGTH.search(text)
    size = 1e-3 if found and found[1] == "mm" else 1.0
    scale = size / (1e-3 if units == "mm" else METRE_PER_INCH)
    converted = _NUMBER.sub(lambda match: f"{float(match[0]) * scale:.4g}", text)
    return _LENGTH.sub(f" {units}", converted)


def optional_length(typed: Typed | None, units: System, field: str) -> float | None:
    """A length in m, or None where nothing was typed."""
    return None if typed is None else parse_length(typed, default=units, field=field)
