"""What is read in a round, one reading after another, and which of it is still to be read.

In the order in which a maker has the tool in hand: calipers along blade A and along blade B, the
scale, then each blade clamped with the weight hung from it. Nothing has to be read: the estimate
takes what there is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from springloom.shape.blade import EDGE_INSET, HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import (
    SIDES,
    BenchReading,
    Reading,
    Side,
    ThicknessReading,
    WeightReading,
)

Sort = Literal["crown", "edge", "weight", "bench"]

BENCH_SHARES = ((1.0, "tip"), (0.75, "3/4"), (0.5, "1/2"))
"""Where the loaded blade is read, as shares of its length: the end tells most and comes first."""

_SAME_PLACE = 0.0008  # m: names such as "75 mm from tip" are rounded to the millimetre


@dataclass(frozen=True, slots=True)
class Step:
    """One reading of a round.

    Attributes:
        key: names it: ``a-crown-2``, ``weight``.
        sort: what is read.
        side: on which blade; None for the whole paddle.
        x_m: where, from the centre; 0 for the whole paddle.
        place: what the maker calls that place.
        planned_m: the thickness that the plan has there; None where it has none.
    """

    key: str
    sort: Sort
    side: Side | None = None
    x_m: float = 0.0
    place: str = ""
    planned_m: float | None = None

    def is_read_by(self, reading: Reading) -> bool:
        """Whether a reading is this one."""
        if isinstance(reading, WeightReading):
            return self.sort == "weight"
        if isinstance(reading, ThicknessReading):
            return (reading.kind == self.sort and reading.side == self.side
                    and reading.face == "both" and abs(reading.x - self.x_m) < _SAME_PLACE)
        return (isinstance(reading, BenchReading) and self.sort == "bench"
                and reading.side == self.side and abs(reading.read_x - self.x_m) < _SAME_PLACE)


def walk(paddle: Paddle) -> tuple[Step, ...]:
    """Every reading of a round, in order."""
    blades = {"a": paddle.a, "b": paddle.b}
    calipers = [step for side in SIDES for step in _calipers(side, blades[side])]
    bench = [step for side in SIDES for step in _bench(side, blades[side])]
    return (*calipers, Step("weight", "weight"), *bench)


def _calipers(side: Side, half: HalfPaddle) -> Iterable[Step]:
    for i, station in enumerate(half.stations):
        yield Step(f"{side}-crown-{i}", "crown", side, station.x, station.name, station.crown)
        if station.x < half.cap[0] + 1e-9:  # no edge can be read in the rounded tip
            edge = station.edge if station.edge is not None else (
                half.section(station.x).thickness_at(EDGE_INSET))
            yield Step(f"{side}-edge-{i}", "edge", side, station.x, station.name, float(edge))


def _bench(side: Side, half: HalfPaddle) -> Iterable[Step]:
    for i, (share, name) in enumerate(BENCH_SHARES):
        yield Step(f"{side}-bench-{i}", "bench", side, half.at_fraction(share), name)


def is_read(step: Step, readings: Iterable[Reading]) -> bool:
    """Whether a step was read."""
    return any(step.is_read_by(reading) for reading in readings)


def unread(steps: Sequence[Step], readings: Sequence[Reading]) -> tuple[Step, ...]:
    """The steps that were not read, in order."""
    return tuple(step for step in steps if not is_read(step, readings))


def next_step(steps: Sequence[Step], readings: Sequence[Reading], after: str = "") -> Step | None:
    """The first step not read after the one of that key, or None when none is left after it."""
    keys = [step.key for step in steps]
    start = keys.index(after) + 1 if after in keys else 0
    return next(iter(unread(steps[start:], readings)), None)

