"""A whole paddle: a loom and two blades, and the default one for a full-size body."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from springloom.errors import ShapeError
from springloom.shape.blade import HalfPaddle, Loom, Station, station_name
from springloom.shape.section import ELLIPSE


@dataclass(frozen=True)
class Paddle:
    """Two halves joined at the centre; ``b`` is the mirror of ``a`` unless measured otherwise.

    Raises:
        ShapeError: the halves' looms differ where they meet.
    """

    a: HalfPaddle
    b: HalfPaddle

    def __post_init__(self) -> None:
        """The two halves share one loom section."""
        ours, theirs = self.a.loom.channels(), self.b.loom.channels()
        if ours != theirs:
            raise ShapeError("both halves need the same loom section", field="loom",
                             given=theirs[:2], allowed=str(ours[:2]))

    @classmethod
    def mirrored(cls, half: HalfPaddle) -> Paddle:
        """Return a paddle with two like blades."""
        return cls(half, half)

    @property
    def length(self) -> float:
        """Tip to tip, m."""
        return self.a.tip + self.b.tip

    @property
    def is_symmetric(self) -> bool:
        """Whether both blades are the same."""
        return self.a is self.b or self.a == self.b

    def with_crowns(self, a: Sequence[float], b: Sequence[float]) -> Paddle:
        """Return a copy with other crown thicknesses (m) at each blade's stations."""
        first = self.a.with_crowns(a)
        if self.is_symmetric and tuple(a) == tuple(b):
            return Paddle.mirrored(first)
        return Paddle(first, self.b.with_crowns(b))


DEFAULT_LENGTH = 2.210
DEFAULT_LOOM_LENGTH = 0.510
DEFAULT_NEAR_TIP = 0.075

_DEFAULT_LOOM = Loom(half_length=DEFAULT_LOOM_LENGTH / 2, width=0.032, thickness=0.038)
# width, crown, edge (mm) and ridge fullness at root, 1/4, 1/2, 3/4, 75 mm from tip, tip:
# an eased diamond at the root going to an ellipse. Common practice, no source, ±20 %.
_DEFAULT_STATIONS = (
    (39.0, 34.0, 18.0, 0.40),
    (60.0, 24.5, 9.0, 0.45),
    (73.0, 17.5, 7.0, 0.50),
    (82.0, 13.0, 6.0, 0.54),
    (83.0, 10.0, 5.0, ELLIPSE),
    (0.0, 7.5, 4.5, ELLIPSE),
)


def standard_places(loom: Loom, tip: float, near_tip: float = DEFAULT_NEAR_TIP) -> list[float]:
    """Root, quarter points of the blade, near-tip and tip, m from the centre."""
    blade = tip - loom.half_length
    quarters = [loom.half_length + share * blade for share in (0.25, 0.5, 0.75)]
    return [loom.root, *quarters, tip - near_tip, tip]


def default_paddle(
    length: float = DEFAULT_LENGTH, loom_length: float = DEFAULT_LOOM_LENGTH
) -> Paddle:
    """Return the default full-size paddle (western redcedar), or one of another length, m."""
    loom = replace(_DEFAULT_LOOM, half_length=0.5 * loom_length)
    tip = 0.5 * length
    stations = tuple(
        Station(x, 1e-3 * width, 1e-3 * crown, 1e-3 * edge, ridge, name=station_name(x, loom, tip))
        for x, (width, crown, edge, ridge) in zip(
            standard_places(loom, tip), _DEFAULT_STATIONS, strict=True
        )
    )
    return Paddle.mirrored(HalfPaddle(loom, stations))
