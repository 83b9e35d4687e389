"""From a body, a boat and a use to dimensions, and from these to a first paddle.

Rules that disagree are shown as they are. The proposal follows one named rule, chosen by use,
and says why; it is never an average.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace

from springloom.errors import known
from springloom.fit.body import USES, Boat, Body, Figure, Use
from springloom.fit.rules import (
    DEFAULT_BLADE_WIDTH,
    DEFAULT_LOOM_THICKNESS,
    DEFAULT_ROOT_WIDTH,
    DIMENSIONS,
    FOLLOWED,
    DimensionName,
    Rule,
    rules_for,
)
from springloom.shape.blade import HalfPaddle, Station, edge_inset, station_name
from springloom.shape.paddle import (
    DEFAULT_LENGTH,
    DEFAULT_LOOM_LENGTH,
    DEFAULT_NEAR_TIP,
    Paddle,
    default_paddle,
    standard_places,
)
from springloom.shape.section import Section

WIDE_BEAM = 0.62
"""Wider boats push the hands outboard of a narrow paddle's stroke, m (common practice)."""

SLENDER_LOOM = 0.034
"""A loom thinner than this asks for its strength to be checked first, m (common practice)."""

CHILD_HEIGHT = 1.45
"""Below this the usual ranges, made by grown paddlers, say little, m (common practice)."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Two rules whose ranges do not overlap, and how far apart these are, m."""

    lower: str
    higher: str
    gap_m: float


@dataclass(frozen=True, slots=True)
class Dimension:
    """One dimension: the proposal, the range it may be changed in, and all rules behind it.

    Attributes:
        name: which dimension.
        value_m: the proposal, m: what the rule ``follows`` asks for.
        low_m: the least that rule accepts, m.
        high_m: the most that rule accepts, m.
        rules: every rule that speaks of it.
        follows: id of the rule the proposal follows.
        why: why it follows that one.
        conflict: what disagrees and by how much, in words; None where all ranges overlap.
        disagreements: the same as data, widest gap first.
    """

    name: DimensionName
    value_m: float
    low_m: float
    high_m: float
    rules: tuple[Rule, ...]
    follows: str
    why: str
    conflict: str | None = None
    disagreements: tuple[Disagreement, ...] = ()


@dataclass(frozen=True, slots=True)
class FitResult:
    """All dimensions for one paddler, boat and use.

    ``estimated`` lists what nobody measured and a rule used, with how it was estimated;
    ``cautions`` are sentences for the maker.
    """

    body: Body
    boat: Boat
    use: Use
    dimensions: tuple[Dimension, ...]
    estimated: tuple[Figure, ...]
    cautions: tuple[str, ...]

    def dimension(self, name: str) -> Dimension:
        """Return the dimension of this name.

        Raises:
            UnknownNameError: no such dimension.
        """
        by_name: dict[str, Dimension] = {d.name: d for d in self.dimensions}
        return by_name[known(name, by_name, "dimension")]

    def value_m(self, name: DimensionName) -> float:
        """Return the proposal for one dimension, m."""
        return self.dimension(name).value_m

    @property
    def conflicts(self) -> tuple[Dimension, ...]:
        """The dimensions whose rules disagree."""
        return tuple(d for d in self.dimensions if d.conflict is not None)


def fit(body: Body, boat: Boat | None = None, use: Use = "touring") -> FitResult:
    """Return the dimensions of a paddle for this body, boat and use.

    Raises:
        UnknownNameError: no such use.
    """
    known(use, USES, "use")
    boat = boat or Boat()
    figures = {**body.figures(), **boat.figures()}
    settled = []
    for name in DIMENSIONS:
        dimension = _settle(name, use, figures)
        settled.append(dimension)
        figures[name] = _as_figure(dimension)
    used = {measure for dimension in settled for rule in dimension.rules
            for measure in rule.measures}
    estimated = tuple(figure for figure in body.figures().values()
                      if figure.estimated and figure.name in used)
    dimensions = tuple(settled)
    cautions = _cautions(body, boat, use, dimensions, estimated)
    return FitResult(body, boat, use, dimensions, estimated, cautions)


def paddle_from_fit(result: FitResult) -> Paddle:
    """Return the default paddle scaled to these dimensions.

    Length, loom and widths are the fit's. The crown stays the default's at the near-tip station
    and, towards the root, runs over into this loom's thickness; the sections keep the default's
    fullness, so that the edge thickness follows. What the blade has to be for its wood and its
    bend is settled elsewhere.
    """
    model = default_paddle().a
    loom = replace(
        model.loom, half_length=0.5 * result.value_m("loom_length"),
        width=result.value_m("loom_width"), thickness=result.value_m("loom_thickness"),
    )
    tip = 0.5 * result.value_m("length")
    places = standard_places(loom, tip, _near_tip(tip - loom.half_length))
    widths = [_width(station, result) for station in model.stations]
    stations = []
    for i, (station, x) in enumerate(zip(model.stations, places, strict=True)):
        towards_loom = max(0.0, (places[-2] - x) / (places[-2] - loom.root))
        thicker = 1.0 + towards_loom * (loom.thickness / DEFAULT_LOOM_THICKNESS - 1.0)
        # The tip has no width of its own: its edge is read at its neighbour's.
        read_at = i if station.width > 0.0 else i - 1
        edge = _edge(station, model.stations[read_at].width, thicker * station.crown,
                     widths[read_at])
        stations.append(replace(station, x=x, width=widths[i], crown=thicker * station.crown,
                                edge=edge, name=station_name(x, loom, tip)))
    return Paddle.mirrored(HalfPaddle(loom, tuple(stations)))


def _settle(name: DimensionName, use: Use, figures: dict[str, Figure]) -> Dimension:
    found = list(rules_for(name, use, figures))
    by_id = {rule.rule_id: (line, rule) for line, rule in found}
    chosen = next(rule_id for rule_id in FOLLOWED[name][use] if rule_id in by_id)
    line, rule = by_id[chosen]
    rules = tuple(rule for _, rule in found)
    apart = _apart(rules)
    return Dimension(
        name, rule.value_m, rule.low_m, rule.high_m, rules, chosen, line.because,
        _conflict(apart, rule) if apart else None,
        tuple(Disagreement(low.rule_id, high.rule_id, _gap(low, high)) for low, high in apart),
    )


def _gap(low: Rule, high: Rule) -> float:
    return high.low_m - low.high_m


def _apart(rules: tuple[Rule, ...]) -> list[tuple[Rule, Rule]]:
    """All pairs whose ranges do not overlap, lower one first, the widest gap leading."""
    pairs = [pair for pair in itertools.permutations(rules, 2) if _gap(*pair) > 0.0]
    return sorted(pairs, key=lambda pair: _gap(*pair), reverse=True)


def _conflict(apart: list[tuple[Rule, Rule]], followed: Rule) -> str:
    """What disagrees, in mm; the lengths stand beside it as data in m."""
    each = "; ".join(
        f"{low.rule_id} allows up to {1e3 * low.high_m:.1f} mm, {high.rule_id} asks for "
        f"{1e3 * high.low_m:.1f} mm or more, {1e3 * _gap(low, high):.1f} mm apart"
        for low, high in apart
    )
    what = followed.dimension.replace("_", " ")
    return f"Rules for the {what} disagree: {each}. The proposal follows {followed.rule_id}."


def _as_figure(dimension: Dimension) -> Figure:
    """A settled dimension, to reckon the next with; its half range stands for its doubt."""
    rule = next(r for r in dimension.rules if r.rule_id == dimension.follows)
    return Figure(
        dimension.name, dimension.name.replace("_", " "), dimension.value_m,
        0.5 * (dimension.high_m - dimension.low_m), rule.estimated,
    )


def _cautions(
    body: Body, boat: Boat, use: Use, dimensions: tuple[Dimension, ...],
    estimated: tuple[Figure, ...],
) -> tuple[str, ...]:
    values = {dimension.name: dimension.value_m for dimension in dimensions}
    said = [*body.doubts()]
    if use == "storm":
        said.append("A storm paddle is a spare, and the one for hard wind: so short a paddle "
                    "reaches the water only with a sliding stroke. Learn that stroke first.")
    if boat.beam_m is not None and boat.beam_m > WIDE_BEAM and use != "storm":
        said.append("In a boat this wide a narrow paddle is held out further than its rules "
                    "were made for. Borrow one of this length before carving.")
    if values["loom_thickness"] < SLENDER_LOOM:
        said.append("This loom is slender, and strength falls with the third power of its size. "
                    "Check the strength for your wood before carving.")
    if body.height_m < CHILD_HEIGHT:
        said.append("The usual ranges come from grown paddlers' paddles. For a child, carve to "
                    "the measures, and expect a new paddle in a year or two.")
    guessed = [figure.name for figure in estimated if figure.field in {"arm_span_m", "cubit_m"}]
    if guessed:
        said.append(f"The length rests on an estimated {' and '.join(guessed)}. A tape settles "
                    "it in a minute.")
    return tuple(said)


def _near_tip(blade_length: float) -> float:
    """Where the outline begins to close, m from the tip: in proportion, to the next 5 mm."""
    default = 0.5 * (DEFAULT_LENGTH - DEFAULT_LOOM_LENGTH)
    return 0.005 * round(DEFAULT_NEAR_TIP * blade_length / default / 0.005)


def _width(station: Station, result: FitResult) -> float:
    """A default station's width, carried over between this root and this greatest width."""
    if station.width == 0.0:
        return 0.0
    root, widest = result.value_m("root_width"), result.value_m("blade_width")
    share = (station.width - DEFAULT_ROOT_WIDTH) / (DEFAULT_BLADE_WIDTH - DEFAULT_ROOT_WIDTH)
    return root + share * (widest - root)


def _edge(station: Station, old_width: float, crown: float, width: float) -> float:
    """What calipers read at the edge of a section with the station's fullness and a new size."""
    section = Section.symmetric(0.5 * width, 0.5 * crown, station.ridge,
                                station.fullness(old_width))
    return section.thickness_at(edge_inset(width))
