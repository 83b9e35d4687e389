"""One run, one table: how fast the product is, against what it stands in for.

Times are medians of repeated calls in one warm process on whatever machine runs this; the
ratios hold better than the times.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Callable
from importlib import resources
from pathlib import Path

import numpy as np
from tqdm import tqdm

from benchmarks import design_page
from springloom.drawing.pdf import write_pdf
from springloom.mechanics.analysis import analyse
from springloom.mechanics.batch import Batch
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import tip_deflection
from springloom.records.design import load_design
from springloom.report.sheets import plan_drawings
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import Section
from springloom.shape.torsion import torsion_constant
from springloom.solid.step import step_text
from springloom.tune.advice import advise
from springloom.tune.estimate import estimate
from springloom.wood.elastic import elastic_constants
from springloom.wood.material import Material, species_material
from springloom.wood.species import species
from tests.solid3d.deck import oriented
from tests.solid3d.mesh import Grid, blade_mesh
from tests.solid3d.run import solve

DESIGNS = 2_000_000
Row = tuple[str, str, str]


def median_seconds(call: Callable[[], object], repeats: int) -> float:
    """Median wall time of a call after one warm-up."""
    call()
    taken = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def analysis_rows() -> list[Row]:
    """Full analysis, against a CalculiX solve of the same blade."""
    paddle, wood = default_paddle(), species_material("western_redcedar", ring="flat")

    def from_stations() -> object:
        fresh = Paddle.mirrored(HalfPaddle(paddle.a.loom, paddle.a.stations))
        return analyse(fresh, wood)

    ours = median_seconds(lambda: analyse(paddle, wood), 300)
    fresh_time = median_seconds(from_stations, 300)
    solid = solid_seconds(paddle.a, wood)
    return [
        ("full analysis of a design", f"{1e3 * ours:.2f} ms", "under 1 ms"),
        ("the same, curves made anew", f"{1e3 * fresh_time:.2f} ms", ""),
        ("one CalculiX solve of one blade (coarse mesh)", f"{1e3 * solid:.0f} ms", ""),
        ("CalculiX solve / full analysis", f"{solid / ours:.0f} times", ""),
    ]


def solid_seconds(half: HalfPaddle, wood: Material) -> float:
    """Wall time of one static and frequency solve, mesh making left out."""
    constants = oriented(elastic_constants(species("western_redcedar"), wood.e_pa), "flat")
    mesh = blade_mesh(half, Grid())
    with tempfile.TemporaryDirectory() as folder:
        done = solve(mesh, constants, wood.density_kg_m3, 44.5, Path(folder))
    return done.seconds


def section_rows() -> list[Row]:
    """Properties of one section, against sectionproperties on the same outline."""
    half = default_paddle().a
    section = half.section(half.at_fraction(0.5))

    def ours() -> object:
        return (section.area, section.centroid, section.i_flat, section.i_edge,
                torsion_constant(section))

    fast = median_seconds(ours, 300)
    slow = median_seconds(lambda: reference_section(section), 3)
    return [
        ("section properties with torsion", f"{1e3 * fast:.2f} ms", ""),
        ("sectionproperties / ours", f"{slow / fast:.0f} times", ""),
    ]


def reference_section(section: Section) -> float:
    """Geometric and warping analysis by the reference library."""
    from sectionproperties.analysis.section import Section as Reference  # noqa: PLC0415  # slow
    from sectionproperties.pre.geometry import Geometry  # noqa: PLC0415
    from shapely import Polygon  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the library warns about its own dependencies
        geometry = Geometry(Polygon(1e3 * section.outline(40)))
        geometry.create_mesh(mesh_sizes=[1e6 * section.area / 300.0])
        reference = Reference(geometry)
        reference.calculate_geometric_properties()
        reference.calculate_warping_properties()
    return float(reference.get_j())


def batch_rows() -> list[Row]:
    """Designs a second on the compiled path, and its agreement with the single path."""
    half, wood = default_paddle().a, species_material("western_redcedar")
    random = np.random.default_rng(20)
    base = np.array([station.crown for station in half.stations])
    crowns = base * random.uniform(0.85, 1.2, (DESIGNS, 1))
    crowns = crowns * (1.0 + 0.01 * random.standard_normal((DESIGNS, len(base))))
    modulus = wood.e_pa * np.exp(0.2 * random.standard_normal(DESIGNS))
    batch = Batch(half, wood)
    taken = median_seconds(lambda: batch.run(crowns, modulus), 5)
    few = batch.run(crowns[:50], np.full(50, wood.e_pa))
    worst = 0.0
    for i in range(50):
        blade = half.with_crowns(crowns[i])
        mass = mass_properties(Paddle.mirrored(blade), wood).mass_kg
        worst = max(worst, abs(few.tip_deflection_m[i] / tip_deflection(blade, wood) - 1.0),
                    abs(few.mass_kg[i] / mass - 1.0))
    return [
        ("batch path", f"{1e-6 * DESIGNS / taken:.1f} million designs/s", "above 3 million"),
        ("batch against single path, worst", f"{worst:.1e}", "1e-12"),
    ]


def job_rows() -> list[Row]:
    """STEP, estimate with advice, plan sheet as PDF, and the command line's help."""
    with resources.as_file(resources.files("springloom.examples") / "marsh_tern.toml") as path:
        design = load_design(path)
    target, build = design.wanted(), design.build

    def tune() -> object:
        known = estimate(design.paddle, build, design.readings)
        return advise(known, target, design.limits, design.rules)

    def known() -> object:
        return estimate(design.paddle, build, design.readings)

    def sheet() -> object:
        return write_pdf(plan_drawings(design, Words("mm")))

    def solid() -> object:
        return step_text(design.paddle)

    def helped() -> object:
        return subprocess.run([sys.executable, "-m", "springloom.cli", "--help"], check=True,
                              capture_output=True)

    return [
        ("STEP of the whole paddle", f"{1e3 * median_seconds(solid, 20):.1f} ms", "under 30 ms"),
        (f"estimate from {len(design.readings)} readings",
         f"{1e3 * median_seconds(known, 30):.0f} ms", "under 35 ms"),
        ("estimate and advice", f"{1e3 * median_seconds(tune, 30):.0f} ms", "under 50 ms"),
        ("plan sheet to PDF", f"{1e3 * median_seconds(sheet, 10):.0f} ms", "under 300 ms"),
        ("springloom --help", f"{1e3 * median_seconds(helped, 7):.0f} ms", "under 200 ms"),
    ]


def page_rows() -> list[Row]:
    """One change on the design page, from its form to every part of the page that follows."""
    taken = statistics.median(design_page.seconds())
    return [("a change on the design page, to its new drawing", f"{1e3 * taken:.0f} ms",
             "under 60 ms")]


def main() -> None:
    """Print the table."""
    parts = [analysis_rows, section_rows, batch_rows, job_rows, page_rows]
    bar = tqdm(parts, desc="benchmarks", leave=False, disable=not sys.stderr.isatty())
    rows = [row for part in bar for row in part()]
    width = max(len(name) for name, _, _ in rows)
    print(f"{'what':<{width}}  {'measured':>24}  target")
    for name, measured, target in rows:
        print(f"{name:<{width}}  {measured:>24}  {target}")


if __name__ == "__main__":
    main()
