"""Which wood lies where in a blank: strips side by side, each of one material.

Section axes as in the paddle: y across the blade, z through it, the origin in the middle of the
blank. A strip is a rectangle there that runs the whole length.
"""

from __future__ import annotations

from dataclasses import dataclass

from springloom.errors import InputError, ShapeError, in_range, known
from springloom.wood.elastic import RINGS, Ring
from springloom.wood.material import Material

HALF_BLANK_M = 0.25
"""How far a strip may reach from the middle; a blank of one wood is one strip of this size."""

_TOUCH_M = 1e-9  # strips may touch; rounding in metres must not count as overlap


@dataclass(frozen=True, slots=True)
class Strip:
    """A rectangle of one material in the section of the blank, m.

    ``ring`` is how the material's growth rings were told to lie, for whoever saws the strip.

    Raises:
        RangeError: an edge beyond HALF_BLANK_M.
        InputError: an edge that does not lie above its opposite.
        UnknownNameError: no such lie of the rings.
    """

    material: Material
    y_min_m: float
    y_max_m: float
    z_min_m: float
    z_max_m: float
    ring: Ring = "mixed"

    def __post_init__(self) -> None:
        """Check the edges."""
        known(self.ring, RINGS, "ring")
        for field in ("y_min_m", "y_max_m", "z_min_m", "z_max_m"):
            in_range(getattr(self, field), field, -HALF_BLANK_M, HALF_BLANK_M, "m")
        for axis, low, high in (("y", self.y_min_m, self.y_max_m),
                                ("z", self.z_min_m, self.z_max_m)):
            if high - low <= _TOUCH_M:
                raise InputError("must be more than its opposite edge", field=f"{axis}_max_m",
                                 given=f"{high:g} m", allowed=f"more than {low:g} m")

    def overlap_m2(self, other: Strip) -> float:
        """Return the area shared with another strip, m2."""
        y = min(self.y_max_m, other.y_max_m) - max(self.y_min_m, other.y_min_m)
        z = min(self.z_max_m, other.z_max_m) - max(self.z_min_m, other.z_min_m)
        return y * z if y > _TOUCH_M and z > _TOUCH_M else 0.0

    def holds(self, y_m: float, z_m: float) -> bool:
        """Tell whether a point lies in the strip or on its edge."""
        return self.y_min_m <= y_m <= self.y_max_m and self.z_min_m <= z_m <= self.z_max_m


@dataclass(frozen=True, slots=True)
class Layup:
    """The strips of a blank; they may touch but not overlap.

    Raises:
        InputError: no strip at all, or two that overlap (named by their place in the list).
    """

    strips: tuple[Strip, ...]

    def __post_init__(self) -> None:
        """Check every pair."""
        if not self.strips:
            raise InputError("needs at least one strip", field="strips", given=0,
                             allowed="1 or more")
        for i, strip in enumerate(self.strips):
            for j in range(i):
                if strip.overlap_m2(self.strips[j]) > 0.0:
                    raise InputError(f"overlaps strip {j}", field=f"strips[{i}]",
                                     given=strip.material.name, allowed="strips side by side")

    @classmethod
    def solid(cls, material: Material) -> Layup:
        """Return a blank of one wood."""
        edge = HALF_BLANK_M
        return cls((Strip(material, -edge, edge, -edge, edge),))

    @property
    def is_solid(self) -> bool:
        """Whether all strips are of the same material."""
        return all(strip.material == self.strips[0].material for strip in self.strips)

    def material_at(self, y_m: float, z_m: float) -> Material:
        """Return the material at a point; on a glue line, that of the strip listed first.

        Raises:
            ShapeError: no strip lies there.
        """
        for strip in self.strips:
            if strip.holds(y_m, z_m):
                return strip.material
        raise ShapeError("no strip of the blank lies here", field="strips",
                         given=f"y {y_m:g} m, z {z_m:g} m", allowed="a point inside the blank")

    def require_cover(self, half_width_m: float, half_thickness_m: float) -> None:
        """Make sure the strips fill a rectangle about the middle without a gap.

        Raises:
            RangeError: a rectangle of no size or beyond HALF_BLANK_M.
            ShapeError: some of the rectangle is not wood.
        """
        y = in_range(half_width_m, "half_width_m", 0.0, HALF_BLANK_M, "m", open_low=True)
        z = in_range(half_thickness_m, "half_thickness_m", 0.0, HALF_BLANK_M, "m", open_low=True)
        window = Strip(self.strips[0].material, -y, y, -z, z)
        covered = sum(strip.overlap_m2(window) for strip in self.strips)
        area = 4.0 * y * z
        # a part in a million leaves room for edges typed in inches
        if covered < area * (1.0 - 1e-6):
            raise ShapeError("the strips leave part of the paddle without wood", field="strips",
                             given=f"{100.0 * covered / area:.1f} % filled",
                             allowed=f"strips that fill {2e3 * y:g} x {2e3 * z:g} mm")
