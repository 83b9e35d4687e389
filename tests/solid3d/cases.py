"""The blades that are held against the solid: three woods, two shapes, and one with unlike faces.

The shapes are made up for the comparison, far apart within what is carved.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from springloom.shape.blade import HalfPaddle, Loom, Station
from springloom.shape.paddle import default_paddle
from springloom.shape.section import ELLIPSE

DEFAULT = default_paddle().a

SLENDER = HalfPaddle(
    Loom(half_length=0.240, width=0.033, thickness=0.036),
    (
        Station(0.265, 0.038, 0.036, 0.0160, 0.15),
        Station(0.450, 0.052, 0.029, 0.0100, 0.15),
        Station(0.750, 0.066, 0.019, 0.0070, 0.15),
        Station(1.000, 0.073, 0.014, 0.0060, 0.20),
        Station(1.160, 0.075, 0.011, 0.0055, 0.30),
        Station(1.230, 0.000, 0.008, 0.0050, 0.40),
    ),
)
"""965 mm of blade, no wider than 75 mm, a sharp diamond almost to the tip."""

UNLIKE = replace(
    DEFAULT,
    stations=tuple(
        replace(station, share=share, ridge_bottom=ridge)
        for station, share, ridge in zip(
            DEFAULT.stations, (0.5, 0.6, 0.7, 0.75, 0.75, 0.7), (0.4, 0.5, 0.6, 0.65, 0.6, ELLIPSE),
            strict=True,
        )
    ),
)
"""The default blade with a ridge above and a fuller, flatter face below."""


@dataclass(frozen=True, slots=True)
class Case:
    """A blade of one wood, its growth rings along the face (flat) or through it (quarter)."""

    shape: str
    half: HalfPaddle
    species: str
    ring: Literal["flat", "quarter"]

    def __str__(self) -> str:
        return f"{self.shape} {self.species} {self.ring}"


CASES = (
    Case("default", DEFAULT, "western_redcedar", "flat"),
    Case("default", DEFAULT, "sitka_spruce", "quarter"),
    Case("default", DEFAULT, "sugar_maple", "quarter"),
    Case("slender", SLENDER, "western_redcedar", "flat"),
    Case("slender", SLENDER, "sitka_spruce", "quarter"),
    Case("slender", SLENDER, "sugar_maple", "quarter"),
    Case("unlike faces", UNLIKE, "white_ash", "flat"),
)
"""E over the shear modulus through the thickness runs from 9 (ash, flat) to 16 (spruce and maple,
quarter)."""
