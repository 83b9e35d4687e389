"""Marks: the figures a maker sets off at the stations so that no line drawn through them cuts in.

Between the marks the maker draws what can be drawn on wood: straight lines along the loom and,
in short steps, round the tip; over the shoulder the plan's own line, traced and moved out in
proportion to the marks at its ends; from the root to the last station before the tip a batten
sprung through the marks. Each figure is the exact one
rounded to the side that leaves wood, and gives up further steps of the rule wherever a line
between two marks would still cut in.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from springloom.errors import InputError, in_range
from springloom.shape.blade import HalfPaddle
from springloom.shape.curves import fair_curve
from springloom.shape.facets import LINES, Flats, Lines, Quadrant

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

LOOKS = 40
"""Places between two marks at which the lines are held against the surface."""

_SLACK = 1e-9  # m: rounding, not wood
_EXACT = 1e-6  # of a step: a figure this near a whole number of steps is one
_ROUNDS = 1000


@dataclass(frozen=True)
class Ruler:
    """Draws lines through marks at ``x`` (m from the centre, rising) as a maker does."""

    half: HalfPaddle
    x: Floats

    def draw(self, marks: Floats, x: npt.ArrayLike, left: Floats, exact: Floats) -> Floats:
        """Return the drawn lines' values at x, shape (lines, len(x)).

        Args:
            marks: the figures, shape (lines, marks).
            x: where to read the lines, m from the centre.
            left: what the figures have given up of the exact ones, shape (lines, marks).
            exact: the exact lines at x, shape (lines, len(x)).
        """
        at = np.asarray(x, dtype=float)
        shoulder, root, last = self._bounds()
        sprung = (self.x > root - _SLACK) & (self.x < last + _SLACK)
        inside = (at > root) & (at < last)
        traced = (at > shoulder) & (at < root)
        drawn = [np.interp(at, self.x, row) for row in marks]
        battens = [fair_curve(self.x[sprung], row[sprung])(at) for row in marks]
        there = np.abs(marks + left) > _SLACK
        kept = np.where(there, marks / np.where(there, marks + left, 1.0), 1.0)
        moved = [line * np.interp(at, self.x, row) for line, row in zip(exact, kept, strict=True)]
        return np.where(inside, battens, np.where(traced, moved, drawn))

    def looks(self) -> tuple[Floats, npt.NDArray[np.int_]]:
        """Return places to look at, and the number of the mark before each."""
        u = self.half.parameter(self.x)
        share = (np.arange(LOOKS) + 0.5) / LOOKS
        at = (u[:-1, None] + np.diff(u)[:, None] * share).ravel()
        return self.half.place(at)[0], np.repeat(np.arange(len(u) - 1), LOOKS)

    def _bounds(self) -> tuple[float, float, float]:
        half = self.half
        return half.loom.half_length, half.stations[0].x, half.stations[-2].x


@dataclass(frozen=True)
class BlankMarks:
    """Figures for sawing the blank at places ``x`` (m from the centre), m, whole steps.

    Attributes:
        x: places.
        half_width: from the centre line to the outline; round the tip it is cut by the template.
        taper_top, taper_low: down from the blank's own faces to where the ridges will be.
    """

    x: Floats
    half_width: Floats
    taper_top: Floats
    taper_low: Floats


@dataclass(frozen=True)
class FlatMarks:
    """Figures for one face's flats at ``ruler.x``: values (6, n) in m, in the order of LINES."""

    flats: Flats
    ruler: Ruler
    values: Floats

    def lines(self) -> Lines:
        """Return the figures by name."""
        return Lines(*self.values)

    def given_up(self) -> Floats:
        """What each figure leaves of the exact one, m, shape (6, n)."""
        return self.flats.lines(self.ruler.x).stacked() - self.values

    def drawn(self, x: npt.ArrayLike) -> Lines:
        """Return the lines as drawn through the marks, at distances x (m) from the centre."""
        exact = self.flats.lines(x).stacked()
        return Lines(*self.ruler.draw(self.values, x, self.given_up(), exact))

    def clearances(self, x: npt.ArrayLike) -> Floats:
        """Least distance, m, from each flat planed to the drawn lines to the surface; (3, n)."""
        return clearances(self.drawn(x), self.flats.quadrant(self.flats.half.parameter(x)))


def places(half: HalfPaddle, from_tip: tuple[float, ...] = ()) -> Floats:
    """Return where marks are set off, m from the centre, rising.

    Centre, shoulder, the stations, and those of ``from_tip`` (m from the tip) that lie well
    inside the round of the tip.
    """
    at = [0.0, half.loom.half_length, *(s.x for s in half.stations)]
    at += [half.tip - d for d in from_tip if 0.002 < d < 0.85 * half.cap[1]]
    return np.array(sorted(at))


def blank_marks(half: HalfPaddle, x: Floats, step: float, deep: tuple[float, float]) -> BlankMarks:
    """Return outline and taper at places x.

    Args:
        half: what is made.
        x: places, from :func:`places`.
        step: smallest division of the rule, m.
        deep: heights of the blank's upper and lower face above and below the widest line, m.
    """
    in_range(step, "step", 0.0, 0.01, "m", open_low=True)
    ruler = Ruler(half, x)
    at, before = ruler.looks()
    exact, looked = _blank_lines(half, x, deep), _blank_lines(half, at, deep)
    round_tip = at > half.cap[0]  # there the outline is cut by the template
    rows = []
    for one in range(3):
        line, here = exact[one:one + 1], looked[one:one + 1]

        def cuts(steps: Floats, line: Floats = line, here: Floats = here, one: int = one) -> Bools:
            drawn = ruler.draw(steps * step, at, line - steps * step, here)
            over = (drawn > here + _SLACK)[0]
            return np.asarray(over & ~round_tip if one == 0 else over)

        steps = np.floor(line / step + _EXACT)
        rows.append(_given_up(steps, cuts, before, low=-np.inf if one == 0 else 0.0)[0] * step)
    return BlankMarks(x, np.abs(rows[0]), *rows[1:])


def flat_marks(flats: Flats, x: Floats, step: float) -> FlatMarks:
    """Return the figures of one face's flats at places x, for a rule of this step (m)."""
    in_range(step, "step", 0.0, 0.01, "m", open_low=True)
    ruler = Ruler(flats.half, x)
    at, before = ruler.looks()
    u = flats.half.parameter(at)
    q, looked, exact = flats.quadrant(u), flats.lines_at(u).stacked(), flats.lines(x).stacked()
    steps = np.floor(exact / step + _EXACT)
    drawn = ruler.draw(steps * step, at, exact - steps * step, looked)
    for flat, names in enumerate(_OF_FLAT):
        own = [LINES.index(name) for name in names]

        def cuts(rows: Floats, flat: int = flat, own: list[int] = own) -> Bools:
            figures = rows * step
            drawn[own] = ruler.draw(figures, at, exact[own] - figures, looked[own])
            return np.asarray(clearances(Lines(*drawn), q, flat) < -_SLACK)

        steps[own] = _given_up(steps[own], cuts, before, low=0.0)
    return FlatMarks(flats, ruler, steps * step)


_OF_FLAT = (("first_in", "first_down"), ("second_in", "second_across"),
            ("third_down", "third_across"))


def clearances(lines: Lines, q: Quadrant, flat: int | None = None) -> Floats:
    """Return how far each flat between its two lines stays outside the surface, m; shape (3, n).

    Flats 2 and 3 start from flat 1 as planed to its own lines. A flat whose lines leave it
    nothing to take counts as 0. With ``flat``, only the 0th, 1st or 2nd row.
    """
    top = np.stack((q.w - lines.first_in, q.h), axis=-1)
    foot = np.stack((q.w, q.h - lines.first_down), axis=-1)
    down = foot - top
    length = np.hypot(*np.moveaxis(down, -1, 0))
    down = down / np.where(length > 0.0, length, 1.0)[..., None]
    ends = (
        (top, foot, lines.first_in * lines.first_down > 0.0),
        (np.stack((q.w - lines.second_in, q.h), axis=-1),
         top + lines.second_across[..., None] * down,
         (lines.second_in > lines.first_in) & (lines.second_across > 0.0)),
        (foot - lines.third_across[..., None] * down,
         np.stack((q.w, q.h - lines.third_down), axis=-1),
         (lines.third_down > lines.first_down) & (lines.third_across > 0.0)),
    )
    if flat is not None:
        return _clearance(*ends[flat], q)
    return np.stack([_clearance(*end, q) for end in ends])


def _clearance(a: Floats, b: Floats, there: Bools, q: Quadrant) -> Floats:
    """Distance from the line through a (nearer the ridge) and b to its parallel tangent.

    0 where there is no flat; then the two lines leave it nothing to take.
    """
    out, up = a[..., 1] - b[..., 1], b[..., 0] - a[..., 0]
    norm = np.where(there, np.hypot(out, up), 1.0)
    out, up = out / norm, up / norm
    gap = out * a[..., 0] + up * a[..., 1] - support(out, up, q)
    return np.where(there, gap, 0.0)


def support(out: Floats, up: Floats, q: Quadrant) -> Floats:
    """Greatest ``out``·y + ``up``·z over the quadrants, for a normal that points to the corner.

    Along the cubic it is stationary where c0(1−t)² + 2c1(1−t)t + c2t² = 0; c0 ≥ 0 ≥ c2, so there
    is one such t.
    """
    c0, c2 = up * q.s * q.h, -out * q.r * q.w
    c1 = up * (1.0 - q.s) * q.h - out * (1.0 - q.r) * q.w
    root = np.sqrt(np.maximum(c1 * c1 - c0 * c2, 0.0))
    # Two forms of one root; each is taken where it doesn't subtract like from like.
    early, late = c1 < 0.0, root + np.abs(c1)
    over = np.where(early, c0, late)
    whole = over + np.where(early, late, -c2)
    t = over / np.where(whole > 0.0, whole, 1.0)
    left = 1.0 - t
    y = q.w * (left**3 + 3.0 * left * left * t + 3.0 * q.r * left * t * t)
    z = q.h * (3.0 * q.s * left * left * t + 3.0 * left * t * t + t**3)
    return np.asarray(out * y + up * z)


def _given_up(steps: Floats, cuts: Callable[[Floats], Bools],
              before: npt.NDArray[np.int_], low: float) -> Floats:
    """Lower the marks (rows, n) on either side of a gap by a step until nothing cuts in.

    Raises:
        InputError: they can't be lowered so far.
    """
    rows = steps
    for _ in range(_ROUNDS):
        bad = np.unique(before[cuts(rows)])
        if not len(bad):
            return rows
        touched = np.zeros(rows.shape[1])
        touched[bad] = touched[bad + 1] = 1.0
        rows = np.maximum(rows - touched, low)
    raise InputError("no marks of this rule leave wood everywhere", field="marks.step",
                     given=f"{_ROUNDS} rounds")


def _blank_lines(half: HalfPaddle, x: Floats, deep: tuple[float, float]) -> Floats:
    """Both tapers after the half-width, which counts negative: lower always leaves wood."""
    values = half.values(half.parameter(x))
    crown, share = values[1], values[5]
    tapers = deep[0] - crown * share, deep[1] - crown * (1.0 - share)
    return np.stack((-values[0], *(np.maximum(taper, 0.0) for taper in tapers)))
