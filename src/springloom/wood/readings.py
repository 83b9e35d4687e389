"""What a bending test and a tap tone say about stiffness: the plain equations, both ways round.

A bar of rectangular section: ``depth_m`` is its size in the direction it bends, ``width_m`` the
other. ``e_over_g`` is E over the shear modulus of that bending; wood is so soft in shear (10 to
30) that its share is never left out. Shear correction factor 5/6 throughout.
"""

from __future__ import annotations

import math

from springloom.errors import in_range

EULER_ROOT = 4.730040744862704**2
"""omega L^2 sqrt(rho A / E I) of a slender free-free bar, first mode: cos k cosh k = 1."""

DEEPEST = 0.2
"""Greatest depth over length taken in these equations; a stubbier piece is no bar."""

_E_OVER_G_MAX = 60.0


def shear_share(e_over_g: float, depth_m: float, span_m: float) -> float:
    """Return shear deflection over bending deflection under a central load.

    1.2 (E/G) (h/L)^2: a rectangle on two supports, Timoshenko with factor 5/6.

    Raises:
        RangeError: a negative ratio, or a bar deeper than a fifth of its span.
    """
    in_range(e_over_g, "e_over_g", 0.0, _E_OVER_G_MAX)
    slender = in_range(depth_m / span_m, "depth_over_span", 0.0, DEEPEST, open_low=True)
    return 1.2 * e_over_g * slender**2


def central_load_modulus(*, load_n: float, span_m: float, width_m: float, depth_m: float,
                         deflection_m: float, e_over_g: float = 0.0) -> float:
    """Return E from a board on two supports loaded half-way, Pa.

    P L^3 / (48 I d) (1 + 1.2 (E/G) (h/L)^2). With ``e_over_g = 0`` this is the apparent modulus
    of ISO 13061-4 and ASTM D143, which leaves the shear in.

    Raises:
        RangeError: a reading that is not positive, or a bar deeper than a fifth of its span.
    """
    _positive(load_n=load_n, span_m=span_m, width_m=width_m, depth_m=depth_m,
              deflection_m=deflection_m)
    apparent = load_n * span_m**3 / (4.0 * width_m * depth_m**3 * deflection_m)
    return apparent * (1.0 + shear_share(e_over_g, depth_m, span_m))


def central_load_deflection(*, e_pa: float, load_n: float, span_m: float, width_m: float,
                            depth_m: float, e_over_g: float = 0.0) -> float:
    """Return the deflection under a central load, m: the inverse of central_load_modulus.

    Raises:
        RangeError: a number that is not positive, or a bar deeper than a fifth of its span.
    """
    _positive(e_pa=e_pa)
    at_one_m = central_load_modulus(load_n=load_n, span_m=span_m, width_m=width_m,
                                    depth_m=depth_m, deflection_m=1.0, e_over_g=e_over_g)
    return at_one_m / e_pa


def free_bar_root(depth_over_length: float, e_over_g: float) -> float:
    """Return omega L^2 sqrt(rho A / E I) of the first bending mode of a free bar.

    The exact root of Timoshenko's beam with both ends free, rotary inertia and shear included;
    22.373 for a slender bar, less for a deeper one. By symmetry the mode is
    w = A cosh(a x) + B cos(c x) about the middle; moment and shear vanish at both ends.

    Raises:
        RangeError: a bar deeper than a fifth of its length, or E/G out of range.
    """
    slender = in_range(depth_over_length, "depth_over_length", 0.0, DEEPEST, open_low=True)
    in_range(e_over_g, "e_over_g", 0.0, _E_OVER_G_MAX)
    rotary = slender**2 / 12.0
    shear = 1.2 * e_over_g * rotary
    from scipy.optimize import brentq  # noqa: PLC0415 - loaded late: it takes 0.3 s

    root: float = brentq(_end_condition, 0.5, 1.001 * EULER_ROOT, args=(rotary, shear),
                         xtol=1e-11, rtol=1e-13)
    return root


def _end_condition(root: float, rotary: float, shear: float) -> float:
    """Return what is left of moment and shear at the free end; zero at the root."""
    square = root**2
    half_sum = 0.5 * square * (rotary + shear)
    spread = math.sqrt(half_sum**2 + square * (1.0 - square * rotary * shear))
    a, c = math.sqrt(spread - half_sum), math.sqrt(spread + half_sum)
    p = square * shear
    sine, cosine = math.sin(0.5 * c), math.cos(0.5 * c)
    return (a**2 + p) * sine / c + (c**2 - p) * cosine * math.tanh(0.5 * a) / a


def free_bar_modulus(*, mass_kg: float, frequency_hz: float, width_m: float, length_m: float,
                     depth_m: float, e_over_g: float) -> float:
    """Return E from the first bending tone of a free bar of known E/G, Pa.

    Raises:
        RangeError: a reading that is not positive, or a bar deeper than a fifth of its length.
    """
    _positive(mass_kg=mass_kg, width_m=width_m)
    density = mass_kg / (width_m * length_m * depth_m)
    return density * specific_modulus(frequency_hz, length_m, depth_m, e_over_g)


def specific_modulus(frequency_hz: float, length_m: float, depth_m: float,
                     e_over_g: float) -> float:
    """Return E over density from the first bending tone of a free bar, m2/s2.

    12 (2 pi f)^2 L^4 / (root^2 h^2): neither width nor mass is needed for it.

    Raises:
        RangeError: a reading that is not positive, or a bar deeper than a fifth of its length.
    """
    _positive(frequency_hz=frequency_hz, length_m=length_m, depth_m=depth_m)
    root = free_bar_root(depth_m / length_m, e_over_g)
    return 12.0 * (2.0 * math.pi * frequency_hz) ** 2 * length_m**4 / (root * depth_m) ** 2


def free_bar_frequency(e_pa: float, density_kg_m3: float, length_m: float, depth_m: float,
                       e_over_g: float) -> float:
    """Return the first bending tone of a free bar, Hz: the inverse of specific_modulus.

    Raises:
        RangeError: a number that is not positive, or a bar deeper than a fifth of its length.
    """
    _positive(e_pa=e_pa, density_kg_m3=density_kg_m3)
    at_one_hz = specific_modulus(1.0, length_m, depth_m, e_over_g)
    return math.sqrt(e_pa / density_kg_m3 / at_one_hz)


def e1876_modulus(*, mass_kg: float, frequency_hz: float, width_m: float, length_m: float,
                  depth_m: float, nu: float | None = None) -> float:
    """Return E of an ISOTROPIC rectangular bar from its first bending tone, Pa.

    E = 0.9465 (m f^2 / b) (L/t)^3 T1. With ``nu`` T1 is the full correction; without it the short
    one for L/t of 20 and more. Source: ASTM E1876, from memory. It is here to check the exact
    root against; wood is far softer in shear than any ``nu`` can say.

    Raises:
        RangeError: a reading that is not positive, or the short correction for L/t under 20.
    """
    _positive(mass_kg=mass_kg, frequency_hz=frequency_hz, width_m=width_m, length_m=length_m,
              depth_m=depth_m)
    slender = depth_m / length_m
    factor = 0.9465 * mass_kg * frequency_hz**2 / width_m / slender**3
    return factor * (_t1_short(slender) if nu is None else _t1_full(slender, nu))


def _t1_short(slender: float) -> float:
    in_range(slender, "depth_over_length", 0.0, 1.0 / 20.0)
    return 1.0 + 6.585 * slender**2


def _t1_full(slender: float, nu: float) -> float:
    in_range(slender, "depth_over_length", 0.0, DEEPEST)
    in_range(nu, "nu", 0.0, 0.5)
    square = slender**2
    first = 6.585 * (1.0 + 0.0752 * nu + 0.8109 * nu**2) * square
    top = 8.340 * (1.0 + 0.2023 * nu + 2.173 * nu**2) * square**2
    bottom = 1.0 + 6.338 * (1.0 + 0.1408 * nu + 1.536 * nu**2) * square
    return 1.0 + first - 0.868 * square**2 - top / bottom


def _positive(**values: float) -> None:
    for name, value in values.items():
        in_range(value, name, 0.0, open_low=True)
