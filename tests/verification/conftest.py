"""Fixtures that several modules of this folder share."""

from __future__ import annotations

from tests.stores import (  # noqa: F401 - pytest finds fixtures by their names here
    empty_file,
    file_store,
    postgres,
    store,
    store_place,
)
