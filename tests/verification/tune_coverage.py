"""Hidden truths drawn from the prior and read as makers read: how often intervals hold them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Target
from springloom.shape.paddle import Paddle
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import SIDES, BenchReading, Reading, ThicknessReading, WeightReading
from springloom.tune.layout import Layout
from tests.verification.tune_bench import (
    Floats,
    drawn,
    every_kind,
    everywhere,
    model,
    read,
    true_sink,
)

TARGET = Target(0.037)


def _bent(paddle: Paddle) -> list[Reading]:
    return [r for r in everywhere(paddle) if isinstance(r, BenchReading | WeightReading)]


def _few(paddle: Paddle) -> list[Reading]:
    kept = {"1/4", "1/2", "3/4"}
    return [r for r in everywhere(paddle) if not isinstance(r, ThicknessReading)
            or (r.kind == "crown" and r.name in kept)]


EVIDENCE: dict[str, Callable[[Paddle], list[Reading]]] = {
    "calipers, bench, scale": everywhere,
    "every kind of reading": every_kind,
    "three crowns, bench, scale": _few,
    "bench and scale": _bent,
}
"""Mixes of readings, from much to little."""


def unknowns(layout: Layout) -> dict[str, npt.NDArray[np.intp]]:
    """Which unknowns are of a kind."""
    def both(part: Callable[[str], slice]) -> npt.NDArray[np.intp]:
        return np.concatenate([np.arange(layout.size)[part(side)] for side in SIDES])

    return {
        "E": np.array([layout.ln_e(side) for side in SIDES]),
        "density": np.array([layout.ln_density]),
        "clamp": np.array([layout.clamp(side) for side in SIDES]),
        "crown": both(layout.crowns),  # type: ignore[arg-type] # a side is a text
        "edge": both(layout.edges),  # type: ignore[arg-type] # as above
        "ridge fullness": both(layout.ridges),  # type: ignore[arg-type] # as above
        "width": both(layout.widths),  # type: ignore[arg-type] # as above
        "length": np.array([layout.longer(side) for side in SIDES]),
    }


@dataclass(frozen=True)
class Simulated:
    """Estimates of hidden truths, one a row.

    Attributes:
        evidence: (paddles,) which mix of readings.
        scores: (paddles, unknowns) how far the truth lies from the estimate, in its sd.
        sinks: (paddles, 2) the same of the tip's deflection under the target's weight.
        misfits, blocked, softened: (paddles,) how many of each were told, all of them false.
    """

    evidence: npt.NDArray[np.str_]
    scores: Floats
    sinks: Floats
    misfits: npt.NDArray[np.intp]
    blocked: npt.NDArray[np.intp]
    softened: npt.NDArray[np.intp]


def simulate(count: int, seed: int, *, published: bool = False,
             progress: Callable[[Iterable[int]], Iterable[int]] = lambda numbers: numbers,
             mixes: Iterable[str] = tuple(EVIDENCE)) -> Simulated:
    """Draw, read and estimate ``count`` paddles, the mixes of readings in turn.

    ``published`` centres the intervals on the means, as they are shown; else on the mode, which
    is found sooner.
    """
    random, names, base = np.random.default_rng(seed), tuple(mixes), model()
    rows = []
    for i in progress(range(count)):
        mix = names[i % len(names)]
        truth = drawn(base, random)
        known = estimate(base.paddle, base.build,
                         read(base, truth, EVIDENCE[mix](base.paddle), random))
        middle = known.mean if published else known.theta
        rows.append((
            mix, (truth - middle) / np.sqrt(np.diag(known.covariance)), _sinks(known, truth),
            len(known.misfits), sum(doubt.blocks for doubt in known.doubts), len(known.softened),
        ))
    columns = list(zip(*rows, strict=True))
    return Simulated(np.array(columns[0]), np.array(columns[1]), np.array(columns[2]),
                     *(np.array(column, dtype=np.intp) for column in columns[3:]))


def _sinks(known: Estimate, truth: Floats) -> list[float]:
    """How far off the forecast of the tip's deflection is, in its sd, for each blade."""
    found = []
    for side in SIDES:
        half = known.model.bench(side).half
        median, sd_ln = known.sink(side, TARGET.setup(half))
        found.append(math.log(true_sink(model(), truth, side, TARGET) / median) / sd_ln)
    return found
