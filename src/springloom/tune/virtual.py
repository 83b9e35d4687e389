"""A virtual paddle whose truth is hidden, and a virtual maker with real tools and a real hand.

The paddle has what no plan knows: its own stiffness at each end of the board, wood left on
unevenly, also between the stations, widths off by a little. What is read of it comes from the
mechanics, never from the formulas that the estimate uses. The maker's weight is off by the same
share all along; the bench's clamp turns, partly alike for every blade and partly as it was
tightened this time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.mechanics.axis import half_axis
from springloom.mechanics.beam import Load
from springloom.mechanics.mass import mass_on
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line, tip_deflection
from springloom.mechanics.stiffness import rigidity
from springloom.shape.blade import HalfPaddle, Station, edge_inset
from springloom.tune.estimate import CLAMP_COMMON, CLAMP_SD
from springloom.tune.evidence import (
    INSTRUMENTS,
    SCALES,
    SIDES,
    BenchReading,
    Reading,
    Side,
    ThicknessReading,
    WeightReading,
)
from springloom.tune.rules import PLANING_SD, SETTING_SHARE
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]
Random = np.random.Generator


@dataclass(frozen=True, slots=True)
class Virtual:
    """The truth: both blades as they are, and the wood of each.

    Attributes:
        halves: the blades, with more stations than the plan has.
        woods: of each blade.
    """

    halves: tuple[HalfPaddle, HalfPaddle]
    woods: tuple[Material, Material]

    def half(self, side: Side) -> HalfPaddle:
        """One blade."""
        return self.halves[SIDES.index(side)]

    def wood(self, side: Side) -> Material:
        """Its wood."""
        return self.woods[SIDES.index(side)]

    def sinks(self, side: Side, load_n: float = STANDARD_LOAD) -> float:
        """How far the tip sinks under a weight in a rigid clamp, m."""
        half = self.half(side)
        return tip_deflection(half, self.wood(side), Clamped(loads=(Load(half.tip, load_n),)))

    def thickness(self, side: Side, x: float) -> tuple[float, float]:
        """Crown, and edge as calipers read it, m; at the tip the edge is the station's own."""
        half = self.half(side)
        if x >= half.tip - 1e-6:
            last = half.stations[-1]
            return last.crown, last.edge or last.crown
        section = half.section(x)
        inset = edge_inset(2.0 * section.half_width)
        return section.top + section.bottom, section.thickness_at(inset)

    def mass_kg(self) -> float:
        """Mass of the whole paddle."""
        axes = [half_axis(half, 0.0) for half in self.halves]
        return sum(mass_on(axis, rigidity(axis, wood)).mass_kg
                   for axis, wood in zip(axes, self.woods, strict=True))

    def planed(self, side: Side, off: Floats) -> Virtual:
        """Return it with this much off the crown at each of the blade's own stations, m.

        Edges thin in proportion.
        """
        half = self.half(side)
        new = [_thinned(station, float(u)) for station, u in zip(half.stations, off, strict=True)]
        halves = list(self.halves)
        halves[SIDES.index(side)] = replace(half, stations=tuple(new))
        return replace(self, halves=(halves[0], halves[1]))


def _thinned(station: Station, off: float) -> Station:
    if off == 0.0:
        return station
    left = (station.crown - off) / station.crown
    edge = None if station.edge is None else station.edge * left
    return replace(station, crown=station.crown * left, edge=edge)


@dataclass(frozen=True, slots=True)
class Tools:
    """What the maker reads with: standard deviations, m and kg, and where the bench is read.

    Attributes:
        caliper_m: of a thickness.
        bench_m: of one reading of how far the blade sank.
        load_share: of the weight, as a share; the same error all along.
        scale_kg: of the scale.
        places: shares of the blade from the shoulder at which the line is read.
        repeats: how often each is read, the weight taken off between.
    """

    caliper_m: float = INSTRUMENTS["vernier caliper"]
    bench_m: float = INSTRUMENTS["ruler"]
    load_share: float = 0.01
    scale_kg: float = SCALES["kitchen scale"]
    places: tuple[float, ...] = (0.25, 0.5, 0.75, 1.0)
    repeats: int = 3


class Maker:
    """One maker at one bench: errors that stay, and fresh ones for each reading and stroke."""

    def __init__(self, random: Random, tools: Tools, load_n: float = STANDARD_LOAD) -> None:
        """Draw what stays: the weight's error and what every clamping has in common."""
        self._random, self.tools, self._load = random, tools, load_n
        self._heavier = tools.load_share * float(random.standard_normal())
        self._bench = math.sqrt(CLAMP_COMMON) * CLAMP_SD * float(random.standard_normal())
        self._turning = dict.fromkeys(SIDES, 0.0)
        self.clamp()

    def clamp(self) -> None:
        """Clamp both blades anew."""
        own = math.sqrt(1.0 - CLAMP_COMMON) * CLAMP_SD
        self._turning = {s: self._bench + own * float(self._random.standard_normal())
                         for s in SIDES}

    def turning(self, side: Side) -> float:
        """How far the clamp turns under this blade's moment, rad/(N·m)."""
        return self._turning[side]

    def calipers(self, paddle: Virtual, side: Side, plan: HalfPaddle) -> list[Reading]:
        """Crown and edge at each of the plan's stations; in the round of the tip no edge."""
        found: list[Reading] = []
        for station in plan.stations:
            crown, edge = paddle.thickness(side, station.x)
            sd, name = self.tools.caliper_m, station.name
            found.append(ThicknessReading(side, station.x, self._noisy(crown, sd), "crown", sd,
                                          name))
            if station is not plan.stations[-1]:
                found.append(ThicknessReading(side, station.x, self._noisy(edge, sd), "edge", sd,
                                              name))
        return found

    def bench(self, paddle: Virtual, side: Side) -> list[BenchReading]:
        """How far the clamped blade sinks under the weight at its tip."""
        half, tools = paddle.half(side), self.tools
        places = [half.tip if share == 1.0 else half.at_fraction(share) for share in tools.places]
        root, load = half.loom.root, self._load * (1.0 + self._heavier)
        setup = Clamped(root, (Load(half.tip, load),), tuple(places),
                        self._turning[side] * load * (half.tip - root))
        line = clamped_line(half, paddle.wood(side), setup)
        return [
            BenchReading(side, max(self._noisy(line.at(x), tools.bench_m), 1e-5), x, half.tip,
                         root, self._load, tools.bench_m, tools.load_share,
                         f"{share:g}" if share < 1.0 else "tip")
            for _ in range(tools.repeats) for x, share in zip(places, tools.places, strict=True)
        ]

    def weighing(self, paddle: Virtual) -> WeightReading:
        """The paddle on the scale."""
        sd = self.tools.scale_kg
        return WeightReading(self._noisy(paddle.mass_kg(), sd), sd)

    def plane(self, paddle: Virtual, side: Side, places: Floats, per_face: Floats) -> Virtual:
        """Take so much off each face at these places, and in between what lies between.

        The plane's setting is off by one share for the whole blade; each face at each place by
        what the hand does. No wood is put back, and none is taken where none was meant.
        """
        own = np.array([station.x for station in paddle.half(side).stations])
        meant = np.interp(own, places, per_face)
        setting = 1.0 + SETTING_SHARE * float(self._random.standard_normal())
        hand = PLANING_SD * self._random.standard_normal((2, len(own))).sum(axis=0)
        off = np.where(meant > 0.0, np.maximum(2.0 * meant * setting + hand, 0.0), 0.0)
        return paddle.planed(side, off)

    def _noisy(self, value: float, sd: float) -> float:
        return value + sd * float(self._random.standard_normal())
