"""The advice as the page shows it: what comes off, how sure that is, and when to stop."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from springloom.report.tune_asides import Asides
from springloom.report.tune_plots import tune_drawings
from springloom.report.tune_tables import (
    Grid,
    detail_grids,
    outcome_grid,
    planes,
    removal_grid,
    unknown_grids,
)
from springloom.report.tune_text import HOW_TO_PLANE, more_words, round_words, warning_words
from springloom.report.tune_words import (
    blade_words,
    care_words,
    chance_words,
    headline,
    reading_words,
    target_words,
)
from springloom.report.words import Words
from springloom.store.worked import Worked
from springloom.tune.evidence import (
    BalanceReading,
    BenchReading,
    TapReading,
    ThicknessReading,
    WidthReading,
)
from springloom.web.figures import figure
from springloom.web.pages.tune_state import Tuning


@dataclass(frozen=True, slots=True)
class BladeSaying:
    """What is said of one blade; ``stop`` where nothing more may come off."""

    side: str
    call: str
    sentence: str
    stop: bool


@dataclass(frozen=True, slots=True)
class AdviceView:
    """The advice in words, tables and drawings.

    Attributes:
        headline: what to do now.
        call: plane, stop, measure or blocked: how it is shown.
        blades: a sentence a blade; none while readings are in doubt.
        target: what is wanted, and where that comes from.
        chance: of going too far; ``""`` where nothing comes off.
        warnings: what stands in the way, or should be looked at.
        removal: passes station by station; None where nothing comes off.
        how: how passes are meant; ``""`` where nothing comes off.
        outcome: what it does now, and should then; None while in doubt.
        sayings: weight, matching, what to read next, savings.
        asides: remarks and traces.
        drawings: line, curvature and thickness of each blade.
        details, more, unknowns: what it rests on.
        care: how careful it is.
        tells_most: the reading that tells most, and where it is typed in; None where none is
            wanted now.
    """

    headline: str
    call: str
    blades: tuple[BladeSaying, ...]
    target: str
    chance: str
    warnings: tuple[str, ...]
    removal: Grid | None
    how: str
    outcome: Grid | None
    sayings: tuple[str, ...]
    asides: tuple[str, ...]
    care: str
    tells_most: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class GroundsView:
    """What the advice rests on: charts of both blades, and what the data says."""

    drawings: tuple[tuple[str, Markup], ...]
    details: tuple[Grid, ...]
    more: tuple[tuple[str, list[str]], ...]
    unknowns: tuple[Grid, ...]


def grounds_view(tuning: Tuning, found: Worked, words: Words) -> GroundsView:
    """Draw and list what the advice rests on: three times the work of the advice itself."""
    return tuning.once(("grounds", words), lambda: _grounds(tuning, found, words))


def _grounds(tuning: Tuning, found: Worked, words: Words) -> GroundsView:
    told, target = found.told, tuning.design.wanted()
    drawn = tune_drawings(tuning.design.name, told, words)
    return GroundsView(
        tuple((side, figure(drawing, f"tune-{side}-")) for side, drawing in drawn.items()),
        tuple(detail_grids(told, words)), tuple(more_words(found.known, told, target, words)),
        tuple(unknown_grids(found.known, words)))


def advice_view(tuning: Tuning, found: Worked, words: Words) -> AdviceView:
    """Put the advice together, by the same functions as a terminal page."""
    return tuning.once(("advice", words), lambda: _view(tuning, found, words))


def _view(tuning: Tuning, found: Worked, words: Words) -> AdviceView:
    beside = Asides.of(tuning.design)
    told, target = found.told, tuning.design.wanted()
    advice, predicted, name = told.advice, told.prediction, tuning.design.name
    planed = planes(advice) and not advice.blocked
    return AdviceView(
        headline(advice), _call(found),
        () if advice.blocked else tuple(
            BladeSaying(b.side, b.call, blade_words(b, told.plans[0].rules.pass_m, words),
                        b.call.startswith("stop")) for b in advice.blades),
        target_words(name, target, beside.carried, words),
        chance_words(advice) if planed else "",
        tuple(warning_words(found.known, advice, target, words)),
        removal_grid(advice, words) if planed else None, HOW_TO_PLANE if planed else "",
        None if predicted is None else outcome_grid(advice, predicted, words),
        () if predicted is None else tuple(round_words(told, predicted, target, words)),
        tuple(beside.words(more=True)),
        care_words(told.plans[0].rules, words),
        None if planed else _tells_most(tuning, found, words))


def _tells_most(tuning: Tuning, found: Worked, words: Words) -> tuple[str, str] | None:
    """The most telling reading as a link: in the walk, or the form of its kind."""
    if not found.told.readings:
        return None
    best = found.told.readings[0].reading
    said = reading_words(best, words)
    step = next((step for step in tuning.steps if step.is_read_by(best)), None)
    where = f"?step={step.key}#reading" if step else f"/new/{_FORMS[type(best)]}"
    return f"{said[0].upper()}{said[1:]}", where


_FORMS: dict[type, str] = {WidthReading: "width", TapReading: "tap", BalanceReading: "balance",
                           BenchReading: "bench", ThicknessReading: "caliper"}


def _call(found: Worked) -> str:
    advice = found.told.advice
    calls = {blade.call for blade in advice.blades}
    if advice.blocked:
        return "blocked"
    if "plane" in calls:
        return "plane"
    return "stop" if all(call.startswith("stop") for call in calls) else "measure"
