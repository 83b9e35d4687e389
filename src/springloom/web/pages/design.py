"""The design of one paddle: its shape typed or drawn along, and what it will do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.drawing.oblique import oblique
from springloom.errors import ConflictError, SpringloomError, UnreachableError
from springloom.records.design import Design
from springloom.solid import glb_bytes, mesh_of
from springloom.store.boards import boards
from springloom.store.paddles import Paddle, assign, design_versions, paddle, save_design
from springloom.store.people import people
from springloom.units import System
from springloom.web.bench import store_of, words_of, writer_of
from springloom.web.figures import figure
from springloom.web.forms import Form, Problem, problem_of
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.pages import design_compare
from springloom.web.pages import design_versions as versions_page
from springloom.web.pages.design_bend import Proposal, proposal_of, why_of
from springloom.web.pages.design_conflict import conflict_of, settled
from springloom.web.pages.design_fields import choices_of, field_words, slot_of
from springloom.web.pages.design_form import (
    Typing,
    fields_after,
    fields_of,
    typing_of,
    with_crowns,
)
from springloom.web.pages.design_spots import difference_words
from springloom.web.pages.design_work import board_of, design_typed, parts_of, worked
from springloom.web.render import fragment, is_live, onward
from springloom.web.routing import get, post

PAGE = "design/page.html"


@dataclass(frozen=True)
class Kept:
    """What is in the store: a paddle, and the [board] table of its board."""

    paddle: Paddle
    board: Mapping[str, Any] | None

    @property
    def design(self) -> Design:
        """The kept design in SI, without its readings."""
        return self.typed(self.paddle.design)

    @property
    def units(self) -> System:
        """In which a number alone is meant."""
        units: System = self.paddle.design.get("units", "mm")
        return units

    def typed(self, design: Mapping[str, Any]) -> Design:
        """Return a typed design of this board.

        Raises:
            InputError: something in it can't be; names the field.
        """
        return design_typed(design, self.board)


def _kept(request: Request) -> Kept:
    with store_of(request).read() as connection:
        found = paddle(connection, paddle_id_of(request))
        return Kept(found, board_of(connection, found))


def design_page(request: Request) -> Response:
    """Show the design as it is kept."""
    kept = _kept(request)
    return _page(request, kept, fields_of(kept.paddle.design), kept.design)


def _page(request: Request, kept: Kept, fields: Mapping[str, str], design: Design,
          status: int = 200, **more: Any) -> Response:
    """Render the whole page: fields as typed, and ``design`` drawn and worked out."""
    words = words_of(request)
    with store_of(request).read() as connection:
        history = versions_page.listed(design_versions(connection, kept.paddle.id))
        made_of = _made_of(connection, kept.paddle)
    typed_b = any(name.startswith("blade_b.") for name in fields)
    values = {
        "fields": fields, "kept_paddle": kept.paddle, "units": kept.units,
        "parts": parts_of(worked(design), words), "history": history, "made_of": made_of,
        "labels": field_words(kept.units), "choices": choices_of(),
        "solid": figure(oblique(design.paddle), "solid-"), "proposal": None, "conflict": None,
        "unkept": False, "uid": None, "has_b": typed_b, "seen": kept.paddle.number,
        "compare_with": design_compare.others(request), "told": "",
    }
    return paddle_page(request, PAGE, "design", status, **(values | more))


def _made_of(connection: Any, kept: Paddle) -> dict[str, Any]:
    """Paddlers and boards to choose from, and the chosen ones."""
    return {
        "person_choices": [("", "nobody yet"), *((one.id, one.name) for one in people(connection))],
        "board_choices": [("", "none yet"), *((one.id, one.name) for one in boards(connection))],
        "person_id": kept.person_id, "board_id": kept.board_id,
    }


def live(request: Request, form: Form) -> Response:
    """Answer one change with everything on the page that follows from it."""
    kept = _kept(request)
    typing = typing_of(form, kept.paddle.design)
    told = form.text("told")
    values: dict[str, Any] = {"problem": None, "parts": None, "slot": "", "told": told,
                              "fields": fields_after(form, typing),
                              "turned": form.text("shown_b") != form.text("alike", "yes"),
                              "labels": field_words(kept.units)}
    try:
        design = kept.typed(typing.design)
        values["parts"] = parts_of(worked(design), words_of(request), typing.rows)
    except SpringloomError as error:
        problem = typing.problem_there(error)
        values |= {"problem": problem, "slot": slot_of(problem)}
    return fragment(request, "design/live.html", **values)


def work_out(request: Request, form: Form) -> Response:
    """Show what was typed worked out, nothing kept: where no script runs."""
    if is_live(request):
        return live(request, form)
    kept = _kept(request)
    return _shown(request, kept, form, typing_of(form, kept.paddle.design))


def _shown(request: Request, kept: Kept, form: Form, typing: Typing, status: int = 200,
           problem: Problem | None = None, **more: Any) -> Response:
    """Show the page with what was typed in it; drawn as far as it makes a paddle."""
    try:
        design = kept.typed(typing.design)
    except SpringloomError as error:
        design, problem, status = kept.design, problem or typing.problem(error), 422
    values = {"form": form, "problem": problem, "unkept": True, "uid": form.text("uid"),
              "told": "", "seen": form.text("seen")} | more
    return _page(request, kept, fields_after(form, typing), design, status, **values)


def keep(request: Request, form: Form) -> Response:
    """Keep what was typed as another version."""
    kept = _kept(request)
    typing = typing_of(form, kept.paddle.design)
    design = settled(form, typing.design, kept.paddle.design)
    return _save(request, form, kept, Typing(design, typing.rows), form.text("why"))


def _save(request: Request, form: Form, kept: Kept, typing: Typing, why: str) -> Response:
    try:
        kept.typed(typing.design)  # told by its field before the store sees it
        seen = form.whole("seen")
        why = why or difference_words(kept.paddle.design, typing.design)
        with store_of(request).write(writer_of(request).name) as pen:
            save_design(pen, form.uid, kept.paddle.id, typing.design, why, seen)
    except ConflictError as error:
        with store_of(request).read() as connection:
            conflict = conflict_of(connection, kept.paddle.id, form, typing.design, error)
        return _shown(request, kept, form, typing, 409, conflict=conflict,
                      seen=kept.paddle.number)
    except SpringloomError as error:
        return _shown(request, kept, form, typing, 422, typing.problem(error))
    return onward(request, f"/paddles/{kept.paddle.id}/design", form.uid,
                  "Kept as a new version.")


def propose(request: Request, form: Form) -> Response:
    """Show the thickness for the wanted bend beside the present one."""
    kept = _kept(request)
    typing = typing_of(form, kept.paddle.design)
    proposal, problem = _proposal(request, kept, typing)
    if is_live(request):
        return fragment(request, "design/proposal.html", proposal=proposal, problem=problem)
    return _shown(request, kept, form, typing, 422 if problem else 200, problem,
                  proposal=proposal)


def _proposal(request: Request, kept: Kept, typing: Typing) -> tuple[Proposal | None,
                                                                   Problem | None]:
    try:
        design = kept.typed(typing.design)
        return proposal_of(design, words_of(request)), None
    except UnreachableError as error:
        return None, problem_of(error)
    except SpringloomError as error:
        return None, typing.problem_there(error) if is_live(request) else typing.problem(error)


def take(request: Request, form: Form) -> Response:
    """Put the proposed thickness into the stations, as a new version."""
    kept = _kept(request)
    typing = typing_of(form, kept.paddle.design)
    proposal, problem = _proposal(request, kept, typing)
    if proposal is None:
        return _shown(request, kept, form, typing, 422, problem)
    design = with_crowns(typing.design, [one.half for one in proposal.made])
    return _save(request, form, kept, Typing(design, typing.rows),
                 form.text("why") or why_of(proposal, words_of(request)))


def made_of(request: Request, form: Form) -> Response:
    """Say for whom the paddle is and of which board."""
    number = paddle_id_of(request)
    chosen = {key: form.whole(key) if form.text(key) else None
              for key in ("person_id", "board_id")}
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            assign(pen, form.uid, number, **chosen)
    except SpringloomError as error:
        kept = _kept(request)
        return _page(request, kept, fields_of(kept.paddle.design), kept.design, 422,
                     problem=problem_of(error))
    return onward(request, f"/paddles/{number}/design", form.uid, "Kept.")


def solid_view(request: Request) -> Response:
    """Show the solid to be turned about, once it is asked for: its scripts are large."""
    number = _kept(request).paddle.number
    address = f"/paddles/{paddle_id_of(request)}/design/solid.glb?{number}"
    return fragment(request, "design/solid.html", address=address)


def solid(request: Request) -> Response:
    """Send the kept design as a solid to be turned."""
    made = _kept(request).design
    return Response(glb_bytes(mesh_of(made.paddle), made.name), media_type="model/gltf-binary")


_AT = "/paddles/{paddle:int}/design"
ROUTES = [
    get(_AT, design_page), post(_AT, keep), post(f"{_AT}/live", live),
    post(f"{_AT}/work", work_out), post(f"{_AT}/bend", propose), post(f"{_AT}/take", take),
    post(f"{_AT}/made-of", made_of), get(f"{_AT}/solid", solid_view),
    get(f"{_AT}/solid.glb", solid),
    *versions_page.ROUTES, *design_compare.ROUTES,
]
