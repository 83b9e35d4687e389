"""One half of a paddle, from the centre to the tip, as fair curves through stations.

The curves run over a parameter u with x(u) = u from the centre to the last station before
the tip, and from there x(u) = x₀ + a(3t − t³)/2 over a span of 1.5a in u: C2, with dx/du = 0 at
the tip, so that the outline closes round there without a vertical slope in w(u). With the
half-width falling to zero along a natural spline the tip's radius is ¾ of an ellipse's.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.errors import ShapeError, SpringloomError, in_range
from springloom.shape.curves import FairCurve, fair_curves, hermite
from springloom.shape.section import ELLIPSE, Section, edge_fullness, ridge_parameter

Floats = npt.NDArray[np.float64]

EDGE_INSET = 0.005
"""How far in from the edge calipers read the edge thickness, m (common practice, no source)."""

CHANNELS = ("half_width", "crown", "ridge_top", "ridge_bottom", "edge", "share")
"""What varies along the blade; ``share`` is the upper face's part of the crown thickness."""

_FRACTIONS = {0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}


@dataclass(frozen=True, slots=True)
class Station:
    """What is measured across the blade at one place; lengths in m.

    Attributes:
        x: distance from the paddle's centre.
        width: across the blade; 0 at the tip only, which is drawn round.
        crown: thickness at the ridge, both faces.
        edge: thickness read :data:`EDGE_INSET` in from the edge; None for an elliptic edge.
        ridge: ridge fullness of the upper face, 0 a straight diamond, :data:`ELLIPSE` an oval.
        ridge_bottom: the same of the lower face; None for the upper face's.
        share: part of the crown that lies above the widest line, more than 0; 1 for a flat
            lower face (a flat upper face is the same blade turned over).
        name: what the maker calls the place.
    """

    x: float
    width: float
    crown: float
    edge: float | None = None
    ridge: float = ELLIPSE
    ridge_bottom: float | None = None
    share: float = 0.5
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what can't be a blade; limits far outside what is carved."""
        in_range(self.x, "x", 0.0, 3.0, "m")
        in_range(self.width, "width", 0.0, 0.3, "m")
        in_range(self.crown, "crown", 0.0005, 0.1, "m")
        in_range(self.ridge, "ridge", 0.0, 1.0)
        in_range(self.share, "share", 0.0, 1.0, open_low=True)
        if self.ridge_bottom is not None:
            in_range(self.ridge_bottom, "ridge_bottom", 0.0, 1.0)
        if self.edge is not None:
            in_range(self.edge, "edge", 0.0, self.crown, "m", open_low=True)

    @property
    def low_ridge(self) -> float:
        """Ridge fullness of the lower face."""
        return self.ridge if self.ridge_bottom is None else self.ridge_bottom

    @property
    def mean_ridge(self) -> float:
        """Ridge fullness that places the caliper's edge reading: one s serves both faces."""
        return self.share * self.ridge + (1.0 - self.share) * self.low_ridge

    def channels(self, width: float, t: float) -> tuple[float, ...]:
        """Values of :data:`CHANNELS`.

        Args:
            width: at which the edge is read, m: a tip's is read at its neighbour's width.
            t: Bézier parameter of the caliper's inset there.
        """
        return (0.5 * self.width, self.crown, self.ridge, self.low_ridge,
                self._fullness(width, t), self.share)

    def fullness(self, width: float) -> float:
        """Edge fullness s of this station on a section of this width, m."""
        place = ridge_parameter(edge_inset(width) / (0.5 * width), self.mean_ridge)
        return self._fullness(width, float(place))

    def _fullness(self, width: float, t: float) -> float:
        if self.edge is None:
            return ELLIPSE
        try:
            return edge_fullness(0.5 * width, 0.5 * self.crown, self.mean_ridge, 0.5 * self.edge,
                                 edge_inset(width), t)
        except SpringloomError as error:
            raise error.within("edge") from None


def edge_inset(width: float) -> float:
    """How far in the edge is read on a section this wide, m: less on a very narrow one."""
    return min(EDGE_INSET, 0.45 * width)


@dataclass(frozen=True, slots=True)
class Loom:
    """The part the hands hold: an oval from the centre to the shoulder; lengths in m."""

    half_length: float
    width: float
    thickness: float
    blend: float = 0.025
    ridge: float = ELLIPSE
    edge: float = ELLIPSE

    def __post_init__(self) -> None:
        """Refuse what no hand holds."""
        in_range(self.half_length, "half_length", 0.05, 1.0, "m")
        in_range(self.width, "width", 0.015, 0.08, "m")
        in_range(self.thickness, "thickness", 0.015, 0.08, "m")
        in_range(self.blend, "blend", 0.005, 0.3, "m")
        in_range(self.ridge, "ridge", 0.0, 1.0)
        in_range(self.edge, "edge", 0.0, 1.0)

    @property
    def root(self) -> float:
        """Where the blade's own curves begin, m from the centre."""
        return self.half_length + self.blend

    def channels(self) -> tuple[float, ...]:
        """Values of :data:`CHANNELS`."""
        return 0.5 * self.width, self.thickness, self.ridge, self.ridge, self.edge, 0.5


@dataclass(frozen=True)
class HalfPaddle:
    """Loom half and one blade; stations from the root to the tip, in order.

    Raises:
        ShapeError: stations out of order, not starting at the root, a tip that isn't closed,
            a section wider in its thickness than its width allows.
    """

    loom: Loom
    stations: tuple[Station, ...]

    def __post_init__(self) -> None:
        """Check the stations against one another."""
        _check_order(self.loom, self.stations)

    @property
    def tip(self) -> float:
        """Distance from the centre to the tip, m."""
        return self.stations[-1].x

    @property
    def blade_length(self) -> float:
        """From the shoulder to the tip, m."""
        return self.tip - self.loom.half_length

    @functools.cached_property
    def cap(self) -> tuple[float, float]:
        """Start of the rounded tip and its length along x, m."""
        start = self.stations[-2].x
        return start, self.tip - start

    @functools.cached_property
    def knots(self) -> Floats:
        """Parameter u at centre, shoulder, root, stations …, tip; shape (n,)."""
        start, length = self.cap
        at = [0.0, self.loom.half_length, *(s.x for s in self.stations[:-1])]
        return np.array([*at, start + 1.5 * length])

    @functools.cached_property
    def blade_curves(self) -> tuple[FairCurve, ...]:
        """Curves of the blade proper, root to tip, in the order of :data:`CHANNELS`."""
        return fair_curves(self.knots[2:], self.station_values)

    @property
    def edge_widths(self) -> list[float]:
        """Width at which each station's edge is read, m: the tip's is its neighbour's."""
        widths = [s.width for s in self.stations]
        return [*widths[:-1], widths[-2]]

    @functools.cached_property
    def station_values(self) -> Floats:
        """(stations, channels) values at root … tip."""
        widths = self.edge_widths
        insets = np.array([edge_inset(width) / (0.5 * width) for width in widths])
        places = ridge_parameter(insets, np.array([s.mean_ridge for s in self.stations]))
        rows = []
        for station, width, t in zip(self.stations, widths, places.tolist(), strict=True):
            try:
                rows.append(station.channels(width, t))
            except SpringloomError as error:
                raise error.within(f"station {station.name or station.x}") from None
        return np.array(rows)

    @functools.cached_property
    def coefficients(self) -> Floats:
        """(spans, channels, 4) cubic coefficients in each span's own t, constant first."""
        loom = np.array(self.loom.channels())
        blade = np.stack([c.coefficients for c in self.blade_curves], axis=1)
        straight = np.zeros((len(CHANNELS), 4))
        straight[:, 0] = loom
        lengths = np.diff(self.knots)
        blend = [
            hermite(lengths[1], loom[c], 0.0, blade[0, c, 0], blade[0, c, 1] / lengths[2])
            for c in range(len(CHANNELS))
        ]
        return np.concatenate([straight[None], np.array(blend)[None], blade])

    def checked(self) -> HalfPaddle:
        """Return itself once its curves are made, so that a bad edge is told now, not later."""
        _ = self.coefficients
        return self

    def parameter(self, x: npt.ArrayLike) -> Floats:
        """Parameter u at distance x (m) from the centre; any shape."""
        at = np.asarray(x, dtype=float)
        start, length = self.cap
        share = np.clip((at - start) / length, 0.0, 1.0)
        # 3t − t³ = 2·share with t = 2 sin(φ), sin 3φ = share
        t = 2.0 * np.sin(np.arcsin(share) / 3.0)
        return np.asarray(np.where(at <= start, at, start + 1.5 * length * t))

    def place(self, u: npt.ArrayLike) -> tuple[Floats, Floats]:
        """Distance x(u) from the centre in m, and dx/du."""
        at = np.asarray(u, dtype=float)
        start, length = self.cap
        t = np.clip((at - start) / (1.5 * length), 0.0, 1.0)
        return at - 1.5 * length * t + 0.5 * length * t * (3.0 - t * t), 1.0 - t * t

    def values(self, u: npt.ArrayLike) -> Floats:
        """Channel values at parameters u: shape (channels, *u.shape)."""
        at = np.clip(np.asarray(u, dtype=float), 0.0, self.knots[-1])
        span = np.clip(np.searchsorted(self.knots, at, side="right") - 1, 0, len(self.knots) - 2)
        t = (at - self.knots[span]) / (self.knots[span + 1] - self.knots[span])
        c = np.moveaxis(self.coefficients[span], -2, 0)
        return np.asarray(c[..., 0] + t * (c[..., 1] + t * (c[..., 2] + t * c[..., 3])))

    def span_values(self, breaks: Floats, nodes: Floats) -> Floats:
        """Channel values at ``nodes`` of [0, 1] between consecutive ``breaks`` of u.

        Every knot between the first and the last break must be a break itself, so that each
        stretch lies in one span.

        Returns:
            (channels, breaks−1, nodes) array, as :meth:`values` but in one product.
        """
        middle = 0.5 * (breaks[:-1] + breaks[1:])
        span = np.clip(np.searchsorted(self.knots, middle) - 1, 0, len(self.knots) - 2)
        length = self.knots[span + 1] - self.knots[span]
        start = (breaks[:-1] - self.knots[span]) / length
        t = start[:, None] + (np.diff(breaks) / length)[:, None] * nodes
        powers = np.stack([np.ones_like(t), t, t * t, t * t * t], axis=1)
        return np.moveaxis(self.coefficients[span] @ powers, 1, 0)

    def section(self, x: float) -> Section:
        """Section at distance x (m) from the centre; not at the very tip, which has no width."""
        in_range(x, "x", 0.0, self.tip * (1.0 - 1e-9), "m")
        w, crown, *shares = (float(v) for v in self.values(self.parameter(x)))
        r_top, r_low, s, share = (min(max(v, 0.0), 1.0) for v in shares)  # but for rounding
        return Section(w, crown * share, crown * (1.0 - share), r_top, r_low, s)

    def at_fraction(self, fraction: float) -> float:
        """Distance from the centre of a fraction of the blade's length from shoulder to tip, m."""
        return self.loom.half_length + fraction * self.blade_length

    def with_crowns(self, crowns: npt.ArrayLike) -> HalfPaddle:
        """Return a copy with these crown thicknesses (m), edges scaled with them."""
        new = []
        for station, crown in zip(self.stations, np.asarray(crowns, dtype=float), strict=True):
            scale = float(crown) / station.crown
            edge = None if station.edge is None else station.edge * scale
            new.append(replace(station, crown=float(crown), edge=edge))
        return replace(self, stations=tuple(new))

    def notes(self) -> tuple[str, ...]:
        """What the fairness rules had to do, one sentence a channel; empty when all ran free."""
        named = zip(CHANNELS, self.blade_curves, strict=True)
        return tuple(
            f"{name.replace('_', ' ')}: {_SAID[curve.fairness]}"
            for name, curve in named
            if curve.fairness == "shape-preserving"
        )


_SAID = {
    "shape-preserving": "a batten through these stations would overshoot; a shape-preserving "
    "curve is used, with small breaks in curvature at the stations",
}


def station_name(x: float, loom: Loom, tip: float) -> str:
    """What a maker calls the place at x: root, a fraction of the blade, or mm from the tip."""
    if math.isclose(x, loom.root, abs_tol=5e-4):
        return "root"
    if math.isclose(x, tip, abs_tol=5e-4):
        return "tip"
    share = (x - loom.half_length) / (tip - loom.half_length)
    for fraction, name in _FRACTIONS.items():
        if math.isclose(share, fraction, abs_tol=1e-3):
            return name
    return f"{1e3 * (tip - x):.0f} mm from tip"


def _check_order(loom: Loom, stations: tuple[Station, ...]) -> None:
    if len(stations) < 4:
        raise ShapeError("needs a root, a tip and two stations between", field="stations",
                         given=len(stations), allowed="4 or more")
    if not math.isclose(stations[0].x, loom.root, abs_tol=1e-6):
        raise ShapeError("the first station must be the root", field="stations",
                         given=f"{1e3 * stations[0].x:.1f} mm",
                         allowed=f"{1e3 * loom.root:.1f} mm")
    for before, after in itertools.pairwise(stations):
        if after.x - before.x < 0.005:
            raise ShapeError("stations must run from root to tip, 5 mm apart or more",
                             field=f"station {after.name or after.x}",
                             given=f"{1e3 * after.x:.1f} mm after {1e3 * before.x:.1f} mm")
        if before.width <= 0.0:
            raise ShapeError("only the tip has no width", field=f"station {before.name}",
                             given=before.width, allowed="more than 0 m")
        if before.crown > 1.6 * before.width:
            raise ShapeError("is far thicker than it is wide", field=f"station {before.name}",
                             given=f"crown {1e3 * before.crown:.1f} mm",
                             allowed=f"at most {1600 * before.width:.1f} mm at this width")
    if stations[-1].width != 0.0:
        raise ShapeError("the tip closes round: its width is 0", field="station tip",
                         given=stations[-1].width, allowed="0 m")
