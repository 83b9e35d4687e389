"""How much may come off one blade, and in what shape.

The removal is shaped so that the blade nears the wanted bend where it is thickest beyond it,
and scaled so that three things hold at once: the middle of what is believed does not pass the
goal, the chance of passing the goal with its tolerance stays below the stated risk, and that of
passing any least thickness stays below another. It is then brought to whole passes.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from springloom.fit.bend import Limits, Target, strength_crowns
from springloom.mechanics.bend import wanted_curvature
from springloom.mechanics.stiffness import Build, rigidity_at
from springloom.shape.blade import HalfPaddle
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import DEFAULT_CALIPER, INSTRUMENTS, Side
from springloom.tune.rules import PLANING_SD, SETTING_SHARE, Rules

Floats = npt.NDArray[np.float64]

LIMITS = ("least crown", "strength margin", "least edge")
"""What a removal may run into, in the order of :meth:`Planing.rooms`."""

UNMEASURED = 0.0005
"""A thickness known no better than this (sd, m) counts as not measured."""

_SOFTER, _STIFFER = 3.0, 2.0  # how far in ln the curvature's scale is sought from a plain blade's
_FINE = 1e-3  # of the curvature's scale: a few µm of crown
_NO_LIMIT = 1.0  # m


@dataclass(frozen=True, slots=True)
class Taking:
    """What comes off, and what stands in the way.

    Attributes:
        per_face: (stations,) m off each face, whole passes.
        held: limits that hold stations back, such as ``least crown at 1/2``.
        unmeasured: thicknesses that have to be known first, such as ``edge at 3/4``.
        spent: whether nothing may come off where something should.
        reach: share of the goal that the limits let the blade come to, 1 where they let it.
    """

    per_face: Floats
    held: tuple[str, ...] = ()
    unmeasured: tuple[str, ...] = ()
    spent: bool = False
    reach: float = 1.0


@dataclass(frozen=True)
class Planing:
    """One blade, and the deflection (m) it is to be brought to."""

    known: Estimate
    side: Side
    target: Target
    limits: Limits
    rules: Rules
    goal: float

    @functools.cached_property
    def half(self) -> HalfPaddle:
        """The blade as estimated."""
        return self.known.half(self.side)

    @functools.cached_property
    def build(self) -> Build:
        """Its wood as estimated."""
        return self.known.scaled_build(self.side)

    @property
    def size(self) -> int:
        """Number of stations."""
        return len(self.half.stations)

    @property
    def crowns(self) -> Floats:
        """Crowns at the stations, m."""
        return np.array([station.crown for station in self.half.stations])

    @property
    def edges(self) -> Floats:
        """Edge thicknesses at the stations, m."""
        return np.array([station.edge for station in self.half.stations], dtype=float)

    def theta_after(self, per_face: Floats) -> Floats:
        """Unknowns after taking this off each face; edges thin in proportion to crowns."""
        at, theta = self.known.model.layout, self.known.theta.copy()
        before = theta[at.crowns(self.side)].copy()
        theta[at.crowns(self.side)] = before - 2.0 * per_face
        theta[at.edges(self.side)] *= (before - 2.0 * per_face) / before
        return theta

    def sinks(self, per_face: Floats) -> tuple[float, float]:
        """Median deflection (m) after a removal and the sd of its logarithm, planing included."""
        at, theta = self.known.model.layout, self.theta_after(per_face)
        value, gradient = self.known.sink_gradient(
            self.side, self.target.setup(self.known.model.bench(self.side).half), theta
        )
        crowns, edges = at.crowns(self.side), at.edges(self.side)
        by_crown = gradient[crowns] + gradient[edges] * theta[edges] / theta[crowns]
        setting = SETTING_SHARE * float(by_crown @ (2.0 * per_face))
        hand = math.sqrt(2.0) * PLANING_SD * by_crown[per_face > 0.0]
        variance = gradient @ self.known.covariance @ gradient + setting**2 + hand @ hand
        return value, math.sqrt(float(variance)) / value

    def overshoot(self, median: float, sd_ln: float) -> float:
        """Chance of passing the goal by more than the tolerance."""
        most = self.goal + self.target.tolerance_m
        return float(ndtr(math.log(median / most) / sd_ln))

    @functools.cached_property
    def floors(self) -> tuple[Floats, Floats]:
        """Least crowns at the stations, m: by thickness, and by strength."""
        return (self.limits.least_crowns(self.half),
                strength_crowns(self.half, self.build, self.limits.margin))

    def rooms(self, finest: bool = False) -> Floats:
        """Most that may come off one face by each of :data:`LIMITS`, (limits, stations), m.

        Args:
            finest: as if every thickness had been read with a caliper.
        """
        crowns, edges = self.crowns, self.edges
        sd_crown, sd_edge = self._sds()
        if finest:
            best = INSTRUMENTS[DEFAULT_CALIPER]
            sd_crown, sd_edge = np.minimum(sd_crown, best), np.minimum(sd_edge, best)
        least, strong = self.floors
        by_edge = self._most_off(edges - self.limits.least_edge, sd_edge) * crowns / edges
        by_edge[-1] = _NO_LIMIT  # no caliper reads an edge in the round of the tip
        off = np.array([self._most_off(crowns - least, sd_crown),
                        self._most_off(crowns - strong, sd_crown), by_edge])
        off[:, -1] = np.minimum(off[:, -1], off[:, -2])  # alone the tip changes no bend
        return 0.5 * off

    def _sds(self) -> tuple[Floats, Floats]:
        at, variance = self.known.model.layout, np.diag(self.known.covariance)
        return np.sqrt(variance[at.crowns(self.side)]), np.sqrt(variance[at.edges(self.side)])

    def _most_off(self, spare: Floats, sd: Floats) -> Floats:
        """Largest u with ``spare − u ≥ z √(sd² + planing² + (setting·u)²)``, m, 0 if none.

        The risk is shared out among a blade's crown and edge limits, so that it holds for all.
        """
        z = float(ndtri(1.0 - self.rules.limit_risk / (2 * self.size)))
        fixed = z * z * (sd * sd + 2.0 * PLANING_SD**2)
        a = 1.0 - (z * SETTING_SHARE) ** 2
        u = (spare - np.sqrt(np.maximum(spare**2 - a * (spare**2 - fixed), 0.0))) / a
        return np.where(spare > np.sqrt(fixed), u, 0.0)

    def excess(self, scale: float) -> Floats:
        """How much thicker each crown is than the wanted bend at this curvature scale, m."""
        ei, own = self._load_over_curvature / scale, self._own_ei
        over = self.crowns[:-1] * (1.0 - np.cbrt(ei / own))
        return np.append(over, over[-1])  # the tip goes with its neighbour

    @functools.cached_property
    def _load_over_curvature(self) -> Floats:
        """EI that the wanted curvature's shape asks for at all stations but the tip, N·m²·(1/m)."""
        half = self.half
        x = np.array([s.x for s in half.stations[:-1]])
        xi = (x - half.loom.root) / (half.tip - half.loom.root)
        shape = wanted_curvature(xi, self.target.progression)
        return np.asarray(self.target.load_n * (half.tip - x) / shape)

    @functools.cached_property
    def _own_ei(self) -> Floats:
        return rigidity_at(self.half.station_values[:-1].T, self.build).ei

    def taking(self) -> Taking:
        """Find the removal that goes as far towards the goal as the risks allow."""
        room = self.rooms().min(axis=0)

        def limited(log_scale: float) -> Floats:
            return np.clip(0.5 * self.excess(math.exp(log_scale)), 0.0, room)

        middle = math.log(self.goal / (self.half.tip - self.half.loom.root) ** 2)
        low, high = middle - _STIFFER, middle + _SOFTER
        if self._too_far(limited(low)) >= 0.0:
            return Taking(np.zeros(self.size))
        reach = min(1.0, self.sinks(room)[0] / self.goal)
        if self._too_far(limited(high)) > 0.0:
            found = float(brentq(lambda s: self._too_far(limited(s)), low, high, xtol=_FINE))
            high, reach = found - _FINE, 1.0
        wanted = 0.5 * self.excess(math.exp(high))
        exact = np.minimum(limited(high), self.rules.most_m)
        spent = bool(np.all(room[wanted > 0.0] < self.rules.pass_m))
        return Taking(self._whole(exact, room), self._held(wanted, room),
                      self._unmeasured(wanted), spent, reach)

    def _too_far(self, per_face: Floats) -> float:
        """Above 0 where a removal is too much for the goal or its risk; grows with it."""
        median, sd_ln = self.sinks(per_face)
        careful = float(ndtri(1.0 - self.rules.target_risk)) * sd_ln
        most = self.goal + self.target.tolerance_m
        return max(math.log(median / self.goal), math.log(median / most) + careful)

    def _whole(self, exact: Floats, room: Floats) -> Floats:
        """Round down to whole passes, then up again where most was lost and nothing is passed."""
        step = self.rules.pass_m
        passes = np.floor(exact / step + 1e-6)
        lost = exact / step - passes
        for i in np.argsort(-lost):
            if lost[i] < (0.5 if passes.any() else 1e-6):
                break
            more = passes.copy()
            more[i] += 1.0
            allowed = more[i] * step <= min(room[i], self.rules.most_m)
            if allowed and self._too_far(more * step) <= 0.0:
                passes = more
        return passes * step

    def _held(self, wanted: Floats, room: Floats) -> tuple[str, ...]:
        """Name the limits that keep stations from what is wanted off them."""
        ruling = np.argmin(self.rooms(), axis=0)
        short = np.maximum(wanted, self.rules.pass_m * (wanted > 0.0))
        held = (short > room) & (room < self.rules.most_m)
        return tuple(
            f"{limit} at {', '.join(names)}" for i, limit in enumerate(LIMITS)
            if (names := [s.name for s, yes in zip(self.half.stations, held & (ruling == i),
                                                   strict=True) if yes])
        )

    def _unmeasured(self, wanted: Floats) -> tuple[str, ...]:
        """Name the thicknesses without which nobody should plane there."""
        sd_crown, sd_edge = self._sds()
        meant = np.minimum(wanted, self.rules.most_m)
        crown = (meant >= self.rules.pass_m) & (sd_crown > UNMEASURED)
        # an edge has to be known only where it might be the limit
        edge = (meant > self.rooms()[2]) & (sd_edge > UNMEASURED)
        edge[-1] = False
        return tuple(
            f"{kind} at {', '.join(names)}" for kind, missing in (("crown", crown), ("edge", edge))
            if (names := [s.name for s, yes in zip(self.half.stations, missing, strict=True)
                          if yes])
        )

    def finer_helps(self) -> bool:
        """Whether finer thickness readings would leave room for a pass."""
        return bool(np.any(self.rooms(finest=True).min(axis=0) >= self.rules.pass_m))
