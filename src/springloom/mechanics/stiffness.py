"""Rigidities and mass along an axis, for solid wood and for laminated blanks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.errors import ShapeError
from springloom.mechanics.axis import Axis, gauss
from springloom.shape import section
from springloom.shape.torsion import torsional_rigidity
from springloom.wood.layup import Layup
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]
Build = Material | Layup
"""What a paddle is made of."""

SHEAR_COEFFICIENT = 0.9
"""Energy shear coefficient of the ellipse, A²/I² ∫ Q²/b² dA inverted; a rectangle's is 5/6.
A blade's shear deflection is under 1 % of its bending, so another choice (Cowper, J. Appl. Mech.
33, 1966: 6/7 for the circle at ν = 0) changes a deflection by less than 0.1 %."""


@dataclass(frozen=True, slots=True)
class Rigidity:
    """What the beam needs at each point of an axis; every array (spans, points).

    Attributes:
        ei: flatwise bending rigidity about the neutral axis, N·m².
        shear: shear rigidity kGA, N.
        mass: mass per length, kg/m.
        rotary: ρI, mass moment of inertia per length, kg·m.
        area: m².
        neutral: height of the neutral axis above the widest line, m.
        top, bottom: distance from the neutral axis to each ridge, m (both positive).
        shear_peak: greatest shear stress per unit of shear force, 1/m².
    """

    ei: Floats
    shear: Floats
    mass: Floats
    rotary: Floats
    area: Floats
    neutral: Floats
    top: Floats
    bottom: Floats
    shear_peak: Floats

    def cut_to(self, spans: slice) -> Rigidity:
        """Return the rigidities of some consecutive spans."""
        return Rigidity(*(getattr(self, name)[spans] for name in self.__slots__))


LEAST_SPREAD = 0.005
"""No modulus or density is known better than half a per cent."""


def spread_of(build: Build) -> tuple[float, float]:
    """Standard deviations of ln E and of ln density; a layup's are its least known strip's."""
    woods = [build] if isinstance(build, Material) else [p.material for p in build.strips]
    return (
        max(LEAST_SPREAD, *(w.sd_ln_e for w in woods)),
        max(LEAST_SPREAD, *(w.sd_ln_density for w in woods)),
    )


def rigidity(axis: Axis, build: Build) -> Rigidity:
    """Return the rigidities along ``axis``; a layup by its transformed section."""
    return rigidity_at(axis.values, build)


def rigidity_at(values: Floats, build: Build) -> Rigidity:
    """Return the rigidities of sections given by shape channels (channels, …).

    Raises:
        ShapeError: a layup leaves part of a section without wood.
    """
    if isinstance(build, Material):
        return _solid(values, build)
    return _laminated(values, build)


def faces(values: Floats) -> section.Faces:
    """((top height, r), (bottom depth, r)) from shape channels."""
    _, crown, r_top, r_low, _, share = values
    return (crown * share, r_top), (crown * (1.0 - share), r_low)


def _solid(values: Floats, wood: Material) -> Rigidity:
    w, s = values[0], values[4]
    (top, _), (low, _) = both = faces(values)
    whole = section.flat_properties(w, both, s)
    area, neutral, inertia = whole.area, whole.centroid, whole.i_flat
    # First moment of the upper face about the neutral axis, over I·b at the widest line.
    upper = whole.first_top - neutral * whole.area_top
    return Rigidity(
        ei=wood.e_pa * inertia,
        shear=SHEAR_COEFFICIENT * wood.g_pa * area,
        mass=wood.density_kg_m3 * area,
        rotary=wood.density_kg_m3 * inertia,
        area=area,
        neutral=neutral,
        top=top - neutral,
        bottom=low + neutral,
        shear_peak=_shear_peak(upper / (inertia * 2.0 * w), neutral, area),
    )


def _shear_peak(at_widest: Floats, neutral: Floats, area: Floats) -> Floats:
    """Greatest shear stress per force: Q/(I·b) at the widest line if the neutral axis lies there.

    Where unlike faces move the axis off it, at least the rectangle's 1.5/A (Jourawski).
    """
    return np.where(np.abs(neutral) < 1e-9, at_widest, np.maximum(at_widest, 1.5 / area))


def torsion_rigidity(values: Floats, build: Build) -> Floats:
    """GJ in N·m² at points with shape channels ``values`` (channels, n).

    Unlike faces are taken as two faces of half the crown, and a layup by the mean of its
    strips' moduli weighted by area: torsion only screens the tip-caught case.
    """
    w, crown, r_top, r_low, s, share = values
    r = share * r_top + (1.0 - share) * r_low
    g_width, g_thick = _mean_shear_moduli(build)
    ones = np.ones_like(w)
    return torsional_rigidity(w, 0.5 * crown, r, s, g_width * ones, g_thick * ones)


def _mean_shear_moduli(build: Build) -> tuple[float, float]:
    if isinstance(build, Material):
        return build.g_width_pa, build.g_pa
    extents = [(p.y_max_m - p.y_min_m) * (p.z_max_m - p.z_min_m) for p in build.strips]
    total = sum(extents)
    shares = [e / total for e in extents]
    pairs = list(zip(shares, build.strips, strict=True))
    return (
        sum(share * p.material.g_width_pa for share, p in pairs),
        sum(share * p.material.g_pa for share, p in pairs),
    )


_ACROSS = 32  # Gauss points across each strip


def _laminated(values: Floats, layup: Layup) -> Rigidity:
    """Transformed section, strip by strip, about the true neutral axis.

    Strips are cut by y; inside one, z runs between the strip's own limits and the surface.
    """
    shape = values.shape[1:]
    flat = values.reshape(values.shape[0], -1)
    sums = {key: np.zeros(flat.shape[1]) for key in ("a", "ea", "es", "ei", "ga", "m", "ms", "mi")}
    for strip in layup.strips:
        area, first, second = strip_moments(
            flat, strip.y_min_m, strip.y_max_m, strip.z_min_m, strip.z_max_m
        )
        wood = strip.material
        sums["a"] += area
        sums["ea"] += wood.e_pa * area
        sums["es"] += wood.e_pa * first
        sums["ei"] += wood.e_pa * second
        sums["ga"] += wood.g_pa * area
        sums["m"] += wood.density_kg_m3 * area
        sums["ms"] += wood.density_kg_m3 * first
        sums["mi"] += wood.density_kg_m3 * second
    whole = section.area(flat[0], faces(flat), flat[4])
    _check_cover(sums["a"], whole, flat)
    return _rigidity_from(sums, flat, shape)


def _rigidity_from(sums: dict[str, Floats], flat: Floats, shape: tuple[int, ...]) -> Rigidity:
    neutral = sums["es"] / sums["ea"]
    (top, _), (low, _) = both = faces(flat)
    # Shear flows as it would in one wood: it only screens.
    whole = section.flat_properties(flat[0], both, flat[4])
    upper = whole.first_top - whole.centroid * whole.area_top
    arrays = {
        "ei": sums["ei"] - sums["ea"] * neutral**2,
        "shear": SHEAR_COEFFICIENT * sums["ga"],
        "mass": sums["m"],
        "rotary": sums["mi"] - neutral * (2.0 * sums["ms"] - neutral * sums["m"]),
        "area": sums["a"],
        "neutral": neutral,
        "top": top - neutral,
        "bottom": low + neutral,
        "shear_peak": _shear_peak(upper / (whole.i_flat * 2.0 * flat[0]), whole.centroid,
                                  whole.area),
    }
    return Rigidity(**{name: value.reshape(shape) for name, value in arrays.items()})


def strip_moments(
    values: Floats, y_min: float, y_max: float, z_min: float, z_max: float
) -> tuple[Floats, Floats, Floats]:
    """Area and first and second moments about the widest line of a strip inside sections.

    Args:
        values: (channels, n) shape channels.
        y_min, y_max, z_min, z_max: the strip's limits, m; infinities allowed.

    Returns:
        three (n,) arrays in m², m³ and m⁴.
    """
    w, s = values[0][:, None], values[4][:, None]
    nodes, weights = gauss(_ACROSS)
    low = np.arcsin(np.clip(y_min / w, -1.0, 1.0))
    high = np.arcsin(np.clip(y_max / w, -1.0, 1.0))
    angle = low + (high - low) * nodes  # y = w·sin(angle): the edges' steep slope is gone
    inset = np.clip(1.0 - np.abs(np.sin(angle)), 0.0, 1.0)
    dy = (high - low) * w * np.cos(angle) * weights
    (top, r_top), (bottom, r_low) = faces(values)
    upper = np.minimum(top[:, None] * height_at(inset, r_top[:, None], s), z_max)
    lower = np.maximum(-bottom[:, None] * height_at(inset, r_low[:, None], s), z_min)
    upper = np.maximum(upper, lower)
    area, first, second = (np.sum((upper**n - lower**n) / n * dy, axis=1) for n in (1, 2, 3))
    return area, first, second


def height_at(inset: Floats, r: Floats, s: Floats) -> Floats:
    """Height of a face over its ridge's, at a share of the half-width in from the edge."""
    t = section.ridge_parameter(inset, r)
    return np.asarray(3.0 * s * (1.0 - t) ** 2 * t + 3.0 * (1.0 - t) * t * t + t**3)


def _check_cover(covered: Floats, whole: Floats, flat: Floats) -> None:
    gap = 1.0 - covered / whole
    worst = int(np.argmax(gap))
    if gap[worst] > 0.01:
        raise ShapeError(
            "the layup's strips leave part of the section without wood",
            field="layup",
            given=f"{100 * gap[worst]:.0f} % uncovered where the paddle is "
            f"{2e3 * flat[0, worst]:.0f} mm wide",
            allowed="strips that reach past the whole section",
        )
