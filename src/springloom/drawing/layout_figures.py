"""Figures to set off on the blank and on the flats, place by place, in both systems."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.drawing.layout_table import Figures
from springloom.drawing.model import Array
from springloom.drawing.offsets import FROM_TIP, figure, offsets
from springloom.shape.blade import HalfPaddle
from springloom.shape.marks import blank_marks, flat_marks, places
from springloom.shape.paddle import Paddle
from springloom.shape.stages import Carving, carvings
from springloom.units import METRE_PER_INCH, Denominator, System

# Round the tip marks are set off at these distances from it: whole figures of either rule.
ROUND_TIP: dict[System, tuple[float, ...]] = {
    "mm": (0.050, 0.025, 0.010, 0.004),
    "in": tuple(n * METRE_PER_INCH for n in (2.0, 1.0, 3.0 / 8.0, 3.0 / 16.0)),
}
STEP_MM = 1e-4
"""Figures in mm are whole tenths, as on the plan."""


@dataclass(frozen=True)
class FaceFigures:
    """What is set off on one face of one blade.

    Attributes:
        blade: "A" or "B"; "" where both are alike.
        face: "upper" or "lower"; "" where both are alike.
        names: what each place is called, from the centre outward.
        figures: for a rule of the chosen system, and for one of the other.
    """

    blade: str
    face: str
    names: tuple[str, ...]
    figures: tuple[Figures, ...]


def paddle_figures(paddle: Paddle, system: System = "mm",
                   denominator: Denominator = 64) -> tuple[FaceFigures, ...]:
    """Return the figures of every face that has its own.

    Args:
        paddle: what is carved.
        system: units that come first.
        denominator: finest division of the inch.
    """
    a, b = carvings(paddle)
    pairs = [(a, "")] if a is b else [(a, "A"), (b, "B")]
    return tuple(face for carving, blade in pairs
                 for face in face_figures(carving, system, denominator, blade))


def face_figures(carving: Carving, system: System, denominator: Denominator,
                 blade: str = "") -> tuple[FaceFigures, ...]:
    """Return the figures of one half, once where its faces are alike."""
    order: tuple[System, ...] = ("mm", "in") if system == "mm" else ("in", "mm")
    x = places(carving.half, ROUND_TIP[system])
    names = tuple(_names(carving.half, x, system, denominator))
    steps = {"mm": STEP_MM, "in": METRE_PER_INCH / denominator}
    deep = (carving.blank.above_m, carving.blank.below_m)
    blanks = {unit: blank_marks(carving.half, x, steps[unit], deep) for unit in order}
    made = []
    for upper in (True,) if carving.alike else (True, False):
        flats = carving.flats[0 if upper else 1]
        figures = tuple(Figures(unit, blanks[unit], flat_marks(flats, x, steps[unit]), upper)
                        for unit in order)
        face = "" if carving.alike else "upper" if upper else "lower"
        made.append(FaceFigures(blade, face, names, figures))
    return tuple(made)


def _names(half: HalfPaddle, x: Array, system: System, denominator: Denominator) -> list[str]:
    """Return what each place is called: as on the plan, or its distance from the tip."""
    named = [(row.x, row.name) for row in offsets(half, system, denominator)]
    names = []
    for at in x.tolist():
        near, name = min(named, key=lambda pair: abs(pair[0] - at))
        own = f"{figure(half.tip - at, system, denominator)}{FROM_TIP}"
        names.append(name if abs(near - at) < 1e-9 else own)
    return names
