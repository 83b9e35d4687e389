"""Words of a fit: the dimensions, the rule each follows, and where rules disagree."""

from __future__ import annotations

from dataclasses import dataclass, replace

from springloom.fit.body import TRADE, Figure
from springloom.fit.dimensions import Dimension, FitResult
from springloom.fit.rules import Rule
from springloom.report.words import Words


@dataclass(frozen=True, slots=True)
class RuleWords:
    """One rule as it is told: its name, what it says, asks for and allows, and its source."""

    rule_id: str
    sentence: str
    asks: str
    allows: str
    source: str
    followed: bool
    estimated: bool


@dataclass(frozen=True, slots=True)
class DimensionWords:
    """One dimension as it is told; ``conflict`` is empty where all rules agree."""

    name: str
    proposed: str
    within: str
    follows: str
    why: str
    conflict: str
    rules: tuple[RuleWords, ...]


@dataclass(frozen=True, slots=True)
class EstimatedWords:
    """A measure nobody took: what it is taken as, how that was estimated, and the source."""

    name: str
    how: str
    source: str


@dataclass(frozen=True, slots=True)
class FitWords:
    """A whole fit as it is told."""

    headline: str
    dimensions: tuple[DimensionWords, ...]
    estimated: tuple[EstimatedWords, ...]
    cautions: tuple[str, ...]

    @property
    def conflicts(self) -> tuple[str, ...]:
        """What disagrees, a sentence a dimension."""
        return tuple(d.conflict for d in self.dimensions if d.conflict)


def fit_words(result: FitResult, words: Words) -> FitWords:
    """Return a fit's words; bodies are measured to no better than a millimetre or a sixteenth."""
    words = replace(words, coarse=True)
    headline = (f"Carve the {result.use} paddle {words.both(result.value_m('length'))} long, "
                f"{words.length(result.value_m('blade_width'))} wide")
    return FitWords(headline, tuple(_dimension(d, words) for d in result.dimensions),
                    tuple(_estimated(figure, words) for figure in result.estimated),
                    result.cautions)


def dimension_name(dimension: Dimension) -> str:
    """What a maker calls a dimension."""
    return dimension.name.replace("_", " ")


def _dimension(dimension: Dimension, words: Words) -> DimensionWords:
    return DimensionWords(
        dimension_name(dimension), words.both(dimension.value_m),
        words.range(dimension.low_m, dimension.high_m), dimension.follows, dimension.why,
        _conflict(dimension, words),
        tuple(_rule(rule, dimension.follows, words) for rule in dimension.rules),
    )


def _rule(rule: Rule, followed: str, words: Words) -> RuleWords:
    return RuleWords(rule.rule_id, rule.sentence, words.length(rule.value_m),
                     words.range(rule.low_m, rule.high_m), rule.basis, rule.rule_id == followed,
                     rule.estimated)


def source_after(rule: RuleWords) -> str:
    """Return the source to stand after a rule's range; most have none, which is said once."""
    return "" if rule.source == TRADE else f"; {rule.source}"


def _conflict(dimension: Dimension, words: Words) -> str:
    """What disagrees and by how much, to a tenth of a millimetre: some gaps are no wider."""
    if not dimension.disagreements:
        return ""
    rules = {rule.rule_id: rule for rule in dimension.rules}
    each = "; ".join(
        f"{apart.lower} allows up to {words.length(rules[apart.lower].high_m, 1)}, "
        f"{apart.higher} asks for {words.length(rules[apart.higher].low_m, 1)} or more, "
        f"{words.length(apart.gap_m, 1)} apart"
        for apart in dimension.disagreements
    )
    return (f"Rules for the {dimension_name(dimension)} disagree: {each}. "
            f"The proposal follows {dimension.follows}.")


def _estimated(figure: Figure, words: Words) -> EstimatedWords:
    return EstimatedWords(figure.name, f"{words.both(figure.value_m)}, {figure.how}",
                          figure.source)
