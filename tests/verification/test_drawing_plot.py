"""Charts: data where the axes say, honest ranges, and names that don't collide."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.lettering import item_box, text_box
from springloom.drawing.model import Array, Bounds, Fill, Path, Pen, Text
from springloom.drawing.plot import (
    Band,
    Level,
    Place,
    Plot,
    Series,
    Style,
    nice_ticks,
    spread,
    tick_labels,
)
from springloom.errors import InputError, RangeError

X = np.linspace(0.0, 850.0, 40)
Y = 0.02 + 0.25 * (X / 850) ** 1.5
READ = np.array([100.0, 300.0, 500.0, 700.0])


def chart() -> Plot:
    return Plot(
        "from root, mm", "Curvature, 1/m",
        (Series("wanted", X, Y, Style.DASHED), Series("after", X, Y * 1.01),
         Series("measured", READ, np.interp(READ, X, Y), Style.CIRCLES)),
        bands=(Band("95 in 100", X, Y * 0.85, Y * 1.15),),
        places=(Place("1/4", 212.5), Place("1/2", 425.0)),
        levels=(Level("limit", 0.31),), title="Bend at 40 N",
    )


def axis_map(plot: Plot, along: int) -> tuple[float, float]:
    """Slope and offset from value to mm, read back from the tick figures of the chart."""
    texts = [item for item in plot.block().items if isinstance(item, Text)]
    numbers = [t for t in texts if t.string.replace("\N{MINUS SIGN}", "-").replace(".", "")
               .lstrip("-").isdigit()]
    x_row = min(t.y for t in numbers)
    chosen = [t for t in numbers if (t.y == x_row) == (along == 0)]
    value = [float(t.string.replace("\N{MINUS SIGN}", "-")) for t in chosen]
    place = [t.x if along == 0 else t.y for t in chosen]
    slope, offset = np.polyfit(value, place, 1)
    return float(slope), float(offset)


def line_of(plot: Plot, pen: Pen, count: int) -> Array:
    paths = [item for item in plot.block().items if isinstance(item, Path) and item.pen is pen]
    path = next(p for p in paths if len(p.segments) == count)
    return np.vstack((path.segments[:, 0], path.segments[-1:, 3]))


def test_lines_stand_where_the_axes_say() -> None:
    plot = chart()
    points = line_of(plot, Pen.HIDDEN, len(X) - 1)
    for along, data in ((0, X), (1, Y)):
        slope, offset = axis_map(plot, along)
        assert np.allclose(points[:, along], slope * data + offset, atol=1e-6)  # a fitted line


def test_marks_stand_on_their_readings() -> None:
    plot = chart()
    marks = [item_box(item).centre for item in plot.block().items
             if isinstance(item, Path) and item.fill is Fill.GROUND]
    slope, offset = axis_map(plot, 0)
    # The last one is the sample beside the name.
    assert np.allclose([x for x, _ in marks[:-1]], slope * READ + offset, atol=1e-6)


def test_band_covers_from_low_to_high() -> None:
    plot = chart()
    band = next(item for item in plot.block().items
                if isinstance(item, Path) and item.fill is Fill.WASH)
    slope, offset = axis_map(plot, 1)
    box = item_box(band)
    assert box.y1 == pytest.approx(slope * float(Y.max()) * 1.15 + offset, abs=1e-6)
    assert box.y0 == pytest.approx(slope * float(Y.min()) * 0.85 + offset, abs=1e-6)


def test_everything_keeps_to_the_room_and_no_words_collide() -> None:
    plot = chart()
    made = plot.block(10, 20)
    assert made.bounds == Bounds(10, 20, 10 + plot.width_mm, 20 + plot.height_mm)
    room = made.bounds.grown(0.2)  # half a line's width, and letters' overhang
    assert all(room.contains(item_box(item)) for item in made.items)
    boxes = [text_box(item) for item in made.items if isinstance(item, Text)]
    assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))


def test_every_series_band_and_level_is_named() -> None:
    strings = [item.string for item in chart().block().items if isinstance(item, Text)]
    assert {"wanted", "after", "measured", "95 in 100", "limit", "1/4", "1/2"} <= set(strings)
    page = chart().drawing("Curvature rises outward")
    assert page.title == "Bend at 40 N"
    assert page.description == "Curvature rises outward"


@pytest.mark.parametrize("style", list(Style))
def test_every_style_draws(style: Style) -> None:
    made = Plot("x", "y", (Series("one", X, Y, style),)).block()
    paths = [item for item in made.items if isinstance(item, Path)]
    assert len(paths) >= 4


def test_constant_and_single_readings_get_axes() -> None:
    flat = Plot("x", "y", (Series("flat", X, np.full_like(X, 3.0)),)).block()
    one = Plot("x", "y", (Series("one", np.array([5.0]), np.array([0.0]), Style.DOTS),)).block()
    nought = Plot("x", "y", (Series("flat", X, np.zeros_like(X)),)).block()
    for made in (flat, one, nought):
        assert all(math.isfinite(item_box(item).width) for item in made.items)


def test_ranges_that_would_cut_data_off_are_refused() -> None:
    series = (Series("a", X, Y),)
    with pytest.raises(RangeError, match="cut data off"):
        Plot("x", "y", series, y_range=(0.1, 1.0))
    with pytest.raises(RangeError, match="cut data off"):
        Plot("x", "y", series, x_range=(0.0, 800.0))
    with pytest.raises(RangeError):
        Plot("x", "y", series, y_range=(1.0, 1.0))
    wide = Plot("x", "y", series, x_range=(-50.0, 900.0), y_range=(0.0, 0.5))
    assert np.isfinite(axis_map(wide, 1)).all()


def test_data_that_is_none_is_refused() -> None:
    with pytest.raises(RangeError):
        Series("a", np.array([0.0, 1.0]), np.array([0.0, math.nan]))
    with pytest.raises(InputError):
        Series("a", X, Y[:-1])
    with pytest.raises(InputError):
        Series("a", np.array([1.0]), np.array([1.0]))
    with pytest.raises(InputError):
        Band("b", X, Y, Y - 0.1)
    with pytest.raises(InputError):
        Plot("x", "y", ())
    with pytest.raises(RangeError):
        Plot("x", "y", (Series("a", X, Y),), width_mm=10)
    with pytest.raises(RangeError):
        nice_ticks(math.nan, 1.0)


@given(st.floats(-1e6, 1e6), st.floats(1e-6, 1e6), st.integers(2, 10))
def test_ticks_are_round_and_cover(low: float, room: float, count: int) -> None:
    high = low + room
    if room < 1e-9 * abs(low):
        return
    ticks = nice_ticks(low, high, count)
    step = float(np.min(np.diff(ticks)))
    # A millionth of a step is forgiven by design.
    assert ticks[0] <= low + 2e-6 * step
    assert ticks[-1] >= high - 2e-6 * step
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-6)
    assert min(abs(mantissa - m) for m in (1, 2, 5, 10)) < 1e-3  # rounding of large ticks
    # The step is the nearest of 1, 2, 5 on a log scale, so within √(5/2) of the wished one.
    assert len(ticks) - 1 <= count * math.sqrt(2.5) + 2


def test_tick_labels_are_as_fine_as_their_step() -> None:
    assert tick_labels(nice_ticks(0.0, 0.3)) == ("0.00", "0.05", "0.10", "0.15", "0.20", "0.25",
                                                 "0.30")
    assert tick_labels(nice_ticks(-100.0, 100.0, 4)) == ("−100", "−50", "0", "50", "100")
    assert tick_labels(np.array([-1e-17, 0.1])) == ("0.0", "0.1")


@given(st.lists(st.floats(0, 100), min_size=1, max_size=8), st.floats(0.1, 10))
def test_names_are_spread_in_order_and_hardly_moved(wanted: list[float], apart: float) -> None:
    placed = spread(wanted, apart, -1000, 1000)
    order = np.argsort(wanted, kind="stable")
    gaps = np.diff(np.array(placed)[order])
    assert np.all(gaps >= apart - 1e-9)
    # Least squares with free ends keeps the mean; rounding only.
    assert np.mean(placed) == pytest.approx(np.mean(wanted), abs=1e-9)


def test_names_stay_in_their_room() -> None:
    placed = spread([9.0, 9.5, 10.0], 2.0, 0.0, 10.0)
    assert placed == pytest.approx([6.0, 8.0, 10.0])
