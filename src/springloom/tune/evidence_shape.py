"""Readings of a blade's shape: thickness, width, length, and what a section trace says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from springloom.errors import in_range, known
from springloom.tune.instruments import (
    DEFAULT_CALIPER,
    DEFAULT_LENGTH,
    FACES,
    INSTRUMENTS,
    SIDES,
    Face,
    Read,
    Side,
    blade_name,
    place_name,
)


@dataclass(frozen=True, slots=True)
class ThicknessReading(Read):
    """A caliper reading, m.

    ``kind`` is crown (at the ridge), edge (5 mm in from the edge) or inset (``inset`` m in from
    the edge). ``face`` is both together, or how far one face stands above ("upper") or below
    ("lower") the widest line.
    """

    side: Side
    x: float
    thickness: float
    kind: Literal["crown", "edge", "inset"] = "crown"
    sd: float = INSTRUMENTS[DEFAULT_CALIPER]
    name: str = ""
    inset: float = 0.0
    face: Face = "both"

    def __post_init__(self) -> None:
        """Refuse what no caliper shows."""
        known(self.side, SIDES, "blade")
        known(self.kind, ("crown", "edge", "inset"), "kind")
        known(self.face, FACES, "face")
        in_range(self.x, "at", 0.0, 3.0, "m from centre")
        in_range(self.thickness, self.kind if self.kind != "inset" else "thickness",
                 0.0005 if self.face == "both" else 0.0001, 0.1, "m")
        in_range(self.sd, "sd", 0.0, 0.01, "m", open_low=True)
        in_range(self.inset, "inset", 0.0, 0.1, "m", open_low=self.kind == "inset")

    @property
    def value(self) -> float:
        """What was read, m."""
        return self.thickness

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        what = f"thickness {1e3 * self.inset:g} mm in" if self.kind == "inset" else self.kind
        face = "" if self.face == "both" else f"{self.face} face, "
        return f"{blade_name(self.side)}, {face}{what} at {place_name(self.x, self.name)}"


@dataclass(frozen=True, slots=True)
class FullnessReading(Read):
    """What a section trace says: ``ridge``·r + ``edge``·s of one place's fullnesses is ``value``.

    A trace fixes one such sum better than another; :mod:`springloom.tune.trace` makes them so that
    their errors have nothing in common.
    """

    side: Side
    x: float
    ridge: float
    edge: float
    value: float
    sd: float
    face: Face = "both"
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what is no weight or no place."""
        known(self.side, SIDES, "blade")
        known(self.face, FACES, "face")
        in_range(self.x, "at", 0.0, 3.0, "m from centre")
        for field in ("ridge", "edge"):
            in_range(getattr(self, field), field, -1.0, 1.0)
        in_range(self.value, "value", -3.0, 3.0)
        in_range(self.sd, "sd", 0.0, 10.0, open_low=True)

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        face = "" if self.face == "both" else f"{self.face} face, "
        return f"{blade_name(self.side)}, {face}trace at {place_name(self.x, self.name)}"


@dataclass(frozen=True, slots=True)
class WidthReading(Read):
    """Width across a blade, m."""

    side: Side
    x: float
    width: float
    sd: float = INSTRUMENTS[DEFAULT_CALIPER]
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse what is no blade."""
        known(self.side, SIDES, "blade")
        in_range(self.x, "at", 0.0, 3.0, "m from centre")
        in_range(self.width, "width", 0.005, 0.3, "m")
        in_range(self.sd, "sd", 0.0, 0.01, "m", open_low=True)

    @property
    def value(self) -> float:
        """What was read, m."""
        return self.width

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return f"{blade_name(self.side)}, width at {place_name(self.x, self.name)}"


@dataclass(frozen=True, slots=True)
class LengthReading(Read):
    """A blade's length from the shoulder to the tip, m."""

    side: Side
    length: float
    sd: float = INSTRUMENTS[DEFAULT_LENGTH]

    def __post_init__(self) -> None:
        """Refuse what is no blade."""
        known(self.side, SIDES, "blade")
        in_range(self.length, "length", 0.05, 2.5, "m")
        in_range(self.sd, "sd", 0.0, 0.02, "m", open_low=True)

    @property
    def value(self) -> float:
        """What was read, m."""
        return self.length

    @property
    def label(self) -> str:
        """What the maker calls this reading."""
        return f"{blade_name(self.side)}, length"
