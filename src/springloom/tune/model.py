"""What each reading should be, given the unknowns, and how it changes with each of them.

Unknowns, in order: ln E of blade A and of blade B, ln density, the clamp's turning per moment
for each blade, then for each blade the crown and the edge thickness at its stations. Shapes
between stations change along cardinal splines. Derivatives are exact: the section's
polynomials are evaluated with a complex step, everything else is differentiated by hand.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import half_axis
from springloom.mechanics.stiffness import Build, Rigidity, faces, rigidity_at
from springloom.shape import section
from springloom.shape.blade import CHANNELS, EDGE_INSET, HalfPaddle
from springloom.shape.curves import spline_operator
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import SIDES, BenchReading, Reading, Side, ThicknessReading

Floats = npt.NDArray[np.float64]

_CROWN, _EDGE = CHANNELS.index("crown"), CHANNELS.index("edge")
_TINY = 1e-30  # complex step: no subtraction, so no rounding


@dataclass(frozen=True, slots=True)
class Layout:
    """Which entry of the vector of unknowns is what."""

    stations: tuple[int, int]

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return 5 + 2 * sum(self.stations)

    def ln_e(self, side: Side) -> int:
        """Index of ln E."""
        return SIDES.index(side)

    @property
    def ln_density(self) -> int:
        """Index of ln density."""
        return 2

    def clamp(self, side: Side) -> int:
        """Index of the clamp's turning per moment, rad/(N·m)."""
        return 3 + SIDES.index(side)

    def crowns(self, side: Side) -> slice:
        """Indices of a blade's crowns, m."""
        start = 5 if side == "a" else 5 + 2 * self.stations[0]
        return slice(start, start + self.stations[SIDES.index(side)])

    def edges(self, side: Side) -> slice:
        """Indices of a blade's edge thicknesses, m."""
        crowns = self.crowns(side)
        return slice(crowns.stop, crowns.stop + self.stations[SIDES.index(side)])


@dataclass(frozen=True)
class Bench:
    """One half-paddle as the plan has it, ready to be varied."""

    half: HalfPaddle

    @functools.cached_property
    def crowns(self) -> Floats:
        """Planned crowns at the stations, m."""
        return np.array([s.crown for s in self.half.stations])

    @functools.cached_property
    def edges(self) -> Floats:
        """Planned edge thicknesses at the stations, m."""
        return self.edges_from(self.crowns, self.half.station_values[:, _EDGE])

    def edges_from(self, crowns: Floats, s: Floats) -> Floats:
        """Edge thicknesses of these crowns and edge fullnesses, m."""
        free, span = self._edge_shares
        return np.asarray(crowns * (free + span * s))

    def fullness(self, crowns: Floats, edges: Floats) -> tuple[Floats, Floats, Floats]:
        """Edge fullness at the stations, and its derivatives by crown and by edge."""
        free, span = self._edge_shares
        s = (edges / crowns - free) / span
        return s, -edges / (crowns**2 * span), 1.0 / (crowns * span)

    @functools.cached_property
    def _edge_shares(self) -> tuple[Floats, Floats]:
        """Edge over crown thickness is ``free + span·s``; both per station."""
        stations, values = self.half.stations, self.half.station_values
        widths = [s.width or stations[i - 1].width for i, s in enumerate(stations)]
        share = values[:, CHANNELS.index("share")]
        r = share * values[:, 2] + (1.0 - share) * values[:, 3]
        inset = np.array([min(EDGE_INSET, 0.45 * w) / (0.5 * w) for w in widths])
        t = section.ridge_parameter(inset, r)
        return 3.0 * (1.0 - t) * t * t + t**3, 3.0 * (1.0 - t) ** 2 * t

    def cardinal(self, x: Floats) -> Floats:
        """How far each station's change reaches: (*x.shape, stations), 0 at the shoulder."""
        half = self.half
        knots = tuple(float(k) for k in half.knots[1:])
        operator = spline_operator(knots, ())
        u = np.clip(half.parameter(x), knots[0], knots[-1])
        span = np.clip(np.searchsorted(knots, u, side="right") - 1, 0, len(knots) - 2)
        start, end = np.array(knots)[span], np.array(knots)[span + 1]
        t = (u - start) / (end - start)
        powers = t[..., None] ** np.arange(4)
        return np.asarray(np.einsum("...p,...ps->...s", powers, operator[span])[..., 1:])


@dataclass(frozen=True)
class Model:
    """Predicts readings of a paddle made of ``build``."""

    paddle: Paddle
    build: Build
    _lines: dict[tuple[str | float, ...], _Line] = field(
        default_factory=dict, compare=False, repr=False
    )

    @property
    def layout(self) -> Layout:
        """Where each unknown stands."""
        return Layout((len(self.paddle.a.stations), len(self.paddle.b.stations)))

    @functools.cached_property
    def _benches(self) -> tuple[Bench, Bench]:
        return Bench(self.paddle.a), Bench(self.paddle.b)

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
        return theta

    def predict(self, reading: Reading, theta: Floats) -> tuple[float, Floats]:
        """Return the value a reading should have and its gradient (unknowns,)."""
        if isinstance(reading, ThicknessReading):
            return self._thickness(reading, theta)
        if isinstance(reading, BenchReading):
            return self.sink(reading, theta)
        return self.weight(theta)

    def _thickness(self, reading: ThicknessReading, theta: Floats) -> tuple[float, Floats]:
        at, side = self.layout, reading.side
        line = self._line(side, ("place", reading.x))
        values = self._values(line, side, theta)
        gradient = np.zeros(at.size)
        if reading.kind == "crown":
            gradient[at.crowns(side)] = line.reach[0]
            return float(values[_CROWN, 0]), gradient
        total, by_crown, by_s = _edge_thickness(values[:, 0])
        self._chain(gradient, side, theta, line, np.array([by_crown]), np.array([by_s]))
        return total, gradient

    def sink(self, reading: BenchReading, theta: Floats) -> tuple[float, Floats]:
        """Deflection of a clamped blade in m and its gradient (unknowns,).

        The unit-load theorem: δ = P ∫ (m m̄/EI + v v̄/kGA) dx, plus the clamp's own turning.
        """
        at, side = self.layout, reading.side
        line = self._line(side, ("clamp", reading.clamp_x, reading.load_x, reading.read_x))
        change = _change(line.planned, self._values(line, side, theta))
        lever = np.maximum(reading.load_x - line.x, 0.0) * np.maximum(reading.read_x - line.x, 0.0)
        scale = reading.load * np.exp(-theta[at.ln_e(side)]) * line.weight
        flex = scale * lever / line.rigid.ei * change.inertia
        slip = scale * (lever > 0.0) / line.rigid.shear * change.area
        moment = reading.load * (reading.load_x - reading.clamp_x)
        turn = moment * (reading.read_x - reading.clamp_x)
        gradient = np.zeros(at.size)
        gradient[at.ln_e(side)] = -float(np.sum(flex + slip))
        gradient[at.clamp(side)] = turn
        self._chain(gradient, side, theta, line,
                    -(flex * change.ln_i_crown + slip * change.ln_a_crown),
                    -(flex * change.ln_i_s + slip * change.ln_a_s))
        return float(np.sum(flex + slip)) + theta[at.clamp(side)] * turn, gradient

    def weight(self, theta: Floats) -> tuple[float, Floats]:
        """Mass of the paddle in kg and its gradient (unknowns,)."""
        at = self.layout
        gradient = np.zeros(at.size)
        total = 0.0
        for side in SIDES:
            line = self._line(side, ("whole",))
            change = _change(line.planned, self._values(line, side, theta))
            mass = line.weight * line.rigid.mass / change.area * np.exp(theta[at.ln_density])
            total += float(np.sum(mass))
            self._chain(gradient, side, theta, line,
                        mass * change.ln_a_crown, mass * change.ln_a_s)
        gradient[at.ln_density] = total
        return total, gradient

    def shaped(self, side: Side, theta: Floats) -> HalfPaddle:
        """Return the blade these unknowns describe, edges held to what a section can have."""
        at, bench = self.layout, self.bench(side)
        crowns = theta[at.crowns(side)]
        s = np.clip(bench.fullness(crowns, theta[at.edges(side)])[0], 0.0, 1.0)
        edges = bench.edges_from(crowns, s)
        stations = tuple(
            replace(station, crown=float(crown), edge=float(edge))
            for station, crown, edge in zip(bench.half.stations, crowns, edges, strict=True)
        )
        return replace(bench.half, stations=stations)

    def _values(self, line: _Line, side: Side, theta: Floats) -> Floats:
        """Shape channels on a line with the stations' crowns and edges changed."""
        at, bench = self.layout, self.bench(side)
        crowns, edges = theta[at.crowns(side)], theta[at.edges(side)]
        s, _, _ = bench.fullness(crowns, edges)
        new = line.planned.copy()
        new[_CROWN] += line.reach @ (crowns - bench.crowns)
        new[_EDGE] += line.reach @ (s - bench.half.station_values[:, _EDGE])
        return new

    def _chain(self, gradient: Floats, side: Side, theta: Floats, line: _Line, by_crown: Floats,
               by_s: Floats) -> None:
        """Carry derivatives along a line over to the stations' crowns and edges."""
        at, bench = self.layout, self.bench(side)
        _, s_crown, s_edge = bench.fullness(theta[at.crowns(side)], theta[at.edges(side)])
        from_s = by_s @ line.reach
        gradient[at.crowns(side)] += by_crown @ line.reach + from_s * s_crown
        gradient[at.edges(side)] += from_s * s_edge

    def _line(self, side: Side, key: tuple[str | float, ...]) -> _Line:
        """Points of one kind of reading; a bench is set up once, then read many times."""
        found = self._lines.get((side, *key))
        if found is None:
            found = self._lines[side, *key] = self._new_line(self.bench(side), key)
        return found

    def _new_line(self, bench: Bench, key: tuple[str | float, ...]) -> _Line:
        kind, *places = key
        if kind == "place":
            x = np.array(places, dtype=float)
            return _Line(x, np.ones(1), bench.half.values(bench.half.parameter(x)), None,
                         bench.cardinal(x))
        start, *cuts = (float(p) for p in places) if kind == "clamp" else (0.0,)
        axis = half_axis(bench.half, start, cuts)
        planned = axis.values.reshape(len(CHANNELS), -1)
        return _Line(axis.x.ravel(), axis.weight.ravel(), planned,
                     rigidity_at(planned, self.build), bench.cardinal(axis.x.ravel()))


@dataclass(frozen=True, slots=True)
class _Line:
    """Points along one blade, flat; ``planned`` are the plan's shape channels there."""

    x: Floats
    weight: Floats
    planned: Floats
    planned_rigidity: Rigidity | None
    reach: Floats

    @property
    def rigid(self) -> Rigidity:
        """The plan's rigidities; E follows its unknown and I the shape."""
        if self.planned_rigidity is None:
            raise ValueError("a single place has no rigidity")  # a slip of ours
        return self.planned_rigidity


@dataclass(frozen=True, slots=True)
class _Change:
    """Planned over actual section properties, and the actual ones' logarithmic derivatives."""

    inertia: Floats
    area: Floats
    ln_i_crown: Floats
    ln_i_s: Floats
    ln_a_crown: Floats
    ln_a_s: Floats


def _change(planned: Floats, actual: Floats) -> _Change:
    i_now, a_now = _inertia(actual), _area(actual)
    derivatives = []
    for quantity, now in ((_inertia, i_now), (_area, a_now)):
        for channel in (_CROWN, _EDGE):
            stepped = actual.astype(complex)
            stepped[channel] += 1j * _TINY
            derivatives.append(np.imag(quantity(stepped)) / _TINY / now)
    return _Change(_inertia(planned) / i_now, _area(planned) / a_now, *derivatives)


def _inertia(values: Floats) -> Floats:
    return np.asarray(section.i_flat(values[0], faces(values), values[_EDGE]))


def _area(values: Floats) -> Floats:
    return np.asarray(section.area(values[0], faces(values), values[_EDGE]))


def _edge_thickness(values: Floats) -> tuple[float, float, float]:
    """Thickness at the caliper's inset, and its derivatives by crown and edge fullness."""
    w, crown, r_top, r_low, s, share = (float(v) for v in values)
    r = share * r_top + (1.0 - share) * r_low
    t = float(section.ridge_parameter(min(EDGE_INSET / w, 0.9), r))
    free, span = 3.0 * (1.0 - t) * t * t + t**3, 3.0 * (1.0 - t) ** 2 * t
    return crown * (free + span * s), free + span * s, crown * span

