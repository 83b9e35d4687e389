"""Section properties against the sectionproperties library, an independent finite-element code.

R. van Leeuwen, sectionproperties: warping and torsion by Pilkey, Analysis and Design of Elastic
Beams (2002), ch. 5, on 6-node triangles.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from sectionproperties.analysis.section import Section as Reference
from sectionproperties.pre.geometry import Geometry

from springloom.shape.section import ELLIPSE, Section
from springloom.shape.torsion import torsion_constant

POINTS = 64
"""Outline points a quadrant. The reference's polygon stands on the outline's points and so lies
inside it: its area is smaller by up to 0.6/POINTS², I and J by up to 1.6/POINTS²."""

AREA, INERTIA, TORSION = 3e-4, 8e-4, 1.2e-3
"""Twice the polygon's deficit for area and inertia. For J the series' own error comes on top:
0.8e-3 for a thin straight diamond, which the reference settles to 1e-6, less for all others."""

TRIANGLES = 400


@dataclass(frozen=True, slots=True)
class Properties:
    """Area, height of the centroid, second moments and torsion constant; mm."""

    area: float
    centroid: float
    i_flat: float
    i_edge: float
    j: float


def random_sections() -> list[Section]:
    """Twenty-five sections from narrow and thick to wide and thin, unlike faces every other."""
    rng = np.random.default_rng(20260)
    return [_random_section(rng, alike=index % 2 == 0) for index in range(25)]


EXTREMES = [
    Section.symmetric(0.040, 0.006, 0.0, 0.0),
    Section.symmetric(0.016, 0.018, 0.0, 0.0),
    Section.symmetric(0.040, 0.005, 1.0, 1.0),
    Section(0.040, 0.010, 0.0, 0.0, 0.0, 0.0),
    Section(0.040, 0.010, 0.0, ELLIPSE, 0.0, ELLIPSE),
]
"""Straight diamonds, a rounded rectangle, a triangle, half an ellipse."""


def _random_section(rng: np.random.Generator, *, alike: bool) -> Section:
    w, h = float(rng.uniform(0.015, 0.045)), float(rng.uniform(0.003, 0.020))
    r_top, r_low, s = (float(v) for v in rng.uniform(0.0, 1.0, 3))
    if alike:
        return Section.symmetric(w, h, r_top, s)
    return Section(w, h, h * float(rng.uniform(0.1, 1.0)), r_top, r_low, s)


def by_finite_elements(section: Section) -> Properties:
    """The reference's figures; it works in mm to keep its numbers near 1."""
    points = (1e3 * section.outline(POINTS)).tolist()
    facets = [(i, (i + 1) % len(points)) for i in range(len(points))]
    middle = (0.0, 0.5e3 * (section.top - section.bottom))
    geometry = Geometry.from_points(points, facets, [middle])
    geometry.create_mesh(mesh_sizes=[1e6 * section.area / TRIANGLES])
    reference = Reference(geometry)
    reference.calculate_geometric_properties()
    reference.calculate_warping_properties()
    i_flat, i_edge, _ = reference.get_ic()
    return Properties(
        reference.get_area(), reference.get_c()[1], i_flat, i_edge, reference.get_j()
    )


@pytest.mark.parametrize("section", [*random_sections(), *EXTREMES])
def test_section_agrees_with_finite_elements(section: Section) -> None:
    reference = by_finite_elements(section)
    assert 1e6 * section.area == pytest.approx(reference.area, rel=AREA)
    # A length that may be zero: measured against the thickness.
    thick = 1e3 * (section.top + section.bottom)
    assert 1e3 * section.centroid == pytest.approx(reference.centroid, abs=AREA * thick)
    assert 1e12 * section.i_flat == pytest.approx(reference.i_flat, rel=INERTIA)
    assert 1e12 * section.i_edge == pytest.approx(reference.i_edge, rel=INERTIA)
    assert 1e12 * torsion_constant(section) == pytest.approx(reference.j, rel=TORSION)
