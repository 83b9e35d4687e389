"""From a wanted bend to a thickness schedule: the inverse problem, lightest that meets the limits.

For a tip load the moment is known, so a wanted curvature κ(x) fixes EI = M/κ and with it the
crown at every station, up to one scale that the wanted tip deflection fixes. Limits then
raise crowns where they must (least crown, least edge, strength, never thickening outward),
and the scale is found again with them in force; the lightest blade is the one that meets
each limit with nothing to spare.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from springloom.errors import UnreachableError, in_range
from springloom.mechanics.beam import Load
from springloom.mechanics.bend import BendCharacter, character, wanted_curvature
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line, tip_deflection
from springloom.mechanics.stiffness import Build, rigidity_at
from springloom.mechanics.strength import CASES, SAFE_MARGIN, bending_use, case_moments
from springloom.shape.blade import CHANNELS, HalfPaddle, edge_inset
from springloom.shape.paddle import Paddle
from springloom.shape.section import ridge_parameter
from springloom.units import format_length

Floats = npt.NDArray[np.float64]
Limit = Literal["least crown", "least edge", "strength", "blank", "outward taper"]

DEFAULT_PROGRESSION = 1.9
"""p of the default blade's bend (common practice, no source: it bends the way makers like)."""

_THINNEST = 0.0006  # m, what a station can hold at all
_STEPS = 12  # solid wood takes two
_SEARCH = 3.0  # the curvature scale is sought within e^±3 of a plain blade's


@dataclass(frozen=True, slots=True)
class Target:
    """The wanted bend in the standard set-up (root clamped, weight at the tip).

    Attributes:
        deflection_m: how far the tip sinks.
        load_n: under which weight.
        progression: p of the wanted curvature, 0 (even arc) to 6.
        tolerance_m: how near is near enough.
        lightest: whether ``deflection_m`` is only a cap, and what is wanted is the lightest blade
            that the limits allow without bending further.
    """

    deflection_m: float
    load_n: float = STANDARD_LOAD
    progression: float = DEFAULT_PROGRESSION
    tolerance_m: float = 0.0015
    lightest: bool = False

    def __post_init__(self) -> None:
        """Refuse what no blade does."""
        in_range(self.deflection_m, "target.sinks", 0.002, 0.3, "m")
        in_range(self.load_n, "target.under", 1.0, 300.0, "N")
        in_range(self.progression, "target.progression", 0.0, 6.0)
        in_range(self.tolerance_m, "target.within", 0.0002, 0.05, "m")

    def setup(self, half: HalfPaddle) -> Clamped:
        """Return the set-up in which the target is measured."""
        return Clamped(loads=(Load(half.tip, self.load_n),))


@dataclass(frozen=True, slots=True)
class Limits:
    """What a crown or an edge must not pass; lengths in m.

    The least crown is ``least_crown_mid`` from the root to the middle of the blade and falls in
    a straight line to ``least_crown_tip`` at the tip. Edges of 3 mm and a mid-blade crown of
    13 mm in cedar are where makers get nervous (common practice, no source).
    """

    least_crown_mid: float = 0.013
    least_crown_tip: float = 0.006
    least_edge: float = 0.003
    blank: float = 0.038
    margin: float = SAFE_MARGIN

    def __post_init__(self) -> None:
        """Refuse limits that contradict one another."""
        in_range(self.least_crown_mid, "limits.least_crown_mid", 0.001, 0.04, "m")
        in_range(self.least_crown_tip, "limits.least_crown_tip", 0.001, 0.04, "m")
        in_range(self.least_edge, "limits.least_edge", 0.0005, 0.02, "m")
        in_range(self.blank, "limits.blank", self.least_crown_mid, 0.1, "m")
        in_range(self.margin, "limits.margin", 0.2, 10.0)

    def least_crowns(self, half: HalfPaddle) -> Floats:
        """Least crown at each of a blade's stations, m."""
        share = np.array([(s.x - half.loom.half_length) / half.blade_length for s in half.stations])
        outward = np.clip(2.0 * share - 1.0, 0.0, 1.0)
        return self.least_crown_mid + outward * (self.least_crown_tip - self.least_crown_mid)


@dataclass(frozen=True, slots=True)
class Binding:
    """A limit that changed a station: where, which, the crown it has and the crown wanted, m."""

    station: str
    limit: Limit
    crown_m: float
    wanted_m: float


@dataclass(frozen=True, slots=True)
class BendDesign:
    """A blade made for a bend.

    Attributes:
        half: the shape.
        deflection_m: what its tip does in the target's set-up.
        mass_kg: a paddle with two such blades.
        unlimited_mass_kg: the same without limits.
        binding: the limits that held, station by station.
        character: its bend.
    """

    half: HalfPaddle
    deflection_m: float
    mass_kg: float
    unlimited_mass_kg: float
    binding: tuple[Binding, ...]
    character: BendCharacter

    @property
    def cost_kg(self) -> float:
        """What the limits cost in weight, kg."""
        return self.mass_kg - self.unlimited_mass_kg


def design_for_bend(
    half: HalfPaddle, build: Build, target: Target, limits: Limits | None = None
) -> BendDesign:
    """Return the lightest blade of ``half``'s outline that bends as wanted.

    Widths, ridge fullness and the proportion of edge to crown stay; crowns change.

    Raises:
        UnreachableError: no blade inside the limits does; carries the nearest that can. Where the
            target is the lightest, a blade that stays below its cap is no such case.
    """
    problem = _Problem(half, build, target, limits or Limits())
    free = problem.crowned(problem.wanted(problem.scale(limited=False)))
    scale = problem.scale(limited=True)
    held = problem.limited(scale)
    bent = clamped_line(held, build, target.setup(held), large=False)
    return BendDesign(
        half=held,
        deflection_m=float(bent.deflection_ends[-1]),
        mass_kg=mass_properties(Paddle.mirrored(held), build).mass_kg,
        unlimited_mass_kg=mass_properties(Paddle.mirrored(free), build).mass_kg,
        binding=problem.binding(held, scale),
        character=character(bent, held.cap[0], target.progression),
    )


def design_blades_for_bend(
    paddle: Paddle, build: Build, target: Target, limits: Limits | None = None
) -> tuple[BendDesign, BendDesign]:
    """Return both blades made for a bend; the same object twice where they are alike.

    Raises:
        UnreachableError: as :func:`design_for_bend`.
    """
    first = design_for_bend(paddle.a, build, target, limits)
    if paddle.is_symmetric:
        return first, first
    return first, design_for_bend(paddle.b, build, target, limits)


def strength_crowns(half: HalfPaddle, build: Build, margin: float) -> Floats:
    """Least crown at each station at which every load case keeps ``margin``, m.

    In solid wood the bending stress M·c/(2I), with I in proportion to c³, falls with the
    crown's square; in a layup that is the first step of a few. The tip bears no moment and needs
    none.
    """
    x = np.array([s.x for s in half.stations[:-1]])
    both = np.array([x, -x])  # the other blade is alike, and one case bends it most
    moment = np.max([np.abs(case_moments(case, half, both)[0]) for case in CASES], axis=(0, 1))
    crowns = np.array([s.crown for s in half.stations[:-1]])
    for _ in range(_STEPS):
        values = _inner_values(half, crowns)
        use, _ = bending_use(moment, values, rigidity_at(values, build), build)
        step = np.sqrt(margin * use)
        crowns = np.maximum(crowns * step, _THINNEST)  # no moment needs no wood
        if np.all((np.abs(step - 1.0) < 1e-12) | (crowns == _THINNEST)):
            break
    return np.append(crowns, 0.0)


def edge_crowns(half: HalfPaddle, least_edge: float) -> Floats:
    """Least crown at each station whose section can have the least edge at all, m.

    With the fullest edge, s = 1, the caliper reads 1 − (1−t)³ of the crown. 0 where no edge is
    given.
    """
    inset = np.array([edge_inset(w) / (0.5 * w) for w in half.edge_widths])
    t = ridge_parameter(inset, np.array([s.mean_ridge for s in half.stations]))
    given = np.array([s.edge is not None for s in half.stations])
    # A hair above, so that rounding can't put the edge out of the section's reach.
    return np.where(given, least_edge / (1.0 - (1.0 - t) ** 3) * (1.0 + 1e-9), 0.0)


def _check_loom(half: HalfPaddle, build: Build, margin: float) -> None:
    """Refuse a margin that the loom, which no bend design changes, does not keep."""
    x = np.linspace(0.0, half.loom.half_length, 9)
    values = half.values(x)
    moment = np.max([np.abs(case_moments(case, half, np.array([x, -x]))[0]) for case in CASES],
                    axis=(0, 1))
    use = float(np.max(bending_use(moment, values, rigidity_at(values, build), build)[0]))
    if margin * use > 1.0:
        raise UnreachableError(
            "the loom itself is too weak for this margin; make it thicker first",
            field="limits.margin", given=f"{margin:g}", allowed=f"at most {1.0 / use:.2f}",
        )


def _inner_values(half: HalfPaddle, crowns: Floats) -> Floats:
    """Shape channels (channels, stations−1) at all stations but the tip, with these crowns."""
    values = half.station_values[:-1].T.copy()
    values[CHANNELS.index("crown")] = crowns
    return values


@dataclass(frozen=True)
class _Problem:
    half: HalfPaddle
    build: Build
    target: Target
    limits: Limits

    def wanted(self, scale: float) -> Floats:
        """Crowns (m) whose EI is M/κ for κ = scale × the wanted shape.

        With the edge in proportion to the crown, EI of solid wood goes with the crown's cube, so
        one step is exact; strips of a layup that lie above one another need a few.
        The tip has neither moment nor curvature; its crown keeps its ratio to its neighbour.
        """
        half, inner = self.half, self.half.stations[:-1]
        x = np.array([s.x for s in inner])
        xi = (x - half.loom.root) / (half.tip - half.loom.root)
        kappa = scale * wanted_curvature(xi, self.target.progression)
        ei = self.target.load_n * (half.tip - x) / kappa
        crowns = np.array([s.crown for s in inner])
        for _ in range(_STEPS):
            step = np.cbrt(ei / rigidity_at(_inner_values(half, crowns), self.build).ei)
            crowns = crowns * step
            if np.all(np.abs(step - 1.0) < 1e-12):
                break
        taper = half.stations[-1].crown / half.stations[-2].crown
        return np.append(crowns, crowns[-1] * taper)

    def crowned(self, crowns: Floats) -> HalfPaddle:
        """Return the blade with these crowns, held to what can be drawn at all."""
        widths = np.array([s.width for s in self.half.stations[:-1]])
        most = np.append(1.55 * widths, 0.099)
        return self.half.with_crowns(np.clip(crowns, _THINNEST, np.minimum(most, 0.099)))

    @functools.cached_property
    def floor(self) -> Floats:
        """Least crown at each station, m; refused where the blank is thinner."""
        _check_loom(self.half, self.build, self.limits.margin)
        least = np.max([self.limits.least_crowns(self.half),
                        strength_crowns(self.half, self.build, self.limits.margin),
                        edge_crowns(self.half, self.limits.least_edge)], axis=0)
        if least.max() > self.limits.blank:
            raise UnreachableError(
                "the blank is thinner than the load cases and least crowns ask",
                field="limits.blank", given=_in_both(self.limits.blank),
                allowed=f"at least {_in_both(float(least.max()))}",
            )
        return np.asarray(least)

    def limited(self, scale: float) -> HalfPaddle:
        """Return the blade for this scale with every limit in force."""
        bounds = self.limits
        crowns = np.minimum(np.maximum(self.wanted(scale), self.floor), bounds.blank)
        tapering = np.maximum.accumulate(crowns[::-1])[::-1]
        return _edges_kept(self.crowned(tapering), bounds.least_edge)

    def scale(self, *, limited: bool) -> float:
        """Curvature scale (1/m) at which the tip sinks as wanted."""

        def error(log_scale: float) -> float:
            return math.log(self._sinks(log_scale, limited) / self.target.deflection_m)

        middle = math.log(self.target.deflection_m / (self.half.tip - self.half.loom.root) ** 2)
        low, high = middle - _SEARCH, middle + _SEARCH
        if error(low) > 0.0:
            self._refuse("stiffer", self._sinks(low, limited))
        if error(high) < 0.0 and self.target.lightest:
            return math.exp(high)  # every crown is at a limit
        if error(high) < 0.0:
            self._refuse("more flexible", self._sinks(high, limited))
        return math.exp(float(brentq(error, low, high, xtol=1e-10)))

    def _sinks(self, log_scale: float, limited: bool) -> float:
        scale = math.exp(log_scale)
        blade = self.limited(scale) if limited else self.crowned(self.wanted(scale))
        return tip_deflection(blade, self.build, self.target.setup(blade))

    def _refuse(self, kind: str, nearest: float) -> None:
        raise UnreachableError(
            f"no {kind} blade of this outline in this wood stays inside the limits",
            field="target.sinks",
            given=_in_both(self.target.deflection_m),
            allowed=f"the nearest possible is {_in_both(nearest)}",
        )

    def binding(self, held: HalfPaddle, scale: float) -> tuple[Binding, ...]:
        """Say at each station which limit moved it, if one did."""
        wanted, least = self.wanted(scale), self.limits.least_crowns(self.half)
        strong = strength_crowns(self.half, self.build, self.limits.margin)
        edged = edge_crowns(self.half, self.limits.least_edge)
        found = []
        for i, station in enumerate(held.stations):
            limit = self._limit(station.crown, wanted[i], least[i], strong[i], edged[i])
            if limit is None and station.edge == self.limits.least_edge:
                limit = "least edge"
            if limit is not None:
                found.append(Binding(station.name, limit, station.crown, float(wanted[i])))
        return tuple(found)

    def _limit(
        self, own: float, wanted: float, least: float, strong: float, edged: float
    ) -> Limit | None:
        if math.isclose(own, wanted, rel_tol=1e-9):
            return None
        if own < wanted:
            return "blank"
        reached: list[tuple[Limit, float]] = [
            ("strength", strong), ("least crown", least), ("least edge", edged),
        ]
        return next(
            (name for name, at in reached if math.isclose(own, at, rel_tol=1e-9)), "outward taper"
        )


def _in_both(metres: float) -> str:
    return f"{format_length(metres, 'mm')}, {format_length(metres, 'in')}"


def _edges_kept(half: HalfPaddle, least: float) -> HalfPaddle:
    stations = tuple(
        s if s.edge is None or s.edge >= least else replace(s, edge=least)
        for s in half.stations
    )
    return replace(half, stations=stations)
