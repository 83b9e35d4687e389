"""One stage of carving as the page shows it: what to do, what to measure, what was measured."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from springloom.drawing.carving_guide import StageText
from springloom.errors import InputError, SpringloomError, in_range
from springloom.records.told import retold
from springloom.report.carving_measures import (
    Measure,
    Said,
    StageWeight,
    of_this_wood,
    size_said,
    stage_measures,
    stage_weights,
    weight_band,
    weight_range,
    weight_said,
)
from springloom.report.carving_words import carving_text
from springloom.report.moments import by_whom
from springloom.report.words import Words
from springloom.shape.stages import STAGES
from springloom.store.kept import Kept
from springloom.store.marks import Mark
from springloom.units import System, Typed, parse_length, parse_mass
from springloom.web.drawn import Planned

LINES_FOR = {"sawn": "saw", "tapered": "saw", "first flats": "8", "second flats": "16"}
"""Which figures are set off for a stage."""

WEIGHT = "weight"
_MOST_M, _MOST_KG = 5.0, 50.0
_LEAST_KG = 0.05  # far below any paddle: kilograms that were taken for grams


@dataclass(frozen=True, slots=True)
class Guide:
    """What the carving guide of a design says, and what it takes to judge a reading."""

    texts: tuple[StageText, ...]
    measures: tuple[tuple[Measure, ...], ...]
    weights: tuple[StageWeight, ...]


_GUIDES: Kept[Guide] = Kept(64)


def guide_of(plan: Planned, words: Words) -> Guide:
    """Return the guide, worked out once.

    Raises:
        InputError: the wood is not known.
    """
    design = plan.design
    return _GUIDES.get((plan.mark, words.system), lambda: Guide(
        carving_text(design, words).stages, stage_measures(design, words.system),
        stage_weights(design)))


@dataclass(frozen=True, slots=True)
class Row:
    """A size to measure: its input, what it should be, what was typed and what that says."""

    name: str
    label: str
    should: str
    typed: str
    said: Said | None


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage.

    Attributes:
        number: from 1.
        name: in the store.
        slug: in an address.
        text: what the guide says.
        done: whether it is ticked.
        who: ticked it, and when; of the last entry.
        groups: the sizes to measure under their headings.
        weight: the weight to hit.
        range: from which weight to which is likely.
        band: the same in a sentence, with how sure it is.
        of_wood: what it will be if the wood is as the last weight says; "" before any.
        weighed: the weight as typed.
        weighs: the same in words.
        said: what that says.
        history: every entry, the last one first.
        seen: number of the last entry, 0 before any.
    """

    number: int
    name: str
    slug: str
    text: StageText
    done: bool
    who: str
    groups: tuple[tuple[str, tuple[Row, ...]], ...]
    weight: str
    range: str
    band: str
    of_wood: str
    weighed: str
    weighs: str
    said: Said | None
    history: tuple[str, ...]
    seen: int

    @property
    def lines(self) -> str:
        """Which figures are set off for it; "" for none."""
        return LINES_FOR.get(self.name, "")


def slug_of(name: str) -> str:
    """Return a stage's name in an address."""
    return name.replace(" ", "-")


def stages_of(guide: Guide, history: Sequence[Mark], words: Words) -> tuple[Stage, ...]:
    """Return all stages with what was kept of them."""
    weighed = weights_in(history)
    return tuple(_stage(n, guide, [mark for mark in history if mark.stage == name], weighed, words)
                 for n, name in enumerate(STAGES))


def _stage(n: int, guide: Guide, marks: Sequence[Mark], weighed: Mapping[str, float],
           words: Words) -> Stage:
    name, last, weight = STAGES[n], marks[-1] if marks else None, guide.weights[n]
    typed = {} if last is None else {key: in_words(text, last.units, words.system)
                                     for key, text in last.measured.items()}
    likely = of_this_wood(guide.weights, name, weighed)
    return Stage(
        n + 1, name, slug_of(name), guide.texts[n], last is not None and last.done,
        by_whom(last.made_by, last.made_at) if last is not None else "",
        _groups(guide.measures[n], typed, words), words.mass(weight.mass_kg),
        weight_range(weight, words), weight_band(weight, words),
        "" if likely is None else words.mass(likely), typed.get(WEIGHT, ""),
        words.mass(weighed[name]) if name in weighed else "",
        weight_said(guide.weights, name, weighed, words) if name in weighed else None,
        tuple(_entries(marks))[::-1], 0 if last is None else last.id)


def _groups(measures: Sequence[Measure], typed: Mapping[str, str],
            words: Words) -> tuple[tuple[str, tuple[Row, ...]], ...]:
    return tuple((group, tuple(_row(one, typed.get(one.key, ""), words) for one in found))
                 for group, found in itertools.groupby(measures, lambda one: one.group))


def _row(one: Measure, typed: str, words: Words) -> Row:
    two = one.group.startswith("Thickness, edge")
    label = f"{one.place}, {one.what}" if two else one.place
    measured = _or_none(typed, words.system)
    said = None if measured is None else size_said(measured, one.value_m, words)
    return Row(f"measured.{one.key}", label, words.length(one.value_m), typed, said)


def _or_none(typed: str, units: System) -> float | None:
    """Return a length that was kept, None for nothing or what can't be read any more."""
    try:
        return _length(typed, units, "measured") if typed else None
    except SpringloomError:
        return None


def in_words(typed: Typed, units: System, wanted: System) -> str:
    """Return what was typed so that it means the same where bare numbers are in other units."""
    text = str(typed).strip()
    if units == wanted:
        return text
    try:
        float(text)
    except ValueError:
        return text
    return f"{text} {units}"


def weights_in(history: Sequence[Mark]) -> dict[str, float]:
    """Return what the last entry of each stage weighed, kg; what can't be read is left out."""
    found: dict[str, float] = {}
    for mark in {mark.stage: mark for mark in history}.values():
        typed = mark.measured.get(WEIGHT)
        if typed is None or mark.stage not in STAGES:
            continue
        try:
            found[mark.stage] = read_weight(str(typed), mark.units)
        except SpringloomError:
            continue
    return found


def read_weight(typed: str, units: System) -> float:
    """Return a typed weight in kg; without a unit it is in grams on a bench in millimetres.

    Raises:
        InputError: it is none, or no paddle's; names the input.
    """
    field = f"measured.{WEIGHT}"
    found = _within(parse_mass(typed, default="g" if units == "mm" else None, field=field),
                    field, _MOST_KG, "kg", typed, units)
    if found < _LEAST_KG:
        raise InputError("is too light for any paddle: a number without a unit is in grams",
                         field=field, given=typed, allowed="50 g or more, as 640 or 2.41 kg")
    return found


def check_measured(typed: Mapping[str, str], units: System) -> None:
    """Refuse what can't be read.

    Raises:
        InputError: names the input.
    """
    for key, text in typed.items():
        if key == WEIGHT:
            read_weight(text, units)
        else:
            _length(text, units, f"measured.{key}")


def _length(typed: str, units: System, field: str) -> float:
    return _within(parse_length(typed, default=units, field=field), field, _MOST_M, "m", typed,
                   units)


def _within(value: float, field: str, most: float, unit: str, typed: str, units: System) -> float:
    try:
        in_range(value, field, 0.0, most, unit, open_low=True)
    except SpringloomError as error:
        raise retold(error, field, typed, units) from None
    return value


def _entries(marks: Sequence[Mark]) -> list[str]:
    """Say of each entry what it was, by whom and when."""
    said, was = [], False
    for mark in marks:
        what = "measured" if mark.done == was else "ticked" if mark.done else "not done after all"
        weight = f", weight {mark.measured[WEIGHT]}" if WEIGHT in mark.measured else ""
        said.append(f"{by_whom(mark.made_by, mark.made_at)}: {what}{weight}")
        was = mark.done
    return said
