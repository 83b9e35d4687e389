"""Which of these boards for this paddle: side by side, the best first."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import InputError
from springloom.fit.choice import in_order, promise, suitability
from springloom.records.design import Design
from springloom.report.choice_words import SCHEDULE_HEADS, ChoiceWords, choice_words
from springloom.report.words import Words
from springloom.store.boards import StoredBoard, boards
from springloom.store.layout import design_of
from springloom.store.paddles import Paddle, assign, paddle, paddles
from springloom.web.bench import store_of, words_of, writer_of
from springloom.web.forms import Form, problem_of
from springloom.web.pages.boards_known import Known, known_of
from springloom.web.render import onward, page
from springloom.web.routing import get, post

_suitability = functools.lru_cache(maxsize=256)(suitability)
_promise = functools.lru_cache(maxsize=256)(promise)

AT_ONCE = 12
"""Boards reckoned through unasked: more take seconds, and of more nobody chooses at a glance."""


@dataclass(frozen=True, slots=True)
class Laid:
    """The boards as they lie: reckoned through, promising less, and with hopeless readings."""

    choices: tuple[Choice, ...] = ()
    rest: tuple[StoredBoard, ...] = ()
    hopeless: tuple[tuple[StoredBoard, Known], ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """One board of the comparison."""

    board: StoredBoard
    known: Known
    words: ChoiceWords


def compare(request: Request) -> Response:
    """Show what each board would make of a paddle."""
    typed = request.query_params.get("paddle", "")
    number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 10 else 0
    return _page(request, number)


def choose(request: Request, form: Form) -> Response:
    """Make the paddle of that board."""
    number = form.whole("paddle")
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            made = assign(pen, form.uid, number, board_id=form.whole("board"))
    except InputError as error:
        return _page(request, number, error)
    return onward(request, f"/paddles/{made.id}/design", form.uid, "The board is chosen")


def _page(request: Request, number: int, error: InputError | None = None) -> Response:
    with store_of(request).read() as connection:
        every, rack = paddles(connection), boards(connection)
        only = every[0] if len(every) == 1 else None
        asked = paddle(connection, number) if number else only
        design = None if asked is None else design_of(connection, asked.id)
    problem = None if error is None else problem_of(error, ("paddle",))
    most = len(rack) if "all" in request.query_params else AT_ONCE
    laid = Laid() if design is None else _laid(design, rack, words_of(request), most)
    return page(request, "boards/compare.html", 422 if problem else 200, problem=problem,
                paddles=[(one.id, one.name) for one in every], asked=asked, laid=laid,
                rack=rack, laminated=design is not None and design.layup is not None,
                wanted=_wanted(design, asked, words_of(request)), heads=SCHEDULE_HEADS)


def _wanted(design: Design | None, asked: Paddle | None, words: Words) -> str:
    """Say what the boards are looked at for."""
    if design is None or asked is None:
        return ""
    length = f"{asked.name}, {words.length(design.paddle.length)} long"
    if design.target is None:
        return f"{length}; no bend is wanted of it yet"
    aim = design.target
    return (f"{length}; its tip is to sink {words.length(aim.deflection_m)} under "
            f"{words.hung(aim.load_n)}")


def _laid(design: Design, rack: tuple[StoredBoard, ...], words: Words, most: int) -> Laid:
    """Reckon the most promising boards through and put them in order."""
    if design.layup is not None:
        return Laid()
    seen = [(one, known_of(one)) for one in rack]
    sound = [(one, known, known.assessment) for one, known in seen if known.assessment is not None]
    sound.sort(key=lambda each: _promise(design.paddle, each[2]))
    found = [_suitability(design.paddle, assessment, design.target, design.limits)
             for _, _, assessment in sound[:most]]
    order = in_order(found)
    said = choice_words(design.paddle, [found[i] for i in order], words)
    return Laid(tuple(Choice(sound[i][0], sound[i][1], one)
                      for i, one in zip(order, said, strict=True)),
                tuple(one for one, _, _ in sound[most:]),
                tuple((one, known) for one, known in seen if known.assessment is None))


ROUTES = [get("/boards/compare", compare), post("/boards/compare", choose)]
