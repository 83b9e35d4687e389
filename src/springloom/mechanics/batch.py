"""Many designs at once: one outline, many thickness schedules and woods, compiled.

All designs share stations, widths and fullnesses (edges stay in proportion to crowns); each has
its own crowns, modulus, shear modulus and density. The points, weights and spline operator are
those of the single path, so both agree to rounding. A design whose crowns a free batten would
overshoot is sent down the single path, because the fairness rules are not linear there.

Needs the ``batch`` extra (numba).
"""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.errors import RangeError, ShapeError
from springloom.mechanics._lanes import sweep
from springloom.mechanics.axis import Axis, half_axis
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import STANDARD_LOAD, tip_deflection
from springloom.mechanics.stiffness import SHEAR_COEFFICIENT, Rigidity, rigidity_at
from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.shape.curves import overshoots, spline_operator
from springloom.shape.paddle import Paddle
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class BatchResult:
    """Arrays of shape (n,): tip deflection in the standard set-up (m) and paddle mass (kg)."""

    tip_deflection_m: Floats
    mass_kg: Floats


@dataclass(frozen=True)
class Batch:
    """One outline, prepared for many thickness schedules.

    Attributes:
        half: the outline; its own crowns only set the proportion of edges.
        wood: what a design has where no array is given.
    """

    half: HalfPaddle
    wood: Material

    def run(
        self, crowns: npt.ArrayLike, e_pa: npt.ArrayLike | None = None,
        density_kg_m3: npt.ArrayLike | None = None,
    ) -> BatchResult:
        """Return deflection and mass of every design.

        Args:
            crowns: (n, stations) crown thicknesses, m.
            e_pa: (n,) modulus along the grain; the shear modulus keeps its ratio to it.
            density_kg_m3: (n,) density.

        Raises:
            ShapeError: the arrays' shapes don't fit the outline.
            RangeError: a value that is not a positive finite number.
        """
        thick = np.ascontiguousarray(crowns, dtype=float)
        if thick.ndim != 2 or thick.shape[1] != len(self.half.stations):
            raise ShapeError("needs one row a design and one column a station", field="crowns",
                             given=thick.shape, allowed=f"(n, {len(self.half.stations)})")
        modulus = self._filled(e_pa, self.wood.e_pa, len(thick), "e_pa")
        density = self._filled(density_kg_m3, self.wood.density_kg_m3, len(thick), "density_kg_m3")
        _positive(thick, "crowns")
        sink, volume, doubtful = sweep(thick, *self._prepared)
        tip = STANDARD_LOAD / modulus * sink
        weight = density * volume
        for i in self._overshooting(thick, np.flatnonzero(doubtful)):
            tip[i], weight[i] = self._single(thick[i], modulus[i], density[i])
        return BatchResult(tip, weight)

    def _overshooting(self, crowns: Floats, doubtful: npt.NDArray[np.intp]) -> list[int]:
        """Which of the doubtful designs a free batten really overshoots."""
        operator = spline_operator(tuple(self.half.knots[2:].tolist()), ())
        curves = np.einsum("nps,ds->dnp", operator, crowns[doubtful])
        return [int(i) for i in doubtful[overshoots(curves, crowns[doubtful])]]

    def _filled(
        self, given: npt.ArrayLike | None, usual: float, count: int, field: str
    ) -> Floats:
        values = np.broadcast_to(usual if given is None else np.asarray(given, dtype=float), count)
        _positive(values, field)
        return values

    def _single(self, crowns: Floats, e_pa: float, density: float) -> tuple[float, float]:
        scale = e_pa / self.wood.e_pa
        wood = replace(self.wood, e_pa=float(e_pa), g_pa=self.wood.g_pa * scale,
                       g_width_pa=self.wood.g_width_pa * scale, density_kg_m3=float(density))
        half = self.half.with_crowns(crowns)
        return tip_deflection(half, wood), mass_properties(Paddle.mirrored(half), wood).mass_kg

    @functools.cached_property
    def _prepared(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """Return what :func:`springloom.mechanics._lanes.sweep` asks for.

        With fullness fixed, I goes with crown³ and A with crown.
        """
        half = self.half
        axis = half_axis(half, half.loom.root)
        rigid = _unit_rigidity(axis, self.wood)
        lever = half.tip - axis.x
        ratio = self.wood.e_pa / self.wood.g_pa
        weights = np.stack([
            (axis.weight * lever**2 / rigid.ei * self.wood.e_pa).ravel(),
            (axis.weight * ratio / (SHEAR_COEFFICIENT * rigid.area)).ravel(),
            (2.0 * axis.weight * rigid.area).ravel(),
        ])
        operator = spline_operator(tuple(half.knots[2:].tolist()), ())
        lengths = np.diff(half.knots[2:])
        last = (operator[-1, 1] + 2.0 * operator[-1, 2] + 3.0 * operator[-1, 3]) / lengths[-1]
        slopes = np.vstack([operator[:, 1] / lengths[:, None], last])
        return _at_points(operator, axis, half), weights, slopes, lengths, self._blend(operator)

    def _blend(self, operator: Floats) -> Floats:
        """Volume between the two roots as a linear function of root crown and end slope."""
        half = self.half
        axis = half_axis(half, 0.0, end=half.loom.root)
        volume = 2.0 * axis.weight * _unit_rigidity(axis, self.wood).area
        loom = half.loom.thickness
        t = np.clip((axis.x - half.loom.half_length) / half.loom.blend, 0.0, 1.0)
        rise, turn = t * t * (3.0 - 2.0 * t), t * t * (t - 1.0)
        lengths = np.diff(half.knots)
        slope = operator[0, 1] * lengths[1] / lengths[2]
        sums = [float(np.sum(volume * (loom - loom * rise))), float(np.sum(volume * rise)),
                float(np.sum(volume * turn)), loom]
        return np.concatenate([sums, slope])


def _unit_rigidity(axis: Axis, wood: Material) -> Rigidity:
    """Rigidities if every crown were 1 m."""
    unit = axis.values.copy()
    unit[CHANNELS.index("crown")] = 1.0
    return rigidity_at(unit, wood)


def _at_points(operator: Floats, axis: Axis, half: HalfPaddle) -> Floats:
    u = half.parameter(axis.x.ravel())
    knots = half.knots[2:]
    span = np.clip(np.searchsorted(knots, u, side="right") - 1, 0, len(knots) - 2)
    t = (u - knots[span]) / (knots[span + 1] - knots[span])
    powers = t[:, None] ** np.arange(4)
    return np.ascontiguousarray(np.einsum("np,nps->ns", powers, operator[span]))


def _positive(values: Floats, field: str) -> None:
    if not (np.isfinite(values).all() and (values > 0.0).all()):
        raise RangeError("must be positive finite numbers", field=field,
                         allowed="more than 0")
