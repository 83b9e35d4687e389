"""Every paddle there ever was: found by what was written of it, put in order, compared."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, TypeVar
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from springloom.fit.body import USES
from springloom.report.moments import day
from springloom.report.words import Words
from springloom.store.figures import Figures
from springloom.store.logbook import ASIDES, ORDERS, WORKS, Asked, Line, choose, lines, work_out
from springloom.web.bench import store_of, words_of
from springloom.web.forms import Problem
from springloom.web.pages.compare import compare
from springloom.web.render import fragment, is_live, page
from springloom.web.routing import get
from springloom.wood.species import all_species

STAGES = (("fit", "to be fitted"), ("wood", "wood to choose"), ("design", "being designed"),
          ("carve", "being carved"), ("tune", "being tuned"), ("done", "done"))
ORDER_NAMES = (("when", "last touched"), ("name", "name"), ("weight", "weight"),
               ("bend", "tip deflection"), ("stiffness", "stiffness of the wood"))
T = TypeVar("T", bound=str)

A_PAGE = 50
_SECONDS = 0.8  # that a page may wait for figures to be worked out


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the logbook in words."""

    id: int
    name: str
    address: str
    stage: str
    whose: str
    class_id: int | None
    class_name: str
    wood: str
    stiffness: str
    length: str
    weight: str
    wanted: str
    now: tuple[str, ...]
    rounds: str
    touched_by: str
    touched: str
    set_aside: bool


@dataclass(frozen=True, slots=True)
class Head:
    """A column's heading, and where it leads to put the list in its order."""

    label: str
    address: str = ""
    sort: str = ""


def logbook(request: Request, problem: Problem | None = None) -> Response:
    """Show the list, or the part of it that a change asks for."""
    asked, number = _asked(request), _number(request)
    every, found, left = _found(request, asked)
    pages = max(1, -(-len(found) // A_PAGE))
    number = min(number, pages)
    shown = found[(number - 1) * A_PAGE: number * A_PAGE]
    values: dict[str, Any] = {
        "asked": asked, "count": len(found), "total": len(every), "left": left,
        "entries": [_entry(one, words_of(request)) for one in shown],
        "heads": _heads(request, asked), "pages": _pages(request, number, pages),
        "again": _address(request), "problem": problem,
    }
    if is_live(request) and "hx-history-restore-request" not in request.headers:
        return fragment(request, "logbook/found.html", **values)
    return page(request, "logbook/logbook.html", 422 if problem else 200,
                choices=_choices(every), **values)


def _found(request: Request, asked: Asked) -> tuple[tuple[Line, ...], tuple[Line, ...], int]:
    """Return every line, those asked for, and how many are still without figures."""
    store = store_of(request)
    with store.read() as connection:
        every = lines(connection)
        found = choose(connection, every, asked)
    if all(one.progress is not None for one in every):
        return every, found, 0
    left = work_out(store, (*found, *every), _SECONDS)
    with store.read() as connection:
        every = lines(connection)
        return every, choose(connection, every, asked), left


def _asked(request: Request) -> Asked:
    """Read what is looked for; what nobody offered is left out."""
    query = request.query_params
    number = query.get("class", "")
    return Asked(
        text=query.get("q", "")[:200], stage=_one_of(query.get("stage"), dict(STAGES), ""),
        species=query.get("wood", "")[:80], use=_one_of(query.get("use"), USES, ""),
        class_id=int(number) if number.isascii() and number.isdigit() else None,
        work=_one_of(query.get("work"), WORKS, ""), aside=_one_of(query.get("aside"), ASIDES, ""),
        order=_one_of(query.get("sort"), ORDERS, "when"), backwards=query.get("back") == "1",
    )


def _one_of(typed: str | None, choices: Iterable[T], usual: T) -> T:
    return next((one for one in choices if one == typed), usual)


def _number(request: Request) -> int:
    typed = request.query_params.get("page", "1")
    return max(1, int(typed)) if typed.isascii() and typed.isdigit() and len(typed) < 6 else 1


def _choices(every: tuple[Line, ...]) -> dict[str, list[tuple[str, str]]]:
    """What there is to choose from: only what some paddle has."""
    woods = {name for one in every for name in one.species}
    classes = {str(one.class_id): one.class_name for one in every if one.class_id is not None}
    return {
        "stage": [("", "any"), *STAGES],
        "wood": [("", "any"), *((name, common) for name, common in _wood_names().items()
                                if name in woods)],
        "use": [("", "any"), *((use, use) for use in USES)],
        "class": [("", "any"), *sorted(classes.items(), key=lambda item: item[1].casefold())],
        "work": [("", "all"), ("under way", "under way"), ("done", "done")],
        "aside": [("", "all"), ("at hand", "at hand"), ("set aside", "set aside")],
        "sort": list(ORDER_NAMES),
    }


@functools.cache
def _wood_names() -> dict[str, str]:
    return {one.id: one.common_name for one in all_species()}


def _entry(one: Line, words: Words) -> Entry:
    progress = one.progress
    figures = None if progress is None else progress.figures
    tab = "story" if progress is None or one.set_aside else progress.tab
    stage = "" if progress is None else dict(STAGES).get(progress.stage, progress.stage)
    names = _wood_names()
    wood = ", ".join(names.get(name, name) for name in one.species)
    entry = Entry(one.id, one.name, f"/paddles/{one.id}/{tab}", stage, one.whose, one.class_id,
                  one.class_name, wood, "", "", "", "", (), str(one.rounds or ""),
                  one.touched_by, day(one.touched_at), one.set_aside)
    return entry if figures is None else _with_figures(entry, figures, words)


def _with_figures(entry: Entry, figures: Figures, words: Words) -> Entry:
    planned = "" if figures.measured else " planned"
    tips: tuple[str, ...] = ()
    if figures.tip_m is not None and not figures.measured:
        tips = (words.length(figures.tip_m) + planned,)
    elif figures.tip_a_m is not None and figures.tip_b_m is not None:
        tips = (f"A {words.length(figures.tip_a_m)}", f"B {words.length(figures.tip_b_m)}")
    return replace(
        entry, length=words.length(figures.length_m), now=tips,
        weight="" if figures.mass_kg is None else words.mass(figures.mass_kg) + planned,
        wanted="" if figures.wanted_m is None else words.length(figures.wanted_m),
        stiffness="" if figures.e_pa is None else words.modulus(figures.e_pa))


_COLUMNS = (("Name", "name"), ("Stage", ""), ("For whom", ""), ("Wood, stiffness", "stiffness"),
            ("Length", ""), ("Weight", "weight"), ("Tip wanted, now", "bend"), ("Rounds", ""),
            ("Last touched", "when"))


def _heads(request: Request, asked: Asked) -> list[Head]:
    heads = []
    for label, order in _COLUMNS:
        if not order:
            heads.append(Head(label))
            continue
        here = asked.order == order
        turned = here and not asked.backwards
        down = asked.backwards != (order == "when")
        heads.append(Head(label, _address(request, sort=order, back="1" if turned else "", page=""),
                          ("descending" if down else "ascending") if here else ""))
    return heads


def _pages(request: Request, number: int, pages: int) -> list[tuple[str, str]]:
    """Where the list goes on: label and address, the address empty for the page at hand."""
    if pages == 1:
        return []
    return [(str(n), "" if n == number else _address(request, page=str(n)))
            for n in range(1, pages + 1)]


def _address(request: Request, **changes: str) -> str:
    """This list's address with some of what was asked for changed."""
    query = {key: value for key, value in request.query_params.items() if value and key in _KEPT}
    query |= changes
    text = urlencode({key: value for key, value in query.items() if value})
    return f"/logbook?{text}" if text else "/logbook"


_KEPT = ("q", "stage", "wood", "use", "class", "work", "aside", "sort", "back", "page")


def compare_chosen(request: Request) -> Response:
    """Show the chosen paddles side by side, or say how many it takes."""
    answer = compare(request)
    if isinstance(answer, Problem):
        return logbook(request, answer)
    return answer


ROUTES = [get("/logbook", logbook), get("/logbook/compare", compare_chosen)]
