"""What is measured at each stage of carving: sizes and weights to hit, and what a reading says."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np

from springloom.drawing.offsets import Offset, offsets
from springloom.mechanics.stage_mass import stage_masses
from springloom.mechanics.stiffness import spread_of
from springloom.records.design import Design
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.shape.blank import blank_for
from springloom.shape.stages import STAGES, carvings
from springloom.tune.estimate import NORMAL_90
from springloom.units import System

TITLES: Mapping[str, str] = MappingProxyType(dict(zip(STAGES, (
    "Squared blank", "Outline", "Taper", "Edge band and flat 1: 8 sides",
    "Flats 2 and 3: 16 sides", "Rounding", "Finished, before oil"), strict=True)))
"""What each stage is called."""

SAME_WOOD = 0.05
"""Two stages whose weights are off by shares this near are off for one reason: the wood
(common practice, no source)."""

NEAR = 0.0002
"""A size this near to the wanted one is as wanted: what calipers tell apart by hand, m (common
practice, no source)."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One size to measure when a stage is done.

    Attributes:
        key: under which its reading is kept; the same place keeps its key in either system.
        group: heading over several places; "" for none.
        place: where, or what.
        what: tells two sizes of one place apart.
        value_m: what it should be.
    """

    key: str
    group: str
    place: str
    what: str
    value_m: float


@dataclass(frozen=True, slots=True)
class StageWeight:
    """What the bare wood should weigh after a stage, kg; nine in ten lie from low to high."""

    name: str
    mass_kg: float
    low_kg: float
    high_kg: float


@dataclass(frozen=True, slots=True)
class Said:
    """What a reading says: as wanted, more or less, and the sentence."""

    call: Literal["as wanted", "more", "less"]
    sentence: str


def stage_weights(design: Design) -> tuple[StageWeight, ...]:
    """Return the weights to hit, in the order of ``shape.stages.STAGES``.

    Raises:
        InputError: the wood is not known.
    """
    factor = math.exp(NORMAL_90 * spread_of(design.build)[1])
    return tuple(StageWeight(name, mass, mass / factor, mass * factor)
                 for name, mass in zip(STAGES, stage_masses(design.paddle, design.build),
                                       strict=True))


def stage_measures(design: Design, system: System = "mm") -> tuple[tuple[Measure, ...], ...]:
    """Return the sizes to measure after each stage; ``system`` words the places."""
    halves = _halves(design)
    return (_squared(design), _sawn(design), _crowns(halves, system),
            _kept(design, "first flats"), _kept(design, "second flats"),
            _edges(halves, system), _finished(halves, system))


def measure_rows(measures: Iterable[Measure], words: Words) -> tuple[tuple[str, str], ...]:
    """Return the rows of a table to write on: a row for each group's heading and each place."""
    rows: list[tuple[str, str]] = []
    for group, found in itertools.groupby(measures, lambda one: one.group):
        if group:
            rows.append((group, ""))
        for place, sizes in itertools.groupby(found, lambda one: one.place):
            *first, last = [one.value_m for one in sizes]
            rows.append((place, ", ".join([*map(words.bare, first), words.length(last)])))
    return tuple(rows)


def weight_rows(weight: StageWeight, words: Words) -> tuple[tuple[str, str], ...]:
    """Return the rows of that table for a weight."""
    return (("Weight", words.mass(weight.mass_kg)), ("likely from", words.mass(weight.low_kg)),
            ("to", words.mass(weight.high_kg)))


def weight_band(weight: StageWeight, words: Words) -> str:
    """Return the likely range of a weight, and how likely it is."""
    return f"90 % sure of {weight_range(weight, words)}"


def weight_range(weight: StageWeight, words: Words) -> str:
    """Return the likely range of a weight."""
    return f"{words.mass(weight.low_kg)} to {words.mass(weight.high_kg)}"


def size_said(measured_m: float, wanted_m: float, words: Words) -> Said:
    """Say how a measured size stands to the wanted one."""
    over = measured_m - wanted_m
    if abs(over) <= NEAR:
        return Said("as wanted", "as wanted")
    more = over > 0.0
    return Said("more" if more else "less",
                f"{words.length(abs(over))} {'more' if more else 'less'} than wanted")


def weight_said(weights: Sequence[StageWeight], name: str, measured: Mapping[str, float],
                words: Words) -> Said:
    """Say what a weight tells.

    Args:
        weights: from :func:`stage_weights`.
        name: the stage.
        measured: what was weighed, kg, by stage; this one's among them.
        words: units.
    """
    weight = weights[STAGES.index(name)]
    kilograms = measured[name]
    ratio = kilograms / weight.mass_kg
    how = f"{words.mass(kilograms)} is {_off(ratio)} what was reckoned with"
    if weight.low_kg <= kilograms <= weight.high_kg:
        return Said("as wanted", f"{how}, inside the likely range "
                    f"({weight_band(weight, words)}).")
    more = ratio > 1.0
    where = f"{how}, {'over' if more else 'under'} the likely range ({weight_band(weight, words)})."
    return Said("more" if more else "less", f"{where} {_reason(weights, name, measured, more)}")


def _reason(weights: Sequence[StageWeight], name: str, measured: Mapping[str, float],
            more: bool) -> str:
    """Say what a weight outside may mean."""
    denser = "denser or wetter" if more else "lighter or drier"
    before = _before(weights, name, measured)
    ratio = measured[name] / weights[STAGES.index(name)].mass_kg
    if before is not None and abs(math.log(ratio / before[1])) <= SAME_WOOD:
        return (f"“{TITLES[before[0]]}” was {_off(before[1])} as well, so it is the wood, "
                f"{denser} than reckoned, and later weights will be as far off: go by the sizes.")
    if name == STAGES[0]:
        return (f"If the blank has its sizes, the wood is {denser} than reckoned: weigh it with "
                "the board's other readings, and every plan follows.")
    if more:
        return ("Either wood is left, or the wood is denser or wetter than reckoned: measure the "
                "sizes before you go on.")
    return ("Either the wood is lighter or drier than reckoned, or too much is off already: "
            "measure the sizes before you take anything more.")


def _before(weights: Sequence[StageWeight], name: str,
            measured: Mapping[str, float]) -> tuple[str, float] | None:
    """Return the last stage weighed before one, and its weight's ratio to the reckoned one."""
    earlier = [w for w in weights[:STAGES.index(name)] if w.name in measured]
    return (earlier[-1].name, measured[earlier[-1].name] / earlier[-1].mass_kg) if earlier else None


def of_this_wood(weights: Sequence[StageWeight], name: str,
                 measured: Mapping[str, float]) -> float | None:
    """Return what a stage will weigh in kg if the wood is as the last weight says; None before."""
    before = _before(weights, name, measured)
    return None if before is None else weights[STAGES.index(name)].mass_kg * before[1]


def _off(ratio: float) -> str:
    percent = round(100.0 * abs(ratio - 1.0))
    return "just" if percent == 0 else f"{percent} % {'over' if ratio > 1.0 else 'under'}"


def _halves(design: Design) -> tuple[tuple[str, HalfPaddle], ...]:
    paddle = design.paddle
    return (("", paddle.a),) if paddle.is_symmetric else (("A", paddle.a), ("B", paddle.b))


def _squared(design: Design) -> tuple[Measure, ...]:
    blank = blank_for(design.paddle)
    sizes = (("Length", blank.length_m), ("Width", blank.width_m), ("Thickness", blank.thickness_m))
    return tuple(Measure(name.lower(), "", name, "", size) for name, size in sizes)


def _sawn(design: Design) -> tuple[Measure, ...]:
    paddle = design.paddle
    widest = max(row.width for half in (paddle.a, paddle.b) for row in offsets(half))
    return (Measure("width-most", "", "Greatest width", "", widest),
            Measure("width-loom", "", "Loom, width", "", paddle.a.loom.width))


def _kept(design: Design, name: str) -> tuple[Measure, ...]:
    """What is left of the loom's face and edge between the flats: easily measured."""
    carving = carvings(design.paddle)[0]
    top, low = (face[0] for face in carving.faces(np.zeros(1), STAGES.index(name)))
    return (Measure("loom-face", "", "Loom, face left", "", 2.0 * float(top[-2, 0])),
            Measure("loom-edge", "", "Loom, edge left", "", float(top[1, 1] + low[1, 1])))


def _crowns(halves: Iterable[tuple[str, HalfPaddle]], system: System) -> tuple[Measure, ...]:
    made: list[Measure] = []
    for blade, half in halves:
        group = f"Thickness{_comma(blade)}"
        made.append(_loom(group, blade, half))
        made += [_crown(group, blade, row) for row in offsets(half, system)[2:]]
    return tuple(made)


def _edges(halves: Iterable[tuple[str, HalfPaddle]], system: System) -> tuple[Measure, ...]:
    return tuple(_edge(f"Edge{_comma(blade)}", blade, row, row.edge) for blade, half in halves
                 for row in offsets(half, system)[2:] if row.edge is not None)


def _finished(halves: Iterable[tuple[str, HalfPaddle]], system: System) -> tuple[Measure, ...]:
    """Thickness and edge of every place, where it has both."""
    made: list[Measure] = []
    for blade, half in halves:
        group = f"Thickness, edge{_comma(blade)}"
        made.append(_loom(group, blade, half))
        for row in offsets(half, system)[2:]:
            made.append(_crown(group, blade, row))
            if row.edge is not None:
                made.append(_edge(group, blade, row, row.edge))
    return tuple(made)


def _comma(blade: str) -> str:
    return f", {blade}" if blade else ""


def _loom(group: str, blade: str, half: HalfPaddle) -> Measure:
    return Measure(f"crown{_key(blade)}-loom", group, "loom", "thickness", half.loom.thickness)


def _crown(group: str, blade: str, row: Offset) -> Measure:
    return Measure(f"crown{_key(blade)}-{1e3 * row.x:.0f}", group, row.name, "thickness", row.crown)


def _edge(group: str, blade: str, row: Offset, edge: float) -> Measure:
    return Measure(f"edge{_key(blade)}-{1e3 * row.x:.0f}", group, row.name, "edge", edge)


def _key(blade: str) -> str:
    return f"-{blade.lower()}" if blade else ""
