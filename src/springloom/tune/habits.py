"""Two plain habits, followed with the same tools, the same plane and the same paddles.

To the plan: caliper every station, take off what it is thicker than the plan, to the nearest whole
pass, until nothing is left to take. Evenly: one fine pass off each face (1/64 in off the thickness)
at all stations, hang the weight, and so on until the tip sinks as wanted, within the
tolerance. Neither takes a pass that calipers say would pass a least crown or a least edge. Both are
common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.shape.blade import HalfPaddle
from springloom.tune.evidence import SIDES, Side, ThicknessReading
from springloom.tune.jobs import Job
from springloom.tune.rules import FINE_PASS
from springloom.tune.virtual import Maker, Virtual

Floats = npt.NDArray[np.float64]
Habit = Literal["to the plan", "evenly"]

MOST_TIMES = 40
"""How often a habit takes up the plane at most; a maker would have given up long before."""

Passes = Callable[[Job, Maker, Virtual, Side], Floats]


def follow_habit(job: Job, maker: Maker, habit: Habit) -> tuple[Virtual, int]:
    """Follow a habit to its end: the paddle then, and how often the plane was taken up."""
    passes_of = _HABITS[habit]
    paddle, left = job.carved, set(SIDES)
    places = np.array([station.x for station in job.plan.a.stations])
    for times in range(MOST_TIMES):
        before = paddle
        for side in sorted(left):
            passes = passes_of(job, maker, paddle, side)
            if not passes.any():
                left.discard(side)
                continue
            paddle = maker.plane(paddle, side, places, FINE_PASS * passes)
        if paddle is before:
            return paddle, times
        maker.clamp()
    return paddle, MOST_TIMES


def _to_the_plan(job: Job, maker: Maker, paddle: Virtual, side: Side) -> Floats:
    crowns, edges = _read(job, maker, paddle, side)
    planned = np.array([station.crown for station in job.plan.a.stations])
    over = (crowns - planned) / (2.0 * FINE_PASS)
    wanted = np.maximum(np.round(over), 0.0)
    return np.asarray(np.minimum(wanted, _room(job, crowns, edges)))


def _evenly(job: Job, maker: Maker, paddle: Virtual, side: Side) -> Floats:
    read = [r.deflection for r in maker.bench(paddle, side) if r.read_x == r.load_x]
    if np.mean(read) >= job.target.deflection_m - job.target.tolerance_m:
        return np.zeros(len(job.plan.a.stations))
    return np.asarray(np.minimum(1.0, _room(job, *_read(job, maker, paddle, side))))


_HABITS: dict[Habit, Passes] = {"to the plan": _to_the_plan, "evenly": _evenly}


def _read(job: Job, maker: Maker, paddle: Virtual, side: Side) -> tuple[Floats, Floats]:
    """Crowns and edges at the plan's stations by calipers; the tip has no edge to read."""
    found = [r for r in maker.calipers(paddle, side, job.plan.a)
             if isinstance(r, ThicknessReading)]
    crowns, edges = ([r.thickness for r in found if r.kind == kind] for kind in ("crown", "edge"))
    return np.array(crowns), np.array([*edges, np.inf])


def _room(job: Job, crowns: Floats, edges: Floats) -> Floats:
    """Whole passes until a least crown or a least edge."""
    half: HalfPaddle = job.plan.a
    by_crown = (crowns - job.limits.least_crowns(half)) / (2.0 * FINE_PASS)
    by_edge = (1.0 - job.limits.least_edge / edges) * crowns / (2.0 * FINE_PASS)
    return np.asarray(np.maximum(np.floor(np.minimum(by_crown, by_edge)), 0.0))
