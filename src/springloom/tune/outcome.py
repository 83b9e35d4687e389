"""How a tuning ended, judged by the truth and not by what the maker believes."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.errors import UnreachableError
from springloom.fit.bend import design_for_bend, strength_crowns
from springloom.mechanics.bend import character, wanted_curvature
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import clamped_line
from springloom.shape.blade import HalfPaddle
from springloom.tune.evidence import SIDES, Side
from springloom.tune.jobs import Job
from springloom.tune.rules import FINE_PASS
from springloom.tune.virtual import Virtual

Floats = npt.NDArray[np.float64]
End = Literal["within", "true stop", "short", "past"]
ENDS: tuple[End, ...] = ("within", "true stop", "short", "past")


@dataclass(frozen=True, slots=True)
class Outcome:
    """One paddle's end.

    Attributes:
        species: its wood.
        end: the worse blade's: past the goal by more than the tolerance; short of it by more,
            though it could have been reached; short because the limits truly end there; within.
        thin: whether any station planed ended below a least thickness.
        rounds: how often the plane was taken up.
        mass_kg: of the whole paddle.
        spare_kg: what it weighs beyond the lightest that bends as wanted, in this wood and inside
            the limits; 0 for one that is lighter.
        off_m: how far from the wanted deflection, the worse blade, m.
        unlike_m: how far the blades are from one another, m.
        line_off_m: root mean square distance of the bent line from the wanted one, m.
        unfair: root mean square share by which the curvature's shape departs from the wanted one.
        fair: whether both blades bend fairly.
    """

    species: str
    end: End
    thin: bool
    rounds: int
    mass_kg: float
    spare_kg: float
    off_m: float
    unlike_m: float
    line_off_m: float
    unfair: float
    fair: bool


def judged(job: Job, paddle: Virtual, rounds: int, lightest: float | None = None) -> Outcome:
    """Judge a paddle that came out of a job.

    ``lightest`` is :func:`lightest_kg` where that is known already.
    """
    sinks = {side: paddle.sinks(side, job.target.load_n) for side in SIDES}
    bends = [_Bend.of(job, paddle, side) for side in SIDES]
    mass = paddle.mass_kg()
    least = lightest_kg(job) if lightest is None else lightest
    return Outcome(
        species=job.species,
        end=max((_end(job, paddle, side, sinks[side]) for side in SIDES), key=ENDS.index),
        thin=any(_thin(job, paddle, side) for side in SIDES), rounds=rounds,
        mass_kg=mass, spare_kg=max(mass - least, 0.0),
        off_m=max(abs(s - job.target.deflection_m) for s in sinks.values()),
        unlike_m=abs(sinks["a"] - sinks["b"]),
        line_off_m=math.sqrt(sum(b.line_off_m**2 for b in bends) / len(bends)),
        unfair=math.sqrt(sum(b.unfair**2 for b in bends) / len(bends)),
        fair=all(b.fair for b in bends),
    )


def lightest_kg(job: Job) -> float:
    """The lightest paddle of this wood that bends as wanted inside the limits, kg."""
    total = 0.0
    for side in SIDES:
        wood = replace(job.build, **{key: getattr(job.carved.wood(side), key)
                                     for key in ("e_pa", "g_pa", "g_width_pa", "density_kg_m3")})
        target = replace(job.target, lightest=True)  # where it can't be reached: as near as may be
        try:
            total += 0.5 * design_for_bend(job.plan.a, wood, target, job.limits).mass_kg
        except UnreachableError:
            total += 0.5 * mass_properties(job.plan, wood).mass_kg
    return total


def _end(job: Job, paddle: Virtual, side: Side, sinks: float) -> End:
    near, wanted = job.target.tolerance_m, job.target.deflection_m
    # a blade that was past from the start sets the goal for both
    goal = max(wanted, *(job.carved.sinks(s, job.target.load_n) for s in SIDES))
    if sinks > goal + near:
        return "past"
    if sinks >= wanted - near:
        return "within"
    return "short" if _nearest(job, paddle, side) >= wanted - near else "true stop"


def at_stations(job: Job, paddle: Virtual, side: Side) -> HalfPaddle:
    """The true blade as its plan's stations show it."""
    stations = []
    for station in job.plan.a.stations:
        crown, edge = paddle.thickness(side, station.x)
        stations.append(replace(station, crown=crown, edge=min(edge, crown)))
    return replace(job.plan.a, stations=tuple(stations))


def floors(job: Job, half: HalfPaddle) -> Floats:
    """Least crowns at a blade's stations by thickness and by strength, m."""
    return np.maximum(job.limits.least_crowns(half),
                      strength_crowns(half, job.build, job.limits.margin))


def _edges(half: HalfPaddle) -> Floats:
    return np.array([s.edge for s in half.stations[:-1]], dtype=float)


def _thin(job: Job, paddle: Virtual, side: Side) -> bool:
    """Whether planing brought a station below its least crown or edge."""
    before, after = (at_stations(job, p, side) for p in (job.carved, paddle))
    crowns = [np.array([s.crown for s in half.stations]) for half in (before, after)]
    planed = crowns[1] < crowns[0] - 1e-9
    low = crowns[1] < floors(job, after)
    sharp = _edges(after) < job.limits.least_edge
    return bool(np.any(planed & low) or np.any(planed[:-1] & sharp))


def _nearest(job: Job, paddle: Virtual, side: Side) -> float:
    """How far the tip would sink with every whole pass taken that the limits truly allow, m."""
    half = at_stations(job, paddle, side)
    crowns, least = np.array([s.crown for s in half.stations]), floors(job, half)
    by_edge = np.append(crowns[:-1] * (1.0 - job.limits.least_edge / _edges(half)), np.inf)
    room = np.floor(np.minimum(crowns - least, by_edge) / (2.0 * FINE_PASS))
    off = np.maximum(room, 0.0) * 2.0 * FINE_PASS
    own = [s.x for s in paddle.half(side).stations]
    places = [s.x for s in half.stations]
    return paddle.planed(side, np.interp(own, places, off)).sinks(side, job.target.load_n)


@dataclass(frozen=True, slots=True)
class _Bend:
    """How one blade bends under the target's weight, see :class:`Outcome`."""

    line_off_m: float
    unfair: float
    fair: bool

    @classmethod
    def of(cls, job: Job, paddle: Virtual, side: Side) -> _Bend:
        half = paddle.half(side)
        line = clamped_line(half, paddle.wood(side), job.target.setup(half), large=False)
        inside = line.axis.x <= half.cap[0]
        weight = line.axis.weight[inside]
        shape = wanted_curvature((line.axis.x - half.loom.root) / (half.tip - half.loom.root),
                                 job.target.progression)
        ratio = np.log(line.curvature[inside] / shape[inside])
        ratio -= np.average(ratio, weights=weight)
        wanted, _ = line.axis.running(line.axis.running(shape)[0])
        wanted *= job.target.deflection_m / line.axis.running(line.axis.running(shape)[0])[1][-1]
        off = (line.deflection - wanted)[inside]
        rms = [float(np.sqrt(np.average(v**2, weights=weight))) for v in (off, ratio)]
        return cls(rms[0], rms[1], character(line, half.cap[0]).fair)
