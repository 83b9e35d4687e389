"""Whether the readings would rather be of another wood, and which.

What the readings alone say of stiffness and density is set against every known wood's own spread:
the evidence of "some other wood" is the mean of theirs, each as likely as the next.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp

from springloom.mechanics.stiffness import Build
from springloom.tune.prior import WITHIN_BOARD, Prior
from springloom.tune.settle import Evidence, posterior, settle
from springloom.wood.material import Material, species_material
from springloom.wood.species import all_species

Floats = npt.NDArray[np.float64]

OTHER_LAYUP_SD_LN = 0.4
"""How far a layup's stiffness may be off if it is not what it is said to be (no source)."""

_OPEN = 9.0  # variance that leaves ln E and ln density to the readings
_OFFERED = 3
_AS_GOOD = math.log(10.0)  # in ln: a wood this much worse than the best is not offered


@dataclass(frozen=True, slots=True)
class OtherWood:
    """How much better other woods fit, in ln; the best, and ln E as the readings alone have it."""

    gain: float
    names: tuple[str, ...]
    ln_e: float


@dataclass(frozen=True, slots=True)
class _Said:
    """What readings alone say of ln E of both blades and ln density: exp(η·x − x·Λx/2)."""

    precision: Floats
    pull: Floats

    def ln_evidence(self, mean: Floats, covariance: Floats) -> float:
        """ln ∫ of it over a normal distribution, but for what all distributions share."""
        held = np.linalg.inv(covariance)
        both, pull = held + self.precision, held @ mean + self.pull
        spread = np.linalg.slogdet(held)[1] - np.linalg.slogdet(both)[1]
        met = pull @ np.linalg.solve(both, pull) - mean @ held @ mean
        return 0.5 * float(spread + met)


def other_wood(
    build: Build, everything: Evidence, prior: Prior, stated_as: Prior, start: Floats
) -> OtherWood | None:
    """Compare the stated wood with all others; None if nothing settles.

    Args:
        build: the stated wood.
        everything: all readings.
        prior: what is believed of the rest, the wood left open.
        stated_as: what was believed of the stated wood before any reading.
        start: unknowns to settle from.
    """
    open_prior = prior.covariance.copy()
    open_prior[:3, :3] += _OPEN * np.eye(3)
    settled = settle(everything, Prior(prior.mean, open_prior), start)
    if settled is None:
        return None
    held = np.linalg.inv(open_prior[:3, :3])
    told = np.linalg.inv(posterior(everything, settled, Prior(prior.mean, open_prior))[:3, :3])
    said = _Said(told - held, told @ settled.theta[:3] - held @ prior.mean[:3])
    mean, spread = stated_as.mean[:3], stated_as.covariance[:3, :3]
    stated = said.ln_evidence(mean, spread)
    ln_e = float(np.mean(settled.theta[:2]))
    if not isinstance(build, Material):
        wider = spread.copy()
        wider[:2, :2] += OTHER_LAYUP_SD_LN**2
        return OtherWood(said.ln_evidence(mean, wider) - stated, (), ln_e)
    others = [wood for wood in _woods() if wood.name != build.name]
    fits = [said.ln_evidence(*_spread(wood, build)) for wood in others]
    gain = float(logsumexp(fits)) - math.log(len(fits)) - stated
    return OtherWood(gain, _best([wood.name for wood in others], fits), ln_e)


def _best(names: Sequence[str], fits: Sequence[float]) -> tuple[str, ...]:
    """The few that fit best, each name once."""
    order = np.argsort(fits)[::-1]
    good = [names[i] for i in order if fits[i] > fits[order[0]] - _AS_GOOD]
    return tuple(dict.fromkeys(good))[:_OFFERED]


def _spread(wood: Material, stated: Material) -> tuple[Floats, Floats]:
    """Mean and covariance of ln E of both blades and ln density, over the stated wood's."""
    ln_e = math.log(wood.e_pa / stated.e_pa)
    mean = np.array([ln_e, ln_e, math.log(wood.density_kg_m3 / stated.density_kg_m3)])
    covariance = np.diag([WITHIN_BOARD**2, WITHIN_BOARD**2, wood.sd_ln_density**2])
    covariance[:2, :2] += wood.sd_ln_e**2
    return mean, covariance


@functools.cache
def _woods() -> tuple[Material, ...]:
    return tuple(species_material(wood.id, wood.origin) for wood in all_species())
