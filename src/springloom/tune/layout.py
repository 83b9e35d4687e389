"""The vector of unknowns: which entry is what, and what a maker calls it.

In order: ln E of blade A and of blade B, ln density, the clamp's turning per moment for each
blade; then for each blade the crown and the edge thickness at its stations; then for each blade
the ridge's fullness at its stations beyond the plan's, the width at its stations but the tip, and
how much longer it is than planned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.tune.instruments import SIDES, Side


@dataclass(frozen=True, slots=True)
class Layout:
    """Which entry of the vector of unknowns is what, for blades of so many stations."""

    stations: tuple[int, int]

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return 5 + 4 * sum(self.stations)

    def ln_e(self, side: Side) -> int:
        """Index of ln E."""
        return SIDES.index(side)

    @property
    def ln_density(self) -> int:
        """Index of ln density."""
        return 2

    def clamp(self, side: Side) -> int:
        """Index of the clamp's turning per moment, rad/(N·m)."""
        return 3 + SIDES.index(side)

    def crowns(self, side: Side) -> slice:
        """Indices of a blade's crowns, m."""
        start = 5 if side == "a" else 5 + 2 * self.stations[0]
        return slice(start, start + self._count(side))

    def edges(self, side: Side) -> slice:
        """Indices of a blade's edge thicknesses, m."""
        crowns = self.crowns(side)
        return slice(crowns.stop, crowns.stop + self._count(side))

    def ridges(self, side: Side) -> slice:
        """Indices of what both faces' ridge fullness is beyond the plan's, at each station."""
        start = 5 + 2 * sum(self.stations) + (0 if side == "a" else 2 * self.stations[0])
        return slice(start, start + self._count(side))

    def widths(self, side: Side) -> slice:
        """Indices of a blade's widths, m; the tip has none."""
        ridges = self.ridges(side)
        return slice(ridges.stop, ridges.stop + self._count(side) - 1)

    def longer(self, side: Side) -> int:
        """Index of how much longer a blade is than planned, m."""
        return int(self.ridges(side).stop) + self._count(side) - 1

    def sizes(self) -> npt.NDArray[np.intp]:
        """Indices of every thickness and width: what is more than nothing."""
        every = np.arange(self.size)
        return np.concatenate([every[part(side)] for side in SIDES
                               for part in (self.crowns, self.edges, self.widths)])

    def _count(self, side: Side) -> int:
        return self.stations[SIDES.index(side)]
