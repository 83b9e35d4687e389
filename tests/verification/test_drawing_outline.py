"""Shape to paths: the drawn curves are the model's own, to rounding."""

from __future__ import annotations

import numpy as np
import pytest

from springloom.drawing.model import Array, Path
from springloom.drawing.outline import (
    SIDE_MM,
    face_outline,
    section_outline,
    side_outline,
    silhouette,
)
from springloom.drawing.paths import curve_at, path_bounds
from springloom.shape.blade import CHANNELS, HalfPaddle
from springloom.shape.paddle import default_paddle
from springloom.shape.section import Section
from tests.verification.plan_designs import random_half

SEEDS = range(12)
T = np.linspace(0.0, 1.0, 33)
HALF_WIDTH, CROWN, SHARE = (CHANNELS.index(n) for n in ("half_width", "crown", "share"))
# Solving x(u) for u near the tip, where dx/du = 0, costs half the digits: mm.
ROUNDING = 1e-5


def points(path: Path) -> Array:
    return curve_at(path.segments, T).reshape(-1, 2)


def model(half: HalfPaddle, x_mm: Array) -> Array:
    return half.values(half.parameter(1e-3 * x_mm))


@pytest.mark.parametrize("seed", SEEDS)
def test_face_outline_is_the_half_width(seed: int) -> None:
    half = random_half(seed)
    path = face_outline(half)
    x, y = points(path).T
    assert np.abs(np.abs(y) - 1e3 * model(half, x)[HALF_WIDTH]).max() < ROUNDING
    # One cubic a span and face, drawn without lifting the pen, from the centre and back to it.
    assert len(path.segments) == 2 * (len(half.knots) - 1)
    assert len(path.runs()) == 1
    assert path.segments[0, 0] == pytest.approx((0.0, 500 * half.loom.width))
    assert path.segments[-1, 3] == pytest.approx((0.0, -500 * half.loom.width))


@pytest.mark.parametrize("seed", SEEDS)
def test_outline_is_upright_at_the_tip(seed: int) -> None:
    half = random_half(seed)
    upper = face_outline(half).segments[len(half.knots) - 2]
    assert upper[3] == pytest.approx((1e3 * half.tip, 0.0))
    # dx/du = 0 there: the last handle stands straight above the tip.
    assert upper[2, 0] == pytest.approx(1e3 * half.tip)


@pytest.mark.parametrize("seed", SEEDS)
def test_side_outline_is_each_faces_share_of_the_crown(seed: int) -> None:
    half = random_half(seed)
    path = side_outline(half)
    assert len(path.runs()) == 1
    middle = np.flatnonzero(path.straight() & (path.segments[:, 0, 0] == path.segments[:, 3, 0]))
    assert len(middle) == 1  # the line that closes the tip
    upper, lower = path.segments[:middle[0]], path.segments[middle[0] + 1:]
    for part, sign in ((upper, 1), (lower, -1)):
        x, z = curve_at(part, T).reshape(-1, 2).T
        values = model(half, x)
        share = values[SHARE] if sign > 0 else 1.0 - values[SHARE]
        assert np.abs(sign * z - 1e3 * values[CROWN] * share).max() < SIDE_MM + ROUNDING


def test_side_of_even_faces_is_one_cubic_a_span() -> None:
    half = default_paddle().a
    assert len(side_outline(half).segments) == 2 * (len(half.knots) - 1) + 1


def test_side_is_cut_where_the_faces_share_changes() -> None:
    half = next(h for h in map(random_half, SEEDS) if h.stations[0].share == 1.0)
    assert len(side_outline(half).segments) > 2 * (len(half.knots) - 1) + 1


def area(path: Path) -> float:
    """∮ x dy, exact for cubics: the integrand is of degree five."""
    nodes, weights = np.polynomial.legendre.leggauss(3)
    t = 0.5 * (nodes + 1.0)
    p = path.segments
    x = curve_at(p, t)[..., 0]
    d = 3.0 * np.diff(p[..., 1], axis=1)
    dy = (np.outer(d[:, 0], (1 - t) ** 2) + np.outer(d[:, 1], 2 * t * (1 - t))
          + np.outer(d[:, 2], t * t))
    return float(np.sum(x * dy * weights) / 2.0)


@pytest.mark.parametrize("section", [
    Section.symmetric(0.041, 0.0065, 0.55, 0.4),
    Section(0.03, 0.012, 0.008, 0.35, 0.6, 0.5),
    Section(0.04, 0.014, 0.0, 0.5, 0.5, 0.6),
])
def test_section_has_its_width_height_and_area(section: Section) -> None:
    path = section_outline(section)
    box = path_bounds(path)
    assert (box.x0, box.x1) == pytest.approx((-1e3 * section.half_width, 1e3 * section.half_width))
    assert (box.y0, box.y1) == pytest.approx((-1e3 * section.bottom, 1e3 * section.top), abs=1e-9)
    assert area(path) == pytest.approx(1e6 * section.area, rel=1e-12)
    assert len(path.runs()) == 1


def test_silhouette_is_the_whole_paddle_in_small() -> None:
    a = random_half(1)
    b = random_half(2, a.loom)
    path = silhouette(a, b, 0.1)
    box = path_bounds(path)
    assert box.width == pytest.approx(100 * (a.tip + b.tip))
    assert box.x1 == pytest.approx(100 * a.tip)
    assert path.closed
    assert len(path.runs()) == 1
