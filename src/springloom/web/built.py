"""The scripts that the build bundled, if it ran: without them the bench works all the same."""

from __future__ import annotations

import functools
import hashlib
from pathlib import Path

STATIC = Path(__file__).parent / "static"


@functools.cache
def built_scripts() -> dict[str, str]:
    """Return the bundled scripts' addresses by name, each with its content's mark."""
    return {path.stem: f"/static/built/{path.name}?{_mark(path)}"
            for path in sorted((STATIC / "built").glob("*.js"))}


@functools.cache
def style_address(name: str) -> str:
    """Return a style sheet's address with its content's mark."""
    return f"/static/{name}?{_mark(STATIC / name)}"


def _mark(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()[:12]
