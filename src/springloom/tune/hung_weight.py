"""The weight that is hung in every round, whose error must not average out as if new each time.

A paddle bent by a weight 1 % too heavy looks 1 % too soft, in every round alike. So the estimate
is made of the stiffness *as that weight shows it*, ln E − w, for which its readings have no such
error, and w is put back when the estimate is handed out. That is exact for one weight; a second
weight's error counts as new in each round.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.tune.estimate import Estimate, Prior
from springloom.tune.evidence import SIDES, BenchReading, Reading
from springloom.tune.model import Model

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Weight:
    """The weight that is hung in every round, and how its error shows in ln E.

    Attributes:
        load_n: what it is marked with.
        share: standard deviation of its error, as a share.
        centre: (2,) ln E of both blades as believed when it was first hung.
        pull: (2,) the error's expectation is ``pull @ (ln E as it shows − centre)``.
        left: the error's variance that the stiffness as it shows leaves.
    """

    load_n: float
    share: float
    centre: Floats
    pull: Floats
    left: float

    @classmethod
    def first_hung(cls, reading: BenchReading, model: Model, believed: Prior) -> Weight:
        """From what is believed of ln E before the first bench reading."""
        at = [model.layout.ln_e(side) for side in SIDES]
        variance = reading.load_sd_share**2
        shown = believed.covariance[np.ix_(at, at)] + variance
        pull = -np.linalg.solve(shown, np.full(2, variance))
        return cls(reading.load, reading.load_sd_share, believed.mean[at], pull,
                   variance * (1.0 + float(np.sum(pull))))

    def shown(self, model: Model, believed: Prior) -> Prior:
        """From belief about the wood to belief about the wood as this weight shows it."""
        across = self._across(model)
        return Prior(believed.mean, believed.covariance + self.share**2 * np.outer(across, across))

    def real(self, known: Estimate) -> Estimate:
        """And back again."""
        model, across = known.model, self._across(known.model)
        at = [model.layout.ln_e(side) for side in SIDES]
        pull = np.zeros(model.layout.size)
        pull[at] = self.pull
        carry = np.eye(len(pull)) + np.outer(across, pull)
        theta, prior = (values + across * float(self.pull @ (values[at] - self.centre))
                        for values in (known.theta, known.prior))
        covariance = carry @ known.covariance @ carry.T + self.left * np.outer(across, across)
        readings = tuple(self._with(reading, self.share) for reading in known.readings)
        taken = None if known.taken is None else known.taken.carried(carry)
        return replace(known, theta=theta, covariance=covariance, prior=prior, readings=readings,
                       taken=taken)

    def without(self, reading: Reading) -> Reading:
        """The reading without this weight's error."""
        return self._with(reading, 0.0)

    def _with(self, reading: Reading, share: float) -> Reading:
        if isinstance(reading, BenchReading) and reading.load == self.load_n:
            return replace(reading, load_sd_share=share)
        return reading

    def _across(self, model: Model) -> Floats:
        across = np.zeros(model.layout.size)
        across[[model.layout.ln_e(side) for side in SIDES]] = 1.0
        return across
