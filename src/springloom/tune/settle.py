"""Gauss–Newton on readings and prior, and how far each reading is from all the rest.

The sum of squared, standardised misfits of readings and prior is brought to its least; the
curvature there gives the covariance (Laplace). A reading that contradicts the rest is left out
or, where it is only doubtful, given less weight; readings that agree are taken exactly as they are.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.errors import ShapeError, in_range
from springloom.tune.evidence import (
    BalanceReading,
    BenchReading,
    HandsReading,
    LengthReading,
    Reading,
    TapReading,
    ThicknessReading,
    WeightReading,
)
from springloom.tune.model import Foretelling, Model
from springloom.tune.prior import Prior

Floats = npt.NDArray[np.float64]

SUSPECT = 4.0
"""A reading this many standard deviations from the rest is named and left out."""

DOUBTFUL = 3.0
"""From here to :data:`SUSPECT` a reading counts for less and less."""

_ROUNDS = 30
_SETTLED = 1e-6  # of an unknown's prior sd
_NEARBY = 1e-3  # of a posterior axis, for a difference of exact gradients


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings as numbers (m,), their errors' covariance, and what makes those errors unit.

    ``kept`` (m,) is the weight that each reading has left, 1 for all that are not doubtful.
    """

    readings: tuple[Reading, ...]
    foretelling: Foretelling
    given: Floats
    noise: Floats
    whiten: Floats
    kept: Floats

    @classmethod
    def of(cls, model: Model, readings: Sequence[Reading]) -> Evidence:
        """Check the readings' places and take their numbers.

        Raises:
            RangeError: a reading lies beyond its blade.
            EvidenceError: no blade bends so far.
        """
        for reading in readings:
            check_place(model, reading)
        given = np.array([_given(model, reading) for reading in readings])
        return cls._from(model, tuple(readings), given, noise_of(readings), np.ones(len(given)))

    @classmethod
    def _from(cls, model: Model, readings: tuple[Reading, ...], given: Floats, noise: Floats,
              kept: Floats) -> Evidence:
        whiten = np.linalg.inv(np.linalg.cholesky(noise))
        return cls(readings, model.foretelling(readings), given, noise, whiten, kept)

    def without(self, i: int) -> Evidence:
        """All but one reading."""
        left = np.delete(np.arange(len(self.given)), i)
        readings = tuple(self.readings[j] for j in left)
        return self._from(self.foretelling.model, readings, self.given[left],
                          self.noise[np.ix_(left, left)], self.kept[left])

    def softened(self, i: int, sigmas: float) -> Evidence:
        """One doubtful reading with less weight: its own variance over what is left of it."""
        kept, noise = self.kept.copy(), self.noise.copy()
        kept[i] = weight_left(sigmas)
        noise[i, i] += self.readings[i].own_sd ** 2 * (1.0 / kept[i] - 1.0)
        return self._from(self.foretelling.model, self.readings, self.given, noise, kept)


def weight_left(sigmas: float) -> float:
    """Weight that a reading this far from the rest has left, 1 up to :data:`DOUBTFUL`."""
    return min(max(SUSPECT - sigmas, 0.05), 1.0) ** 2


@dataclass(frozen=True, slots=True)
class Settled:
    """Unknowns, the readings they foretell (m,) and those readings' gradients (m, unknowns)."""

    theta: Floats
    predicted: Floats
    gradients: Floats


def check_place(model: Model, reading: Reading) -> None:
    """Refuse a reading that lies beyond its blade.

    Raises:
        RangeError: names the reading and what it may be.
    """
    if isinstance(reading, WeightReading | BalanceReading | LengthReading):
        return
    half = model.bench(reading.side or "a").half
    last = half.tip + 1e-6  # a tenth of a hair: rounding of what was typed
    if isinstance(reading, BenchReading | TapReading):
        in_range(reading.clamp_x, f"{reading.label}, clamp", 0.0, half.cap[0], "m from centre")
    if isinstance(reading, HandsReading):
        most = min(model.bench("a").half.loom.root, model.bench("b").half.loom.root)
        in_range(reading.half_span, f"{reading.label}, half_span", 0.05, most, "m from centre")
    if isinstance(reading, BenchReading | HandsReading):
        in_range(reading.load_x, f"{reading.label}, hung_at", 0.0, last, "m from centre")
        in_range(reading.read_x, f"{reading.label}, read_at", 0.0, last, "m from centre")
    elif not isinstance(reading, TapReading):  # in the rounded tip only the crown is a caliper's
        crown = isinstance(reading, ThicknessReading) and reading.kind == "crown"
        in_range(reading.x, reading.label, 0.0, last if crown else half.cap[0] + 1e-6,
                 "m from centre")
        if isinstance(reading, ThicknessReading):
            wide = float(half.values(half.parameter(min(reading.x, half.cap[0])))[0])
            in_range(reading.inset, f"{reading.label}, inset", 0.0, wide, "m")


def _given(model: Model, reading: Reading) -> float:
    return model.straightened(reading) if isinstance(reading, BenchReading) else reading.value


def noise_of(readings: Sequence[Reading]) -> Floats:
    """Covariance (m, m) of the readings' errors, with what they share."""
    noise = np.diag([reading.own_sd**2 for reading in readings])
    shared: dict[tuple[str, float], Floats] = {}
    for i, reading in enumerate(readings):
        for source, sd in reading.shared:
            shared.setdefault(source, np.zeros(len(readings)))[i] = sd
    for amounts in shared.values():
        noise += np.outer(amounts, amounts)
    return noise.reshape(len(readings), len(readings))


def settle(evidence: Evidence, prior: Prior, start: Floats | None = None) -> Settled | None:
    """Gauss–Newton from the prior's mean, or another start; None if it finds no rest."""
    mean, spread = prior
    precision, scale = np.linalg.inv(spread), np.sqrt(np.diag(spread))
    sizes = evidence.foretelling.model.layout.sizes()
    theta = mean if start is None else start
    for _ in range(_ROUNDS):
        try:
            now = foretold(evidence, theta)
        except ShapeError:  # readings drove it to what is no blade
            return None
        jacobian = evidence.whiten @ now.gradients
        pull = jacobian.T @ (evidence.whiten @ (evidence.given - now.predicted))
        downhill = pull - precision @ (theta - mean)
        step = np.linalg.solve(precision + jacobian.T @ jacobian, downhill)
        if np.max(np.abs(step) / scale) < _SETTLED:
            return now
        theta = _moved(theta, step, sizes)
    return None


def foretold(evidence: Evidence, theta: Floats) -> Settled:
    """What these unknowns foretell."""
    return Settled(theta, *evidence.foretelling.at(theta))


def posterior(evidence: Evidence, at: Settled, prior: Prior) -> Floats:
    """Covariance of the unknowns after the readings."""
    jacobian = evidence.whiten @ at.gradients
    precision = np.linalg.inv(prior.covariance) + jacobian.T @ jacobian
    return np.asarray(np.linalg.inv(precision), dtype=np.float64)


def mean_shift(evidence: Evidence, at: Settled, covariance: Floats) -> Floats:
    """How far the posterior's mean lies from its mode, to second order (unknowns,).

    −Σ/2 (Σₘ Jₘ tr(HₘΣ) + 2 HₘΣJₘ), J and H the readings' whitened gradients and second derivatives
    (Tierney & Kadane, J. Am. Stat. Assoc. 81, 1986, give the expansion; from memory). H is
    differenced from the exact gradients along Σ's own axes.
    """
    scale = np.sqrt(np.diag(covariance))
    sizes, axes = np.linalg.eigh(covariance / np.outer(scale, scale))
    axes = scale[:, None] * axes * np.sqrt(np.maximum(sizes, 0.0))
    jacobian, pull = evidence.whiten @ at.gradients, np.zeros_like(at.theta)
    for axis in axes.T:
        nearby = evidence.foretelling.at(at.theta + _NEARBY * axis)[1]
        bent = evidence.whiten @ (nearby - at.gradients) / _NEARBY
        pull += 0.5 * jacobian.T @ (bent @ axis) + bent.T @ (jacobian @ axis)
    return np.asarray(-covariance @ pull)


def _moved(
    theta: Floats, step: npt.NDArray[np.floating], sizes: npt.NDArray[np.intp]
) -> Floats:
    """Take the step, shortened if it would leave what a blade can be: nothing halved."""
    share = min(1.0, 1.0 / max(1e-12, float(np.max(np.abs(step[:3])))))
    thinner = -step[sizes] / theta[sizes]
    share = min(share, 0.5 / max(1e-12, float(np.max(thinner))))
    return np.asarray(theta + share * step)


def surprise(evidence: Evidence, at: Settled, prior: Prior) -> tuple[Floats, Floats]:
    """How far readings are from what the prior foretells (m,), linearised, and its covariance."""
    off = evidence.given - at.predicted - at.gradients @ (prior.mean - at.theta)
    return off, at.gradients @ prior.covariance @ at.gradients.T + evidence.noise


def sigmas_from_rest(evidence: Evidence, at: Settled, prior: Prior) -> Floats:
    """How many sd each reading is from what all others and the prior foretell, (m,).

    With S the covariance of the readings before they were taken and e their distance from the
    prior's forecast, leaving reading i out is e'ᵢ = (S⁻¹e)ᵢ/(S⁻¹)ᵢᵢ with variance 1/(S⁻¹)ᵢᵢ
    (Rasmussen & Williams, Gaussian Processes for Machine Learning, 2006, eq. 5.12; from memory).
    """
    off, covariance = surprise(evidence, at, prior)
    precision = np.linalg.inv(covariance)
    return np.abs(precision @ off) / np.sqrt(np.diag(precision))


def ln_evidence(evidence: Evidence, at: Settled, prior: Prior) -> float:
    """ln of how probable the readings were before they were taken (Laplace), but for a constant."""
    off, covariance = surprise(evidence, at, prior)
    root = np.linalg.cholesky(covariance)
    scaled = np.linalg.solve(root, off)
    return float(-0.5 * scaled @ scaled - np.sum(np.log(np.diag(root))))


def strangeness(moved: float, before: float, after: float) -> float:
    """By how many sd an unknown was moved, given its variance before and after.

    Had the prior held, the shift would have the variance that the readings took away.
    """
    return abs(moved) / math.sqrt(max(before - after, 1e-12 * before))
