"""The ways a maker loads a paddle on the bench, and the lines the model gives for them."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import InputError, in_range
from springloom.mechanics.axis import half_axis, whole_axis
from springloom.mechanics.beam import Bent, Load, cantilever, overhang
from springloom.mechanics.elastica import NOTICEABLE, bend_deeply, worth_trying
from springloom.mechanics.stiffness import Build, rigidity
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle

POUND_FORCE = 0.45359237 * 9.80665
"""Newtons; the pound is exact by the 1959 agreement and g by the 3rd CGPM (1901)."""

STANDARD_LOAD = 10.0 * POUND_FORCE
"""The load of the standard clamp set-up, N."""

HANDS_HALF_SPAN = 0.254
HANDS_LOAD_AT = 0.889
HANDS_LOAD = 89.0


@dataclass(frozen=True, slots=True)
class Clamped:
    """One blade held at a line, weights hung from it.

    Attributes:
        clamp: place of the clamp's outer edge, m from the centre; None for the root.
        loads: hung weights; empty for the standard load at the tip.
        read: places where the line is read, m from the centre; empty for the tip.
        rotation: how far the clamp itself turns under these loads, rad.
    """

    clamp: float | None = None
    loads: tuple[Load, ...] = ()
    read: tuple[float, ...] = ()
    rotation: float = 0.0

    def on(self, half: HalfPaddle) -> Clamped:
        """Return a copy with every place filled in and checked for this half-paddle."""
        clamp = half.loom.root if self.clamp is None else self.clamp
        in_range(clamp, "clamp", 0.0, half.stations[-2].x, "m from centre")
        loads = self.loads or (Load(half.tip, STANDARD_LOAD),)
        read = self.read or (half.tip,)
        for load in loads:
            in_range(load.x, "load.at", clamp + 0.02, half.tip, "m from centre")
            in_range(load.force, "load.force", 0.0, 500.0, "N", open_low=True)
        for place in read:
            in_range(place, "read.at", clamp, half.tip, "m from centre")
        in_range(self.rotation, "rotation", -0.2, 0.2, "rad")
        return Clamped(clamp, loads, read, self.rotation)


@dataclass(frozen=True, slots=True)
class TwoHands:
    """The paddle on two supports about its centre, a weight hung from one blade; m and N."""

    half_span: float = HANDS_HALF_SPAN
    load_at: float = HANDS_LOAD_AT
    force: float = HANDS_LOAD


def clamped_line(half: HalfPaddle, build: Build, setup: Clamped | None = None,
                 large: bool | None = None) -> Bent:
    """Line of a clamped blade.

    Args:
        half: loom half and blade.
        build: material or layup.
        setup: set-up; None for the standard one (root clamped, 10 lbf at the tip).
        large: True or False forces large or small deflection; None takes the large one
            where it changes the tip by more than 0.5 %.
    """
    full = (setup or Clamped()).on(half)
    clamp = full.clamp if full.clamp is not None else half.loom.root
    axis = half_axis(half, clamp, [*(load.x for load in full.loads), *full.read])
    rigid = rigidity(axis, build)
    linear = cantilever(axis, rigid, full.loads, full.rotation)
    if large is False or (large is None and not worth_trying(linear)):
        return linear
    deep = bend_deeply(axis, rigid, full.loads, full.rotation)
    change = abs(deep.deflection_ends[-1] / linear.deflection_ends[-1] - 1.0)
    return deep if large or change > NOTICEABLE else linear


def tip_deflection(half: HalfPaddle, build: Build, setup: Clamped | None = None) -> float:
    """Deflection of the tip in m (small deflection), the quantity targets are given in."""
    return float(clamped_line(half, build, setup, large=False).deflection_ends[-1])


def hands_line(paddle: Paddle, build: Build, setup: TwoHands | None = None) -> Bent:
    """Line of the paddle held by two hands; the loaded blade is A."""
    s = setup or TwoHands()
    in_range(s.half_span, "half_span", 0.05, min(paddle.a.loom.root, 1.0), "m")
    in_range(s.load_at, "load_at", s.half_span + 0.02, paddle.a.tip, "m from centre")
    in_range(s.force, "force", 0.0, 500.0, "N", open_low=True)
    if s.half_span > paddle.b.loom.root:
        raise InputError("the other hand would lie past the root", field="half_span",
                         given=s.half_span)
    cuts = (-s.half_span, s.half_span, s.load_at)
    axis = whole_axis(paddle, -s.half_span, paddle.a.tip, cuts)
    rigid = rigidity(axis, build)
    return overhang(axis, rigid, (-s.half_span, s.half_span), [Load(s.load_at, s.force)])
