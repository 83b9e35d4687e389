"""The estimate against the posterior sampled by Hamiltonian Monte Carlo (the library mici).

Ten cases with more draws are run by ``python -m benchmarks.coverage``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.verification.tune_bench import drawn, model, read
from tests.verification.tune_coverage import EVIDENCE
from tests.verification.tune_mcmc import agreement

DRAWS = 1500


@pytest.mark.parametrize("mix", ["calipers, bench, scale", "three crowns, bench, scale",
                                 "bench and scale"])
def test_means_and_spreads_are_the_posteriors(mix: str) -> None:
    random = np.random.default_rng(2)
    truth = drawn(model(), random)
    found = agreement(model(), read(model(), truth, EVIDENCE[mix](model().paddle), random),
                      DRAWS, seed=1)
    assert found.accepted > 0.7
    assert found.effective > 0.25 * DRAWS
    # A sampled mean errs by 1/√n sd, a sampled sd by 1/√2n of it; 53 stay below 3.5 of those.
    noise = 3.5 / math.sqrt(found.effective)
    assert np.max(np.abs(found.means)) < 0.1 + noise, np.abs(found.means)
    assert np.max(np.abs(found.sds - 1.0)) < 0.1 + noise / math.sqrt(2.0), found.sds
    # on the whole there is no room for chance: 53 unknowns, hardly related
    assert np.sqrt(np.mean(found.means**2)) < 0.06
    assert np.mean(found.sds) == pytest.approx(1.0, abs=0.03)


def test_the_modes_skewness_is_told() -> None:
    """Mean and mode of the stiffness differ by more than chance, and the estimate knows it."""
    random = np.random.default_rng(2)
    truth = drawn(model(), random)
    readings = read(model(), truth, EVIDENCE["bench and scale"](model().paddle), random)
    found = agreement(model(), readings, DRAWS, seed=4)
    assert np.sum(found.means**2) < np.sum(found.modes**2)
