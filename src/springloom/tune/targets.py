"""What to aim for when no deflection is given: like another paddle, or as light as is safe.

Like another paddle means: the same weight bends both blades into the same line, drawn to each
blade's own length. So the tip sinks the same share of the way from root to tip, turns by the same
angle, and the curvature grows outward alike, in whatever size and wood (common practice, no
source: what the hands feel is how far the blade gives way, and where).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from springloom.errors import in_range
from springloom.fit.bend import DEFAULT_PROGRESSION, Target
from springloom.mechanics.beam import Load
from springloom.mechanics.bend import character
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line
from springloom.mechanics.stiffness import Build, spread_of
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import SIDES

TOLERANCE = 0.0015
"""How near is near enough where nothing else is said, m."""

MOST_FLEX_SHARE = 0.06
"""Share of its length from root to tip that a blade may sink under 10 lb before it is held to be
too soft: the default blade sinks that when it sinks 45 mm between two hands, the most that is
common in redcedar (common practice, no source)."""

_LEAST_P, _MOST_P = 0.0, 6.0  # what a target can ask for

Blade = tuple[HalfPaddle, Build]
"""One blade and its wood."""


@dataclass(frozen=True, slots=True)
class Carried:
    """A target taken over from another paddle.

    Attributes:
        target: for the new blade.
        other_m: what the other paddle's tip sinks under the target's weight (mean of its blades).
        other_free_m: from its root to its tip.
        share: the one over the other, which is kept.
        sd_ln: how well ``other_m`` is known, as the standard deviation of its logarithm.
        other_progression: its bend's own p; the target's differs where no target can ask for it.
    """

    target: Target
    other_m: float
    other_free_m: float
    share: float
    sd_ln: float
    other_progression: float


def recorded(known: Estimate, load_n: float = STANDARD_LOAD) -> tuple[tuple[Blade, Blade], float]:
    """Both blades of a measured paddle, and how well their mean deflection is known (sd of ln)."""
    blades = [(known.half(side), known.scaled_build(side)) for side in SIDES]
    sunk = [known.sink_gradient(side, _setup(known.model.bench(side).half, load_n), known.theta)
            for side in SIDES]
    mean = sum(gradient / value for value, gradient in sunk) / len(sunk)
    return (blades[0], blades[1]), math.sqrt(float(mean @ known.covariance @ mean))


def planned(paddle: Paddle, build: Build) -> tuple[tuple[Blade, Blade], float]:
    """Both blades of a paddle nobody has measured, and what its wood leaves open (sd of ln)."""
    return ((paddle.a, build), (paddle.b, build)), spread_of(build)[0]


def target_like(
    other: Sequence[Blade], half: HalfPaddle, load_n: float = STANDARD_LOAD,
    tolerance_m: float = TOLERANCE, sd_ln: float = 0.0,
) -> Carried:
    """Carry another paddle's bend over to a blade: equal weight, equal shape of the bent line.

    Args:
        other: its blades with their wood, as :func:`recorded` or :func:`planned` give them.
        half: the blade to be made or tuned.
        load_n: the weight both are compared under.
        tolerance_m: how near is near enough.
        sd_ln: how well the other's deflection is known; it is passed on.

    Raises:
        RangeError: the other paddle bends as no target can ask for.
    """
    lines = [clamped_line(blade, build, _setup(blade, load_n), large=False)
             for blade, build in other]
    sunk = [float(line.deflection_ends[-1]) for line in lines]
    free = [_free(blade) for blade, _ in other]
    shares = [one / length for one, length in zip(sunk, free, strict=True)]
    bends = [character(line, blade.cap[0]).progression
             for line, (blade, _) in zip(lines, other, strict=True)]
    share, own = float(np.mean(shares)), float(np.mean(bends))
    target = Target(share * _free(half), load_n, min(max(own, _LEAST_P), _MOST_P), tolerance_m)
    return Carried(target, float(np.mean(sunk)), float(np.mean(free)), share, sd_ln, own)


def lightest_target(
    half: HalfPaddle, cap_m: float | None = None, load_n: float = STANDARD_LOAD,
    progression: float = DEFAULT_PROGRESSION, tolerance_m: float = TOLERANCE,
) -> Target:
    """As light as it can safely be: down to the limits, but bending no further than a cap.

    Args:
        half: the blade.
        cap_m: how far the tip may sink at most; None for :data:`MOST_FLEX_SHARE` of the length
            from root to tip, in proportion to the weight.
        load_n: the weight.
        progression: of the bend along which wood comes off.
        tolerance_m: how near the cap is near enough.
    """
    in_range(load_n, "target.under", 1.0, 300.0, "N")
    cap = MOST_FLEX_SHARE * _free(half) * load_n / STANDARD_LOAD if cap_m is None else cap_m
    return Target(cap, load_n, progression, tolerance_m, lightest=True)


def _free(half: HalfPaddle) -> float:
    return half.tip - half.loom.root


def _setup(half: HalfPaddle, load_n: float) -> Clamped:
    return Clamped(loads=(Load(half.tip, load_n),))
