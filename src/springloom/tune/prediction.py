"""What both blades should be and do after the advised removal, each with its 90 % interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.mechanics.bend import line_shape
from springloom.mechanics.strength import Margin, margins, splitting
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.advice import Advice, BladeAdvice
from springloom.tune.estimate import NORMAL_90
from springloom.tune.evidence import (
    BalanceReading,
    BenchReading,
    Side,
    ThicknessReading,
    WeightReading,
)
from springloom.tune.next_reading import State
from springloom.tune.planing import Planing

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Between:
    """A number with its 90 % interval; the key above it carries the unit."""

    value: float
    low_90: float
    high_90: float

    @classmethod
    def of(cls, value: float, sd: float) -> Between:
        """A plain normal."""
        return cls(value, value - NORMAL_90 * sd, value + NORMAL_90 * sd)

    @classmethod
    def log(cls, value: float, sd_ln: float) -> Between:
        """A lognormal: what is never negative."""
        spread = math.exp(NORMAL_90 * sd_ln)
        return cls(value, value / spread, value * spread)


@dataclass(frozen=True, slots=True)
class MarginThen:
    """One load case: the weakest place, and its margin now and then.

    The interval is that of the thickness there; the strength is the lower 5 % of the board.
    """

    case: str
    kind: str
    at_m: float
    now_ratio: float
    then_ratio: Between


@dataclass(frozen=True, slots=True)
class BladePrediction:
    """One blade; station by station from the root to the tip.

    Attributes:
        side, stations, x_m: which and where.
        crowns_now_m, edges_now_m, crowns_then_m, edges_then_m: thicknesses.
        line_now_m, line_then_m: how far each place sinks under the target's weight.
        line_wanted_m: how far it should in the end.
        margins: load cases.
        splitting_now_ratio, splitting_then_ratio: the screen of the thin edges against the
            default blade's, a comparison and no prediction.
    """

    side: Side
    stations: tuple[str, ...]
    x_m: tuple[float, ...]
    crowns_now_m: tuple[Between, ...]
    edges_now_m: tuple[Between, ...]
    crowns_then_m: tuple[Between, ...]
    edges_then_m: tuple[Between, ...]
    line_now_m: tuple[Between, ...]
    line_then_m: tuple[Between, ...]
    line_wanted_m: tuple[float, ...]
    margins: tuple[MarginThen, ...]
    splitting_now_ratio: float
    splitting_then_ratio: float

    @property
    def weakest(self) -> MarginThen:
        """The case with the least margin then."""
        return min(self.margins, key=lambda margin: margin.then_ratio.value)

    @property
    def tip_then_m(self) -> Between:
        """How far the tip should sink then."""
        return self.line_then_m[-1]


@dataclass(frozen=True, slots=True)
class Prediction:
    """Both blades, and the whole paddle; the balance point lies towards blade A."""

    a: BladePrediction
    b: BladePrediction
    mass_now_kg: Between
    mass_then_kg: Between
    balance_now_m: Between
    balance_then_m: Between


def predict(plans: tuple[Planing, Planing], advice: Advice) -> Prediction:
    """Work out what the advised removals on both blades lead to."""
    known = plans[0].known
    taken = [(blade, told.per_face) for blade, told in zip(plans, advice.blades, strict=True)]
    now, then = State.now(known), State.planed(known, taken)
    a, b = (_blade(blade, told, now, then)
            for blade, told in zip(plans, advice.blades, strict=True))
    return Prediction(
        a, b,
        *(_spread(state, WeightReading(1.0), log=True) for state in (now, then)),
        *(_spread(state, BalanceReading(0.0)) for state in (now, then)),
    )


def _blade(blade: Planing, told: BladeAdvice, now: State, then: State) -> BladePrediction:
    half, at, side = blade.half, blade.known.model.layout, blade.side
    before, after = (_paddle(state, side) for state in (now, then))
    return BladePrediction(
        side, tuple(s.name for s in half.stations), tuple(s.x for s in half.stations),
        _thicknesses(now, at.crowns(side)), _thicknesses(now, at.edges(side)),
        _thicknesses(then, at.crowns(side)), _thicknesses(then, at.edges(side)),
        _line(now, blade), _line(then, blade),
        tuple(wanted_line(half, told.goal_m, blade.target.progression).tolist()),
        _margins(blade, before, after, then),
        splitting(before.a, blade.build).index, splitting(after.a, blade.build).index,
    )


def _paddle(state: State, side: Side) -> Paddle:
    """The paddle with this blade as its A."""
    other: Side = "b" if side == "a" else "a"
    return Paddle(*(state.known.model.shaped(one, state.theta) for one in (side, other)))


def _thicknesses(state: State, part: slice) -> tuple[Between, ...]:
    sds = np.sqrt(np.diag(state.covariance)[part])
    return tuple(Between.of(float(value), float(sd))
                 for value, sd in zip(state.theta[part], sds, strict=True))


def _line(state: State, blade: Planing) -> tuple[Between, ...]:
    """How far each station sinks, the clamp held to be rigid."""
    half, model = state.known.model.bench(blade.side).half, state.known.model
    clamp = model.layout.clamp(blade.side)
    theta = state.theta.copy()
    theta[clamp] = 0.0
    readings = [BenchReading(blade.side, 0.01, s.x, half.tip, half.loom.root, blade.target.load_n)
                for s in half.stations[1:]]
    values, by = model.foretelling(readings).at(theta)
    by[:, clamp] = 0.0
    sds = np.sqrt(np.einsum("ki,ij,kj->k", by, state.covariance, by)) / values
    return (Between(0.0, 0.0, 0.0), *(Between.log(float(value), float(sd)) for value, sd
                                      in zip(values, sds, strict=True)))


def wanted_line(half: HalfPaddle, goal_m: float, progression: float) -> Floats:
    """How far each station should sink, m."""
    return wanted_at(half, np.array([s.x for s in half.stations]), goal_m, progression)


def wanted_at(half: HalfPaddle, x: Floats, goal_m: float, progression: float) -> Floats:
    """How far each of these places (m from the centre) should sink, m."""
    outward = (x - half.loom.root) / (half.tip - half.loom.root)
    shape = line_shape(np.append(outward, 1.0), progression)
    return np.asarray(goal_m * shape[:-1] / shape[-1])


def _spread(state: State, reading: WeightReading | BalanceReading, *, log: bool = False) -> Between:
    value, by = state.known.model.predict(reading, state.theta)
    sd = math.sqrt(float(by @ state.covariance @ by))
    return Between.log(value, sd / value) if log else Between.of(value, sd)


def _margins(
    blade: Planing, before: Paddle, after: Paddle, then: State
) -> tuple[MarginThen, ...]:
    now, left = margins(before, blade.build), margins(after, blade.build)
    sds = _margin_sds(left, blade.side, then)
    return tuple(MarginThen(m.case, m.kind, m.at_m, was.margin, Between.log(m.margin, float(sd)))
                 for was, m, sd in zip(now, left, sds, strict=True))


def _margin_sds(found: Sequence[Margin], side: Side, then: State) -> Floats:
    """Sd of ln margin: bending stress goes with the crown's square, the others with less."""
    other: Side = "b" if side == "a" else "a"
    places = [ThicknessReading(side if m.at_m >= 0.0 else other, abs(m.at_m), 0.01) for m in found]
    crowns, by = then.known.model.foretelling(places).at(then.theta)
    return np.asarray(2.0 * np.sqrt(np.einsum("ki,ij,kj->k", by, then.covariance, by)) / crowns)
