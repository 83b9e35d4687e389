"""Simulated paddles and makers for the tuning tests: a hidden truth, read and planed badly."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Target
from springloom.mechanics.beam import Load
from springloom.mechanics.setups import Clamped, clamped_line, tip_deflection
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.tune.advice import BladeAdvice
from springloom.tune.estimate import prior_of
from springloom.tune.evidence import (
    SIDES,
    BalanceReading,
    BenchReading,
    FullnessReading,
    HandsReading,
    LengthReading,
    Reading,
    Side,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.model import Model
from springloom.tune.rules import PLANING_SD, SETTING_SHARE
from springloom.wood.material import Material, species_material

Floats = npt.NDArray[np.float64]
Random = np.random.Generator
Kind = TypeVar("Kind", bound=Reading)


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


_VALUE: dict[type, str] = {
    ThicknessReading: "thickness", BenchReading: "deflection", HandsReading: "deflection",
    WeightReading: "mass", WidthReading: "width", LengthReading: "length",
    TapReading: "frequency", BalanceReading: "offset", FullnessReading: "value",
}


def valued(reading: Kind, value: float) -> Kind:
    """The same reading with another value."""
    changed: dict[str, Any] = {_VALUE[type(reading)]: value}
    return replace(reading, **changed)


def every_kind(paddle: Paddle) -> list[Reading]:
    """As :func:`everywhere`, and whatever else can be read of a paddle."""
    found = everywhere(paddle)
    for side in SIDES:
        half = paddle.a if side == "a" else paddle.b
        found += [WidthReading(side, s.x, 0.08, name=s.name) for s in half.stations[:-1]]
        found += [
            LengthReading(side, 0.85),
            ThicknessReading(side, half.at_fraction(0.6), 0.01, "inset", inset=0.015),
            ThicknessReading(side, half.at_fraction(0.4), 0.01, face="upper"),
            FullnessReading(side, half.stations[2].x, 1.0, 0.0, 0.5, 0.02, name="1/2"),
            FullnessReading(side, half.stations[2].x, 0.3, 1.0, 0.5, 0.03, name="1/2"),
            TapReading(side, 27.0, half.loom.root),
            HandsReading(side, 0.03),
        ]
    return [*found, TapReading(None, 28.0), BalanceReading(0.0)]


def exact(model: Model, theta: Floats, readings: list[Reading]) -> list[Reading]:
    """What a perfect maker reads of this truth."""
    return [valued(r, model.predict(r, theta)[0]) for r in readings]


def true_value(model: Model, theta: Floats, reading: Reading) -> float:
    """What a perfect instrument shows: a bench as it bends in earnest, not in proportion."""
    if not isinstance(reading, BenchReading):
        return model.predict(reading, theta)[0]
    half, stretched = model.shaped(reading.side, theta), _places(model, theta, reading.side)
    clamp, load, read_at = (stretched(x) for x in (reading.clamp_x, reading.load_x,
                                                   reading.read_x))
    turned = float(theta[model.layout.clamp(reading.side)]) * reading.load * (load - clamp)
    setup = Clamped(clamp, (Load(load, reading.load),), (read_at,), turned)
    return clamped_line(half, true_wood(model, theta, reading.side), setup, large=True).at(read_at)


def _places(model: Model, theta: Floats, side: Side) -> Callable[[float], float]:
    """Where on the blade as it is a planned place lies."""
    bench = model.bench(side)
    share = float(theta[model.layout.longer(side)]) / bench.length
    root = bench.half.loom.root
    tip = model.shaped(side, theta).tip
    return lambda x: min(x + share * max(x - root, 0.0), tip)


def true_wood(model: Model, theta: Floats, side: Side) -> Material:
    """The wood of a blade."""
    wood = model.build
    assert isinstance(wood, Material)
    stiffer = float(np.exp(theta[model.layout.ln_e(side)]))
    return replace(wood, e_pa=wood.e_pa * stiffer, g_pa=wood.g_pa * stiffer)


def read(model: Model, theta: Floats, readings: list[Reading], random: Random) -> list[Reading]:
    """What a real maker reads: each reading's own error, and what it shares with others."""
    common: dict[tuple[str, float], float] = {}
    found: list[Reading] = []
    for reading in readings:
        right = valued(reading, true_value(model, theta, reading))
        off = right.own_sd * random.standard_normal()
        for source, sd in right.shared:
            off += sd * common.setdefault(source, random.standard_normal())
        found.append(valued(reading, right.value + off))
    return found


def true_sink(model: Model, theta: Floats, side: Side, target: Target) -> float:
    """Deflection of the true blade by the mechanics, not by the estimator's own formulas."""
    half = model.shaped(side, theta)
    return tip_deflection(half, true_wood(model, theta, side), target.setup(half))


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
