"""Thickness, stiffness, curvature and the line itself as charts over the blade."""

from __future__ import annotations

import math

import numpy as np

from springloom.drawing.bend_job import BendJob
from springloom.drawing.lettering import text_box, width_mm
from springloom.drawing.model import Array, Text
from springloom.drawing.offsets import figure
from springloom.drawing.plot import SIZE_MM, Band, Place, Plot, Series, Style
from springloom.mechanics.bend import wanted_curvature
from springloom.mechanics.expected import SIGMA_90
from springloom.shape.blade import edge_inset
from springloom.units import METRE_PER_INCH

NAME_MM = 0.85 * SIZE_MM  # as a chart sets them
BESIDE_MM = 46.0  # what the figures and names beside the axes take of a chart's width
OUT_MM = 3.5
EVERY = 4  # of the line's places, one at which thickness is worked out
LONGEST = 17  # characters of a name that still fits there


def plots(job: BendJob, width: float, height: float) -> tuple[Plot, ...]:
    """Return charts of thickness, stiffness and curvature from the clamp to the tip."""
    return (_thickness(job, width, height), _stiffness(job, width, height),
            _curvature(job, width, height))


def line_plot(job: BendJob, width: float, height: float) -> Plot:
    """Return a chart of the bent line itself, falls downward."""
    bend, unit = job.bend, _unit(job)
    middle, least, most = ((b.out / unit, -b.fall / unit)
                           for b in (bend.middle, bend.least, bend.most))
    x = middle[0]
    high, low = (np.interp(x, *b) for b in (least, most))
    series = [Series("expected", *middle, Style.HEAVY)]
    if job.aim is not None:
        series.append(Series("wanted", x[-1:], np.array([-job.aim.deflection_m / unit]),
                             Style.CIRCLES))
    band = Band("90 %", x, np.minimum(low, high), np.maximum(low, high))
    return _plot(job, "The line under the weight",
                 f"edge against the straight line, {job.system}", tuple(series), (band,),
                 (width, height))


def _thickness(job: BendJob, width: float, height: float) -> Plot:
    unit, half = _unit(job), job.half
    at = np.append(job.bend.middle.x[:-1:EVERY], half.tip)
    half_width, crown = half.values(half.parameter(at))[:2]
    inner = at < half.tip - 1e-9
    edges = np.array([half.section(float(x)).thickness_at(edge_inset(2.0 * float(w)))
                      for x, w in zip(at[inner], half_width[inner], strict=True)])
    series = (Series("crown", at / unit, crown / unit, Style.HEAVY),
              Series("edge", at[inner] / unit, edges / unit, Style.SOLID))
    return _plot(job, "Thickness", f"thickness, {job.system}", series, (), (width, height))


def _stiffness(job: BendJob, width: float, height: float) -> Plot:
    bend, x = job.bend, job.bend.middle.x / _unit(job)
    factor = math.exp(SIGMA_90 * bend.sd_ln_e)
    band = Band("90 %", x, bend.ei / factor, bend.ei * factor)
    return _plot(job, "Stiffness", "bending stiffness EI, N·m²",
                 (Series("expected", x, bend.ei, Style.HEAVY),), (band,), (width, height))


def _curvature(job: BendJob, width: float, height: float) -> Plot:
    bend, x = job.bend, job.bend.middle.x / _unit(job)
    series = [Series("expected", x, bend.middle.curvature, Style.HEAVY)]
    if job.target is not None:
        series.append(Series("wanted shape", x, _wanted(job, job.target.progression),
                             Style.DASHED))
    low = np.minimum(bend.least.curvature, bend.most.curvature)
    high = np.maximum(bend.least.curvature, bend.most.curvature)
    return _plot(job, "Curvature under the weight", "curvature, 1/m", tuple(series),
                 (Band("90 %", x, low, high),), (width, height))


def _wanted(job: BendJob, progression: float) -> Array:
    """The wanted shape of curvature, as high as lets the tip fall as far as this blade's does."""
    bent = job.bend.middle
    shape = wanted_curvature((bent.x - job.clamp) / (job.half.tip - job.clamp), progression)
    lever = job.half.tip - bent.x
    own, other = (float(np.trapezoid(k * lever, bent.x)) for k in (bent.curvature, shape))
    return np.asarray(shape * own / other)


def _plot(job: BendJob, title: str, label: str, series: tuple[Series, ...],
          bands: tuple[Band, ...], size: tuple[float, float]) -> Plot:
    unit = _unit(job)
    x = np.concatenate([s.x for s in series])
    # The data's own ends may lie a rounding outside the blade's.
    ends = min(job.clamp / unit, float(x.min())), max(job.half.tip / unit, float(x.max()))
    return Plot(f"from the centre, {job.system}", label, series, bands, _places(job, size[0]),
                title=title, width_mm=size[0], height_mm=size[1], x_range=ends)


def _unit(job: BendJob) -> float:
    return 1e-3 if job.system == "mm" else METRE_PER_INCH


def _places(job: BendJob, width: float) -> tuple[Place, ...]:
    """Stations whose names have room over a chart of this width, the tip's first."""
    axis = width - BESIDE_MM
    unit, reach = _unit(job), job.half.tip - job.clamp
    kept: list[Place] = []
    free = math.inf
    for row in reversed(job.rows):
        name = row.name if len(row.name) <= LONGEST else figure(row.x, job.system)
        half, x = 0.5 * width_mm(name, NAME_MM), axis * (row.x - job.clamp) / reach
        # A name that reaches out on the left would meet the figures there, a low one sooner.
        out = OUT_MM if text_box(Text(0.0, 0.0, name, NAME_MM)).y0 > -0.1 else 0.0
        if x + half < free and x - half > -out:
            kept.append(Place(name, row.x / unit))
            free = x - half - 1.5
    return tuple(reversed(kept))
