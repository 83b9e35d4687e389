"""Classes: a wood and a target for all, a paddle for each student, and what to buy."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import SpringloomError
from springloom.report.classroom import CLASS_WOOD
from springloom.report.moments import by_whom
from springloom.store.classes import add_class, classes, students
from springloom.store.layout import layout_of
from springloom.store.paddles import ELSEWHERE, paddles
from springloom.units import System
from springloom.web.bench import store_of, system_of, writer_of
from springloom.web.forms import Form, problem_of
from springloom.web.pages.class_page import show
from springloom.web.pages.class_writes import add_file, add_one, ask_pack
from springloom.web.render import onward, page
from springloom.web.routing import get, post
from springloom.wood.species import all_species

_FIELDS = ("name", "like", "board.species", "target.sinks", "target.under")
_BOARD = {"length": "2.4 m", "width": "90 mm", "thickness": "40 mm"}
_OWN = ("format", "name", "note", *(key for key in ELSEWHERE if key != "board"))


def listed(request: Request) -> Response:
    """Show every class."""
    with store_of(request).read() as connection:
        found = [(one, len(students(connection, one.id))) for one in classes(connection)]
    return page(request, "classes/list.html", classes=found, by_whom=by_whom)


def new(request: Request) -> Response:
    """Show the form for a class."""
    return _form(request)


def _form(request: Request, status: int = 200, **values: Any) -> Response:
    with store_of(request).read() as connection:
        likes = [("", "the usual redcedar paddle"), *((one.id, one.name)
                                                      for one in paddles(connection))]
    return page(request, "classes/new.html", status, likes=likes, woods=_woods(),
                usual_wood=CLASS_WOOD, **values)


@functools.cache
def _woods() -> list[tuple[str, str]]:
    return [(one.id, one.common_name) for one in all_species()]


def create(request: Request, form: Form) -> Response:
    """Keep a class."""
    store = store_of(request)
    try:
        base = _like(request, form) if form.text("like") else _plain(form, system_of(request))
        with store.write(writer_of(request).name) as pen:
            made = add_class(pen, form.uid, form.text("name"), base)
    except SpringloomError as error:
        return _form(request, 422, form=form, problem=problem_of(error, _FIELDS))
    return onward(request, f"/classes/{made.id}", form.uid)


def _plain(form: Form, system: System) -> dict[str, Any]:
    """The base of a class that starts from the usual paddle."""
    base: dict[str, Any] = {
        "units": system, "board": {"species": form.text("board.species") or CLASS_WOOD, **_BOARD}}
    target = form.given("target")
    if "sinks" in target:
        base["target"] = target
    return base


def _like(request: Request, form: Form) -> Mapping[str, Any]:
    """The base of a class that is to make paddles like one on the bench."""
    with store_of(request).read() as connection:
        layout = layout_of(connection, form.whole("like"))
    return {key: value for key, value in layout.model_dump(
        exclude_unset=True, exclude_none=True).items() if key not in _OWN}


ROUTES = [
    get("/classes", listed), get("/classes/new", new), post("/classes/new", create),
    get("/classes/{klass:int}", show),
    post("/classes/{klass:int}/students", add_one),
    post("/classes/{klass:int}/file", add_file),
    post("/classes/{klass:int}/pack", ask_pack),
]
