"""What to plane off, where, and when to stop.

Advice is one-sided because wood can't be put back: far from the target a removal that is safe by
:mod:`springloom.tune.planing`, to be measured again after; near it, a stop and why. Both blades
are brought to the same deflection. While something about the readings is in doubt there is no
removal at all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from springloom.fit.bend import Limits, Target
from springloom.mechanics.bend import BendCharacter, character
from springloom.mechanics.setups import clamped_line
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import SIDES, BenchReading, HandsReading, Side
from springloom.tune.next_reading import State, best_sd_ln
from springloom.tune.planing import Planing, Taking
from springloom.tune.rules import Rules

__all__ = ["Advice", "Below", "BladeAdvice", "Call", "Removal", "Rules", "advise", "plans"]

Floats = npt.NDArray[np.float64]
Call = Literal["plane", "stop: on target", "stop: past target", "stop: a limit is reached",
               "stop: the readings can't tell", "stop: the plane is too coarse", "measure again"]

SHORT_RISK = 0.02
"""Chance of being stiffer than the tolerance allows at which a blade is left as it is."""

TOLD_APART = 0.9
"""Chance from which one blade is called the stiffer."""

_WORTH = 0.7
"""Measuring again is worth while if it could bring the bend's sd below this share of itself."""


@dataclass(frozen=True, slots=True)
class Removal:
    """What to take off each face at one station, m, and how many passes that is.

    It is meant at the ridge and runs out towards the edge in proportion to the thickness
    there: ``edge_after_m`` is what the edge should then read.

    Attributes:
        station, x_m: where.
        per_face_m: off each face, the mean of both where they are unlike.
        passes: the same in passes; a half is one pass off one face only.
        upper_passes, lower_passes: off each face by itself: in proportion to what each has of the
            crown, so that a flat face stays flat.
        crown_before_m, crown_after_m, edge_before_m, edge_after_m: thicknesses.
        floor_m: what the crown must not pass.
    """

    station: str
    x_m: float
    per_face_m: float
    passes: float
    upper_passes: int
    lower_passes: int
    crown_before_m: float
    crown_after_m: float
    edge_before_m: float
    edge_after_m: float
    floor_m: float


@dataclass(frozen=True, slots=True)
class Below:
    """A thickness that is probably below its least already, m."""

    station: str
    kind: Literal["crown", "edge"]
    thickness_m: float
    least_m: float
    chance: float


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
        nearest_m: how near to it the limits let this blade come in this wood.
        overshoot_chance: of passing the goal by more than its tolerance.
        mass_saved_kg: by the removal.
        bend: the bend's character now, judged against the wanted one.
        below: thicknesses that are below their least already.
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
    nearest_m: float
    overshoot_chance: float
    mass_saved_kg: float
    bend: BendCharacter
    below: tuple[Below, ...]

    @property
    def per_face(self) -> Floats:
        """The removal off each face at all stations, m."""
        return np.array([removal.per_face_m for removal in self.removals])


@dataclass(frozen=True, slots=True)
class Advice:
    """Both blades, and which is the stiffer.

    Attributes:
        a, b: each blade's advice.
        stiffer: the stiffer blade, or None when they can't be told apart.
        stiffer_chance: chance that it really is.
        difference_m: how much further the other sinks.
        blocked: why no number can be given, in plain words; empty where all is well.
    """

    a: BladeAdvice
    b: BladeAdvice
    stiffer: Side | None
    stiffer_chance: float
    difference_m: float
    blocked: tuple[str, ...]

    @property
    def blades(self) -> tuple[BladeAdvice, BladeAdvice]:
        """A, then B."""
        return self.a, self.b


def advise(
    known: Estimate, target: Target, limits: Limits | None = None, rules: Rules | None = None
) -> Advice:
    """Advise on both blades; the goal is the target, or the more flexible blade if past it."""
    return advise_on(plans(known, target, limits, rules))


def plans(
    known: Estimate, target: Target, limits: Limits | None = None, rules: Rules | None = None
) -> tuple[Planing, Planing]:
    """Both blades with the goal they share; :func:`advise_on` them."""
    a, b = (Planing(known, side, target, limits or Limits(), rules or Rules(), target.deflection_m)
            for side in SIDES)
    goal = _goal((a, b))
    return replace(a, goal=goal), replace(b, goal=goal)


def advise_on(blades: tuple[Planing, Planing]) -> Advice:
    """As :func:`advise`, for blades already worked out."""
    a, b = (_advise_blade(blade) for blade in blades)
    stiffer, chance = _stiffer(blades)
    return Advice(a, b, stiffer, chance, abs(a.deflection_m - b.deflection_m),
                  blocked(blades[0].known))


def blocked(known: Estimate) -> tuple[str, ...]:
    """What about the readings has to be cleared up before any number can be given.

    A reading that contradicts the rest comes first, then what else may be wrong, then wood that
    is strange without any such reason.
    """
    unfit = [f"{m.label} does not fit the rest" for m in known.misfits if m.label not in _STRANGE]
    strange = [f"{m.label} does not fit the rest" for m in known.misfits if m.label in _STRANGE]
    return (*unfit, *(doubt.sentence for doubt in known.doubts if doubt.blocks), *strange)


_STRANGE = {f"stiffness of blade {side.upper()}" for side in SIDES}


def _goal(blades: tuple[Planing, Planing]) -> float:
    """Return the target, or what the more flexible blade does if that is further.

    Inside the tolerance only if the blades are told apart, and only a blade that has borne a
    weight sets the goal.
    """
    target = blades[0].target
    most = max((blade.now[0] for blade in blades if _bears(blade)), default=0.0)
    past = most > target.deflection_m + target.tolerance_m
    unlike = most > target.deflection_m and _stiffer(blades)[0] is not None
    return most if past or unlike else target.deflection_m


def _bears(blade: Planing) -> bool:
    """Whether this blade was seen to bend under a weight."""
    return any(isinstance(r, BenchReading | HandsReading) and r.side == blade.side
               for r in blade.known.readings)


def _stiffer(blades: tuple[Planing, Planing]) -> tuple[Side | None, float]:
    """Compare ln deflections; what both blades share (board, weight, clamp) cancels."""
    (a, by_a), (b, by_b) = (blade.now for blade in blades)
    difference = by_b / b - by_a / a
    sd = math.sqrt(float(difference @ blades[0].known.covariance @ difference))
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
    if call != "plane" and _may_be_faired(blade, now, taking):
        per_face = blade.fairing()
        if np.any(per_face > 0.0):
            call, reason = "plane", "as flexible as wanted, but stiff in places"
    after, sd_after = blade.sinks(per_face)
    bent = clamped_line(blade.half, blade.build, blade.target.setup(blade.half), large=False)
    weigh, theta = blade.known.model.weight, blade.known.theta
    return BladeAdvice(
        side=blade.side, call=call, reason=reason, removals=_removals(blade, per_face),
        deflection_m=now, deflection_sd_ln=sd, predicted_m=after, predicted_sd_ln=sd_after,
        goal_m=blade.goal, nearest_m=max(now, blade.nearest),
        overshoot_chance=blade.overshoot(after, sd_after),
        mass_saved_kg=weigh(theta)[0] - weigh(blade.theta_after(per_face))[0],
        bend=character(bent, blade.half.cap[0], blade.target.progression), below=_below(blade),
    )


def _call(blade: Planing, now: float, sd: float, taking: Taking) -> tuple[Call, str]:
    doubts = blocked(blade.known)
    if doubts:
        return "measure again", doubts[0]
    near = now >= blade.goal - blade.target.tolerance_m
    if near and not (np.any(taking.per_face > 0.0) and _worth_it(blade, now, sd, taking)):
        return _enough(blade, now, sd)
    if taking.unmeasured:
        return "measure again", f"first caliper {_listed(taking.unmeasured)}"
    if np.any(taking.per_face > 0.0):
        return "plane", _why_plane(blade, taking)
    return _nothing_off(blade, sd, taking)


def _may_be_faired(blade: Planing, now: float, taking: Taking) -> bool:
    """Whether a blade that was seen to bend far enough may be planed for fairness alone."""
    near = now >= blade.goal - blade.target.tolerance_m
    return near and _bears(blade) and not taking.unmeasured and not blocked(blade.known)


def _worth_it(blade: Planing, now: float, sd: float, taking: Taking) -> bool:
    """Whether a blade inside the tolerance is better planed on.

    It is where it may well be stiffer than the tolerance allows, or where one place is a
    whole pass too thick for a fair bend.
    """
    least = blade.goal - blade.target.tolerance_m  # a wide tolerance may allow any stiffness
    short = ndtr(math.log(least / now) / sd) if least > 0.0 else 0.0
    stiff = np.any((taking.wanted >= blade.rules.pass_m) & (taking.per_face > 0.0))
    return float(short) > SHORT_RISK or bool(stiff)


def _enough(blade: Planing, now: float, sd: float) -> tuple[Call, str]:
    """Say why a blade that is not stiffer than wanted needs nothing off."""
    wanted, near = blade.target.deflection_m, blade.target.tolerance_m
    if not _bears(blade):
        return "measure again", (
            "it may be there already, but nothing was hung from it"
        )
    if now > wanted + near:
        return "stop: past target", "it bends further than wanted; take nothing off"
    if blade.goal > wanted and now < wanted - near:
        return "stop: on target", "it bends like the other blade, within the tolerance"
    if blade.goal > wanted + near:
        return "stop: on target", "it bends like the other blade, within the tolerance"
    how = "as far as it may" if blade.target.lightest else "as wanted"
    return "stop: on target", (
        f"it bends {how}, within the tolerance (known to {100 * sd:.1f} %)"
    )


def _nothing_off(blade: Planing, sd: float, taking: Taking) -> tuple[Call, str]:
    """Say why a blade that is stiffer than wanted should not be planed now."""
    if taking.spent and not blade.finer_helps():
        done = "it is as light as it can safely be: " if blade.target.lightest else ""
        return "stop: a limit is reached", (
            f"{done}one more pass would pass {_listed(taking.held)}"
        )
    if taking.spent:
        return "measure again", "with finer thickness readings a pass might be safe"
    now = blade.now[0]
    if now >= blade.target.deflection_m - blade.target.tolerance_m and _bears(blade):
        return "stop: on target", (
            f"it bends as wanted; the {100 * (blade.goal / now - 1.0):.1f} % it is stiffer than "
            "the other blade can't be taken off safely"
        )
    least = blade.least_pass(taking.wanted) if np.any(taking.wanted > 0.0) else now
    if least > blade.most:
        return "stop: the plane is too coarse", "even one pass would go past: set the plane finer"
    missing = "" if _bears(blade) else "; hang the weight from it"
    if not missing and not _could_tell(blade, sd, least):
        return "stop: the readings can't tell", (
            f"the {100 * (blade.goal / now - 1.0):.1f} % it is stiffer than wanted is less than "
            f"these tools can tell ({100 * sd:.1f} %)"
        )
    return "measure again", (
        f"one more pass could pass the target: its bend is known to {100 * sd:.1f} % only{missing}"
    )


def _could_tell(blade: Planing, sd: float, least: float) -> bool:
    """Whether further readings could make one more pass safe, or are worth taking anyhow."""
    best = best_sd_ln(State.now(blade.known), blade)
    careful = float(ndtri(1.0 - blade.rules.target_risk)) * best
    return best < _WORTH * sd or math.log(least / blade.most) + careful <= 0.0


def _why_plane(blade: Planing, taking: Taking) -> str:
    wanted, near = blade.target.deflection_m, blade.target.tolerance_m
    if blade.goal > wanted + near:
        why = "stiffer than the other blade, which is past the target"
    elif blade.target.lightest:
        why = "heavier than it has to be"
    elif blade.now[0] > wanted - near:
        why = "stiffer than the other blade"
    else:
        why = "stiffer than wanted"
    if blade.nearest < blade.goal and not blade.target.lightest:
        share = 100 * blade.nearest / blade.goal
        why += f"; inside the limits it can come to {share:.0f} % of that"
    return f"{why}; held back by {_listed(taking.held)}" if taking.held else why


def _listed(held: tuple[str, ...]) -> str:
    return " and ".join(f"the {item}" for item in held)


def _removals(blade: Planing, per_face: Floats) -> tuple[Removal, ...]:
    floors = np.maximum(*blade.floors)
    shares = 1.0 - 2.0 * per_face / blade.crowns
    rows = zip(blade.half.stations, per_face, blade.edges, shares, floors, strict=True)
    found = []
    for station, off, edge, share, floor in rows:
        faces = round(2.0 * off / blade.rules.pass_m)
        upper = round(faces * station.share)
        found.append(Removal(
            station.name, station.x, float(off), faces / 2, upper, faces - upper, station.crown,
            float(station.crown * share), float(edge), float(edge * share), float(floor),
        ))
    return tuple(found)


def _below(blade: Planing) -> tuple[Below, ...]:
    """Thicknesses that are more probably below their least than above it."""
    least = blade.limits.least_crowns(blade.half)
    sd_crown, sd_edge = blade.sds
    crowns = zip(blade.half.stations, blade.crowns, least, sd_crown, strict=True)
    edges = zip(blade.half.stations[:-1], blade.edges, sd_edge, strict=False)
    return (
        *(Below(s.name, "crown", float(c), float(at), float(ndtr((at - c) / sd)))
          for s, c, at, sd in crowns if c < at),
        *(Below(s.name, "edge", float(e), blade.limits.least_edge,
                float(ndtr((blade.limits.least_edge - e) / sd)))
          for s, e, sd in edges if e < blade.limits.least_edge),
    )
