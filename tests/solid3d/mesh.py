"""Half a blade (y ≥ 0) in 20-node bricks whose every surface node lies on the true surface.

Across a section the bricks form an O-grid: a core block round the axis and a ring from it to
the outline, so that no brick has a flat corner. A node is kept by its place in the unit half-disc,
(ρ, φ) with φ from the upper ridge. In a section it lies at ρ times the outline's point of Bézier
parameter 1 − φ/90° (in the lower face φ/90° − 1 counts from the edge): where the outline bends
most the nodes crowd, and the bricks' parabolas follow a cubic best at even steps of its own
parameter. Convex sections are star-shaped from the axis, so the map is one to one. Along the
blade the planes follow the shape's own parameter u, which crowds them towards the tip;
every station is a plane.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.shape.blade import HalfPaddle

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

TIP_CLIP = 0.002
"""The mesh ends this far before the tip, m, where the width would fall to zero."""

_CORE = 0.5  # corner of the core in the unit half-disc
_BULGE = 0.12  # how far the middle of a core side stands out, which eases the corners' angles


@dataclass(frozen=True, slots=True)
class Grid:
    """How fine: bricks across the half section, and along the blade.

    Attributes:
        core: bricks from the axis to the core's side.
        ring: layers from there to the outline.
        step: greatest length of a brick in the shape's parameter, m.
    """

    core: int = 2
    ring: int = 1
    step: float = 0.016


@dataclass(frozen=True, slots=True)
class Mesh:
    """A half blade in bricks; nodes count from 0.

    Attributes:
        nodes: (n, 3) x, y, z in m.
        bricks: (bricks, 20) nodes in CalculiX's order for C3D20.
        root: nodes of the clamped plane.
        symmetry: nodes of the plane y = 0.
        axis: nodes on y = z = 0, from the root to the end.
        crown: nodes of the upper ridge, from the root to the end.
        end: nodes of the last plane, which carries the load.
        end_shares: their parts of a load spread evenly over it, summing to 1.
    """

    nodes: Floats
    bricks: Ints
    root: Ints
    symmetry: Ints
    axis: Ints
    crown: Ints
    end: Ints
    end_shares: Floats


@dataclass(frozen=True, slots=True)
class _Disc:
    """8-node quadrilaterals of the unit half-disc.

    Attributes:
        rho, phi: (n,) place of each node.
        quads: (quads, 8) corners counter-clockwise in (y, z), then the middles between them.
        corner: (n,) whether a node is a corner of its quadrilaterals.
    """

    rho: Floats
    phi: Floats
    quads: Ints
    corner: npt.NDArray[np.bool_]


def blade_mesh(half: HalfPaddle, grid: Grid | None = None) -> Mesh:
    """Mesh the blade from the root to :data:`TIP_CLIP` before the tip."""
    fine = grid or Grid()
    disc = _disc(fine.core, fine.ring)
    planes = _planes(half, fine.step)
    sections = np.stack([_section_nodes(half, float(u), disc) for u in planes])
    x = np.broadcast_to(half.place(planes)[0][:, None, None], (*sections.shape[:2], 1))
    number = _numbers(len(planes), disc.corner)
    on_plane = np.abs(disc.rho * np.sin(disc.phi)) < 1e-9
    return Mesh(
        nodes=np.concatenate([x, sections], axis=2)[number >= 0],
        bricks=_bricks(number, disc.quads),
        root=number[0],
        symmetry=_present(number[:, on_plane].ravel()),
        axis=_present(number[:, int(np.argmin(disc.rho))]),
        crown=_present(number[:, int(np.argmin(np.hypot(disc.rho - 1.0, disc.phi)))]),
        end=number[-1],
        end_shares=_even_shares(sections[-1], disc.quads),
    )


def _planes(half: HalfPaddle, step: float) -> Floats:
    """Parameters u of all planes: ends and middles of the bricks in turn."""
    first, last = half.loom.root, float(half.parameter(half.tip - TIP_CLIP))
    bounds = [first, *(u for u in half.knots if first + 1e-9 < u < last - 1e-9), last]
    pieces = [
        np.linspace(a, b, 2 * int(np.ceil((b - a) / step)) + 1)[:-1]
        for a, b in itertools.pairwise(bounds)
    ]
    return np.concatenate([*pieces, [last]])


def _section_nodes(half: HalfPaddle, u: float, disc: _Disc) -> Floats:
    """(n, 2) y and z of the disc's nodes in the section at u."""
    w, crown, r_top, r_low, s, share = (float(v) for v in half.values(u))
    t = 1.0 - disc.phi / (0.5 * np.pi)
    upper = _quadrant(np.maximum(t, 0.0), r_top, s) * (w, crown * share)
    lower = _quadrant(np.maximum(-t, 0.0), r_low, s) * (w, -crown * (1.0 - share))
    return np.asarray(disc.rho[:, None] * np.where((t >= 0.0)[:, None], upper, lower))


def _quadrant(t: Floats, r: float, s: float) -> Floats:
    """(n, 2) points of the unit quadrant, edge at t = 0, ridge at t = 1."""
    bernstein = np.stack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3], axis=1)
    return np.asarray(bernstein @ np.array([(1.0, 0.0), (1.0, s), (r, 1.0), (0.0, 1.0)]))


def _disc(core: int, ring: int) -> _Disc:
    blocks = [_core_block(core), _ring_block(core, ring)]
    points = np.concatenate([block.reshape(-1, 2) for block in blocks])
    # Blocks share nodes along their seam; a rounded −0.0 would pass for another place than 0.
    _, first, same = np.unique(
        np.round(points, 9) + 0.0, axis=0, return_index=True, return_inverse=True
    )
    numbers = np.split(same.ravel(), [blocks[0].size // 2])
    shaped = [n.reshape(b.shape[:2]) for n, b in zip(numbers, blocks, strict=True)]
    quads = np.concatenate([_quads(n) for n in shaped])
    used = np.unique(quads)  # a quadrilateral has no node at its centre
    y, z = points[first][used].T
    return _Disc(
        np.hypot(y, z), np.arctan2(y, z), np.searchsorted(used, quads),
        np.isin(used, quads[:, :4]),
    )


def _core_block(core: int) -> Floats:
    """(2·core+1, 4·core+1, 2) points of the core, y ≥ 0, its sides standing out a little."""
    a = np.linspace(0.0, 1.0, 2 * core + 1)[:, None]
    b = np.linspace(-1.0, 1.0, 4 * core + 1)[None, :]
    y = _CORE * a * (1.0 + _BULGE * (1.0 - b * b))
    z = _CORE * b * (1.0 + _BULGE * (1.0 - a * a))
    return np.stack(np.broadcast_arrays(y, z), axis=2)


def _ring_block(core: int, ring: int) -> Floats:
    """(2·ring+1, 8·core+1, 2) points from the core's side to the circle, from the bottom up."""
    block = _core_block(core)
    inner = np.concatenate([block[:-1, 0], block[-1], block[-2::-1, -1]])
    phi = np.linspace(np.pi, 0.0, len(inner))
    outer = np.column_stack([np.sin(phi), np.cos(phi)])
    share = np.linspace(0.0, 1.0, 2 * ring + 1)[:, None, None]
    return np.asarray(inner + share * (outer - inner))


def _quads(index: Ints) -> Ints:
    """8-node quadrilaterals over a doubled grid of node numbers, counter-clockwise."""
    corner = (index[:-2:2, :-2:2], index[2::2, :-2:2], index[2::2, 2::2], index[:-2:2, 2::2])
    middle = (index[1::2, :-2:2], index[2::2, 1::2], index[1::2, 2::2], index[:-2:2, 1::2])
    return np.stack([*corner, *middle], axis=-1).reshape(-1, 8)


def _numbers(planes: int, corner: npt.NDArray[np.bool_]) -> Ints:
    """(planes, n) node number of each disc node in each plane, −1 where a brick has none."""
    there = np.ones((planes, len(corner)), dtype=bool)
    there[1::2] = corner
    number = np.full(there.shape, -1, dtype=np.int64)
    number[there] = np.arange(np.count_nonzero(there))
    return number


def _bricks(number: Ints, quads: Ints) -> Ints:
    low, mid, high = (number[start::2][: len(number) // 2] for start in (0, 1, 2))
    corners, middles = quads[:, :4], quads[:, 4:]
    parts = [low[:, corners], high[:, corners], low[:, middles], high[:, middles], mid[:, corners]]
    return np.concatenate(parts, axis=2).reshape(-1, 20)


def _present(numbers: Ints) -> Ints:
    return numbers[numbers >= 0]


def _even_shares(points: Floats, quads: Ints) -> Floats:
    """Parts of an even traction: −1/12 of a quadrilateral's area at a corner, 1/3 at a middle.

    Exact for a parallelogram (∫ of the 8-node shape functions); how the load is spread within
    the end dies out within a width of it.
    """
    y, z = np.moveaxis(points[quads[:, :4]], 2, 0)
    area = 0.5 * np.sum(y * np.roll(z, -1, axis=1) - np.roll(y, -1, axis=1) * z, axis=1)
    shares = np.zeros(len(points))
    np.add.at(shares, quads, area[:, None] * np.repeat([-1.0 / 12.0, 1.0 / 3.0], 4))
    return np.asarray(shares / np.sum(area))
