"""Fit, board, forecast and bend schedule as pages of an 80-column terminal."""

from __future__ import annotations

from springloom.fit.bend import BendDesign
from springloom.fit.dimensions import FitResult
from springloom.mechanics.analysis import Analysis, BladeResult
from springloom.mechanics.setups import STANDARD_LOAD
from springloom.mechanics.strength import SAFE_MARGIN
from springloom.records.design import Design
from springloom.report.board_words import (
    LOW_END,
    PROPERTY_HEADS,
    board_headline,
    evidence_words,
    property_rows,
)
from springloom.report.cautions import CARVING, USING
from springloom.report.fit_words import FitWords, fit_words, source_after
from springloom.report.forecast_words import (
    MARGINS_SAY,
    SCHEDULE_HEADS,
    band,
    binding_words,
    gives_first,
    hands_words,
    margin_warning,
    schedule_rows,
    splitting_words,
    stress_words,
    swing_words,
    tone_words,
    weighs_words,
)
from springloom.report.words import Words, bullets, folded, grid, heading
from springloom.shape.blade import HalfPaddle
from springloom.wood.verdict import judge

__all__ = [
    "LOW_END", "PROPERTY_HEADS", "bend_text", "board_text", "fit_text", "forecast_text",
    "property_rows",
]


def fit_text(result: FitResult, words: Words) -> str:
    """Dimensions, the rule each follows, disagreements and estimates."""
    said = fit_words(result, words)
    rows = [(d.name, d.proposed, d.within) for d in said.dimensions]
    lines = [said.headline, "",
             grid(("dimension", "proposed", "may be changed within"), rows)]
    lines += [heading("Which rule each follows, and why")]
    lines += bullets([f"{d.name}: {d.follows}; {d.why}" for d in said.dimensions])
    if said.conflicts:
        lines += [heading("Rules that disagree"), *bullets(said.conflicts)]
    lines += [heading("Every rule (common practice, no source, unless one is named)"),
              *_rules(said)]
    if said.estimated:
        lines += [heading("Estimated, not measured"),
                  *bullets([f"{one.name}: {one.how}" for one in said.estimated])]
    return "\n".join([*lines, heading("Cautions"), *bullets([*said.cautions, *USING])])


def _rules(said: FitWords) -> list[str]:
    return bullets([
        f"{d.name}, {rule.rule_id}: {rule.sentence} {rule.asks} "
        f"({rule.allows}{source_after(rule)})"
        for d in said.dimensions for rule in d.rules
    ])


def board_text(design: Design, words: Words) -> str:
    """Verdict first, then what is known of the board and from what."""
    found = design.assessment
    verdict = judge(found)
    lines = [board_headline(found, verdict.grade)]
    lines += bullets([reason.sentence for reason in verdict.reasons])
    lines += [heading("What is known of this board"),
              grid(PROPERTY_HEADS, property_rows(found, words)), folded(LOW_END)]
    lines += [heading("What each reading told"), *bullets(evidence_words(found))]
    if found.assumptions:
        lines += [heading("Taken for granted"), *bullets(found.assumptions)]
    return "\n".join([*lines, heading("Cautions"), *bullets(CARVING)])


def forecast_text(design: Design, result: Analysis, spread: tuple[float, float],
                  words: Words) -> str:
    """What a design will do: bend, margins, weight, tones."""
    line = result.a.line
    tip = line.tip_deflection_m
    lines = [
        f"{design.name}: the tip sinks {words.both(tip)} under {words.hung(STANDARD_LOAD)}",
        folded(f"root clamped; 90 % sure of {words.range(*band(tip, spread[0]))}. "
               f"The bend is {line.character.words}."),
        heading("Along the blade"), _along(design.paddle.a, result.a, words),
        heading("Strength"), _margins(result.a, words), *_screen(result.a, words),
        heading("Weight and swing"), *_weights(result, spread[1], words),
    ]
    if result.b is not result.a:
        other = result.b.line.tip_deflection_m
        lines.append(folded(f"Blade B sinks {words.both(other)} under the same weight."))
    if result.notes:
        lines += [heading("About the curves"), *bullets(result.notes)]
    doubts = _doubts(design)
    if doubts:
        lines += [heading("About the board"), *bullets(doubts)]
    return "\n".join([*lines, heading("Cautions"), *bullets([*CARVING[:2], *USING])])


def _doubts(design: Design) -> list[str]:
    """What speaks against the board, if the paddle is made of one."""
    if design.layup is not None:
        return []
    reasons = judge(design.assessment).reasons
    return [f"{r.grade.upper()}: {r.sentence}" for r in reasons if r.grade != "use"]


def _along(half: HalfPaddle, blade: BladeResult, words: Words) -> str:
    rows = []
    line = blade.line
    for station in half.stations:
        i = int(abs(line.x_m - station.x).argmin())
        rows.append((station.name, words.bare(station.x),
                     "round" if station.width == 0.0 else words.bare(station.width),
                     words.bare(station.crown), words.bare(line.deflection_m[i]),
                     f"{line.curvature_per_m[i]:.3f}", words.bare_stress(line.stress_pa[i])))
    unit, stress = words.system, words.stress_unit()
    return grid((f"station ({unit})", "from centre", "width", "crown", "sinks", "curv. 1/m",
                 stress), rows)


def _margins(blade: BladeResult, words: Words) -> str:
    rows = [(m.case, f"{m.margin:.2f}", gives_first(m, words), stress_words(m, words))
            for m in blade.margins]
    return grid(("case", "margin", "gives first", "stress, strength"), rows, "lrlr")


def _screen(blade: BladeResult, words: Words) -> list[str]:
    warnings = [margin_warning(m) for m in blade.margins if m.margin < SAFE_MARGIN]
    return bullets([MARGINS_SAY, *warnings, splitting_words(blade.splitting, words)])


def _weights(result: Analysis, sd_density: float, words: Words) -> list[str]:
    hands = hands_words(result, words)
    return bullets([weighs_words(result, sd_density, words), swing_words(result, words),
                    *([hands] if hands else []), tone_words(result)])


def bend_text(design: Design, made: tuple[BendDesign, BendDesign], words: Words) -> str:
    """Thickness schedules for the wanted bend: one, or one a blade where the blades differ."""
    target = design.wanted()
    same = design.paddle.is_symmetric
    weight = "" if not same else f", {words.mass(made[0].mass_kg)}"
    lines = [
        f"For {words.length(target.deflection_m)} at the tip under {words.hung(target.load_n)}: "
        f"these crowns{weight}"
    ]
    for side, one, half in zip("AB", made, (design.paddle.a, design.paddle.b), strict=True):
        if side == "A" or not same:
            lines += [*([] if same else [heading(f"Blade {side}")]), "",
                      *_bend_of(half, one, words)]
    return "\n".join([*lines, heading("Cautions"), *bullets([*CARVING, USING[0]])])


def _bend_of(half: HalfPaddle, made: BendDesign, words: Words) -> list[str]:
    lines = [_schedule(half, made.half, words), "", folded(f"The bend is {made.character.words}.")]
    held = binding_words(made, words)
    if held:
        lines += [heading("Limits that bind"), *bullets(held)]
    return lines


def _schedule(before: HalfPaddle, after: HalfPaddle, words: Words) -> str:
    return grid(SCHEDULE_HEADS, schedule_rows(before, after, words))
