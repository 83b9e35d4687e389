"""The JSON interface: what the pages show, as data, for scripts and other programs.

Typed values go in as in a design file; results come out as ``springloom ... --json`` gives them,
every key ending in its SI unit. A write may carry ``uid``, a UUID of its own (a reading among its
keys, a design file in the address): the same one again changes nothing and answers the same.
"""

from __future__ import annotations

import uuid
from typing import Annotated, Any, Literal

from fastapi import FastAPI, Path, Query, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, PlainTextResponse
from pydantic import BaseModel, ConfigDict, Field

from springloom import __version__
from springloom.errors import SpringloomError
from springloom.mechanics.analysis import analyse
from springloom.mechanics.stiffness import spread_of
from springloom.records.layout import DesignFile
from springloom.records.table import Typed
from springloom.report.data import forecast_data
from springloom.report.tune_asides import Asides
from springloom.report.tune_data import tune_data
from springloom.store import layout, paddles, people, progress, rounds
from springloom.tune.counsel import counsel
from springloom.units import System
from springloom.web.bench import Bench
from springloom.web.errors import status_of

Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
Kind = Literal["weight", "balance", "caliper", "width", "blade_length", "trace", "bench", "hands",
               "tap", "remark"]
Data = dict[str, Any]


class Body(BaseModel):
    """What is sent; a key nobody knows is refused."""

    model_config = ConfigDict(extra="forbid")


class NewReading(Body):
    """One reading, as its table in a design file."""

    kind: Kind
    table: dict[str, Typed | list[Typed] | list[list[Typed]]] = Field(
        description="the keys of [readings] or of its table of that kind", max_length=20)
    units: System = Field("mm", description="of lengths typed without a unit")
    replaces: Annotated[int, Field(ge=1, le=2**31 - 1)] | None = Field(
        None, description="the reading that this one corrects")
    uid: uuid.UUID | None = Field(None, description="this entry's own mark")


class Fault(BaseModel):
    """What went wrong."""

    field: str
    message: str
    given: str | None
    allowed: str


_SAYS = {404: "It is not in the store", 409: "Somebody else has written in the meantime",
         422: "Something that was sent can be mended", 503: "The store can't be used now"}
_FAULTS: dict[int | str, dict[str, Any]] = {
    code: {"model": Fault, "description": says} for code, says in _SAYS.items()}


def api_app(bench: Bench) -> FastAPI:
    """Return the interface over a bench's store."""
    app = FastAPI(title="Springloom", version=__version__, docs_url=None, redoc_url=None,
                  description=__doc__ or "", responses=_FAULTS)
    app.state.bench = bench
    app.add_exception_handler(SpringloomError, _told)
    app.add_exception_handler(RequestValidationError, _refused)
    _reads(app, bench)
    _writes(app, bench)
    return app


def _reads(app: FastAPI, bench: Bench) -> None:
    store = bench.store

    @app.get("/paddles")
    def list_paddles(aside: Annotated[bool, Query(description="those set aside")] = False,
                     ) -> list[Data]:
        """List the paddles with their stage and the next thing to do."""
        with store.read() as connection:
            found = paddles.paddles(connection, aside=aside)
        return [_paddle(bench, one) for one in found]

    @app.get("/paddles/{paddle}")
    def one_paddle(paddle: Number) -> Data:
        """Show one paddle."""
        with store.read() as connection:
            return _paddle(bench, paddles.paddle(connection, paddle))

    @app.get("/paddles/{paddle}/design")
    def design_file(paddle: Number) -> DesignFile:
        """Give all that is known of a paddle as a design file."""
        with store.read() as connection:
            return layout.layout_of(connection, paddle)

    @app.get("/paddles/{paddle}/forecast")
    def forecast(paddle: Number) -> Data:
        """Say what the design will do: bend, weight, margins."""
        with store.read() as connection:
            design = layout.design_of(connection, paddle)
        wanted = design.target.progression if design.target else None
        result = analyse(design.paddle, design.build, None, wanted)
        return forecast_data(design, result, spread_of(design.build))

    @app.get("/paddles/{paddle}/tune")
    def tune(paddle: Number) -> Data:
        """Say where to plane and when to stop."""
        with store.read() as connection:
            design = layout.design_of(connection, paddle)
        course, target = design.tuned(), design.wanted()
        known = course.now()
        told = counsel(known, target, design.limits, course.rules(design.rules))
        return tune_data(known, told, target, Asides.of(design))

    @app.get("/paddles/{paddle}/readings")
    def readings(paddle: Number) -> list[Data]:
        """List the readings of the open round that stand."""
        with store.read() as connection:
            paddles.paddle(connection, paddle)
            return [_reading(one) for one in rounds.readings(connection, paddle)]

    @app.get("/people")
    def list_people() -> list[Data]:
        """List the paddlers with their latest measures, as typed."""
        with store.read() as connection:
            found = people.people(connection)
        return [{"id": one.id, "name": one.name, "paddler": dict(one.paddler),
                 "units": one.units} for one in found]

    @app.get("/health", response_class=PlainTextResponse)
    def health() -> str:
        """Say that the bench is there."""
        return "here"


def _writes(app: FastAPI, bench: Bench) -> None:
    store = bench.store

    @app.post("/paddles", status_code=201)
    def take_in(
        request: Request, design: DesignFile,
        uid: Annotated[uuid.UUID | None, Query(description="this entry's own mark")] = None,
    ) -> Data:
        """Take in a design file as a new paddle; the answer is the paddle."""
        with store.write(_name(request)) as pen:
            made = layout.take_in(pen, str(uid or uuid.uuid4()), design)
        return _paddle(bench, made)

    @app.post("/paddles/{paddle}/readings", status_code=201)
    def add_reading(request: Request, paddle: Number, sent: NewReading) -> Data:
        """Keep one reading in the open round; opens one if none is."""
        mark = str(sent.uid or uuid.uuid4())
        with store.write(_name(request)) as pen:
            made = rounds.add_reading(pen, mark, paddle, sent.kind, sent.table,
                                      replaces=sent.replaces, units=sent.units)
        return _reading(made)

    @app.delete("/readings/{reading}", status_code=204)
    def withdraw(request: Request, reading: Number) -> None:
        """Withdraw a reading; it stays readable in the paddle's story."""
        with store.write(_name(request)) as pen:
            rounds.withdraw_reading(pen, str(uuid.uuid4()), reading)


def _paddle(bench: Bench, one: paddles.Paddle) -> Data:
    found = progress.progress_of(bench.store, one.id)
    return {"id": one.id, "name": one.name, "person": one.person_id, "board": one.board_id,
            "class": one.class_id, "design_number": one.number, "stage": found.stage,
            "do_now": found.say}


def _reading(one: rounds.StoredReading) -> Data:
    return {"id": one.id, "kind": one.kind, "table": dict(one.table or {}), "units": one.units,
            "made_at": one.made_at.isoformat(), "made_by": one.made_by,
            "replaces": one.replaces}


def _name(request: Request) -> str:
    name: str = request.state.writer.name
    return name


def _told(request: Request, error: Exception) -> JSONResponse:
    del request
    assert isinstance(error, SpringloomError)  # it is registered for these alone
    given = None if error.given is None else _whole(str(error.given))
    return JSONResponse({"field": _whole(error.field), "message": _whole(error.message),
                         "given": given, "allowed": error.allowed}, status_of(error))


def _refused(request: Request, error: Exception) -> JSONResponse:
    """Tell the first thing that is wrong with what was sent."""
    del request
    assert isinstance(error, RequestValidationError)  # it is registered for these alone
    first = error.errors()[0]
    place = ".".join(str(part) for part in first["loc"][1:])
    given = first.get("input")
    short = None if given is None or isinstance(given, dict | list) else _whole(str(given)[:80])
    return JSONResponse({"field": _whole(place[:200]), "message": _whole(first["msg"]),
                         "given": short, "allowed": "what /api/openapi.json says"}, 422)


def _whole(text: str) -> str:
    """Return a text that can be sent: JSON may bring half a character."""
    return text.encode("utf-8", "replace").decode()
