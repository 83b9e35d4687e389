"""Figures to set off, place by place, as one reads them off beside the wood."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.drawing.layout_figures import FaceFigures, paddle_figures
from springloom.drawing.layout_table import GROUPS, HEADS, cell
from springloom.drawing.offsets import NONE
from springloom.records.design import Design
from springloom.units import Denominator, System

DENOMINATOR: Denominator = 64
WORK = (("saw", "Outline and taper"), ("8", "To 8 sides"), ("16", "To 16 sides"))
"""What figures are for: a key, and its words."""

_DONE_BY = (("saw", "Outline and taper"), ("8", "Flat 1"), ("16", "Flat 2"), ("16", "Flat 3"))
"""What each group of ``layout_table.GROUPS`` is for, and what it is called."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: what it is, from where it is set off, and for both rules with their units."""

    what: str
    start: str
    first: str
    second: str

    @property
    def nothing(self) -> bool:
        """Whether there is nothing to set off."""
        return self.first == NONE


@dataclass(frozen=True, slots=True)
class Group:
    """Figures that are set off together: for which work, what it is called, the figures."""

    work: str
    title: str
    figures: tuple[Figure, ...]


@dataclass(frozen=True, slots=True)
class Place:
    """All figures of one place.

    Attributes:
        name: of the place.
        centre: how far it is from the centre.
        groups: what is set off together.
        x_m: how far it is from the centre.
    """

    name: str
    centre: Figure
    groups: tuple[Group, ...]
    x_m: float

    @property
    def figures(self) -> tuple[Figure, ...]:
        """All of them in a row, the distance from the centre first."""
        return (self.centre, *(figure for group in self.groups for figure in group.figures))

    def wanted(self, work: str) -> tuple[Group, ...]:
        """Return what one kind of work needs; all where it is none of :data:`WORK`."""
        return tuple(g for g in self.groups if g.work == work) or self.groups


@dataclass(frozen=True, slots=True)
class Face:
    """One face of one blade, from the centre outward.

    Attributes:
        key: names it in an address.
        title: in words.
        blade: "A" or "B"; "" where both are alike.
        places: from the centre outward.
    """

    key: str
    title: str
    blade: str
    places: tuple[Place, ...]


def set_off(design: Design, system: System) -> tuple[Face, ...]:
    """Return what is set off on every face that has its own figures; ``system`` comes first."""
    return tuple(_face(one) for one in paddle_figures(design.paddle, system, DENOMINATOR))


def _face(one: FaceFigures) -> Face:
    words = [f"blade {one.blade}" if one.blade else "", f"{one.face} face" if one.face else ""]
    title = ", ".join(word for word in words if word)
    rows = [figures.rows() for figures in one.figures]
    first, second = (figures.system for figures in one.figures)
    places = tuple(
        _place(name, float(x), [_figure(n, pair, (first, second)) for n, pair in
                                enumerate(zip(*each, strict=True))])
        for name, x, *each in zip(one.names, one.figures[0].blank.x, *rows, strict=True))
    key = "-".join(part for part in (one.blade.lower(), one.face) if part) or "both"
    return Face(key, f"{title[0].upper()}{title[1:]}" if title else "Both blades, both faces",
                one.blade, places)


def _place(name: str, x_m: float, figures: list[Figure]) -> Place:
    groups = tuple(Group(work, title, tuple(figures[start:stop]))
                   for (work, title), (_, start, stop) in zip(_DONE_BY, GROUPS, strict=True))
    return Place(name, figures[0], groups, x_m)


def _figure(n: int, lengths: tuple[float | None, ...], systems: tuple[System, System]) -> Figure:
    what, start = HEADS[n]
    if what.endswith("-"):  # a word broken over two lines on paper
        what, start = f"{what}{start}", "from centre line"
    shown = [cell(length, system, DENOMINATOR) if length is None else
             f"{cell(length, system, DENOMINATOR)} {system}"
             for length, system in zip(lengths, systems, strict=True)]
    return Figure(what, start, *shown)
