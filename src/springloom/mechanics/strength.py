"""Load cases, the margin against each, and the splitting screen.

Every case is common practice, no source: the forces are what an able paddler or a careless
moment puts on a paddle, chosen so that a sound default paddle of western redcedar passes.
A margin is the wood's strength at the lower 5 % of its board, over the greatest stress; it is
a comparison on one scale and no promise. Knots, cracks, old damage and abuse are outside it.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import Axis, whole_axis
from springloom.mechanics.stiffness import (
    Build,
    Rigidity,
    faces,
    height_at,
    rigidity,
    torsion_rigidity,
)
from springloom.shape import section
from springloom.shape.blade import CHANNELS, EDGE_INSET, HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.wood.layup import Strip
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]
Kind = Literal["bending", "shear", "twist"]

CENTRE_OF_EFFORT = 0.6
"""Where the water pushes: share of the blade from the shoulder (common practice, no source)."""

SAFE_MARGIN = 1.0
"""A margin below this is a warning: one board in twenty would not bear the case."""

_CROWN = CHANNELS.index("crown")

SPLIT_CAUTION = 0.8
"""Splitting index below which the screen warns (the default blade is 1)."""


@dataclass(frozen=True, slots=True)
class Case:
    """One load case on blade A.

    Attributes:
        name: what happens.
        force: N, at ``at``.
        at: share of the blade from the shoulder where the force acts.
        support: share of the loom's half-length (negative: beyond the centre) where the
            nearest hand or edge holds.
        far: where the second one holds, same measure.
        offset: share of the half-width by which the force misses the centre line.
        assumption: in words.
    """

    name: str
    force: float
    at: float
    support: float
    far: float
    offset: float
    assumption: str


CASES = (
    Case("hard stroke", 200.0, CENTRE_OF_EFFORT, 1.0, -1.0, 0.0,
         "200 N of water on the blade, hands at both shoulders"),
    Case("extended brace", 110.0, CENTRE_OF_EFFORT, -1.0, -2.5, 0.0,
         "110 N on the far blade, paddle held by its other end at arm's length"),
    Case("leaned on across the boat", 150.0, CENTRE_OF_EFFORT, 0.9, -0.9, 0.0,
         "loom across the deck, 150 N of body weight taken by the outboard blade's buoyancy "
         "and the ground"),
    Case("tip caught", 90.0, 1.0, 1.0, -1.0, 0.5,
         "90 N where the tip is full width, half-way out to its edge"),
)


@dataclass(frozen=True, slots=True)
class Margin:
    """The weakest place of one case.

    Attributes:
        case: its name.
        kind: what gives first.
        at_m: where, from the centre.
        stress_pa: greatest stress there.
        strength_pa: strength at the lower 5 % of the board.
        margin: strength over stress.
        percentile: the percentile the strength stands for.
        assumption: what the case assumes.
    """

    case: str
    kind: Kind
    at_m: float
    stress_pa: float
    strength_pa: float
    margin: float
    percentile: float
    assumption: str


@dataclass(frozen=True, slots=True)
class SplittingScreen:
    """Cross-grain bending of the thin edge under a knock, against the default blade.

    A screening index, no prediction: (edge thickness)² × tension-perpendicular strength at
    the weakest place of the outer half, over the same of the default redcedar blade.
    """

    index: float
    at_m: float
    edge_thickness_m: float
    caution: bool


def margins(paddle: Paddle, build: Build) -> tuple[Margin, ...]:
    """Margins of every case on blade A, weakest place each; B's by turning the paddle round."""
    axis = whole_axis(paddle, -paddle.b.loom.root, paddle.a.tip)
    return margins_on(axis, rigidity(axis, build), paddle.a, build)


def margins_on(
    axis: Axis, rigid: Rigidity, half: HalfPaddle, build: Build
) -> tuple[Margin, ...]:
    """As :func:`margins`, on an axis from blade B's root to blade A's tip."""
    moment, shear, torque = all_case_moments(half, axis.x)
    weakest = weakest_shear(build)
    bending, strength = bending_use(moment, axis.values, rigid, build)
    slip = np.abs(shear) * rigid.shear_peak / weakest
    twist = _twist_use(torque, slip, axis, build)
    found = []
    for i, case in enumerate(CASES):
        uses: list[tuple[Kind, Floats, float]] = [
            ("bending", bending[i], strength), ("shear", slip[i], weakest),
            ("twist", twist[i], weakest),
        ]
        found.append(_weakest(case, axis, uses))
    return tuple(found)


def _weakest(case: Case, axis: Axis, uses: list[tuple[Kind, Floats, float]]) -> Margin:
    kind, use, limit = max(uses, key=lambda item: float(item[1].max()))
    spot = int(use.argmax())
    worst = float(use.ravel()[spot])
    return Margin(case.name, kind, float(axis.x.ravel()[spot]), worst * limit, limit, 1.0 / worst,
                  0.05, case.assumption)


def case_moments(case: Case, half: HalfPaddle, x: Floats) -> tuple[Floats, Floats, Floats]:
    """Bending moment (N·m), shear (N) and torque (N·m) of a case at places x (m, signed)."""
    moment, shear, torque = all_case_moments(half, x, (case,))
    return moment[0], shear[0], torque[0]


def all_case_moments(
    half: HalfPaddle, x: Floats, cases: tuple[Case, ...] = CASES
) -> tuple[Floats, Floats, Floats]:
    """As :func:`case_moments` for several cases at once: arrays (cases, *x.shape)."""
    columns = (-1,) + (1,) * x.ndim
    force, share, support, far_share, offset = (
        np.array([getattr(case, name) for case in cases]).reshape(columns)
        for name in ("force", "at", "support", "far", "offset")
    )
    near, far = support * half.loom.half_length, far_share * half.loom.half_length
    # a tip is caught by its last full width
    at = np.minimum(half.at_fraction(0.0) + share * half.blade_length, half.stations[-2].x)
    outside, acting = x > near, x < at
    held = force * (at - near)
    inside = np.clip((x - far) / (near - far), 0.0, 1.0) * held
    moment = np.where(outside, force * np.maximum(at - x, 0.0), inside)
    shear = np.where(outside, force * acting, (x > far) * held / (near - far))
    torque = force * offset * 0.5 * half.stations[-2].width * (outside & acting)
    return moment, shear, torque


def bending_use(
    moment: Floats, values: Floats, rigid: Rigidity, build: Build
) -> tuple[Floats, float]:
    """Greatest bending stress over strength at each section, and the strength that rules.

    Args:
        moment: N·m, any shape.
        values: (channels, *moment.shape) shape channels.
        rigid: rigidities of these sections.
        build: material, or layup whose strips are checked one by one.
    """
    curvature = np.abs(moment) / rigid.ei
    if isinstance(build, Material):
        reach = np.maximum(rigid.top, rigid.bottom)
        return curvature * build.e_pa * reach / build.mor_pa, build.mor_pa
    own = [_strip_use(curvature, strip, values, rigid) for strip in build.strips]
    ruling = int(np.argmax([float(np.max(use)) for use in own]))
    return np.max(own, axis=0), build.strips[ruling].material.mor_pa


def _strip_use(curvature: Floats, strip: Strip, values: Floats, rigid: Rigidity) -> Floats:
    """Stress over strength in the part of a strip that lies inside each section."""
    nearest = max(strip.y_min_m, -strip.y_max_m, 0.0)
    inset = np.maximum(1.0 - nearest / values[0], 0.0)  # where the strip is highest
    top, low = (height * height_at(inset, r, values[4]) for height, r in faces(values))
    highest, lowest = np.minimum(top, strip.z_max_m), np.maximum(-low, strip.z_min_m)
    reach = np.maximum(np.abs(highest - rigid.neutral), np.abs(rigid.neutral - lowest))
    wood = strip.material
    return np.where(highest > lowest, curvature * wood.e_pa * reach / wood.mor_pa, 0.0)


def weakest_shear(build: Build) -> float:
    """Least shear strength (lower 5 %) among the materials, Pa."""
    if isinstance(build, Material):
        return build.shear_pa
    return min(strip.material.shear_pa for strip in build.strips)


def _twist_use(torque: Floats, slip: Floats, axis: Axis, build: Build) -> Floats:
    """Torsional and bending shear together over shear strength, (cases, spans, points).

    The membrane's rule τ ≈ T·d/J, d the diameter of the greatest circle inside the section
    (Roark's Formulas for Stress and Strain, ch. 10): the crown thickness here. J is solved at
    the first point of each span, the section changing little between; elsewhere it is zero.
    """
    use = np.zeros_like(torque)
    twisted = np.flatnonzero((torque[:, :, 0] > 0.0).any(axis=0))
    if not len(twisted):
        return use
    first = axis.values[:, twisted, 0]
    _, g_thick = _shear_moduli(build)
    j_like = torsion_rigidity(first, build) / g_thick
    acting = torque[:, twisted, 0]
    stress = acting * first[_CROWN] / j_like / weakest_shear(build)
    use[:, twisted, 0] = np.where(acting > 0.0, stress + slip[:, twisted, 0], 0.0)
    return use


def _shear_moduli(build: Build) -> tuple[float, float]:
    wood = build if isinstance(build, Material) else build.strips[0].material
    return wood.g_width_pa, wood.g_pa


def splitting(half: HalfPaddle, build: Build) -> SplittingScreen:
    """Screen one blade's thin edges against the default redcedar blade."""
    x, edge = _edge_line(half)
    tension = _edge_tension(build)
    index = np.asarray(edge**2 * tension / _default_worst())
    spot = int(np.argmin(index))
    value = float(index[spot])
    return SplittingScreen(value, float(x[spot]), float(edge[spot]), value < SPLIT_CAUTION)


def _edge_line(half: HalfPaddle) -> tuple[Floats, Floats]:
    """Edge thickness at the caliper's inset over the outer half of the blade, m."""
    x = np.linspace(half.at_fraction(0.5), half.stations[-2].x, 9)
    values = half.values(half.parameter(x))
    w, s = values[0], values[4]
    return x, section.thickness_at(w, faces(values), s, EDGE_INSET)


def _edge_tension(build: Build) -> float:
    if isinstance(build, Material):
        return build.tperp_pa
    outermost = max(build.strips, key=lambda p: max(p.y_max_m, -p.y_min_m))
    return outermost.material.tperp_pa


_REDCEDAR_TENSION_PERP = 220 * 6894.757293168
"""Pa; FPL-GTR-282 Table 5-3b, western redcedar at 12 % moisture."""

_TENSION_PERP_COV = 0.25
"""FPL-GTR-282 Table 5-6 (from memory)."""


@functools.cache
def _default_worst() -> float:
    """(edge thickness)² × lower-5 % strength of the default redcedar blade, N."""
    _, edge = _edge_line(default_paddle().a)
    sd = math.sqrt(math.log(1.0 + _TENSION_PERP_COV**2))
    lower = _REDCEDAR_TENSION_PERP * math.exp(-1.6448536 * sd - 0.5 * sd * sd)
    return float(np.min(edge**2)) * lower
