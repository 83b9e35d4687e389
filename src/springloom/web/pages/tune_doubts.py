"""What may be wrong with the readings, what each doubt is about, and the button that answers it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from springloom.errors import InputError
from springloom.report.tune_words import misfit_words, softened_words
from springloom.store.entries import derived
from springloom.store.opening import Pen
from springloom.store.rounds import StoredReading, add_reading, withdraw_reading
from springloom.store.worked import Worked
from springloom.tune.doubts import Doubt
from springloom.tune.evidence import BalanceReading, BenchReading, HandsReading, Reading
from springloom.units import NEWTON_PER_POUND_FORCE, STANDARD_GRAVITY, parse_force
from springloom.web.forms import Form
from springloom.web.pages.tune_entries import entry_words
from springloom.web.pages.tune_state import Tuning

_UNIT = re.compile(r"(?<=[\d\s])(?:lbs?|lbf|pounds?|kg|kgf|kilos?)\s*$", re.IGNORECASE)
_SAME_LOAD = 1e-6
_NEWTON = {"lb": NEWTON_PER_POUND_FORCE, "kg": STANDARD_GRAVITY}


@dataclass(frozen=True, slots=True)
class Answer:
    """A button: what it says, and which doubt it answers how."""

    label: str
    key: str


@dataclass(frozen=True, slots=True)
class Question:
    """One thing that may be wrong.

    Attributes:
        sentence: what.
        blocks: whether there is no advice until it is cleared up.
        entries: the readings it is about: number, and what was read.
        answers: buttons that make the correcting entry.
        wood: whether the board may be what is wrong.
    """

    sentence: str
    blocks: bool
    entries: tuple[tuple[int, str], ...]
    answers: tuple[Answer, ...]
    wood: bool = False


def questions(tuning: Tuning, found: Worked) -> list[Question]:
    """Everything in doubt, what blocks first."""
    known = found.known
    asked = [_question(tuning, doubt) for doubt in known.doubts]
    for misfit in known.misfits:
        about = _named(tuning.labelled(misfit.label))
        asked.append(Question(f"{_upper(misfit_words(misfit))}.", True, about, (),
                              wood=misfit.label.startswith("stiffness")))
    asked += [Question(softened_words(one), False, _named(tuning.labelled(one.label)), ())
              for one in known.softened]
    return sorted(asked, key=lambda one: not one.blocks)


def _question(tuning: Tuning, doubt: Doubt) -> Question:
    entries, said = _about(tuning, doubt), _upper(doubt.sentence)
    end = "" if said.endswith((".", "?")) else "."
    return Question(f"{said}{end}", doubt.blocks, _named(entries), _answers(doubt, entries),
                    doubt.code == "other wood")


def _named(entries: Sequence[StoredReading]) -> tuple[tuple[int, str], ...]:
    return tuple((entry.id, entry_words(entry)) for entry in entries)


def _upper(sentence: str) -> str:
    return sentence[0].upper() + sentence[1:]


def _key(doubt: Doubt) -> str:
    loads = "+".join(f"{load:.6g}" for load in doubt.loads_n)
    return f"{doubt.code}|{doubt.side or ''}|{doubt.meant}|{loads}|{doubt.label}"


def _about(tuning: Tuning, doubt: Doubt) -> tuple[StoredReading, ...]:
    """The entries that a doubt is about."""
    return tuple(entry for entry in tuning.entries
                 if any(_concerns(doubt, reading) for reading in tuning.read[entry.id]))


def _concerns(doubt: Doubt, reading: Reading) -> bool:
    if doubt.code == "load unit":
        return isinstance(reading, BenchReading | HandsReading) and any(
            abs(reading.load - load) < _SAME_LOAD for load in doubt.loads_n)
    if doubt.code == "clamp slipped":
        return isinstance(reading, BenchReading) and reading.side == doubt.side
    if doubt.code == "wrong sign":
        return isinstance(reading, BalanceReading)
    return bool(doubt.label) and reading.label == doubt.label


def _answers(doubt: Doubt, entries: Sequence[StoredReading]) -> tuple[Answer, ...]:
    if not entries:
        return ()
    readings = "the reading" if len(entries) == 1 else f"{len(entries)} readings"
    if doubt.code == "load unit":
        amounts = " and ".join(f"{_amount(load, doubt.meant)} {doubt.meant}"
                               for load in doubt.loads_n)
        return (Answer(f"It was {amounts}: correct {readings}", _key(doubt)),)
    if doubt.code == "wrong sign":
        return (Answer("It balances on the other side: correct it", _key(doubt)),)
    if doubt.code == "clamp slipped":
        side = str(doubt.side).upper()
        return (Answer(f"It slipped: withdraw {readings} of blade {side} and read again",
                       _key(doubt)),)
    return ()


def _amount(load_n: float, meant: str) -> str:
    """The number that was typed, under the unit that was not meant."""
    typed = "lb" if meant == "kg" else "kg"
    return f"{load_n / _NEWTON[typed]:.3g}"


def answer(pen: Pen, form: Form, tuning: Tuning) -> int:
    """Make the entries that answer a doubt; return how many.

    Raises:
        InputError: that question is not asked any more.
        ConflictError: somebody has corrected a reading meanwhile.
    """
    found = tuning.worked
    doubts = found.known.doubts if found else ()
    doubt = next((one for one in doubts if _key(one) == form.text("answer")), None)
    if doubt is None:
        raise InputError("is not asked any more: the readings have changed", field="answer",
                         allowed="the questions below")
    entries = _about(tuning, doubt)
    for entry in entries:
        uid = derived(form.uid, str(entry.id))
        if doubt.code == "clamp slipped":
            withdraw_reading(pen, uid, entry.id)
        else:
            table = corrected(doubt, entry.table or {})
            add_reading(pen, uid, entry.paddle_id, entry.kind, table, entry.id, units=entry.units)
    return len(entries)


def corrected(doubt: Doubt, table: Mapping[str, Any]) -> dict[str, Any]:
    """An entry's table as the answer has it."""
    if doubt.code == "wrong sign":
        text = str(table["balance"]).strip()
        turned = text.removeprefix("-") if text.startswith("-") else f"-{text.removeprefix('+')}"
        return {**table, "balance": turned}
    load = str(table.get("load", "10 lb")).strip()
    if _UNIT.search(load):
        return {**table, "load": _UNIT.sub(doubt.meant, load)}
    return {**table, "load": f"{_amount(parse_force(load), doubt.meant)} {doubt.meant}"}
