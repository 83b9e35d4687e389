"""A watertight triangle mesh of the paddle within a stated chord tolerance.

Each span of the net is cut into equal steps along and each quadrant into equal steps across.
A triangle inside a rectangle du × dv of the parameters lies nowhere further from the surface
than (du²·|S_uu| + 2·du·dv·|S_uv| + dv²·|S_vv|)/8 with the greatest second derivatives there
(Filip, Magedson and Markot, Computer Aided Geometric Design 3, 1986; from memory, and held by a
test). Those are bounded by differences of the control points, so the tolerance is kept for
sure, at the price of some triangles.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.errors import in_range
from springloom.shape.paddle import Paddle
from springloom.solid.net import (
    ACROSS,
    FLAT,
    QUADRANTS,
    bernstein_basis,
    net_of,
    quadrant_columns,
)

Floats = npt.NDArray[np.float64]
Indices = npt.NDArray[np.int64]

FINEST, COARSEST = 5e-6, 5e-3
"""Chord tolerances that make sense for wood, m; the finest gives some 400 000 triangles."""

_COLUMNS = [quadrant_columns(k) for k in range(QUADRANTS)]
_LEAST_BEND = 1e-12  # m; keeps a straight span from dividing by zero
_LEAST, _MOST = 3, 400  # steps across a quadrant that are tried


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """A closed surface; triangles run counter-clockwise to an eye outside.

    Attributes:
        vertices: (n, 3) places in m: x along the paddle to tip A, y across, z through it.
        triangles: (m, 3) indices of vertices.
        chord_m: no point of the mesh is further from the true surface, and none of the
            surface from the mesh.
    """

    vertices: Floats
    triangles: Indices
    chord_m: float

    @property
    def corners(self) -> Floats:
        """(m, 3 corners, 3) places of each triangle's corners, m."""
        return self.vertices[self.triangles]

    @property
    def volume_m3(self) -> float:
        """Enclosed volume, by the divergence theorem."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)

    @property
    def area_m2(self) -> float:
        """Surface."""
        return float(np.linalg.norm(self.area_vectors, axis=1).sum())

    @property
    def area_vectors(self) -> Floats:
        """(m, 3) outward normal of each triangle times its area, m²."""
        a, b, c = np.moveaxis(self.corners, 1, 0)
        return np.asarray(0.5 * np.cross(b - a, c - a))


def mesh_of(paddle: Paddle, chord_m: float = 1e-4) -> Mesh:
    """Return a mesh that stays within ``chord_m`` of the surface.

    Raises:
        RangeError: ``chord_m`` outside :data:`FINEST` to :data:`COARSEST`.
    """
    chord = in_range(chord_m, "chord_m", FINEST, COARSEST, "m")
    net = net_of(paddle)
    across, along = _steps(np.array([_bounds(span) for span in net]), chord)
    points = _rings(net, across, along)
    numbers = np.arange(points.shape[0] * points.shape[1]).reshape(points.shape[:2])
    for tip in (0, -1):
        numbers[tip] = _closed(numbers[tip], points[tip], across)
    used, triangles = np.unique(_triangles(numbers, across), return_inverse=True)
    return Mesh(points.reshape(-1, 3)[used], triangles.reshape(-1, 3), chord)


def _bounds(span: Floats) -> list[float]:
    """Greatest |S_vv|, |S_uv|, |S_uu| of a span, with u and v of [0, 1], m."""
    n = len(span) - 1
    patches = span[:, _COLUMNS]
    second = [
        n * (n - 1) * np.diff(patches, 2, axis=0),
        n * ACROSS * np.diff(np.diff(patches, axis=0), axis=2),
        ACROSS * (ACROSS - 1) * np.diff(patches, 2, axis=2),
    ]
    return [float(np.linalg.norm(d, axis=-1).max(initial=0.0)) for d in second]


def _steps(bounds: Floats, chord: float) -> tuple[int, Indices]:
    """Steps across a quadrant and along each span that need the fewest triangles."""
    across = np.arange(_LEAST, _MOST)[:, None]
    du = 1.0 / across
    vv, uv, uu = np.maximum(bounds, _LEAST_BEND).T
    room = np.maximum(8.0 * chord - du * du * uu, 0.0)
    # The positive root of dv²·vv + 2·du·dv·uv = room, written so that a straight span is safe.
    twist = du * uv
    dv = room / (twist + np.sqrt(twist * twist + vv * room))
    with np.errstate(divide="ignore"):
        along = np.maximum(np.ceil(1.0 / dv), 1.0)
    best = int(np.argmin(across[:, 0] * along.sum(axis=1)))
    return int(across[best, 0]), along[best].astype(np.int64)


def _rings(net: Sequence[Floats], across: int, along: Indices) -> Floats:
    """(rings, 4·across, 3) places: closed rings from tip B to tip A."""
    rows = [
        np.tensordot(bernstein_basis(len(span) - 1, np.arange(steps) / steps), span, axes=1)
        for span, steps in zip(net, along.tolist(), strict=True)
    ]
    controls = np.concatenate([*rows, net[-1][-1:]])[:, _COLUMNS]
    basis = bernstein_basis(ACROSS, np.arange(across) / across)
    places: Floats = np.einsum("uc,rqcx->rqux", basis, controls)
    return places.reshape(len(controls), -1, 3)


def _closed(numbers: Indices, points: Floats, across: int) -> Indices:
    """Vertex numbers of a tip ring, whose left lies on its right and whose height may be none."""
    order = np.arange(len(numbers))
    mirror = (2 * across - order) % len(numbers)  # the ridge above is at `across`
    right = numbers[np.where((order > across) & (order <= 3 * across), mirror, order)]
    return np.where(np.abs(points[:, 2]) < FLAT, numbers[0], right)


def _triangles(numbers: Indices, across: int) -> Indices:
    """Triangles between neighbouring rings, those without area at the tips left out.

    The diagonal changes hands at every ridge and edge, and halfway along, so that the mesh is
    its own mirror image where the paddle is; it is the one that bulges on a blade that widens
    and thins outward. Next to a tip it must start from the tip's own ridge: from the ring's,
    the diagonals of left and right would be one edge.
    """
    a, b = numbers[:-1], numbers[1:]
    a_next, b_next = np.roll(a, -1, axis=1), np.roll(b, -1, axis=1)
    odd = (np.arange(a.shape[1]) // across) % 2 == 1
    row = np.arange(len(a))[:, None]
    near_b, inner = row < len(a) // 2, (row > 0) & (row < len(a) - 1)
    rising = [a, a_next, b_next, a, b_next, b]
    falling = [a, a_next, b, a_next, b_next, b]
    corners = [np.where(odd ^ near_b ^ inner, *pair) for pair in zip(falling, rising, strict=True)]
    flat: Indices = np.stack(corners, axis=-1).reshape(-1, 3)
    first, second, third = flat.T
    whole = (first != second) & (second != third) & (third != first)
    return np.asarray(flat[whole])
