"""Writing a layout as a design file: what was typed, as it was typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.container import Container
from tomlkit.items import AbstractTable

from springloom.records.layout import DesignFile


def layout_text(layout: DesignFile) -> str:
    """Return the text of a design file; reading it back gives the same layout.

    Values keep the words they were typed in. Keys nobody gave are left out, so that the file
    says no more than the maker did.
    """
    document = tomlkit.document()
    _fill(document, layout.model_dump(exclude_unset=True, exclude_none=True))
    return tomlkit.dumps(document)


def _fill(place: Container | AbstractTable, values: Mapping[str, Any]) -> None:
    """Put values first and tables after them: TOML counts what follows a heading to it."""
    for key, value in values.items():
        if not _is_table(value) and value != []:  # an empty list is what a missing one means
            place.add(key, tomlkit.item(value))
    for key, value in values.items():
        if isinstance(value, dict):
            place.add(key, _table(value))
        elif _is_table(value):
            several = tomlkit.aot()
            for one in value:
                several.append(_table(one))
            place.add(key, several)


def _table(values: Mapping[str, Any]) -> AbstractTable:
    made = tomlkit.table()
    _fill(made, values)
    return made


def _is_table(value: object) -> bool:
    """Whether a value stands under a heading: a table, or a list of them."""
    return isinstance(value, dict) or (
        isinstance(value, list) and bool(value) and isinstance(value[0], dict))
