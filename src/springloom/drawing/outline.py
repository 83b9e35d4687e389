"""A paddle's own curves as paths: face, side and sections, in mm about the paddle's centre.

Along the blade each curve is a cubic of the parameter u span by span, and so is x(u): every
span is one cubic Bézier, and nothing is fitted. Only where the ridges' share of the crown
itself changes is the side's height a product of two cubics; there the span is cut so finely
that Hermite cubics stay within :data:`SIDE_MM`.
"""

from __future__ import annotations

import math

import numpy as np

from springloom.drawing.model import Array, Fill, Path, Pen
from springloom.drawing.paths import bezier_from_points, polyline
from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.shape.section import Section

MM = 1e3
SIDE_MM = 1e-3
"""Greatest error of the side's height where it is no cubic, mm: a fiftieth of a hair."""

_HALF_WIDTH, _CROWN, _SHARE = (CHANNELS.index(n) for n in ("half_width", "crown", "share"))
# Power basis (constant first) to Bézier control values.
_TO_BEZIER = np.array([[1, 0, 0, 0], [1, 1 / 3, 0, 0], [1, 2 / 3, 1 / 3, 0], [1, 1, 1, 1]])


def face_outline(half: HalfPaddle, pen: Pen = Pen.OUTLINE, *,
                 layer: str = "outline") -> Path:
    """Return the outline seen on the face: centre to tip along +y, and back along −y, exact."""
    upper = _bezier(places(half), half.coefficients[:, _HALF_WIDTH])
    upper[-1, 3, 1] = 0.0  # the tip's width is 0, whatever rounding says
    lower = (upper * (1.0, -1.0))[::-1, ::-1]
    return Path(np.concatenate((upper, lower)), pen, layer=layer)


def side_outline(half: HalfPaddle, pen: Pen = Pen.OUTLINE, *,
                 layer: str = "side") -> Path:
    """Return the ridge lines seen from the side, upper face, tip, lower face; y = 0 the edge."""
    upper, lower = _ridge(half, upper=True), _ridge(half, upper=False)
    close = polyline((upper[-1, 3], lower[-1, 3])).segments
    return Path(np.concatenate((upper, close, lower[::-1, ::-1])), pen, layer=layer)


def section_outline(section: Section, pen: Pen = Pen.OUTLINE, *,
                    layer: str = "sections") -> Path:
    """Return a section's closed outline, width along x, upper face up; exact."""
    return Path(MM * section.controls(), pen, closed=True, layer=layer)


def silhouette(half: HalfPaddle, other: HalfPaddle, scale: float, *,
               fill: Fill = Fill.INK, layer: str = "outline") -> Path:
    """Return the whole paddle's face at ``scale``, filled, ``half`` towards +x."""
    right = face_outline(half).segments
    left = face_outline(other).segments * (-1.0, -1.0)
    # The looms meet in one section, so the two runs join to the last bit.
    return Path(scale * np.concatenate((right, left)), None, True, fill, layer)


def places(half: HalfPaddle) -> Array:
    """Power-basis coefficients of x(u) in m, shape (spans, 4), constant first."""
    knots = half.knots
    x = np.zeros((len(knots) - 1, 4))
    x[:, 0], x[:, 1] = knots[:-1], np.diff(knots)
    length = half.cap[1]
    x[-1, 1:] = 1.5 * length, 0.0, -0.5 * length
    return x


def _bezier(x: Array, y: Array) -> Array:
    """Control points in mm, shape (n, 4, 2), of power-basis cubics in m, neighbours joined."""
    points = MM * np.stack((x @ _TO_BEZIER.T, y @ _TO_BEZIER.T), axis=-1)
    points[1:, 0] = points[:-1, 3]
    return points


def _ridge(half: HalfPaddle, *, upper: bool) -> Array:
    """Control points of one ridge line, centre to tip."""
    pieces = []
    for x, c in zip(places(half), half.coefficients, strict=True):
        share = c[_SHARE] if upper else np.array([1.0, 0, 0, 0]) - c[_SHARE]
        height = np.convolve(c[_CROWN], share if upper else -share)
        pieces.append(_hermite(x, height))
    line = np.concatenate(pieces)
    line[1:, 0] = line[:-1, 3]
    return line


def _hermite(x: Array, height: Array) -> Array:
    """Hermite cubics through polynomials of t in [0, 1]: one, exact, if height is a cubic."""
    if not np.any(height[4:]):
        return _bezier(x[None], height[None, :4])
    curve = np.polynomial.Polynomial(height)
    # Hermite's error over a piece of length d is at most max|f⁗|·d⁴/384.
    fourth = MM * float(np.sum(np.abs(curve.deriv(4).coef)))
    count = max(1, math.ceil((fourth / 384.0 / SIDE_MM) ** 0.25))
    t = np.linspace(0.0, 1.0, count + 1)
    place = np.polynomial.Polynomial(x)
    points = MM * np.column_stack((place(t), curve(t)))
    slopes = MM * np.column_stack((place.deriv()(t), curve.deriv()(t))) / count
    return bezier_from_points(points, slopes).segments
