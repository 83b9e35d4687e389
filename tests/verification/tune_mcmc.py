"""The posterior by Hamiltonian Monte Carlo (mici), to judge the estimate by.

The chain walks in units of the estimate's own covariance, in which the posterior is nearly a unit
normal, and starts at its mode. Step counts vary about a quarter of a turn, so that neither the
draws nor their squares repeat.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import mici
import numpy as np
import numpy.typing as npt

from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import Reading
from springloom.tune.model import Model
from springloom.tune.prior import Prior, prior_of
from springloom.tune.settle import Evidence

Floats = npt.NDArray[np.float64]

_STEP, _STEPS = 0.4, (3, 6)
_WARM_UP = 40


@dataclass(frozen=True)
class Agreement:
    """How far the estimate is from the reference.

    Attributes:
        means: (unknowns,) estimated less sampled mean, in sampled sd.
        modes: the same of the mode.
        sds: (unknowns,) estimated over sampled sd.
        effective: the least number of independent draws that a mean rests on.
        accepted: share of proposals.
    """

    means: Floats
    modes: Floats
    sds: Floats
    effective: float
    accepted: float


class _Posterior:
    """ln density of all unknowns in the estimate's units, written from readings and prior alone."""

    def __init__(self, evidence: Evidence, prior: Prior, known: Estimate) -> None:
        self.evidence, self.mean = evidence, prior.mean
        self.precision = np.linalg.inv(prior.covariance)
        self.errors = np.linalg.inv(evidence.noise)
        self.start, self.root = known.theta, np.linalg.cholesky(known.covariance)
        self.last: tuple[Floats, float, Floats] | None = None

    def _at(self, z: Floats) -> tuple[float, Floats]:
        if self.last is None or not np.array_equal(self.last[0], z):
            theta = self.start + self.root @ z
            values, gradients = self.evidence.foretelling.at(theta)
            off, left = theta - self.mean, self.evidence.given - values
            pull, weighed = self.precision @ off, self.errors @ left
            value = 0.5 * float(off @ pull + left @ weighed)
            slope = self.root.T @ (pull - gradients.T @ weighed)
            self.last = z.copy(), value, slope
        return self.last[1], self.last[2]

    def neg_log_dens(self, z: Floats) -> float:
        return self._at(z)[0]

    def grad_neg_log_dens(self, z: Floats) -> Floats:
        return self._at(z)[1]


def agreement(model: Model, readings: Sequence[Reading], draws: int, seed: int) -> Agreement:
    """Sample the posterior of these readings and compare the estimate with it."""
    known, prior = estimate(model.paddle, model.build, readings), prior_of(model)
    if known.misfits or known.softened:
        raise ValueError("the readings are not all taken as they are")
    posterior = _Posterior(Evidence.of(model, readings), prior, known)
    samples, accepted = _sampled(posterior, draws, seed)
    theta = known.theta + samples @ posterior.root.T
    mean, sd = theta.mean(axis=0), theta.std(axis=0)
    estimated = np.sqrt(np.diag(known.covariance))
    least = min(_effective(column) for column in samples.T)
    return Agreement((known.mean - mean) / sd, (known.theta - mean) / sd, estimated / sd, least,
                     accepted)


def _sampled(posterior: _Posterior, draws: int, seed: int) -> tuple[Floats, float]:
    system = mici.systems.EuclideanMetricSystem(
        neg_log_dens=posterior.neg_log_dens, grad_neg_log_dens=posterior.grad_neg_log_dens)
    integrator = mici.integrators.LeapfrogIntegrator(system, step_size=_STEP)
    sampler = mici.samplers.RandomMetropolisHMC(
        system, integrator, np.random.default_rng(seed), n_step_range=_STEPS)
    found = sampler.sample_chains(
        _WARM_UP, draws, [np.zeros(len(posterior.start))], adapters=[], display_progress=False,
        trace_funcs=[lambda state: {"z": state.pos.copy()}])
    return np.asarray(found.traces["z"][0]), float(np.mean(found.statistics["accept_stat"][0]))


def _effective(chain: Floats) -> float:
    """Independent draws a chain is worth: Geyer's initial positive sequence (from memory)."""
    off, n = chain - chain.mean(), len(chain)
    spectrum = np.fft.rfft(off, 2 * n)
    correlation = np.fft.irfft(spectrum * np.conj(spectrum))[:n]
    correlation /= correlation[0]
    pairs = correlation[1:-1:2] + correlation[2::2]
    negative = np.flatnonzero(pairs < 0.0)
    total = float(np.sum(pairs[: negative[0] if len(negative) else None]))
    return n / (1.0 + 2.0 * max(total, 0.0))
