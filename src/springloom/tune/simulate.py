"""Follow the advice, and two plain habits, to the end on many virtual paddles.

Paddle number i of a seed is drawn from that seed and i alone, so that any number of workers
gives the same result. The habits get the same carved paddle, tools, weight and clamp as the advice.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from springloom.errors import in_range
from springloom.tune.advice import Advice
from springloom.tune.evidence import SIDES, Reading
from springloom.tune.habits import Habit, follow_habit
from springloom.tune.jobs import Job, random_job
from springloom.tune.outcome import Outcome, judged, lightest_kg
from springloom.tune.rounds import Course, removals_of
from springloom.tune.rules import Rules
from springloom.tune.virtual import Maker, Tools, Virtual

Floats = npt.NDArray[np.float64]

MOST_ROUNDS = 12
"""Rounds after which the virtual maker gives up."""

AGAIN = 3
"""How often everything is read again in one round when the advice asks for readings."""

_MEANS = ("mass_kg", "spare_kg", "off_m", "unlike_m", "line_off_m", "unfair", "fair")

HABITS: tuple[Habit, ...] = ("to the plan", "evenly")


@dataclass(frozen=True, slots=True)
class Step:
    """One round: what was known, what was advised, and the truth before it."""

    course: Course
    advice: Advice
    truth: Virtual


@dataclass(frozen=True, slots=True)
class Trial:
    """One paddle, tuned in three ways from the same start.

    Attributes:
        number: which.
        advised: how the advice ended.
        habits: how each of :data:`HABITS` ended.
    """

    number: int
    advised: Outcome
    habits: tuple[Outcome, ...]


def follow_advice(job: Job, maker: Maker, rules: Rules | None = None) -> Iterator[Step]:
    """Tune a paddle round by round; the last step takes nothing off."""
    paddle, course, care = job.carved, Course(job.plan, job.build), rules or Rules()
    places = np.array([station.x for station in job.plan.a.stations])
    for _ in range(MOST_ROUNDS):
        course, advice = _measured(job, maker, paddle, course, care)
        yield Step(course, advice, paddle)
        removals = removals_of(advice)
        if not removals:
            return
        for side, per_face in removals.items():
            paddle = maker.plane(paddle, side, places, per_face)
        course = course.planed(removals, {b.side: b.overshoot_chance for b in advice.blades
                                          if b.side in removals})
        maker.clamp()


def _measured(
    job: Job, maker: Maker, paddle: Virtual, course: Course, rules: Rules
) -> tuple[Course, Advice]:
    """Caliper and bend both blades, and again as long as nothing but that is asked for."""
    readings: list[Reading] = [] if course.known else [maker.weighing(paddle)]
    for _ in range(1 + AGAIN):
        for side in SIDES:
            readings += [*maker.calipers(paddle, side, job.plan.a), *maker.bench(paddle, side)]
        course, readings = course.read(readings), []
        advice = course.advise(job.target, job.limits, rules)
        calls = [blade.call for blade in advice.blades]
        if "plane" in calls or "measure again" not in calls:
            break
    return course, advice


def trial(seed: int, number: int) -> Trial:
    """Draw one job and tune it in all three ways."""
    job = random_job(np.random.default_rng([seed, number]))
    *_, last = follow_advice(job, _maker(seed, number, job))
    ends = [follow_habit(job, _maker(seed, number, job), habit) for habit in HABITS]
    least = lightest_kg(job)
    return Trial(number, judged(job, last.truth, last.course.rounds, least),
                 tuple(judged(job, paddle, times, least) for paddle, times in ends))


def _maker(seed: int, number: int, job: Job) -> Maker:
    """The same maker at the same bench each time."""
    return Maker(np.random.default_rng([seed, number, 1]), Tools(), job.target.load_n)


def trials(count: int, seed: int, workers: int = 1) -> Iterator[Trial]:
    """Yield trials as they are done, in order.

    Raises:
        RangeError: no such number of paddles.
    """
    in_range(count, "paddles", 1, 100000)
    one = partial(trial, seed)
    if workers == 1:
        yield from map(one, range(count))
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(one, range(count), chunksize=4)


@dataclass(frozen=True, slots=True)
class Tally:
    """What came of many paddles tuned one way; shares of all paddles.

    Attributes:
        name: which way.
        count: how many paddles.
        within, true_stop, short, past: each end.
        thin: a least thickness passed.
        rounds: median number of times the plane was taken up.
        mass_kg, spare_kg, off_m, unlike_m, line_off_m, unfair: means.
        fair: share that bends fairly.
        failures: short, past or thin.
    """

    name: str
    count: int
    within: float
    true_stop: float
    short: float
    past: float
    thin: float
    failures: float
    rounds: float
    mass_kg: float
    spare_kg: float
    off_m: float
    unlike_m: float
    line_off_m: float
    unfair: float
    fair: float

    @property
    def good(self) -> float:
        """Within the tolerance or a true stop."""
        return self.within + self.true_stop

    @classmethod
    def of(cls, name: str, outcomes: Iterable[Outcome]) -> Tally:
        """Count."""
        found = list(outcomes)

        def share(*ends: str) -> float:
            return float(np.mean([o.end in ends for o in found]))

        return cls(
            name, len(found), share("within"), share("true stop"), share("short"), share("past"),
            float(np.mean([o.thin for o in found])),
            float(np.mean([o.thin or o.end in ("short", "past") for o in found])),
            float(np.median([o.rounds for o in found])),
            *(float(np.mean([getattr(o, key) for o in found]))
              for key in _MEANS),
        )


def tallies(done: Iterable[Trial]) -> tuple[Tally, ...]:
    """The advice first, then the habits."""
    found = list(done)
    return (Tally.of("the advice", (t.advised for t in found)),
            *(Tally.of(name, (t.habits[i] for t in found)) for i, name in enumerate(HABITS)))
