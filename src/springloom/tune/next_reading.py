"""Which one further reading would tell most of what is still open, computed and not guessed.

Near the estimate everything is linear and Gaussian: a reading with gradient j and variance r takes
from the variance of a quantity q·θ exactly (q·Σj)²/(j·Σj + r), whatever it will read. What its
error has in common with readings already taken (the weight that is hung) is first taken out of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Target
from springloom.mechanics.stiffness import rigidity_at
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import (
    DEFAULT_BENCH,
    DEFAULT_CALIPER,
    DEFAULT_SCALE,
    INSTRUMENTS,
    SCALES,
    BenchReading,
    Reading,
    Side,
    ThicknessReading,
    WeightReading,
)
from springloom.tune.planing import Planing

Floats = npt.NDArray[np.float64]

_READ_AT = (0.5, 0.75, 1.0)  # shares of the blade where a bent line is worth reading
_STEP = 1e-4  # of a thickness, for a derivative's difference


@dataclass(frozen=True, slots=True)
class NextReading:
    """A reading that could be taken, and what it is expected to tell.

    Attributes:
        reading: where, how and under which weight; its value is what is expected.
        removal_sd_before_m, removal_sd_after_m: how well the removal that leads to the goal is
            known, off one face (root mean square over the stations of the blades in question).
        bend_sd_ln_before, bend_sd_ln_after: the same of ln deflection (over these blades).
    """

    reading: Reading
    removal_sd_before_m: float
    removal_sd_after_m: float
    bend_sd_ln_before: float
    bend_sd_ln_after: float

    @property
    def label(self) -> str:
        """What the maker calls it."""
        return self.reading.label

    @property
    def reduction(self) -> float:
        """Share by which the removal's uncertainty is expected to shrink."""
        return 1.0 - self.removal_sd_after_m / self.removal_sd_before_m


@dataclass(frozen=True, slots=True)
class State:
    """What is believed at the moment of the next reading: unknowns, their covariance, and the
    readings whose errors the next one may share."""

    known: Estimate
    theta: Floats
    covariance: Floats
    before: tuple[Reading, ...]

    @classmethod
    def now(cls, known: Estimate) -> State:
        """Before any planing."""
        return cls(known, known.theta, known.covariance, known.readings)

    @classmethod
    def planed(cls, known: Estimate, plans: Sequence[tuple[Planing, Floats]]) -> State:
        """After these removals; the weight is then hung anew, with an error of its own."""
        theta, covariance, at = known.theta.copy(), known.covariance.copy(), known.model.layout
        for blade, per_face in plans:
            after, roots = blade.theta_after(per_face), blade.planing_roots(per_face)
            for part in (at.crowns(blade.side), at.edges(blade.side)):
                theta[part] = after[part]
            covariance += roots.T @ roots
        return cls(known, theta, covariance, ())

    def told(self, readings: Sequence[Reading]) -> tuple[Floats, Floats]:
        """Gradients (m, unknowns) and noise (m, m) of new readings, freed of what is shared."""
        predict = self.known.model.predict
        gradients = np.array([predict(r, self.theta)[1] for r in readings])
        noise = np.diag([_variance(r) for r in readings])
        shared = _common(readings, readings)
        old = [r for r in self.before if isinstance(r, BenchReading)
               and any(isinstance(new, BenchReading) and new.load == r.load for new in readings)]
        if not old:
            return gradients, noise + shared
        own = np.diag([_variance(r) for r in old]) + _common(old, old)
        weights = np.linalg.solve(own, _common(old, readings))
        earlier = np.array([predict(r, self.theta)[1] for r in old])
        return gradients - weights.T @ earlier, noise + shared - _common(readings, old) @ weights


def next_readings(state: State, blades: Sequence[Planing]) -> tuple[NextReading, ...]:
    """All readings worth considering for these blades, the most telling first; may be empty."""
    if not blades:
        return ()
    offered = candidates(state, blades)
    gradients, noise = state.told(offered)
    removal = np.concatenate([removal_gradients(state, blade) for blade in blades])
    bend = np.array([_bend_gradient(state, blade) for blade in blades])
    (before, after), (loose, firm) = (
        _spreads(q, state.covariance, gradients, np.diag(noise)) for q in (removal, bend)
    )
    found = [NextReading(reading, before, float(a), loose, float(f))
             for reading, a, f in zip(offered, after, firm, strict=True)]
    return tuple(sorted(found, key=lambda one: one.removal_sd_after_m))


def best_sd_ln(state: State, blade: Planing) -> float:
    """Sd of ln deflection if every reading worth considering on a blade were taken once more."""
    gradients, noise = state.told(candidates(state, [blade]))
    by = _bend_gradient(state, blade)
    spread = gradients @ state.covariance
    told = np.linalg.solve(spread @ gradients.T + noise, spread @ by)
    return math.sqrt(float(by @ state.covariance @ by - (spread @ by) @ told))


def _spreads(
    q: Floats, covariance: Floats, gradients: Floats, variance: Floats
) -> tuple[float, Floats]:
    """Root mean square sd of quantities (k, unknowns) now, and after each reading alone (m,)."""
    spread = covariance @ gradients.T
    told = np.einsum("mi,im->m", gradients, spread) + variance
    now = np.einsum("ki,ij,kj->k", q, covariance, q)
    left = float(np.mean(now)) - np.mean((q @ spread) ** 2, axis=0) / told
    return math.sqrt(float(np.mean(now))), np.sqrt(np.maximum(left, 0.0))


def candidates(state: State, blades: Sequence[Planing]) -> list[Reading]:
    """Readings a maker could take next, with the tools used so far, each as it would come out."""
    found: list[Reading] = []
    for blade in blades:
        found += _calipers(state.known, blade.side) + _benches(state.known, blade)
    found.append(WeightReading(1.0, _finest(state.known, WeightReading, SCALES[DEFAULT_SCALE])))
    return [_expected(state, reading) for reading in found]


def _calipers(known: Estimate, side: Side) -> list[Reading]:
    sd = _finest(known, ThicknessReading, INSTRUMENTS[DEFAULT_CALIPER])
    stations = known.model.bench(side).half.stations
    crowns = [ThicknessReading(side, s.x, 0.01, "crown", sd, s.name) for s in stations]
    edges = [ThicknessReading(side, s.x, 0.01, "edge", sd, s.name) for s in stations[:-1]]
    return [*crowns, *edges]


def _benches(known: Estimate, blade: Planing) -> list[Reading]:
    half = known.model.bench(blade.side).half
    sd = _finest(known, BenchReading, INSTRUMENTS[DEFAULT_BENCH])
    load, root, tip = _hung(known, blade.target), half.loom.root, half.tip
    names = {0.5: "1/2", 0.75: "3/4", 1.0: "tip"}
    return [BenchReading(blade.side, 0.01, half.at_fraction(share), tip, root, load, sd,
                         name=names[share]) for share in _READ_AT]


def _hung(known: Estimate, target: Target) -> float:
    """The weight the maker has: the one hung so far that is nearest the target's."""
    loads = [r.load for r in known.readings if isinstance(r, BenchReading)]
    return min(loads, key=lambda load: abs(load - target.load_n), default=target.load_n)


def _finest(known: Estimate, kind: type[Reading], usual: float) -> float:
    """Sd of the finest tool of a kind used so far, if finer than the usual one's."""
    return min([usual, *(r.sd for r in known.readings if isinstance(r, kind))])


def _expected(state: State, reading: Reading) -> Reading:
    """The reading with the value it should have."""
    value = state.known.model.predict(reading, state.theta)[0]
    if isinstance(reading, ThicknessReading):
        return ThicknessReading(reading.side, reading.x, value, reading.kind, reading.sd,
                                reading.name)
    if isinstance(reading, BenchReading):
        return BenchReading(reading.side, value, reading.read_x, reading.load_x, reading.clamp_x,
                            reading.load, reading.sd, reading.load_sd_share, reading.name)
    return WeightReading(value, reading.sd)


def _variance(reading: Reading) -> float:
    """Variance of what is a reading's own error."""
    return (reading.total_sd if isinstance(reading, WeightReading) else reading.sd) ** 2


def _common(some: Sequence[Reading], others: Sequence[Reading]) -> Floats:
    """Covariance (n, m) of two sets of readings by the weight hung for both."""
    found = np.zeros((len(some), len(others)))
    for i, one in enumerate(some):
        for j, other in enumerate(others):
            if (isinstance(one, BenchReading) and isinstance(other, BenchReading)
                    and one.load == other.load):
                found[i, j] = (one.load_sd_share * one.deflection
                               * other.load_sd_share * other.deflection)
    return found


def removal_gradients(state: State, blade: Planing) -> Floats:
    """How the removal off one face that leads to the goal changes with the unknowns.

    At station i it is u = (c − c*)/2, c* being the crown whose EI bends as wanted: with the edge
    in proportion c*³·E·g is what the target asks for, g being all of I but the crown's cube, so
    that du = (dc + c*/3 · d ln(E·g))/2. Shape (stations − 1, unknowns), m.
    """
    at, model, side = state.known.model.layout, state.known.model, blade.side
    crowns = state.theta[at.crowns(side)][:-1]
    wanted = crowns * np.cbrt(blade.sinks(np.zeros(blade.size))[0] / blade.goal)
    rows = np.zeros((len(crowns), at.size))
    rows[:, at.ln_e(side)] = wanted / 6.0

    def ln_ei(theta: Floats) -> Floats:
        values = model.shaped(side, theta).station_values[:-1].T
        return np.log(rigidity_at(values, model.build).ei)

    for part in (at.crowns(side), at.edges(side)):
        step = _STEP * state.theta[part]
        up, down = state.theta.copy(), state.theta.copy()
        up[part] += step
        down[part] -= step
        by = (ln_ei(up) - ln_ei(down)) / (2.0 * step[:-1])
        for i, slope in enumerate(by):
            rows[i, part.start + i] = wanted[i] * slope / 6.0
    for i, crown in enumerate(crowns):
        rows[i, at.crowns(side).start + i] += 0.5 * (1.0 - wanted[i] / crown)
    return rows


def _bend_gradient(state: State, blade: Planing) -> Floats:
    """Gradient of ln deflection in the target's set-up."""
    half = state.known.model.bench(blade.side).half
    value, by = state.known.sink_gradient(blade.side, blade.target.setup(half), state.theta)
    return by / value
