"""One joint estimate of stiffness, density, shape and clamp from all readings.

Gauss–Newton on the sum of squared, standardised misfits of readings and prior; the
curvature at its end gives the covariance (Laplace). Both blades share the board: their ln E differ
by :data:`WITHIN_BOARD` only. What one reading's error has in common with another's (the weight
hung, wood left on all over, the bench's clamp) is kept as such.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from springloom.errors import EvidenceError
from springloom.mechanics.setups import Clamped
from springloom.mechanics.stiffness import Build
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.doubts import Doubt, Found, doubts_of, stiffness_sigmas
from springloom.tune.evidence import SIDES, BenchReading, Reading, Side
from springloom.tune.model import Model
from springloom.tune.moved import Moved, Taken
from springloom.tune.prior import (
    CLAMP_COMMON,
    CLAMP_SD,
    PROUD_SD,
    STATION_SD,
    WITHIN_BOARD,
    Prior,
    prior_of,
)
from springloom.tune.settle import (
    DOUBTFUL,
    SUSPECT,
    Evidence,
    Settled,
    foretold,
    mean_shift,
    posterior,
    settle,
    sigmas_from_rest,
)
from springloom.wood.layup import Layup
from springloom.wood.material import Material

__all__ = [
    "CLAMP_COMMON", "CLAMP_SD", "DOUBTFUL", "NORMAL_90", "PROUD_SD", "STATION_SD", "SUSPECT",
    "WITHIN_BOARD", "Doubt", "Estimate", "Known", "Misfit", "Moved", "Prior", "estimate",
    "prior_of", "reference_modulus",
]

Floats = npt.NDArray[np.float64]

NORMAL_90 = 1.6448536269514722
"""Half of a normal distribution's 90 % interval, in sd."""

WIDE = 0.7
"""An unknown whose sd is still this share of what it was before stays wide."""


@dataclass(frozen=True, slots=True)
class Known:
    """One unknown before and after: median, and the bounds of its 90 % interval.

    Attributes:
        name: what it is.
        before, before_sd: what was believed before.
        value, sd, low, high: what is believed now.
        moved_by: what each kind of evidence did to it, the most first, in the unknown's own
            scale (ln for E and density); linearised, they add up to the mode's whole shift.
        wide: whether the readings told little of it.
    """

    name: str
    before: float
    before_sd: float
    value: float
    sd: float
    low: float
    high: float
    moved_by: tuple[Moved, ...] = ()
    wide: bool = False


@dataclass(frozen=True, slots=True)
class Misfit:
    """What does not fit the rest: its label and by how many sd."""

    label: str
    sigmas: float


@dataclass(frozen=True)
class Estimate:
    """What the readings say.

    Attributes:
        model: plan and build.
        theta, covariance: posterior of the unknowns, see :mod:`springloom.tune.model`.
        prior, prior_sd: what was believed before.
        misfits: readings more than :data:`SUSPECT` sd from the rest, in the order in which they
            were left out; a blade's stiffness where its readings agree with one another but
            not with the wood.
        readings: those that were used.
        doubts: what may be wrong and has to be asked, see :mod:`springloom.tune.doubts`.
        softened: readings that are doubtful and count for less, with their distance in sd.
        taken: how the readings used moved the unknowns.
        evidence: the readings used as numbers.
    """

    model: Model
    theta: Floats
    covariance: Floats
    prior: Floats
    prior_sd: Floats
    misfits: tuple[Misfit, ...]
    readings: tuple[Reading, ...]
    doubts: tuple[Doubt, ...] = ()
    softened: tuple[Misfit, ...] = ()
    taken: Taken | None = field(default=None, compare=False, repr=False)
    evidence: Evidence | None = field(default=None, compare=False, repr=False)

    def modulus(self, side: Side) -> Known:
        """E along the grain of a blade's wood, Pa (a layup: as its stiffest strip would need)."""
        return self._log(f"E of blade {side.upper()}", self.model.layout.ln_e(side),
                         reference_modulus(self.model.build))

    def density(self) -> Known:
        """Density, kg/m³ (a layup: of its first strip)."""
        build = self.model.build
        wood = build if isinstance(build, Material) else build.strips[0].material
        return self._log("density", self.model.layout.ln_density, wood.density_kg_m3)

    def clamp_turning(self, side: Side) -> Known:
        """Turning of the clamp per moment, rad/(N·m)."""
        return self._plain(f"clamp of blade {side.upper()}", self.model.layout.clamp(side))

    def crowns(self, side: Side) -> tuple[Known, ...]:
        """Crown thickness at each station, m."""
        return self._stations(side, self.model.layout.crowns(side), "crown")

    def edges(self, side: Side) -> tuple[Known, ...]:
        """Edge thickness at each station, m."""
        return self._stations(side, self.model.layout.edges(side), "edge")

    def ridges(self, side: Side) -> tuple[Known, ...]:
        """Ridge fullness beyond the plan's at each station, both faces."""
        return self._stations(side, self.model.layout.ridges(side), "ridge fullness")

    def widths(self, side: Side) -> tuple[Known, ...]:
        """Width at each station but the tip, m."""
        return self._stations(side, self.model.layout.widths(side), "width")

    def longer(self, side: Side) -> Known:
        """How much longer than planned a blade is, m."""
        return self._plain(f"extra length of blade {side.upper()}",
                           self.model.layout.longer(side))

    def half(self, side: Side) -> HalfPaddle:
        """Return the blade as estimated."""
        return self.model.shaped(side, self.theta)

    def paddle(self) -> Paddle:
        """Return the paddle as estimated."""
        return Paddle(self.half("a"), self.half("b"))

    def scaled_build(self, side: Side) -> Build:
        """Return the build with stiffness and density as estimated for one blade."""
        at = self.model.layout
        stiffer, denser = (math.exp(self.theta[i]) for i in (at.ln_e(side), at.ln_density))
        build = self.model.build
        if isinstance(build, Material):
            return _scaled(build, stiffer, denser)
        return Layup(tuple(
            replace(p, material=_scaled(p.material, stiffer, denser)) for p in build.strips
        ))

    def sink(self, side: Side, setup: Clamped) -> tuple[float, float]:
        """Deflection under a set-up's first load at its first reading, with a rigid clamp.

        Returns:
            median in m and the standard deviation of its logarithm.
        """
        value, gradient = self.sink_gradient(side, setup, self.theta)
        return value, math.sqrt(float(gradient @ self.covariance @ gradient)) / value

    def sink_gradient(self, side: Side, setup: Clamped, theta: Floats) -> tuple[float, Floats]:
        """As :meth:`sink` at given unknowns: m, and the gradient (unknowns,)."""
        at = self.model.layout
        values = theta.copy()
        values[at.clamp(side)] = 0.0
        full = setup.on(self.model.bench(side).half)
        clamp = full.clamp if full.clamp is not None else 0.0
        reading = BenchReading(side, 0.01, full.read[0], full.loads[0].x, clamp,
                               full.loads[0].force)
        value, gradient = self.model.sink(reading, values)
        gradient[at.clamp(side)] = 0.0
        return value, gradient

    @functools.cached_property
    def mean(self) -> Floats:
        """The unknowns' means: the posterior is a little skew, and ``theta`` is its mode.

        Predictions are best made from the mode, which meets the readings.
        """
        if self.evidence is None:
            return self.theta
        at = foretold(self.evidence, self.theta)
        return self.theta + mean_shift(self.evidence, at, self.covariance)

    @functools.cached_property
    def _sds(self) -> Floats:
        return np.sqrt(np.diag(self.covariance))

    def _stations(self, side: Side, where: slice, kind: str) -> tuple[Known, ...]:
        stations = self.model.bench(side).half.stations[: where.stop - where.start]
        return tuple(
            self._plain(f"{kind} at {station.name}", where.start + i)
            for i, station in enumerate(stations)
        )

    def _plain(self, name: str, i: int) -> Known:
        value, sd = float(self.mean[i]), float(self._sds[i])
        before_sd = float(self.prior_sd[i])
        return Known(name, float(self.prior[i]), before_sd, value, sd, value - NORMAL_90 * sd,
                     value + NORMAL_90 * sd, self._moved(i), sd > WIDE * before_sd)

    def _log(self, name: str, i: int, unit: float) -> Known:
        value, sd = unit * math.exp(self.mean[i]), float(self._sds[i])
        spread, before_sd = math.exp(NORMAL_90 * sd), float(self.prior_sd[i])
        before = unit * math.exp(self.prior[i])
        return Known(name, before, before * before_sd, value, value * sd, value / spread,
                     value * spread, self._moved(i), sd > WIDE * before_sd)

    def _moved(self, i: int) -> tuple[Moved, ...]:
        return () if self.taken is None else self.taken.moved(i)


def _scaled(wood: Material, stiffer: float, denser: float) -> Material:
    return replace(wood, e_pa=wood.e_pa * stiffer, g_pa=wood.g_pa * stiffer,
                   g_width_pa=wood.g_width_pa * stiffer,
                   density_kg_m3=wood.density_kg_m3 * denser)


def reference_modulus(build: Build) -> float:
    """E that ln E = 0 stands for, Pa."""
    if isinstance(build, Material):
        return build.e_pa
    return max(strip.material.e_pa for strip in build.strips)


def estimate(paddle: Paddle, build: Build, readings: Sequence[Reading],
             prior: Prior | None = None) -> Estimate:
    """Estimate everything from the plan, the wood and the readings.

    Args:
        paddle: the plan.
        build: the wood.
        readings: what was read, in any order.
        prior: what was believed before them, in the same order of unknowns: an earlier round's
            posterior, say; None for the plan's and the wood's own.

    Raises:
        RangeError: a reading lies beyond the blade.
        EvidenceError: no estimate settles (readings that no such paddle could give).
    """
    model = Model(paddle, build)
    start = prior or prior_of(model)
    evidence, settled, misfits = _agreeing(Evidence.of(model, readings), start)
    evidence, settled, softened = _softened(evidence, settled, start)
    covariance = posterior(evidence, settled, start)
    found = Found(model, tuple(readings), evidence, start, settled, covariance)
    misfits += [Misfit(f"stiffness of blade {side.upper()}", sigmas)
                for side, sigmas in zip(SIDES, stiffness_sigmas(found), strict=True)
                if sigmas > SUSPECT]
    return Estimate(
        model, settled.theta, covariance, start.mean, np.sqrt(np.diag(start.covariance)),
        tuple(misfits), evidence.readings, doubts_of(found), softened,
        Taken.of(evidence, settled, start, covariance), evidence,
    )


def _agreeing(evidence: Evidence, prior: Prior) -> tuple[Evidence, Settled, list[Misfit]]:
    """Leave out the farthest reading until none is farther than :data:`SUSPECT`."""
    misfits: list[Misfit] = []
    settled = settle(evidence, prior)
    while evidence.readings:
        # without rest the plan is the best place to judge from
        sigmas = sigmas_from_rest(evidence, settled or foretold(evidence, prior.mean), prior)
        worst = int(np.argmax(sigmas))
        if sigmas[worst] <= SUSPECT:
            break
        misfits.append(Misfit(evidence.readings[worst].label, float(sigmas[worst])))
        evidence = evidence.without(worst)
        settled = settle(evidence, prior, None if settled is None else settled.theta)
    if settled is None:
        raise EvidenceError("the readings fit no paddle of this plan and wood; check their units",
                            field="readings")
    return evidence, settled, misfits


def _softened(
    evidence: Evidence, settled: Settled, prior: Prior
) -> tuple[Evidence, Settled, tuple[Misfit, ...]]:
    """Give doubtful readings less weight and settle again; clean ones are left as they are.

    The farthest first: what only seemed far because of it keeps its weight.
    """
    told: list[Misfit] = []
    sigmas = sigmas_from_rest(evidence, settled, prior) if evidence.readings else np.zeros(0)
    for i in np.argsort(-sigmas)[: int(np.sum(sigmas > DOUBTFUL))]:
        now = float(sigmas_from_rest(evidence, settled, prior)[i])
        if now > DOUBTFUL:
            told.append(Misfit(evidence.readings[i].label, now))
            evidence = evidence.softened(int(i), now)
    again = settle(evidence, prior, settled.theta) if told else settled
    return evidence, again or settled, tuple(told)
