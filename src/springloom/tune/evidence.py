"""What a maker can read at the bench, each reading with its own uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from springloom.errors import in_range, known
from springloom.mechanics.setups import STANDARD_LOAD

Side = Literal["a", "b"]
SIDES: tuple[Side, Side] = ("a", "b")

INSTRUMENTS = {
    "dial caliper": 0.00005,
    "vernier caliper": 0.0001,
    "combination square": 0.0003,
    "ruler": 0.0004,
    "tape": 0.0006,
}
"""Standard deviation of one reading on shaped wood, m (common practice, no source)."""

SCALES = {"kitchen scale": 0.002, "hanging scale": 0.015}
"""Standard deviation of one weighing, kg (common practice, no source)."""

DEFAULT_CALIPER = "vernier caliper"
DEFAULT_BENCH = "ruler"
DEFAULT_SCALE = "kitchen scale"


@dataclass(frozen=True, slots=True)
class ThicknessReading:
    """A caliper reading, m: ``kind`` crown (at the ridge) or edge (5 mm in from the edge)."""

    side: Side
    x: float
    thickness: float
    kind: Literal["crown", "edge"] = "crown"
    sd: float = INSTRUMENTS[DEFAULT_CALIPER]
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what no caliper shows."""
        known(self.side, SIDES, "blade")
        known(self.kind, ("crown", "edge"), "kind")
        in_range(self.x, "at", 0.0, 3.0, "m from centre")
        in_range(self.thickness, self.kind, 0.0005, 0.1, "m")
        in_range(self.sd, "sd", 0.0, 0.01, "m", open_low=True)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return f"blade {self.side.upper()}, {self.kind} at {self.name or f'{1e3 * self.x:.0f} mm'}"


@dataclass(frozen=True, slots=True)
class BenchReading:
    """How far one blade sank at a place under a hung weight, against the unloaded line.

    Attributes:
        side: the clamped blade.
        deflection: how far it sank, m.
        read_x: where it was read, m from the centre.
        load_x: where the weight hung.
        load: N.
        clamp_x: outer edge of the clamp.
        sd: of the deflection, m.
        load_sd_share: of the load, as a share (a marked weight is good to 1 %); readings under
            the same load share this error.
    """

    side: Side
    deflection: float
    read_x: float
    load_x: float
    clamp_x: float
    load: float = STANDARD_LOAD
    sd: float = INSTRUMENTS[DEFAULT_BENCH]
    load_sd_share: float = 0.01
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what no bench shows; a blade does not rise under a weight."""
        known(self.side, SIDES, "blade")
        in_range(self.deflection, "deflection", 0.0, 0.5, "m", open_low=True)
        in_range(self.load, "load", 0.5, 300.0, "N")
        in_range(self.clamp_x, "clamp", 0.0, 2.0, "m from centre")
        in_range(self.load_x, "hung_at", self.clamp_x + 0.05, 3.0, "m from centre")
        in_range(self.read_x, "read_at", self.clamp_x + 0.01, 3.0, "m from centre")
        in_range(self.sd, "sd", 0.0, 0.05, "m", open_low=True)
        in_range(self.load_sd_share, "load_sd_share", 0.0, 0.2)

    @property
    def total_sd(self) -> float:
        """Reading and load uncertainty together, m."""
        return float((self.sd**2 + (self.load_sd_share * self.deflection) ** 2) ** 0.5)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        place = self.name or f"{1e3 * self.read_x:.0f} mm"
        return f"blade {self.side.upper()}, bench reading at {place}"


PADDLE_SHARE = 0.01
"""Standard deviation, as a share of the paddle's weight, of what no unknown carries: a loom off
its plan by 0.3 mm, finish, damp in the wood (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class WeightReading:
    """The whole paddle on a scale, kg."""

    mass: float
    sd: float = SCALES[DEFAULT_SCALE]

    def __post_init__(self) -> None:
        """Refuse what is no paddle."""
        in_range(self.mass, "weight", 0.1, 5.0, "kg")
        in_range(self.sd, "sd", 0.0, 0.5, "kg", open_low=True)

    @property
    def total_sd(self) -> float:
        """Scale and :data:`PADDLE_SHARE` together, kg."""
        return float((self.sd**2 + (PADDLE_SHARE * self.mass) ** 2) ** 0.5)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return "paddle weight"


Reading = ThicknessReading | BenchReading | WeightReading
