"""The tuning page: what to do now comes first; what it rests on, with ``more``, after it."""

from __future__ import annotations

from springloom.fit.bend import Target
from springloom.report.cautions import TUNING
from springloom.report.tune_asides import Asides
from springloom.report.tune_tables import (
    Grid,
    detail_grids,
    outcome_grid,
    planes,
    removal_grid,
)
from springloom.report.tune_words import (
    below_words,
    blade_words,
    blocked_words,
    doubt_words,
    headline,
    match_words,
    next_words,
    reading_words,
    saving_detail,
    saving_words,
    target_words,
    unreachable_words,
    weight_words,
)
from springloom.report.words import Words, bullets, folded, grid, heading
from springloom.tune.advice import Advice, BladeAdvice
from springloom.tune.counsel import Counsel
from springloom.tune.estimate import Estimate, Known
from springloom.tune.evidence import SIDES
from springloom.tune.prediction import Prediction

HOW_TO_PLANE = ("Passes are at the ridge and run out towards the edge. Fair them out at both "
                "ends and leave the shoulder alone.")
_CAUTIONS = ("Wood dust harms lungs: wear a mask. Lower the weight by hand, stand clear.",
             "Local codes and licensed practice come before anything said here.")
_MOST_SAVINGS, _MOST_READINGS = 2, 6


def tune_text(name: str, known: Estimate, told: Counsel, target: Target, words: Words,
              asides: Asides | None = None, *, more: bool = False) -> str:
    """Return one round of tuning as a page; with ``more`` what it rests on, too."""
    beside = asides or Asides()
    advice = told.advice
    lines = [headline(advice), "", *_blades(told, words),
             folded(target_words(name, target, beside.carried, words), "  ", "")]
    lines += [folded(said, "  ", "") for said in warning_words(known, advice, target, words)]
    lines += bullets(beside.words(more=more))
    if told.prediction is not None:
        lines += _round(told, told.prediction, target, words)
    if more:
        lines += _more(known, told, target, words)
    return "\n".join([*lines, "", *(_CAUTIONS if not more else bullets(TUNING))])


def _blades(told: Counsel, words: Words) -> list[str]:
    """One sentence a blade, or what has to be cleared up first."""
    advice = told.advice
    if advice.blocked:
        return ["Readings that don't fit", *bullets(blocked_words(told.plans[0].known)),
                "No bend and nothing to take off is given until that is cleared up.", ""]
    pass_m = told.plans[0].rules.pass_m
    said = [folded(blade_words(blade, pass_m, words), "  ", "") for blade in advice.blades]
    return [*said, ""]


def warning_words(known: Estimate, advice: Advice, target: Target, words: Words) -> list[str]:
    """What stands in the way, or should be looked at."""
    if advice.blocked:
        return []
    said = doubt_words(known)
    said += [below_words(blade.side, blade.below, words) for blade in advice.blades]
    said.append(unreachable_words(advice.blades, target, words))
    return [sentence for sentence in said if sentence]


def _round(told: Counsel, predicted: Prediction, target: Target, words: Words) -> list[str]:
    """The tables of a round, and what else there is to do."""
    advice, lines = told.advice, []
    if planes(advice):
        lines += [*_grid(removal_grid(advice, words)), folded(HOW_TO_PLANE)]
    return [*lines, *_grid(outcome_grid(advice, predicted, words)),
            *bullets(round_words(told, predicted, target, words))]


def round_words(told: Counsel, predicted: Prediction, target: Target, words: Words) -> list[str]:
    """Weight and balance, how alike the blades are, what to read next, what else can come off."""
    said = [weight_words(predicted, words)]
    if told.match is not None:
        said += match_words(told.match, target, words)
    if told.readings:
        said.append(next_words(told.readings[0], words, planed=planes(told.advice)))
    return said + [saving_words(saving, words) for saving in told.savings[:_MOST_SAVINGS]]


def _grid(table: Grid) -> list[str]:
    return [heading(table.title), grid(table.headers, table.rows, table.align)]


def _more(known: Estimate, told: Counsel, target: Target, words: Words) -> list[str]:
    """What the round rests on."""
    lines = [line for table in detail_grids(told, words) for line in _grid(table)]
    for title, said in more_words(known, told, target, words):
        lines += [heading(title), *bullets(said)]
    return lines


def more_words(
    known: Estimate, told: Counsel, target: Target, words: Words
) -> list[tuple[str, list[str]]]:
    """What else there is to say of a round, under its headings."""
    parts = []
    if told.prediction is not None:
        parts.append(("How it bends now", [_bend(blade, words) for blade in told.advice.blades]))
    parts.append(("What the readings say", _known(known, target, words)))
    if told.readings:
        parts.append(("What else could be read next", _offers(told, words)))
    if told.savings:
        parts.append(("Weight that does not touch the bend",
                      [*(saving_words(s, words) for s in told.savings),
                       *(saving_detail(s, words) for s in told.savings if s.stations)]))
    return parts


def _offers(told: Counsel, words: Words) -> list[str]:
    return [f"{reading_words(one.reading, words)}: {100 * one.reduction:.1f} % less in doubt"
            for one in told.readings[:_MOST_READINGS]]


def _bend(blade: BladeAdvice, words: Words) -> str:
    text = f"blade {blade.side.upper()}: {blade.bend.words}"
    for spot in blade.bend.spots:
        text += (f"; {spot.kind} from {words.length(spot.from_m)} to {words.length(spot.to_m)} "
                 f"from the centre ({100 * spot.excess:+.0f} %)")
    return text


def _moved(item: Known) -> str:
    """Which evidence moved an unknown most."""
    return f", moved most by {item.moved_by[0].evidence}" if item.moved_by else ""


def _known(known: Estimate, target: Target, words: Words) -> list[str]:
    said = []
    for side in SIDES:
        e, clamp = known.modulus(side), known.clamp_turning(side)
        half = known.half(side)
        arm = target.load_n * (half.tip - half.loom.root) ** 2  # clamp at the root, load at the tip
        said.append(
            f"blade {side.upper()}: E {words.modulus(e.value)}, 90 % sure of "
            f"{words.modulus(e.low)} to {words.modulus(e.high)} (before: "
            f"{words.modulus(e.before)} ± {100 * e.before_sd / e.before:.0f} %"
            f"{_moved(e)}); of what the tip "
            f"shows, the clamp gives {words.length(arm * clamp.value)} ± "
            f"{words.length(arm * clamp.sd)}"
        )
    density = known.density()
    low, high = words.density(density.low), words.density(density.high)
    return [*said, f"density: {words.density(density.value)}, 90 % sure of {low} to {high}"]
