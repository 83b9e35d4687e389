"""Which evidence moved an unknown, and by how much.

Near the estimate all is linear: the shift from what was believed before is a gain times each
reading's surprise (its distance from what was foretold before any reading), so that every
reading's part is known, and parts add up to the shift.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.tune.evidence import (
    BalanceReading,
    BenchReading,
    FullnessReading,
    HandsReading,
    LengthReading,
    Reading,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.prior import Prior
from springloom.tune.settle import Evidence, Settled, surprise

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Moved:
    """What one kind of evidence did to an unknown, in the unknown's own scale."""

    evidence: str
    shift: float


@dataclass(frozen=True)
class Taken:
    """Parts (m, unknowns) of the shift by each reading."""

    readings: tuple[Reading, ...]
    parts: Floats

    @classmethod
    def of(cls, evidence: Evidence, settled: Settled, prior: Prior, covariance: Floats) -> Taken:
        """Work out the parts: gain Σ Jᵀ N⁻¹ times surprise, Σ the covariance after."""
        if not evidence.readings:
            return cls((), np.zeros((0, len(settled.theta))))
        off, _ = surprise(evidence, settled, prior)
        gain = np.linalg.solve(evidence.noise, settled.gradients @ covariance)
        return cls(evidence.readings, gain * off[:, None])

    def carried(self, carry: Floats) -> Taken:
        """The parts of the same shift of other unknowns, ``carry`` (n, n) times these."""
        return Taken(self.readings, self.parts @ carry.T)

    def moved(self, i: int) -> tuple[Moved, ...]:
        """How each kind of evidence moved one unknown, the most first."""
        sums: dict[str, float] = {}
        for reading, part in zip(self.readings, self.parts[:, i], strict=True):
            group = kind_of(reading)
            sums[group] = sums.get(group, 0.0) + float(part)
        return tuple(Moved(group, shift) for group, shift in
                     sorted(sums.items(), key=lambda item: -abs(item[1])))


_KINDS: dict[type, str] = {
    BenchReading: "bench, blade {}", ThicknessReading: "calipers, blade {}",
    FullnessReading: "traces, blade {}", WidthReading: "outline, blade {}",
    LengthReading: "outline, blade {}", HandsReading: "two hands", TapReading: "tap",
    WeightReading: "weight", BalanceReading: "balance",
}


def kind_of(reading: Reading) -> str:
    """What a maker calls the kind of evidence a reading belongs to."""
    side = "" if isinstance(reading, WeightReading | BalanceReading) else reading.side or ""
    return _KINDS[type(reading)].format(side.upper())
