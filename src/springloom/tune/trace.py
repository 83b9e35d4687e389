"""A section as traced: how it differs from the wanted one, and what it says of the fullness.

A profile gauge gives points of one face; calipers at several insets give the thickness across
a station. Either is fitted with a section of its own width, height and fullness, and compared with
the wanted section scaled to that width and height, so that only the shape is judged.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from springloom.errors import InputError, in_range, known
from springloom.shape import section
from springloom.shape.blade import HalfPaddle
from springloom.tune.evidence import (
    DEFAULT_GAUGE,
    FACES,
    INSTRUMENTS,
    SIDES,
    Face,
    FullnessReading,
    Side,
    ThicknessReading,
)
from springloom.tune.instruments import blade_name, place_name

Floats = npt.NDArray[np.float64]

PLACE_SD = 0.0003
"""How well a caliper is set to a given inset, m (common practice, no source)."""

LEAST_POINTS = 5
"""Fewer points say nothing of a shape."""

WORTH_SAYING = 3.0
"""Sd from which a point counts as high or low, or a section as fuller than wanted."""

FULLNESS_SD = 0.15
"""How far either fullness is looked for from the plan's. Points leave one sum of both nearly open;
this keeps it where it was meant to be."""

_WIDTH_SD, _LIE_SD, _TILT_SD = 0.001, 0.0002, 0.005  # half-width and centre, baseline (m), slope
_TELLS_NOTHING = 0.15  # sd of a sum of fullnesses that is no evidence
_CURVE = 160  # chords of a face's half
_SURE = 0.01  # no gauge tells a fullness better


@dataclass(frozen=True, slots=True)
class Trace:
    """Points of a section, m.

    Attributes:
        side, x: blade, and place in m from the centre.
        points: across and high. Of one face: any place across, counted from anywhere, and the
            height above the line from edge to edge. Of both: inset from the edge, and thickness.
        face: upper or lower by a gauge, both by calipers.
        sd: of a point.
    """

    side: Side
    x: float
    points: tuple[tuple[float, float], ...]
    face: Face = "upper"
    sd: float = INSTRUMENTS[DEFAULT_GAUGE]
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what is no trace."""
        known(self.side, SIDES, "blade")
        known(self.face, FACES, "face")
        in_range(self.x, "at", 0.0, 3.0, "m from centre")
        in_range(self.sd, "sd", 0.0, 0.01, "m", open_low=True)
        if len(self.points) < LEAST_POINTS:
            raise InputError("says nothing of a shape", field="across",
                             given=f"{len(self.points)} points",
                             allowed=f"at least {LEAST_POINTS} points")
        both = self.face == "both"
        for across, high in self.points:
            in_range(across, "across", 0.0 if both else -0.3, 0.3, "m", open_low=both)
            in_range(high, "high", 0.0005 if both else -0.005, 0.1, "m")

    @property
    def label(self) -> str:
        """What the maker calls it."""
        face = "" if self.face == "both" else f"{self.face} face, "
        return f"{blade_name(self.side)}, {face}trace at {place_name(self.x, self.name)}"


@dataclass(frozen=True, slots=True)
class Deviation:
    """One point: how far from the middle (m, left is negative) and how far outside the wanted
    section (m; inside it is negative)."""

    from_middle_m: float
    off_m: float


@dataclass(frozen=True, slots=True)
class Stretch:
    """Neighbouring points that are high, or low: from and to, from the middle; the worst, m."""

    from_m: float
    to_m: float
    worst_m: float


@dataclass(frozen=True, slots=True)
class TraceFit:
    """What a trace says.

    Attributes:
        trace: the points.
        half_width, height: the section's own, m (of both faces: the thickness).
        ridge, edge: fullness of its best section.
        covariance: (2, 2) of both.
        wanted_ridge, wanted_edge: the plan's.
        deviations: from the wanted section of this width and height, in order across.
        high, low: where it is more than :data:`WORTH_SAYING` sd off.
    """

    trace: Trace
    half_width: float
    height: float
    ridge: float
    edge: float
    covariance: Floats
    wanted_ridge: float
    wanted_edge: float
    deviations: tuple[Deviation, ...]
    high: tuple[Stretch, ...]
    low: tuple[Stretch, ...]

    @property
    def readings(self) -> tuple[FullnessReading, ...]:
        """As evidence: one or two sums of the fullnesses, their errors unrelated.

        What the fit itself held against the plan is taken out again: the points alone speak.
        """
        precision = np.linalg.inv(self.covariance)
        pulled = precision @ [self.ridge, self.edge]
        pulled = pulled - np.array([self.wanted_ridge, self.wanted_edge]) / FULLNESS_SD**2
        sizes, axes = np.linalg.eigh(precision - np.eye(2) / FULLNESS_SD**2)
        trace = self.trace
        return tuple(
            FullnessReading(trace.side, trace.x, float(a), float(b), float(axis @ pulled / size),
                            math.hypot(size**-0.5, _SURE), trace.face, trace.name)
            for size, axis in zip(sizes, axes.T, strict=True) if size > 1.0 / _TELLS_NOTHING**2
            for a, b in [axis]
        )

    @property
    def fuller(self) -> tuple[float, float]:
        """How much more area it has than the wanted section of its width and height, and the sd.

        Both as a share. Area is told far better than either fullness: they nearly make up for
        one another.
        """
        wanted = section.quadrant_area(self.wanted_ridge, self.wanted_edge)
        own = section.quadrant_area(self.ridge, self.edge)
        slope = np.array([6.0 - 3.0 * self.edge, 6.0 - 3.0 * self.ridge]) / (20.0 * wanted)
        return own / wanted - 1.0, math.sqrt(float(slope @ self.covariance @ slope))

    @property
    def words(self) -> str:
        """In one sentence, in mm."""
        said = [f"{way} by {1e3 * abs(stretch.worst_m):.1f} mm {self._where(stretch)}"
                for way, stretches in (("high", self.high), ("low", self.low))
                for stretch in stretches]
        head = f"{self.trace.label}: "
        more, sd = self.fuller
        if abs(more) > WORTH_SAYING * sd:
            way = "fuller" if more > 0.0 else "leaner"
            said.append(f"{100.0 * abs(more):.0f} % {way} than wanted")
        return head + ("; ".join(said) if said else "as wanted, as far as the points tell")

    def _where(self, stretch: Stretch) -> str:
        """Of calipers' points, how far in from the edge; of a gauge's, on which side."""
        low, high = 1e3 * stretch.from_m, 1e3 * stretch.to_m
        if self.trace.face == "both":
            return f"{_span(low + 1e3 * self.half_width, high + 1e3 * self.half_width)} in"
        if low * high < 0.0:
            return f"across the middle, {-low:.0f} mm left to {high:.0f} mm right"
        return f"{_span(low, high)} {'left' if low + high < 0.0 else 'right'} of the middle"


def trace_readings(
    trace: Trace, half: HalfPaddle
) -> tuple[FullnessReading | ThicknessReading, ...]:
    """A trace as evidence: a gauge tells fullness, calipers tell thickness as well.

    Raises:
        InputError: as :func:`fit_trace`.
    """
    fit = fit_trace(trace, half)
    if trace.face != "both":
        return fit.readings
    shape = _Thickness(trace, fit.half_width)
    return tuple(
        ThicknessReading(trace.side, trace.x, high, "inset",
                         float(shape.sd_at(inset, fit.height, fit.ridge, fit.edge)),
                         trace.name, min(inset, fit.half_width))
        for inset, high in trace.points
    )


def fit_trace(trace: Trace, half: HalfPaddle) -> TraceFit:
    """Fit a section to a trace and compare it with the wanted one.

    Raises:
        RangeError: the place lies in the rounded tip or beyond.
        InputError: the points fit no section.
    """
    in_range(trace.x, trace.label, 0.0, half.cap[0] + 1e-6, "m from centre")
    planned = half.section(trace.x)
    ridge = {"upper": planned.ridge_top, "lower": planned.ridge_bottom}.get(
        trace.face, (planned.top * planned.ridge_top + planned.bottom * planned.ridge_bottom)
        / (planned.top + planned.bottom))
    fit = _fit_both if trace.face == "both" else _fit_face
    return fit(trace, planned.half_width, ridge, planned.edge)


def _fit_face(trace: Trace, half_width: float, ridge: float, edge: float) -> TraceFit:
    """By the distance of each point from the curve; the gauge may lie a little off and askew."""
    points = np.array(trace.points)
    middle = 0.5 * (points[:, 0].min() + points[:, 0].max())
    height = float(points[:, 1].max())
    if height <= 0.0:
        raise InputError("rises nowhere above its edges", field="high",
                         given=f"{1e3 * height:.1f} mm", allowed="heights above the edges' line")
    start = np.array([height, ridge, edge, half_width, middle, 0.0, 0.0])
    loose = np.array([math.inf, FULLNESS_SD, FULLNESS_SD, _WIDTH_SD, 4.0 * half_width, _LIE_SD,
                      _TILT_SD])

    def off(p: Floats) -> Floats:
        lie = points[:, 1] - p[5] - p[6] * (points[:, 0] - p[4])
        return _outside(np.column_stack([points[:, 0] - p[4], lie]), p[3], p[0], p[1], p[2])

    found, covariance = _least(off, start, loose, trace.sd)
    wanted = off(np.concatenate([found[:1], [ridge, edge], found[3:]]))
    return _told(trace, found, covariance, (ridge, edge), points[:, 0] - found[4], wanted)


def _fit_both(trace: Trace, half_width: float, ridge: float, edge: float) -> TraceFit:
    """By thickness at each inset; a point's error grows with the slope there."""
    points, shape = np.array(trace.points), _Thickness(trace, half_width)
    start = np.array([points[:, 1].max(), ridge, edge])
    spread = shape.sd_at(points[:, 0], *start) / trace.sd
    found, covariance = _least(
        lambda p: (points[:, 1] - shape.at(points[:, 0], *p)) / spread, start,
        np.array([math.inf, FULLNESS_SD, FULLNESS_SD]), trace.sd)
    wanted = (points[:, 1] - shape.at(points[:, 0], found[0], ridge, edge)) / spread
    inward = np.minimum(points[:, 0], half_width) - half_width
    return _told(trace, np.append(found, half_width), covariance, (ridge, edge), inward, wanted)


@dataclass(frozen=True, slots=True)
class _Thickness:
    """Thickness across a section of a known half-width, m."""

    trace: Trace
    half_width: float

    def at(self, inset: npt.ArrayLike, crown: float, ridge: float, edge: float) -> Floats:
        """At insets from the edge."""
        share = np.minimum(np.asarray(inset, dtype=float) / self.half_width, 1.0)
        t = section.ridge_parameter(share, ridge)
        return np.asarray(crown * (3.0 * edge * (1.0 - t) ** 2 * t + t * t * (3.0 - 2.0 * t)))

    def sd_at(self, inset: npt.ArrayLike, crown: float, ridge: float, edge: float) -> Floats:
        """Sd of a reading there: the instrument's, and where the caliper was set on the slope."""
        at, step = np.asarray(inset, dtype=float), 0.5 * PLACE_SD
        steep = (self.at(at + step, crown, ridge, edge)
                 - self.at(np.maximum(at - step, 0.0), crown, ridge, edge))
        return np.hypot(self.trace.sd, steep)


def _least(
    off: Callable[[Floats], Floats], start: Floats, loose: Floats, sd: float
) -> tuple[Floats, Floats]:
    """Parameters of the least squares of distances and priors, and the fullnesses' covariance.

    Where the points scatter more than ``sd``, for no hand cuts the curve of a formula, the
    covariance grows with them.
    """
    held = np.isfinite(loose)

    def errors(p: Floats) -> Floats:
        return np.concatenate([off(p) / sd, ((p - start) / loose)[held]])

    scale = np.where(held, np.minimum(loose, 0.1), 1e-3)
    found = least_squares(errors, start, method="lm", x_scale=scale, diff_step=[1e-6])
    points = len(found.fun) - int(np.sum(held))
    scatter = float(np.sum(found.fun[:points] ** 2)) / max(1, points - 3)
    slopes = np.asarray(found.jac, dtype=float)
    slopes[:points] /= math.sqrt(max(1.0, scatter))
    return np.asarray(found.x), np.linalg.pinv(slopes.T @ slopes)[1:3, 1:3]


def _told(trace: Trace, found: Floats, covariance: Floats, wanted: tuple[float, float],
          from_middle: Floats, off: Floats) -> TraceFit:
    if abs(found[1] - wanted[0]) > 1.0 or not np.all(np.isfinite(covariance)):
        raise InputError("fits no section", field="high", given=trace.label,
                         allowed="points of one section, edge to edge")
    order = np.argsort(from_middle)
    places, distances = from_middle[order], off[order]
    line = WORTH_SAYING * trace.sd
    return TraceFit(
        trace, float(found[3]), float(found[0]), float(found[1]), float(found[2]), covariance,
        *wanted, tuple(Deviation(float(y), float(d))
                       for y, d in zip(places, distances, strict=True)),
        _stretches(places, distances, distances > line),
        _stretches(places, distances, distances < -line),
    )


def _stretches(places: Floats, off: Floats, chosen: npt.NDArray[np.bool_]) -> tuple[Stretch, ...]:
    """Runs of neighbouring chosen points."""
    found, begin = [], None
    for i, yes in enumerate([*chosen, False]):
        if yes and begin is None:
            begin = i
        if not yes and begin is not None:
            run = slice(begin, i)
            worst = off[run][int(np.argmax(np.abs(off[run])))]
            found.append(Stretch(float(places[begin]), float(places[i - 1]), float(worst)))
            begin = None
    return tuple(found)


def _span(one: float, other: float) -> str:
    """From and to, in whole mm."""
    near, far = sorted((abs(round(one)), abs(round(other))))
    return f"{near} mm" if near == far else f"{near} to {far} mm"


@functools.cache
def _bernstein() -> Floats:
    """(chords + 1, 4) weights of a cubic's control points along half a face."""
    t = np.linspace(0.0, 1.0, _CURVE + 1)
    rest = 1.0 - t
    return np.column_stack([rest**3, 3.0 * rest**2 * t, 3.0 * rest * t * t, t**3])


def _outside(points: Floats, half_width: float, height: float, ridge: float,
             edge: float) -> Floats:
    """Distance (m) of points (n, 2) from a face, outside it positive; (0, 0) is its middle."""
    half = _bernstein() @ np.array([(half_width, 0.0), (half_width, edge * height),
                                    (ridge * half_width, height), (0.0, height)])
    at = np.column_stack([np.abs(points[:, 0]), points[:, 1]])  # the face is its own mirror image
    start, along = half[:-1], np.diff(half, axis=0)
    to = at[:, None] - start
    share = np.clip(np.sum(to * along, axis=2) / np.sum(along**2, axis=1), 0.0, 1.0)
    gap = to - share[..., None] * along
    nearest = np.argmin(np.sum(gap**2, axis=2), axis=1)
    rows = np.arange(len(at))
    best, way = gap[rows, nearest], along[nearest]
    outward = way[:, 1] * best[:, 0] - way[:, 0] * best[:, 1]
    return np.asarray(np.where(outward >= 0.0, 1.0, -1.0) * np.hypot(best[:, 0], best[:, 1]))
