"""Section traces: planted shapes are found, planted bumps are named, and the evidence is fair."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from springloom.errors import InputError, RangeError
from springloom.shape.section import Section
from springloom.tune.estimate import estimate
from springloom.tune.evidence import Face, Reading, ThicknessReading
from springloom.tune.prior import RIDGE_SD
from springloom.tune.trace import PLACE_SD, Trace, TraceFit, fit_trace, trace_readings
from tests.verification.tune_bench import Floats, model, places, true_value

HALF = model().bench("a").half
X = HALF.stations[2].x
PLAN = HALF.section(X)
INSETS = (0.003, 0.006, 0.010, 0.015, 0.020, 0.028, 0.036)


def _outline(made: Section, count: int) -> Floats:
    """Points of its upper face from edge to edge, evenly spaced across."""
    upper = made.outline(400)
    upper = upper[upper[:, 1] >= 0.0]
    order = np.argsort(upper[:, 0])
    y = np.linspace(-0.99, 0.99, count) * made.half_width
    return np.column_stack([y, np.interp(y, upper[order, 0], upper[order, 1])])


def _traced(made: Section, count: int = 21, bump: float = 0.0, shift: float = 0.012,
            noise: Floats | None = None) -> Trace:
    """A gauge's points, counted from anywhere, with a bump 15 mm right of the middle."""
    points = _outline(made, count)
    points[:, 1] += bump * np.exp(-(((points[:, 0] - 0.015) / 0.005) ** 2))
    points[:, 0] += shift
    if noise is not None:
        points += noise
    return Trace("a", X, tuple((float(y), float(z)) for y, z in points), name="1/2")


def _other(ridge: float, edge: float, wide: float = 1.0, high: float = 1.0) -> Section:
    return Section.symmetric(wide * PLAN.half_width, high * PLAN.top, ridge, edge)


@settings(max_examples=25)
@given(ridge=st.floats(0.35, 0.7), edge=st.floats(0.2, 0.6), wide=st.floats(0.97, 1.03),
       high=st.floats(0.8, 1.3))
def test_a_planted_shape_is_found(ridge: float, edge: float, wide: float, high: float) -> None:
    made = _other(ridge, edge, wide, high)
    fit = fit_trace(_traced(made), HALF)
    # both fullnesses nearly make up for one another: what holds is the shape
    assert fit.fuller[0] == pytest.approx(
        made.area * PLAN.half_width * PLAN.top / (PLAN.area * made.half_width * made.top) - 1.0,
        abs=0.02)
    assert fit.half_width == pytest.approx(made.half_width, rel=0.02)
    assert fit.height == pytest.approx(made.top, rel=0.03)
    best = fit.readings[-1]
    assert abs(best.value - best.ridge * ridge - best.edge * edge) < best.sd
    assert best.sd < 0.1


def test_a_trace_is_no_worse_than_told() -> None:
    """Gauges that err by 0.2 mm: errors of the readings are unit normals or less."""
    random, scores = np.random.default_rng(9), []
    for _ in range(150):
        made = _other(0.56, 0.45)
        fit = fit_trace(_traced(made, noise=0.0002 * random.standard_normal((21, 2))), HALF)
        scores.append([(r.value - r.ridge * 0.56 - r.edge * 0.45) / r.sd for r in fit.readings])
    best = np.array([score[-1] for score in scores])
    # the sd of 150 unit normals errs by 6 %; what scatters more than told widens it, and a floor
    assert 0.5 < np.std(best) < 1.2
    assert abs(np.mean(best)) < 0.5
    assert max(len(score) for score in scores) <= 2


def test_the_wanted_shape_is_told_as_wanted() -> None:
    """At any width and height: only the shape is judged."""
    for wide, high in ((1.0, 1.0), (0.98, 1.2), (1.02, 0.9)):
        fit = fit_trace(_traced(_other(PLAN.ridge_top, PLAN.edge, wide, high)), HALF)
        assert fit.high == fit.low == ()
        assert max(abs(d.off_m) for d in fit.deviations) < 1e-4
        assert fit.words.startswith("blade A, upper face, trace at 1/2: as wanted")


@pytest.mark.parametrize(("bump", "way"), [(0.0015, "high"), (-0.0015, "low")])
def test_a_planted_bump_is_named(bump: float, way: str) -> None:
    fit = fit_trace(_traced(_other(PLAN.ridge_top, PLAN.edge), bump=bump), HALF)
    found = fit.high if way == "high" else fit.low
    bumps = [s for s in found if s.from_m <= 0.016 and s.to_m >= 0.014]
    assert len(bumps) == 1
    # a section that follows the bump a little leaves less of it
    assert 0.5 < abs(bumps[0].worst_m) / abs(bump) < 1.1
    assert f"{way} by" in fit.words
    assert "right of the middle" in fit.words


@pytest.mark.parametrize(("ridge", "said"), [(0.9, "% fuller than"), (0.1, "% leaner than")])
def test_fuller_and_leaner_sections_are_named(ridge: float, said: str) -> None:
    fit = fit_trace(_traced(_other(ridge, PLAN.edge)), HALF)
    assert said in fit.words
    share = Section.symmetric(1.0, 1.0, ridge, PLAN.edge).area / Section.symmetric(
        1.0, 1.0, PLAN.ridge_top, PLAN.edge).area
    # the points hold the area but for what the baseline and the plan's width take up
    assert fit.fuller[0] == pytest.approx(share - 1.0, abs=0.02)


@pytest.mark.parametrize("number", [10, 20, 33])
def test_deviations_are_distances_from_the_wanted_outline(number: int) -> None:
    """One point of many moved outward along the normal, half a millimetre."""
    points = _outline(_other(PLAN.ridge_top, PLAN.edge), 41)
    slope = float(np.gradient(points[:, 1], points[:, 0])[number])
    points[number] += 0.0005 * np.array([-slope, 1.0]) / math.hypot(slope, 1.0)
    fit = fit_trace(Trace("a", X, tuple((float(y), float(z)) for y, z in points)), HALF)
    # the other forty hold the section, but for a sixth or so of what one of them does
    assert fit.deviations[number].off_m == pytest.approx(0.0005, rel=0.2)
    others = [d.off_m for i, d in enumerate(fit.deviations) if i != number]
    assert max(abs(d) for d in others) < 0.00015


def _calipered(made: Section, sd: float = 0.0001) -> Trace:
    return Trace("a", X, tuple((i, made.thickness_at(i)) for i in INSETS), "both", sd, "1/2")


def test_thickness_at_insets_tells_the_same() -> None:
    fit = fit_trace(_calipered(_other(0.62, 0.5)), HALF)
    # the plan pulls either fullness by its own share, and hardly their sum
    assert (fit.ridge, fit.edge) == pytest.approx((0.62, 0.5), abs=0.02)
    assert fit.ridge + fit.edge == pytest.approx(1.12, abs=0.005)
    assert fit.height == pytest.approx(2.0 * PLAN.top, rel=1e-3)
    assert [s.worst_m > 0.0 for s in fit.high] == [True]
    assert "mm in" in fit.words


def test_calipers_readings_are_thicknesses_with_their_slope() -> None:
    made = _other(0.55, 0.4)
    found = trace_readings(_calipered(made), HALF)
    assert [(r.kind, r.inset) for r in found if isinstance(r, ThicknessReading)] == [
        ("inset", i) for i in INSETS]
    for reading, inset in zip(found, INSETS, strict=True):
        assert isinstance(reading, ThicknessReading)
        slope = (made.thickness_at(min(inset + 1e-5, made.half_width))
                 - made.thickness_at(inset - 1e-5)) / 2e-5
        assert reading.sd == pytest.approx(math.hypot(0.0001, PLACE_SD * slope), rel=0.02)


@pytest.mark.parametrize("face", ["upper", "both"])
def test_a_trace_moves_the_ridge_of_the_estimate(face: Face) -> None:
    """A hidden truth with fuller ridges: traced at three stations, it shows."""
    truth, at, base = model().start(), model().layout, model()
    truth[at.ridges("a")] = 0.12
    readings: list[Reading] = [
        replace(r, thickness=true_value(base, truth, r)) if isinstance(r, ThicknessReading) else r
        for r in places(HALF, "a", bench=False)
    ]
    for number in (1, 2, 3):
        x = HALF.stations[number].x
        section = base.shaped("a", truth).section(x)
        if face == "both":
            insets = [i for i in INSETS if i < section.half_width]
            points = [(i, section.thickness_at(i)) for i in insets]
        else:
            points = [(float(y), float(z)) for y, z in _outline(section, 25)]
        trace = Trace("a", x, tuple(points), face, 0.0001, str(number))
        readings += trace_readings(trace, HALF)
    known = estimate(base.paddle, base.build, readings)
    told = known.ridges("a")
    for number in (1, 2, 3):
        assert told[number].value == pytest.approx(0.12, abs=2.0 * told[number].sd + 0.02)
        assert told[number].sd < 0.9 * told[number].before_sd
    assert told[2].before_sd == pytest.approx(math.sqrt(2.0) * RIDGE_SD)
    assert known.misfits == ()


def test_a_few_points_at_one_edge_say_little() -> None:
    """Nothing is claimed of the ridge by points that never come near it."""
    made = _other(0.7, PLAN.edge)
    few = _traced(made).points[:6]
    fit = fit_trace(Trace("a", X, few), HALF)
    whole: TraceFit = fit_trace(_traced(made), HALF)
    assert fit.fuller[1] > 2.0 * whole.fuller[1]
    assert abs(fit.fuller[0]) < 3.0 * fit.fuller[1]


@pytest.mark.parametrize(("trace", "error", "sentence"), [
    ({"points": ((0.0, 0.001),) * 4}, InputError, "says nothing of a shape"),
    ({"points": ((0.0, -0.001),) * 6}, InputError, "rises nowhere"),
    ({"points": ((0.5, 0.001),) * 6}, RangeError, "across"),
    ({"points": ((0.01, 0.2),) * 6}, RangeError, "high"),
    ({"x": HALF.tip - 0.01}, RangeError, "trace at"),
    ({"x": 9.0}, RangeError, "at"),
    ({"sd": 0.0}, RangeError, "sd"),
])
def test_what_is_no_trace_is_refused(
    trace: dict[str, object], error: type[Exception], sentence: str
) -> None:
    whole = {"side": "a", "x": X, "points": _traced(PLAN).points, **trace}
    with pytest.raises(error, match=sentence):
        fit_trace(Trace(**whole), HALF)  # type: ignore[arg-type] # what is typed wrong is the test
