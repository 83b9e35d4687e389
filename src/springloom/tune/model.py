"""What each reading should be, given the unknowns, and how it changes with each of them.

The unknowns and their order are :class:`springloom.tune.layout.Layout`'s. Between stations a
change runs along the plan's own splines. Derivatives are exact: those by the fullnesses come from
a complex step, a tone's from the energies of its mode, everything else is differentiated by hand.
"""

from __future__ import annotations

import functools
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from springloom.errors import EvidenceError, RangeError, UnreachableError
from springloom.mechanics.axis import POINTS, half_axis
from springloom.mechanics.beam import Load
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.mechanics.stiffness import Build
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.bench import Bench, Blade
from springloom.tune.evidence import (
    SIDES,
    BalanceReading,
    BenchReading,
    HandsReading,
    LengthReading,
    Reading,
    Side,
    TapReading,
    WeightReading,
)
from springloom.tune.foretell_load import Clamp, Hands, Scale
from springloom.tune.foretell_shape import AtPlace, AtStations, Lengths, Places, unknown_read
from springloom.tune.foretell_tone import ClampedTone, FreeTone
from springloom.tune.layout import Layout
from springloom.tune.line import Line
from springloom.tune.unknowns import Group, Unknowns

__all__ = ["Bench", "Layout", "Model"]

Floats = npt.NDArray[np.float64]

_DEEP = 0.05  # of its length: with less the elastica differs by under 0.4 %
_TONE_POINTS = 4  # Gauss points of a beam element, as in mechanics.vibration


@dataclass(frozen=True)
class Model:
    """Predicts readings of a paddle made of ``build``."""

    paddle: Paddle
    build: Build
    _lines: dict[Hashable, Line] = field(default_factory=dict, compare=False, repr=False)
    _groups: dict[tuple[Reading, ...], Group] = field(
        default_factory=dict, compare=False, repr=False
    )

    @functools.cached_property
    def layout(self) -> Layout:
        """Where each unknown stands."""
        return Layout((len(self.paddle.a.stations), len(self.paddle.b.stations)))

    @functools.cached_property
    def _benches(self) -> tuple[Bench, Bench]:
        first = Bench(self.paddle.a)
        return first, first if self.paddle.is_symmetric else Bench(self.paddle.b)

    def bench(self, side: Side) -> Bench:
        """One blade."""
        return self._benches[SIDES.index(side)]

    def start(self) -> Floats:
        """The plan: unknowns with no change of stiffness or density and a rigid clamp.

        ln E and ln density are relative to the build's own.
        """
        at = self.layout
        theta = np.zeros(at.size)
        for side in SIDES:
            bench = self.bench(side)
            theta[at.crowns(side)] = bench.crowns
            theta[at.edges(side)] = bench.edges
            theta[at.widths(side)] = bench.widths
        return theta

    def unknowns(self, theta: Floats) -> Unknowns:
        """Values of the unknowns, ready to foretell from."""
        return Unknowns(self._benches, self.layout, theta)

    def predict(self, reading: Reading, theta: Floats) -> tuple[float, Floats]:
        """Return the value a reading should have and its gradient (unknowns,)."""
        values, gradient = self._group((reading,))(self.unknowns(theta))
        return float(values[0]), gradient[0]

    def foretelling(self, readings: Sequence[Reading]) -> Foretelling:
        """Put readings that are foretold together into groups, once for many thetas."""
        rows: dict[tuple[Hashable, ...], list[int]] = {}
        for i, reading in enumerate(readings):
            rows.setdefault(self._together(reading), []).append(i)
        return Foretelling(self, len(readings), tuple(
            (np.array(own), self._group(tuple(readings[i] for i in own)))
            for own in rows.values()
        ))

    def sink(self, reading: BenchReading, theta: Floats) -> tuple[float, Floats]:
        """Deflection of a clamped blade in m and its gradient (unknowns,)."""
        return self.predict(reading, theta)

    def weight(self, theta: Floats) -> tuple[float, Floats]:
        """Mass of the paddle in kg and its gradient (unknowns,)."""
        return self.predict(WeightReading(1.0), theta)

    def shaped(self, side: Side, theta: Floats) -> HalfPaddle:
        """Return the blade these unknowns describe, edges held to what a section can have."""
        bench = self.bench(side)
        return Blade.of(bench, self.layout, side, theta).shaped(bench)

    def straightened(self, reading: BenchReading) -> float:
        """What a reading would be if the blade sank in proportion to the weight, m.

        Where the large deflection differs noticeably, by its ratio to the small one on the
        planned blade loaded until it sinks as read.

        Raises:
            EvidenceError: no blade bends so far at this place.
        """
        half, out = self.bench(reading.side).half, reading.read_x - reading.clamp_x
        tip_share = reading.deflection * (half.tip - reading.clamp_x) / out**2
        if tip_share < _DEEP:  # a bent blade sinks about as the distance squared
            return reading.deflection
        planned, _ = self.sink(reading, self.start())
        load = Load(reading.load_x, reading.load * reading.deflection / planned)
        setup = Clamped(reading.clamp_x, (load,), (reading.read_x,))
        try:
            deep = clamped_line(half, self.build, setup).at(reading.read_x)
        except (UnreachableError, RangeError):
            raise EvidenceError("no blade of this plan bends so far", field=reading.label,
                                given=f"{1e3 * reading.deflection:.1f} mm") from None
        return reading.deflection**2 / deep

    def _together(self, reading: Reading) -> tuple[Hashable, ...]:
        """What a reading is foretold with: readings with the same answer go together."""
        if isinstance(reading, BenchReading):
            return "clamp", reading.side, reading.clamp_x
        if isinstance(reading, HandsReading):
            return "hands", reading.side, reading.half_span, reading.load_x, reading.read_x
        if isinstance(reading, TapReading):
            return "tap", reading.side, reading.clamp_x
        if isinstance(reading, AtPlace):
            bench = self.bench(reading.side)
            plain = unknown_read(reading, bench, self.layout) is not None
            return ("station",) if plain else ("place", reading.side)
        return (type(reading).__name__,)

    def _group(self, readings: tuple[Reading, ...]) -> Group:
        """What foretells readings that go together, made once."""
        found = self._groups.get(readings)
        if found is None:
            found = self._groups[readings] = self._new_group(readings)
        return found

    def _new_group(self, readings: tuple[Reading, ...]) -> Group:
        first = readings[0]
        if isinstance(first, BenchReading):
            bench = [r for r in readings if isinstance(r, BenchReading)]
            cuts = [x for r in bench for x in (r.load_x, r.read_x)]
            return Clamp(first.side, bench, self._along(first.side, first.clamp_x, cuts))
        if isinstance(first, HandsReading):
            return self._hands([r for r in readings if isinstance(r, HandsReading)])
        if isinstance(first, TapReading):
            return self._tone(first, len(readings))
        if isinstance(first, WeightReading | BalanceReading):
            scale = Scale(self._both(), len(readings))
            return scale.mass if isinstance(first, WeightReading) else scale.balance
        if isinstance(first, LengthReading):
            return Lengths([r for r in readings if isinstance(r, LengthReading)], self._benches)
        return self._places([r for r in readings if isinstance(r, AtPlace)])

    def _places(self, readings: list[AtPlace]) -> Group:
        rows = [unknown_read(r, self.bench(r.side), self.layout) for r in readings]
        plain = [row for row in rows if row is not None]
        if len(plain) == len(rows):
            return AtStations(np.array(plain))
        line = Line.at(self.bench(readings[0].side), np.array([r.x for r in readings]))
        return Places(readings[0].side, readings, line)

    def _hands(self, readings: list[HandsReading]) -> Hands:
        side, half = readings[0].side, readings[0].half_span
        cuts = (half, readings[0].load_x, readings[0].read_x)
        far = self._along("b" if side == "a" else "a", 0.0, (), half)
        return Hands(readings, self._along(side, 0.0, cuts), far)

    def _tone(self, tap: TapReading, count: int) -> Group:
        if tap.side is None:
            return FreeTone(self._both(_TONE_POINTS), count)
        line = self._along(tap.side, tap.clamp_x, points=_TONE_POINTS)
        return ClampedTone(tap.side, line, count)

    def _along(self, side: Side, start: float, cuts: Sequence[float] = (),
               end: float | None = None, points: int = POINTS) -> Line:
        """Gauss points of a blade from ``start`` to its tip or ``end``, m, made once."""
        bench, where = self.bench(side), tuple(sorted(set(cuts)))
        key = (id(bench), start, where, end, points)
        found = self._lines.get(key)
        if found is None:
            axis = half_axis(bench.half, start, where, end, points)
            found = self._lines[key] = Line.along(bench, axis, self.build)
        return found

    def _both(self, points: int = POINTS) -> tuple[Line, Line]:
        """Gauss points of both blades from the centre to the tips."""
        return self._along("a", 0.0, points=points), self._along("b", 0.0, points=points)


@dataclass(frozen=True)
class Foretelling:
    """Readings in groups: which rows, and what foretells them."""

    model: Model
    count: int
    groups: tuple[tuple[npt.NDArray[np.intp], Group], ...]

    def at(self, theta: Floats) -> tuple[Floats, Floats]:
        """Return the values (readings,) and their gradients (readings, unknowns)."""
        unknowns = self.model.unknowns(theta)
        values, gradients = np.zeros(self.count), np.zeros((self.count, len(theta)))
        for rows, group in self.groups:
            values[rows], gradients[rows] = group(unknowns)
        return values, gradients
