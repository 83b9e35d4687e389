"""Parts of a paddle's story: carving, rounds of tuning, its end and what it teaches."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from springloom.records.design import Design
from springloom.report.carving_measures import TITLES
from springloom.report.moments import by_whom
from springloom.report.reading_text import reading_label, reading_text
from springloom.report.story_rounds import (
    CUBE_ROOT,
    Turn,
    advised_words,
    came_grid,
    came_of,
    kept_words,
    lesson_words,
    removal_grid_of,
    turns_of,
    wood_grid,
)
from springloom.report.story_words import measured_text
from springloom.report.tune_plots import tune_drawings
from springloom.report.tune_tables import Grid
from springloom.report.tune_words import weight_words
from springloom.report.words import Words
from springloom.shape.stages import STAGES
from springloom.store.marks import Mark
from springloom.store.rounds import Closing, StoredReading, StoredRound
from springloom.units import parse_length
from springloom.web.figures import figure


@dataclass(frozen=True, slots=True)
class Carved:
    """One stage of carving: whether it is done, by whom and when, what it weighed and should."""

    stage: str
    done: bool
    by: str
    measured: str
    should: str


def carved(weights: Mapping[str, str], ticked: Sequence[Mark]) -> list[Carved]:
    """Every stage in its order."""
    marks = {mark.stage: mark for mark in ticked}
    return [_carved(stage, marks.get(stage), weights.get(stage, "")) for stage in STAGES]


def _carved(stage: str, mark: Mark | None, should: str) -> Carved:
    if mark is None:
        return Carved(TITLES[stage], False, "", "", should)
    return Carved(TITLES[stage], mark.done, by_whom(mark.made_by, mark.made_at),
                  measured_text(mark.measured, mark.units), should)


@dataclass(frozen=True, slots=True)
class Read:
    """One reading that stands, and what it said before it was corrected, the first one first."""

    label: str
    said: str
    by: str
    before: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RoundPart:
    """One round.

    Attributes:
        number, over: which, and whether it is.
        read: readings that stand.
        withdrawn: readings that were taken back.
        advised: in sentences.
        then: whether that is as it was kept, not as worked out now.
        planed: what was taken off.
        closed: by whom and when.
        came: what came of it.
        charts: line, curvature and thickness of each blade.
    """

    number: int
    over: bool
    read: list[Read]
    withdrawn: list[str]
    advised: list[str]
    then: bool
    planed: list[str]
    closed: str
    came: Grid | None
    charts: list[Markup]


@dataclass(frozen=True)
class Rounds:
    """All of them, what their readings told, and why that ended early."""

    rounds: list[RoundPart]
    turns: tuple[Turn, ...]
    trouble: str


def round_parts(design: Design, rounds: Sequence[StoredRound], entries: Sequence[StoredReading],
                words: Words, *, every: bool) -> Rounds:
    """Put the rounds together; charts of the last, or of ``every`` one."""
    turns, trouble = turns_of(design)
    last = len(turns) - 1
    found = []
    for n, one in enumerate(rounds):
        turn = turns[n] if n < len(turns) else None
        charts = _charts(design, one, turn, words) if every or n == last else []
        own = [entry for entry in entries if entry.round == one.number]
        found.append(_round(one, own, words, turn, charts, _came(design, turns, n, words)))
    return Rounds(found, turns, trouble)


def _round(one: StoredRound, entries: Sequence[StoredReading], words: Words, turn: Turn | None,
           charts: list[Markup], came: Grid | None) -> RoundPart:
    ended = one.closing
    kept = kept_words(ended.advice, words) if ended else []
    advised = [] if turn is None or turn.told is None else advised_words(turn.told, words)
    return RoundPart(
        one.number, not one.is_open, _read(entries), _withdrawn(entries), kept or advised,
        bool(kept), [] if ended is None else _planed(ended, words),
        "" if ended is None else by_whom(ended.made_by, ended.made_at), came, charts)


def _charts(design: Design, one: StoredRound, turn: Turn | None, words: Words) -> list[Markup]:
    if turn is None or turn.told is None:
        return []
    return [figure(drawing, f"r{one.number}{side}-")
            for side, drawing in tune_drawings(design.name, turn.told, words).items()]


def _came(design: Design, turns: Sequence[Turn], n: int, words: Words) -> Grid | None:
    if n >= len(design.rounds) or n >= len(turns):
        return None
    after = turns[n + 1] if n + 1 < len(turns) else None
    came = came_of(turns[n], design.rounds[n].removals, after)
    return came_grid(came, words) if came else None


def _read(entries: Sequence[StoredReading]) -> list[Read]:
    by_id = {entry.id: entry for entry in entries}
    replaced = {entry.replaces for entry in entries}
    return [Read(reading_label(entry.kind, entry.table), _said(entry),
                 by_whom(entry.made_by, entry.made_at), _before(by_id, entry))
            for entry in entries if entry.table is not None and entry.id not in replaced]


def _before(by_id: Mapping[int, StoredReading], entry: StoredReading) -> tuple[str, ...]:
    found: list[str] = []
    while entry.replaces is not None:
        entry = by_id[entry.replaces]
        found.insert(0, f"{_said(entry)} ({by_whom(entry.made_by, entry.made_at)})")
    return tuple(found)


def _said(entry: StoredReading) -> str:
    return "" if entry.table is None else reading_text(entry.kind, entry.table, entry.units)


def _withdrawn(entries: Sequence[StoredReading]) -> list[str]:
    by_id = {entry.id: entry for entry in entries}
    found = []
    for entry in entries:
        if entry.table is None and entry.replaces in by_id:
            old = by_id[entry.replaces]
            label = reading_label(old.kind, old.table or {})
            found.append(f"{label}, {_said(old)}: withdrawn by "
                         f"{by_whom(entry.made_by, entry.made_at)}")
    return found


def _planed(ended: Closing, words: Words) -> list[str]:
    return [f"Blade {str(table['blade']).upper()}, off each face: " + ", ".join(
        f"{words.thin(parse_length(off, default=ended.units))} at {place}"
        for place, off in zip(table["at"], table["per_face"], strict=False))
        for table in ended.planed]


@dataclass(frozen=True, slots=True)
class End:
    """Weight and balance as last known, and what the whole tuning teaches."""

    weight: list[str]
    lessons: list[str]
    grids: list[Grid]


def end_part(design: Design, turns: Sequence[Turn], words: Words) -> End:
    """Put it together; empty before anything was read."""
    if not turns:
        return End([], [], [])
    told = turns[-1].told
    weight = [] if told is None or told.prediction is None else [
        _sentence(weight_words(told.prediction, words))]
    removal = removal_grid_of(design, turns, words)
    return End(weight, [*lesson_words(turns, words), CUBE_ROOT],
               [wood_grid(turns, words), *([removal] if removal else [])])


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
