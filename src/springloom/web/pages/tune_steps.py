"""One reading after another: which comes next, its form, and the entry that it becomes."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from springloom.errors import InputError
from springloom.report.cautions import BENCH_TEST
from springloom.report.walk_words import step_how, step_title
from springloom.report.words import Words
from springloom.store.rounds import Kind, StoredReading
from springloom.store.typed import in_units
from springloom.tune.evidence import (
    DEFAULT_BENCH,
    DEFAULT_CALIPER,
    DEFAULT_SCALE,
    INSTRUMENTS,
    SCALES,
    SIDES,
    Reading,
)
from springloom.tune.walk import Step, is_read, next_step, unread
from springloom.units import System
from springloom.web.forms import Form
from springloom.web.pages.tune_state import Tuning

_NUMBER = re.compile(r"^[\d\s./½¼¾⅛⅜⅝⅞-]+$")
_GROUPS = {"a": "Blade A", "b": "Blade B", None: "Whole paddle"}
MASS_UNITS: Mapping[System, tuple[str, ...]] = {"mm": ("g", "kg", "oz", "lb"),
                                                "in": ("oz", "lb", "g", "kg")}


@dataclass(frozen=True, slots=True)
class Told:
    """One reading of the round, in the words the page asks for it with.

    Attributes:
        key, next, title: which, which comes after it (``""`` for none), and what it is.
        place: of this reading among all of the round.
        how: how it is taken.
        caution: what to beware of; ``""`` for nothing.
        planned: what the plan has there; ``""`` for nothing.
        before: what was read there in this round already; ``""`` for nothing.
        unit: of a bare value, beside its label.
    """

    key: str
    next: str
    title: str
    place: str
    how: str
    caution: str
    planned: str
    before: str
    unit: str


@dataclass(frozen=True, slots=True)
class Asking:
    """The reading that the page asks for.

    Attributes:
        step: which.
        now: its words.
        tools, tool: instruments to choose from, and the one used last.
        tells: how well each of them tells.
        load: the weight hung last; ``""`` where none hangs.
        groups: every reading of the round, to choose another, under their headings.
        sort: what is read; decides which fields there are.
    """

    step: Step
    now: Told
    tools: tuple[str, ...]
    tool: str
    tells: str
    load: str
    groups: tuple[tuple[str, tuple[Told, ...]], ...]

    @property
    def sort(self) -> str:
        """What is read."""
        return self.step.sort


def asked(tuning: Tuning, chosen: str, after: str) -> Step | None:
    """The step that was chosen, else the next one not read: after ``after``, or after the last."""
    found = next((step for step in tuning.steps if step.key == chosen), None)
    read = [reading for readings in tuning.read.values() for reading in readings]
    return found or next_step(tuning.steps, read, after or _latest(tuning))


def left_out(tuning: Tuning) -> tuple[Step, ...]:
    """Steps that nobody has read in this round."""
    read = [reading for readings in tuning.read.values() for reading in readings]
    return unread(tuning.steps, read)


def _latest(tuning: Tuning) -> str:
    """Key of the step that was read last."""
    for entry in sorted(tuning.entries, key=lambda one: -one.id):
        for step in reversed(tuning.steps):
            if is_read(step, tuning.read[entry.id]):
                return step.key
    return ""


def asking(tuning: Tuning, step: Step, words: Words) -> Asking:
    """Put a step into words."""
    told = {one: _told(tuning, one, words) for one in tuning.steps}
    groups = tuple((_GROUPS[side], tuple(told[one] for one in tuning.steps if one.side == side))
                   for side in (*SIDES, None))
    return Asking(
        step, told[step], tuple(SCALES if step.sort == "weight" else INSTRUMENTS),
        _tool(tuning, step), _tells(step, words), _load(tuning) if step.sort == "bench" else "",
        groups)


def _told(tuning: Tuning, step: Step, words: Words) -> Told:
    read = [value_words(step, reading, words) for _, reading in tuning.of_step(step)]
    number = tuning.steps.index(step) + 1
    return Told(
        step.key, "".join(one.key for one in tuning.steps[number:number + 1]), step_title(step),
        f"Reading {number} of {len(tuning.steps)}", step_how(step, words),
        BENCH_TEST if step.sort == "bench" else "",
        "" if step.planned_m is None else f"The plan has {words.length(step.planned_m)}.",
        f"Read already: {', '.join(read)}. This is read again, besides." if read else "",
        MASS_UNITS[words.system][0] if step.sort == "weight"
        else f"{words.system}; a fraction is inches")


def kind_of(step: Step) -> Kind:
    """The kind of entry that a step makes."""
    return "caliper" if step.sort in {"crown", "edge"} else (
        "weight" if step.sort == "weight" else "bench")


def _tells(step: Step, words: Words) -> str:
    if step.sort == "weight":
        said = [f"{name} ± {words.mass(sd)}" for name, sd in SCALES.items()]
    else:  # no eighth of a sixteenth is as fine as these
        said = [f"{name} ± {Words('mm').thin(sd)}" for name, sd in INSTRUMENTS.items()]
    return (f"Standard deviation of one reading: {', '.join(said)} (common practice, no source). "
            "Choose another, and the reading counts accordingly.")


def _tool(tuning: Tuning, step: Step) -> str:
    """The instrument used last for this kind of reading."""
    kind = kind_of(step)
    key = "scale" if kind == "weight" else "instrument"
    usual = {"weight": DEFAULT_SCALE, "bench": DEFAULT_BENCH}.get(kind, DEFAULT_CALIPER)
    last = _last(tuning.every, kind)
    return str(last.get(key) or usual)


def _load(tuning: Tuning) -> str:
    """The weight hung last, else the target's."""
    wanted = tuning.layout.target.under if tuning.layout.target else "10 lb"
    return str(_last(tuning.every, "bench").get("load") or wanted)


def _last(entries: Sequence[StoredReading], kind: str) -> Mapping[str, Any]:
    tables = (entry.table for entry in reversed(entries) if entry.kind == kind)
    return next((table for table in tables if table is not None), {})


def value_words(step: Step, reading: Reading, words: Words) -> str:
    """What was read at a step; lengths without their unit."""
    return words.mass(reading.value) if step.sort == "weight" else words.bare(reading.value)


def table_of(step: Step, form: Form, tuning: Tuning, units: System) -> dict[str, Any]:
    """The entry that a filled-in form becomes, as the tables of a design file have it.

    Raises:
        InputError: nothing was typed.
    """
    value = form.text("value")
    if not value:
        raise InputError("is empty: type what you read, or skip it", field="value")
    if step.sort == "weight":
        unit = form.text("unit") or MASS_UNITS[units][0]
        bare = unit in MASS_UNITS["mm"] and _NUMBER.match(value)
        weight = f"{value} {unit}" if bare else value
        return _with({"weight": weight}, "scale", form.text("tool"), SCALES, DEFAULT_SCALE)
    place = _place(step, tuning, units)
    # Where the page was cut off, its form went on to this reading with another one's instruments.
    tool = form.text("tool") if form.text("sort", step.sort) == step.sort else ""
    if step.sort == "bench":
        sunk = {"blade": step.side, "load": form.text("load") or _load(tuning),
                "read_at": [place], "sinks": [value]}
        return _with(sunk, "instrument", tool, INSTRUMENTS, DEFAULT_BENCH)
    thick = {"blade": step.side, "at": [place], step.sort: [value]}
    return _with(thick, "instrument", tool, INSTRUMENTS, DEFAULT_CALIPER)


def _with(
    table: Mapping[str, Any], key: str, tool: str, known: Mapping[str, float], usual: str
) -> dict[str, Any]:
    """Name the instrument where it is not the usual one."""
    named = tool in known and tool != usual
    return {**table, key: tool} if named else dict(table)


def _place(step: Step, tuning: Tuning, units: System) -> str:
    """A step's place in the words of the design, fit for an entry in ``units``."""
    layout, name = tuning.layout, step.place
    blade = layout.blade_b if step.side == "b" and layout.blade_b else layout.blade
    if step.sort != "bench" and blade is not None:
        name = str(blade.stations[int(step.key.rsplit("-", 1)[1])])
    placed: str = in_units("caliper", {"at": [name]}, layout.units, units)["at"][0]
    return placed


def field_of(field: str) -> str:
    """The form's input that a complaint about the entry belongs to."""
    last = re.sub(r"\[\d+\]", "", field).rsplit(".", 1)[-1]
    names = {"crown": "value", "edge": "value", "weight": "value", "sinks": "value",
             "thickness": "value", "instrument": "tool", "scale": "tool"}
    return names.get(last, last)
