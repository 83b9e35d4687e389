"""What rulers and scales should read of a paddle under load, on a scale, over an edge.

Deflections are by the unit-load theorem: δ = P ∫ (m m̄/EI + v v̄/kGA) dx, m and m̄ the moments of
one newton at the load and at the reading. A longer blade stretches everything from the root out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.tune.evidence_load import BenchReading, HandsReading
from springloom.tune.instruments import SIDES, Side
from springloom.tune.line import Change, Line
from springloom.tune.unknowns import Unknowns

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Flex:
    """∫ (m m̄/EI + v v̄/kGA) of readings (k,) with unit moments and shears (k, points).

    Attributes:
        bend, slip: (k, points) integrands, weight included.
        longer: (k,) derivative by how much longer the blade is.
    """

    bend: Floats
    slip: Floats
    longer: Floats

    @classmethod
    def of(cls, line: Line, change: Change, stiffer: float, pairs: _Pairs) -> _Flex:
        _, rigid = line.whole
        share, more = 1.0 / line.bench.length, line.outward > 0.0
        per_ei = line.weight * change.inertia / (rigid.ei * stiffer)
        per_ga = line.weight * change.area / (rigid.shear * stiffer)
        by_length = (pairs.moment_longer * pairs.stretch + pairs.moment * (more * share)) * per_ei
        by_slip = (pairs.shear_longer * pairs.stretch + pairs.shear * (more * share)) * per_ga
        return cls(pairs.moment * pairs.stretch * per_ei, pairs.shear * pairs.stretch * per_ga,
                   np.sum(by_length + by_slip, axis=1))

    @property
    def total(self) -> Floats:
        """(k,)"""
        return np.asarray(np.sum(self.bend + self.slip, axis=1))

    def by_shape(self, change: Change) -> Floats:
        """(5, k, points) derivatives by the sections."""
        return -(self.bend * change.ln_i[:, None] + self.slip * change.ln_a[:, None])


@dataclass(frozen=True, slots=True)
class _Pairs:
    """m·m̄ and v·v̄ (k, points), each with its derivative by length; how stretched points are."""

    moment: Floats
    moment_longer: Floats
    shear: Floats
    shear_longer: Floats
    stretch: Floats


@dataclass(frozen=True)
class Clamp:
    """Readings of one blade in one clamp; the line is cut wherever one is loaded or read."""

    side: Side
    readings: Sequence[BenchReading]
    line: Line

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Deflections and gradients."""
        at, side, line = unknowns.layout, self.side, self.line
        blade, turning = unknowns.blade(side), unknowns.turning(side)
        change = line.change(line.shape(blade))
        arms, pairs = self._arms(blade.longer)
        flex = _Flex.of(line, change, unknowns.stiffer(side), pairs)
        load = np.array([r.load for r in self.readings])
        bent, turn = load * flex.total, load * arms[0] * arms[1]
        gradient = unknowns.blank(len(load))
        line.chain(gradient, blade, load[:, None] * flex.by_shape(change))
        gradient[:, at.ln_e(side)] = -bent
        gradient[:, at.clamp(side)] = turn
        out = arms[2] * arms[1] + arms[0] * arms[3]
        gradient[:, at.longer(side)] = load * (flex.longer + turning * out)
        return bent + turning * turn, gradient

    def _arms(self, longer: float) -> tuple[Floats, _Pairs]:
        """(4, k) arms of load and reading about the clamp, both by length; and the integrands."""
        line, clamp = self.line, self.readings[0].clamp_x
        root, share = line.bench.half.loom.root, longer / line.bench.length
        held = max(clamp - root, 0.0)
        arms, rows = [], []
        for at in (np.array([r.load_x for r in self.readings]),
                   np.array([r.read_x for r in self.readings])):
            out = np.maximum(at - root, 0.0)
            lever = at[:, None] - line.x
            inside = lever > 0.0
            by = np.where(inside, (out[:, None] - line.outward) / line.bench.length, 0.0)
            rows.append((np.where(inside, lever, 0.0) + longer * by, by, inside))
            arms.append((at - clamp + share * (out - held), (out - held) / line.bench.length))
        (load, load_by, under), (read, read_by, inward) = rows
        stretch = np.where(line.outward > 0.0, 1.0 + share, 1.0)
        pairs = _Pairs(load * read, load_by * read + load * read_by,
                       np.asarray(under & inward, dtype=float), np.zeros_like(load), stretch)
        return np.array([arms[0][0], arms[1][0], arms[0][1], arms[1][1]]), pairs


@dataclass(frozen=True)
class Hands:
    """Readings at one place of a paddle on two supports, loaded at one place.

    ``near`` is the loaded blade's line from the centre to the tip, ``far`` the other's from the
    centre to the support, both cut at supports, load and reading.
    """

    readings: Sequence[HandsReading]
    near: Line
    far: Line

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Deflections (k,) and gradients (k, unknowns)."""
        value, gradient = self._of_one_newton(unknowns)
        load = np.array([reading.load for reading in self.readings])
        return load * value, load[:, None] * gradient

    def _of_one_newton(self, unknowns: Unknowns) -> tuple[float, Floats]:
        at, reading = unknowns.layout, self.readings[0]
        gradient, total = unknowns.blank(1), 0.0
        loaded = unknowns.blade(reading.side)
        for side in SIDES:
            line = self.near if side == reading.side else self.far
            blade = unknowns.blade(side)
            change = line.change(line.shape(blade))
            pairs = self._pairs(line, loaded.longer, near=side == reading.side)
            flex = _Flex.of(line, change, unknowns.stiffer(side), pairs)
            bent = float(flex.total[0])
            total += bent
            line.chain(gradient, blade, flex.by_shape(change))
            gradient[0, at.ln_e(side)] = -bent
            gradient[0, at.longer(reading.side)] += float(flex.longer[0])
        return total, gradient

    def _pairs(self, line: Line, longer: float, *, near: bool) -> _Pairs:
        """Moments rise from the far support to the near one, then fall to load and reading."""
        reading, length = self.readings[0], self.near.bench.length
        half, root = reading.half_span, self.near.bench.half.loom.root
        place = line.x if near else -line.x
        rise = (place + half) / (2.0 * half)
        between = place < half
        moments, shears = [], []
        for at in (reading.load_x, reading.read_x):
            out = max(at - root, 0.0) / length
            over = at + longer * out - half
            lever = at - line.x
            inside = np.where(near & (lever > 0.0), 1.0, 0.0)
            by = inside * (out - line.outward / length)
            moments.append((np.where(between, over * rise, inside * lever + longer * by),
                            np.where(between, out * rise, by)))
            shears.append((np.where(between, over / (2.0 * half), inside),
                           np.where(between, out / (2.0 * half), 0.0)))
        stretch = np.where(near & (line.outward > 0.0), 1.0 + longer / length, 1.0)
        return _Pairs(*_product(*moments), *_product(*shears), stretch)


def _product(one: tuple[Floats, Floats], other: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """Product of two values and its derivative, (1, points)."""
    return (one[0] * other[0])[None], (one[1] * other[0] + one[0] * other[1])[None]


@dataclass(frozen=True)
class Scale:
    """Mass of the paddle, and its moment about the centre; both lines run to the tips."""

    lines: tuple[Line, Line]
    readings: int = 1

    def mass(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Mass in kg (k,), all alike, and gradients (k, unknowns)."""
        (mass, _), gradient = self._moments(unknowns)
        return self._repeated(mass, gradient[:1])

    def balance(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Balance point in m from the centre towards blade A, as :meth:`mass`."""
        (mass, moment), gradient = self._moments(unknowns)
        point = moment / mass
        return self._repeated(point, (gradient[1:] - point * gradient[:1]) / mass)

    def _repeated(self, value: float, gradient: Floats) -> tuple[Floats, Floats]:
        return np.full(self.readings, value), np.repeat(gradient, self.readings, axis=0)

    def _moments(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Mass (kg) and its first moment (kg·m), with gradients (2, unknowns)."""
        at, values, gradient = unknowns.layout, np.zeros(2), unknowns.blank(2)
        for side, line, sign in zip(SIDES, self.lines, (1.0, -1.0), strict=True):
            blade = unknowns.blade(side)
            change = line.change(line.shape(blade))
            place, stretch = line.stretched(blade)
            per_length = line.weight * line.whole[1].mass / change.area * unknowns.denser()
            both = np.stack([np.ones_like(place), sign * place])
            mass = both * per_length * stretch
            values += np.sum(mass, axis=1)
            line.chain(gradient, blade, mass * change.ln_a[:, None])
            share = line.outward / line.bench.length
            more = per_length * (share > 0.0) / line.bench.length
            moved = np.stack([np.zeros_like(place), sign * share * per_length * stretch])
            gradient[:, at.longer(side)] += np.sum(both * more + moved, axis=1)
        gradient[:, at.ln_density] += values
        return values, gradient
