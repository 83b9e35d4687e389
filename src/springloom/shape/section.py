"""A cross-section whose quadrants are cubic Béziers, with closed-form properties.

A quadrant runs from the edge (w, 0) to the ridge (0, h) with handles (w, s·h) and (r·w, h);
w and h are the half-width and the face's height above the widest line, ``s`` the edge
fullness and ``r`` the ridge fullness. With the unit quadrant (w = h = 1) in the variable t,

    y(t) = (1−t)³ + 3(1−t)²t + 3r(1−t)t²,      z(t) = 3s(1−t)²t + 3(1−t)t² + t³,

area and moments are ∫ yᵐ zⁿ dz / …, polynomials in r and s. They are derived symbolically in
``tests/verification/test_section.py``, which compares every coefficient below.

y is across the blade, z through it; "flat" bending turns the section about y (the way a
blade flexes under the stroke), "edge" bending turns it about z.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from springloom.errors import ShapeError, in_range

ELLIPSE = 4.0 * (math.sqrt(2.0) - 1.0) / 3.0
"""Fullness that makes a quadrant an ellipse to 2.8e-4 of its area (2.7e-4 of its radius)."""

Floats = npt.NDArray[np.float64]
Number = Any  # a float or an array of floats; numpy's own operators decide


def quadrant_area(r: Number, s: Number) -> Number:
    """Area of the unit quadrant: ∫ y dz."""
    return (10.0 + 6.0 * r + 6.0 * s - 3.0 * r * s) / 20.0


def quadrant_first(r: Number, s: Number) -> Number:
    """First moment of the unit quadrant about its y axis: ∫ y z dz."""
    return (140.0 + 150.0 * r + 102.0 * s + 45.0 * s * s - 27.0 * r * s * (1.0 + s)) / 840.0


def quadrant_second(r: Number, s: Number) -> Number:
    """Second moment of the unit quadrant about its y axis: ∫ y z² dz.

    About the z axis it is ``quadrant_second(s, r)``: the figure is its own mirror image
    when r and s change places.
    """
    own = 1.0 / 12.0 + 27.0 * r / 220.0 + s * (101.0 / 1540.0 + s * (3.0 / 77.0 + s * 3.0 / 220.0))
    return own - r * s * (13.0 + 54.0 * s + 27.0 * s * s) / 3080.0


def ridge_parameter(inset_share: Number, r: Number) -> Number:
    """Bézier parameter t at which the unit quadrant's y is ``1 − inset_share``.

    y does not depend on s, so an edge thickness read at a known inset fixes s alone. The cubic
    1 − y = a t² − b t³, a = 3 − 3r, b = 2 − 3r, rises over [0, 1]; its root there has Viète's
    closed form while b is clearly positive, and a few Newton steps finish or replace it.

    Args:
        inset_share: distance in from the edge over the half-width, in [0, 1].
        r: ridge fullness.
    """
    d, full = np.broadcast_arrays(np.asarray(inset_share, dtype=float), np.asarray(r, dtype=float))
    a, b = 3.0 - 3.0 * full, 2.0 - 3.0 * full
    safe = np.maximum(b, 0.2)
    cosine = np.clip(1.0 - 13.5 * safe * safe * d / np.maximum(a, 0.6) ** 3, -1.0, 1.0)
    angle = (np.arccos(cosine) + 4.0 * math.pi) / 3.0
    viete = a / (3.0 * safe) * (1.0 + 2.0 * np.cos(angle))
    t = np.clip(np.where(b >= 0.2, viete, np.sqrt(d / np.maximum(a, 1.0))), 0.0, 1.0)
    for _ in range(30):
        gap = t * t * (a - b * t) - d
        if float(np.max(np.abs(gap), initial=0.0)) < 4e-16:
            break
        slope = t * (2.0 * a - 3.0 * b * t)
        t = np.clip(t - gap / np.where(slope > 1e-9, slope, 1e-9), 0.0, 1.0)
    return t


def edge_fullness(w: float, h: float, r: float, edge_half: float, inset: float,
                  t: float | None = None) -> float:
    """Edge fullness s that gives ``edge_half`` (half the edge thickness) at ``inset``.

    All lengths in m. z(t) is linear in s at the t that ``inset`` fixes; ``t`` may be given where
    :func:`ridge_parameter` has already been solved for many sections at once.

    Raises:
        ShapeError: no convex section does (s would leave [0, 1]); carries the thicknesses
            that are possible.
    """
    t = float(ridge_parameter(inset / w, r)) if t is None else t
    free = h * (3.0 * (1.0 - t) * t * t + t**3)
    span = h * 3.0 * (1.0 - t) ** 2 * t
    s = (edge_half - free) / span
    if not 0.0 <= s <= 1.0:
        low, high = 2e3 * free, 2e3 * (free + span)
        raise ShapeError(
            "no convex section has this edge thickness at this width, crown and ridge fullness",
            given=f"{2e3 * edge_half:.2f} mm at {1e3 * inset:.0f} mm in",
            allowed=f"{low:.2f} to {high:.2f} mm",
        )
    return s


@dataclass(frozen=True, slots=True)
class Section:
    """One cross-section; lengths in m, fullnesses without unit.

    Attributes:
        half_width: w, from the centre line to the edge.
        top: height of the upper face's ridge above the widest line.
        bottom: depth of the lower face's ridge below it (0 for a flat lower face).
        ridge_top, ridge_bottom: ridge fullness r of each face, in [0, 1].
        edge: edge fullness s of both faces, in [0, 1].
    """

    half_width: float
    top: float
    bottom: float
    ridge_top: float
    ridge_bottom: float
    edge: float

    def __post_init__(self) -> None:
        """Refuse what is no section."""
        in_range(self.half_width, "half_width", 0.0, 1.0, "m", open_low=True)
        in_range(self.top, "top", 0.0, 1.0, "m", open_low=True)
        in_range(self.bottom, "bottom", 0.0, 1.0, "m")
        for name in ("ridge_top", "ridge_bottom", "edge"):
            in_range(getattr(self, name), name, 0.0, 1.0)

    @classmethod
    def symmetric(cls, half_width: float, half_thickness: float, r: float, s: float) -> Section:
        """Return a section with two like faces."""
        return cls(half_width, half_thickness, half_thickness, r, r, s)

    @property
    def area(self) -> float:
        """Area, m²."""
        return float(area(self.half_width, self._faces(), self.edge))

    @property
    def centroid(self) -> float:
        """Height of the centroid above the widest line, m."""
        return float(centroid(self.half_width, self._faces(), self.edge))

    @property
    def i_flat(self) -> float:
        """Second moment about the y axis through the centroid, m⁴."""
        return float(i_flat(self.half_width, self._faces(), self.edge))

    @property
    def i_edge(self) -> float:
        """Second moment about the z axis, m⁴."""
        return float(i_edge(self.half_width, self._faces(), self.edge))

    def _faces(self) -> Faces:
        return (self.top, self.ridge_top), (self.bottom, self.ridge_bottom)

    def outline(self, per_quadrant: int = 24) -> Floats:
        """Closed outline, (4·per_quadrant, 2) array of (y, z) in m, counter-clockwise."""
        t = np.linspace(0.0, 1.0, per_quadrant, endpoint=False)
        upper = _quadrant(t, self.half_width, self.top, self.ridge_top, self.edge)
        lower = _quadrant(t, self.half_width, self.bottom, self.ridge_bottom, self.edge)
        start, end = np.array([self.half_width, 0.0]), np.array([0.0, 1.0])
        top, bottom = end * self.top, -end * self.bottom
        flip = np.array([-1.0, 1.0])
        first = upper
        second = np.vstack([top, (upper[1:] * flip)[::-1]])
        third = np.vstack([start * flip, (lower * -1.0)[1:]])
        fourth = np.vstack([bottom, (lower * -flip)[1:][::-1]])
        return np.vstack([first, second, third, fourth])

    def controls(self) -> Floats:
        """Bézier control points, (4 quadrants, 4, 2) array of (y, z) in m, counter-clockwise."""
        w, s = self.half_width, self.edge
        up = np.array([(w, 0), (w, s * self.top), (self.ridge_top * w, self.top), (0, self.top)])
        low = np.array(
            [(w, 0), (w, s * self.bottom), (self.ridge_bottom * w, self.bottom), (0, self.bottom)]
        )
        flip = np.array([-1.0, 1.0])
        return np.array([up, (up * flip)[::-1], -low, (low * -flip)[::-1]])

    def thickness_at(self, inset: float) -> float:
        """Thickness a caliper reads at ``inset`` (m) from the edge, both faces together."""
        in_range(inset, "inset", 0.0, self.half_width, "m")
        return float(thickness_at(self.half_width, self._faces(), self.edge, inset))


Faces = tuple[tuple[Number, Number], tuple[Number, Number]]
"""((height, ridge fullness) of the upper face, the same of the lower)."""


@dataclass(frozen=True, slots=True)
class FlatProperties:
    """What flat bending needs of sections, worked out together; floats or arrays, SI.

    Attributes:
        area: m².
        centroid: height above the widest line, m.
        i_flat: second moment about the y axis through the centroid, m⁴.
        area_top: area of the upper face, m².
        first_top: its first moment about the widest line, m³.
    """

    area: Number
    centroid: Number
    i_flat: Number
    area_top: Number
    first_top: Number


def flat_properties(w: Number, faces: Faces, s: Number) -> FlatProperties:
    """Return area, centroid and flat second moment at once; arguments as in :func:`area`."""
    (top, r_top), (low, r_low) = faces
    double = 2.0 * w
    alike = r_top is r_low or np.array_equal(r_top, r_low)
    upper = (quadrant_area(r_top, s), quadrant_first(r_top, s), quadrant_second(r_top, s))
    lower = upper if alike else (
        quadrant_area(r_low, s), quadrant_first(r_low, s), quadrant_second(r_low, s)
    )
    area_top, first_top = double * top * upper[0], double * top * top * upper[1]
    total = area_top + double * low * lower[0]
    first = first_top - double * low * low * lower[1]
    second = double * (top**3 * upper[2] + low**3 * lower[2])
    return FlatProperties(total, first / total, second - first * first / total, area_top, first_top)


def area(w: Number, faces: Faces, s: Number) -> Number:
    """Area; every argument a float or an array, lengths in m."""
    return 2.0 * w * sum(h * quadrant_area(r, s) for h, r in faces)


def centroid(w: Number, faces: Faces, s: Number) -> Number:
    """Height of the centroid above the widest line, m."""
    return flat_properties(w, faces, s).centroid


def i_flat(w: Number, faces: Faces, s: Number) -> Number:
    """Second moment about the y axis through the centroid, m⁴."""
    return flat_properties(w, faces, s).i_flat


def thickness_at(w: Number, faces: Faces, s: Number, inset: float) -> Number:
    """Thickness (m) at ``inset`` (m) from the edge, both faces together."""
    (top, r_top), (low, r_low) = faces
    t_top = ridge_parameter(inset / w, r_top)
    alike = np.array_equal(r_top, r_low)
    t_low = t_top if alike else ridge_parameter(inset / w, r_low)
    return top * _unit_z(t_top, s) + low * _unit_z(t_low, s)


def i_edge(w: Number, faces: Faces, s: Number) -> Number:
    """Second moment about the z axis, m⁴."""
    return 2.0 * w**3 * sum(h * quadrant_second(s, r) for h, r in faces)


def _unit_z(t: Number, s: Number) -> Number:
    return 3.0 * s * (1.0 - t) ** 2 * t + 3.0 * (1.0 - t) * t * t + t**3


def _quadrant(t: Floats, w: float, h: float, r: float, s: float) -> Floats:
    y = (1.0 - t) ** 3 + 3.0 * (1.0 - t) ** 2 * t + 3.0 * r * (1.0 - t) * t * t
    return np.column_stack([w * y, h * _unit_z(t, s)])
