"""The two sides, the shop's instruments with their uncertainties, and repeats put together."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

Side = Literal["a", "b"]
SIDES: tuple[Side, Side] = ("a", "b")

Face = Literal["both", "upper", "lower"]
FACES: tuple[Face, ...] = ("both", "upper", "lower")

Shared = tuple[tuple[tuple[str, float], float], ...]
"""Sources of error that other readings share: which, and one standard deviation of it here."""

INSTRUMENTS = {
    "dial caliper": 0.00005,
    "vernier caliper": 0.0001,
    "profile gauge": 0.0002,
    "combination square": 0.0003,
    "ruler": 0.0004,
    "ruler against a string": 0.0005,
    "tape": 0.0006,
}
"""Standard deviation of one reading on shaped wood, m (common practice, no source)."""

SCALES = {"kitchen scale": 0.002, "hanging scale": 0.015}
"""Standard deviation of one weighing, kg (common practice, no source)."""

RECORDERS = {"phone recording": 0.3, "tuner": 0.5}
"""Standard deviation of a tone, Hz (common practice, no source)."""

DEFAULT_CALIPER = "vernier caliper"
DEFAULT_BENCH = "ruler"
DEFAULT_LENGTH = "tape"
DEFAULT_SCALE = "kitchen scale"
DEFAULT_GAUGE = "profile gauge"
DEFAULT_RECORDER = "phone recording"

class Read:
    """Defaults of a reading: its error is its own."""

    __slots__ = ()
    sd: float

    @property
    def own_sd(self) -> float:
        """Standard deviation of the reading's own error, in the reading's unit."""
        return self.sd

    @property
    def shared(self) -> Shared:
        """Sources of error that other readings share: none."""
        return ()


@dataclass(frozen=True, slots=True)
class Repeated:
    """Several readings of one thing as one, m.

    Attributes:
        value: their mean; with readings while unloading, the middle of both means.
        sd: of that value.
        scatter: sd among repeats, 0 where there is one.
        hysteresis: unloading less loading.
    """

    value: float
    sd: float
    scatter: float
    hysteresis: float


_INSTRUMENT_WORTH = 4
"""How many repeats an instrument's stated uncertainty is worth when they scatter otherwise."""


def repeated(loading: Sequence[float], unloading: Sequence[float], sd: float) -> Repeated:
    """Put repeats and readings on the way back together; ``sd`` is the instrument's.

    The instrument's variance is pooled with the repeats' own. The true line lies somewhere
    between loading and unloading: half their difference is added as a further uncertainty.
    """
    ways = [np.asarray(way, dtype=float) for way in (loading, unloading) if len(way)]
    means = [float(np.mean(way)) for way in ways]
    squares = float(sum(np.sum((way - mean) ** 2) for way, mean in zip(ways, means, strict=True)))
    freedom = sum(len(way) - 1 for way in ways)
    scatter = math.sqrt(squares / freedom) if freedom else 0.0
    one = (squares + _INSTRUMENT_WORTH * sd**2) / (freedom + _INSTRUMENT_WORTH)
    variance = sum(one / len(way) for way in ways) / len(ways) ** 2
    gap = means[1] - means[0] if len(ways) > 1 else 0.0
    middle = sum(means) / len(ways)
    return Repeated(middle, math.hypot(math.sqrt(variance), 0.5 * gap), scatter, gap)


def blade_name(side: Side) -> str:
    """What the maker calls a blade."""
    return f"blade {side.upper()}"


def place_name(x: float, name: str) -> str:
    """What the maker calls a place, else its distance from the centre."""
    return name or f"{1e3 * x:.0f} mm"
