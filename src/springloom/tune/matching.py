"""Both blades alike: the same bend and the same weight, and where the paddle then balances.

Wood can't be put back, so the stiffer blade comes to the more flexible one and the heavier to the
lighter. What the bend leaves of a difference in weight can come off the heavier blade where it
touches no bend (:mod:`springloom.tune.saving`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from springloom.mechanics.axis import half_axis
from springloom.mechanics.stiffness import Build, rigidity
from springloom.shape.blade import HalfPaddle
from springloom.tune.advice import TOLD_APART, Advice
from springloom.tune.estimate import NORMAL_90
from springloom.tune.evidence import Side
from springloom.tune.next_reading import State
from springloom.tune.planing import Planing
from springloom.tune.prediction import Between, Prediction
from springloom.tune.saving import Saving


@dataclass(frozen=True, slots=True)
class Match:
    """How alike the blades are, and will be; a positive difference is blade A's.

    Attributes:
        stiffer, stiffer_chance: the stiffer blade now, None where they can't be told apart.
        bend_now_m, bend_then_m: how much further blade A sinks than blade B, now and after the
            advised removal.
        alike: whether they are then probably within the tolerance of one another.
        mass_now_kg, mass_then_kg: how much heavier blade A's half is.
        heavier: the heavier half now, None where they can't be told apart.
        heavier_chance: chance that it really is.
        spare_kg: what could come off the then heavier half without touching its bend.
        balance_now_m, balance_then_m: from the centre towards blade A.
    """

    stiffer: Side | None
    stiffer_chance: float
    bend_now_m: Between
    bend_then_m: Between
    alike: bool
    mass_now_kg: float
    mass_then_kg: float
    heavier: Side | None
    heavier_chance: float
    spare_kg: float
    balance_now_m: Between
    balance_then_m: Between

    @property
    def balance_shift_m(self) -> float:
        """How far the balance point moves towards blade A."""
        return self.balance_then_m.value - self.balance_now_m.value


def match(
    plans: tuple[Planing, Planing], advice: Advice, predicted: Prediction,
    saved: Sequence[Saving] = (),
) -> Match:
    """Compare the blades before and after the advised removals."""
    known = plans[0].known
    taken = [(blade, told.per_face) for blade, told in zip(plans, advice.blades, strict=True)]
    now, then = State.now(known), State.planed(known, taken)
    before, after = (_bends(state, plans) for state in (now, then))
    masses = [_heavier_by(state, plans) for state in (now, then)]
    heavier, chance = _told_apart(predicted.balance_now_m)
    then_heavier: Side = "a" if masses[1] > 0.0 else "b"
    spare = sum(one.saved_kg for one in saved if one.now and one.side == then_heavier)
    return Match(
        advice.stiffer, advice.stiffer_chance, before, after,
        abs(after.value) <= plans[0].target.tolerance_m, masses[0], masses[1], heavier, chance,
        min(spare, abs(masses[1])), predicted.balance_now_m, predicted.balance_then_m,
    )


def _bends(state: State, plans: tuple[Planing, Planing]) -> Between:
    """How much further A sinks than B; what both share cancels."""
    (a, by_a), (b, by_b) = (
        state.known.sink_gradient(p.side, p.target.setup(state.known.model.bench(p.side).half),
                                  state.theta)
        for p in plans
    )
    by = by_a - by_b
    return Between.of(a - b, math.sqrt(float(by @ state.covariance @ by)))


def _heavier_by(state: State, plans: tuple[Planing, Planing]) -> float:
    """Mass from the centre to the tip of blade A less that of blade B, kg."""
    a, b = (_mass(state.known.model.shaped(p.side, state.theta), p.build) for p in plans)
    return a - b


def _mass(half: HalfPaddle, build: Build) -> float:
    axis = half_axis(half, 0.0)
    return axis.integral(rigidity(axis, build).mass)


def _told_apart(balance: Between) -> tuple[Side | None, float]:
    """The heavier half by where the paddle balances."""
    sd = max((balance.high_90 - balance.low_90) / (2.0 * NORMAL_90), 1e-9)
    chance = float(ndtr(np.abs(balance.value) / sd))
    if chance < TOLD_APART:
        return None, chance
    return ("a" if balance.value > 0.0 else "b"), chance
