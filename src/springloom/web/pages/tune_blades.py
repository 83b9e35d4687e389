"""Both blades: a small drawing of each, and what was read beside what is wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from markupsafe import Markup

from springloom.drawing.blade_strip import blade_strip
from springloom.report.words import Words
from springloom.tune.evidence import SIDES, Side
from springloom.tune.prediction import wanted_at
from springloom.tune.walk import Step
from springloom.web.figures import figure
from springloom.web.pages.tune_state import Tuning
from springloom.web.pages.tune_steps import value_words


@dataclass(frozen=True, slots=True)
class Cell:
    """One thing to read: what was read, what is wanted, and where it is read or corrected.

    Attributes:
        key: of its step.
        read: what was read; several readings of one thing with commas; ``""`` for none.
        wanted: what the plan or the target wants; ``""`` for nothing.
        entry: number of the last entry that has it, 0 for none.
        now: whether it is being read.
    """

    key: str
    read: str
    wanted: str
    entry: int
    now: bool


@dataclass(frozen=True, slots=True)
class BladeView:
    """One blade: rows of place, crown and edge, and of place and how far it sinks."""

    side: Side
    drawing: Markup
    stations: tuple[tuple[str, Cell | None, Cell | None], ...]
    sinks: tuple[tuple[str, Cell], ...]


def blade_views(tuning: Tuning, now: Step | None, words: Words) -> list[BladeView]:
    """Return both blades as the page shows them; ``now`` is marked."""
    return [_view(tuning, side, now, words) for side in SIDES]


def _view(tuning: Tuning, side: Side, now: Step | None, words: Words) -> BladeView:
    steps = [step for step in tuning.steps if step.side == side]
    half = tuning.design.paddle.a if side == "a" else tuning.design.paddle.b
    read = {step.x_m for step in steps if tuning.of_step(step)}
    marks = dict.fromkeys((step.x_m, step.place) for step in steps if step.sort == "crown")
    drawing = blade_strip(f"Blade {side.upper()}", half, list(marks), read,
                          [now.x_m] if now in steps and now is not None else [])
    cells = {(step.x_m, step.sort): _cell(tuning, step, now, words) for step in steps}
    rows = tuple((name, cells.get((x, "crown")), cells.get((x, "edge"))) for x, name in marks)
    sinks = tuple((step.place, cells[step.x_m, "bench"]) for step in steps
                  if step.sort == "bench")
    return BladeView(side, figure(drawing, f"strip-{side}-"), rows, sinks)


def _cell(tuning: Tuning, step: Step, now: Step | None, words: Words) -> Cell:
    found = tuning.of_step(step)
    said = ", ".join(value_words(step, reading, words) for _, reading in found)
    wanted = _wanted(tuning, step)
    return Cell(step.key, said, "" if wanted is None else words.bare(wanted),
                found[-1][0].id if found else 0, step == now)


def _wanted(tuning: Tuning, step: Step) -> float | None:
    target = tuning.design.target
    if step.sort != "bench" or target is None:
        return step.planned_m
    half = tuning.design.paddle.a if step.side == "a" else tuning.design.paddle.b
    at = np.array([step.x_m])
    return float(wanted_at(half, at, target.deflection_m, target.progression)[0])


def weight_cell(tuning: Tuning, now: Step | None, words: Words) -> Cell:
    """The whole paddle's weight."""
    step = next(step for step in tuning.steps if step.sort == "weight")
    found = tuning.of_step(step)
    said = ", ".join(value_words(step, reading, words) for _, reading in found)
    return Cell(step.key, said, "", found[-1][0].id if found else 0, step == now)
