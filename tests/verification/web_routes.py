"""Every route of the application, wherever it is mounted, with an address that leads to it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from starlette.applications import Starlette
from starlette.routing import BaseRoute, Mount

from springloom.web.late import Late

Parts = dict[str, str]

USUAL: Parts = {
    "sheet": "plan", "suffix": "svg", "kind": "weight", "stage": "squared", "system": "mm",
    "weight": "regular",
}
"""What stands in an address besides numbers; those are all 1."""


def every_route(app: Starlette) -> list[tuple[str, str]]:
    """Return (method, path with its {parts}) of all routes but those of static files."""
    return sorted(set(_below("", app.routes)))


def _below(prefix: str, routes: Iterable[BaseRoute]) -> Iterator[tuple[str, str]]:
    for route in routes:
        if isinstance(route, Mount):
            inner = route.app.warm() if isinstance(route.app, Late) else None
            yield from _below(prefix + route.path, getattr(inner, "routes", ()))
            continue
        for method in getattr(route, "methods", None) or ():
            yield method, prefix + getattr(route, "path", "")


def address(path: str, parts: Parts | None = None) -> str:
    """Return a route's path with its parts filled in."""
    given = USUAL | (parts or {})
    return re.sub(r"{(\w+)(:\w+)?}", lambda found: given.get(found[1], "1"), path)
