"""The examples that come with the program: design files with nothing but invented data."""

from __future__ import annotations

import tomllib
from importlib import resources

from springloom.records.layout import DesignFile
from springloom.records.reading import check_layout


def example_text(name: str) -> str:
    """Return an example's design file by its name in the package, ``.toml`` left out."""
    return (resources.files("springloom.examples") / f"{name}.toml").read_text(encoding="utf-8")


def example_layout(name: str) -> DesignFile:
    """Return the same, checked."""
    return check_layout(tomllib.loads(example_text(name)))
