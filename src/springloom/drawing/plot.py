"""A small chart from the same lines and letters as every drawing.

It shows all it is given: axes always cover the data, samples are joined by straight lines, and
readings stand as marks. Each series is named at its right-hand end, with a sample of its line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from springloom.drawing.lettering import block, text_box, width_mm
from springloom.drawing.model import (
    Anchor,
    Array,
    Baseline,
    Block,
    Bounds,
    Drawing,
    Fill,
    Item,
    Pen,
    Text,
    Weight,
    finite,
)
from springloom.drawing.paths import circle, line, lines, polyline, rect
from springloom.errors import InputError, RangeError, in_range

LAYER = "plot"
SIZE_MM = 2.2  # figures and names
TITLE_MM = 2.8
TICK_MM = 1.2
KEY_MM = 6.0  # sample of a line beside its name
MARK_MM = 0.8  # half width of a reading's mark


class Style(Enum):
    """How a series is drawn."""

    HEAVY = "heavy"
    SOLID = "solid"
    FINE = "fine"
    DASHED = "dashed"
    CIRCLES = "circles"
    DOTS = "dots"
    SQUARES = "squares"
    DIAMONDS = "diamonds"


_PENS = {Style.HEAVY: Pen.OUTLINE, Style.SOLID: Pen.VISIBLE, Style.FINE: Pen.CONSTRUCTION,
         Style.DASHED: Pen.HIDDEN}


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Samples (x, y), each of shape (n,), under one name."""

    name: str
    x: Array
    y: Array
    style: Style = Style.SOLID

    def __post_init__(self) -> None:
        """Freeze the samples; refuse NaN and unequal lengths."""
        _freeze(self, "series", ("x", "y"), 1 if self.style not in _PENS else 2)


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """A range from ``low`` to ``high`` over x, each of shape (n,), filled with a wash."""

    name: str
    x: Array
    low: Array
    high: Array

    def __post_init__(self) -> None:
        """Freeze the samples; refuse NaN, unequal lengths and a band inside out."""
        _freeze(self, "band", ("x", "low", "high"), 2)
        if np.any(self.low > self.high):
            raise InputError("low is above high", field="band.low", given=self.name)


@dataclass(frozen=True, slots=True)
class Place:
    """A named position along x, such as a station: a fine upright line."""

    name: str
    x: float


@dataclass(frozen=True, slots=True)
class Level:
    """A named value of y, such as a limit: a fine level line."""

    name: str
    y: float


@dataclass(frozen=True, slots=True, eq=False)
class Plot:
    """A chart.

    Attributes:
        x_label: what x is, with its unit.
        y_label: what y is, with its unit.
        series: lines and readings, drawn in this order.
        bands: ranges behind them.
        places: named positions along x.
        levels: named values of y.
        title: written above.
        width_mm: whole width, names included.
        height_mm: whole height.
        x_range: ends of the x axis; those of the data when None.
        y_range: ends of the y axis; ticks around the data when None.
        left_mm: least room left of the axes, so that charts over one another are in line.
        right_mm: least room right of them.
    """

    x_label: str
    y_label: str
    series: tuple[Series, ...]
    bands: tuple[Band, ...] = ()
    places: tuple[Place, ...] = ()
    levels: tuple[Level, ...] = ()
    title: str = ""
    width_mm: float = 160.0
    height_mm: float = 80.0
    x_range: tuple[float, float] | None = None
    y_range: tuple[float, float] | None = None
    left_mm: float = 0.0
    right_mm: float = 0.0

    def __post_init__(self) -> None:
        """Refuse an empty chart, a size without room, and axes that would cut data off."""
        if not self.series and not self.bands:
            raise InputError("nothing to show", field="plot.series")
        in_range(self.width_mm, "plot.width_mm", 60.0, 5000.0, "mm")
        in_range(self.height_mm, "plot.height_mm", 35.0, 5000.0, "mm")
        for axis, chosen in (("x", self.x_range), ("y", self.y_range)):
            if chosen is not None:
                _check_range(self, axis, chosen)

    def block(self, x: float = 0.0, y: float = 0.0) -> Block:
        """Lay the chart out with the lower left corner of its room at (x, y), mm."""
        layout = _layout(self)
        items = (*_bands(self, layout), _grid(layout), *_references(self, layout),
                 *_axes(self, layout), *_series(self, layout), *_names(self, layout))
        return Block(block(items).items, Bounds(0.0, 0.0, self.width_mm, self.height_mm)
                     ).moved(x, y)

    @property
    def frame(self) -> Bounds:
        """The box inside the axes of a chart that stands at (0, 0), mm."""
        return _layout(self).box

    def drawing(self, description: str = "") -> Drawing:
        """Return the chart as a page of its own."""
        title = self.title or f"{self.y_label} by {self.x_label}"
        return Drawing(self.width_mm, self.height_mm, title, self.block().items,
                       description=description)


def nice_ticks(low: float, high: float, count: int = 5) -> Array:
    """Return the multiples of 1, 2 or 5 × 10ⁿ from at or below ``low`` to at or above ``high``.

    About ``count`` steps. Equal ends are opened by a tenth of their size (or by one).
    """
    in_range(low, "ticks.low")
    in_range(high, "ticks.high", low)
    if high - low <= 1e-12 * max(abs(low), abs(high)):
        room = 0.1 * abs(low) or 1.0
        low, high = low - room, high + room
    step = _step(low, high, count)
    # A millionth of a step forgives rounding in an end that is meant to be a tick.
    first, last = math.floor(low / step + 1e-6), math.ceil(high / step - 1e-6)
    ticks: Array = np.arange(first, last + 1, dtype=np.float64) * step
    return ticks


def _step(low: float, high: float, count: int) -> float:
    rough = (high - low) / count
    power = 10.0 ** math.floor(math.log10(rough))
    return min((m * power for m in (1.0, 2.0, 5.0, 10.0)), key=lambda s: abs(math.log(s / rough)))


def tick_labels(ticks: Array) -> tuple[str, ...]:
    """Write ticks with as many decimals as their step needs, and a true minus sign."""
    step = float(np.min(np.diff(ticks))) if len(ticks) > 1 else 1.0
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    # Adding 0.0 turns a negative zero, which rounding may leave, into a plain one.
    return tuple(f"{round(t, decimals) + 0.0:.{decimals}f}".replace("-", "\N{MINUS SIGN}")
                 for t in ticks.tolist())


def spread(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Move positions as little as possible (least squares) so that all are ``apart``.

    The result keeps within [low, high] if there is room. Positions less n × apart must not
    fall, so this is an isotonic regression: neighbours in the wrong order share their mean.
    """
    order = sorted(range(len(wanted)), key=lambda n: wanted[n])
    pools: list[list[float]] = []  # mean, count
    for n, which in enumerate(order):
        pools.append([wanted[which] - n * apart, 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            mean, count = pools.pop()
            total = pools[-1][1] + count
            pools[-1] = [(pools[-1][0] * pools[-1][1] + mean * count) / total, total]
    top = max(low, high - (len(wanted) - 1) * apart)
    flat = [min(max(mean, low), top) for mean, count in pools for _ in range(int(count))]
    placed = [0.0] * len(wanted)
    for n, which in enumerate(order):
        placed[which] = flat[n] + n * apart
    return placed


@dataclass(frozen=True, slots=True)
class _Layout:
    """The box inside the axes, mm, and what its edges stand for."""

    box: Bounds
    x_ticks: Array
    y_ticks: Array
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def x(self, value: float | Array) -> Array:
        low, high = self.x_range
        return self.box.x0 + (np.asarray(value) - low) / (high - low) * self.box.width

    def y(self, value: float | Array) -> Array:
        low, high = self.y_range
        return self.box.y0 + (np.asarray(value) - low) / (high - low) * self.box.height

    def points(self, x: Array, y: Array) -> Array:
        return np.column_stack((self.x(x), self.y(y)))


def _layout(plot: Plot) -> _Layout:
    x_low, x_high = plot.x_range or _extent(plot, "x")
    y_low, y_high = plot.y_range or _extent(plot, "y")
    if plot.y_range is None:
        ticks = nice_ticks(y_low, y_high, _tick_count(plot.height_mm, 14.0))
        y_low, y_high = float(ticks[0]), float(ticks[-1])
    y_ticks = _within(nice_ticks(y_low, y_high, _tick_count(plot.height_mm, 14.0)), y_low, y_high)
    x_ticks = _within(nice_ticks(x_low, x_high, _tick_count(plot.width_mm, 20.0)), x_low, x_high)
    if x_low == x_high:
        x_low, x_high = float(x_ticks[0]), float(x_ticks[-1])
    left = max(width_mm(label, SIZE_MM) for label in tick_labels(y_ticks)) + TICK_MM + 1.0
    left = max(left, plot.left_mm)
    names = [width_mm(name, SIZE_MM) for name, _ in _labels(plot)]
    right = max(max(names) + KEY_MM + 3.0 if names else 4.0, plot.right_mm)
    bottom = TICK_MM + 1.0 + SIZE_MM * 3.2
    top = (TITLE_MM * 2.2 if plot.title else 0.0) + SIZE_MM * (4.2 if plot.places else 2.2)
    box = Bounds(left, bottom, plot.width_mm - right, plot.height_mm - top)
    return _Layout(box, x_ticks, y_ticks, (x_low, x_high), (y_low, y_high))


def _grid(at: _Layout) -> Item:
    box = at.box
    rows = [((box.x0, float(y)), (box.x1, float(y))) for y in at.y(at.y_ticks)]
    return lines(rows, Pen.GRID, layer=LAYER)


def _axes(plot: Plot, at: _Layout) -> list[Item]:
    box = at.box
    xs, ys = at.x(at.x_ticks).tolist(), at.y(at.y_ticks).tolist()
    ticks = [((x, box.y0), (x, box.y0 - TICK_MM)) for x in xs]
    ticks += [((box.x0, y), (box.x0 - TICK_MM, y)) for y in ys]
    frame = polyline(((box.x0, box.y1), (box.x0, box.y0), (box.x1, box.y0)), Pen.DIMENSION,
                     layer=LAYER)
    items: list[Item] = [frame, lines(ticks, Pen.DIMENSION, layer=LAYER)]
    items += [Text(x, box.y0 - TICK_MM - 0.8, s, SIZE_MM, Anchor.MIDDLE, Baseline.TOP, layer=LAYER)
              for x, s in zip(xs, tick_labels(at.x_ticks), strict=True)]
    items += [Text(box.x0 - TICK_MM - 0.8, y, s, SIZE_MM, Anchor.END, Baseline.MIDDLE, layer=LAYER)
              for y, s in zip(ys, tick_labels(at.y_ticks), strict=True)]
    above = box.y1 + SIZE_MM * (2.9 if plot.places else 0.9)
    items += [Text(0.0, above, plot.y_label, SIZE_MM, layer=LAYER),
              Text(box.x1, SIZE_MM * 0.4, plot.x_label, SIZE_MM, Anchor.END, layer=LAYER)]
    if plot.title:
        items.append(Text(0.0, plot.height_mm, plot.title, TITLE_MM, baseline=Baseline.TOP,
                          weight=Weight.BOLD, layer=LAYER))
    return items


def _bands(plot: Plot, at: _Layout) -> list[Item]:
    items: list[Item] = []
    for band in plot.bands:
        outline = np.vstack((at.points(band.x, band.low), at.points(band.x, band.high)[::-1]))
        items.append(polyline(outline, None, closed=True, fill=Fill.WASH, layer=LAYER))
    return items


def _references(plot: Plot, at: _Layout) -> list[Item]:
    box = at.box
    items: list[Item] = []
    for place in plot.places:
        x = float(at.x(place.x))
        name = Text(x, box.y1, place.name, SIZE_MM * 0.85, Anchor.MIDDLE, layer=LAYER)
        lift = box.y1 - text_box(name).y0 + 0.8
        items += [line((x, box.y0), (x, box.y1), Pen.CONSTRUCTION, layer=LAYER),
                  name.moved(0.0, max(lift, SIZE_MM * 0.6))]
    for level in plot.levels:
        y = float(at.y(level.y))
        items.append(line((box.x0, y), (box.x1, y), Pen.CENTRE, layer=LAYER))
    return items


def _series(plot: Plot, at: _Layout) -> list[Item]:
    items: list[Item] = []
    for series in plot.series:
        points = at.points(series.x, series.y)
        if series.style in _PENS:
            items.append(polyline(points, _PENS[series.style], layer=LAYER))
        else:
            items += [_mark(series.style, x, y) for x, y in points.tolist()]
    return items


def _mark(style: Style, x: float, y: float) -> Item:
    r = MARK_MM
    if style is Style.SQUARES:
        return rect(x - r, y - r, 2 * r, 2 * r, Pen.DIMENSION, fill=Fill.GROUND, layer=LAYER)
    if style is Style.DIAMONDS:
        corners = ((x - 1.2 * r, y), (x, y - 1.2 * r), (x + 1.2 * r, y), (x, y + 1.2 * r))
        return polyline(corners, Pen.DIMENSION, closed=True, fill=Fill.GROUND, layer=LAYER)
    if style is Style.DOTS:
        return circle(x, y, r, None, fill=Fill.INK, layer=LAYER)
    return circle(x, y, r, Pen.DIMENSION, fill=Fill.GROUND, layer=LAYER)


def _names(plot: Plot, at: _Layout) -> list[Item]:
    """Name every series, band and level beside the right edge, with a sample of its line."""
    named = _labels(plot)
    wanted = [float(at.y(value)) for _, value in named]
    apart = SIZE_MM * 1.9
    places = spread(wanted, apart, at.box.y0 + SIZE_MM, at.box.y1)
    x = at.box.x1 + 2.0
    items: list[Item] = []
    for (name, _), key, y in zip(named, _keys(plot), places, strict=True):
        items += _key(key, x, y)
        items.append(Text(x + KEY_MM + 1.0, y, name, SIZE_MM, baseline=Baseline.MIDDLE,
                          layer=LAYER))
    return items


def _labels(plot: Plot) -> list[tuple[str, float]]:
    """Names and the values they belong beside: each one's last sample."""
    return [
        *((s.name, float(s.y[np.argmax(s.x)])) for s in plot.series),
        *((b.name, float((b.low + b.high)[np.argmax(b.x)]) / 2) for b in plot.bands),
        *((level.name, level.y) for level in plot.levels),
    ]


def _keys(plot: Plot) -> list[Style | Fill | Pen]:
    return [*(s.style for s in plot.series), *(Fill.WASH for _ in plot.bands),
            *(Pen.CENTRE for _ in plot.levels)]


def _key(key: Style | Fill | Pen, x: float, y: float) -> list[Item]:
    if isinstance(key, Fill):
        return [rect(x, y - SIZE_MM * 0.6, KEY_MM, SIZE_MM * 1.2, None, fill=key, layer=LAYER)]
    if isinstance(key, Pen):
        return [line((x, y), (x + KEY_MM, y), key, layer=LAYER)]
    if key in _PENS:
        return [line((x, y), (x + KEY_MM, y), _PENS[key], layer=LAYER)]
    return [_mark(key, x + KEY_MM / 2, y)]


def _extent(plot: Plot, axis: str) -> tuple[float, float]:
    """Least and greatest value on an axis, named places and levels included."""
    if axis == "x":
        parts = [*(s.x for s in plot.series), *(b.x for b in plot.bands),
                 np.array([p.x for p in plot.places])]
    else:
        parts = [*(s.y for s in plot.series), *(b.low for b in plot.bands),
                 *(b.high for b in plot.bands), np.array([v.y for v in plot.levels])]
    values = np.concatenate(parts)
    return float(values.min()), float(values.max())


def _check_range(plot: Plot, axis: str, chosen: tuple[float, float]) -> None:
    low, high = chosen
    in_range(low, f"plot.{axis}_range")
    in_range(high, f"plot.{axis}_range", low, open_low=True)
    least, most = _extent(plot, axis)
    if least < low or most > high:
        raise RangeError("would cut data off", field=f"plot.{axis}_range", given=chosen,
                         allowed=f"from {least:g} or less to {most:g} or more")


def _tick_count(room_mm: float, each_mm: float) -> int:
    return max(2, min(10, int(room_mm / each_mm)))


def _within(ticks: Array, low: float, high: float) -> Array:
    if low == high:
        return ticks
    slack = 1e-9 * (high - low)
    return ticks[(ticks >= low - slack) & (ticks <= high + slack)]


def _freeze(data: object, field: str, names: tuple[str, ...], least: int) -> None:
    sizes = set()
    for name in names:
        values: ArrayLike = getattr(data, name)
        frozen = np.array(values, dtype=np.float64)
        if frozen.ndim != 1 or len(frozen) < least:
            raise InputError("wrong shape of samples", field=f"{field}.{name}",
                             given=frozen.shape, allowed=f"(n,) with n of at least {least}")
        finite(frozen, f"{field}.{name}")
        frozen.setflags(write=False)
        object.__setattr__(data, name, frozen)
        sizes.add(len(frozen))
    if len(sizes) > 1:
        raise InputError("samples differ in number", field=field, given=sorted(sizes))
