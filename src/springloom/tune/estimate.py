"""One joint estimate of stiffness, density, thickness and clamp from all readings.

Gauss–Newton on the sum of squared, standardised misfits of readings and prior; the
curvature at its end gives the covariance (Laplace). Both blades share the board: their ln E differ
by :data:`WITHIN_BOARD` only.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.errors import EvidenceError
from springloom.mechanics.setups import Clamped
from springloom.mechanics.stiffness import Build, spread_of
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import SIDES, BenchReading, Reading, Side
from springloom.tune.model import Model
from springloom.wood.layup import Layup
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]

WITHIN_BOARD = 0.04
"""Standard deviation of ln E between two ends of one board (common practice, no source)."""

CROWN_SD = 0.0010
EDGE_SD = 0.0010
"""How far a carved blade may be from its plan before it is measured, m (common practice)."""

CLAMP_SD = 4e-5
"""Turning of a bench clamp per moment, rad/(N·m): about 1 mm at the tip (common practice)."""

NORMAL_90 = 1.6448536269514722
SUSPECT = 4.0
"""A reading this many standard deviations from the rest is named."""

_ROUNDS = 30


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
    """A reading that does not fit the rest: its label and by how many sd."""

    label: str
    sigmas: float


@dataclass(frozen=True)
class Estimate:
    """What the readings say.

    Attributes:
        model: plan and build.
        theta, covariance: posterior of the unknowns, see :mod:`springloom.tune.model`.
        prior, prior_sd: what was believed before.
        misfits: readings more than :data:`SUSPECT` sd from the rest.
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


def estimate(paddle: Paddle, build: Build, readings: Sequence[Reading]) -> Estimate:
    """Estimate everything from the plan, the wood and the readings.

    Raises:
        EvidenceError: no estimate settles (readings that no such paddle could give).
    """
    model = Model(paddle, build)
    prior, prior_covariance = prior_of(model)
    precision = np.linalg.inv(prior_covariance)
    theta = prior.copy()
    for _ in range(_ROUNDS):
        residual, jacobian = _misfits(model, readings, theta)
        hessian = precision + jacobian.T @ jacobian
        downhill = jacobian.T @ residual - precision @ (theta - prior)
        step = np.asarray(np.linalg.solve(hessian, downhill), dtype=np.float64)
        theta = _moved(theta, step)
        if np.max(np.abs(step) / np.sqrt(np.diag(prior_covariance))) < 1e-8:
            break
    else:
        raise EvidenceError("the readings fit no paddle of this plan and wood; check their units",
                            field="readings")
    residual, jacobian = _misfits(model, readings, theta)
    covariance = np.asarray(np.linalg.inv(precision + jacobian.T @ jacobian), dtype=np.float64)
    suspects = _suspects(readings, residual, jacobian, covariance)
    return Estimate(model, theta, covariance, prior, np.sqrt(np.diag(prior_covariance)),
                    suspects, tuple(readings))


def prior_of(model: Model) -> tuple[Floats, Floats]:
    """Mean and covariance of the unknowns before any reading."""
    at = model.layout
    mean = model.start()
    variance = np.zeros(at.size)
    sd_e, sd_density = spread_of(model.build)
    variance[:2] = sd_e**2 + WITHIN_BOARD**2
    variance[at.ln_density] = sd_density**2
    for side in SIDES:
        variance[at.clamp(side)] = CLAMP_SD**2
        variance[at.crowns(side)] = CROWN_SD**2
        variance[at.edges(side)] = EDGE_SD**2
    covariance = np.diag(variance)
    covariance[0, 1] = covariance[1, 0] = sd_e**2
    return mean, covariance


def _misfits(
    model: Model, readings: Sequence[Reading], theta: Floats
) -> tuple[Floats, Floats]:
    """Standardised residuals (n,) and the predictions' standardised gradients (n, unknowns)."""
    residual = np.zeros(len(readings))
    jacobian = np.zeros((len(readings), len(theta)))
    for i, reading in enumerate(readings):
        value, gradient = model.predict(reading, theta)
        given, sd = _given(reading)
        residual[i] = (given - value) / sd
        jacobian[i] = gradient / sd
    return residual, jacobian


def _given(reading: Reading) -> tuple[float, float]:
    if isinstance(reading, BenchReading):
        return reading.deflection, reading.total_sd
    if hasattr(reading, "thickness"):
        return reading.thickness, reading.sd
    return reading.mass, reading.sd


def _moved(theta: Floats, step: Floats) -> Floats:
    """Take the step, shortened if it would leave what a blade can be."""
    share = min(1.0, 1.0 / max(1e-12, float(np.max(np.abs(step[:3])))))
    thinner = -step[5:] / theta[5:]
    share = min(share, 0.5 / max(1e-12, float(np.max(thinner))))
    return np.asarray(theta + share * step)


def _suspects(
    readings: Sequence[Reading], residual: Floats, jacobian: Floats, covariance: Floats
) -> tuple[Misfit, ...]:
    """Readings far from what the rest and the prior foretell (standardised by leverage)."""
    found = []
    for i, reading in enumerate(readings):
        left = max(1e-9, 1.0 - float(jacobian[i] @ covariance @ jacobian[i]))
        sigmas = abs(float(residual[i])) / math.sqrt(left)
        if sigmas > SUSPECT:
            found.append(Misfit(reading.label, sigmas))
    return tuple(sorted(found, key=lambda m: -m.sigmas))
