"""A new paddle: for whom, of which board, from which start; or a design file taken in."""

from __future__ import annotations

import tomllib
from typing import Any

from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import FileError, InputError, SpringloomError
from springloom.fit.bend import Target
from springloom.fit.dimensions import paddle_from_fit
from springloom.fit.scaled import CLASS_TARGET, scaled_target
from springloom.records.reading import MOST_BYTES, check_layout
from springloom.records.shape_typed import shape_tables, typed_length
from springloom.shape.paddle import Paddle as Shape
from springloom.shape.paddle import default_paddle
from springloom.store.boards import boards
from springloom.store.layout import take_in
from springloom.store.opening import Pen
from springloom.store.paddles import Paddle, add_paddle, paddle, paddles
from springloom.store.people import people, person
from springloom.units import System
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.forms import Form, Problem, Upload, problem_of
from springloom.web.pages.people import fitted
from springloom.web.render import onward, page
from springloom.web.routing import get, post

INPUTS = ("name", "person", "board", "start", "target.sinks", "target.under")
UNDER = "10 lb"
FITTED, USUAL, COPY = "fitted", "usual", "copy-"


def new(request: Request) -> Response:
    """Show the form; the address may say for whom, of which board and like which paddle."""
    return _page(request, Form())


def start(request: Request, form: Form) -> Response:
    """Keep a new paddle and go on to its design."""
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            made = _add(pen, form, system_of(request))
    except SpringloomError as error:
        return _page(request, form, problem_of(error, INPUTS))
    return onward(request, f"/paddles/{made.id}/design", form.uid, f"{made.name} is begun")


def open_file(request: Request, form: Form) -> Response:
    """Take a design file in."""
    try:
        layout = check_layout(_read(form.file("file")))
        with store_of(request).write(writer_of(request).name) as pen:
            made = take_in(pen, form.uid, layout)
    except SpringloomError as error:
        # the file's own keys are no fields of this page, even where they go by the same name
        return _page(request, form, problem_of(error, ("file",)))
    return onward(request, f"/paddles/{made.id}/design", form.uid, f"{made.name} is taken in")


def _read(upload: Upload | None) -> dict[str, Any]:
    """Return a design file's tables.

    Raises:
        FileError: none was chosen, it is too large, no text or no TOML.
    """
    if upload is None:
        raise FileError("none was chosen", field="file", allowed="a design file (TOML)")
    if len(upload.content) > MOST_BYTES:
        raise FileError("is too large for a design file", field="file", given=upload.name,
                        allowed=f"at most {MOST_BYTES} bytes")
    try:
        return tomllib.loads(upload.content.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise FileError("is not text", field="file", given=upload.name,
                        allowed="a TOML file in UTF-8") from None
    except (ValueError, RecursionError) as error:
        raise FileError(f"is not valid TOML: {error}", field="file", given=upload.name,
                        allowed="key = value lines under [table] headings") from None


def _add(pen: Pen, form: Form, system: System) -> Paddle:
    person_id, board_id = _number(form, "person"), _number(form, "board")
    chosen = form.text("start", FITTED)
    if chosen.startswith(COPY):
        tables = _copied(pen.connection, chosen, form)
    else:
        shape = _shape(pen.connection, chosen, person_id)
        tables = {"units": system, **shape_tables(shape, system),
                  "target": _target(form, shape, system)}
    return add_paddle(pen, form.uid, form.text("name"), tables, person_id, board_id)


def _number(form: Form, name: str) -> int | None:
    return form.whole(name) if form.text(name) else None


def _shape(connection: Connection, chosen: str, person_id: int | None) -> Shape:
    """Return the outline to start from.

    Raises:
        InputError: the fitted one is asked for, and nobody to fit it to; or another start.
    """
    if chosen == USUAL:
        return default_paddle()
    if chosen != FITTED:
        raise InputError("is no start", field="start", given=chosen,
                         allowed="fitted, usual, or a paddle to copy")
    if person_id is None:
        raise InputError("needs somebody it is fitted to", field="person",
                         allowed="a paddler, or the usual shape as the start")
    who = person(connection, person_id)
    return paddle_from_fit(fitted(who.paddler, who.units))


def _target(form: Form, shape: Shape, system: System) -> dict[str, Any]:
    """Return the wanted bend as typed; what is usual for this length where nothing was."""
    typed = _bend(form)
    if typed:
        return {"under": UNDER, **typed}
    usual = usual_target(shape)
    return {"sinks": typed_length(usual.deflection_m, system), "under": UNDER,
            "within": typed_length(usual.tolerance_m, system)}


def _bend(form: Form) -> dict[str, str]:
    """Return the bend that was typed; nothing where none was.

    Raises:
        InputError: a weight without a bend under it.
    """
    typed = form.given("target")
    if typed and "sinks" not in typed:
        raise InputError("is missing: a weight alone is no bend", field="target.sinks",
                         allowed="how far the tip sinks under that weight, or both left empty")
    return typed


def usual_target(shape: Shape) -> Target:
    """Return what is usually wanted of a paddle of this length."""
    return scaled_target(CLASS_TARGET, shape.a)


def _copied(connection: Connection, chosen: str, form: Form) -> dict[str, Any]:
    """Return another paddle's design with the bend that was typed, if one was."""
    number = chosen.removeprefix(COPY)
    found = paddle(connection, int(number) if number.isascii() and number.isdigit() else 0)
    tables = {key: value for key, value in found.design.items() if key not in {"format", "name"}}
    typed = _bend(form)
    if typed:
        kept = {key: value for key, value in tables.get("target", {}).items()
                if key not in {"like", "as_light_as_safe"}}
        tables["target"] = kept | typed
    return tables


def _page(request: Request, form: Form, problem: Problem | None = None) -> Response:
    words = words_of(request)
    with store_of(request).read() as connection:
        whom = [("", "nobody yet"), *((one.id, one.name) for one in people(connection))]
        rack = [("", "no board yet"), *((one.id, one.name) for one in boards(connection))]
        others = [(f"{COPY}{one.id}", f"a copy of {one.name}") for one in paddles(connection)]
    asked = request.query_params
    starts = [(FITTED, "the usual shape, fitted to the paddler"),
              (USUAL, f"the usual shape, {words.length(default_paddle().length)} long"), *others]
    begin = f"{COPY}{asked['from']}" if "from" in asked else FITTED if len(whom) > 1 else USUAL
    return page(
        request, "paddles/new.html", 422 if problem else 200, form=form, problem=problem,
        people=whom, boards=rack, starts=starts,
        chosen={"person": form.text("person", asked.get("person", "")),
                "board": form.text("board", asked.get("board", "")),
                "start": form.text("start", begin)},
        usual=words.length(usual_target(default_paddle()).deflection_m),
        usual_length=words.length(default_paddle().length))


ROUTES = [get("/paddles/new", new), post("/paddles/new", start),
          post("/paddles/file", open_file)]
