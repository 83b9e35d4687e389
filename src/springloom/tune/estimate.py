"""One joint estimate of stiffness, density, thickness and clamp from all readings.

Gauss–Newton on the sum of squared, standardised misfits of readings and prior; the
curvature at its end gives the covariance (Laplace). Both blades share the board: their ln E differ
by :data:`WITHIN_BOARD` only. What one reading's error has in common with another's (the weight
hung, wood left on all over, the bench's clamp) is kept as such.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from springloom.errors import EvidenceError, in_range
from springloom.mechanics.setups import Clamped
from springloom.mechanics.stiffness import Build, spread_of
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import (
    SIDES,
    BenchReading,
    Reading,
    Side,
    ThicknessReading,
    WeightReading,
)
from springloom.tune.model import Model
from springloom.wood.layup import Layup
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]

WITHIN_BOARD = 0.04
"""Standard deviation of ln E between two ends of one board (common practice, no source)."""

STATION_SD = 0.0008
"""How far one crown or edge may be from the plan, beside its blade, before it is measured, m."""

PROUD_SD = 0.0015
"""How much a whole blade's crowns may be proud of the plan (or short), its edges half of it, m.
Both are common practice, no source."""

CLAMP_SD, CLAMP_COMMON = 4e-5, 0.7
"""Turning of a bench clamp per moment, rad/(N·m): about 1 mm at the tip; and how much of that
variance both blades have in common on one bench (common practice, no source)."""

NORMAL_90 = 1.6448536269514722
SUSPECT = 4.0
"""A reading this many standard deviations from the rest is named."""

_ROUNDS = 30
_SETTLED = 1e-6  # of an unknown's prior sd


class Prior(NamedTuple):
    """What is believed of the unknowns before any reading: mean (n,) and covariance (n, n)."""

    mean: Floats
    covariance: Floats


@dataclass(frozen=True, slots=True)
class Known:
    """One unknown before and after: median, and the bounds of its 90 % interval."""

    name: str
    before: float
    before_sd: float
    value: float
    sd: float
    low: float
    high: float


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
    """

    model: Model
    theta: Floats
    covariance: Floats
    prior: Floats
    prior_sd: Floats
    misfits: tuple[Misfit, ...]
    readings: tuple[Reading, ...]

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

    def _stations(self, side: Side, where: slice, kind: str) -> tuple[Known, ...]:
        stations = self.model.bench(side).half.stations
        return tuple(
            self._plain(f"{kind} at {station.name}", where.start + i)
            for i, station in enumerate(stations)
        )

    def _plain(self, name: str, i: int) -> Known:
        value, sd = float(self.theta[i]), math.sqrt(self.covariance[i, i])
        return Known(name, float(self.prior[i]), float(self.prior_sd[i]), value, sd,
                     value - NORMAL_90 * sd, value + NORMAL_90 * sd)

    def _log(self, name: str, i: int, unit: float) -> Known:
        value, sd = unit * math.exp(self.theta[i]), math.sqrt(self.covariance[i, i])
        spread = math.exp(NORMAL_90 * sd)
        before = unit * math.exp(self.prior[i])
        return Known(name, before, before * float(self.prior_sd[i]), value, value * sd,
                     value / spread, value * spread)


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
    mean, spread = prior or prior_of(model)
    evidence, misfits = _Evidence.of(model, readings), []
    while True:
        settled = _settled(model, evidence, mean, spread)
        # without rest the plan is the best place to judge from
        judged = settled or _foretold(model, evidence, mean)
        worst, sigmas = _farthest(evidence, judged, mean, spread)
        if sigmas <= SUSPECT:
            break
        misfits.append(Misfit(evidence.readings[worst].label, sigmas))
        evidence = evidence.without(worst)
    if settled is None:
        raise EvidenceError("the readings fit no paddle of this plan and wood; check their units",
                            field="readings")
    covariance = _posterior(spread, evidence.whiten @ settled.gradients)
    misfits += _strange_wood(settled.theta - mean, spread, covariance)
    return Estimate(model, settled.theta, covariance, mean, np.sqrt(np.diag(spread)),
                    tuple(misfits), evidence.readings)


def prior_of(model: Model) -> Prior:
    """What the plan and the wood say before any reading."""
    at = model.layout
    sd_e, sd_density = spread_of(model.build)
    variance = np.full(at.size, STATION_SD**2)
    variance[:2] = WITHIN_BOARD**2
    variance[at.ln_density] = sd_density**2
    clamps = slice(at.clamp("a"), at.clamp("b") + 1)
    variance[clamps] = (1.0 - CLAMP_COMMON) * CLAMP_SD**2
    covariance = np.diag(variance)
    covariance[:2, :2] += sd_e**2
    covariance[clamps, clamps] += CLAMP_COMMON * CLAMP_SD**2
    for side in SIDES:
        proud = np.zeros(at.size)
        proud[at.crowns(side)], proud[at.edges(side)] = PROUD_SD, 0.5 * PROUD_SD
        covariance += np.outer(proud, proud)
    return Prior(model.start(), covariance)


@dataclass(frozen=True, slots=True)
class _Evidence:
    """Readings as numbers (n,), their errors' covariance, and what makes those errors unit."""

    readings: tuple[Reading, ...]
    given: Floats
    noise: Floats
    whiten: Floats

    @classmethod
    def of(cls, model: Model, readings: Sequence[Reading]) -> _Evidence:
        for reading in readings:
            _check_place(model, reading)
        given = np.array([_given(model, reading) for reading in readings])
        return cls._from(tuple(readings), given, _noise(readings))

    @classmethod
    def _from(cls, readings: tuple[Reading, ...], given: Floats, noise: Floats) -> _Evidence:
        return cls(readings, given, noise, np.linalg.inv(np.linalg.cholesky(noise)))

    def without(self, i: int) -> _Evidence:
        """All but one reading."""
        left = np.delete(np.arange(len(self.given)), i)
        return self._from(tuple(self.readings[j] for j in left), self.given[left],
                          self.noise[np.ix_(left, left)])


@dataclass(frozen=True, slots=True)
class _Settled:
    """Unknowns, the readings they foretell (n,) and those readings' gradients (n, unknowns)."""

    theta: Floats
    predicted: Floats
    gradients: Floats


def _check_place(model: Model, reading: Reading) -> None:
    """Refuse a reading that lies beyond its blade."""
    if isinstance(reading, WeightReading):
        return
    half = model.bench(reading.side).half
    last = half.tip + 1e-6  # a tenth of a hair: rounding of what was typed
    if isinstance(reading, BenchReading):
        in_range(reading.clamp_x, f"{reading.label}, clamp", 0.0, half.cap[0], "m from centre")
        in_range(reading.load_x, f"{reading.label}, hung_at", 0.0, last, "m from centre")
        in_range(reading.read_x, f"{reading.label}, read_at", 0.0, last, "m from centre")
    else:  # in the rounded tip the edge is no caliper's
        end = last if reading.kind == "crown" else half.cap[0] + 1e-6
        in_range(reading.x, reading.label, 0.0, end, "m from centre")


def _given(model: Model, reading: Reading) -> float:
    if isinstance(reading, BenchReading):
        return model.straightened(reading)
    return reading.thickness if isinstance(reading, ThicknessReading) else reading.mass


def _noise(readings: Sequence[Reading]) -> Floats:
    """Covariance of the readings' errors; a weight's own is shared by all it was hung for."""
    own = [r.total_sd if isinstance(r, WeightReading) else r.sd for r in readings]
    noise = np.diag(np.square(own))
    bench = [(i, r) for i, r in enumerate(readings) if isinstance(r, BenchReading)]
    for load in {reading.load for _, reading in bench}:
        shared = np.zeros(len(readings))
        for i, reading in bench:
            if reading.load == load:
                shared[i] = reading.load_sd_share * reading.deflection
        noise += np.outer(shared, shared)
    return noise


def _settled(
    model: Model, evidence: _Evidence, mean: Floats, spread: Floats
) -> _Settled | None:
    """Gauss–Newton from the prior's mean; None if it finds no rest."""
    precision, scale, theta = np.linalg.inv(spread), np.sqrt(np.diag(spread)), mean
    for _ in range(_ROUNDS):
        now = _foretold(model, evidence, theta)
        jacobian = evidence.whiten @ now.gradients
        pull = jacobian.T @ (evidence.whiten @ (evidence.given - now.predicted))
        downhill = pull - precision @ (theta - mean)
        step = np.linalg.solve(precision + jacobian.T @ jacobian, downhill)
        if np.max(np.abs(step) / scale) < _SETTLED:
            return now
        theta = _moved(theta, step)
    return None


def _foretold(model: Model, evidence: _Evidence, theta: Floats) -> _Settled:
    values = np.zeros(len(evidence.readings))
    gradients = np.zeros((len(values), len(theta)))
    for i, reading in enumerate(evidence.readings):
        values[i], gradients[i] = model.predict(reading, theta)
    return _Settled(theta, values, gradients)


def _posterior(spread: Floats, jacobian: Floats) -> Floats:
    precision = np.linalg.inv(spread) + jacobian.T @ jacobian
    return np.asarray(np.linalg.inv(precision), dtype=np.float64)


def _moved(theta: Floats, step: npt.NDArray[np.floating]) -> Floats:
    """Take the step, shortened if it would leave what a blade can be: no crown halved."""
    share = min(1.0, 1.0 / max(1e-12, float(np.max(np.abs(step[:3])))))
    thinner = -step[5:] / theta[5:]
    share = min(share, 0.5 / max(1e-12, float(np.max(thinner))))
    return np.asarray(theta + share * step)


def _farthest(
    evidence: _Evidence, at: _Settled, mean: Floats, spread: Floats
) -> tuple[int, float]:
    """Which reading is farthest from what all others and the prior foretell, and by how many sd.

    With S the covariance of the readings before they were taken and e their distance from the
    prior's forecast, leaving reading i out is e'ᵢ = (S⁻¹e)ᵢ/(S⁻¹)ᵢᵢ with variance 1/(S⁻¹)ᵢᵢ
    (Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, eq. 5.12; from memory).
    """
    if not evidence.readings:
        return 0, 0.0
    off = evidence.given - at.predicted - at.gradients @ (mean - at.theta)
    precision = np.linalg.inv(at.gradients @ spread @ at.gradients.T + evidence.noise)
    sigmas = np.abs(precision @ off) / np.sqrt(np.diag(precision))
    worst = int(np.argmax(sigmas))
    return worst, float(sigmas[worst])


def _strange_wood(moved: Floats, spread: Floats, covariance: Floats) -> list[Misfit]:
    """Blades whose readings agree, but on another stiffness than the wood's: a mistyped load."""
    found = []
    for i, side in enumerate(SIDES):
        learnt = spread[i, i] - covariance[i, i]  # variance of the shift, had the prior held
        sigmas = abs(float(moved[i])) / math.sqrt(max(learnt, 1e-12))
        if sigmas > SUSPECT:
            found.append(Misfit(f"stiffness of blade {side.upper()}", sigmas))
    return found
