"""How much may come off one blade, and in what shape.

The removal is shaped so that the blade nears the wanted bend where it is thickest beyond it,
and scaled so that three things hold at once: the middle of what is believed does not pass the
goal, the chance of passing the goal with its tolerance stays below the stated risk, and that of
passing any least thickness stays below another. Its ends are faired, the shoulder and every kept
station are left alone, and it is brought to whole passes, allotted so that the bend comes out
fairest; small ones down to one pass off one face only.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from springloom.fit.bend import Limits, Target, strength_crowns
from springloom.mechanics.bend import wanted_curvature
from springloom.mechanics.stiffness import Build, rigidity_at
from springloom.shape.blade import HalfPaddle
from springloom.tune.allotment import Rows, allotted
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import DEFAULT_CALIPER, INSTRUMENTS, Side
from springloom.tune.rules import PLANING_SD, SETTING_SHARE, STEEPEST, Rules
from springloom.tune.shaping import Shaping
from springloom.tune.thinning import Thinning

Floats = npt.NDArray[np.float64]

LIMITS = ("least crown", "strength margin", "least edge", "kept crown")
"""What a removal may run into, in the order of :meth:`Planing.rooms`."""

UNMEASURED = 0.0005
"""A thickness known no better than this (sd, m) counts as not measured."""

FEW = 2.0
"""Passes up to which a removal may be one more off one face than off the other."""

UNFAIR, FAIRER = 0.05, 0.005
"""Departure from the wanted shape (root mean square, as a share) from which a blade that bends far
enough is planed on, and by how much a removal must better it (our own choice)."""

_ROOM_TO_FAIR = 0.5  # of the tolerance: how far past the goal the middle may come for fairness
_SOFTER = 3.0  # in ln: a curvature's scale at which something is wanted off every station
_FINE = 1e-3  # of the curvature's scale: a few µm of crown
_NO_LIMIT = 1.0  # m
_SAME_PLACE = 5e-4  # m, as station names are told apart


@dataclass(frozen=True, slots=True)
class Taking:
    """What comes off, and what stands in the way.

    Attributes:
        per_face: (stations,) m off each face, whole passes.
        wanted: the same without limits and not yet whole; below 0 where a blade is thin.
        held: limits that hold stations back, such as ``least crown at 1/2``.
        unmeasured: thicknesses that have to be known first, such as ``edge at 3/4``.
        spent: whether nothing may come off where something should.
    """

    per_face: Floats
    wanted: Floats
    held: tuple[str, ...] = ()
    unmeasured: tuple[str, ...] = ()
    spent: bool = False


@dataclass(frozen=True)
class Planing:
    """One blade, and the deflection (m) it is to be brought to."""

    known: Estimate
    side: Side
    target: Target
    limits: Limits
    rules: Rules
    goal: float
    _sunk: dict[bytes, tuple[float, Floats]] = field(
        default_factory=dict, compare=False, repr=False
    )

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
        return len(self.known.model.bench(self.side).half.stations)

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

    @property
    def now(self) -> tuple[float, Floats]:
        """Deflection (m) before any removal, and its gradient."""
        return self.sink_by(np.zeros(self.size))

    def sinks(self, per_face: Floats) -> tuple[float, float]:
        """Median deflection (m) after a removal and the sd of its logarithm, planing included."""
        value, by = self.sink_by(per_face)
        roots = self.planing_roots(per_face) @ by
        variance = by @ self.known.covariance @ by + roots @ roots
        return value, math.sqrt(float(variance)) / value

    def sink_by(self, per_face: Floats) -> tuple[float, Floats]:
        """Median deflection (m) after a removal, and its gradient by the unknowns as they then are.
        """
        key = per_face.tobytes()
        if key not in self._sunk:
            setup = self.target.setup(self.known.model.bench(self.side).half)
            self._sunk[key] = self.known.sink_gradient(self.side, setup, self.theta_after(per_face))
        return self._sunk[key]

    def planing_roots(self, per_face: Floats) -> Floats:
        """What planing adds to the unknowns' errors: (m, unknowns), one row each of unit variance.

        The plane's setting is off by the same share everywhere, each face at each station by
        itself; an edge errs in proportion to its crown.
        """
        at, theta = self.known.model.layout, self.theta_after(per_face)
        planed = np.flatnonzero(per_face > 0.0)
        off = np.zeros((1 + len(planed), self.size))
        off[0] = SETTING_SHARE * 2.0 * per_face
        off[1 + np.arange(len(planed)), planed] = math.sqrt(2.0) * PLANING_SD
        roots = np.zeros((len(off), at.size))
        crowns, edges = at.crowns(self.side), at.edges(self.side)
        roots[:, crowns], roots[:, edges] = off, off * theta[edges] / theta[crowns]
        return roots

    @property
    def most(self) -> float:
        """Deflection not to be passed, m: the target's tolerance, or the goal's beyond it."""
        bound = self.target.deflection_m + self.target.tolerance_m
        return bound if self.goal <= bound else self.goal + self.target.tolerance_m

    def overshoot(self, median: float, sd_ln: float) -> float:
        """Chance of passing :attr:`most`."""
        return float(ndtr(math.log(median / self.most) / sd_ln))

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
        sd_crown, sd_edge = self.sds
        if finest:
            best = INSTRUMENTS[DEFAULT_CALIPER]
            sd_crown, sd_edge = np.minimum(sd_crown, best), np.minimum(sd_edge, best)
        least, strong = self.floors
        share = edges / crowns  # of what comes off the crown
        by_edge = self.most_off(edges - self.limits.least_edge, sd_edge, share) / share
        by_edge[-1] = _NO_LIMIT  # no caliper reads an edge in the round of the tip
        off = np.array([self.most_off(crowns - least, sd_crown),
                        self.most_off(crowns - strong, sd_crown), by_edge,
                        np.where(self.kept, 0.0, _NO_LIMIT)])
        off[:, -1] = np.minimum(off[:, -1], off[:, -2])  # alone the tip changes no bend
        return 0.5 * off

    @functools.cached_property
    def kept(self) -> npt.NDArray[np.bool_]:
        """Which stations' crowns stay as they are."""
        planned = np.array([s.x for s in self.known.model.bench(self.side).half.stations])
        off = np.abs(planned[:, None] - np.array(self.rules.keep_m))
        return np.asarray(np.any(off < _SAME_PLACE, axis=1))

    @functools.cached_property
    def sds(self) -> tuple[Floats, Floats]:
        """Standard deviations of the crowns and of the edges, m."""
        at, variance = self.known.model.layout, np.diag(self.known.covariance)
        return np.sqrt(variance[at.crowns(self.side)]), np.sqrt(variance[at.edges(self.side)])

    def most_off(self, spare: Floats, sd: Floats, share: Floats | float = 1.0) -> Floats:
        """Largest u with ``spare − u ≥ z √(sd² + planing² + (setting·u)²)``, m, 0 if none.

        ``share`` of the hand's unevenness reaches the place. The risk is shared out among a
        blade's crown and edge limits, so that it holds for all.
        """
        z = float(ndtri(1.0 - self.rules.limit_risk / (2 * self.size)))
        fixed = z * z * (sd * sd + 2.0 * (PLANING_SD * share) ** 2)
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

        if self._too_far(np.zeros(self.size)) >= 0.0:
            return Taking(np.zeros(self.size), np.zeros(self.size))
        low, high = self._scales(room)
        if self._about_too_far(room) > 0.0:
            found = brentq(lambda s: self._about_too_far(limited(s)), low, high, xtol=_FINE)
            high = float(found) - _FINE
        else:
            high += _SOFTER
        wanted = 0.5 * self.excess(math.exp(high))
        exact = self._faired(np.minimum(limited(high), self.rules.most_m))
        spent = bool(np.all(room[wanted > 0.0] < 0.5 * self.rules.pass_m))
        return Taking(self._whole(exact, wanted, room), wanted, self._held(wanted, room),
                      self._unmeasured(wanted), spent)

    def _scales(self, room: Floats) -> tuple[float, float]:
        """ln of the curvature's scale at which the first wood comes off, and the last."""
        own = np.log(self._load_over_curvature / self._own_ei)
        share = np.minimum(2.0 * room[:-1] / self.crowns[:-1], 0.99)
        return float(np.min(own)) - _FINE, float(np.max(own - 3.0 * np.log(1.0 - share))) + _FINE

    @functools.cached_property
    def nearest(self) -> float:
        """How far the blade could sink with every limit reached, m; the goal where it can."""
        limit = self.rooms(finest=True).min(axis=0)
        return min(self.goal, self.sinks(limit)[0])

    def least_pass(self, wanted: Floats) -> float:
        """Median deflection after the one pass, off one face, that changes it least, m."""
        step = 0.5 * self.rules.pass_m
        useful = (self.rooms().min(axis=0) >= step) & (wanted > 0.0)
        useful[-1] = False  # alone the tip changes no bend
        return min((self.sinks(row)[0] for row in step * np.eye(self.size)[useful]),
                   default=math.inf)

    def _too_far(self, per_face: Floats) -> float:
        """Above 0 where a removal is too much for the goal or its risk; grows with it."""
        return float(self._beyond(*self.sinks(per_face), self.goal))

    def _about_too_far(self, per_face: Floats) -> float:
        """As :meth:`_too_far`, fast, with what is known of the bend before any removal."""
        return float(self._about_beyond(per_face[None], self.goal)[0])

    def _about_beyond(self, per_face: Floats, goal: float) -> Floats:
        """The same for many removals, (rows, stations)."""
        off = 2.0 * per_face
        median, by = self._thinning.sinks(off)
        _, sd_ln = self.sinks(np.zeros(self.size))
        hand = math.sqrt(2.0) * PLANING_SD * by * (per_face > 0.0)
        setting = SETTING_SHARE * np.sum(by * off, axis=-1)
        planed = (setting**2 + np.sum(hand**2, axis=-1)) / median**2
        return self._beyond(median, np.sqrt(sd_ln**2 + planed), goal)

    @functools.cached_property
    def _thinning(self) -> Thinning:
        return Thinning.of(self.half, self.build, self.target.setup(self.half), self.now[0])

    def _beyond(self, median: Floats | float, sd_ln: Floats | float, goal: float) -> Floats:
        careful = float(ndtri(1.0 - self.rules.target_risk)) * sd_ln
        return np.maximum(np.log(median / goal), np.log(median / self.most) + careful)

    def _faired(self, off: Floats) -> Floats:
        """Hold a removal to :data:`STEEPEST`, from nothing at the shoulder outward."""
        ends = np.concatenate([[self.half.loom.half_length], self._places])
        reach = STEEPEST * np.abs(self._places[:, None] - ends)
        return np.asarray(np.min(np.concatenate([[0.0], off]) + reach, axis=1))

    def _stepless(self, passes: Floats) -> Floats:
        """As :meth:`_faired` for passes (…, stations); one pass can start anywhere."""
        ends = np.concatenate([[self.half.loom.half_length], self._places])
        steps = np.maximum(np.floor(STEEPEST * np.diff(ends) / self.rules.pass_m + 1e-6), 1.0)
        count = np.concatenate([[0.0], np.cumsum(steps)])
        reach = np.abs(count[1:, None] - count)
        padded = np.concatenate([np.zeros((*passes.shape[:-1], 1)), passes], axis=-1)
        return np.asarray(np.min(padded[..., None, :] + reach, axis=-1))

    @functools.cached_property
    def _places(self) -> Floats:
        return np.array([station.x for station in self.half.stations])

    def _whole(self, exact: Floats, wanted: Floats, room: Floats) -> Floats:
        """Whole passes near these that leave the fairest bend and come near the goal or its risk.
        """
        step = self.rules.pass_m
        start, want = np.floor(exact / step + 1e-6), np.maximum(wanted, 0.0) / step
        # nowhere beyond what is wanted there, and nothing less where a round can't take it all
        next_whole = np.floor(want + 0.5) if start.any() else np.ceil(want - 1e-6)
        most = np.minimum(np.minimum(room, self.rules.most_m) / step, next_whole)
        least = np.where(wanted > self.rules.most_m, self._stepless(start), 0.0)

        def badness(passes: Floats) -> Floats:
            spare: Floats = np.minimum(self._about_beyond(step * passes, self.goal), 0.0)
            return self._shaping.badness(2.0 * step * passes) + spare**2

        passes = self._allotted(start, (least, most), badness, self.goal)
        return self._checked(passes, self.goal) * step

    def fairing(self) -> Floats:
        """What off each face (stations,), m, makes a blade that bends far enough bend fairer.

        For that the middle of what is believed may pass the goal by half the tolerance; the risks
        hold as ever. Nothing where the blade is fair enough, or little is gained.
        """
        step, none = self.rules.pass_m, np.zeros(self.size)
        if self._shaping.unfair_now < UNFAIR:
            return none
        goal = self.goal + _ROOM_TO_FAIR * self.target.tolerance_m

        def badness(passes: Floats) -> Floats:
            off = 2.0 * step * passes
            beside: Floats = np.log(self._thinning.sinks(off)[0] / self.goal)
            return self._shaping.badness(off) + beside**2

        most = np.minimum(self.rooms().min(axis=0), self.rules.most_m) / step
        passes = self._checked(self._allotted(none, (none, most), badness, goal), goal)
        before, after = np.sqrt(self._shaping.badness(2.0 * step * np.stack([none, passes])))
        poor = before - after < FAIRER or self._unmeasured(step * passes)
        return none if poor else step * passes

    @functools.cached_property
    def _shaping(self) -> Shaping:
        return Shaping.of(self.half, self.build, self.target)

    def _allotted(
        self, start: Floats, bounds: tuple[Floats, Floats], badness: Rows, goal: float
    ) -> Floats:
        """Passes allotted anew, a small removal by single faces."""

        def allowed(rows: Floats) -> npt.NDArray[np.bool_]:
            even = np.all(self._stepless(rows) == rows, axis=1)
            return np.asarray(even & (self._about_beyond(self.rules.pass_m * rows, goal) <= 0.0))

        least, most = bounds
        passes = allotted(self._stepless(start), bounds, allowed, badness)
        if passes.max() > FEW:
            return passes
        return allotted(passes, (least, np.minimum(most, FEW)), allowed, badness, grain=0.5)

    def _checked(self, passes: Floats, goal: float) -> Floats:
        """Take passes away again, the most first, until nothing is passed by the full reckoning."""
        grain = 1.0 if passes.max() > FEW else 0.5
        while passes.any() and self._beyond(*self.sinks(passes * self.rules.pass_m), goal) > 0.0:
            passes = passes.copy()
            passes[int(np.argmax(passes))] -= grain
            passes = self._stepless(passes)
        return passes

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
        sd_crown, sd_edge = self.sds
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
        return bool(np.any(self.rooms(finest=True).min(axis=0) >= 0.5 * self.rules.pass_m))
