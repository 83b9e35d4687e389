"""Tuning a round at a time: what is known after one is what the next starts from.

A round is: read, plane, clamp anew; see :mod:`springloom.tune.carry` for what it leaves of what is
known, and :mod:`springloom.tune.hung_weight` for the one error that lasts through all of them.

Risk over the whole tuning: whoever allows a risk at each removal passes the target more often
than that, because every removal is one more chance to. So a tuning has one risk to spend
(:attr:`springloom.tune.rules.Rules.tuning_risk`), half of it for each blade. A removal may
take half of what is left of it, and what its own forecast takes is booked; so however many rounds
there are, the sum stays below the whole. (Only :data:`LEAST_RISK` may always be taken.)
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Limits, Target
from springloom.mechanics.stiffness import Build
from springloom.shape.paddle import Paddle
from springloom.tune.advice import Advice, advise, plans
from springloom.tune.carry import Removals, after_planing, clamped_anew
from springloom.tune.estimate import Estimate, Prior, estimate, prior_of
from springloom.tune.evidence import SIDES, BenchReading, Reading, Side
from springloom.tune.hung_weight import Weight
from springloom.tune.model import Model
from springloom.tune.rules import Rules

__all__ = ["LEAST_RISK", "NEXT_SHARE", "Course", "Removals", "Round", "after_planing",
           "clamped_anew", "followed", "removals_of", "steps"]

Floats = npt.NDArray[np.float64]

NEXT_SHARE = 0.5
"""How much of what is left of a blade's risk one removal may take."""

LEAST_RISK = 0.0005
"""What a removal may always take."""


@dataclass(frozen=True)
class Round:
    """A round that is over: what was read, and what was then really taken off."""

    readings: tuple[Reading, ...]
    removals: Removals


@dataclass(frozen=True)
class Course:
    """A paddle's tuning so far; each step gives a new one.

    Attributes:
        paddle, build: plan and wood.
        known: what is known now; None before anything was read.
        rounds: how often wood was taken off.
        spent: what the removals so far took of each blade's risk.
    """

    paddle: Paddle
    build: Build
    known: Estimate | None = None
    rounds: int = 0
    spent: Mapping[Side, float] = field(default_factory=lambda: dict.fromkeys(SIDES, 0.0))
    _shown: Prior | None = None
    _weight: Weight | None = None

    def read(self, readings: Sequence[Reading]) -> Course:
        """Take in readings, of this round or more of the same.

        Raises:
            RangeError, EvidenceError: as :func:`springloom.tune.estimate.estimate`.
        """
        model = Model(self.paddle, self.build)
        shown, weight = self._shown or prior_of(model), self._weight
        hung = next((r for r in readings if isinstance(r, BenchReading)), None)
        if weight is None and hung is not None:
            weight = Weight.first_hung(hung, model, shown)
            shown = weight.shown(model, shown)
        if weight is None:
            known = estimate(self.paddle, self.build, readings, shown)
            return replace(self, known=known, _shown=Prior(known.theta, known.covariance))
        found = estimate(self.paddle, self.build, [weight.without(r) for r in readings], shown)
        return replace(self, known=weight.real(found), _weight=weight,
                       _shown=Prior(found.theta, found.covariance))

    def planed(self, removals: Removals, chances: Mapping[Side, float] | None = None) -> Course:
        """Take off what was meant, book its chances of passing the target, and clamp anew."""
        known, shown = self._read_before()
        spent = {side: self.spent[side] + (chances or {}).get(side, 0.0) for side in SIDES}
        believed = replace(known, theta=shown.mean, covariance=shown.covariance)
        left = clamped_anew(known.model, after_planing(believed, removals))
        return replace(self, rounds=self.rounds + 1, spent=spent, _shown=left)

    def chances(
        self, removals: Removals, target: Target, limits: Limits, rules: Rules
    ) -> dict[Side, float]:
        """Chance of each blade planed of passing the target by more than its tolerance."""
        known = self.now()
        found: dict[Side, float] = {}
        for blade in plans(known, target, limits, rules):
            off = removals.get(blade.side)
            if off is not None and np.any(off > 0.0):
                found[blade.side] = blade.overshoot(*blade.sinks(off))
        return found

    def rules(self, rules: Rules) -> Rules:
        """The rules with the risk that the next removal may take."""
        left = rules.tuning_risk / len(SIDES) - max(self.spent.values())
        risk = min(rules.target_risk, max(NEXT_SHARE * left, LEAST_RISK))
        return replace(rules, target_risk=risk)

    def advise(self, target: Target, limits: Limits, rules: Rules) -> Advice:
        """Advise on the next removal within what is left of the risk."""
        return advise(self.now(), target, limits, self.rules(rules))

    def now(self) -> Estimate:
        """What is known now."""
        return self._read_before()[0]

    def _read_before(self) -> tuple[Estimate, Prior]:
        if self.known is None or self._shown is None:
            raise ValueError("nothing was read before it")  # a slip of ours
        return self.known, self._shown


def followed(
    paddle: Paddle, build: Build, rounds: Sequence[Round], readings: Sequence[Reading],
    target: Target | None, limits: Limits, rules: Rules,
) -> Course:
    """Go through the rounds that are over, in order, and then read what is at hand now.

    Without a target no risk is booked.

    Raises:
        RangeError, EvidenceError: as :func:`springloom.tune.estimate.estimate`.
    """
    *_, last = steps(paddle, build, rounds, readings, target, limits, rules)
    return last


def steps(
    paddle: Paddle, build: Build, rounds: Sequence[Round], readings: Sequence[Reading],
    target: Target | None, limits: Limits, rules: Rules,
) -> Iterator[Course]:
    """Yield the course as each round left it before its planing, the one at hand last.

    As :func:`followed`, which is the last of them.
    """
    course = Course(paddle, build)
    for one in rounds:
        course = course.read(one.readings)
        yield course
        booked = course.chances(one.removals, target, limits, rules) if target else {}
        course = course.planed(one.removals, booked)
    yield course.read(readings)


def removals_of(advice: Advice) -> dict[Side, Floats]:
    """What advice would take off each face, m, of the blades it would plane."""
    return {blade.side: blade.per_face for blade in advice.blades if blade.call == "plane"}
