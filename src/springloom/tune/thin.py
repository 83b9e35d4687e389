"""A blade that is thinner than it should be already, whatever the advice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from springloom.fit.bend import Limits
from springloom.tune.doubts import Doubt
from springloom.tune.evidence import SIDES, Side

if TYPE_CHECKING:
    from springloom.tune.estimate import Estimate

SURE = 1.6448536269514722
"""Sd beyond a least thickness from which it is passed for sure, but for one in twenty."""


def too_thin(known: Estimate, limits: Limits) -> tuple[Doubt, ...]:
    """Name the places where a crown or an edge is below its least thickness, blade by blade.

    Only where the readings make it sure. It blocks nothing: what is thin stays untouched, and
    advice for other places holds.
    """
    found = []
    for side in SIDES:
        named = _thin(known, side, limits)
        if named:
            found.append(Doubt("too thin", f"blade {side.upper()} is thinner than the least "
                               f"already: {', '.join(named)}; take nothing off there", False))
    return tuple(found)


def _thin(known: Estimate, side: Side, limits: Limits) -> list[str]:
    at, sds = known.model.layout, np.sqrt(np.diag(known.covariance))
    half = known.model.bench(side).half
    stations = half.stations
    edges = np.full(len(stations) - 1, limits.least_edge)  # no caliper reads the tip's
    named = []
    for what, part, least in (("crown", at.crowns(side), limits.least_crowns(half)),
                              ("edge", at.edges(side), edges)):
        for i, floor in enumerate(least):
            value, sd = float(known.theta[part][i]), float(sds[part][i])
            if value + SURE * sd < floor:
                named.append(f"{what} {1e3 * value:.1f} mm for {1e3 * floor:.1f} mm at "
                             f"{stations[i].name}")
    return named
