"""Ending a round with what was really planed, and what earlier rounds came to."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from springloom.errors import InputError, SpringloomError
from springloom.records.design import Design
from springloom.report.reading_text import typed_text
from springloom.report.tune_asides import Asides
from springloom.report.tune_data import tune_data
from springloom.report.tune_tables import Grid
from springloom.report.words import Words
from springloom.store.rounds import StoredReading, StoredRound
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import SIDES, BenchReading, HandsReading, Side
from springloom.tune.rounds import steps
from springloom.units import METRE_PER_INCH, System
from springloom.web.forms import Form
from springloom.web.moments import when
from springloom.web.pages.tune_entries import Line, entry_words, log_of
from springloom.web.pages.tune_state import Tuning

_COUNT = re.compile(r"^[0-9]{1,9}(\.[0-9]{1,9})?$")
_PLANED = re.compile(r"planed\[(\d+)\]\.(?:per_face|at)\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class PlanedRow:
    """One station of the form: its inputs' names, and the passes advised on each blade."""

    station: str
    names: tuple[str, str]
    advised: tuple[str, str]


def planed_rows(tuning: Tuning) -> list[PlanedRow]:
    """The form for what was planed, filled in with the advice."""
    advised = _advised(tuning)
    blades = {"a": tuning.design.paddle.a, "b": tuning.design.paddle.b}
    stations = {side: blades[side].stations for side in SIDES}
    rows = max(len(found) for found in stations.values())
    found = []
    for i in range(rows):
        names = [stations[side][i].name if i < len(stations[side]) else "" for side in SIDES]
        station = names[0] if names[0] == names[1] else " / ".join(names)
        passes = [f"{advised[side].get(i, 0):g}" for side in SIDES]
        found.append(PlanedRow(station, (f"a.{i}", f"b.{i}"), (passes[0], passes[1])))
    return found


def _advised(tuning: Tuning) -> dict[Side, dict[int, float]]:
    if tuning.worked is None or tuning.worked.told.advice.blocked:
        return {side: {} for side in SIDES}
    blades = tuning.worked.told.advice.blades
    return {blade.side: {i: one.passes for i, one in enumerate(blade.removals)}
            for blade in blades}


def planed_tables(form: Form, tuning: Tuning) -> list[dict[str, Any]]:
    """What was typed as [[round.planed]] tables; places where nothing came off are left out.

    Raises:
        InputError: a count that is none, or nothing at all.
    """
    tables = []
    for side in SIDES:
        places, off = _off(form, side, tuning)
        if places:
            tables.append({"blade": side, "at": places, "per_face": off})
    if not tables:
        raise InputError("is nothing: then the round goes on; read what else there is",
                         field="planed", allowed="passes or a thickness at one station at least")
    return tables


def _off(form: Form, side: Side, tuning: Tuning) -> tuple[list[str], list[str]]:
    half = tuning.design.paddle.a if side == "a" else tuning.design.paddle.b
    places, off = [], []
    for i, station in enumerate(half.stations):
        typed = form.text(f"{side}.{i}")
        if typed and typed != "-" and Fraction(0) != _zero(typed):
            places.append(_place(tuning, side, i, station.name))
            off.append(_length(typed, tuning.design.rules.pass_m, f"{side}.{i}"))
    return places, off


def _zero(typed: str) -> Fraction | None:
    return Fraction(typed) if _COUNT.match(typed) else None


def _place(tuning: Tuning, side: Side, i: int, name: str) -> str:
    layout = tuning.layout
    blade = layout.blade_b if side == "b" and layout.blade_b else layout.blade
    return str(blade.stations[i]) if blade is not None else name


def _length(typed: str, pass_m: float, field: str) -> str:
    """A bare number counts passes; anything else is a length that the core reads."""
    if not _COUNT.match(typed):
        return typed
    count = Fraction(typed)
    if (2 * count).denominator != 1:
        raise InputError("is no number of passes", field=field, given=typed,
                         allowed="whole or half passes; a thickness with its unit, as 0.4 mm, or "
                                 "a fraction of an inch")
    inches = Fraction(pass_m / METRE_PER_INCH).limit_denominator(4096)
    if abs(float(inches) * METRE_PER_INCH - pass_m) < 1e-12:
        return f"{count * inches} in"
    return f"{1e3 * float(count) * pass_m:.4f} mm"


def planed_field(error: SpringloomError, tables: list[dict[str, Any]], tuning: Tuning) -> str:
    """The input that a complaint about the tables belongs to."""
    found = _PLANED.search(error.field)
    if not found:
        return error.field
    table = tables[int(found[1]) - 1]
    side: Side = table["blade"]
    place = table["at"][int(found[2]) - 1]
    half = tuning.design.paddle.a if side == "a" else tuning.design.paddle.b
    places = [_place(tuning, side, i, station.name) for i, station in enumerate(half.stations)]
    return f"{side}.{places.index(place)}"


def advice_data(tuning: Tuning) -> dict[str, Any]:
    """The advice as it is kept with its round; empty where there was none."""
    if tuning.worked is None:
        return {}
    found = tuning.worked
    beside = Asides.of(tuning.design)
    return tune_data(found.known, found.told, tuning.design.wanted(), beside)


def since(every: tuple[StoredReading, ...], number: int, seen: int) -> list[tuple[str, str, str]]:
    """What was written to a round after ``seen``: what, by whom, when."""
    return [(entry_words(entry), entry.made_by, when(entry.made_at)) for entry in every
            if entry.round == number and entry.id > seen]


@dataclass(frozen=True, slots=True)
class Past:
    """A round that is over.

    Attributes:
        number, by, at: which, who ended it, when.
        lines: its readings.
        do_now: what was advised, in a sentence; ``""`` where nothing is kept of it.
        planed: what was advised and done, station by station.
        came: what came of it, a sentence a blade.
    """

    number: int
    by: str
    at: str
    lines: tuple[Line, ...]
    do_now: str
    planed: Grid
    came: tuple[str, ...]


def past_rounds(tuning: Tuning, words: Words) -> list[Past]:
    """Every round that is over, the last one first."""
    return tuning.once(("past", words), lambda: _past_rounds(tuning, words))


def _past_rounds(tuning: Tuning, words: Words) -> list[Past]:
    if not tuning.closed:
        return []
    known = _known_after(tuning)
    return [_past(tuning, turn, after, words)
            for turn, after in zip(tuning.closed, known, strict=True)][::-1]


def _known_after(tuning: Tuning) -> list[Estimate | None]:
    """What the readings of the round after each closed one said."""
    design = tuning.design
    try:
        found = list(steps(design.paddle, design.build, design.rounds, design.readings,
                           design.target, design.limits, design.rules))
    except SpringloomError:
        return [None] * len(tuning.closed)
    after: list[Estimate | None] = [then.known for _, then in pairwise(found)]
    if after and not design.readings:
        after[-1] = None  # nothing was read since
    return after


def _past(tuning: Tuning, turn: StoredRound, after: Estimate | None, words: Words) -> Past:
    closing = turn.closing
    assert closing is not None  # it is over
    return Past(
        turn.number, closing.made_by, when(closing.made_at),
        tuple(log_of(tuning.every, turn.number)), str(closing.advice.get("do_now", "")),
        _planed_grid(closing.advice, closing.planed, closing.units, words),
        _came(closing.advice, after, tuning.design, words))


def _planed_grid(advice: Mapping[str, Any], planed: tuple[Mapping[str, Any], ...],
                 units: System, words: Words) -> Grid:
    """Advised and done, off each face."""
    done = {(table["blade"], str(place)): typed_text(off, units) for table in planed
            for place, off in zip(table["at"], table["per_face"], strict=True)}
    told = {(side, one["station"]): one["per_face_m"] for side in SIDES
            for one in ((advice.get("advice") or {}).get(side) or {}).get("removals", [])}
    stations = dict.fromkeys([name for _, name in told] + [name for _, name in done])
    rows = []
    for name in stations:
        cells = [cell for side in SIDES for cell in (
            _told(told.get((side, name)), words), done.get((side, name), "-"))]
        rows.append((name, *cells))
    headers = ("station", "A: advised", "done", "B: advised", "done")
    return Grid("Off each face", headers, tuple(rows))


def _told(metres: float | None, words: Words) -> str:
    return "-" if not metres else words.thin(metres)


def _came(advice: Mapping[str, Any], after: Estimate | None, design: Design,
          words: Words) -> tuple[str, ...]:
    """How far each blade then sank, beside what was foretold."""
    said = []
    for side in SIDES:
        foretold = ((advice.get("prediction") or {}).get(side) or {}).get("line_then_m")
        parts = []
        if foretold:
            tip = foretold[-1]
            parts.append(f"was to sink {words.length(tip['value'])} "
                         f"(90 % sure of {words.range(tip['low_90'], tip['high_90'])})")
        if after is not None and design.target is not None and _bore(after, side):
            setup = design.target.setup(after.model.bench(side).half)
            sunk, sd = after.sink(side, setup)
            parts.append(f"sank {words.length(sunk)} by the next readings, known to "
                         f"{100 * sd:.1f} %")
        elif foretold:
            parts.append("has borne no weight since")
        if parts:
            said.append(f"Blade {side.upper()} {'; '.join(parts)}.")
    return tuple(said)


def _bore(known: Estimate, side: Side) -> bool:
    """Whether a weight was hung from a blade."""
    return any(isinstance(one, BenchReading | HandsReading) and one.side == side
               for one in known.readings)
