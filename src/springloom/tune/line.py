"""Points along one blade, and how its sections there differ from the planned ones.

Stiffness is the plan's times a ratio of second moments, mass the plan's times one of areas, so
that laminated blanks need nothing further: exact where strips run through the thickness, within
1 % of a deflection for 2 mm off a crown where one lies in the middle of it.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import Axis
from springloom.mechanics.stiffness import Build, Rigidity, rigidity_at
from springloom.shape import section
from springloom.shape.blade import CHANNELS
from springloom.tune.bench import CROWN, EDGE, LOW, SHARE, TOP, WIDTH, Bench, Blade

Floats = npt.NDArray[np.float64]

_TINY = 1e-30  # complex step: no subtraction, so no rounding


@dataclass(frozen=True, slots=True)
class Shape:
    """Sections at the points of a line: each (points,), half-width and crown in m."""

    half_width: Floats
    crown: Floats
    top: Floats
    low: Floats
    s: Floats


@dataclass(frozen=True, slots=True)
class Change:
    """Planned over actual section properties, and the actual ones' logarithmic derivatives.

    ``ln_i`` and ``ln_a`` are (5, points), by half-width, crown, upper and lower ridge fullness
    and edge fullness: the order of :class:`Shape`.
    """

    inertia: Floats
    area: Floats
    ln_i: Floats
    ln_a: Floats


@dataclass(frozen=True)
class Line:
    """Points along one blade.

    Attributes:
        bench: the half it lies on.
        x: (points,) m from the centre, as planned.
        planned: (channels, points) the plan's shape there.
        axis: where the points are Gauss points, else None.
        rigid: the plan's rigidities there, likewise.
    """

    bench: Bench
    x: Floats
    planned: Floats
    axis: Axis | None = None
    rigid: Rigidity | None = None

    @classmethod
    def at(cls, bench: Bench, x: Floats) -> Line:
        """Single places."""
        return cls(bench, x, bench.half.values(bench.half.parameter(x)))

    @classmethod
    def along(cls, bench: Bench, axis: Axis, build: Build) -> Line:
        """All points of an axis, span by span."""
        planned = axis.values.reshape(len(CHANNELS), -1)
        return cls(bench, axis.x.ravel(), planned, axis, rigidity_at(planned, build))

    @property
    def weight(self) -> Floats:
        """(points,) integration weights, m."""
        return self.whole[0].weight.ravel()

    @property
    def whole(self) -> tuple[Axis, Rigidity]:
        """The axis, and the plan's rigidities on it."""
        if self.axis is None or self.rigid is None:
            raise ValueError("single places have no rigidity")  # a slip of ours
        return self.axis, self.rigid

    @functools.cached_property
    def outward(self) -> Floats:
        """How far each point lies beyond the root, m: a longer blade is stretched from there."""
        return np.maximum(self.x - self.bench.half.loom.root, 0.0)

    def stretched(self, blade: Blade) -> tuple[Floats, Floats]:
        """Places (m) on the blade as long as it is, and how much longer everything is there."""
        share = blade.longer / self.bench.length
        return self.x + share * self.outward, np.where(self.outward > 0.0, 1.0 + share, 1.0)

    @functools.cached_property
    def _reaches(self) -> tuple[Floats, ...]:
        return self.bench.cardinals(self.x)

    def reach(self, channel: int) -> Floats:
        """(points, stations) how far each station's change of a channel reaches."""
        return self._reaches[channel]

    def shape(self, blade: Blade) -> Shape:
        """Sections of this blade at the points."""
        plan, bench = self.planned, self.bench
        wider = 0.5 * (blade.widths - bench.widths)
        s = blade.s - bench.half.station_values[:, EDGE]
        return Shape(
            plan[WIDTH] + self.reach(WIDTH)[:, :-1] @ wider,
            plan[CROWN] + self.reach(CROWN) @ (blade.crowns - bench.crowns),
            plan[TOP] + self.reach(TOP) @ blade.ridges,
            plan[LOW] + self.reach(LOW) @ blade.ridges,
            plan[EDGE] + self.reach(EDGE) @ s,
        )

    def chain(self, gradient: Floats, blade: Blade, by: Floats) -> None:
        """Add derivatives along the line to ``gradient`` (readings, unknowns).

        ``by`` is (5, readings, points), in the order of :class:`Shape`; the reach sums it.
        """
        width, crown, top, low, s = by
        blade.carried(
            gradient, crown @ self.reach(CROWN), s @ self.reach(EDGE),
            top @ self.reach(TOP) + low @ self.reach(LOW), 0.5 * (width @ self.reach(WIDTH)),
        )

    def chain_each(self, gradient: Floats, blade: Blade, by: Floats) -> None:
        """As :meth:`chain` where each point is a reading: ``by`` is (5, points)."""
        width, crown, top, low, s = by[..., None]
        blade.carried(
            gradient, crown * self.reach(CROWN), s * self.reach(EDGE),
            top * self.reach(TOP) + low * self.reach(LOW), 0.5 * (width * self.reach(WIDTH)),
        )

    def change(self, shape: Shape) -> Change:
        """Compare these sections with the planned ones; the faces keep their shares of the crown.

        I goes with the half-width and the crown's cube, area with both; the rest is by the
        fullnesses alone.
        """
        i_planned, a_planned = self._planned_units
        i_now, a_now, by_fullness = self._units(shape)
        wider = self.planned[WIDTH] / shape.half_width
        thinner = self.planned[CROWN] / shape.crown
        by_w, by_h = 1.0 / shape.half_width, 1.0 / shape.crown
        return Change(
            i_planned / i_now * wider * thinner**3, a_planned / a_now * wider * thinner,
            np.concatenate([[by_w, 3.0 * by_h], by_fullness[0] / i_now]),
            np.concatenate([[by_w, by_h], by_fullness[1] / a_now]),
        )

    @functools.cached_property
    def _planned_units(self) -> tuple[Floats, Floats]:
        plan = self.planned
        found = section.flat_properties(1.0, self._faces(plan[TOP], plan[LOW]), plan[EDGE])
        return found.i_flat, found.area

    def _units(self, shape: Shape) -> tuple[Floats, Floats, Floats]:
        """I and area for a crown and a half-width of 1; both by (top, low, s): (2, 3, points)."""
        step = 1j * _TINY * np.eye(3)[:, :, None]
        top, low, s = (step[:, i] + value for i, value in enumerate(
            (shape.top, shape.low, shape.s)))
        found = section.flat_properties(1.0, self._faces(top, low), s)
        both = np.stack([found.i_flat, found.area])
        return both[0, 0].real, both[1, 0].real, both.imag / _TINY

    def _faces(self, top: Any, low: Any) -> section.Faces:
        share = self.planned[SHARE]
        return (share, top), (1.0 - share, low)
