"""Specific gravity on its two bases, which look alike and must never be mixed.

Both divide the oven-dry mass by a volume (and by the density of water); they differ in whether
that volume was taken green or at 12 % moisture. Wood shrinks as it dries, so the second is the
larger by 2 to 10 %. Each basis is its own class: mypy and the functions here refuse the other.
"""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import InputError, in_range

FIBRE_SATURATION_PERCENT = 30.0
"""Average moisture content below which wood shrinks (FPL-GTR-282, p. 4-2)."""

WATER_KG_M3 = 1000.0
"""Density of water in eq 4-14 of FPL-GTR-282."""

_SHRINKAGE_PER_GRAVITY = 0.265  # eq 4-12: total volumetric shrinkage S0 = 26.5 % times Gb


@dataclass(frozen=True, slots=True)
class GreenGravity:
    """Oven-dry mass over GREEN volume, relative to water ("basic" specific gravity, Gb)."""

    value: float

    def __post_init__(self) -> None:
        """Raise RangeError outside what wood can be."""
        in_range(self.value, "gravity_green", 0.05, 1.3)


@dataclass(frozen=True, slots=True)
class Gravity12:
    """Oven-dry mass over the volume at 12 % moisture, relative to water (G12)."""

    value: float

    def __post_init__(self) -> None:
        """Raise RangeError outside what wood can be."""
        in_range(self.value, "gravity_12", 0.05, 1.4)


def to_12(gravity: GreenGravity) -> Gravity12:
    """Return the 12 % basis of a green-basis value: G12 = Gb / (1 - 0.265 Gb (1 - 12/30)).

    Source: FPL-GTR-282 eq 4-13 (eqs 4-9, 4-11 and 4-12 combined).

    Raises:
        InputError: the value given is not on the green basis.
    """
    _require(gravity, GreenGravity)
    return Gravity12(gravity.value / (1.0 - _shrink_factor_12() * gravity.value))


def to_green(gravity: Gravity12) -> GreenGravity:
    """Return the green basis of a 12 % value, the inverse of :func:`to_12`.

    Raises:
        InputError: the value given is not on the 12 % basis.
    """
    _require(gravity, Gravity12)
    return GreenGravity(gravity.value / (1.0 + _shrink_factor_12() * gravity.value))


def volumetric_shrinkage_percent(gravity: GreenGravity) -> float:
    """Return the total volumetric shrinkage, green to oven-dry, expected from gravity alone.

    Source: FPL-GTR-282 eq 4-12, S0 = 26.5 Gb; for species without a measured value.

    Raises:
        InputError: the value given is not on the green basis.
    """
    _require(gravity, GreenGravity)
    return 100.0 * _SHRINKAGE_PER_GRAVITY * gravity.value


def _shrink_factor_12() -> float:
    return _SHRINKAGE_PER_GRAVITY * (1.0 - 12.0 / FIBRE_SATURATION_PERCENT)


def _require(gravity: object, basis: type[GreenGravity | Gravity12]) -> None:
    if not isinstance(gravity, basis):
        raise InputError(
            "specific gravity on the wrong basis; convert it with to_12 or to_green",
            field="gravity", given=type(gravity).__name__, allowed=basis.__name__,
        )
