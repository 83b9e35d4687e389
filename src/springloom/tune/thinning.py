"""How far a blade sinks as wood comes off it, fast: for a search that asks many times.

Crowns fall, edges keep their share of the crown, and width, ridge and edge fullness stay as they
are, so that along the blade I goes with the crown's cube and area with the crown. What a search
finds with this is checked against the estimate's own reckoning.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import half_axis
from springloom.mechanics.setups import Clamped
from springloom.mechanics.stiffness import Build, rigidity
from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.tune.model import Bench

Floats = npt.NDArray[np.float64]

_CROWN = CHANNELS.index("crown")


@dataclass(frozen=True, slots=True)
class Thinning:
    """A blade under the first load of a set-up, read where it hangs; arrays along it (points,).

    Attributes:
        crown: as it is, m.
        reach: (points, stations) how far each station's crown reaches.
        bend, slip: what each point adds to the deflection by bending and by shear, m.
    """

    crown: Floats
    reach: Floats
    bend: Floats
    slip: Floats

    @classmethod
    def of(cls, half: HalfPaddle, build: Build, setup: Clamped, now_m: float) -> Thinning:
        """Work out a blade that is known to sink by ``now_m``."""
        full = setup.on(half)
        axis = half_axis(half, full.clamp or 0.0)
        rigid = rigidity(axis, build)
        lever = np.maximum(full.loads[0].x - axis.x, 0.0)
        bend, slip = axis.weight * lever**2 / rigid.ei, axis.weight * (lever > 0.0) / rigid.shear
        scale = now_m / float(np.sum(bend + slip))
        return cls(axis.values[_CROWN].ravel(), Bench(half).cardinal(axis.x.ravel()),
                   scale * bend.ravel(), scale * slip.ravel())

    def sinks(self, off: Floats) -> tuple[Floats, Floats]:
        """Deflections (…,), m, with so much off the crowns (…, stations), and derivatives by it."""
        left = self.crown - off @ self.reach.T
        ratio = self.crown / left
        bend, slip = self.bend * ratio**3, self.slip * ratio
        return np.sum(bend + slip, axis=-1), ((3.0 * bend + slip) / left) @ self.reach
