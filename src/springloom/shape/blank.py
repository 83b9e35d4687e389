"""The blank a paddle is carved from: its size, what is lost on the way to it, and what a board
leaves out.

Places are metres from the paddle's centre; the blank's middle line is the paddle's.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from springloom.errors import in_range
from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.shape.paddle import Paddle

Floats = npt.NDArray[np.float64]
Size = Literal["length", "width", "thickness"]

_WIDTH, _CROWN, _SHARE = (CHANNELS.index(n) for n in ("half_width", "crown", "share"))
_STEPS = 400  # points on each half: 3 mm apart, the outline between them bows by 0.02 mm at most
_SAME = 1e-7  # m; sizes typed in inches and compared in metres


@dataclass(frozen=True, slots=True)
class Allowances:
    """What a saw and a plane take before the blank is square; common practice, no source.

    Attributes:
        kerf_m: width of a saw cut.
        planing_m: taken off each face of a board that lies as it was planed, to true it.
        sawn_m: taken off each face of a board as the saw left it; at least 2 mm of sawn timber is
            planed from all sides (puuinfo.fi, "Quality classes, names and dimensions").
        edge_m: left outside the outline at each edge.
        end_m: cut off at each end, where boards check.
    """

    kerf_m: float = 0.003
    planing_m: float = 0.001
    sawn_m: float = 0.002
    edge_m: float = 0.0025
    end_m: float = 0.025

    def __post_init__(self) -> None:
        """Refuse what no shop does."""
        for name in ("kerf_m", "planing_m", "sawn_m", "edge_m"):
            in_range(getattr(self, name), name, 0.0, 0.02, "m")
        in_range(self.end_m, "end_m", 0.0, 0.3, "m")


NO_ALLOWANCE = Allowances(0.0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Blank:
    """A squared piece that holds the paddle, m; ``above_m`` of the thickness is over the edges."""

    length_m: float
    width_m: float
    thickness_m: float
    above_m: float

    @property
    def volume_m3(self) -> float:
        """Its wood, m³."""
        return self.length_m * self.width_m * self.thickness_m

    @property
    def below_m(self) -> float:
        """What of the thickness lies under the edges, m."""
        return self.thickness_m - self.above_m


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """Sizes along a paddle, blade B's tip to blade A's, arrays (n,) in m.

    ``top`` and ``bottom`` are the ridges' heights over and under the edges.
    """

    x: Floats
    half_width: Floats
    top: Floats
    bottom: Floats


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A size a board lacks.

    Attributes:
        size: which.
        needed_m: what is needed there, allowances in it.
        has_m: what the board has.
        only_allowance: whether the bare paddle would still come out.
        blade: "A" or "B" where the blades differ; empty where both are alike, and for a length.
        place: the maker's name of the place that lacks most.
        from_m, to_m: the stretch, from the centre.
    """

    size: Size
    needed_m: float
    has_m: float
    only_allowance: bool
    blade: str = ""
    place: str = ""
    from_m: float = 0.0
    to_m: float = 0.0

    @property
    def short_m(self) -> float:
        """How much is missing, m."""
        return self.needed_m - self.has_m


def profile(paddle: Paddle) -> Profile:
    """Return the sizes along a whole paddle, stations among the places."""
    a, b = _half_profile(paddle.a), _half_profile(paddle.b)
    x = np.concatenate([-b[0][:0:-1], a[0]])
    rest = [np.concatenate([mine[:0:-1], theirs])
            for mine, theirs in zip(b[1:], a[1:], strict=True)]
    return Profile(x, *rest)


def _half_profile(half: HalfPaddle) -> tuple[Floats, ...]:
    u = np.union1d(np.linspace(0.0, half.knots[-1], _STEPS + 1), half.knots)
    values = half.values(u)
    share = np.clip(values[_SHARE], 0.0, 1.0)
    top, bottom = values[_CROWN] * share, values[_CROWN] * (1.0 - share)
    return half.place(u)[0], np.maximum(values[_WIDTH], 0.0), top, bottom


def blank_for(paddle: Paddle, allow: Allowances | None = None) -> Blank:
    """Return the squared blank: the paddle's greatest sizes, room at edges and ends added.

    Nothing is added to the thickness: the ridges lie in the blank's faces.
    """
    allow, line = allow or Allowances(), profile(paddle)
    above, below = float(line.top.max()), float(line.bottom.max())
    return Blank(paddle.length + 2.0 * allow.end_m,
                 2.0 * (float(line.half_width.max()) + allow.edge_m), above + below, above)


def shortfalls(
    paddle: Paddle, length_m: float, width_m: float, thickness_m: float,
    allow: Allowances | None = None, *, sawn: bool = False,
) -> tuple[Shortfall, ...]:
    """Say what a board lacks for a paddle, and where; nothing if the paddle fits.

    The paddle lies along the board's middle. ``sawn`` asks the allowance of a sawn board.
    """
    allow = allow or Allowances()
    planing = allow.sawn_m if sawn else allow.planing_m
    found: list[Shortfall] = []
    if paddle.length + 2.0 * allow.end_m > length_m + _SAME:
        found.append(Shortfall("length", paddle.length + 2.0 * allow.end_m, length_m,
                               paddle.length <= length_m + _SAME, "", "tip", 0.0, paddle.a.tip))
    line = profile(paddle)
    lack = float(line.top.max() + line.bottom.max()) + 2.0 * planing - thickness_m
    halves = [("", paddle.a)] if paddle.is_symmetric else [("A", paddle.a), ("B", paddle.b)]
    for blade, half in halves:
        x, half_width, top, bottom = _half_profile(half)
        found += _stretches(half, blade, "width", x, 2.0 * (half_width + allow.edge_m), width_m,
                            2.0 * allow.edge_m)
        # What is missing is shared between the faces: each ridge may stand this high.
        over = top - (line.top.max() - 0.5 * lack)
        under = bottom - (line.bottom.max() - 0.5 * lack)
        most = thickness_m + 2.0 * np.maximum(over, under)
        found += _stretches(half, blade, "thickness", x, most, thickness_m, 2.0 * planing)
    return tuple(found)


def _stretches(half: HalfPaddle, blade: str, size: Size, x: Floats, needed: Floats, has: float,
               allowance: float) -> list[Shortfall]:
    """Find each run of places that needs more than there is."""
    found = []
    lacking = needed > has + _SAME
    for run in np.split(np.arange(len(x)), np.flatnonzero(np.diff(lacking)) + 1):
        if not lacking[run[0]]:
            continue
        worst = int(run[np.argmax(needed[run])])
        most = float(needed[worst])
        found.append(Shortfall(size, most, has, most - allowance <= has + _SAME, blade,
                               place_name(half, float(x[worst])), float(x[run[0]]),
                               float(x[run[-1]])))
    return found


def place_name(half: HalfPaddle, x_m: float) -> str:
    """Return the name of the nearest named place: the loom, the shoulder or a station."""
    loom = half.loom.half_length
    if x_m < 0.97 * loom:
        return "loom"
    named = [(loom, "shoulder"), *((s.x, s.name or f"{1e3 * s.x:.0f} mm from the centre")
                                   for s in half.stations)]
    return min(named, key=lambda place: abs(place[0] - x_m))[1]
