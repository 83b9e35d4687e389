"""Charts of a round of tuning: each blade's line, curvature and thickness as SVG.

Each shows what is wanted, what was measured (readings, and the estimate with its 90 % band) and
what the advised removal leaves.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from springloom.drawing.model import Drawing, Item, Text, Weight
from springloom.drawing.plot import Band, Place, Plot, Series, Style
from springloom.drawing.svg import write_svg
from springloom.mechanics.beam import Bent
from springloom.mechanics.bend import line_shape, wanted_curvature
from springloom.mechanics.setups import clamped_line
from springloom.mechanics.stiffness import rigidity_at
from springloom.report.files import file_stem, write_all
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.tune.advice import BladeAdvice
from springloom.tune.counsel import Counsel
from springloom.tune.evidence import BenchReading, ThicknessReading
from springloom.tune.planing import Planing
from springloom.tune.prediction import Between, BladePrediction
from springloom.units import METRE_PER_INCH

Floats = npt.NDArray[np.float64]

WIDTH_MM, CHART_MM, GAP_MM, HEAD_MM, MARGIN_MM = 170.0, 66.0, 6.0, 9.0, 6.0
_POINTS = 161
_HAIR = 1e-6  # of a unit: rounding must not cut the last sample off
_NAME_ROOM = 0.09  # of the blade's length: stations nearer than this share one name


def write_tune_plots(name: str, told: Counsel, words: Words, folder: Path) -> list[Path]:
    """Write one SVG a blade; returns the paths, none while something is in doubt.

    Raises:
        OutputError: nothing was written.
    """
    stem = file_stem(name)
    return write_all({
        folder / f"{stem}-tune-{side}.svg": write_svg(drawing, ground="screen").encode()
        for side, drawing in tune_drawings(name, told, words).items()
    })


def tune_drawings(name: str, told: Counsel, words: Words) -> dict[str, Drawing]:
    """Return the charts by blade, three over one another."""
    if told.prediction is None:
        return {}
    blades = zip(told.plans, told.advice.blades, (told.prediction.a, told.prediction.b),
                 strict=True)
    return {blade.side: _drawing(name, _Job(blade, advice, predicted, words))
            for blade, advice, predicted in blades}


@dataclass(frozen=True)
class _Job:
    """One blade and what is said of it."""

    blade: Planing
    advice: BladeAdvice
    predicted: BladePrediction
    words: Words

    @property
    def unit(self) -> float:
        """Metres of one unit of the page."""
        return 1e-3 if self.words.system == "mm" else METRE_PER_INCH

    @property
    def planed(self) -> bool:
        """Whether anything comes off."""
        return self.advice.call == "plane"

    @property
    def after(self) -> HalfPaddle:
        """The blade after the removal."""
        theta = self.blade.theta_after(self.advice.per_face)
        return self.blade.known.model.shaped(self.blade.side, theta)

    def bent(self, half: HalfPaddle) -> Bent:
        """A blade under the target's weight."""
        return clamped_line(half, self.blade.build, self.blade.target.setup(half), large=False)


def _drawing(name: str, job: _Job) -> Drawing:
    """Set three charts over one another, the boxes inside their axes in line."""
    charts = [_line(job), _curvature(job), _thickness(job)]
    left = max(chart.frame.x0 for chart in charts)
    right = max(WIDTH_MM - chart.frame.x1 for chart in charts)
    height = len(charts) * (CHART_MM + GAP_MM) + HEAD_MM + 2.0 * MARGIN_MM - GAP_MM
    top = height - MARGIN_MM - HEAD_MM
    title = f"{name}, blade {job.blade.side.upper()}: line, curvature and thickness"
    items: list[Item] = [Text(MARGIN_MM, top + 0.5 * HEAD_MM, title, 3.4, weight=Weight.BOLD,
                              layer="plot")]
    for i, chart in enumerate(charts):
        y = top - (i + 1) * CHART_MM - i * GAP_MM
        items += replace(chart, left_mm=left, right_mm=right).block(MARGIN_MM, y).items
    said = job.words.hung(job.blade.target.load_n)
    return Drawing(WIDTH_MM + 2.0 * MARGIN_MM, height, title, tuple(items), description=(
        f"The blade clamped at its root with {said} at the tip: wanted, as measured, and after "
        "the advised removal."))


def _line(job: _Job) -> Plot:
    now = job.bent(job.blade.half)
    x = now.axis.x.ravel()
    series = [Series("as it is", x / job.unit, -now.deflection.ravel() / job.unit, Style.HEAVY)]
    if job.planed:
        then = job.bent(job.after)
        series.append(Series("after planing", then.axis.x.ravel() / job.unit,
                             -then.deflection.ravel() / job.unit, Style.SOLID))
    at, wanted = _wanted_line(job)
    series.append(Series("wanted", at / job.unit, -wanted / job.unit, Style.DASHED))
    read = _read_line(job)
    if len(read):
        series.append(Series("readings", read[:, 0] / job.unit, -read[:, 1] / job.unit,
                             Style.CIRCLES))
    places = np.array(job.predicted.x_m)
    sunk = now.deflection.ravel()
    low, high = (np.interp(x, places, _share(job.predicted.line_now_m, end)) * sunk
                 for end in ("low_90", "high_90"))
    band = Band("90 % sure", x / job.unit, -high / job.unit, -low / job.unit)
    return _plot(job, f"How far it sinks under {job.words.hung(job.blade.target.load_n)}",
                 f"line, {job.words.system}", series, (band,))


def _share(line: tuple[Between, ...], end: str) -> Floats:
    """Bound over value at each station; at the clamp the next one's."""
    shares = [getattr(one, end) / one.value for one in line[1:]]
    return np.array([shares[0], *shares])


def _wanted_line(job: _Job) -> tuple[Floats, Floats]:
    half = job.blade.half
    x = np.linspace(half.loom.root, half.tip, _POINTS)
    shape = line_shape(_outward(half, x), job.blade.target.progression)
    return x, job.advice.goal_m * shape / shape[-1]


def _read_line(job: _Job) -> Floats:
    """Bench readings in the target's own set-up, in proportion to the weight, less the clamp's
    turning: rows of place and deflection, m."""
    known, side, half = job.blade.known, job.blade.side, job.blade.half
    turning = known.clamp_turning(side).value
    rows = [
        (r.read_x, job.blade.target.load_n * (
            r.deflection / r.load - turning * (r.load_x - r.clamp_x) * (r.read_x - r.clamp_x)))
        for r in known.readings
        if isinstance(r, BenchReading) and r.side == side
        and abs(r.clamp_x - half.loom.root) < 1e-6 and abs(r.load_x - half.tip) < 1e-2
    ]
    return np.array(rows).reshape(-1, 2)


def _outward(half: HalfPaddle, x: Floats) -> Floats:
    return (x - half.loom.root) / (half.tip - half.loom.root)


def _curvature(job: _Job) -> Plot:
    now = job.bent(job.blade.half)
    series = [Series("as it is", now.axis.x.ravel() / job.unit, now.curvature.ravel(),
                     Style.HEAVY)]
    if job.planed:
        then = job.bent(job.after)
        series.append(Series("after planing", then.axis.x.ravel() / job.unit,
                             then.curvature.ravel(), Style.SOLID))
    half, p = job.blade.half, job.blade.target.progression
    x = np.linspace(half.loom.root, half.tip, _POINTS)
    scale = _scale(job)
    series.append(Series("wanted", x / job.unit, scale * wanted_curvature(_outward(half, x), p),
                         Style.DASHED))
    return _plot(job, "How it bends", "curvature, 1/m", series, ())


def _scale(job: _Job) -> float:
    """Curvature at the clamp of the wanted line, 1/m."""
    half = job.blade.half
    tip = float(line_shape(np.ones(1), job.blade.target.progression)[0])
    return job.advice.goal_m / ((half.tip - half.loom.root) ** 2 * tip)


def _thickness(job: _Job) -> Plot:
    half, unit = job.blade.half, job.unit
    x = np.linspace(half.loom.root, half.tip, _POINTS)
    series = [Series("crown as it is", x / unit, _crown(half, x) / unit, Style.HEAVY)]
    if job.planed:
        series.append(Series("after planing", x / unit, _crown(job.after, x) / unit, Style.SOLID))
    inner = x[x < half.cap[0]]
    series.append(Series("wanted", inner / unit, _wanted_crown(job, inner) / unit, Style.DASHED))
    least = job.blade.limits.least_crowns(half)
    series.append(Series("least crown", np.array(job.predicted.x_m) / unit, least / unit,
                         Style.FINE))
    for kind, style in (("crown", Style.CIRCLES), ("edge", Style.SQUARES)):
        read = [(r.x, r.thickness) for r in job.blade.known.readings
                if isinstance(r, ThicknessReading) and r.side == job.blade.side
                and r.kind == kind]
        if read:
            at, thick = np.array(sorted(read)).T
            series.append(Series(f"{kind} read", at / unit, thick / unit, style))
    places = np.array(job.predicted.x_m) / unit
    low, high = (np.array([getattr(one, end) for one in job.predicted.crowns_now_m]) / unit
                 for end in ("low_90", "high_90"))
    return _plot(job, "Thickness", f"thickness, {job.words.system}", series,
                 (Band("90 % sure", places, low, high),))


def _crown(half: HalfPaddle, x: Floats) -> Floats:
    return np.asarray(half.values(half.parameter(x))[1])


def _ends(job: _Job) -> tuple[float, float]:
    """From the root to the tip, the planned one or the estimated one, whichever is further."""
    planned = job.blade.known.model.bench(job.blade.side).half
    starts, ends = zip(*((h.loom.root, h.tip) for h in (planned, job.blade.half)), strict=True)
    return min(starts) / job.unit - _HAIR, max(ends) / job.unit + _HAIR


def _wanted_crown(job: _Job, x: Floats) -> Floats:
    """Crowns whose EI bends as wanted, all else in proportion, m."""
    half, target = job.blade.half, job.blade.target
    kappa = _scale(job) * wanted_curvature(_outward(half, x), target.progression)
    values = half.values(half.parameter(x))
    own = rigidity_at(values, job.blade.build).ei
    return np.asarray(values[1] * np.cbrt(target.load_n * (half.tip - x) / kappa / own))


def _plot(job: _Job, title: str, label: str, series: list[Series], bands: tuple[Band, ...]) -> Plot:
    half, unit = job.blade.half, job.unit
    names: list[Place] = []
    room = _NAME_ROOM * (half.tip - half.loom.root) / unit
    for place in sorted(zip(job.predicted.x_m, job.predicted.stations, strict=True), reverse=True):
        if not names or names[-1].x - place[0] / unit > room:
            names.append(Place(place[1], place[0] / unit))
    return Plot(f"from the centre, {job.words.system}", label, tuple(series), bands, tuple(names),
                title=title, width_mm=WIDTH_MM, height_mm=CHART_MM, x_range=_ends(job))
