"""The paddler and the boat: what was measured, and what height says of the rest.

A measure that is missing is estimated as a share of height, and said to be estimated. Nobody is
asked for a sex: the share is the mean of men's and women's, and the difference between them goes
into the standard deviation.

Sources of the shares:
    Pheasant, *Bodyspace* (2nd ed. 1996), Table 10.1, British adults aged 19 to 65, medians of
    men and women in mm: stature 1740 and 1610, elbow to fingertip 475 and 430, shoulder breadth
    between the bony points 400 and 355, span 1790 and 1605; hand length 190 and 175 from memory.
Sources of the spread about them at a given height: within one sex the scatter of the first 29
    men in the public file of the 2012 survey of U.S. Army personnel (ANSUR II, NATICK/TR-15/007:
    span 2.4 %, elbow to fingertip 0.87 %, shoulder breadth 0.89 %, hand 0.43 % of height);
    between the sexes half the difference of the two shares above; the two added in quadrature.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, get_args

from springloom.errors import RangeError, in_range, known

Use = Literal["touring", "rolling", "storm"]
USES: tuple[Use, ...] = get_args(Use)

BODYSPACE = "Pheasant, Bodyspace (1996), Table 10.1, British adults 19 to 65"
TRADE = "common practice, no source"

HEIGHT_RANGE = (1.2, 2.3)
"""Heights a full paddle is carved for, m."""

BEAM_RANGE = (0.38, 1.0)
"""Beams of boats paddled with two blades, m."""

DOUBTFUL_SIGMA = 3.0
"""A measure further than this from what height lets expect is worth measuring again."""


def _share(men: float, women: float) -> float:
    """Mean share of height (stature 1740 and 1610 mm) of two medians in mm."""
    return 0.5 * (men / 1740.0 + women / 1610.0)


def _spread(within: float, men: float, women: float) -> float:
    """Standard deviation as a share of height: scatter within a sex, half the gap between."""
    return math.hypot(within, 0.5 * (men / 1740.0 - women / 1610.0))


@dataclass(frozen=True, slots=True)
class Measure:
    """One body measure: how it is taken, what is possible, and what is expected.

    ``share`` and ``share_sd`` are of ``parent``, the field it is estimated from; ``low_share``
    and ``high_share`` are of height, and refuse what no body is.
    """

    field: str
    name: str
    how: str
    low_m: float
    high_m: float
    low_share: float
    high_share: float
    parent: str
    share: float
    share_sd: float
    source: str


MEASURES: tuple[Measure, ...] = (
    Measure(
        "arm_span_m", "arm span",
        "standing against a wall, arms straight out sideways, from one middle fingertip to the "
        "other", 0.9, 2.8, 0.85, 1.20, "height_m", _share(1790, 1605),
        _spread(0.024, 1790, 1605), BODYSPACE,
    ),
    Measure(
        "cubit_m", "cubit",
        "elbow bent square, from the back of the elbow to the tip of the middle finger",
        0.25, 0.75, 0.22, 0.32, "height_m", _share(475, 430), _spread(0.0087, 475, 430), BODYSPACE,
    ),
    Measure(
        "shoulder_breadth_m", "shoulder breadth",
        "across the back, between the bony points at the outer end of the shoulders",
        0.19, 0.60, 0.17, 0.32, "height_m", _share(400, 355), _spread(0.0089, 400, 355), BODYSPACE,
    ),
    Measure(
        "hand_length_m", "hand length",
        "palm up and flat, from the crease of the wrist to the tip of the middle finger",
        0.11, 0.27, 0.09, 0.135, "height_m", _share(190, 175), _spread(0.0043, 190, 175),
        f"{BODYSPACE} (hand length from memory)",
    ),
    Measure(
        "grip_circumference_m", "grip circumference",
        "round a stick that thumb tip and forefinger tip just close on: its girth",
        0.09, 0.25, 0.055, 0.115, "hand_length_m", 0.74, 0.74 * 0.08, TRADE,
    ),
)

_BY_FIELD = {measure.field: measure for measure in MEASURES}


@dataclass(frozen=True, slots=True)
class Figure:
    """A length to reckon with: measured, estimated, or settled by an earlier rule.

    Attributes:
        field: the field of :class:`Body` or :class:`Boat`, or the name of a dimension.
        name: what a maker calls it.
        value_m: the length, m.
        sd_m: standard deviation of an estimate, m; 0 for what was measured.
        estimated: whether nobody measured it.
        how: how it was estimated, or how it is measured.
        source: where the estimate comes from; empty for what was measured.
    """

    field: str
    name: str
    value_m: float
    sd_m: float = 0.0
    estimated: bool = False
    how: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Body:
    """A paddler's measures, m; only height is required. :data:`MEASURES` tells how to take them.

    Raises:
        RangeError: outside what a body can be, by itself or at this height; carries field, range
            and unit.
    """

    height_m: float
    arm_span_m: float | None = None
    cubit_m: float | None = None
    shoulder_breadth_m: float | None = None
    hand_length_m: float | None = None
    grip_circumference_m: float | None = None

    def __post_init__(self) -> None:
        """Check each measure alone, then against the height."""
        in_range(self.height_m, "height_m", *HEIGHT_RANGE, "m")
        for measure in MEASURES:
            value = self.measured(measure.field)
            if value is not None:
                _check(measure, value, self.height_m)

    def measured(self, field: str) -> float | None:
        """Return what was measured under this field's name, m, or None."""
        value: float | None = getattr(self, field)
        return value

    def figures(self) -> Mapping[str, Figure]:
        """All measures by field, the missing ones estimated."""
        found = {"height_m": Figure("height_m", "height", self.height_m)}
        for measure in MEASURES:
            value = self.measured(measure.field)
            found[measure.field] = (
                estimate(measure, found[measure.parent])
                if value is None
                else Figure(measure.field, measure.name, value, how=measure.how)
            )
        return MappingProxyType(found)

    def doubts(self) -> tuple[str, ...]:
        """What is possible but rare enough to measure again, one sentence a measure."""
        found = self.figures()
        sentences = []
        for measure in MEASURES:
            given, expected = found[measure.field], estimate(measure, found[measure.parent])
            off = given.value_m - expected.value_m
            if abs(off) > DOUBTFUL_SIGMA * expected.sd_m:
                sentences.append(
                    f"The {measure.name} is {1e3 * abs(off):.0f} mm "
                    f"{'more' if off > 0.0 else 'less'} than the "
                    f"{found[measure.parent].name} lets expect, which is rare; measure again: "
                    f"{measure.how}."
                )
        return tuple(sentences)


@dataclass(frozen=True, slots=True)
class Boat:
    """The boat; ``beam_m`` is its greatest width, m, if known.

    Raises:
        RangeError: no boat that is paddled with two blades.
    """

    beam_m: float | None = None

    def __post_init__(self) -> None:
        """Check the beam."""
        if self.beam_m is not None:
            in_range(self.beam_m, "beam_m", *BEAM_RANGE, "m")

    def figures(self) -> Mapping[str, Figure]:
        """The beam by its field, if it is known; nothing here is ever estimated."""
        if self.beam_m is None:
            return MappingProxyType({})
        beam = Figure("beam_m", "boat's beam", self.beam_m, how="across the boat at its widest")
        return MappingProxyType({"beam_m": beam})


def estimate(measure: Measure, parent: Figure) -> Figure:
    """Return what ``parent`` (the figure of ``measure.parent``) lets expect of a measure.

    Its standard deviation holds the parent's own, if that is an estimate too.
    """
    value = measure.share * parent.value_m
    sd = math.hypot(measure.share_sd * parent.value_m, measure.share * parent.sd_m)
    how = f"estimated as {measure.share:.3g} × {parent.name}"
    return Figure(measure.field, measure.name, value, sd, True, how, measure.source)


def measure_named(field: str) -> Measure:
    """Return how the measure with this field's name is taken.

    Raises:
        UnknownNameError: no such field.
    """
    return _BY_FIELD[known(field, _BY_FIELD, "measure")]


def _check(measure: Measure, value: float, height_m: float) -> None:
    in_range(value, measure.field, measure.low_m, measure.high_m, "m")
    low, high = measure.low_share * height_m, measure.high_share * height_m
    if not low <= value <= high:
        raise RangeError(
            f"does not go with a height of {height_m:g} m: check the tape",
            field=measure.field, given=f"{value:.6g} m", allowed=f"{low:.3f} to {high:.3f} m",
        )


DEFAULT_BODY = Body(height_m=1.75)
DEFAULT_BOAT = Boat(beam_m=0.54)
