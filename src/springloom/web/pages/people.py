"""Body and boat: measures, the dimensions that follow from them, and every rule behind these."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from springloom.drawing.body_figure import body_figures
from springloom.errors import ConflictError, InputError, SpringloomError
from springloom.fit.body import MEASURES, USES
from springloom.fit.dimensions import FitResult, fit
from springloom.records.design import design_from
from springloom.records.reading import check_layout
from springloom.report.fit_words import FitWords, fit_words
from springloom.report.words import Words
from springloom.store.paddles import paddles
from springloom.store.people import (
    Person,
    add_person,
    body_history,
    measure_person,
    people,
    person,
    rename_person,
)
from springloom.store.progress import progress_of
from springloom.store.typed import in_units
from springloom.units import System, Typed
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.conflicts import Changed, changed, differences
from springloom.web.figures import figure
from springloom.web.forms import Form, problem_of
from springloom.web.frame import next_address
from springloom.web.moments import when
from springloom.web.render import fragment, is_live, onward, page
from springloom.web.routing import get, post

_HOW = {
    "height": "barefoot against a wall, from the ground to the top of the head",
    "boat_beam": "across the boat at its widest; leave it empty if there is no boat yet",
    **{measure.field.removesuffix("_m"): measure.how for measure in MEASURES},
}
_NAMES = {
    "height": "height",
    **{measure.field.removesuffix("_m"): measure.name for measure in MEASURES},
    "boat_beam": "boat's beam", "use": "use",
}
FIELDS = tuple(_NAMES.items())
"""Keys of the [paddler] table, and what they are called."""
INPUTS = ("name", *(f"paddler.{key}" for key in _NAMES))
_STEPS = (("Standing", ("height", "arm_span")), ("In the boat", ("shoulder_breadth", "boat_beam")),
          ("Forearm", ("cubit", "hand_length")), ("Grip", ("grip_circumference",)))
_USE_WORDS = {"touring": "touring", "rolling": "rolling", "storm": "a storm paddle, the spare"}


@dataclass(frozen=True, slots=True)
class Step:
    """What is measured together: the figure that shows it, and its fields."""

    title: str
    picture: Markup
    fields: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Listed:
    """One person of the list."""

    person: Person
    measures: str
    proposal: str


@dataclass(frozen=True, slots=True)
class Version:
    """One set of measures: when, by whom, and what it changed."""

    when: str
    who: str
    changes: tuple[tuple[str, str, str], ...]


def fitted(table: Mapping[str, object], units: System) -> FitResult:
    """Return the dimensions for a typed [paddler] table.

    Raises:
        InputError: a measure is missing, can't be read or belongs to no body; names the key.
    """
    layout = check_layout({"format": 1, "name": "-", "units": units, "paddler": dict(table)})
    design = design_from(layout)
    assert design.body is not None  # the table is there
    return fit(design.body, design.boat, design.use)


def steps() -> tuple[Step, ...]:
    """Return what to measure, in order."""
    return tuple(
        Step(title, figure(drawing, f"body{i}-"),
             tuple((key, _NAMES[key].capitalize(), _HOW[key]) for key in keys))
        for i, ((title, keys), drawing) in enumerate(zip(_STEPS, body_figures(), strict=True)))


def everybody(request: Request) -> Response:
    """List everybody whose measures are kept."""
    words = words_of(request)
    with store_of(request).read() as connection:
        found = [_listed(one, words) for one in people(connection)]
    return page(request, "people/list.html", people=found)


def _listed(one: Person, words: Words) -> Listed:
    """Say who it is and what length follows; stored measures always make a body."""
    table = in_units("paddler", one.paddler, one.units, words.system)
    said = fit_words(fitted(table, words.system), words)
    length = said.dimensions[0]
    measures = f"{table.get('use', 'touring')}, height {_with_unit(table['height'], words.system)}"
    return Listed(one, measures, f"{length.name} {length.proposed}")


def _with_unit(typed: Typed, system: System) -> str:
    """Return a typed length with the unit a bare number is meant in."""
    other: System = "in" if system == "mm" else "mm"
    return str(in_units("paddler", {"height": typed}, system, other)["height"])


def new(request: Request) -> Response:
    """Show the empty form."""
    return _form_page(request, None, {"use": "touring"})


def add(request: Request, form: Form) -> Response:
    """Keep a new person."""
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            made = add_person(pen, form.uid, form.text("name"), form.given("paddler"),
                              units=system_of(request))
    except InputError as error:
        return _form_page(request, None, form.given("paddler"), form, error)
    return onward(request, f"/people/{made.id}", form.uid, f"{made.name} is measured")


def one(request: Request) -> Response:
    """Show a person's measures and the dimensions that follow."""
    who = _asked(request)
    table = in_units("paddler", who.paddler, who.units, system_of(request))
    return _form_page(request, who, {"use": "touring"} | table)


def measure(request: Request, form: Form) -> Response:
    """Keep new measures of a person."""
    who, table, system = _asked(request), form.given("paddler"), system_of(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            measure_person(pen, form.uid, who.id, table, form.whole("seen"), units=system)
    except ConflictError as error:
        who = _asked(request)
        theirs = in_units("paddler", who.paddler, who.units, system)
        return _form_page(request, who, table, form, None, changed(error, FIELDS, theirs, table))
    except InputError as error:
        return _form_page(request, who, table, form, error)
    return onward(request, f"/people/{who.id}", form.uid, "The measures are kept")


def rename(request: Request, form: Form) -> Response:
    """Call a person otherwise."""
    who = _asked(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            rename_person(pen, form.uid, who.id, form.text("name"))
    except InputError as error:
        return _form_page(request, who, who.paddler, form, error)
    return onward(request, f"/people/{who.id}", form.uid)


def show(request: Request, form: Form) -> Response:
    """Show the dimensions for what is typed, kept or not."""
    table = form.given("paddler")
    if not is_live(request):
        who = _asked(request) if "person" in request.path_params else None
        return _form_page(request, who, table, form, _wrong(table, system_of(request)))
    try:
        return fragment(request, "people/fit.html", fit=_told(table, request), waiting="")
    except SpringloomError as error:
        problem = problem_of(error, INPUTS)
        key = problem.field.removeprefix("paddler.")
        waiting = "" if not table else f"{_NAMES.get(key, key).capitalize()}: {error.message}."
        return fragment(request, "people/fit.html", fit=None, waiting=waiting)


def _wrong(table: Mapping[str, object], system: System) -> InputError | None:
    try:
        fitted(table, system)
    except InputError as error:
        return error
    return None


def _told(table: Mapping[str, object], request: Request) -> FitWords:
    words = words_of(request)
    return fit_words(fitted(table, words.system), words)


def _asked(request: Request) -> Person:
    with store_of(request).read() as connection:
        return person(connection, int(request.path_params["person"]))


def _form_page(request: Request, who: Person | None, table: Mapping[str, object],
               form: Form | None = None, error: InputError | None = None,
               other: Changed | None = None) -> Response:
    """Render the measures with what follows from them; typed text stays in its fields."""
    told = None
    if error is None and "height" in table:
        wrong = _wrong(table, system_of(request))
        told = _told(table, request) if wrong is None else None
        error = wrong if form is not None else None
    problem = None if error is None else problem_of(error, INPUTS)
    return page(
        request, "people/person.html", 409 if other else 422 if problem else 200, who=who,
        table=table, form=form or Form(), problem=problem, changed=other, fit=told, waiting="",
        steps=steps(), uses=[(use, _USE_WORDS[use]) for use in USES],
        history=[] if who is None else _history(request, who),
        paddles=[] if who is None else _paddles_of(request, who))


def _paddles_of(request: Request, who: Person) -> list[tuple[str, str]]:
    """Where each of their paddles goes on, and what it is called."""
    store = store_of(request)
    with store.read() as connection:
        theirs = [one for one in paddles(connection) if one.person_id == who.id]
    return [(next_address(one.id, progress_of(store, one.id)), one.name) for one in theirs]


def _history(request: Request, who: Person) -> list[Version]:
    """Every set of measures, the newest first, each by what it changed."""
    with store_of(request).read() as connection:
        kept = body_history(connection, who.id)
    system, before, found = system_of(request), dict[str, object](), list[Version]()
    for one in kept:
        table = in_units("paddler", one.paddler, one.units, system)
        shown = {key: value if key == "use" else _with_unit(value, system)
                 for key, value in table.items()}
        found.append(Version(when(one.made_at), one.made_by,
                             differences(FIELDS, before, shown)))
        before = shown
    return found[::-1]


ROUTES = [
    get("/people", everybody), get("/people/new", new), post("/people/new", add),
    post("/people/fit", show), get("/people/{person:int}", one),
    post("/people/{person:int}", measure), post("/people/{person:int}/fit", show),
    post("/people/{person:int}/name", rename),
]
