"""How far a blade's curvature is from the wanted shape as wood comes off it, fast.

As in :mod:`springloom.tune.thinning`, I goes with the crown's cube, so that along the blade ln
curvature rises by what the stations' crowns lose, drawn through them as the crowns are. The mean
square of what then departs from the wanted shape is a quadratic form of the stations' changes.
Hand and setting of the plane count in it: a pass that gains less than it upsets is not worth it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Target
from springloom.mechanics.bend import wanted_curvature
from springloom.mechanics.setups import clamped_line
from springloom.mechanics.stiffness import Build
from springloom.shape.blade import HalfPaddle
from springloom.tune.model import Bench
from springloom.tune.rules import PLANING_SD, SETTING_SHARE

Floats = npt.NDArray[np.float64]

CREST, CREST_SHARE = 0.02, 0.2
"""How much more than its neighbours the station nearest the wanted curvature's greatest should
bend, in ln, and what that weighs beside the mean square along the blade. Round its greatest
the wanted curvature is flat, and where nobody measures the wood is uneven: were that station
level with its neighbours, such a lump would often make a second crest. (Our own choice.)"""


@dataclass(frozen=True, slots=True)
class Shaping:
    """What the stations' crowns have to do with the curvature's shape; n stations.

    Attributes:
        crowns: (n,) as they are, m.
        gram: (n, n) of the quadratic form in the stations' changes of ln curvature.
        lean: (n,) half its gradient before any removal.
        now: its value then.
        unfair_now: root mean square departure from the wanted shape before any removal, in ln.
    """

    crowns: Floats
    gram: Floats
    lean: Floats
    now: float
    unfair_now: float

    @classmethod
    def of(cls, half: HalfPaddle, build: Build, target: Target) -> Shaping:
        """Work out a blade under the target's weight, up to where the tip's round begins."""
        line = clamped_line(half, build, target.setup(half), large=False)
        inside = line.axis.x <= half.cap[0]
        x, weight = line.axis.x[inside], line.axis.weight[inside]
        weight = weight / np.sum(weight)
        departs = np.log(line.curvature[inside] / _wanted(x, half, target))
        departs -= weight @ departs  # a scale is no matter of shape
        reach = Bench(half).cardinal(x)
        reach -= weight @ reach
        crest = _crest(half, target)
        places = np.array([station.x for station in half.stations])
        short = float(crest @ np.interp(places, x, departs)) - CREST
        return cls(
            np.array([station.crown for station in half.stations]),
            reach.T @ (weight[:, None] * reach) + CREST_SHARE * np.outer(crest, crest),
            reach.T @ (weight * departs) + CREST_SHARE * short * crest,
            float(weight @ departs**2 + CREST_SHARE * short**2),
            math.sqrt(float(weight @ departs**2)),
        )

    def badness(self, off: Floats) -> Floats:
        """Expected mean square departure with so much off the crowns (rows, stations), m."""
        left = self.crowns - off
        softer = 3.0 * np.log(self.crowns / left)
        setting = 3.0 * SETTING_SHARE * off / left
        hand = (off > 0.0) * (3.0 * math.sqrt(2.0) * PLANING_SD / left) ** 2
        return np.asarray(self.now + 2.0 * softer @ self.lean + hand @ np.diag(self.gram)
                          + _form(self.gram, softer) + _form(self.gram, setting))


def _form(gram: Floats, rows: Floats) -> Floats:
    return np.asarray(np.einsum("ri,ij,rj->r", rows, gram, rows))


def _wanted(x: Floats, half: HalfPaddle, target: Target) -> Floats:
    xi = (x - half.loom.root) / (half.tip - half.loom.root)
    return wanted_curvature(xi, target.progression)


def _crest(half: HalfPaddle, target: Target) -> Floats:
    """How much more the crest's station has than the straight line through its neighbours."""
    x = np.array([station.x for station in half.stations])
    k = min(max(int(np.argmax(_wanted(x, half, target))), 1), len(x) - 2)
    share = (x[k] - x[k - 1]) / (x[k + 1] - x[k - 1])
    row = np.zeros(len(x))
    row[k - 1 : k + 2] = share - 1.0, 1.0, -share
    return row
