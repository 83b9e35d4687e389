"""What to plane off, where, and when to stop.

Advice is one-sided because wood can't be put back: far from the target a removal that is safe by
:mod:`springloom.tune.planing`, to be measured again after; near it, a stop and why. Both blades
are brought to the same deflection.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr

from springloom.fit.bend import Limits, Target
from springloom.mechanics.bend import BendCharacter, character
from springloom.mechanics.setups import clamped_line
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import SIDES, BenchReading, Side
from springloom.tune.planing import Planing, Taking
from springloom.tune.rules import Rules

__all__ = ["Advice", "BladeAdvice", "Call", "Removal", "Rules", "advise"]

Floats = npt.NDArray[np.float64]
Call = Literal["plane", "stop: on target", "stop: past target", "stop: a limit is reached",
               "measure again"]

TOLD_APART = 0.9
"""Chance from which one blade is called the stiffer."""


@dataclass(frozen=True, slots=True)
class Removal:
    """What to take off one face at one station, m, and how many passes that is.

    It is meant at the ridge and runs out towards the edge in proportion to the thickness
    there: ``edge_after_m`` is what the edge should then read.
    """

    station: str
    x_m: float
    per_face_m: float
    passes: int
    crown_before_m: float
    crown_after_m: float
    edge_before_m: float
    edge_after_m: float
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
    """Advise on both blades; the goal is the target, or the more flexible blade if past it."""
    bounds, care = limits or Limits(), rules or Rules()
    now = {side: known.sink_gradient(side, target.setup(known.model.bench(side).half), known.theta)
           for side in SIDES}
    goal = _goal(known, target, {side: value for side, (value, _) in now.items()})
    a, b = (_advise_blade(Planing(known, side, target, bounds, care, goal)) for side in SIDES)
    stiffer, chance = _stiffer(known, now)
    return Advice(a, b, stiffer, chance, abs(now["a"][0] - now["b"][0]))


def _goal(known: Estimate, target: Target, now: dict[Side, float]) -> float:
    """Return the target, or what a blade on the bench does if that is past the tolerance."""
    most = max((now[side] for side in SIDES if _hung(known, side)), default=0.0)
    return most if most > target.deflection_m + target.tolerance_m else target.deflection_m


def _hung(known: Estimate, side: Side) -> bool:
    """Whether a weight was hung from this blade."""
    return any(isinstance(r, BenchReading) and r.side == side for r in known.readings)


def _stiffer(
    known: Estimate, now: dict[Side, tuple[float, Floats]]
) -> tuple[Side | None, float]:
    """Compare ln deflections; what both blades share (board, weight, clamp) cancels."""
    (a, by_a), (b, by_b) = now["a"], now["b"]
    difference = by_b / b - by_a / a
    sd = math.sqrt(float(difference @ known.covariance @ difference))
    z = math.log(b / a) / sd
    chance = float(ndtr(abs(z)))
    if chance < TOLD_APART:
        return None, chance
    return ("a" if z > 0.0 else "b"), chance


def _advise_blade(blade: Planing) -> BladeAdvice:
    nothing = np.zeros(blade.size)
    now, sd = blade.sinks(nothing)
    taking = blade.taking()
    call, reason = _call(blade, now, sd, taking)
    per_face = taking.per_face if call == "plane" else nothing
    after, sd_after = blade.sinks(per_face)
    bent = clamped_line(blade.half, blade.build, blade.target.setup(blade.half), large=False)
    weigh, theta = blade.known.model.weight, blade.known.theta
    return BladeAdvice(
        side=blade.side, call=call, reason=reason, removals=_removals(blade, per_face),
        deflection_m=now, deflection_sd_ln=sd, predicted_m=after, predicted_sd_ln=sd_after,
        goal_m=blade.goal, overshoot_chance=blade.overshoot(after, sd_after),
        mass_saved_kg=weigh(theta)[0] - weigh(blade.theta_after(per_face))[0],
        bend=character(bent, blade.half.cap[0], blade.target.progression),
    )


def _call(blade: Planing, now: float, sd: float, taking: Taking) -> tuple[Call, str]:
    if blade.known.misfits:
        return "measure again", f"{blade.known.misfits[0].label} does not fit the rest"
    if now >= blade.goal - blade.target.tolerance_m:
        return _enough(blade, now, sd)
    if taking.unmeasured:
        return "measure again", f"first caliper {_listed(taking.unmeasured)}"
    if np.any(taking.per_face > 0.0):
        return "plane", _why_plane(blade, taking)
    return _nothing_off(blade, sd, taking)


def _enough(blade: Planing, now: float, sd: float) -> tuple[Call, str]:
    """Say why a blade that is not stiffer than wanted needs nothing off."""
    wanted, near = blade.target.deflection_m, blade.target.tolerance_m
    if not _hung(blade.known, blade.side):
        return "measure again", (
            "it may be there already, but nothing was hung from it"
        )
    if now > wanted + near:
        return "stop: past target", "it bends further than wanted; take nothing off"
    if blade.goal > wanted:
        return "stop: on target", "it bends like the other blade, within the tolerance"
    return "stop: on target", (
        f"it bends as wanted, within the tolerance (known to {100 * sd:.1f} %)"
    )


def _nothing_off(blade: Planing, sd: float, taking: Taking) -> tuple[Call, str]:
    """Say why a blade that is stiffer than wanted should not be planed now."""
    if taking.spent and not blade.finer_helps():
        return "stop: a limit is reached", f"one more pass would pass {_listed(taking.held)}"
    if taking.spent:
        return "measure again", "with finer thickness readings a pass might be safe"
    missing = "" if _hung(blade.known, blade.side) else "; hang the weight from it"
    return "measure again", (
        f"one more pass could pass the target: its bend is known to {100 * sd:.1f} % only{missing}"
    )


def _why_plane(blade: Planing, taking: Taking) -> str:
    other = blade.goal > blade.target.deflection_m
    why = "stiffer than the other blade, which is past the target" if other else (
        "stiffer than wanted"
    )
    if taking.reach < 1.0:
        why += f"; inside the limits it can come to {100 * taking.reach:.0f} % of that"
    return f"{why}; held back by {_listed(taking.held)}" if taking.held else why


def _listed(held: tuple[str, ...]) -> str:
    return " and ".join(f"the {item}" for item in held)


def _removals(blade: Planing, per_face: Floats) -> tuple[Removal, ...]:
    floors = np.maximum(*blade.floors)
    shares = 1.0 - 2.0 * per_face / blade.crowns
    rows = zip(blade.half.stations, per_face, blade.edges, shares, floors, strict=True)
    return tuple(
        Removal(station.name, station.x, float(off), round(off / blade.rules.pass_m),
                station.crown, float(station.crown * share), float(edge), float(edge * share),
                float(floor))
        for station, off, edge, share, floor in rows
    )
