"""The tuning page: what to do now, one reading at a time, what to plane, and when to stop."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import ConflictError, InputError, SpringloomError
from springloom.report.walk_words import step_title
from springloom.store.opening import Pen
from springloom.store.rounds import (
    StoredReading,
    add_reading,
    close_round,
    reading,
    reading_history,
    withdraw_reading,
)
from springloom.tune.walk import Step
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.forms import Form, Problem, problem_of
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.pages import tune_target
from springloom.web.pages.tune_advice import advice_view, grounds_view
from springloom.web.pages.tune_blades import blade_views, weight_cell
from springloom.web.pages.tune_doubts import answer, questions
from springloom.web.pages.tune_entries import entry_words, latest, log_of, version
from springloom.web.pages.tune_kinds import SHEETS, Sheet, filled, table_from, typed_in
from springloom.web.pages.tune_kinds import field_of as sheet_field_of
from springloom.web.pages.tune_rounds import (
    advice_data,
    past_rounds,
    planed_field,
    planed_rows,
    planed_tables,
    since,
)
from springloom.web.pages.tune_state import Tuning, tuning_of
from springloom.web.pages.tune_steps import (
    MASS_UNITS,
    asked,
    asking,
    field_of,
    kind_of,
    left_out,
    table_of,
)
from springloom.web.render import onward
from springloom.web.routing import get, post

_HERE = "/paddles/{paddle:int}/tune"


def tune(request: Request) -> Response:
    """Show where the tuning stands."""
    return _page(request)


def _home(request: Request) -> str:
    return f"/paddles/{paddle_id_of(request)}/tune"


def _tuning(request: Request) -> Tuning:
    return tuning_of(store_of(request), paddle_id_of(request))


def _page(request: Request, status: int = 200, *, chosen: str = "", **values: Any) -> Response:
    """The whole page; ``chosen`` is the reading to ask for."""
    tuning, words = _tuning(request), words_of(request)
    query = request.query_params
    step = asked(tuning, chosen or query.get("step", ""), query.get("after", ""))
    found = tuning.worked
    rest = [(one.key, step_title(one)) for one in left_out(tuning)]
    return paddle_page(
        request, "tune/tune.html", "tune", status, tuning=tuning, home=_home(request),
        asking=None if step is None else asking(tuning, step, words), left_out=rest,
        blades=blade_views(tuning, step, words), weight=weight_cell(tuning, step, words),
        advice=None if found is None else advice_view(tuning, found, words),
        grounds=None if found is None or (step is not None and "all" not in query)
        else grounds_view(tuning, found, words),
        questions=[] if found is None else questions(tuning, found),
        planed=planed_rows(tuning) if tuning.entries else [],
        pass_text=words.thin(tuning.design.rules.pass_m),
        log=log_of(tuning.every, tuning.number), past=past_rounds(tuning, words),
        sheets=[(kind, sheet.title) for kind, sheet in SHEETS.items()],
        latest=latest(tuning.every, tuning.number),
        mass_units=MASS_UNITS[system_of(request)],
        **{"conflict": [], "seen": tuning.seen, **values})


def read_step(request: Request, form: Form) -> Response:
    """Keep one reading of the walk, and go on to the next."""
    tuning, key = _tuning(request), form.text("step")
    try:
        step = _step(tuning, key)
        table = table_of(step, form, tuning, system_of(request))
        with store_of(request).write(writer_of(request).name) as pen:
            made = add_reading(pen, form.uid, tuning.paddle.id, kind_of(step), table,
                               units=system_of(request))
    except InputError as error:
        problem = problem_of(error.about(field_of(error.field)), ("value", "load", "tool", "step"))
        return _page(request, 422, chosen=key, form=form, problem=problem)
    return onward(request, f"{_home(request)}?after={step.key}#reading", form.uid,
                  f"Kept: {entry_words(made)}")


def _step(tuning: Tuning, key: str) -> Step:
    found = next((step for step in tuning.steps if step.key == key), None)
    if found is None:
        raise InputError("is not among the readings of a round", field="step", given=key,
                         allowed="those the page lists")
    return found


def new_reading(request: Request) -> Response:
    """Show the form for any kind of reading."""
    sheet = _sheet(request)
    return _sheet_page(request, sheet, filled=filled(sheet, None))


def _sheet(request: Request) -> Sheet:
    kind = request.path_params["kind"]
    if kind not in SHEETS:
        raise InputError("is no kind of reading", field="kind", given=kind,
                         allowed=", ".join(SHEETS))
    return SHEETS[kind]


def _sheet_page(request: Request, sheet: Sheet, status: int = 200, **values: Any) -> Response:
    return paddle_page(request, "tune/sheet.html", "tune", status, sheet=sheet,
                       home=_home(request), **{"entry": None, "history": [], **values})


def add_any(request: Request, form: Form) -> Response:
    """Keep a reading of any kind."""
    sheet, system = _sheet(request), system_of(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            made = add_reading(pen, form.uid, paddle_id_of(request), sheet.kind,
                               table_from(sheet, form), units=system)
    except InputError as error:
        return _sheet_page(request, sheet, 422, form=form, filled=typed_in(sheet, form),
                           problem=problem_of(error.about(sheet_field_of(error.field))))
    return onward(request, _home(request), form.uid, f"Kept: {entry_words(made)}")


def one_reading(request: Request) -> Response:
    """Show one reading with all its versions, to be corrected or withdrawn."""
    return _entry_page(request)


def _entry_page(request: Request, status: int = 200, form: Form | None = None,
                problem: Problem | None = None) -> Response:
    with store_of(request).read() as connection:
        entry = reading(connection, int(request.path_params["reading"]))
        history = reading_history(connection, entry.id)
    _of_this_paddle(request, entry)
    last = history[-1]
    sheet = SHEETS[entry.kind]
    stands = filled(sheet, last.table) if form is None else typed_in(sheet, form)
    return _sheet_page(request, sheet, status, entry=last, filled=stands, problem=problem,
                       history=[version(one) for one in reversed(history)],
                       **({"form": form} if form else {}))


def _of_this_paddle(request: Request, entry: StoredReading) -> None:
    if entry.paddle_id != paddle_id_of(request):
        raise InputError("is of another paddle", field="reading", given=entry.id)


def correct(request: Request, form: Form) -> Response:
    """Put another reading in a reading's place."""
    store = store_of(request)
    try:
        with store.write(writer_of(request).name) as pen:
            made = _replaced(pen, request, form)
    except ConflictError as error:
        return _entry_page(request, 422, form, problem_of(error))
    except InputError as error:
        return _entry_page(request, 422, form,
                           problem_of(error.about(sheet_field_of(error.field))))
    return onward(request, _home(request), form.uid, f"Corrected: {entry_words(made)}")


def _replaced(pen: Pen, request: Request, form: Form) -> StoredReading:
    old = reading(pen.connection, int(request.path_params["reading"]))
    _of_this_paddle(request, old)
    return add_reading(pen, form.uid, old.paddle_id, old.kind, table_from(SHEETS[old.kind], form),
                       old.id, units=old.units)


def withdraw(request: Request, form: Form) -> Response:
    """Let a reading no longer count."""
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            old = reading(pen.connection, int(request.path_params["reading"]))
            _of_this_paddle(request, old)
            withdraw_reading(pen, form.uid, old.id)
    except ConflictError as error:
        return _entry_page(request, 422, problem=problem_of(error))
    return onward(request, _home(request), form.uid, f"Withdrawn: {entry_words(old)}")


def answer_question(request: Request, form: Form) -> Response:
    """Make the entries that a question's answer asks for."""
    tuning = _tuning(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            count = answer(pen, form, tuning)
    except SpringloomError as error:
        return _page(request, 422, problem=problem_of(error, ("value",)))
    what = "One reading is" if count == 1 else f"{count} readings are"
    return onward(request, _home(request), form.uid, f"{what} put right.")


def close(request: Request, form: Form) -> Response:
    """End the round: what was advised, and what was really planed."""
    tuning = _tuning(request)
    tables: list[dict[str, Any]] = []
    try:
        tables = planed_tables(form, tuning)
        with store_of(request).write(writer_of(request).name) as pen:
            ended = close_round(pen, form.uid, tuning.paddle.id, advice_data(tuning), tables,
                                form.whole("seen"))
    except ConflictError as error:
        added = since(tuning.every, tuning.number, form.whole("seen"))
        return _page(request, 422, form=form, conflict=added, problem=problem_of(error))
    except SpringloomError as error:
        known = problem_of(error.about(planed_field(error, tables, tuning)))
        return _page(request, 422, form=form, problem=known)
    return onward(request, _home(request), form.uid,
                  f"Round {ended.number} is kept. Clamp anew and measure.")


ROUTES = [
    get(_HERE, tune), post(f"{_HERE}/readings", read_step),
    get(f"{_HERE}/new/{{kind}}", new_reading), post(f"{_HERE}/new/{{kind}}", add_any),
    get(f"{_HERE}/readings/{{reading:int}}", one_reading),
    post(f"{_HERE}/readings/{{reading:int}}", correct),
    post(f"{_HERE}/readings/{{reading:int}}/withdraw", withdraw),
    post(f"{_HERE}/answers", answer_question), post(f"{_HERE}/rounds", close),
    *tune_target.ROUTES,
]
