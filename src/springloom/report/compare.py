"""Paddles side by side: as measured where anything was read, else as planned."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from springloom.drawing.model import Drawing
from springloom.drawing.plot import Plot, Series, Style
from springloom.mechanics.beam import Load
from springloom.mechanics.bend import BendCharacter, character
from springloom.mechanics.mass import MassProperties, mass_properties
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line
from springloom.mechanics.stiffness import Build
from springloom.records.design import Design
from springloom.report.sheets import wood_name
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.estimate import reference_modulus
from springloom.tune.targets import planned, recorded
from springloom.units import METRE_PER_INCH

MOST = 4
STYLES = (Style.HEAVY, Style.DASHED, Style.SOLID, Style.FINE)
_POINTS = 121
_WIDTH_MM, _HEIGHT_MM, _MARGIN_MM = 170.0, 80.0, 5.0


@dataclass(frozen=True)
class Compared:
    """One paddle of a comparison.

    Attributes:
        name: its own.
        measured: whether readings stand behind it.
        design: as planned.
        blades: A and B with their wood.
        sd_ln: how well the bend is known (sd of its logarithm).
    """

    name: str
    measured: bool
    design: Design
    blades: tuple[tuple[HalfPaddle, Build], tuple[HalfPaddle, Build]]
    sd_ln: float

    @classmethod
    def of(cls, design: Design) -> Compared:
        """Take it from a design.

        Raises:
            InputError: it has no wood.
            EvidenceError: its readings fit no such paddle.
        """
        if not design.readings:
            blades, sd_ln = planned(design.paddle, design.build)
            return cls(design.name, False, design, blades, sd_ln)
        blades, sd_ln = recorded(design.tuned().now())
        return cls(design.name, True, design, blades, sd_ln)

    @property
    def mass(self) -> MassProperties:
        """Mass properties of the bare wood."""
        (a, build), (b, _) = self.blades
        return mass_properties(Paddle(a, b), build)

    def line(self, blade: int) -> tuple[np.ndarray, np.ndarray]:
        """Places from the root outward and how far they sink under the standard load, m."""
        half, build = self.blades[blade]
        bent = clamped_line(half, build, _standard(half), large=False)
        return bent.axis.x.ravel() - half.loom.root, bent.deflection.ravel()

    def tip(self, blade: int) -> float:
        """How far a tip sinks under the standard load, m."""
        half, build = self.blades[blade]
        return float(clamped_line(half, build, _standard(half), large=False).deflection_ends[-1])

    def bend(self, blade: int) -> BendCharacter:
        """What a blade's bend is like."""
        half, build = self.blades[blade]
        return character(clamped_line(half, build, _standard(half), large=False), half.cap[0])

    def crowns(self, blade: int) -> tuple[np.ndarray, np.ndarray]:
        """Places from the root outward and the thickness at the ridge, m."""
        half = self.blades[blade][0]
        x = np.linspace(half.loom.root, half.tip, _POINTS)
        return x - half.loom.root, np.asarray(half.values(half.parameter(x))[1])


def _standard(half: HalfPaddle) -> Clamped:
    return Clamped(loads=(Load(half.tip, STANDARD_LOAD),))


def compare_rows(chosen: Sequence[Compared], words: Words) -> list[tuple[str, ...]]:
    """Rows of the comparison: what, then one cell a paddle."""
    cells: tuple[tuple[str, Callable[[Compared], str]], ...] = (
        ("From", lambda one: "readings" if one.measured else "the plan"),
        ("Use", lambda one: one.design.use),
        ("Wood", lambda one: wood_name(one.design.build)),
        ("Length", lambda one: words.length(one.design.paddle.length)),
        ("Loom, between the shoulders",
         lambda one: words.length(2.0 * one.design.paddle.a.loom.half_length)),
        ("Loom, width × thickness", lambda one: _loom(one, words)),
        ("Blade, greatest width", lambda one: words.length(_widest(one.blades[0][0]))),
        ("Crown half-way, A", lambda one: words.length(_half_way(one.blades[0][0]))),
        ("Weight, bare wood", lambda one: words.mass(one.mass.mass_kg)),
        ("Balances from the centre", lambda one: words.length(abs(one.mass.balance_m))),
        ("Stiffness of the wood, A", lambda one: words.modulus(_modulus(one, 0))),
        ("Stiffness of the wood, B", lambda one: words.modulus(_modulus(one, 1))),
        ("Tip sinks, A", lambda one: words.length(one.tip(0))),
        ("Tip sinks, B", lambda one: words.length(one.tip(1))),
        ("Known to, one standard deviation", lambda one: f"{100.0 * one.sd_ln:.0f} %"),
        ("Bend, A", lambda one: one.bend(0).words),
        ("Rounds of tuning over", lambda one: str(len(one.design.rounds))),
    )
    return [(label, *(cell(one) for one in chosen)) for label, cell in cells]


def load_words(words: Words) -> str:
    """Under which weight all of them hang."""
    return f"{words.hung(STANDARD_LOAD)} at the tip, root clamped"


def _loom(one: Compared, words: Words) -> str:
    loom = one.design.paddle.a.loom
    return f"{words.bare(loom.width)} × {words.length(loom.thickness)}"


def _widest(half: HalfPaddle) -> float:
    return max(station.width for station in half.stations)


def _half_way(half: HalfPaddle) -> float:
    return float(half.values(half.parameter(half.at_fraction(0.5)))[1])


def _modulus(one: Compared, blade: int) -> float:
    return reference_modulus(one.blades[blade][1])


def compare_drawings(chosen: Sequence[Compared], words: Words) -> tuple[Drawing, ...]:
    """Draw the bent lines over one another, then the thickness: of A, and of B where any differs.

    All start at the root, so that paddles of unlike length lie on one another.
    """
    apart = any(not one.design.paddle.is_symmetric or one.measured for one in chosen)
    blades = (0, 1) if apart else (0,)
    return tuple(drawing for blade in blades
                 for drawing in (_lines(chosen, blade, words), _thickness(chosen, blade, words)))


def _lines(chosen: Sequence[Compared], blade: int, words: Words) -> Drawing:
    unit = _unit(words)
    series = []
    for one, style in zip(_named(chosen), STYLES, strict=False):
        x, sunk = one[1].line(blade)
        series.append(Series(one[0], x / unit, -sunk / unit, style))
    return _plot(f"Blade {'AB'[blade]} under {words.hung(STANDARD_LOAD)}",
                 f"line, {words.system}", series, words)


def _thickness(chosen: Sequence[Compared], blade: int, words: Words) -> Drawing:
    unit = _unit(words)
    series = []
    for one, style in zip(_named(chosen), STYLES, strict=False):
        x, crown = one[1].crowns(blade)
        series.append(Series(one[0], x / unit, crown / unit, style))
    return _plot(f"Blade {'AB'[blade]}: thickness at the ridge", f"thickness, {words.system}",
                 series, words)


def _named(chosen: Sequence[Compared]) -> list[tuple[str, Compared]]:
    """Each under a short name of its own."""
    return [(f"{n} {one.name[:_SHORT]}", one) for n, one in enumerate(chosen, 1)]


_SHORT = 14


def _plot(title: str, label: str, series: list[Series], words: Words) -> Drawing:
    plot = Plot(f"from the root, {words.system}", label, tuple(series), title=title,
                width_mm=_WIDTH_MM, height_mm=_HEIGHT_MM)
    return Drawing(_WIDTH_MM + 2.0 * _MARGIN_MM, _HEIGHT_MM + 2.0 * _MARGIN_MM, title,
                   plot.block(_MARGIN_MM, _MARGIN_MM).items)


def _unit(words: Words) -> float:
    return 1e-3 if words.system == "mm" else METRE_PER_INCH
