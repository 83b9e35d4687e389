"""A target for one size, carried over to another."""

from __future__ import annotations

from dataclasses import replace

from springloom.fit.bend import Target
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import default_paddle

CLASS_TARGET = Target(0.033)
"""What the default paddle's tip should sink under 10 lb (common practice, no source)."""


def free_length_m(half: HalfPaddle) -> float:
    """Length that bends: from the root, where it is clamped, to the tip, m."""
    return half.tip - half.loom.root


def scaled_target(target: Target, half: HalfPaddle, reference: HalfPaddle | None = None) -> Target:
    """Return the target for ``half`` at which it is curved as the reference is under the target.

    The same curvature at the same share of the way sinks the tip in proportion to the square
    of the free length; load and progression stay. The tolerance is scaled alike.

    Args:
        target: stated for the reference.
        half: the blade it is wanted for.
        reference: the blade it was stated for; None for the default paddle's.
    """
    known = default_paddle().a if reference is None else reference
    ratio = (free_length_m(half) / free_length_m(known)) ** 2
    return replace(target, deflection_m=ratio * target.deflection_m,
                   tolerance_m=max(0.0002, ratio * target.tolerance_m))
