"""What is believed of a freshly carved paddle before any reading: the plan, the wood, the hand."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from springloom.mechanics.stiffness import spread_of
from springloom.tune.instruments import SIDES
from springloom.tune.model import Model

Floats = npt.NDArray[np.float64]

WITHIN_BOARD = 0.04
"""Standard deviation of ln E between two ends of one board (common practice, no source)."""

STATION_SD = 0.0008
"""How far one crown or edge may be from the plan, beside its blade, before it is measured, m."""

PROUD_SD = 0.0015
"""How much a whole blade's crowns may be proud of the plan (or short), its edges half of it, m.
Both are common practice, no source."""

RIDGE_SD = 0.04
"""How far the ridge's fullness at one station, and that of a whole blade beside it, may be from
the plan's (common practice, no source); the ellipse is 0.15 fuller than an eased diamond."""

WIDTH_SD = 0.0005
"""The same of a width, m: outlines are sawn to a line (common practice, no source)."""

LENGTH_SD = 0.002
"""How much longer or shorter than planned a blade may be, m (common practice, no source)."""

CLAMP_SD, CLAMP_COMMON = 4e-5, 0.7
"""Turning of a bench clamp per moment, rad/(N·m): about 1 mm at the tip; and how much of that
variance both blades have in common on one bench (common practice, no source)."""


class Prior(NamedTuple):
    """What is believed of the unknowns before any reading: mean (n,) and covariance (n, n)."""

    mean: Floats
    covariance: Floats


def prior_of(model: Model) -> Prior:
    """What the plan and the wood say before any reading."""
    at = model.layout
    sd_e, sd_density = spread_of(model.build)
    variance = np.full(at.size, STATION_SD**2)
    variance[:2] = WITHIN_BOARD**2
    variance[at.ln_density] = sd_density**2
    clamps = slice(at.clamp("a"), at.clamp("b") + 1)
    variance[clamps] = (1.0 - CLAMP_COMMON) * CLAMP_SD**2
    for side in SIDES:
        variance[at.ridges(side)] = RIDGE_SD**2
        variance[at.widths(side)] = WIDTH_SD**2
        variance[at.longer(side)] = LENGTH_SD**2
    covariance = np.diag(variance)
    covariance[:2, :2] += sd_e**2
    covariance[clamps, clamps] += CLAMP_COMMON * CLAMP_SD**2
    for side in SIDES:
        for parts in (((at.crowns(side), PROUD_SD), (at.edges(side), 0.5 * PROUD_SD)),
                      ((at.ridges(side), RIDGE_SD),), ((at.widths(side), WIDTH_SD),)):
            all_over = np.zeros(at.size)
            for part, sd in parts:
                all_over[part] = sd
            covariance += np.outer(all_over, all_over)
    return Prior(model.start(), covariance)
