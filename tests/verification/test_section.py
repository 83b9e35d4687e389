"""The Bézier section against its own derivation, closed forms and properties of every section."""

from __future__ import annotations

import math

import numpy as np
import pytest
import sympy as sp
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import ShapeError
from springloom.shape import section as formulas
from springloom.shape.section import (
    ELLIPSE,
    Section,
    edge_fullness,
    quadrant_area,
    quadrant_first,
    quadrant_second,
    ridge_parameter,
)
from springloom.shape.torsion import torsion_constant, torsion_constants, torsional_rigidity

T, R, S = sp.symbols("t r s")
Y = (1 - T) ** 3 + 3 * (1 - T) ** 2 * T + 3 * R * (1 - T) * T**2
Z = 3 * S * (1 - T) ** 2 * T + 3 * (1 - T) * T**2 + T**3

fullness = st.floats(0.0, 1.0)
half_width = st.floats(0.01, 0.06)
height = st.floats(0.002, 0.02)


def integral(integrand: sp.Expr) -> sp.Poly:
    """∫ integrand dz over the quadrant, edge to ridge, as a polynomial in r and s."""
    return sp.Poly(sp.integrate(sp.expand(integrand * sp.diff(Z, T)), (T, 0, 1)), R, S)


@pytest.mark.parametrize(
    ("ours", "integrand"),
    [
        (quadrant_area(R, S), Y),
        (quadrant_first(R, S), Y * Z),
        (quadrant_second(R, S), Y * Z**2),
        (quadrant_second(S, R), Y**3 / 3),
        (quadrant_first(S, R), Y**2 / 2),
    ],
    ids=["area", "first about y", "second about y", "second about z", "first about z"],
)
def test_polynomial_coefficient_by_coefficient(ours: sp.Expr, integrand: sp.Expr) -> None:
    derived = integral(integrand).as_dict()
    coded = sp.Poly(sp.expand(ours), R, S).as_dict()
    assert coded.keys() == derived.keys()
    for power, exact in derived.items():
        # Rounding of a handful of floating-point operations.
        assert float(coded[power]) == pytest.approx(float(exact), rel=1e-14), power


def test_ellipse_is_met_to_its_known_error() -> None:
    k = ELLIPSE
    # The four-cubic circle that passes through 45°: out by 2.7e-4 of the radius at most (from
    # memory, a common figure of computer graphics), never inside; two digits are claimed.
    t = np.linspace(0.0, 1.0, 2001)
    radius = np.abs(sp.lambdify(T, Y.subs(R, k))(t) + 1j * sp.lambdify(T, Z.subs(S, k))(t))
    assert np.max(radius) - 1.0 == pytest.approx(2.7e-4, abs=0.05e-4)
    assert radius[1000] == pytest.approx(1.0, abs=1e-15)
    # Area: ∫ y dz by hand, (1/2 + 3k/5 − 3k²/20), of which π/4 is the circle's.
    exact = (0.5 + 0.6 * k - 0.15 * k * k) / (0.25 * math.pi) - 1.0
    assert quadrant_area(k, k) / (0.25 * math.pi) - 1.0 == pytest.approx(exact, abs=1e-15)
    assert exact == pytest.approx(2.8e-4, abs=0.05e-4)
    # I goes with the area squared where the excess is spread as evenly as here.
    excess = quadrant_second(k, k) / (math.pi / 16.0) - 1.0
    assert excess == pytest.approx(2.0 * exact, rel=0.05)


def test_straight_diamond() -> None:
    w, h = 0.03, 0.01
    diamond = Section.symmetric(w, h, 0.0, 0.0)
    # A rhombus with diagonals 2w and 2h.
    assert diamond.area == pytest.approx(2.0 * w * h, rel=1e-14)
    assert diamond.i_flat == pytest.approx(w * h**3 / 3.0, rel=1e-14)
    assert diamond.i_edge == pytest.approx(h * w**3 / 3.0, rel=1e-14)


def test_half_diamond_is_a_triangle() -> None:
    base, h = 0.06, 0.01
    triangle = Section(0.5 * base, h, 0.0, 0.0, 0.0, 0.0)
    assert triangle.area == pytest.approx(0.5 * base * h, rel=1e-14)
    assert triangle.centroid == pytest.approx(h / 3.0, rel=1e-14)
    assert triangle.i_flat == pytest.approx(base * h**3 / 36.0, rel=1e-13)
    assert triangle.i_edge == pytest.approx(h * base**3 / 48.0, rel=1e-14)


def test_rounded_rectangle() -> None:
    # With r = s = 1 the quadrant is y = 1 − t³, z = 1 − (1 − t)³: Euler's beta integrals.
    def beta(a: int, b: int) -> float:
        return math.factorial(a - 1) * math.factorial(b - 1) / math.factorial(a + b - 1)

    assert quadrant_area(1.0, 1.0) == pytest.approx(1.0 - 3.0 * beta(4, 3), rel=1e-14)
    first = 0.5 - 3.0 * (beta(4, 3) - beta(4, 6))
    assert quadrant_first(1.0, 1.0) == pytest.approx(first, rel=1e-14)
    second = 1.0 / 3.0 - 3.0 * (beta(4, 3) - 2.0 * beta(4, 6) + beta(4, 9))
    assert quadrant_second(1.0, 1.0) == pytest.approx(second, rel=1e-14)


@given(w=half_width, top=height, share=fullness, r_top=fullness, r_low=fullness, s=fullness)
def test_every_section_is_convex(
    w: float, top: float, share: float, r_top: float, r_low: float, s: float
) -> None:
    outline = Section(w, top, share * top, r_top, r_low, s).outline(40)
    edge = np.roll(outline, -1, axis=0) - outline
    after = np.roll(edge, -1, axis=0)
    turn = edge[:, 0] * after[:, 1] - edge[:, 1] * after[:, 0]
    # Straight stretches turn by rounding only: of coordinates near w, times an edge's length.
    assert np.min(turn) >= -8.0 * np.finfo(float).eps * w * np.max(np.hypot(*edge.T))


@given(w=half_width, top=height, share=fullness, r_top=fullness, r_low=fullness, s=fullness)
def test_outline_stands_on_the_curves_of_the_control_points(
    w: float, top: float, share: float, r_top: float, r_low: float, s: float
) -> None:
    section = Section(w, top, share * top, r_top, r_low, s)
    count = 10
    t = np.linspace(0.0, 1.0, count, endpoint=False)
    basis = np.stack([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t**2, t**3], axis=1)
    curves = np.concatenate([basis @ control for control in section.controls()])
    np.testing.assert_allclose(section.outline(count), curves, atol=1e-15)


@given(w=half_width, top=height, share=fullness, r_top=fullness, r_low=fullness, s=fullness)
def test_unlike_faces_by_integration_along_the_outline(
    w: float, top: float, share: float, r_top: float, r_low: float, s: float
) -> None:
    section = Section(w, top, share * top, r_top, r_low, s)
    points = 1000
    area, centroid, i_flat, i_edge = polygon_properties(section.outline(points))
    # An inscribed polygon falls short by about 1.4/points² of I, less of the others.
    tolerance = 4.0 / points**2
    assert section.area == pytest.approx(area, rel=tolerance)
    assert section.centroid == pytest.approx(centroid, abs=tolerance * top)
    assert section.i_flat == pytest.approx(i_flat, rel=tolerance)
    assert section.i_edge == pytest.approx(i_edge, rel=tolerance)


def polygon_properties(outline: formulas.Floats) -> tuple[float, float, float, float]:
    """Area, centroid's z, and I about both axes through it, by Green's theorem edge by edge."""
    y, z = outline.T
    y_next, z_next = np.roll(outline, -1, axis=0).T
    cross = y * z_next - y_next * z
    area = 0.5 * float(np.sum(cross))
    centroid = float(np.sum((z + z_next) * cross)) / (6.0 * area)
    about_line = float(np.sum((z**2 + z * z_next + z_next**2) * cross)) / 12.0
    i_edge = float(np.sum((y**2 + y * y_next + y_next**2) * cross)) / 12.0
    return area, centroid, about_line - area * centroid**2, i_edge


@given(r=fullness, inset=st.floats(0.0, 1.0))
def test_ridge_parameter_places_the_inset(r: float, inset: float) -> None:
    t = float(ridge_parameter(inset, r))
    y = (1.0 - t) ** 3 + 3.0 * (1.0 - t) ** 2 * t + 3.0 * r * (1.0 - t) * t * t
    assert 0.0 <= t <= 1.0
    # The search ends at 1e-15 of t, and slopes reach 3.
    assert y == pytest.approx(1.0 - inset, abs=1e-14)


def test_ridge_parameter_takes_arrays() -> None:
    inset, r = np.linspace(0.0, 1.0, 7)[:, None], np.linspace(0.0, 1.0, 5)
    each = [[float(ridge_parameter(a, b)) for b in r] for a in inset[:, 0]]
    # Iterations stop together, so the last bits differ; a flat start at r = 1 costs more of them.
    np.testing.assert_allclose(ridge_parameter(inset, r), each, atol=1e-10)


@given(w=half_width, h=height, r=fullness, s=fullness, share=st.floats(0.02, 0.6))
def test_edge_thickness_gives_the_fullness_back(
    w: float, h: float, r: float, s: float, share: float
) -> None:
    section, inset = Section.symmetric(w, h, r, s), share * w
    t = float(ridge_parameter(share, r))
    # s is the reading less the rest over 3(1−t)²t: rounding is magnified by one over that.
    rounding = 1e-14 / (3.0 * (1.0 - t) ** 2 * t)
    # At the very ends of what is possible rounding may tip the reading outside.
    inside = min(max(s, 1e-3), 1.0 - 1e-3)
    reading = Section.symmetric(w, h, r, inside).thickness_at(inset)
    assert edge_fullness(w, h, r, 0.5 * reading, inset) == pytest.approx(inside, abs=rounding)
    assert section.thickness_at(inset) <= 2.0 * h * (1.0 + 1e-15)


@pytest.mark.parametrize("s", [-0.05, 1.05])
def test_an_edge_no_convex_section_has_is_refused_with_what_is_possible(s: float) -> None:
    w, h, r, inset = 0.03, 0.01, 0.4, 0.005
    t = float(ridge_parameter(inset / w, r))
    rest, span = 3.0 * (1.0 - t) * t * t + t**3, 3.0 * (1.0 - t) ** 2 * t
    with pytest.raises(ShapeError, match="no convex section") as caught:
        edge_fullness(w, h, r, h * (rest + s * span), inset)
    low, high = 2e3 * h * rest, 2e3 * h * (rest + span)
    assert caught.value.allowed == f"{low:.2f} to {high:.2f} mm"


def test_torsion_of_an_ellipse() -> None:
    a, b = 0.04, 0.012
    exact = math.pi * a**3 * b**3 / (a * a + b * b)  # Saint-Venant
    bezier = torsion_constant(Section.symmetric(a, b, ELLIPSE, ELLIPSE))
    # The Bézier ellipse is 2.8e-4 too large in area; J goes with about the area squared.
    assert bezier / exact - 1.0 == pytest.approx(5.6e-4, abs=1e-4)


def test_torsion_of_a_square() -> None:
    # A square on its corner, half-diagonal 1: J = 0.140577 side⁴ (Timoshenko & Goodier,
    # Theory of Elasticity, 3rd ed., § 109, from the series below).
    odd = np.arange(1, 60, 2)
    series = float(np.sum(np.tanh(0.5 * odd * math.pi) / odd**5))
    exact = 4.0 * (1.0 / 3.0 - 64.0 / math.pi**5 * series)
    # The section's own claim for sharp corners.
    assert torsion_constant(Section.symmetric(1.0, 1.0, 0.0, 0.0)) == pytest.approx(
        exact, rel=3e-4
    )


@given(w=half_width, h=height, r=fullness, s=fullness)
def test_torsion_is_the_same_of_a_section_on_its_edge(
    w: float, h: float, r: float, s: float
) -> None:
    lying, standing = (Section.symmetric(*p) for p in ((w, h, r, s), (h, w, s, r)))
    # Two fits of the same outline with other weights: each within the series' error.
    assert torsion_constant(lying) == pytest.approx(torsion_constant(standing), rel=1e-3)


@given(w=half_width, h=height, r=fullness, s=fullness)
def test_unlike_faces_all_but_alike_twist_as_alike_ones(
    w: float, h: float, r: float, s: float
) -> None:
    alike = torsion_constant(Section.symmetric(w, h, r, s))
    nearly = torsion_constant(Section(w, h, h * (1.0 - 1e-9), r, r, s))
    assert nearly == pytest.approx(alike, rel=1e-6)  # J changes by 2e-9; the rest is the fit


def test_orthotropic_torsion_of_an_ellipse() -> None:
    a, b, g_width, g_thick = 0.04, 0.012, 7e8, 4e8
    # φ = K (1 − y²/a² − z²/b²) solves φ,zz/Gxy + φ,yy/Gxz = −2θ; the torque is 2 ∫ φ dA.
    exact = math.pi * a**3 * b**3 * g_width * g_thick / (a * a * g_thick + b * b * g_width)
    one = np.ones(1)
    ours = torsional_rigidity(
        a * one, b * one, ELLIPSE * one, ELLIPSE * one, g_width * one, g_thick * one
    )
    assert float(ours[0]) / exact - 1.0 == pytest.approx(5.6e-4, abs=1e-4)  # as above


@given(w=half_width, h=height, r=fullness, s=fullness, g=st.floats(1e8, 2e9))
def test_equal_shear_moduli_are_the_isotropic_case(
    w: float, h: float, r: float, s: float, g: float
) -> None:
    ws, hs, rs, ss, gs = (np.array([value]) for value in (w, h, r, s, g))
    alike = torsional_rigidity(ws, hs, rs, ss, gs, gs)
    assert float(alike[0]) == pytest.approx(float(g * torsion_constants(ws, hs, rs, ss)[0]))
