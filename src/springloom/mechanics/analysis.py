"""Everything the mechanics say about a design, in one frozen result."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import whole_axis
from springloom.mechanics.beam import Bent
from springloom.mechanics.bend import BendCharacter, character
from springloom.mechanics.mass import MassProperties, mass_on
from springloom.mechanics.setups import Clamped, TwoHands, clamped_line, hands_line
from springloom.mechanics.stiffness import Build, rigidity
from springloom.mechanics.strength import Margin, SplittingScreen, margins, splitting
from springloom.mechanics.vibration import clamped_frequencies, free_frequencies
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
        hands_m: deflection at the load in the two-hands set-up, blade A loaded.
        mass: mass properties.
        free_hz: frequencies of the paddle hung free.
        notes: what the fairness rules had to do to the curves.
    """

    a: BladeResult
    b: BladeResult
    hands_m: float
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
    first = _blade(paddle, build, setup, progression)
    turned = Paddle(paddle.b, paddle.a)
    second = first if paddle.is_symmetric else _blade(turned, build, setup, progression)
    axis = whole_axis(paddle, -paddle.b.tip, paddle.a.tip)
    hands = TwoHands()
    return Analysis(
        a=first,
        b=second,
        hands_m=hands_line(paddle, build, hands).at(hands.load_at),
        mass=mass_on(axis, rigidity(axis, build)),
        free_hz=free_frequencies(paddle, build),
        notes=paddle.a.notes() if paddle.is_symmetric else paddle.a.notes() + paddle.b.notes(),
    )


def _blade(
    paddle: Paddle, build: Build, setup: Clamped | None, progression: float | None
) -> BladeResult:
    half = paddle.a
    bent = clamped_line(half, build, setup)
    return BladeResult(
        line=_line(bent, build, half.cap[0], progression),
        margins=margins(paddle, build),
        splitting=splitting(half, build),
        clamped_hz=clamped_frequencies(half, build, float(bent.axis.ends[0])),
    )


def _line(bent: Bent, build: Build, until: float, progression: float | None) -> BladeLine:
    rigid = rigidity(bent.axis, build)
    stiffest = build.e_pa if isinstance(build, Material) else max(
        strip.material.e_pa for strip in build.strips
    )
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
