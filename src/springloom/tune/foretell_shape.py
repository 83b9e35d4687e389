"""What calipers, tapes and profile gauges should read of a blade."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.shape.blade import EDGE_INSET
from springloom.tune.bench import MOST_INSET, SHARE, Bench, Inset
from springloom.tune.evidence_shape import (
    FullnessReading,
    LengthReading,
    ThicknessReading,
    WidthReading,
)
from springloom.tune.instruments import Side
from springloom.tune.layout import Layout
from springloom.tune.line import Line, Shape
from springloom.tune.unknowns import Unknowns

Floats = npt.NDArray[np.float64]
AtPlace = ThicknessReading | WidthReading | FullnessReading

_HERE = 1e-9  # m: rounding of one and the same place


@dataclass(frozen=True)
class Lengths:
    """Lengths of blades from the shoulder, stretched from the root outward."""

    readings: Sequence[LengthReading]
    benches: tuple[Bench, Bench]

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Values and gradients."""
        gradient = unknowns.blank(len(self.readings))
        values = np.zeros(len(self.readings))
        for i, reading in enumerate(self.readings):
            bench = self.benches[0 if reading.side == "a" else 1]
            at = unknowns.layout.longer(reading.side)
            values[i] = bench.half.blade_length + unknowns.theta[at]
            gradient[i, at] = 1.0
        return values, gradient


@dataclass(frozen=True)
class AtStations:
    """Crowns, edges and widths read at stations: the unknowns themselves, at ``rows``."""

    rows: npt.NDArray[np.intp]

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Values and gradients."""
        gradient = unknowns.blank(len(self.rows))
        gradient[np.arange(len(self.rows)), self.rows] = 1.0
        return unknowns.theta[self.rows], gradient


def unknown_read(reading: AtPlace, bench: Bench, layout: Layout) -> int | None:
    """Which unknown a reading is of, None if it is not one of them alone."""
    stations, at, side = bench.half.stations[:-1], layout, reading.side
    here = next((i for i, s in enumerate(stations) if abs(s.x - reading.x) < _HERE), None)
    if here is None:
        return None
    if isinstance(reading, WidthReading):
        return int(at.widths(side).start) + here
    if isinstance(reading, FullnessReading) or reading.face != "both":
        return None
    part = {"crown": at.crowns, "edge": at.edges}.get(reading.kind)
    return None if part is None else int(part(side).start) + here


@dataclass(frozen=True)
class Places:
    """Readings at single places of one blade; ``line`` has one point for each."""

    side: Side
    readings: Sequence[AtPlace]
    line: Line

    def __call__(self, unknowns: Unknowns) -> tuple[Floats, Floats]:
        """Values and gradients."""
        blade = unknowns.blade(self.side)
        shape = self.line.shape(blade)
        values, by = np.zeros(len(self.readings)), np.zeros((5, len(self.readings)))
        for kind in (self._crowns, self._widths, self._fullnesses, self._insets):
            kind(shape, values, by)
        gradient = unknowns.blank(len(self.readings))
        self.line.chain_each(gradient, blade, by)
        return values, gradient

    @functools.cached_property
    def _share(self) -> tuple[Floats, Floats]:
        upper = self.line.planned[SHARE]
        return upper, 1.0 - upper

    def _rows(self, kind: type, *only: str) -> npt.NDArray[np.intp]:
        return np.array([i for i, r in enumerate(self.readings) if isinstance(r, kind) and (
            not isinstance(r, ThicknessReading) or r.kind in only)], dtype=np.intp)

    @functools.cached_property
    def _crown_rows(self) -> tuple[npt.NDArray[np.intp], Floats]:
        """Which, and the part of the crown that each reads."""
        rows, upper = self._rows(ThicknessReading, "crown"), self._share[0]
        part = {"both": np.ones_like(upper), "upper": upper, "lower": 1.0 - upper}
        return rows, np.array([part[r.face][i] for i in rows
                               if isinstance(r := self.readings[i], ThicknessReading)])

    def _crowns(self, shape: Shape, values: Floats, by: Floats) -> None:
        rows, part = self._crown_rows
        values[rows] = part * shape.crown[rows]
        by[1, rows] = part

    @functools.cached_property
    def _width_rows(self) -> npt.NDArray[np.intp]:
        return self._rows(WidthReading)

    def _widths(self, shape: Shape, values: Floats, by: Floats) -> None:
        values[self._width_rows] = 2.0 * shape.half_width[self._width_rows]
        by[0, self._width_rows] = 2.0

    @functools.cached_property
    def _fullness_rows(self) -> tuple[npt.NDArray[np.intp], Floats]:
        """Which, and (3, rows) weights of upper ridge, lower ridge and edge."""
        rows = self._rows(FullnessReading)
        weights = np.zeros((3, len(rows)))
        for j, i in enumerate(rows):
            reading = self.readings[i]
            assert isinstance(reading, FullnessReading)
            upper = {"both": float(self._share[0][i]), "upper": 1.0, "lower": 0.0}[reading.face]
            weights[:, j] = (upper * reading.ridge, (1.0 - upper) * reading.ridge, reading.edge)
        return rows, weights

    def _fullnesses(self, shape: Shape, values: Floats, by: Floats) -> None:
        rows, weights = self._fullness_rows
        full = np.stack([shape.top[rows], shape.low[rows], shape.s[rows]])
        values[rows] = np.sum(weights * full, axis=0)
        by[2:, rows] = weights

    @functools.cached_property
    def _inset_rows(self) -> tuple[npt.NDArray[np.intp], Floats, Floats, Floats]:
        """Which; insets, m; most of the half-width; (3, rows) parts of mean, upper, lower face.

        The edge reading of both faces is placed by their mean ridge, as the shape does it.
        """
        rows = self._rows(ThicknessReading, "edge", "inset")
        inset, most, parts = np.zeros(len(rows)), np.ones(len(rows)), np.zeros((3, len(rows)))
        for j, i in enumerate(rows):
            reading, upper = self.readings[i], float(self._share[0][i])
            assert isinstance(reading, ThicknessReading)
            is_edge = reading.kind == "edge"
            inset[j] = EDGE_INSET if is_edge else reading.inset
            most[j] = MOST_INSET if is_edge else 1.0
            faces = {"both": (0.0, upper, 1.0 - upper), "upper": (0.0, upper, 0.0),
                     "lower": (0.0, 0.0, 1.0 - upper)}[reading.face]
            parts[:, j] = (1.0, 0.0, 0.0) if is_edge and reading.face == "both" else faces
        return rows, inset, most, parts

    def _insets(self, shape: Shape, values: Floats, by: Floats) -> None:
        rows, inset, most, parts = self._inset_rows
        if not len(rows):
            return
        upper, lower = (share[rows] for share in self._share)
        half_width, crown, s = shape.half_width[rows], shape.crown[rows], shape.s[rows]
        top, low = shape.top[rows], shape.low[rows]
        share = inset / half_width
        place = Inset.of(np.minimum(share, most), np.stack([upper * top + lower * low, top, low]))
        height = np.sum(parts * (place.free + place.span * s), axis=0)
        steep = parts * crown * (place.free_t + place.span_t * s)
        by_ridge = steep * place.t_ridge
        by_share = np.sum(steep * place.t_inset, axis=0)
        values[rows] = crown * height
        by[0, rows] = np.where(share < most, -by_share * share / half_width, 0.0)
        by[1, rows] = height
        by[2, rows] = by_ridge[1] + upper * by_ridge[0]
        by[3, rows] = by_ridge[2] + lower * by_ridge[0]
        by[4, rows] = crown * np.sum(parts * place.span, axis=0)
