"""The order a paddle is carved in: what is left of the blank after each stage.

Every stage is a figure in the section: the squared blank's rectangle, the rectangle of the sawn
outline, that of the taper too, the polygons of the flats, and at last the section itself. Their
areas are closed forms of the shape's channels, so a volume is one integral along the paddle.
"""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.shape import section
from springloom.shape.blade import HalfPaddle
from springloom.shape.blank import Blank, blank_for
from springloom.shape.facets import PLANED, Flats, polygon_area
from springloom.shape.paddle import Paddle

Floats = npt.NDArray[np.float64]

STAGES = ("squared", "sawn", "tapered", "first flats", "second flats", "rounded", "finished")
"""Stages in order. After "second flats" the loom has 16 sides; "rounded" takes each arris off
once more, by eye, which leaves 32; "finished" is the wanted surface."""

TAPERED = STAGES.index("tapered")
_SAME = 1e-12  # of a fullness or a share: rounding
POINTS = 16
"""Gauss points a span; volumes settle to 1e-9 of themselves."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the whole paddle.

    Attributes:
        name: one of :data:`STAGES`.
        volume_m3: of the wood left.
        left_m: greatest thickness of wood outside the wanted surface; None while the saw still
            has to come.
        left_at_m: where that is, from the centre; positive on blade A.
    """

    name: str
    volume_m3: float
    left_m: float | None
    left_at_m: float | None


@dataclass(frozen=True)
class Carving:
    """One half in its blank, with the flats of both faces."""

    half: HalfPaddle
    blank: Blank

    @functools.cached_property
    def alike(self) -> bool:
        """Whether both faces are the same all along."""
        _, _, r_top, r_low, _, share = np.moveaxis(self.half.coefficients, 1, 0)
        middle = np.array([0.5, 0.0, 0.0, 0.0])
        return bool(np.allclose(r_top, r_low, rtol=0.0, atol=_SAME)
                    and np.allclose(share, middle, rtol=0.0, atol=_SAME))

    @functools.cached_property
    def flats(self) -> tuple[Flats, Flats]:
        """Flats of the upper and the lower face; the same ones where these are alike."""
        upper = Flats(self.half)
        return upper, upper if self.alike else Flats(self.half, upper=False)

    @functools.cached_property
    def nodes(self) -> tuple[Floats, Floats]:
        """Gauss points u, and weights so that Σ weight·f is ∫ f dx from centre to tip; (n,)."""
        at, weights = np.polynomial.legendre.leggauss(POINTS)
        width = np.diff(self.half.knots)[:, None]
        u = (self.half.knots[:-1, None] + 0.5 * width * (at + 1.0)).ravel()
        return u, (0.5 * width * weights).ravel() * self.half.place(u)[1]

    def areas(self, u: npt.ArrayLike) -> Floats:
        """Area of the section after each stage at parameters u (n,); shape (stages, n), m²."""
        polygons = [np.sum([polygon_area(face) for face in self.faces(u, n)], axis=0) * 2.0
                    for n in range(len(STAGES) - 1)]
        w, crown, r_top, r_low, s, share = self.half.values(u)
        heights = ((crown * share, r_top), (crown * (1.0 - share), r_low))
        return np.stack((*polygons, section.area(w, heights, s)))

    def faces(self, u: npt.ArrayLike, stage: int) -> tuple[Floats, Floats]:
        """Corners of the upper and the lower right quadrant after a stage before "finished".

        Each has shape (n, corners, 2), from the edge to the ridge, (y, z) in m, both positive.
        """
        if stage >= TAPERED:
            made = {face: face.vertices(u, PLANED[stage - TAPERED])
                    for face in dict.fromkeys(self.flats)}
            return made[self.flats[0]], made[self.flats[1]]
        sawn = self.half.values(u)[0]
        w = sawn if stage else np.full_like(sawn, 0.5 * self.blank.width_m)
        return _box(w, self.blank.above_m), _box(w, self.blank.below_m)

    def volumes(self) -> Floats:
        """Volume of this half after each stage, m³."""
        u, weight = self.nodes
        volumes = self.areas(u) @ weight
        volumes[0] = 0.5 * self.blank.volume_m3  # a half of it, room at the end included
        return np.asarray(volumes)

    def left(self, stage: int) -> tuple[float, float]:
        """Greatest thickness of wood left after a stage from "tapered" on, and its x, m."""
        if stage == len(STAGES) - 1:
            return 0.0, 0.0
        u = _fine(self.half.knots)
        faces = dict.fromkeys(self.flats)
        each = np.max([f.left(u, PLANED[stage - TAPERED]) for f in faces], axis=0)
        worst = int(np.argmax(each))
        return float(each[worst]), float(self.half.place(u[worst])[0])


def carvings(paddle: Paddle, blank: Blank | None = None) -> tuple[Carving, Carving]:
    """Return both halves in their common blank; the same one twice where they are alike.

    Without ``blank``, the one to buy for, its room at edges and ends included.
    """
    return _carvings(paddle, blank or blank_for(paddle))


@functools.lru_cache(maxsize=8)
def _carvings(paddle: Paddle, blank: Blank) -> tuple[Carving, Carving]:
    """Keep the last few: choosing where flats touch is most of the work on one."""
    first = Carving(paddle.a, blank)
    return first, first if paddle.is_symmetric else Carving(paddle.b, blank)


def stages(paddle: Paddle, blank: Blank | None = None) -> tuple[Stage, ...]:
    """Return the stages of a whole paddle in their order; ``blank`` as in :func:`carvings`."""
    a, b = carvings(paddle, blank)
    volumes = a.volumes() + b.volumes()
    return tuple(_stage(n, float(volume), a, b) for n, volume in enumerate(volumes))


def _stage(n: int, volume: float, a: Carving, b: Carving) -> Stage:
    if n < TAPERED:
        return Stage(STAGES[n], volume, None, None)
    left, at = a.left(n)
    other, there = (left, at) if b is a else b.left(n)
    return Stage(STAGES[n], volume, *((other, -there) if other > left else (left, at)))


def _box(w: Floats, h: float) -> Floats:
    """Corners of a squared quadrant, as :meth:`Flats.vertices` gives them."""
    none, high = np.zeros_like(w), np.full_like(w, h)
    return np.stack([np.stack(p, axis=-1) for p in ((w, none), (w, high), (none, high))], axis=-2)


def _fine(knots: Floats) -> Floats:
    """Return 30 steps to a span: what is greatest between two is so to a part in a thousand."""
    parts = [np.linspace(a, b, 31) for a, b in itertools.pairwise(knots)]
    return np.unique(np.concatenate(parts))
