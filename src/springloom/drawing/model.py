"""What a drawing is made of: cubic Bézier paths and lines of text, in mm, y up.

Everything a writer needs is here and nothing more: named layers, line weights by meaning, and
three fills. The origin is the lower left corner of the page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from typing import TypeAlias, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from springloom.errors import InputError, RangeError, in_range

Array: TypeAlias = NDArray[np.float64]
Point: TypeAlias = tuple[float, float]

_LAYER = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
# C0, DEL and C1 controls, lone surrogates and non-characters: no writer may emit them.
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


class Pen(Enum):
    """A line by its meaning; the width follows ISO 128-2:2020.

    Widths are of that standard's series (0.13, 0.18, 0.25, 0.35, 0.5 mm, steps of √2); GRID
    carries the series one step down. Dash lengths are its 12 d dash, 24 d long dash and 3 d
    gap, d the width (from memory); the dot is 1 d, not 0.5 d, so that a home printer shows it.
    """

    OUTLINE = "outline"
    VISIBLE = "visible"
    HIDDEN = "hidden"
    CENTRE = "centre"
    DIMENSION = "dimension"
    CONSTRUCTION = "construction"
    GRID = "grid"

    @property
    def width_mm(self) -> float:
        """Line width."""
        return _PEN_WIDTH_MM[self]

    @property
    def dash_mm(self) -> tuple[float, ...]:
        """Lengths of line and gap in turn; empty for a full line."""
        return tuple(round(n * self.width_mm, 6) for n in _PEN_DASH.get(self, ()))


_PEN_WIDTH_MM = {
    Pen.OUTLINE: 0.5,
    Pen.VISIBLE: 0.35,
    Pen.HIDDEN: 0.25,
    Pen.CENTRE: 0.18,
    Pen.DIMENSION: 0.18,
    Pen.CONSTRUCTION: 0.13,
    Pen.GRID: 0.09,
}
_PEN_DASH: dict[Pen, tuple[float, ...]] = {
    Pen.HIDDEN: (12.0, 3.0),
    Pen.CENTRE: (24.0, 3.0, 1.0, 3.0),
}


class Fill(Enum):
    """What covers the inside of a path (even–odd rule): ink, a light wash of it, bare ground."""

    INK = "ink"
    WASH = "wash"
    GROUND = "ground"


class Anchor(Enum):
    """Which point of a line of text stands at x."""

    START = "start"
    MIDDLE = "middle"
    END = "end"


class Baseline(Enum):
    """Which height of a line of text stands at y: its foot, half or full capital height."""

    FOOT = "foot"
    MIDDLE = "middle"
    TOP = "top"


class Weight(Enum):
    """Stroke weight of the lettering."""

    REGULAR = "regular"
    BOLD = "bold"


@dataclass(frozen=True, slots=True)
class Bounds:
    """An upright rectangle, mm."""

    x0: float
    y0: float
    x1: float
    y1: float

    def __post_init__(self) -> None:
        """Refuse what isn't finite or is inside out."""
        for name in ("x0", "y0", "x1", "y1"):
            in_range(getattr(self, name), f"bounds.{name}", unit="mm")
        if self.x1 < self.x0 or self.y1 < self.y0:
            raise InputError("corners are swapped", field="bounds", given=self,
                             allowed="x0 <= x1 and y0 <= y1")

    @property
    def width(self) -> float:
        """Extent in x."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Extent in y."""
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        """Midpoint."""
        return (self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2

    def union(self, other: Bounds) -> Bounds:
        """Return the smallest rectangle around both."""
        return Bounds(min(self.x0, other.x0), min(self.y0, other.y0),
                      max(self.x1, other.x1), max(self.y1, other.y1))

    def grown(self, margin: float) -> Bounds:
        """Return the rectangle with ``margin`` added on all four sides."""
        return Bounds(self.x0 - margin, self.y0 - margin, self.x1 + margin, self.y1 + margin)

    def moved(self, dx: float, dy: float) -> Bounds:
        """Return the rectangle shifted by (dx, dy)."""
        return Bounds(self.x0 + dx, self.y0 + dy, self.x1 + dx, self.y1 + dy)

    def overlaps(self, other: Bounds) -> bool:
        """Whether the two share any area; touching edges don't count."""
        return (self.x0 < other.x1 and other.x0 < self.x1
                and self.y0 < other.y1 and other.y0 < self.y1)

    def contains(self, other: Bounds, slack: float = 1e-9) -> bool:
        """Whether ``other`` lies inside, give or take ``slack``."""
        return (self.x0 - slack <= other.x0 and other.x1 <= self.x1 + slack
                and self.y0 - slack <= other.y0 and other.y1 <= self.y1 + slack)


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """Cubic segments, shape (n, 4, 2), mm; the pen lifts where one doesn't start at the last end.

    Attributes:
        segments: read-only control points; a straight line has its handles at the thirds.
        pen: the line's meaning; None draws no line.
        closed: each run of joined segments returns to its start.
        fill: what covers the inside; None leaves it open.
        layer: name of the layer, a letter followed by letters, digits, ``_`` or ``-``.
    """

    segments: Array
    pen: Pen | None = Pen.VISIBLE
    closed: bool = False
    fill: Fill | None = None
    layer: str = "drawing"

    def __post_init__(self) -> None:
        """Freeze the control points; refuse a wrong shape, NaN and a path that draws nothing."""
        segments = np.array(self.segments, dtype=np.float64)
        if segments.ndim != 3 or segments.shape[0] == 0 or segments.shape[1:] != (4, 2):
            raise InputError("wrong shape of control points", field="path.segments",
                             given=segments.shape, allowed="(n, 4, 2) with n of at least 1")
        finite(segments, "path.segments")
        if self.pen is None and self.fill is None:
            raise InputError("neither line nor fill: nothing to draw", field="path.pen")
        segments.setflags(write=False)
        object.__setattr__(self, "segments", segments)
        _layer(self.layer)

    def runs(self) -> tuple[Array, ...]:
        """Split into the runs drawn without lifting the pen, each of shape (k, 4, 2)."""
        lifts = np.flatnonzero(np.any(self.segments[1:, 0] != self.segments[:-1, 3], axis=1)) + 1
        return tuple(np.split(self.segments, lifts))

    def straight(self) -> NDArray[np.bool_]:
        """Tell which segments are straight lines with their handles at the thirds."""
        p = self.segments
        low = np.abs(3 * p[:, 1] - 2 * p[:, 0] - p[:, 3]).max(axis=1)
        high = np.abs(3 * p[:, 2] - p[:, 0] - 2 * p[:, 3]).max(axis=1)
        # 1e-6 mm is far below any writer's last decimal.
        flat: NDArray[np.bool_] = np.maximum(low, high) < 1e-6
        return flat

    def mapped(self, matrix: ArrayLike, shift: Point = (0.0, 0.0)) -> Path:
        """Return the path with each point p taken to ``matrix`` p + ``shift`` (matrix 2 × 2)."""
        return replace(self, segments=self.segments @ np.asarray(matrix).T + np.asarray(shift))

    def moved(self, dx: float, dy: float) -> Path:
        """Return the path shifted by (dx, dy)."""
        return replace(self, segments=self.segments + np.array([dx, dy]))


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text.

    Attributes:
        x: place of the anchor, mm.
        y: place of the baseline, mm.
        string: the line; ``3 1/4`` is set as a stacked fraction unless ``fractions`` is False.
        size_mm: height of the capitals, as ISO 3098 measures lettering (not the em).
        anchor: which end of the line stands at x.
        baseline: which height of the line stands at y.
        rotation_deg: counterclockwise about (x, y).
        weight: regular or bold.
        layer: name of the layer.
        fractions: whether digits around a slash are a fraction.
    """

    x: float
    y: float
    string: str
    size_mm: float = 2.5
    anchor: Anchor = Anchor.START
    baseline: Baseline = Baseline.FOOT
    rotation_deg: float = 0.0
    weight: Weight = Weight.REGULAR
    layer: str = "text"
    fractions: bool = True

    def __post_init__(self) -> None:
        """Refuse NaN, an empty line and characters that can't be printed."""
        in_range(self.x, "text.x", unit="mm")
        in_range(self.y, "text.y", unit="mm")
        in_range(self.size_mm, "text.size_mm", 0.0, 1000.0, "mm", open_low=True)
        in_range(self.rotation_deg, "text.rotation_deg", unit="deg")
        _printable(self.string, "text.string")
        _layer(self.layer)

    def moved(self, dx: float, dy: float) -> Text:
        """Return the text shifted by (dx, dy)."""
        return replace(self, x=self.x + dx, y=self.y + dy)


Item: TypeAlias = Path | Text
AnyItem = TypeVar("AnyItem", Path, Text, Item)


@dataclass(frozen=True, slots=True)
class Block:
    """Items that belong together, and the room they take (lettering included), mm."""

    items: tuple[Item, ...]
    bounds: Bounds

    def moved(self, dx: float, dy: float) -> Block:
        """Return the block shifted by (dx, dy)."""
        return Block(moved(self.items, dx, dy), self.bounds.moved(dx, dy))


@dataclass(frozen=True, slots=True)
class Drawing:
    """One page.

    Attributes:
        width_mm: page width.
        height_mm: page height.
        title: what the page is called; read aloud by a screen reader.
        items: paths and texts, drawn in this order within their layer.
        layers: layer names from the bottom up; any others follow in order of appearance.
        description: what the page shows, for whoever can't see it.
    """

    width_mm: float
    height_mm: float
    title: str
    items: tuple[Item, ...]
    layers: tuple[str, ...] = ()
    description: str = ""

    def __post_init__(self) -> None:
        """Refuse a page without size or title; fill in the layers that weren't named."""
        # 10 m: no roll is longer, and PDF stops at 200 in before user units (ISO 32000-1, C.2).
        for name in ("width_mm", "height_mm"):
            in_range(getattr(self, name), f"drawing.{name}", 0.0, 10_000.0, "mm", open_low=True)
        _printable(self.title, "drawing.title")
        if self.description:
            _printable(self.description, "drawing.description")
        named = (*map(_layer, self.layers), *(item.layer for item in self.items))
        object.__setattr__(self, "layers", tuple(dict.fromkeys(named)))
        object.__setattr__(self, "items", tuple(self.items))

    @property
    def page(self) -> Bounds:
        """The page's own rectangle."""
        return Bounds(0.0, 0.0, self.width_mm, self.height_mm)

    def on_layer(self, layer: str) -> tuple[Item, ...]:
        """Return the layer's items in drawing order."""
        return tuple(item for item in self.items if item.layer == layer)

    def with_items(self, *items: Item) -> Drawing:
        """Return the page with more items on top."""
        return replace(self, items=(*self.items, *items))


def moved(items: Iterable[AnyItem], dx: float, dy: float) -> tuple[AnyItem, ...]:
    """Return the items shifted by (dx, dy)."""
    return tuple(item.moved(dx, dy) for item in items)


def on_layer(items: Iterable[AnyItem], layer: str) -> tuple[AnyItem, ...]:
    """Return the items put on ``layer``."""
    return tuple(replace(item, layer=layer) for item in items)


def sequence_bounds(boxes: Sequence[Bounds]) -> Bounds:
    """Return the smallest rectangle around all of at least one box."""
    if not boxes:
        raise InputError("no rectangles to join", field="bounds")
    whole = boxes[0]
    for box in boxes[1:]:
        whole = whole.union(box)
    return whole


def finite(values: Array, field: str) -> Array:
    """Return ``values`` if none is NaN or infinite.

    Raises:
        RangeError: otherwise; carries the first that is.
    """
    if not np.isfinite(values).all():
        bad = values[~np.isfinite(values)]
        raise RangeError("must be finite numbers", field=field, given=float(bad[0]),
                         allowed="finite numbers, mm")
    return values


def _printable(string: str, field: str) -> str:
    if not string.strip() or _UNPRINTABLE.search(string):
        raise InputError("must be one line of printable text", field=field, given=string)
    return string


def _layer(name: str) -> str:
    if not _LAYER.fullmatch(name):
        raise InputError("is no layer name", field="layer", given=name,
                         allowed="a letter, then letters, digits, '_' or '-'")
    return name
