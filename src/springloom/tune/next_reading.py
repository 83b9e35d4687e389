"""Which one further reading would tell most of what is still open, computed and not guessed.

Near the estimate everything is linear and Gaussian: a reading with gradient j and variance r takes
from the variance of a quantity q·θ exactly (q·Σj)²/(j·Σj + r), whatever it will read. What its
error has in common with readings already taken (the weight that is hung) is first taken out of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from springloom.fit.bend import Target
from springloom.shape import section
from springloom.tune.bench import Blade
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import (
    DEFAULT_BENCH,
    DEFAULT_CALIPER,
    DEFAULT_RECORDER,
    DEFAULT_SCALE,
    INSTRUMENTS,
    RECORDERS,
    SCALES,
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
from springloom.tune.planing import Planing
from springloom.tune.settle import SUSPECT, noise_of

Floats = npt.NDArray[np.float64]

_READ_AT = ((0.5, "1/2"), (0.75, "3/4"), (1.0, "tip"))  # shares where a bent line is worth reading
_TINY = 1e-30  # complex step: no subtraction, so no rounding


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
class Offer:
    """Readings that could be taken (m), their gradients (m, unknowns) and noise (m, m)."""

    readings: tuple[Reading, ...]
    gradients: Floats
    noise: Floats


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

    def offer(self, readings: Sequence[Reading]) -> Offer:
        """Foretell readings to come, freed of what their errors share with those already taken."""
        values, gradients = self._foretold(readings)
        new = [valued(reading, float(value)) for reading, value
               in zip(readings, values, strict=True)]
        sources = {source for reading in new for source, _ in reading.shared}
        old = [r for r in self.before if any(source in sources for source, _ in r.shared)]
        if not old:
            return Offer(tuple(new), gradients, noise_of(new))
        count, noise = len(old), noise_of([*old, *new])
        own, shared = noise[:count, :count] + self._softening(old), noise[:count, count:]
        weights = np.linalg.solve(own, shared)
        foretold, earlier = self._foretold(old)
        errors = weights.T @ (np.array([self._given(r) for r in old]) - foretold)
        return Offer(
            tuple(valued(r, r.value + float(e)) for r, e in zip(new, errors, strict=True)),
            gradients - weights.T @ earlier, noise[count:, count:] - shared.T @ weights,
        )

    def _given(self, reading: Reading) -> float:
        if isinstance(reading, BenchReading):
            return self.known.model.straightened(reading)
        return reading.value

    def _foretold(self, readings: Sequence[Reading]) -> tuple[Floats, Floats]:
        return self.known.model.foretelling(readings).at(self.theta)

    def _softening(self, readings: Sequence[Reading]) -> Floats:
        """What the estimate has added to the variance of readings that it held to be doubtful."""
        sigmas = {doubtful.label: doubtful.sigmas for doubtful in self.known.softened}
        kept = [kept_of(sigmas.get(reading.label, 0.0)) for reading in readings]
        return np.diag([reading.own_sd**2 * (1.0 / left - 1.0)
                        for reading, left in zip(readings, kept, strict=True)])


def kept_of(sigmas: float) -> float:
    """The weight a reading this far from the rest has left; see ``settle.Evidence.softened``."""
    return min(max(SUSPECT - sigmas, 0.05), 1.0) ** 2


def valued(reading: Reading, value: float) -> Reading:
    """The reading with another value."""
    changed: Any = {_VALUES[type(reading)]: value}
    return replace(reading, **changed)


_VALUES = {
    ThicknessReading: "thickness", FullnessReading: "value", WidthReading: "width",
    LengthReading: "length", BenchReading: "deflection", HandsReading: "deflection",
    TapReading: "frequency", WeightReading: "mass", BalanceReading: "offset",
}
"""Where each kind of reading keeps what was read."""


def next_readings(state: State, blades: Sequence[Planing]) -> tuple[NextReading, ...]:
    """All readings worth considering for these blades, the most telling first; may be empty."""
    if not blades:
        return ()
    offer = state.offer(candidates(state.known, blades))
    removal = np.concatenate([removal_gradients(state, blade) for blade in blades])
    bend = np.array([_bend_gradient(state, blade) for blade in blades])
    (before, after), (loose, firm) = (
        _spreads(q, state.covariance, offer) for q in (removal, bend)
    )
    found = [NextReading(reading, before, float(a), loose, float(f))
             for reading, a, f in zip(offer.readings, after, firm, strict=True)]
    return tuple(sorted(found, key=lambda one: one.removal_sd_after_m))


def best_sd_ln(state: State, blade: Planing) -> float:
    """Sd of ln deflection if every reading worth considering on a blade were taken once more."""
    offer, by = state.offer(candidates(state.known, [blade])), _bend_gradient(state, blade)
    spread = offer.gradients @ state.covariance
    told = np.linalg.solve(spread @ offer.gradients.T + offer.noise, spread @ by)
    return math.sqrt(float(by @ state.covariance @ by - (spread @ by) @ told))


def _spreads(q: Floats, covariance: Floats, offer: Offer) -> tuple[float, Floats]:
    """Root mean square sd of quantities (k, unknowns) now, and after each reading alone (m,)."""
    spread = covariance @ offer.gradients.T
    told = np.einsum("mi,im->m", offer.gradients, spread) + np.diag(offer.noise)
    now = np.einsum("ki,ij,kj->k", q, covariance, q)
    left = float(np.mean(now)) - np.mean((q @ spread) ** 2, axis=0) / told
    return math.sqrt(float(np.mean(now))), np.sqrt(np.maximum(left, 0.0))


def candidates(known: Estimate, blades: Sequence[Planing]) -> list[Reading]:
    """Readings a maker could take next with the tools used so far; their values stand for none."""
    found: list[Reading] = [WeightReading(1.0, _finest(known, WeightReading)), BalanceReading(0.0)]
    for blade in blades:
        found += [*_shapes(known, blade.side), *_loads(known, blade)]
    return found


def _shapes(known: Estimate, side: Side) -> list[Reading]:
    """Calipers at every station, and widths where the blade has one."""
    sd, stations = _finest(known, ThicknessReading), known.model.bench(side).half.stations
    wide = [s for s in stations if s.width > 0.0]
    return [
        *(ThicknessReading(side, s.x, 0.01, "crown", sd, s.name) for s in stations),
        *(ThicknessReading(side, s.x, 0.01, "edge", sd, s.name) for s in wide),
        *(WidthReading(side, s.x, 0.05, sd, s.name) for s in wide),
    ]


def _loads(known: Estimate, blade: Planing) -> list[Reading]:
    """The bent line at some places, and the clamped blade's tone."""
    half, sd = known.model.bench(blade.side).half, _finest(known, BenchReading)
    load, root, tip = _hung(known, blade.target), half.loom.root, half.tip
    line = [BenchReading(blade.side, 0.01, half.at_fraction(share), tip, root, load, sd, name=name)
            for share, name in _READ_AT]
    return [*line, TapReading(blade.side, 10.0, root, _finest(known, TapReading))]


def _hung(known: Estimate, target: Target) -> float:
    """The weight the maker has: the one hung so far that is nearest the target's."""
    loads = [r.load for r in known.readings if isinstance(r, BenchReading)]
    return min(loads, key=lambda load: abs(load - target.load_n), default=target.load_n)


def _finest(known: Estimate, kind: type[Reading]) -> float:
    """Sd of the finest tool of a kind used so far, if finer than the usual one's."""
    return min([_USUAL[kind], *(r.sd for r in known.readings if isinstance(r, kind))])


_USUAL = {
    ThicknessReading: INSTRUMENTS[DEFAULT_CALIPER], BenchReading: INSTRUMENTS[DEFAULT_BENCH],
    TapReading: RECORDERS[DEFAULT_RECORDER], WeightReading: SCALES[DEFAULT_SCALE],
}


def removal_gradients(state: State, blade: Planing) -> Floats:
    """How the removal off one face that leads to the goal changes with the unknowns.

    At station i it is u = (c − c*)/2, c* being the crown whose EI bends as wanted, all else in
    proportion, so that ln c* = ln c + (ln EI* − ln EI)/3 and du = (dc − c* (dc/c − d ln EI/3))/2.
    EI* is the target's and known. Shape (stations − 1, unknowns), m.
    """
    at, side = state.known.model.layout, blade.side
    crowns = state.theta[at.crowns(side)]
    wanted = crowns * np.cbrt(blade.sinks(np.zeros(blade.size))[0] / blade.goal)
    rows = wanted[:, None] / 6.0 * ln_ei_gradients(state, side)
    own = np.arange(len(crowns))
    rows[own, at.crowns(side).start + own] += 0.5 * (1.0 - wanted / crowns)
    return np.asarray(rows[:-1])


def ln_ei_gradients(state: State, side: Side) -> Floats:
    """How ln EI of each station's section changes with the unknowns, (stations, unknowns).

    A layup's changes with the shape as solid wood's does, as in the estimate itself.
    """
    at, bench = state.known.model.layout, state.known.model.bench(side)
    blade = Blade.of(bench, at, side, state.theta)
    _, _, top, low, _, share = bench.half.station_values.T
    top, low = top + blade.ridges, low + blade.ridges

    def inertia(ridge: complex, edge: complex) -> npt.NDArray[np.complex128]:
        """Of a crown and a half-width of 1."""
        faces = (share, top + ridge), (1.0 - share, low + ridge)
        return np.asarray(section.i_flat(1.0, faces, blade.s + edge), dtype=np.complex128)

    step, plain = _TINY * 1j, np.real(inertia(0j, 0j))
    by_ridge, by_s = (np.diag(np.imag(one) / _TINY / plain)
                      for one in (inertia(step, 0j), inertia(0j, step)))
    rows = np.zeros((len(plain), at.size))
    rows[:, at.ln_e(side)] = 1.0
    wide = np.diag(np.append(1.0 / blade.widths, 0.0))  # the tip has none
    blade.carried(rows, np.diag(3.0 / blade.crowns), by_s, by_ridge, wide)
    return rows


def _bend_gradient(state: State, blade: Planing) -> Floats:
    """Gradient of ln deflection in the target's set-up."""
    half = state.known.model.bench(blade.side).half
    value, by = state.known.sink_gradient(blade.side, blade.target.setup(half), state.theta)
    return by / value
