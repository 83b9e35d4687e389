"""Weight that can come off without touching the bend: a sharper ridge at the root, a root eased
into the shoulder, thinner edges.

Each saving gives stations another section with the same EI: what is taken off the flanks or the
edge is made up for by a slightly higher crown. On a blade that is being planed the crown is higher
only where it has not yet come down, so a saving can be had now where the removal may stop short of
its own crown; elsewhere it is for the next blade. A ridge is made sharper only in the stiffer
woods, an edge thinner only in those that don't split easily (common practice, no source); where a
section would not be lighter for it, it is left alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.errors import SpringloomError
from springloom.mechanics.axis import half_axis
from springloom.mechanics.setups import tip_deflection
from springloom.mechanics.stiffness import Build, rigidity, rigidity_at
from springloom.mechanics.strength import SPLIT_CAUTION, margins, splitting
from springloom.shape.blade import CHANNELS, HalfPaddle, Station
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import Side
from springloom.tune.planing import UNMEASURED, Planing
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]
Kind = Literal["sharper ridge", "shoulder blend", "thinner edges"]

SOFT_E, STIFF_E = 8.5e9, 11.5e9
SOFT_RIDGE, STIFF_RIDGE = 0.40, 0.22
"""Sharpest ridge (fullness) for a wood of this modulus, Pa: the eased diamond of a redcedar root,
a plain one in spruce and stiffer; between the two in proportion (common practice, no source)."""

RIDGE_REACH = 0.3
"""Share of the blade over which a ridge may be sharper: further out there is nothing to gain."""

EDGE_STEP = 1.0 / 6.0
"""Most of an edge's thickness that is taken at once (common practice, no source)."""

WORTH_KG = 0.0005
"""Less than half a gram is not worth a cut."""

_CROWN = CHANNELS.index("crown")
_STEPS, _SAME = 40, 1e-9
_FINE = 1e-5  # m


@dataclass(frozen=True, slots=True)
class Reshaped:
    """One station's section before and after a saving, lengths in m.

    ``flank`` is the thickness half-way from the ridge to the edge, which calipers can read.
    """

    station: str
    crown_m: float
    crown_after_m: float
    flank_m: float
    flank_after_m: float
    edge_m: float
    edge_after_m: float
    ridge_fullness: float
    ridge_after_fullness: float


@dataclass(frozen=True, slots=True)
class Saving:
    """One way to take weight off one blade at equal bend.

    Attributes:
        side, kind: which.
        now: whether this blade still has the crown it asks for; else it is for the next one.
        stations: what changes where; between them and in the blend all else follows.
        saved_kg: off this blade.
        deflection_change_m: what it does to the tip under the target's weight: all but nothing.
        margin_ratio, margin_after_ratio: least strength margin of the blade.
        splitting_ratio, splitting_after_ratio: the screen of the thin edges, a comparison with the
            default blade and no prediction.
        risk: in one sentence.
    """

    side: Side
    kind: Kind
    now: bool
    stations: tuple[Reshaped, ...]
    saved_kg: float
    deflection_change_m: float
    margin_ratio: float
    margin_after_ratio: float
    splitting_ratio: float
    splitting_after_ratio: float
    risk: str


def sharpest_ridge(build: Build) -> float:
    """Least ridge fullness this wood should be given."""
    e = build.e_pa if isinstance(build, Material) else min(
        strip.material.e_pa for strip in build.strips
    )
    share = min(max((e - SOFT_E) / (STIFF_E - SOFT_E), 0.0), 1.0)
    return SOFT_RIDGE + share * (STIFF_RIDGE - SOFT_RIDGE)


def savings(plans: tuple[Planing, Planing], taken: tuple[Floats, Floats]) -> tuple[Saving, ...]:
    """All savings worth a cut on the blades as they are after a removal, the greatest first."""
    found = [saving for blade, per_face, other in zip(plans, taken, reversed(plans), strict=True)
             for saving in _of_blade(blade, per_face, other.half)]
    return tuple(sorted(found, key=lambda saving: (not saving.now, -saving.saved_kg)))


def _of_blade(blade: Planing, per_face: Floats, other: HalfPaddle) -> list[Saving]:
    """The savings of one blade."""
    half = blade.known.model.shaped(blade.side, blade.theta_after(per_face))
    thinner = _thinner(half, blade)
    ways: dict[Kind, list[Station]] = {
        "sharper ridge": _sharper(half, blade.build),
        "shoulder blend": [thinner[0], *half.stations[1:]],
        "thinner edges": [half.stations[0], *thinner[1:]],
    }
    found, before = [], _Facts.of(half, other, blade)
    for kind, wanted in ways.items():
        now, made = _possible(blade, half, _balanced(half, wanted, blade.build))
        if made != half:
            found.append(_saving(blade, (half, made), before, _Facts.of(made, other, blade), kind,
                                 now=now))
    return [one for one in found if one.saved_kg >= WORTH_KG
            and one.margin_after_ratio >= blade.limits.margin]


def _possible(
    blade: Planing, half: HalfPaddle, made: HalfPaddle
) -> tuple[bool, HalfPaddle]:
    """What can be had now: where the crown has not come down yet; else all, on the next blade."""
    fits = [new == old or new.crown <= crown for old, new, crown
            in zip(half.stations, made.stations, blade.crowns, strict=True)]
    chosen = replace(half, stations=tuple(
        new if yes else old
        for old, new, yes in zip(half.stations, made.stations, fits, strict=True)))
    return (True, chosen) if chosen != half else (False, made)


def _sharper(half: HalfPaddle, build: Build) -> list[Station]:
    """The stations with their ridge as sharp as the wood bears, near the root only."""
    least = sharpest_ridge(build)

    def sharpened(station: Station) -> Station:
        out = (station.x - half.loom.half_length) / half.blade_length
        if out > RIDGE_REACH or station.mean_ridge <= least + _SAME:
            return station
        low = station.ridge_bottom
        return replace(station, ridge=min(station.ridge, least),
                       ridge_bottom=None if low is None else min(low, least))

    return [sharpened(station) for station in half.stations]


def _thinner(half: HalfPaddle, blade: Planing) -> list[Station]:
    """The stations with thinner edges: neither below their least nor below what might split."""
    screen = splitting(half, blade.build)
    bearing = screen.edge_thickness_m * math.sqrt(SPLIT_CAUTION / screen.index)
    edges = np.array([station.edge or 0.0 for station in half.stations])
    sd = blade.sds[1]
    spare = blade.most_off(edges - blade.limits.least_edge, sd)
    least = np.max([edges - spare, np.full(len(edges), bearing), (1.0 - EDGE_STEP) * edges], axis=0)
    may = (least < edges - _FINE) & (sd <= UNMEASURED)
    may[-1] = False  # round
    return [replace(station, edge=float(edge)) if yes else station
            for station, edge, yes in zip(half.stations, least, may, strict=True)]


def _balanced(half: HalfPaddle, wanted: list[Station], build: Build) -> HalfPaddle:
    """The wanted sections with crowns that keep each station's EI, where that is lighter.

    With the edge held EI goes with nearly the crown's cube; the power is found on the way.
    """
    old = [i for i, (one, new) in enumerate(zip(half.stations, wanted, strict=True)) if one != new]
    if not old:
        return half
    before, made = rigidity_at(half.station_values[old].T, build), list(wanted)
    power, last = np.full(len(old), 3.0), np.zeros((2, len(old)))
    for _ in range(_STEPS):
        try:
            values = replace(half, stations=tuple(made)).station_values[old]
        except SpringloomError:  # no convex section has such an edge
            return half
        after = rigidity_at(values.T, build)
        here = np.array([np.log(values[:, _CROWN]), np.log(after.ei / before.ei)])
        if np.max(np.abs(here[1])) < _SAME:
            break
        moved = here - last
        if np.any(last) and np.all(np.abs(moved[0]) > _SAME):
            power = moved[1] / moved[0]
        last = here
        for i, less in zip(old, np.exp(-here[1] / power), strict=True):
            made[i] = replace(made[i], crown=made[i].crown * float(less))
    for i, lighter in zip(old, after.mass < before.mass, strict=True):
        made[i] = made[i] if lighter else half.stations[i]
    return replace(half, stations=tuple(made))


@dataclass(frozen=True, slots=True)
class _Facts:
    """What a saving changes: mass from the centre to the tip, how far the tip sinks, least margin,
    splitting screen."""

    mass_kg: float
    sinks_m: float
    margin: float
    splitting: float

    @classmethod
    def of(cls, half: HalfPaddle, other: HalfPaddle, blade: Planing) -> _Facts:
        wood = blade.build
        return cls(_mass(half, wood), tip_deflection(half, wood, blade.target.setup(half)),
                   min(m.margin for m in margins(Paddle(half, other), wood)),
                   splitting(half, wood).index)


def _saving(
    blade: Planing, halves: tuple[HalfPaddle, HalfPaddle], before: _Facts, after: _Facts,
    kind: Kind, *, now: bool,
) -> Saving:
    return Saving(
        blade.side, kind, now, _changes(*halves), before.mass_kg - after.mass_kg,
        after.sinks_m - before.sinks_m, before.margin, after.margin, before.splitting,
        after.splitting, _RISKS[kind],
    )


_RISKS: dict[Kind, str] = {
    "sharper ridge": "the ridge bears more stress and dents sooner",
    "shoulder blend": "loom and blade meet in less wood: leave no tool mark across it",
    "thinner edges": "a thin edge splits sooner under a knock",
}


def _changes(half: HalfPaddle, made: HalfPaddle) -> tuple[Reshaped, ...]:
    return tuple(
        Reshaped(s.name, s.crown, n.crown, _flank(half, s), _flank(made, n), s.edge or 0.0,
                 n.edge or 0.0, s.mean_ridge, n.mean_ridge)
        for s, n in zip(half.stations, made.stations, strict=True) if s != n
    )


def _flank(half: HalfPaddle, station: Station) -> float:
    return half.section(station.x).thickness_at(0.25 * station.width)


def _mass(half: HalfPaddle, build: Build) -> float:
    """From the centre to the tip, kg."""
    axis = half_axis(half, 0.0)
    return axis.integral(rigidity(axis, build).mass)
