"""The bent line for a small screen: as designed with its band, against the wanted one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from springloom.drawing.model import Array, Drawing
from springloom.drawing.plot import Band, Plot, Series, Style
from springloom.mechanics.bend import line_shape
from springloom.units import METRE_PER_INCH, System

WIDTH_MM, HEIGHT_MM = 86.0, 50.0
_MARGIN = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class BentLine:
    """One blade's line, from the clamp to the tip; arrays (n,), m.

    Attributes:
        name: as it is lettered.
        x: places from the paddle's centre.
        fall: how far each sinks.
        factor: what the 90 % band multiplies and divides falls by; 1 for no band.
        dashed: whether it is drawn so, as an outline beside it is.
    """

    name: str
    x: Array
    fall: Array
    factor: float = 1.0
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class WantedLine:
    """The wanted bend: how far the tip sinks, and how progressive the line is."""

    deflection_m: float
    progression: float


def screen_bend(bent: Sequence[BentLine], wanted: WantedLine | None, load: str,
                system: System = "mm") -> Drawing:
    """Draw lines that fall downward; the first one carries the band.

    Args:
        bent: one or more lines.
        wanted: what they should be like; None where nothing is wanted.
        load: the hung weight in words.
        system: units of the axes.
    """
    unit = 1e-3 if system == "mm" else METRE_PER_INCH
    first = bent[0]
    styles = (Style.HEAVY, Style.SOLID, Style.FINE)
    series = [Series(one.name, one.x / unit, -one.fall / unit,
                     Style.DASHED if one.dashed else styles[min(n, 2)])
              for n, one in enumerate(bent)]
    if wanted is not None:
        series.append(Series("wanted", first.x / unit, -_wanted(first.x, wanted) / unit,
                             Style.DASHED))
    bands = () if first.factor == 1.0 else (
        Band("90 %", first.x / unit, -first.fall * first.factor / unit,
             -first.fall / first.factor / unit),)
    plot = Plot(f"from the centre, {system}", f"falls under {load}, {system}", tuple(series),
                bands, width_mm=WIDTH_MM, height_mm=HEIGHT_MM,
                x_range=(min(float(one.x[0]) for one in bent) / unit,
                         max(float(one.x[-1]) for one in bent) / unit))
    drawn = plot.block(_MARGIN, _MARGIN)
    return Drawing(WIDTH_MM + 2 * _MARGIN, HEIGHT_MM + 2 * _MARGIN, "The bend", drawn.items,
                   description=_said(bent, wanted, unit, system))


def _wanted(x: Array, wanted: WantedLine) -> Array:
    """The wanted line at places of a blade, its tip where it should sink to."""
    xi = (x - x[0]) / (x[-1] - x[0])
    shape = line_shape(xi, wanted.progression)
    return np.asarray(wanted.deflection_m * shape / shape[-1])


def _said(bent: Sequence[BentLine], wanted: WantedLine | None, unit: float,
          system: System) -> str:
    falls = ", ".join(f"the tip of {one.name} falls {one.fall[-1] / unit:.3g} {system}"
                      for one in bent)
    aim = "" if wanted is None else f"; wanted {wanted.deflection_m / unit:.3g} {system}"
    return f"{falls[0].upper()}{falls[1:]}{aim}."
