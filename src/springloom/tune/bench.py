"""One half of the plan, ready to be varied: how a change at a station reaches along the blade."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.shape import section
from springloom.shape.blade import CHANNELS, EDGE_INSET, HalfPaddle, Station
from springloom.shape.curves import flat_stations, spline_operator
from springloom.tune.instruments import Side
from springloom.tune.layout import Layout

Floats = npt.NDArray[np.float64]

WIDTH, CROWN, TOP, LOW, EDGE, SHARE = range(len(CHANNELS))
"""Places of :data:`springloom.shape.blade.CHANNELS`."""

MOST_INSET = 0.9
"""Of the half-width; where a blade is that narrow the caliper's edge reading sits further out."""

_SLACK = 1e-9


@dataclass(frozen=True)
class Bench:
    """One half-paddle as the plan has it."""

    half: HalfPaddle

    @functools.cached_property
    def crowns(self) -> Floats:
        """Planned crowns at the stations, m."""
        return np.array([s.crown for s in self.half.stations])

    @functools.cached_property
    def widths(self) -> Floats:
        """Planned widths at the stations but the tip, m."""
        return np.array([s.width for s in self.half.stations[:-1]])

    @functools.cached_property
    def ridges(self) -> Floats:
        """Planned ridge fullness that places the caliper's edge reading, at the stations."""
        return np.array([s.mean_ridge for s in self.half.stations])

    @functools.cached_property
    def edges(self) -> Floats:
        """Planned edge thicknesses at the stations, m."""
        planned = EdgeShare.of(self.widths, self.ridges)
        return self.crowns * (planned.free + planned.span * self.half.station_values[:, EDGE])

    @functools.cached_property
    def length(self) -> float:
        """From the root to the tip, m: what a longer blade stretches."""
        return self.half.tip - self.half.loom.root

    def cardinal(self, x: Floats, channel: int = CROWN) -> Floats:
        """How far each station's change of a channel reaches: (*x.shape, stations)."""
        return self.cardinals(x)[channel]

    def cardinals(self, x: Floats) -> tuple[Floats, ...]:
        """How far each station's change of each channel reaches: (*x.shape, stations) arrays.

        On the blade this is the plan's own spline, in the blend the cubic that leaves the loom as
        it is, so it is 0 from the shoulder inward and sums to 1 from the root outward.
        """
        knots = self.half.knots[1:]
        u = np.clip(self.half.parameter(x), knots[0], knots[-1])
        span = np.clip(np.searchsorted(knots, u, side="right") - 1, 0, len(knots) - 2)
        t = (u - knots[span]) / (knots[span + 1] - knots[span])
        powers = t[..., None] ** np.arange(4)
        made = {held: np.einsum("...p,...ps->...s", powers, operator[span])
                for held, operator in self._operators.items()}
        return tuple(made[held] for held in self._held)

    @functools.cached_property
    def _held(self) -> tuple[tuple[int, ...], ...]:
        """Stations at which each channel's curve is flat."""
        values = self.half.station_values.T
        return tuple(flat_stations(column) if curve.fairness == "flat at extremes" else ()
                     for curve, column in zip(self.half.blade_curves, values, strict=True))

    @functools.cached_property
    def _operators(self) -> dict[tuple[int, ...], Floats]:
        """Maps from changes at the stations to cubics from the shoulder outward, by flat ones."""
        return {held: self._operator(held) for held in set(self._held)}

    def _operator(self, held: tuple[int, ...]) -> Floats:
        knots = self.half.knots[1:]
        blade = spline_operator(tuple(float(k) for k in knots[1:]), held)
        end, slope = blade[0, 0], blade[0, 1] * (knots[1] - knots[0]) / (knots[2] - knots[1])
        none = np.zeros_like(end)
        blend = np.array([none, none, 3.0 * end - slope, slope - 2.0 * end])
        return np.concatenate([blend[None], blade])


@dataclass(frozen=True, slots=True)
class EdgeShare:
    """Caliper edge over crown is ``free + span·s``, with what it changes by ridge and width.

    Attributes:
        free, span: at each place.
        free_ridge, span_ridge: derivatives by the ridge's fullness.
        free_width, span_width: by the width, 1/m.
    """

    free: Floats
    span: Floats
    free_ridge: Floats
    span_ridge: Floats
    free_width: Floats
    span_width: Floats

    @classmethod
    def of(cls, widths: Floats, ridges: Floats) -> EdgeShare:
        """At these widths (m) and ridges; where there is one width fewer the last serves twice."""
        wide = widths if len(widths) == len(ridges) else np.append(widths, widths[-1])
        inset = 2.0 * EDGE_INSET / wide
        place = Inset.of(np.minimum(inset, MOST_INSET), ridges)
        by_width = np.where(inset < MOST_INSET, -inset / wide, 0.0) * place.t_inset
        return cls(place.free, place.span, place.free_t * place.t_ridge,
                   place.span_t * place.t_ridge, place.free_t * by_width,
                   place.span_t * by_width)


@dataclass(frozen=True, slots=True)
class Inset:
    """Height of a face over its ridge's is ``free + span·s`` at a share of the half-width in.

    Attributes:
        free, span: at each place.
        free_t, span_t: derivatives by the Bézier parameter there.
        t_inset, t_ridge: that parameter's derivatives by the share and by the ridge's fullness.
    """

    free: Floats
    span: Floats
    free_t: Floats
    span_t: Floats
    t_inset: Floats
    t_ridge: Floats

    @classmethod
    def of(cls, inset_share: Floats, ridges: Floats) -> Inset:
        """Any shape; t solves (3 − 3r) t² − (2 − 3r) t³ = share."""
        t = np.asarray(section.ridge_parameter(inset_share, ridges))
        slope = t * (6.0 * (1.0 - ridges) - (6.0 - 9.0 * ridges) * t)
        slope = np.maximum(slope, _SLACK)  # only at the very edge or ridge
        square, rest = t * t, 1.0 - t
        return cls(square * (3.0 - 2.0 * t), 3.0 * rest * rest * t, 6.0 * t * rest,
                   3.0 * rest * (1.0 - 3.0 * t), 1.0 / slope, 3.0 * square * rest / slope)


@dataclass(frozen=True, slots=True)
class Blade:
    """The unknowns of one blade, taken apart; edge fullness ``s`` with its derivatives.

    Attributes:
        side, layout: whose, and where they stand in the vector.
        crowns, edges, ridges: at the stations; ridges beyond the plan's.
        widths: at the stations but the tip.
        longer: than planned, m.
        s: edge fullness at the stations.
        s_crown, s_edge, s_ridge, s_width: its derivatives by what is unknown at the same station
            (the tip's by its neighbour's width).
    """

    side: Side
    layout: Layout
    crowns: Floats
    edges: Floats
    ridges: Floats
    widths: Floats
    longer: float
    s: Floats
    s_crown: Floats
    s_edge: Floats
    s_ridge: Floats
    s_width: Floats

    @classmethod
    def of(cls, bench: Bench, layout: Layout, side: Side, theta: Floats) -> Blade:
        """Take one blade's unknowns out of the vector."""
        crowns, edges, ridges, widths = (
            theta[part(side)] for part in (layout.crowns, layout.edges, layout.ridges,
                                           layout.widths)
        )
        share = EdgeShare.of(widths, bench.ridges + ridges)
        s = (edges / crowns - share.free) / share.span
        return cls(
            side, layout, crowns, edges, ridges, widths, float(theta[layout.longer(side)]), s,
            -edges / (crowns**2 * share.span), 1.0 / (crowns * share.span),
            -(share.free_ridge + s * share.span_ridge) / share.span,
            -(share.free_width + s * share.span_width) / share.span,
        )

    def carried(self, gradient: Floats, crown: Floats, s: Floats, ridge: Floats,
                width: Floats) -> None:
        """Add derivatives by the stations' own values, (…, stations), to ``gradient`` (…, n)."""
        at, side = self.layout, self.side
        gradient[..., at.crowns(side)] += crown + s * self.s_crown
        gradient[..., at.edges(side)] += s * self.s_edge
        gradient[..., at.ridges(side)] += ridge + s * self.s_ridge
        narrow = s * self.s_width
        wide = width[..., :-1] + narrow[..., :-1]
        wide[..., -1] += narrow[..., -1]
        gradient[..., at.widths(side)] += wide

    def shaped(self, bench: Bench) -> HalfPaddle:
        """Return the blade drawn, edges and ridges held to what a section can have."""
        half, root = bench.half, bench.half.loom.root
        stretch = 1.0 + self.longer / bench.length
        turned = [_refilled(*pair) for pair in zip(half.stations, self.ridges, strict=True)]
        share = EdgeShare.of(self.widths, np.array([s.mean_ridge for s in turned]))
        s = (self.edges / self.crowns - share.free) / share.span
        s = np.clip(s, _SLACK, 1.0 - _SLACK)  # it is worked out again from the edge
        edges, widths = self.crowns * (share.free + share.span * s), np.append(self.widths, 0.0)
        return replace(half, stations=tuple(
            replace(station, x=root + stretch * (station.x - root), width=float(widths[i]),
                    crown=float(self.crowns[i]), edge=float(edges[i]))
            for i, station in enumerate(turned)
        ))


def _refilled(station: Station, more: float) -> Station:
    """Return a station with this much more ridge fullness, as far as a section can have it."""
    low = station.ridge_bottom
    return replace(station, edge=None, ridge=_held(station.ridge + more),
                   ridge_bottom=None if low is None else _held(low + more))


def _held(share: float) -> float:
    return float(min(max(share, 0.0), 1.0))
