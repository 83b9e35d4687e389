"""The tuning page: what to do now comes first; what it rests on, with ``more``, after it."""

from __future__ import annotations

from springloom.fit.bend import Target
from springloom.report.cautions import TUNING
from springloom.report.tune_asides import Asides
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
from springloom.tune.advice import Advice, BladeAdvice, Removal
from springloom.tune.counsel import Counsel
from springloom.tune.estimate import Estimate, Known
from springloom.tune.evidence import SIDES
from springloom.tune.prediction import Between, BladePrediction, Prediction

_HOW = ("Passes are at the ridge and run out towards the edge. Fair them out at both ends and "
        "leave the shoulder alone.")
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
    lines += [folded(said, "  ", "") for said in _warnings(known, advice, target, words)]
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


def _warnings(known: Estimate, advice: Advice, target: Target, words: Words) -> list[str]:
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
    planed = any(blade.call == "plane" for blade in advice.blades)
    if planed:
        lines += [heading(f"Passes off each face, and what calipers should then read "
                          f"({words.system})"), _removals(advice, words), folded(_HOW)]
    when = "What it does now, and should then" if planed else "What it does now"
    lines += [heading(f"{when} ({words.system})"),
              _before_after(advice, predicted, words, planed=planed)]
    said = [weight_words(predicted, words)]
    if told.match is not None:
        said += match_words(told.match, target, words)
    if told.readings:
        said.append(next_words(told.readings[0], words, planed=planed))
    said += [saving_words(saving, words) for saving in told.savings[:_MOST_SAVINGS]]
    return [*lines, *bullets(said)]


def _removals(advice: Advice, words: Words) -> str:
    a, b = ({removal.station: removal for removal in blade.removals} for blade in advice.blades)
    both = sorted({one.x_m: one.station for one in (*b.values(), *a.values())}.items())
    names = dict.fromkeys(name for _, name in both)
    rows = [(name, *_cells(a.get(name), words), *_cells(b.get(name), words)) for name in names]
    headers = ("station", "A: passes", "crown", "edge", "B: passes", "crown", "edge")
    return grid(headers, rows)


def _cells(removal: Removal | None, words: Words) -> tuple[str, str, str]:
    if removal is None:
        return "", "", ""
    upper, lower = removal.upper_passes, removal.lower_passes
    passes = "-" if not upper + lower else str(upper) if upper == lower else f"{upper} + {lower}"
    return passes, words.bare(removal.crown_after_m), words.bare(removal.edge_after_m)


def _before_after(advice: Advice, predicted: Prediction, words: Words, *, planed: bool) -> str:
    rows = []
    for b, then in zip(advice.blades, (predicted.a, predicted.b), strict=True):
        row = [f"blade {b.side.upper()}", words.bare(b.deflection_m), words.bare(b.predicted_m),
               _range(then.tip_then_m, words), f"{100 * b.overshoot_chance:.1f} %",
               f"{then.weakest.then_ratio.value:.2f}", words.mass(b.mass_saved_kg)]
        rows.append(row if planed else [row[0], row[1], row[3], row[5]])
    headers = ["", "sinks", "then", "90 % sure of", "too far", "margin", "saves"]
    return grid(headers if planed else [headers[0], headers[1], headers[3], headers[5]], rows)


def _range(between: Between, words: Words) -> str:
    return f"{words.bare(between.low_90)} to {words.bare(between.high_90)}"


def _more(known: Estimate, told: Counsel, target: Target, words: Words) -> list[str]:
    """What the round rests on."""
    lines = []
    if told.prediction is not None:
        for blade in (told.prediction.a, told.prediction.b):
            lines += [heading(f"Blade {blade.side.upper()} under the weight, place by place "
                              f"({words.system})"), _places(blade, words)]
            lines += [heading(f"Blade {blade.side.upper()}: strength margins"), _margins(blade)]
        lines += [heading("How it bends now"),
                  *bullets([_bend(blade, words) for blade in told.advice.blades])]
    lines += [heading("What the readings say"), *bullets(_known(known, target, words))]
    if told.readings:
        lines += [heading("What else could be read next"), *bullets(_offers(told, words))]
    if told.savings:
        lines += [heading("Weight that does not touch the bend"),
                  *bullets([*(saving_words(s, words) for s in told.savings),
                            *(saving_detail(s, words) for s in told.savings if s.stations)])]
    return lines


def _places(blade: BladePrediction, words: Words) -> str:
    rows = [
        (name, words.bare(now.value), words.bare(then.value), words.bare(wanted),
         words.bare(crown.value), f"{words.bare(crown.low_90)} to {words.bare(crown.high_90)}")
        for name, now, then, wanted, crown in zip(
            blade.stations, blade.line_now_m, blade.line_then_m, blade.line_wanted_m,
            blade.crowns_then_m, strict=True)
    ]
    return grid(("station", "sinks", "then", "wanted", "crown then", "90 % sure of"), rows)


def _margins(blade: BladePrediction) -> str:
    rows = [(m.case, m.kind, f"{m.now_ratio:.2f}", f"{m.then_ratio.value:.2f}",
             f"{m.then_ratio.low_90:.2f} to {m.then_ratio.high_90:.2f}") for m in blade.margins]
    return grid(("case", "gives by", "now", "then", "90 % sure of"), rows, "llrrr")


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
