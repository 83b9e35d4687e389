"""What each reading should be, given the unknowns, and how it changes with each of them.

Unknowns, in order: ln E of blade A and of blade B, ln density, the clamp's turning per moment
for each blade, then for each blade the crown and the edge thickness at its stations. Between
stations a change runs along the plan's own splines. Derivatives are exact: I's derivative by the
edge fullness comes from a complex step, everything else is differentiated by hand.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from springloom.errors import EvidenceError, RangeError, UnreachableError
from springloom.mechanics.axis import half_axis
from springloom.mechanics.beam import Load
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.mechanics.stiffness import Build, Rigidity, faces, rigidity_at
from springloom.shape import section
from springloom.shape.blade import CHANNELS, EDGE_INSET, HalfPaddle
from springloom.shape.curves import flat_stations, spline_operator
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import SIDES, BenchReading, Reading, Side, ThicknessReading

Floats = npt.NDArray[np.float64]

_CROWN, _EDGE = CHANNELS.index("crown"), CHANNELS.index("edge")
_TINY = 1e-30  # complex step: no subtraction, so no rounding
_SLACK = 1e-9
_DEEP = 0.05  # of its length: with less the elastica differs by under 0.4 %
_MOST_INSET = 0.9  # of the half-width; where a blade is that narrow the caliper sits further out


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
        return _edge_share(np.minimum(2.0 * EDGE_INSET / np.array(widths), _MOST_INSET), r)

    def reaches(self, x: Floats) -> tuple[Floats, Floats]:
        """Return :meth:`cardinal` of the crown and of the edge fullness."""
        return self.cardinal(x, _CROWN), self.cardinal(x, _EDGE)

    def cardinal(self, x: Floats, channel: int = _CROWN) -> Floats:
        """How far each station's change of a channel reaches: (*x.shape, stations).

        On the blade this is the plan's own spline, in the blend the cubic that leaves the loom as
        it is, so it is 0 from the shoulder inward and sums to 1 from the root outward.
        """
        knots = self.half.knots[1:]
        u = np.clip(self.half.parameter(x), knots[0], knots[-1])
        span = np.clip(np.searchsorted(knots, u, side="right") - 1, 0, len(knots) - 2)
        t = (u - knots[span]) / (knots[span + 1] - knots[span])
        powers = t[..., None] ** np.arange(4)
        return np.asarray(np.einsum("...p,...ps->...s", powers, self._operator(channel)[span]))

    def _operator(self, channel: int) -> Floats:
        """Map from a channel's changes at the stations to cubics from the shoulder outward."""
        half = self.half
        knots, curve = half.knots[1:], half.blade_curves[channel]
        flat = curve.fairness == "flat at extremes"
        held = flat_stations(half.station_values[:, channel]) if flat else ()
        blade = spline_operator(tuple(float(k) for k in knots[1:]), held)
        end, slope = blade[0, 0], blade[0, 1] * (knots[1] - knots[0]) / (knots[2] - knots[1])
        none = np.zeros_like(end)
        blend = np.array([none, none, 3.0 * end - slope, slope - 2.0 * end])
        return np.concatenate([blend[None], blade])


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
        crown, s = (float(v[0]) for v in self._crowns_and_s(line, side, theta))
        gradient = np.zeros(at.size)
        if reading.kind == "crown":
            gradient[at.crowns(side)] = line.reach[0]
            return crown, gradient
        free, span = line.edge_share
        by_crown, by_s = free + span * s, crown * span
        self._chain(gradient, side, theta, line, np.array([by_crown]), np.array([by_s]))
        return crown * by_crown, gradient

    def sink(self, reading: BenchReading, theta: Floats) -> tuple[float, Floats]:
        """Deflection of a clamped blade in m and its gradient (unknowns,).

        The unit-load theorem: δ = P ∫ (m m̄/EI + v v̄/kGA) dx, plus the clamp's own turning. A
        layup's EI changes with the shape as solid wood's does: exact where strips run through the
        thickness, within 1 % of δ for 2 mm off a crown where one lies in the middle of it.
        """
        at, side = self.layout, reading.side
        line = self._line(side, ("clamp", reading.clamp_x, reading.load_x, reading.read_x))
        change = line.change(*self._crowns_and_s(line, side, theta))
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
        return float(np.sum(flex + slip) + theta[at.clamp(side)] * turn), gradient

    def weight(self, theta: Floats) -> tuple[float, Floats]:
        """Mass of the paddle in kg and its gradient (unknowns,)."""
        at = self.layout
        gradient = np.zeros(at.size)
        total = 0.0
        for side in SIDES:
            line = self._line(side, ("whole",))
            change = line.change(*self._crowns_and_s(line, side, theta))
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
        s = bench.fullness(crowns, theta[at.edges(side)])[0]
        s = np.clip(s, _SLACK, 1.0 - _SLACK)  # it is worked out again from the edge
        edges = bench.edges_from(crowns, s)
        stations = tuple(
            replace(station, crown=float(crown), edge=float(edge))
            for station, crown, edge in zip(bench.half.stations, crowns, edges, strict=True)
        )
        return replace(bench.half, stations=stations)

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

    def _crowns_and_s(self, line: _Line, side: Side, theta: Floats) -> tuple[Floats, Floats]:
        """Crown and edge fullness along a line with the stations' crowns and edges changed."""
        at, bench = self.layout, self.bench(side)
        crowns = theta[at.crowns(side)]
        s, _, _ = bench.fullness(crowns, theta[at.edges(side)])
        return (line.planned[_CROWN] + line.reach @ (crowns - bench.crowns),
                line.planned[_EDGE] + line.reach_s @ (s - bench.half.station_values[:, _EDGE]))

    def _chain(self, gradient: Floats, side: Side, theta: Floats, line: _Line, by_crown: Floats,
               by_s: Floats) -> None:
        """Carry derivatives along a line over to the stations' crowns and edges."""
        at, bench = self.layout, self.bench(side)
        _, s_crown, s_edge = bench.fullness(theta[at.crowns(side)], theta[at.edges(side)])
        from_s = by_s @ line.reach_s
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
            planned = bench.half.values(bench.half.parameter(x))
            return _Line(x, np.ones(1), planned, None, *bench.reaches(x))
        start, *cuts = (float(p) for p in places) if kind == "clamp" else (0.0,)
        axis = half_axis(bench.half, start, cuts)
        planned = axis.values.reshape(len(CHANNELS), -1)
        x = axis.x.ravel()
        return _Line(x, axis.weight.ravel(), planned, rigidity_at(planned, self.build),
                     *bench.reaches(x))


@dataclass(frozen=True)
class _Line:
    """Points along one blade, flat; ``planned`` are the plan's shape channels there."""

    x: Floats
    weight: Floats
    planned: Floats
    planned_rigidity: Rigidity | None
    reach: Floats
    reach_s: Floats

    @property
    def rigid(self) -> Rigidity:
        """The plan's rigidities; E follows its unknown and I the shape."""
        if self.planned_rigidity is None:
            raise ValueError("a single place has no rigidity")  # a slip of ours
        return self.planned_rigidity

    @functools.cached_property
    def edge_share(self) -> tuple[float, float]:
        """Caliper thickness over crown at a single place is ``free + span·s``."""
        w, _, r_top, r_low, _, share = (float(v) for v in self.planned[:, 0])
        return _edge_share(min(EDGE_INSET / w, _MOST_INSET), share * r_top + (1.0 - share) * r_low)

    def change(self, crown: Floats, s: Floats) -> _Change:
        """Compare the sections of these crowns and edge fullnesses with the planned ones.

        The faces keep their shares of the crown, so that I goes with its cube and area with it.
        """
        (i_planned, _), (a_planned, _) = self._units_planned
        (i_now, i_s), (a_now, a_s) = self._units(s)
        thinner = self.planned[_CROWN] / crown
        return _Change(
            inertia=i_planned / i_now * thinner**3, area=a_planned / a_now * thinner,
            ln_i_crown=3.0 / crown, ln_i_s=i_s / i_now, ln_a_crown=1.0 / crown, ln_a_s=a_s / a_now,
        )

    @functools.cached_property
    def _units_planned(self) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
        return self._units(self.planned[_EDGE])

    def _units(self, s: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
        """I and area for a crown and a half-width of 1, each with its derivative by s."""
        inertia = section.i_flat(1.0, self._unit_faces, s + 1j * _TINY)
        blunt, full = (section.area(1.0, self._unit_faces, end) for end in (0.0, 1.0))
        by_s = full - blunt  # area is linear in s
        return (np.real(inertia), np.imag(inertia) / _TINY), (blunt + by_s * s, by_s)

    @functools.cached_property
    def _unit_faces(self) -> section.Faces:
        unit = self.planned.copy()
        unit[_CROWN] = 1.0
        return faces(unit)


@dataclass(frozen=True, slots=True)
class _Change:
    """Planned over actual section properties, and the actual ones' logarithmic derivatives."""

    inertia: Floats
    area: Floats
    ln_i_crown: Floats
    ln_i_s: Floats
    ln_a_crown: Floats
    ln_a_s: Floats


def _edge_share(inset_share: Any, r: Any) -> tuple[Any, Any]:
    """Thickness over crown at this share of the half-width in from the edge: free, span."""
    t = section.ridge_parameter(inset_share, r)
    return 3.0 * (1.0 - t) * t * t + t**3, 3.0 * (1.0 - t) ** 2 * t
