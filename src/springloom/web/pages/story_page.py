"""A paddle's whole story on one page that prints: from the paddler to what it teaches."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup
from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import SpringloomError
from springloom.records.design import Design, design_from
from springloom.records.layout import DesignFile
from springloom.report.design_text import LOW_END, PROPERTY_HEADS, property_rows
from springloom.report.moments import by_whom
from springloom.report.reading_text import reading_label, reading_text
from springloom.report.sheets import plan_drawings
from springloom.report.story_words import (
    board_facts,
    design_facts,
    paddler_facts,
    stage_weights,
    station_grids,
)
from springloom.report.tune_tables import Grid
from springloom.report.tune_words import target_words
from springloom.report.words import Words
from springloom.store.attachments import attachments
from springloom.store.boards import BoardTest, StoredBoard, board
from springloom.store.kept import Kept
from springloom.store.layout import layout_of
from springloom.store.marks import Mark, marks
from springloom.store.notes import notes
from springloom.store.paddles import Paddle, design_versions, paddle
from springloom.store.people import Person, person
from springloom.store.rounds import StoredReading, StoredRound, all_readings, rounds
from springloom.web.bench import store_of, words_of
from springloom.web.figures import figure
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.media import IMAGES
from springloom.web.pages.design_spots import difference_words
from springloom.web.pages.story_parts import Carved, Read, RoundPart, carved, end_part, round_parts
from springloom.wood.verdict import Verdict, judge


@dataclass(frozen=True)
class Told:
    """Everything the store holds about a paddle, out of one snapshot."""

    layout: DesignFile
    versions: tuple[Paddle, ...]
    person: Person | None
    board: StoredBoard | None
    marks: tuple[Mark, ...]
    rounds: tuple[StoredRound, ...]
    entries: tuple[StoredReading, ...]

    @classmethod
    def of(cls, connection: Connection, number: int) -> Told:
        """Read it."""
        now = paddle(connection, number)
        return cls(
            layout_of(connection, number), design_versions(connection, number),
            None if now.person_id is None else person(connection, now.person_id),
            None if now.board_id is None else board(connection, now.board_id),
            marks(connection, number), rounds(connection, number),
            all_readings(connection, number))


@dataclass(frozen=True)
class Story:
    """The parts of the page, in words and drawings; what can't be worked out is missing.

    Attributes:
        trouble: why something can't be worked out; "" where all can.
        paddler, board, shape: facts.
        tests: of the board.
        verdict, properties: on the board, and what is known of it.
        shape, stations, target, plan: the design, and its drawing.
        changes: what each version of the design changed.
        carving: stage by stage.
        rounds: of tuning.
        end, lessons, lesson_grids: what it came to, and what it teaches.
    """

    trouble: str
    paddler: list[tuple[str, str]]
    board: list[tuple[str, str]]
    tests: list[Read]
    verdict: Verdict | None
    properties: Grid | None
    shape: list[tuple[str, str]]
    stations: list[Grid]
    target: str
    plan: list[Markup]
    changes: list[str]
    carving: list[Carved]
    rounds: list[RoundPart]
    end: list[str]
    lessons: list[str]
    lesson_grids: list[Grid]


def story(request: Request, status: int = 200, **values: Any) -> Response:
    """Show a paddle's story."""
    number, words = paddle_id_of(request), words_of(request)
    every = request.query_params.get("charts") == "all"
    with store_of(request).read() as connection:
        told = Told.of(connection, number)
        written = {"notes": notes(connection, "paddle", number),
                   "files": attachments(connection, "paddle", number)}
    key = hashlib.sha256(repr((told, words, every)).encode()).hexdigest()
    return paddle_page(request, "story/story.html", "story", status, told=told, every=every,
                       images=IMAGES,
                       story=_kept.get(key, lambda: _story(told, words, every=every)),
                       low_end=LOW_END, by_whom=by_whom, **written, **values)


_MOST = 6
_MOST_CHANGES = 6
_kept: Kept[Story] = Kept(_MOST)
"""It takes some tenths of a second, and notes and photos come every time."""


def _story(told: Told, words: Words, *, every: bool) -> Story:
    who, wood = told.person, told.board
    facts = ([] if who is None else paddler_facts(who.paddler, who.units),
             [] if wood is None else board_facts(wood.table, wood.units),
             [] if wood is None else [_test(test) for test in wood.tests])
    changes = [difference_words(was.design, now.design, _MOST_CHANGES)
               for was, now in zip(told.versions, told.versions[1:], strict=False)]
    try:
        design = design_from(told.layout)
    except SpringloomError as error:
        return Story(f"Mend the design: {error}.", *facts, None, None, [], [], "", [],
                     ["", *changes], carved({}, told.marks), [], [], [], [])
    verdict, properties = _wood(design, words)
    parts = round_parts(design, told.rounds, told.entries, words, every=every)
    end = end_part(design, parts.turns, words)
    return Story(
        parts.trouble, *facts, verdict, properties, design_facts(design, words),
        station_grids(design, words), _target(design, words), _plan(design, words),
        ["", *changes], carved(stage_weights(design, words), told.marks), parts.rounds,
        end.weight, end.lessons, end.grids)


def _test(test: BoardTest) -> Read:
    kind, table = "board tap" if test.kind == "tap" else test.kind, test.table or {}
    return Read(reading_label(kind, {}), reading_text(kind, table, test.units),
                by_whom(test.made_by, test.made_at), ())


def _wood(design: Design, words: Words) -> tuple[Verdict | None, Grid | None]:
    if design.board is None:
        return None, None
    try:
        found = design.assessment
    except SpringloomError:
        return None, None
    return judge(found), Grid("What is known of this board", PROPERTY_HEADS,
                              tuple(property_rows(found, words)))


def _target(design: Design, words: Words) -> str:
    if design.target is None:
        return ""
    return target_words(design.name, design.target, design.carried, words)


def _plan(design: Design, words: Words) -> list[Markup]:
    try:
        return [figure(drawing, f"plan{n}-")
                for n, drawing in enumerate(plan_drawings(design, words))]
    except SpringloomError:
        return []  # no wood yet: no weight and bend to letter on it
