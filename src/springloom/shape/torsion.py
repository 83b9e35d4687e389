"""Saint-Venant torsion constant of the Bézier section, isotropic or orthotropic.

Prandtl's stress function is written φ = −(y² + z²)/2 + Σ cₖ Re(z + iy)ᵏ, which satisfies
∇²φ = −2 exactly; the cₖ make φ vanish on the outline in the least-squares sense, and
J = 2 ∫ φ dA follows from boundary integrals (Timoshenko & Goodier, Theory of Elasticity,
3rd ed., §§ 104–106). For an ellipse two terms are exact.

In an orthotropic bar the stress function obeys φ,zz/Gxy + φ,yy/Gxz = −2θ. With
Y = y·√(Gxz/Gxy) this is the isotropic problem, so that the rigidity is
Gxy·√(Gxy/Gxz)·J of the section stretched to Y (Lekhnitskii, Theory of Elasticity of an
Anisotropic Body, ch. 4).
"""

from __future__ import annotations

import functools

import numpy as np
import numpy.typing as npt

from springloom.shape.section import Section

Floats = npt.NDArray[np.float64]

_TERMS = 9  # powers 0, 2, … 16 (0 … 16 for unlike faces): J settles to 8e-4, thin diamonds too
_POINTS = 24  # Gauss points a quadrant


def torsion_constant(section: Section) -> float:
    """Return J of one section in m⁴ (isotropic)."""
    alike = section.top == section.bottom and section.ridge_top == section.ridge_bottom
    one = np.array([1.0])
    if alike:
        return float(
            torsion_constants(
                one * section.half_width, one * section.top, one * section.ridge_top,
                one * section.edge,
            )[0]
        )
    top = _face(one * section.half_width, one * section.top, one * section.ridge_top,
                one * section.edge)
    low = _face(one * section.half_width, -one * section.bottom, one * section.ridge_bottom,
                one * section.edge)
    joined = [np.concatenate(pair, axis=1) for pair in zip(top, low, strict=True)]
    for differential in joined[2:]:
        differential[:, _POINTS:] *= -1.0  # the lower face runs the other way round
    return float(_solve(*joined, powers=np.arange(2 * _TERMS - 1), mirror=2.0)[0])


def torsion_constants(w: Floats, h: Floats, r: Floats, s: Floats) -> Floats:
    """J (m⁴) of sections with two like faces; all arguments of shape (n,), lengths in m."""
    return _solve(*_face(w, h, r, s), powers=2 * np.arange(_TERMS), mirror=4.0)


def torsional_rigidity(
    w: Floats, h: Floats, r: Floats, s: Floats, g_width: Floats, g_thickness: Floats
) -> Floats:
    """GJ in N·m² of orthotropic sections with two like faces; arguments of shape (n,).

    Args:
        w, h: half-width and half-thickness, m.
        r, s: ridge and edge fullness.
        g_width: shear modulus in the plane of length and width (Gxy), Pa.
        g_thickness: shear modulus in the plane of length and thickness (Gxz), Pa.
    """
    stretch = np.sqrt(g_thickness / g_width)
    return np.asarray(g_width / stretch * torsion_constants(w * stretch, h, r, s))


@functools.cache
def _bernstein() -> tuple[Floats, Floats, Floats]:
    nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
    t = 0.5 * (nodes + 1.0)
    values = np.array([(1 - t) ** 3, 3 * (1 - t) ** 2 * t, 3 * (1 - t) * t * t, t**3])
    slopes = np.array(
        [-3 * (1 - t) ** 2, 3 * (1 - t) * (1 - 3 * t), 3 * t * (2 - 3 * t), 3 * t * t]
    )
    return values, slopes, 0.5 * weights


def _face(w: Floats, h: Floats, r: Floats, s: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Boundary points y, z and the differentials dy, dz (weights included), each (n, points)."""
    values, slopes, weights = _bernstein()
    ys = np.stack([w, w, r * w, 0.0 * w], axis=1)
    zs = np.stack([0.0 * h, s * h, h, h], axis=1)
    return ys @ values, zs @ values, ys @ slopes * weights, zs @ slopes * weights


def _solve(
    y: Floats, z: Floats, dy: Floats, dz: Floats, *, powers: npt.NDArray[np.int_], mirror: float
) -> Floats:
    scale = np.max(np.hypot(y, z), axis=1)
    point = ((z + 1j * y) / scale[:, None])[..., None]
    step = np.broadcast_to(point ** (powers[1] - powers[0]), (*y.shape, len(powers) - 1))
    harmonic = np.cumprod(np.concatenate([np.ones_like(point), step], axis=2), axis=2)
    ds = np.sqrt(np.hypot(dy, dz))[..., None]  # √ds weights the fit evenly along the outline
    right = 0.5 * (y * y + z * z)[..., None]
    q, upper = np.linalg.qr(harmonic.real * ds)
    coefficients = np.linalg.solve(upper, np.swapaxes(q, 1, 2) @ (right * ds))[..., 0]
    # ∫ Re ηᵏ dA = Re ∮ ηᵏ⁺¹/(k+1) dy over the outline, since ∂/∂z ηᵏ⁺¹ = (k+1) ηᵏ
    lifted = (harmonic * point).real / (powers + 1) * scale[:, None, None]
    areas = np.einsum("npk,np->nk", lifted, -dy) * mirror
    polar = np.einsum("np,np->n", y**3 / 3.0, dz) + np.einsum("np,np->n", -(z**3) / 3.0, dy)
    return np.asarray(2.0 * np.einsum("nk,nk->n", coefficients, areas) - polar * mirror)
