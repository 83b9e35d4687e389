"""One set of values of the unknowns, taken apart blade by blade as it is needed."""

from __future__ import annotations

from typing import Protocol

import numpy as np
import numpy.typing as npt

from springloom.tune.bench import Bench, Blade
from springloom.tune.instruments import SIDES, Side
from springloom.tune.layout import Layout

Floats = npt.NDArray[np.float64]


class Unknowns:
    """Values of the unknowns."""

    def __init__(self, benches: tuple[Bench, Bench], layout: Layout, theta: Floats) -> None:
        """Keep the values; blades are worked out when asked for."""
        self.layout = layout
        self.theta = theta
        self._benches = benches
        self._blades: dict[Side, Blade] = {}

    def blade(self, side: Side) -> Blade:
        """One blade."""
        if side not in self._blades:
            bench = self._benches[SIDES.index(side)]
            self._blades[side] = Blade.of(bench, self.layout, side, self.theta)
        return self._blades[side]

    def stiffer(self, side: Side) -> float:
        """E over the build's own."""
        return float(np.exp(self.theta[self.layout.ln_e(side)]))

    def denser(self) -> float:
        """Density over the build's own."""
        return float(np.exp(self.theta[self.layout.ln_density]))

    def turning(self, side: Side) -> float:
        """Turning of a blade's clamp per moment, rad/(N·m)."""
        return float(self.theta[self.layout.clamp(side)])

    def blank(self, readings: int) -> Floats:
        """A gradient (readings, unknowns) of zeros."""
        return np.zeros((readings, self.layout.size))


class Group(Protocol):
    """Readings foretold together."""

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Return the values (k,) and their gradients (k, unknowns)."""
