"""One positive, uncertain number: a lognormal, which is what stiffness and strength follow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from springloom.errors import in_range

_STANDARD = NormalDist()


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A number whose logarithm is normal: ``median`` in its own unit, ``sd_ln`` of the logarithm.

    Raises:
        RangeError: a median that is not positive or a negative spread.
    """

    median: float
    sd_ln: float

    def __post_init__(self) -> None:
        """Check both numbers."""
        in_range(self.median, "median", 0.0, open_low=True)
        in_range(self.sd_ln, "sd_ln", 0.0)

    @classmethod
    def from_mean(cls, mean: float, cov: float) -> LogNormal:
        """Return the lognormal of a mean and a coefficient of variation (a fraction).

        sigma^2 = ln(1 + cov^2), mu = ln(mean) - sigma^2 / 2: the mean is kept, so the median lies
        a little below it.
        """
        sd_ln = sd_ln_from_cov(cov)
        return cls(in_range(mean, "mean", 0.0, open_low=True) * math.exp(-0.5 * sd_ln**2), sd_ln)

    @property
    def mean(self) -> float:
        """The mean, above the median."""
        return self.median * math.exp(0.5 * self.sd_ln**2)

    @property
    def cov(self) -> float:
        """The coefficient of variation, a fraction."""
        return math.sqrt(math.expm1(self.sd_ln**2))

    @property
    def sd(self) -> float:
        """The standard deviation, in the number's own unit."""
        return self.mean * self.cov

    def quantile(self, probability: float) -> float:
        """Return the value that the number stays below with this probability.

        Raises:
            RangeError: a probability outside 1e-9 to 1 - 1e-9.
        """
        in_range(probability, "probability", 1e-9, 1.0 - 1e-9)
        return self.median * math.exp(self.sd_ln * _STANDARD.inv_cdf(probability))

    def interval(self, probability: float = 0.9) -> tuple[float, float]:
        """Return the central interval that holds the number with this probability."""
        tail = 0.5 * (1.0 - probability)
        return self.quantile(tail), self.quantile(1.0 - tail)

    def z(self, value: float) -> float:
        """Return how many standard deviations (of the logarithm) a value lies above the median.

        Raises:
            RangeError: a value that is not positive.
        """
        in_range(value, "value", 0.0, open_low=True)
        if self.sd_ln == 0.0:
            return 0.0 if value == self.median else math.copysign(math.inf, value - self.median)
        return math.log(value / self.median) / self.sd_ln


def sd_ln_from_cov(cov: float) -> float:
    """Return the standard deviation of the logarithm: sqrt(ln(1 + cov^2)).

    Raises:
        RangeError: a coefficient of variation outside 0 to 2.
    """
    in_range(cov, "cov", 0.0, 2.0)
    return math.sqrt(math.log1p(cov**2))
