"""Everything the mechanics say about a design, in one frozen result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import Axis, whole_axis
from springloom.mechanics.beam import Bent, Load, cantilever, overhang
from springloom.mechanics.bend import BendCharacter, character
from springloom.mechanics.elastica import worth_trying
from springloom.mechanics.mass import MassProperties, mass_on
from springloom.mechanics.setups import (
    HANDS_HALF_SPAN,
    HANDS_LOAD,
    HANDS_LOAD_AT,
    STANDARD_LOAD,
    Clamped,
    clamped_line,
)
from springloom.mechanics.stiffness import Build, Rigidity, rigidity
from springloom.mechanics.strength import Margin, SplittingScreen, margins_on, splitting
from springloom.mechanics.vibration import clamped_on, free_on
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BladeLine:
    """One blade under a set-up; arrays of shape (points,), from the clamp to the tip.

    Attributes:
        x_m: places from the centre.
        deflection_m: how far each sinks.
        curvature_per_m: κ.
        moment_n_m: bending moment.
        stress_pa: greatest bending stress at the ridge (a layup: at the stiffest strip's modulus).
        tip_deflection_m: at the tip.
        character: what the bend is like.
    """

    x_m: Floats
    deflection_m: Floats
    curvature_per_m: Floats
    moment_n_m: Floats
    stress_pa: Floats
    tip_deflection_m: float
    character: BendCharacter


@dataclass(frozen=True, slots=True)
class BladeResult:
    """One blade: its line, margins, screen and clamped frequencies in Hz."""

    line: BladeLine
    margins: tuple[Margin, ...]
    splitting: SplittingScreen
    clamped_hz: tuple[float, ...]

    @property
    def weakest(self) -> Margin:
        """The case with the least margin."""
        return min(self.margins, key=lambda m: m.margin)


@dataclass(frozen=True, slots=True)
class Analysis:
    """The whole paddle.

    Attributes:
        a, b: each blade's result; the same object when the blades are alike.
        hands_m: deflection at the load in the two-hands set-up, blade A loaded; None where
            the paddle is too short for it.
        mass: mass properties.
        free_hz: frequencies of the paddle hung free.
        notes: what the fairness rules had to do to the curves.
    """

    a: BladeResult
    b: BladeResult
    hands_m: float | None
    mass: MassProperties
    free_hz: tuple[float, ...]
    notes: tuple[str, ...]


def analyse(paddle: Paddle, build: Build, setup: Clamped | None = None,
            progression: float | None = None) -> Analysis:
    """Analyse a paddle of one build.

    Args:
        paddle: the shape.
        build: material or layup.
        setup: clamp set-up of the lines; None for the standard one.
        progression: wanted p, against which stiff and soft spots are named.
    """
    axis = _standard_axis(paddle)
    rigid = rigidity(axis, build)
    first = _blade(paddle.a, axis, rigid, build, setup, progression)
    second = first
    if not paddle.is_symmetric:
        turned = _standard_axis(Paddle(paddle.b, paddle.a))
        second = _blade(paddle.b, turned, rigidity(turned, build), build, setup, progression)
    return Analysis(
        a=first,
        b=second,
        hands_m=_hands(axis, rigid),
        mass=mass_on(axis, rigid),
        free_hz=free_on(axis, rigid),
        notes=paddle.a.notes() if paddle.is_symmetric else paddle.a.notes() + paddle.b.notes(),
    )


def _standard_axis(paddle: Paddle) -> Axis:
    """Both blades from tip to tip, cut where the standard set-ups load, hold and read."""
    cuts = (-HANDS_HALF_SPAN, HANDS_HALF_SPAN, HANDS_LOAD_AT)
    return whole_axis(paddle, -paddle.b.tip, paddle.a.tip, cuts)


def _hands(axis: Axis, rigid: Rigidity) -> float | None:
    """Two-hands deflection at its load, m; None for a paddle too short for that set-up."""
    if axis.ends[-1] < HANDS_LOAD_AT + 0.02:
        return None
    held = axis.part(-HANDS_HALF_SPAN, float(axis.ends[-1]))
    loads = [Load(HANDS_LOAD_AT, HANDS_LOAD)]
    bent = overhang(axis.cut_to(held), rigid.cut_to(held), (-HANDS_HALF_SPAN, HANDS_HALF_SPAN),
                    loads)
    return bent.at(HANDS_LOAD_AT)


def _blade(
    half: HalfPaddle, axis: Axis, rigid: Rigidity, build: Build, setup: Clamped | None,
    progression: float | None,
) -> BladeResult:
    """Results of the blade on the axis's positive side."""
    outer = axis.part(half.loom.root, half.tip)
    blade, stiff = axis.cut_to(outer), rigid.cut_to(outer)
    bent = _bent(half, blade, stiff, build, setup)
    held = slice(axis.end_index(-half.loom.root), outer.stop)
    return BladeResult(
        line=_line(bent, build, stiff if bent.axis is blade else None, half.cap[0], progression),
        margins=margins_on(axis.cut_to(held), rigid.cut_to(held), half, build),
        splitting=splitting(half, build),
        clamped_hz=clamped_on(blade, stiff),
    )


def _bent(
    half: HalfPaddle, blade: Axis, stiff: Rigidity, build: Build, setup: Clamped | None
) -> Bent:
    """Line of the standard set-up from what is already known, or of another from scratch."""
    if setup is not None:
        return clamped_line(half, build, setup)
    bent = cantilever(blade, stiff, [Load(half.tip, STANDARD_LOAD)])
    return clamped_line(half, build) if worth_trying(bent) else bent


def _line(bent: Bent, build: Build, reach: Rigidity | None, until: float,
          progression: float | None) -> BladeLine:
    stiffest = build.e_pa if isinstance(build, Material) else max(
        strip.material.e_pa for strip in build.strips
    )
    rigid = rigidity(bent.axis, build) if reach is None else reach
    stress = np.abs(bent.curvature) * stiffest * np.maximum(rigid.top, rigid.bottom)
    return BladeLine(
        x_m=bent.axis.x.ravel(),
        deflection_m=bent.deflection.ravel(),
        curvature_per_m=bent.curvature.ravel(),
        moment_n_m=bent.moment.ravel(),
        stress_pa=stress.ravel(),
        tip_deflection_m=float(bent.deflection_ends[-1]),
        character=character(bent, until, progression),
    )
