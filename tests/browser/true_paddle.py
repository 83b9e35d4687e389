"""A paddle that lies beside the browser: it has a truth, and answers what the page asks to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from springloom.mechanics.beam import Load
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line
from springloom.records.design import Design
from springloom.tune.evidence import SIDES
from springloom.tune.virtual import Virtual
from springloom.tune.walk import walk
from springloom.units import parse_length
from springloom.wood.material import Material

PROUD = 0.001
"""What was left on every crown when it was carved, m."""


@dataclass
class TruePaddle:
    """As drawn, with wood left on, of wood a little stiffer than such boards are."""

    design: Design
    truth: Virtual

    @classmethod
    def carved(cls, design: Design, stiffer: float = 1.06) -> TruePaddle:
        """Carve it."""
        assert isinstance(design.build, Material)
        wood = replace(design.build, e_pa=stiffer * design.build.e_pa)
        halves = tuple(replace(half, stations=tuple(
            replace(station, crown=station.crown + PROUD) for station in half.stations))
            for half in (design.paddle.a, design.paddle.b))
        return cls(design, Virtual((halves[0], halves[1]), (wood, wood)))

    def reads(self, key: str) -> str:
        """What a tool would read: millimetres to a tenth, grams; no slip of the hand."""
        step = next(step for step in walk(self.design.paddle) if step.key == key)
        if step.side is None:
            return f"{1000.0 * self.truth.mass_kg():.0f}"
        if step.sort == "bench":
            return f"{1000.0 * self._sinks(step.side, step.x_m):.1f}"
        crown, edge = self.truth.thickness(step.side, step.x_m)
        return f"{1000.0 * (crown if step.sort == 'crown' else edge):.1f}"

    def _sinks(self, side: Any, x: float) -> float:
        half = self.truth.half(side)
        setup = Clamped(half.loom.root, (Load(half.tip, STANDARD_LOAD),), (x,))
        return float(clamped_line(half, self.truth.wood(side), setup).at(x))

    def plane(self, planed: Sequence[Mapping[str, Any]]) -> None:
        """Take off what a closed round says was taken off."""
        for table in planed:
            side = table["blade"]
            half = self.truth.half(side)
            off = np.zeros(len(half.stations))
            names = [station.name for station in half.stations]
            for place, typed in zip(table["at"], table["per_face"], strict=True):
                off[names.index(place)] = 2.0 * parse_length(typed, default="mm")
            self.truth = self.truth.planed(side, off)

    def sinks(self) -> tuple[float, float]:
        """How far each tip really sinks under the standard weight, m."""
        return (self.truth.sinks(SIDES[0]), self.truth.sinks(SIDES[1]))
