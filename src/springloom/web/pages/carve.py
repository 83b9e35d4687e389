"""Carving: stage after stage beside the work, the next one on top, ticked and weighed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import InputError, SpringloomError
from springloom.report.carving_measures import weight_said
from springloom.report.words import Words
from springloom.shape.stages import STAGES
from springloom.store.marks import Mark, mark_history, mark_stage
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.drawn import planned_of
from springloom.web.forms import Form, Problem, problem_of
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.pages import carve_lines
from springloom.web.pages.carve_stage import (
    WEIGHT,
    Stage,
    check_measured,
    guide_of,
    read_weight,
    slug_of,
    stages_of,
    weights_in,
)
from springloom.web.render import fragment, onward
from springloom.web.routing import get, post

_SLUGS = {slug_of(name): name for name in STAGES}


def carve(request: Request) -> Response:
    """Show the next stage, then the others."""
    return _page(request)


def _page(request: Request, problem: Problem | None = None, name: str = "",
          form: Form | None = None) -> Response:
    """Render the page; ``problem`` is of what was typed at the stage ``name``."""
    words, values = words_of(request), dict[str, Any]()
    try:
        guide = guide_of(planned_of(request), words)
    except SpringloomError as error:
        return paddle_page(request, "carve/missing.html", "carve", missing=problem_of(error))
    shown = stages_of(guide, _history(request), words)
    if problem is not None and form is not None:
        values = {"problem": problem, "form": form}
        shown = tuple(_retyped(one, form) if one.name == name else one for one in shown)
    return paddle_page(request, "carve/carve.html", "carve", 422 if problem else 200,
                       **_ordered(shown, name), stages=shown, wrong=name, weight_unit=_unit(words),
                       open=request.query_params.get("open", ""),
                       **values)


def _ordered(shown: tuple[Stage, ...], wrong: str) -> dict[str, Any]:
    """Return the stage to show on top, those after it and those done."""
    open_ones = [one for one in shown if not one.done]
    first = next((one for one in shown if one.name == wrong), None)
    top = first or (open_ones[0] if open_ones else None)
    weighed = [one for one in shown if one.said is not None]
    return {"top": top, "later": [one for one in open_ones if one is not top],
            "done": [one for one in shown if one.done and one is not top],
            "last": weighed[-1] if weighed else None}


def _unit(words: Words) -> str:
    return "in g, or with its unit" if words.system == "mm" else "with its unit, such as 1 lb 9 oz"


def _retyped(one: Stage, form: Form) -> Stage:
    """Put what was typed back into a stage's inputs."""
    groups = tuple((group, tuple(replace(row, typed=form.text(row.name), said=None)
                                 for row in rows)) for group, rows in one.groups)
    return replace(one, groups=groups, weighed=form.text(f"measured.{WEIGHT}"), said=None)


def _history(request: Request) -> tuple[Mark, ...]:
    with store_of(request).read() as connection:
        return mark_history(connection, paddle_id_of(request))


def _stage_of(request: Request) -> str:
    name = _SLUGS.get(request.path_params["stage"])
    if name is None:
        raise HTTPException(404)
    return name


def mark(request: Request, form: Form) -> Response:
    """Tick a stage, take the tick back, or keep what was measured."""
    name, number, units = _stage_of(request), paddle_id_of(request), system_of(request)
    typed = form.given("measured")
    try:
        check_measured(typed, units)
    except InputError as error:
        return _page(request, problem_of(error), name, form)
    do = form.text("do")
    with store_of(request).write(writer_of(request).name) as pen:
        before = [one for one in mark_history(pen.connection, number) if one.stage == name]
        was = bool(before) and before[-1].done
        done = do == "tick" or (do != "untick" and was)
        mark_stage(pen, form.uid, number, name, done, typed, units=units)
    slug = slug_of(name)
    at = "" if do == "tick" else f"?open={slug}#{slug}"
    return onward(request, f"/paddles/{number}/carve{at}", form.uid, _SAID.get(do, "Kept."))


_SAID = {"tick": "Ticked.", "untick": "No longer ticked; the earlier entry stays readable.",
         "keep": "Kept."}


def weigh(request: Request) -> Response:
    """Say at once what a weight tells, before it is kept."""
    name, words = _stage_of(request), words_of(request)
    typed = request.query_params.get(f"measured.{WEIGHT}", "").strip()
    said = problem = None
    if typed:
        try:
            weights = weights_in(_history(request)) | {name: read_weight(typed, words.system)}
            said = weight_said(guide_of(planned_of(request), words).weights, name, weights, words)
        except InputError as error:
            problem = problem_of(error)
    return fragment(request, "carve/said.html", said=said, problem=problem, stage=None)


_AT = "/paddles/{paddle:int}/carve"
ROUTES = [
    get(_AT, carve),
    *carve_lines.ROUTES,
    post(f"{_AT}/{{stage}}", mark),
    get(f"{_AT}/{{stage}}/weigh", weigh),
]
