"""How far the beam is from the solid, as shares of the solid's own figures."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from springloom.mechanics.beam import Bent, Load
from springloom.mechanics.setups import STANDARD_LOAD, Clamped, clamped_line
from springloom.mechanics.vibration import clamped_frequencies
from springloom.shape.blade import HalfPaddle
from springloom.wood.elastic import elastic_constants
from springloom.wood.material import Material, species_material
from springloom.wood.species import species
from tests.solid3d.cases import Case
from tests.solid3d.deck import oriented
from tests.solid3d.mesh import TIP_CLIP, Grid, blade_mesh
from tests.solid3d.run import Solved, solve

Floats = npt.NDArray[np.float64]

FROM_CLAMP, FROM_LOAD = 2.0, 1.5
"""Widths (the root's, and the greatest) within which the clamp and the load disturb the stress."""


@dataclass(frozen=True, slots=True)
class Difference:
    """(beam − solid)/solid at the tip and of each frequency; the greatest size of the others.

    Attributes:
        tip: deflection at the end of the mesh.
        line: deflection anywhere, over the tip's.
        line_local: deflection over the local one, clear of the clamp.
        frequencies: the first two.
        stress: stress at the crown, clear of clamp and load.
        solved: the solid's own results.
    """

    tip: float
    line: float
    line_local: float
    frequencies: tuple[float, float]
    stress: float
    solved: Solved


def compare(
    case: Case, grid: Grid | None = None, work: Path | None = None, threads: int = 1
) -> Difference:
    """Solve the case's blade both ways under the standard load.

    The solver works in a folder of its own inside ``work`` (None: where temporary files go),
    which is gone afterwards.
    """
    half, wood = case.half, species_material(case.species, ring=case.ring)
    constants = oriented(elastic_constants(species(case.species), wood.e_pa), case.ring)
    mesh = blade_mesh(half, grid)
    with tempfile.TemporaryDirectory(dir=work) as folder:
        solid = solve(mesh, constants, wood.density_kg_m3, STANDARD_LOAD, Path(folder), threads)
    # The solid ends a little before the tip and carries the load there; so does the beam.
    load = Load(half.tip - TIP_CLIP, STANDARD_LOAD)
    reads = (*map(float, solid.x[1:-1]), load.x)
    line = clamped_line(half, wood, Clamped(loads=(load,), read=reads), large=False)
    deflection = np.array([0.0, *(line.at(x) for x in reads)])
    gap = np.abs(deflection - solid.deflection)
    clear = solid.x > half.loom.root + FROM_CLAMP * half.stations[0].width
    first, second = clamped_frequencies(half, wood)
    return Difference(
        tip=float(deflection[-1] / solid.deflection[-1] - 1.0),
        line=float(np.max(gap) / solid.deflection[-1]),
        line_local=float(np.max(gap[clear] / solid.deflection[clear])),
        frequencies=(first / solid.frequencies[0] - 1.0, second / solid.frequencies[1] - 1.0),
        stress=_stress(half, wood, line, solid),
        solved=solid,
    )


def _stress(half: HalfPaddle, wood: Material, line: Bent, solid: Solved) -> float:
    widest = max(station.width for station in half.stations)
    clear = (solid.crown_x > half.loom.root + FROM_CLAMP * half.stations[0].width) & (
        solid.crown_x < half.tip - TIP_CLIP - FROM_LOAD * widest
    )
    x = solid.crown_x[clear]
    # κ between the Gauss points: they stand closer than the nodes, so a chord does.
    curvature = np.interp(x, line.axis.x.ravel(), line.curvature.ravel())
    sections = [half.section(float(place)) for place in x]
    reach = np.array([section.top - section.centroid for section in sections])
    beam = -wood.e_pa * curvature * reach
    return float(np.max(np.abs(beam / solid.crown_stress[clear] - 1.0)))
