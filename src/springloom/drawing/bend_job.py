"""What the bend sheets draw: a blade, the line it is expected to take, and words about it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from springloom.drawing.model import Path, Pen
from springloom.drawing.offsets import Offset, figure, offsets
from springloom.drawing.outline import MM
from springloom.drawing.paths import bezier_from_points
from springloom.fit.bend import Target
from springloom.mechanics.expected import Expected, Line
from springloom.shape.blade import HalfPaddle
from springloom.units import System


@dataclass(frozen=True, slots=True)
class BendText:
    """Words of the bend sheets, set as they are; "" leaves out.

    Attributes:
        title, subtitle: the paddle.
        load: the weight, where it hangs and where the blade is held.
        expected: how far the tip sinks, with its band.
        wanted: how far it should sink; empty without a target.
        wood: what it is made of.
        notes, cautions: one sentence each.
        blade: which blade, where they differ.
    """

    title: str
    subtitle: str
    load: str
    expected: str
    wanted: str = ""
    wood: str = ""
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    blade: str = ""


@dataclass(frozen=True, slots=True)
class BendJob:
    """What is drawn: a blade, its expected bend, the target if there is one, the words."""

    half: HalfPaddle
    bend: Expected
    words: BendText
    system: System = "mm"
    target: Target | None = None

    @property
    def clamp(self) -> float:
        """Where the clamp ends, m from the centre."""
        return float(self.bend.middle.x[0])

    @property
    def rows(self) -> tuple[Offset, ...]:
        """The stations beyond the clamp."""
        return tuple(row for row in offsets(self.half, self.system)
                     if row.x >= self.clamp - 1e-9)

    def fall(self, line_: Line, x_m: float) -> float:
        """How far a place has come down on one of the lines, m."""
        return float(np.interp(x_m, line_.x, line_.fall))

    @property
    def aim(self) -> Target | None:
        """The target, where it is stated for this very weight."""
        same = self.target is not None and math.isclose(self.target.load_n,
                                                        self.bend.setup.loads[0].force)
        return self.target if same else None

    def figure(self, length_m: float) -> str:
        """Return a length as the sheets letter it."""
        return figure(length_m, self.system)


def curve(job: BendJob, bent: Line, pen: Pen = Pen.OUTLINE, layer: str = "line") -> Path:
    """Return a bent line at full size in mm, the clamp at the origin, falling along −y."""
    points = MM * np.column_stack((bent.out - job.clamp, -bent.fall))
    return bezier_from_points(points, pen=pen, layer=layer)


def falls(rows: Sequence[Offset], job: BendJob) -> list[list[str]]:
    """Cells of the table of falls: place, from the centre, crown, EI, fall, least, most."""
    bend, inner = job.bend, job.bend.middle.x
    return [
        [row.name, _bare(row.x, job.system), _bare(row.crown, job.system),
         f"{float(np.interp(row.x, inner, bend.ei)):.0f}",
         *(_bare(job.fall(bent, row.x), job.system)
           for bent in (bend.middle, bend.least, bend.most))]
        for row in rows
    ]


def _bare(length_m: float, system: System) -> str:
    return figure(length_m, system).removesuffix(f" {system}")
