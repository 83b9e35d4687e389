"""Simulated paddles and makers for the tuning tests: a hidden truth, read and planed badly."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import overload

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Target
from springloom.mechanics.setups import tip_deflection
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.tune.advice import BladeAdvice
from springloom.tune.estimate import prior_of
from springloom.tune.evidence import (
    SIDES,
    BenchReading,
    Reading,
    Side,
    ThicknessReading,
    WeightReading,
)
from springloom.tune.model import Model
from springloom.tune.rules import PLANING_SD, SETTING_SHARE
from springloom.wood.material import Material, species_material

Floats = npt.NDArray[np.float64]
Random = np.random.Generator


def cedar(sd_ln_e: float = 0.1) -> Material:
    """Western redcedar from a board tested to ``sd_ln_e``."""
    return replace(species_material("western_redcedar"), sd_ln_e=sd_ln_e, sd_ln_density=0.03)


@functools.cache
def model() -> Model:
    """The default paddle in redcedar."""
    return Model(default_paddle(), cedar())


def drawn(model: Model, random: Random) -> Floats:
    """A truth from the prior."""
    mean, spread = prior_of(model)
    return np.asarray(random.multivariate_normal(mean, spread, method="cholesky"))


def places(half: HalfPaddle, side: Side, *, crowns: bool = True, edges: bool = True,
           bench: bool = True) -> list[Reading]:
    """Readings a careful maker takes of one blade, their values still the plan's."""
    found: list[Reading] = []
    for station in half.stations:
        if crowns:
            found.append(ThicknessReading(side, station.x, 0.01, "crown", name=station.name))
        if edges and station is not half.stations[-1]:
            found.append(ThicknessReading(side, station.x, 0.01, "edge", name=station.name))
    if bench:
        tip, root = half.tip, half.loom.root
        found += [BenchReading(side, 0.01, at, tip, root, name=name)
                  for at, name in ((tip, "tip"), (half.at_fraction(0.75), "3/4"))]
    return found


def everywhere(paddle: Paddle) -> list[Reading]:
    """All of them on both blades, and the weight."""
    both = [reading for side in SIDES
            for reading in places(paddle.a if side == "a" else paddle.b, side)]
    return [*both, WeightReading(1.0)]


@overload
def valued(reading: WeightReading, value: float) -> WeightReading: ...
@overload
def valued(reading: Reading, value: float) -> Reading: ...
def valued(reading: Reading, value: float) -> Reading:
    """The same reading with another value."""
    if isinstance(reading, ThicknessReading):
        return replace(reading, thickness=value)
    if isinstance(reading, BenchReading):
        return replace(reading, deflection=value)
    return replace(reading, mass=value)


def exact(model: Model, theta: Floats, readings: list[Reading]) -> list[Reading]:
    """What a perfect maker reads of this truth."""
    return [valued(r, model.predict(r, theta)[0]) for r in readings]


def read(model: Model, theta: Floats, readings: list[Reading], random: Random) -> list[Reading]:
    """What a real maker reads: each reading's own error, each weight's own for all hung from it."""
    weights = {r.load: random.standard_normal() for r in readings if isinstance(r, BenchReading)}
    found: list[Reading] = []
    for reading in readings:
        value, error = model.predict(reading, theta)[0], random.standard_normal()
        if isinstance(reading, BenchReading):
            off = reading.sd * error + reading.load_sd_share * value * weights[reading.load]
        elif isinstance(reading, WeightReading):
            off = error * valued(reading, value).total_sd
        else:
            off = error * reading.sd
        found.append(valued(reading, value + off))
    return found


def true_sink(model: Model, theta: Floats, side: Side, target: Target) -> float:
    """Deflection of the true blade by the mechanics, not by the estimator's own formulas."""
    half = model.shaped(side, theta)
    wood = model.build
    assert isinstance(wood, Material)
    stiffer = float(np.exp(theta[model.layout.ln_e(side)]))
    real = replace(wood, e_pa=wood.e_pa * stiffer, g_pa=wood.g_pa * stiffer)
    return tip_deflection(half, real, target.setup(half))


def planed(model: Model, theta: Floats, advice: BladeAdvice, random: Random) -> Floats:
    """The truth after a hand planed what was advised: a plane set wrong, each face uneven."""
    at, side = model.layout, advice.side
    meant = np.array([r.per_face_m for r in advice.removals])
    off = 2.0 * meant * (1.0 + SETTING_SHARE * random.standard_normal())
    hand = PLANING_SD * random.standard_normal((2, len(meant))).sum(axis=0)
    after, crowns = theta.copy(), theta[at.crowns(side)]
    left = crowns - np.maximum(off + hand * (meant > 0.0), 0.0)
    after[at.crowns(side)] = left
    after[at.edges(side)] *= left / crowns
    return after


@dataclass(frozen=True)
class Rough:
    """A freshly carved paddle: wood left on all over, uneven, its board tested to 10 %."""

    proud: float = 0.0015
    uneven: float = 0.0003

    def truths(self, model: Model, random: Random, count: int) -> Iterator[Floats]:
        """Unknowns of ``count`` paddles."""
        at = model.layout
        for _ in range(count):
            theta = drawn(model, random)
            for side in SIDES:
                over = self.proud * random.uniform(0.0, 1.5)
                bench = model.bench(side)
                uneven = self.uneven * random.standard_normal((2, len(bench.crowns)))
                theta[at.crowns(side)] = bench.crowns + over + uneven[0]
                theta[at.edges(side)] = bench.edges + 0.5 * over + 0.5 * uneven[1]
            yield theta
