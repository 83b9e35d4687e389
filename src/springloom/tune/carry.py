"""How knowledge outlives a round: what planing and a new clamping leave of it.

Planing shifts what is known of the thicknesses by what was meant to come off, and widens it by how
well a hand planes. Stiffness, density and widths stay known. Of the clamp's turning the part stays
that the bench has in common with itself; how it is tightened is new each time.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from springloom.tune.estimate import CLAMP_COMMON, CLAMP_SD, Estimate, Prior
from springloom.tune.evidence import SIDES, Side
from springloom.tune.model import Model
from springloom.tune.rules import PLANING_SD, SETTING_SHARE

Floats = npt.NDArray[np.float64]
Removals = Mapping[Side, Floats]
"""What was taken off each face at each station of a blade, m; a blade may be left out."""


def after_planing(known: Estimate, removals: Removals) -> Prior:
    """What is believed of the unknowns after a removal, before anything is read again.

    With u meant off a crown c, the crown becomes c − u(1+s) − f: s the plane's setting, alike all
    over a blade, f both faces' unevenness. The edge e thins in proportion. To first order.

    Args:
        known: before it.
        removals: what was meant to come off.
    """
    theta, covariance = known.theta.copy(), known.covariance.copy()
    for side, per_face in removals.items():
        if not np.any(per_face > 0.0):
            continue
        carry, noise = _thinning(known, side, 2.0 * np.asarray(per_face))
        covariance = carry @ covariance @ carry.T + noise
        at = known.model.layout
        left = 1.0 - 2.0 * per_face / known.theta[at.crowns(side)]
        theta[at.crowns(side)] *= left
        theta[at.edges(side)] *= left
    return Prior(theta, covariance)


def _thinning(known: Estimate, side: Side, off: Floats) -> tuple[Floats, Floats]:
    """How errors before a removal carry over (n, n), and the covariance of its own (n, n)."""
    at, n = known.model.layout, known.model.layout.size
    every = np.arange(n)
    crowns, edges = every[at.crowns(side)], every[at.edges(side)]
    c, e = known.theta[crowns], known.theta[edges]
    carry = np.eye(n)
    carry[edges, edges] = (c - off) / c
    carry[edges, crowns] = e * off / c**2
    by_off = np.zeros((n, len(off)))
    by_off[crowns, np.arange(len(off))] = -1.0
    by_off[edges, np.arange(len(off))] = -e / c
    own = SETTING_SHARE**2 * np.outer(off, off) + np.diag(2.0 * PLANING_SD**2 * (off > 0.0))
    return carry, by_off @ own @ by_off.T


def clamped_anew(model: Model, believed: Prior) -> Prior:
    """The same after both blades were taken out of the clamp and put back.

    What both turnings have in common is the bench's and stays; the rest is drawn again. So the
    covariance without any reading stays what it was.
    """
    at = model.layout
    clamps = [at.clamp(side) for side in SIDES]
    usual = CLAMP_SD**2 * (CLAMP_COMMON * np.ones((2, 2)) + (1.0 - CLAMP_COMMON) * np.eye(2))
    kept = CLAMP_COMMON / (1.0 + CLAMP_COMMON) * np.ones((2, 2))
    carry = np.eye(at.size)
    carry[np.ix_(clamps, clamps)] = kept
    covariance = carry @ believed.covariance @ carry.T
    covariance[np.ix_(clamps, clamps)] += usual - kept @ usual @ kept.T
    return Prior(carry @ believed.mean, covariance)
