"""The character of a bend: fair or not, progressive or not, where stiff and where soft.

Curvature κ(x) = M/EI under a load at the tip is what a maker sees when sighting the edge.
A wanted bend is κ ∝ (1 + p ξ)(1 − ξ⁶), ξ running from the clamp to the tip: p is how
progressive it is (0 an even arc, about 2 the default blade), and the last factor lets the
curvature die out at the free tip, where there is no moment left to bend it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.mechanics.beam import Bent

Floats = npt.NDArray[np.float64]

FADE_POWER = 6
NOTICED = 0.08
"""Share by which curvature must differ from the wanted one to be called stiff or soft."""

_RIPPLE = 0.01  # an extremum shallower than 1 % is not seen by any eye
_MOST = 0.5  # "over most of the blade"


@dataclass(frozen=True, slots=True)
class Spot:
    """A stretch that bends less (stiff) or more (soft) than wanted.

    Attributes:
        kind: stiff or soft.
        from_m, to_m: the stretch, from the centre.
        excess: mean share of curvature above (+) or below (−) the wanted one.
    """

    kind: Literal["stiff", "soft"]
    from_m: float
    to_m: float
    excess: float


@dataclass(frozen=True, slots=True)
class BendCharacter:
    """How a blade bends between the root and the start of its rounded tip.

    Attributes:
        fair: no local extremum of curvature but one.
        progressive: curvature grows outward over most of the blade.
        growth_share: the share of the blade over which it grows.
        peak_m: place of the greatest curvature, from the centre.
        progression: best-fitting p of the wanted bend.
        spots: where it departs from the wanted bend by more than :data:`NOTICED`.
    """

    fair: bool
    progressive: bool
    growth_share: float
    peak_m: float
    progression: float
    spots: tuple[Spot, ...]

    @property
    def words(self) -> str:
        """One plain sentence."""
        fair = "fair" if self.fair else "not fair (the curvature wavers)"
        how = "progressive" if self.progressive else "not progressive"
        return f"{fair}, {how}: grows outward over {100 * self.growth_share:.0f} % of the blade"


def wanted_curvature(xi: Floats, progression: float) -> Floats:
    """Return the wanted curvature's shape at ξ in [0, 1] (clamp to tip), 1 at the clamp."""
    return (1.0 + progression * xi) * (1.0 - xi**FADE_POWER)


def line_shape(xi: Floats, progression: float) -> Floats:
    """Return the wanted curvature integrated twice from the clamp: the line, but for its scale.

    1 + pξ − ξ⁶ − pξ⁷, integrated term by term; shear, under 1 % of a blade's line, is left out.
    """
    n, p = FADE_POWER, progression
    return np.asarray(xi**2 / 2 + p * xi**3 / 6 - xi ** (n + 2) / ((n + 1) * (n + 2))
                      - p * xi ** (n + 3) / ((n + 2) * (n + 3)))


def character(bent: Bent, until: float, progression: float | None = None) -> BendCharacter:
    """Describe a clamped line under a tip load, or up to where the outermost load hangs.

    Args:
        bent: the line.
        until: where the rounded tip begins, m from the centre; nothing beyond is judged.
        progression: p of the wanted bend; None for the best-fitting one.
    """
    x, kappa = bent.axis.x.ravel(), bent.curvature.ravel()
    start, ends = float(bent.axis.ends[0]), bent.axis.ends
    loaded = kappa > 0.0  # beyond a load hung further in the blade stays straight
    end = float(ends[np.searchsorted(ends, x[loaded][-1])])
    judged = loaded & (x <= until)
    x, kappa = x[judged], kappa[judged]
    xi = (x - start) / (end - start)
    fitted = _fit_progression(xi, kappa)
    wanted = wanted_curvature(xi, fitted if progression is None else progression)
    excess = kappa / (wanted * _scale(kappa, wanted)) - 1.0
    rising = np.diff(kappa) > 0.0
    share = float(np.sum(np.diff(x)[rising]) / (x[-1] - x[0]))
    return BendCharacter(
        fair=_extrema(kappa) <= 1,
        progressive=share >= _MOST,
        growth_share=share,
        peak_m=float(x[np.argmax(kappa)]),
        progression=fitted,
        spots=_spots(x, excess),
    )


def _scale(kappa: Floats, wanted: Floats) -> float:
    return float(np.exp(np.mean(np.log(kappa / wanted))))


def _fit_progression(xi: Floats, kappa: Floats) -> float:
    """Least squares of κ = a(1−ξ⁶) + a·p·ξ(1−ξ⁶), linear in a and a·p."""
    fade = 1.0 - xi**FADE_POWER
    basis = np.stack([fade, xi * fade], axis=1) / kappa[:, None]
    (level, rise), *_ = np.linalg.lstsq(basis, np.ones_like(xi), rcond=None)
    return float(rise / level)


def _extrema(kappa: Floats) -> int:
    """Count turning points whose swing exceeds the ripple no eye sees."""
    count, direction = 0, 0
    turning = kappa[0]
    for value in kappa[1:]:
        if direction >= 0 and value < turning * (1.0 - _RIPPLE):
            count, direction, turning = count + (direction > 0), -1, value
        elif direction <= 0 and value > turning * (1.0 + _RIPPLE):
            count, direction, turning = count + (direction < 0), 1, value
        elif direction >= 0:
            turning = max(turning, value)
        else:
            turning = min(turning, value)
    return count


def _spots(x: Floats, excess: Floats) -> tuple[Spot, ...]:
    found: list[Spot] = []
    sign = np.sign(excess) * (np.abs(excess) > NOTICED)
    edges = np.flatnonzero(np.diff(sign)) + 1
    for part in np.split(np.arange(len(x)), edges):
        if sign[part[0]] == 0.0 or x[part[-1]] - x[part[0]] < 0.02:
            continue
        kind: Literal["stiff", "soft"] = "soft" if sign[part[0]] > 0 else "stiff"
        mean = float(np.mean(excess[part]))
        found.append(Spot(kind, float(x[part[0]]), float(x[part[-1]]), mean))
    return tuple(found)
