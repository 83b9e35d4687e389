"""What a paddle's story says of its paddler, board, design and carving."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from springloom.errors import SpringloomError
from springloom.mechanics.stage_mass import stage_masses
from springloom.mechanics.stiffness import spread_of
from springloom.records.design import Design
from springloom.records.layout import Paddler
from springloom.report.reading_text import typed_text
from springloom.report.tune_tables import Grid
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.shape.stages import STAGES
from springloom.tune.estimate import NORMAL_90
from springloom.units import System, Typed
from springloom.wood.species import all_species

Fact = tuple[str, str]

_BOARD = (("length", "Length"), ("width", "Width"), ("thickness", "Thickness"),
          ("weight", "Weight"), ("moisture", "Moisture"), ("grain_slope", "Grain"),
          ("rings", "Growth rings"))
_BOARD_LENGTHS = {"length", "width", "thickness"}


def paddler_facts(paddler: Mapping[str, Typed], units: System) -> list[Fact]:
    """A person's measures as typed; only those that were taken."""
    return [(key.replace("_", " ").capitalize(),
             str(paddler[key]) if key == "use" else typed_text(paddler[key], units))
            for key in Paddler.model_fields if key in paddler]


def board_facts(table: Mapping[str, Any], units: System) -> list[Fact]:
    """A board as it was described."""
    names = {one.id: one.common_name for one in all_species()}
    found = [("Wood", names.get(table["species"], str(table["species"])))]
    for key, label in _BOARD:
        if key in table:
            typed = table[key]
            found.append((label, typed_text(typed, units) if key in _BOARD_LENGTHS else
                          f"{typed} %" if key == "moisture" and _is_number(typed) else str(typed)))
    return found


def _is_number(typed: object) -> bool:
    try:
        float(str(typed))
    except ValueError:
        return False
    return True


def design_facts(design: Design, words: Words) -> list[Fact]:
    """The shape in a few numbers."""
    paddle, target = design.paddle, design.target
    loom = paddle.a.loom
    found = [
        ("Length", words.length(paddle.length)),
        ("Loom, between the shoulders", words.length(2.0 * loom.half_length)),
        ("Loom, width × thickness", f"{words.bare(loom.width)} × {words.length(loom.thickness)}"),
        ("Blade, greatest width", words.length(max(s.width for s in paddle.a.stations))),
    ]
    if target is not None:
        most = "at most " if target.lightest else ""
        found.append(("Tip to sink", f"{most}{words.length(target.deflection_m)} ± "
                      f"{words.length(target.tolerance_m)} under {words.hung(target.load_n)}"))
    return found


def station_grids(design: Design, words: Words) -> list[Grid]:
    """The planned blade station by station; both where they differ."""
    paddle = design.paddle
    if paddle.is_symmetric:
        return [_stations(paddle.a, "Both blades", words)]
    return [_stations(paddle.a, "Blade A", words), _stations(paddle.b, "Blade B", words)]


def _stations(half: HalfPaddle, title: str, words: Words) -> Grid:
    rows = tuple((s.name, words.bare(s.x), words.bare(s.width) if s.width else "round",
                  words.bare(s.crown), "" if s.edge is None else words.bare(s.edge))
                 for s in half.stations)
    return Grid(f"{title} as planned ({words.system})",
                ("station", "from the centre", "width", "crown", "edge"), rows)


def stage_weights(design: Design, words: Words) -> dict[str, str]:
    """What the wood should weigh after each stage of carving, with its likely range.

    Empty where nobody has said of which wood it is.
    """
    try:
        build = design.build
    except SpringloomError:
        return {}
    factor = math.exp(NORMAL_90 * spread_of(build)[1])
    return {name: f"{words.mass(mass)} (90 % sure of {words.mass(mass / factor)} to "
                  f"{words.mass(mass * factor)})"
            for name, mass in zip(STAGES, stage_masses(design.paddle, build), strict=True)}


def measured_text(measured: Mapping[str, Typed], units: System) -> str:
    """What was measured at a stage, as typed."""
    return "; ".join(f"{key.replace('_', ' ')} {_measured(key, value, units)}"
                     for key, value in measured.items() if str(value).strip())


def _measured(key: str, value: Typed, units: System) -> str:
    if key == "weight":  # a bare one is in grams; in inches none is taken without its unit
        return typed_text(value, "g")
    return str(value) if key in {"note", "remark"} else typed_text(value, units)
