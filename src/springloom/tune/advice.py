"""What to plane off, where, and when to stop.

Advice is one-sided because wood can't be put back. For each blade the removal is shaped so that
the blade nears the wanted bend where it is thickest beyond it, and scaled so that the chance of
the tip passing the target (with its tolerance) stays below a stated risk, and that of any
station passing its least thickness below another. What is advised is rounded down to the
maker's plane setting.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from springloom.errors import in_range
from springloom.fit.bend import Limits, Target, strength_crowns
from springloom.mechanics.bend import BendCharacter, character, wanted_curvature
from springloom.mechanics.setups import clamped_line
from springloom.mechanics.stiffness import rigidity_at
from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import SIDES, Side

Floats = npt.NDArray[np.float64]
Call = Literal["plane", "stop: on target", "stop: past target", "stop: a limit is reached",
               "measure again"]

FINE_PASS = 0.0254 / 128
"""A fine pass of the plane: two make 1/64 in (common practice, no source)."""

PLANING_SHARE, PLANING_SD = 0.15, 0.00005
"""How evenly a hand planes: sd of a removal as a share of it, and at least so much, m
(common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Rules:
    """How careful to be, and how fine the plane is set.

    Attributes:
        pass_m: what one pass takes off one face.
        target_risk: chance allowed of passing the target by more than its tolerance.
        limit_risk: chance allowed of passing a least thickness.
        most_m: most that is advised off one face in one round.
    """

    pass_m: float = FINE_PASS
    target_risk: float = 0.05
    limit_risk: float = 0.01
    most_m: float = 0.0015

    def __post_init__(self) -> None:
        """Refuse what is no plane."""
        in_range(self.pass_m, "pass", 0.00002, 0.001, "m")
        in_range(self.target_risk, "target_risk", 0.0005, 0.5)
        in_range(self.limit_risk, "limit_risk", 0.0001, 0.5)
        in_range(self.most_m, "most", self.pass_m, 0.01, "m")


@dataclass(frozen=True, slots=True)
class Removal:
    """What to take off one face at one station, m, and how many passes that is."""

    station: str
    x_m: float
    per_face_m: float
    passes: int
    crown_before_m: float
    crown_after_m: float
    floor_m: float


@dataclass(frozen=True, slots=True)
class BladeAdvice:
    """One blade: what it does now, what to do, what it should do then.

    Attributes:
        side: which.
        call: plane, stop, or measure again.
        reason: in one sentence.
        removals: station by station; all zero unless ``call`` is plane.
        deflection_m, deflection_sd_ln: in the target's set-up, now.
        predicted_m, predicted_sd_ln: after the removal.
        goal_m: the deflection both blades are brought to.
        overshoot_chance: of passing the goal by more than its tolerance.
        mass_saved_kg: by the removal.
        bend: the bend's character now, judged against the wanted one.
    """

    side: Side
    call: Call
    reason: str
    removals: tuple[Removal, ...]
    deflection_m: float
    deflection_sd_ln: float
    predicted_m: float
    predicted_sd_ln: float
    goal_m: float
    overshoot_chance: float
    mass_saved_kg: float
    bend: BendCharacter


@dataclass(frozen=True, slots=True)
class Advice:
    """Both blades, and which is the stiffer.

    Attributes:
        a, b: each blade's advice.
        stiffer: the stiffer blade, or None when they can't be told apart.
        stiffer_chance: chance that it really is.
        difference_m: how much further the other sinks.
    """

    a: BladeAdvice
    b: BladeAdvice
    stiffer: Side | None
    stiffer_chance: float
    difference_m: float


def advise(
    known: Estimate, target: Target, limits: Limits | None = None, rules: Rules | None = None
) -> Advice:
    """Advise on both blades; the goal is the target, or the more flexible blade if that is past it.

    Raises:
        UnreachableError: from the target, if no blade could do it.
    """
    bounds, care = limits or Limits(), rules or Rules()
    now = {side: known.sink(side, target.setup(known.half(side))) for side in SIDES}
    goal = _goal(target, now["a"][0], now["b"][0])
    advised = {
        side: _Blade(known, side, target, bounds, care, goal).advice() for side in SIDES
    }
    stiffer, chance = _stiffer(known, target, now)
    return Advice(advised["a"], advised["b"], stiffer, chance, abs(now["a"][0] - now["b"][0]))


def _goal(target: Target, a: float, b: float) -> float:
    """Return the target, or what the more flexible blade does if it is past the tolerance."""
    most = max(a, b)
    return most if most > target.deflection_m + target.tolerance_m else target.deflection_m


def _stiffer(
    known: Estimate, target: Target, now: dict[Side, tuple[float, float]]
) -> tuple[Side | None, float]:
    """Compare ln deflections; what both blades share (board, weight) cancels."""
    sd = max(1e-9, _difference_sd(known, target))
    z = math.log(now["b"][0] / now["a"][0]) / sd
    chance = float(ndtr(abs(z)))
    if chance < 0.9:
        return None, chance
    return ("a" if z > 0.0 else "b"), chance


def _difference_sd(known: Estimate, target: Target) -> float:
    gradients = []
    for side in SIDES:
        value, gradient = _sink_gradient(known, side, target, known.theta)
        gradients.append(gradient / value)
    difference = gradients[0] - gradients[1]
    return math.sqrt(float(difference @ known.covariance @ difference))


def _sink_gradient(
    known: Estimate, side: Side, target: Target, theta: Floats
) -> tuple[float, Floats]:
    return known.sink_gradient(side, target.setup(known.model.bench(side).half), theta)


@dataclass(frozen=True)
class _Blade:
    """One blade's problem: how far it may go, and in what shape."""

    known: Estimate
    side: Side
    target: Target
    limits: Limits
    rules: Rules
    goal: float
    half: HalfPaddle = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "half", self.known.half(self.side))

    def advice(self) -> BladeAdvice:
        now, sd = self._sinks(np.zeros(self._size))
        removal, blocked = self._removal()
        call, reason = self._call(now, sd, removal, blocked)
        if call != "plane":
            removal = np.zeros(self._size)
        after, sd_after = self._sinks(removal)
        chance = self._overshoot(after, sd_after)
        bent = clamped_line(self.half, self.known.scaled_build(self.side),
                            self.target.setup(self.half), large=False)
        return BladeAdvice(
            side=self.side, call=call, reason=reason,
            removals=self._removals(removal),
            deflection_m=now, deflection_sd_ln=sd, predicted_m=after, predicted_sd_ln=sd_after,
            goal_m=self.goal, overshoot_chance=chance,
            mass_saved_kg=self._mass_saved(removal),
            bend=character(bent, self.half.cap[0], self.target.progression),
        )

    @property
    def _size(self) -> int:
        return len(self.half.stations)

    @property
    def _crowns(self) -> Floats:
        return np.array([s.crown for s in self.half.stations])

    def _theta_after(self, removal: Floats) -> Floats:
        """Unknowns after taking ``removal`` off each face; edges thin in proportion."""
        at, theta = self.known.model.layout, self.known.theta.copy()
        before = theta[at.crowns(self.side)].copy()
        theta[at.crowns(self.side)] = before - 2.0 * removal
        theta[at.edges(self.side)] *= (before - 2.0 * removal) / before
        return theta

    def _planing_sd(self, removal: Floats) -> Floats:
        """Standard deviation of the crown left by an imperfect plane, both faces, m."""
        per_face = np.hypot(PLANING_SHARE * removal, PLANING_SD) * (removal > 0.0)
        return math.sqrt(2.0) * per_face

    def _sinks(self, removal: Floats) -> tuple[float, float]:
        """Median deflection after a removal and the sd of its logarithm, planing included."""
        at = self.known.model.layout
        value, gradient = _sink_gradient(
            self.known, self.side, self.target, self._theta_after(removal)
        )
        variance = gradient @ self.known.covariance @ gradient
        planing = gradient[at.crowns(self.side)] * self._planing_sd(removal)
        return value, math.sqrt(float(variance + planing @ planing)) / value

    def _overshoot(self, median: float, sd_ln: float) -> float:
        most = self.goal + self.target.tolerance_m
        return float(ndtr((math.log(median) - math.log(most)) / sd_ln))

    def _floors(self) -> Floats:
        """Least crowns at the stations, from thickness limits and strength, m."""
        build = self.known.scaled_build(self.side)
        strong = strength_crowns(self.half, build, self.limits.margin)
        return np.maximum(self.limits.least_crowns(self.half), strong)

    def _room(self) -> Floats:
        """Most that may come off one face at each station at the limit's risk, m."""
        at, care = self.known.model.layout, self.rules
        variance = np.diag(self.known.covariance)[at.crowns(self.side)]
        sd = np.sqrt(variance + self._planing_sd(np.full(self._size, care.pass_m)) ** 2)
        spare = self._crowns - self._floors() + ndtri(care.limit_risk) * sd
        edges = self._edge_room()
        return np.clip(np.minimum(spare, edges) / 2.0, 0.0, care.most_m)

    def _edge_room(self) -> Floats:
        """Crown that may go before the edge, thinning in proportion, nears its least, m."""
        edges = np.array([s.crown if s.edge is None else s.edge for s in self.half.stations])
        return self._crowns * np.maximum(0.0, 1.0 - self.limits.least_edge / edges)

    def _excess(self, scale: float) -> Floats:
        """How much thicker each crown is than the wanted bend at this curvature scale, m."""
        half, inner = self.half, self.half.stations[:-1]
        x = np.array([s.x for s in inner])
        xi = (x - half.loom.root) / (half.tip - half.loom.root)
        ei = self.target.load_n * (half.tip - x) / (
            scale * wanted_curvature(xi, self.target.progression)
        )
        values = half.station_values[:-1].T
        own = rigidity_at(values, self.known.scaled_build(self.side)).ei
        wanted = values[CHANNELS.index("crown")] * np.cbrt(ei / own)
        over = self._crowns[:-1] - wanted
        return np.append(over, over[-1])  # the tip goes with its neighbour

    def _removal(self) -> tuple[Floats, bool]:
        """Removal per face in whole passes, and whether limits hold it short of the goal."""
        room = self._room()

        def at(log_scale: float) -> Floats:
            return np.clip(0.5 * self._excess(math.exp(log_scale)), 0.0, room)

        def risk(log_scale: float) -> float:
            return self._overshoot(*self._sinks(at(log_scale))) - self.rules.target_risk

        middle = math.log(self.goal / (self.half.tip - self.half.loom.root) ** 2)
        low, high = middle - 2.0, middle + 3.0
        if risk(low) >= 0.0:
            return np.zeros(self._size), False
        blocked = risk(high) <= 0.0
        scale = high if blocked else float(brentq(risk, low, high, xtol=1e-6))
        passes = np.floor(at(scale) / self.rules.pass_m + 1e-6)
        return passes * self.rules.pass_m, blocked and bool(np.all(room < self.rules.most_m))

    def _call(
        self, now: float, sd: float, removal: Floats, blocked: bool
    ) -> tuple[Call, str]:
        low, high = self.goal - self.target.tolerance_m, self.goal + self.target.tolerance_m
        if now > high:
            return "stop: past target", "it already bends further than wanted; take nothing off"
        if np.any(removal > 0.0) and now < low:
            return "plane", "stiffer than wanted"
        if now >= low:
            return "stop: on target", "it bends as wanted, within the tolerance"
        if blocked:
            return "stop: a limit is reached", (
                "what is left to take would pass a least thickness or a strength margin"
            )
        return "measure again", (
            f"one more pass could pass the target: its bend is known to {100 * sd:.1f} % only"
        )

    def _removals(self, removal: Floats) -> tuple[Removal, ...]:
        floors = self._floors()
        return tuple(
            Removal(station.name, station.x, float(off), round(off / self.rules.pass_m),
                    station.crown, station.crown - 2.0 * float(off), float(floor))
            for station, off, floor in zip(self.half.stations, removal, floors, strict=True)
        )

    def _mass_saved(self, removal: Floats) -> float:
        model = self.known.model
        before = model.weight(self.known.theta)[0]
        return before - model.weight(self._theta_after(removal))[0]
