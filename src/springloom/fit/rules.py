"""The makers' rules that turn a body and a boat into dimensions, as one table.

Each rule is a sum: a constant and a multiple of each measure it uses. Its range is what makers
allow either side, plus one standard deviation of every measure that had to be estimated: a guess
makes a range wider, never narrower. Standard deviations are added as they stand and not in
quadrature, because long arms come with long cubits.

Where no source is named, a rule is common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from springloom.fit.body import TRADE, USES, Figure, Use
from springloom.shape.paddle import DEFAULT_LENGTH, DEFAULT_LOOM_LENGTH, default_paddle

DimensionName = Literal[
    "length", "loom_length", "blade_width", "loom_girth", "loom_width", "loom_thickness",
    "root_width",
]
DIMENSIONS: tuple[DimensionName, ...] = get_args(DimensionName)
"""In the order they are settled: a later one may follow from an earlier one."""

_MODEL = default_paddle().a
DEFAULT_LOOM_WIDTH = _MODEL.loom.width
DEFAULT_LOOM_THICKNESS = _MODEL.loom.thickness
DEFAULT_ROOT_WIDTH = _MODEL.stations[0].width
DEFAULT_BLADE_WIDTH = max(station.width for station in _MODEL.stations)

REFERENCE_BEAM = 0.54
"""The boat for which arm span plus cubit needs no addition, m (common practice, no source)."""

HAND_BREADTH = 0.44
"""Across the four knuckles, as a share of hand length: 85 of 190 and 75 of 175 mm (Pheasant,
*Bodyspace*, Table 10.1, British adults; the hand lengths from memory)."""

REACH_SHARE = 0.789
"""Fingertips stretched overhead, standing, less half the arm span, as a share of height: mean of
the first 29 men in the public file of the 2012 survey of U.S. Army personnel (ANSUR II,
NATICK/TR-15/007; overhead fingertip reach sitting, plus stature, less sitting height)."""

REACH_SD = 0.0125
"""What the sum of these two leaves open, as a share of the reach: 28 mm in the same 29 men."""

FINGER_JOINT = 0.13
"""Outer joint of the middle finger, as a share of hand length (from memory)."""

GRIP_SHARE = 0.78
"""Loom girth over the girth thumb and forefinger just close on: the thumb then lies on the
forefinger's outer joint."""

COMFORTABLE_DIAMETER = 0.197
"""Handle diameter rated most comfortable over hand length (Kong & Lowe, Int. J. Industrial
Ergonomics 35 (2005) 495, abstract; 24 people, round handles of 25 to 50 mm)."""

KONG_LOWE = "Kong & Lowe, Int. J. Industrial Ergonomics 35 (2005) 495, for round handles"


def oval_girth(width: float, thickness: float) -> float:
    """Perimeter of an ellipse, m, by Ramanujan's second formula (error below 1e-9 here)."""
    a, b = 0.5 * width, 0.5 * thickness
    h = ((a - b) / (a + b)) ** 2
    return math.pi * (a + b) * (1.0 + 3.0 * h / (10.0 + math.sqrt(4.0 - 3.0 * h)))


DEFAULT_LOOM_GIRTH = oval_girth(DEFAULT_LOOM_WIDTH, DEFAULT_LOOM_THICKNESS)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule applied to one paddler: what it says, of which dimension, and on what basis.

    Attributes:
        rule_id: a short fixed name.
        dimension: which dimension it is about.
        sentence: the rule in a maker's words.
        value_m: what it asks for, m.
        low_m: the least it would accept, m.
        high_m: the most it would accept, m.
        basis: the source, or that there is none.
        measures: names of the measures it used.
        estimated: whether any of these was estimated.
    """

    rule_id: str
    dimension: DimensionName
    sentence: str
    value_m: float
    low_m: float
    high_m: float
    basis: str
    measures: tuple[str, ...]
    estimated: bool


@dataclass(frozen=True, slots=True)
class RuleOfThumb:
    """A line of the table: ``constant`` (m) plus ``terms`` (factor by field), and its slack.

    ``below`` and ``above`` are the slack either side as shares of the value; ``because`` says
    why a proposal follows this rule, where it does.
    """

    rule_id: str
    dimension: DimensionName
    uses: tuple[Use, ...]
    sentence: str
    terms: Mapping[str, float]
    below: float
    above: float
    constant: float = 0.0
    basis: str = TRADE
    because: str = ""

    def applies(self, use: Use, figures: Mapping[str, Figure]) -> bool:
        """Whether it is meant for this use and everything it needs is known."""
        return use in self.uses and all(field in figures for field in self.terms)

    def apply(self, figures: Mapping[str, Figure]) -> Rule:
        """Return what it says of these measures."""
        used = [(factor, figures[field]) for field, factor in self.terms.items()]
        value = self.constant + sum(factor * figure.value_m for factor, figure in used)
        doubt = sum(abs(factor) * figure.sd_m for factor, figure in used)
        return Rule(
            self.rule_id, self.dimension, self.sentence, value,
            value * (1.0 - self.below) - doubt, value * (1.0 + self.above) + doubt, self.basis,
            tuple(figure.name for _, figure in used), any(figure.estimated for _, figure in used),
        )


_LONG: tuple[Use, ...] = ("touring", "rolling")
_STORM: tuple[Use, ...] = ("storm",)


def _usual(
    dimension: DimensionName, uses: tuple[Use, ...], value: float, low: float, high: float
) -> RuleOfThumb:
    what = dimension.replace("_", " ")
    kind = "storm paddles" if uses == _STORM else "paddles"
    return RuleOfThumb(
        f"{dimension.replace('_', '-')}-usual{'-storm' if uses == _STORM else ''}", dimension,
        uses, f"Most {kind} for grown paddlers have a {what} of {1e3 * low:.0f} to "
        f"{1e3 * high:.0f} mm.", {}, 1.0 - low / value, high / value - 1.0, constant=value,
    )


RULES: tuple[RuleOfThumb, ...] = (
    RuleOfThumb(
        "length-span-cubit", "length", _LONG,
        "As long as your arms spread wide, plus once more from elbow to fingertip.",
        {"arm_span_m": 1.0, "cubit_m": 1.0}, 0.02, 0.02,
        because="a touring paddle is sized by the arms that swing it",
    ),
    RuleOfThumb(
        "length-beam", "length", ("touring",),
        "Arm span plus cubit suits a boat 540 mm wide; add or take off as much as your boat is "
        "wider or narrower, so that the blade clears the side at the same slant.",
        {"arm_span_m": 1.0, "cubit_m": 1.0, "beam_m": 1.0}, 0.02, 0.02, constant=-REFERENCE_BEAM,
        because="a touring paddle is sized by the arms that swing it, and has to clear this boat",
    ),
    RuleOfThumb(
        "length-reach", "length", _LONG,
        "Stand it on end and stretch up: the outer joints of your fingers curl over the tip "
        "(the reach is reckoned from height and arm span; try it with a batten).",
        # Half the span is one arm and half the shoulders, whatever the height.
        {"height_m": REACH_SHARE, "arm_span_m": 0.5, "hand_length_m": -FINGER_JOINT},
        math.hypot(0.02, REACH_SD), math.hypot(0.02, REACH_SD),
        because="a rolling paddle is swept out at arm's length, and one you can reach the end of "
        "is one you can sweep",
    ),
    RuleOfThumb(
        "length-span-wrist", "length", ("rolling",),
        "Arm span plus elbow to wrist: a shorter paddle, quick to swing from side to side.",
        {"arm_span_m": 1.0, "cubit_m": 1.0, "hand_length_m": -1.0}, 0.02, 0.02,
    ),
    RuleOfThumb(
        "length-span", "length", _STORM,
        "A storm paddle is as long as your arms spread wide.",
        {"arm_span_m": 1.0}, 0.03, 0.03,
        because="a storm paddle is slid through the hands, and both ends have to stay in reach",
    ),
    RuleOfThumb(
        "length-height", "length", _STORM,
        "A storm paddle stands as high as you do.", {"height_m": 1.0}, 0.03, 0.03,
    ),
    _usual("length", _LONG, DEFAULT_LENGTH, 2.08, 2.34),
    _usual("length", _STORM, 1.78, 1.65, 1.93),
    RuleOfThumb(
        "loom-shoulders", "loom_length", _LONG,
        "The breadth of your shoulders, plus three fingers at each end: the hands hold the loom's "
        "ends, thumb and forefinger on the loom.",
        {"shoulder_breadth_m": 1.0, "hand_length_m": 2.0 * 0.75 * HAND_BREADTH}, 0.05, 0.05,
        because="the hands have to hang a shoulder's breadth apart, whatever the boat",
    ),
    RuleOfThumb(
        "loom-beam", "loom_length", _LONG,
        "An inch or so less than the boat is wide, so that the roots pass the side and the hands "
        "do not knock on it.", {"beam_m": 1.0}, 0.08, 0.08, constant=-0.030,
    ),
    _usual("loom_length", _LONG, DEFAULT_LOOM_LENGTH, 0.457, 0.559),
    RuleOfThumb(
        "loom-fists", "loom_length", _STORM,
        "Three fists side by side: one hand holds the loom while the other slides out.",
        {"hand_length_m": 1.5}, 0.12, 0.12,
        because="the sliding hand has to find the other one, so the loom is no longer than both "
        "need",
    ),
    _usual("loom_length", _STORM, 0.29, 0.23, 0.36),
    RuleOfThumb(
        "blade-knuckles", "blade_width", USES,
        "As wide as your hand across the four knuckles, so that thumb and fingers pass over both "
        "edges when it slides.", {"hand_length_m": HAND_BREADTH}, 0.06, 0.06,
        because="the sliding hand has to go round it",
    ),
    RuleOfThumb(
        "blade-open-grip", "blade_width", USES,
        "As wide as the gap of thumb and forefinger opened loosely to a C.",
        {"grip_circumference_m": 0.59}, 0.08, 0.08,
    ),
    _usual("blade_width", USES, DEFAULT_BLADE_WIDTH, 0.075, 0.095),
    RuleOfThumb(
        "girth-thumb-over", "loom_girth", USES,
        "Closed round the loom, the thumb lies on the forefinger's outer joint.",
        {"grip_circumference_m": GRIP_SHARE}, 0.08, 0.10,
        because="it is tried on the hand itself",
    ),
    RuleOfThumb(
        "girth-comfort", "loom_girth", USES,
        "A round handle feels best when it is a fifth of the hand's length thick.",
        # Handles of 30, 35 and 40 mm were rated alike: 5 mm in 35.
        {"hand_length_m": math.pi * COMFORTABLE_DIAMETER}, 1.0 / 7.0, 1.0 / 7.0, basis=KONG_LOWE,
    ),
    _usual("loom_girth", USES, DEFAULT_LOOM_GIRTH, 0.095, 0.125),
    RuleOfThumb(
        "loom-oval-width", "loom_width", USES,
        "An oval of 32 to 38, its narrow side across the paddle, tells the hand how the blade "
        "lies.", {"loom_girth": DEFAULT_LOOM_WIDTH / DEFAULT_LOOM_GIRTH}, 0.0, 0.0,
        because="the girth is settled by the hand, the oval by custom",
    ),
    RuleOfThumb(
        "loom-oval-thickness", "loom_thickness", USES,
        "An oval of 32 to 38, its deep side in the direction of the pull, is stiff where the "
        "load comes.", {"loom_girth": DEFAULT_LOOM_THICKNESS / DEFAULT_LOOM_GIRTH}, 0.0, 0.0,
        because="the girth is settled by the hand, the oval by custom",
    ),
    RuleOfThumb(
        "root-loom", "root_width", USES,
        "The root is a hair wider than the loom is thick: the fingers feel where the blade "
        "begins.", {"loom_thickness": DEFAULT_ROOT_WIDTH / DEFAULT_LOOM_THICKNESS}, 0.03, 0.15,
        because="the loom runs into it",
    ),
    RuleOfThumb(
        "root-fingers", "root_width", USES,
        "The three outer fingers close round the root as the hand lies half on the blade.",
        {"grip_circumference_m": 0.28}, 0.15, 0.20,
    ),
    _usual("root_width", USES, DEFAULT_ROOT_WIDTH, 0.034, 0.046),
)

FOLLOWED: Mapping[DimensionName, Mapping[Use, tuple[str, ...]]] = {
    "length": {
        "touring": ("length-beam", "length-span-cubit"),
        "rolling": ("length-reach",),
        "storm": ("length-span",),
    },
    "loom_length": {
        "touring": ("loom-shoulders",),
        "rolling": ("loom-shoulders",),
        "storm": ("loom-fists",),
    },
    "blade_width": dict.fromkeys(USES, ("blade-knuckles",)),
    "loom_girth": dict.fromkeys(USES, ("girth-thumb-over",)),
    "loom_width": dict.fromkeys(USES, ("loom-oval-width",)),
    "loom_thickness": dict.fromkeys(USES, ("loom-oval-thickness",)),
    "root_width": dict.fromkeys(USES, ("root-loom",)),
}
"""Which rule a proposal follows: the first of these that applies."""


def rules_for(
    dimension: DimensionName, use: Use, figures: Mapping[str, Figure]
) -> Iterator[tuple[RuleOfThumb, Rule]]:
    """Each rule of the table that speaks of this dimension, and what it says."""
    for line in RULES:
        if line.dimension == dimension and line.applies(use, figures):
            yield line, line.apply(figures)
