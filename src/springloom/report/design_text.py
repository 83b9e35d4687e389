"""Fit, board, forecast and bend schedule as pages of an 80-column terminal."""

from __future__ import annotations

import math

from springloom.fit.bend import BendDesign
from springloom.fit.dimensions import FitResult
from springloom.mechanics.analysis import Analysis, BladeResult
from springloom.mechanics.setups import HANDS_LOAD, STANDARD_LOAD
from springloom.mechanics.strength import SAFE_MARGIN, Margin
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
from springloom.report.words import Words, bullets, folded, grid, heading
from springloom.shape.blade import HalfPaddle
from springloom.tune.estimate import NORMAL_90
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
                  *bullets([f"{name}: {how}" for name, how in said.estimated])]
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
    line, sd_e = result.a.line, spread[0]
    factor = math.exp(NORMAL_90 * sd_e)
    tip = line.tip_deflection_m
    lines = [
        f"{design.name}: the tip sinks {words.both(tip)} under {words.hung(STANDARD_LOAD)}",
        folded(f"root clamped; 90 % sure of {words.range(tip / factor, tip * factor)}. "
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
    rows = [
        (m.case, f"{m.margin:.2f}", f"{m.kind} at {words.length(abs(m.at_m))}",
         f"{words.bare_stress(m.stress_pa)} of {words.stress(m.strength_pa)}")
        for m in blade.margins
    ]
    return grid(("case", "margin", "gives first", "stress, strength"), rows, "lrlr")


def _screen(blade: BladeResult, words: Words) -> list[str]:
    said = ["margins compare with the strength that 95 % of such boards exceed; what each case "
            "assumes is common practice, no source"]
    said += [_warning(m) for m in blade.margins if m.margin < SAFE_MARGIN]
    screen = blade.splitting
    said.append(
        f"splitting screen {screen.index:.2f} (1 is the default redcedar blade), thinnest edge "
        f"{words.length(screen.edge_thickness_m)} at {words.length(screen.at_m)}: a screening only"
        + ("; edges this thin split at a knock, leave more wood" if screen.caution else "")
    )
    return bullets(said)


def _warning(margin: Margin) -> str:
    return (f"WARNING: {margin.case}: margin {margin.margin:.2f} is below {SAFE_MARGIN:g}; one "
            f"board in twenty would break ({margin.assumption})")


def _weights(result: Analysis, sd_density: float, words: Words) -> list[str]:
    mass = result.mass
    factor = math.exp(NORMAL_90 * sd_density)
    low, high = words.mass(mass.mass_kg / factor), words.mass(mass.mass_kg * factor)
    tones = ", ".join(f"{f:.0f} Hz" for f in result.free_hz)
    clamped = ", ".join(f"{f:.0f} Hz" for f in result.a.clamped_hz)
    return bullets([
        f"weighs {words.mass(mass.mass_kg)} bare (90 % sure of {low} to {high}); "
        f"{words.volume(mass.volume_m3)} of wood",
        f"balances {words.length(abs(mass.balance_m))} from the centre; swing inertia "
        f"{mass.swing_inertia_kg_m2:.3f} kg m2; floats with {words.force(mass.buoyancy_n)} to "
        "spare",
        *_hands(result, words),
        f"tones: hung free {tones}; clamped at the root {clamped}",
    ])


def _hands(result: Analysis, words: Words) -> list[str]:
    if result.hands_m is None:
        return []
    return [f"held in two hands with {words.hung(HANDS_LOAD)} on one blade it gives "
            f"{words.both(result.hands_m)}"]


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
    held = [
        f"{b.station}: {b.limit} keeps {words.length(b.crown_m)} where the bend asks for "
        f"{words.length(b.wanted_m)}"
        for b in made.binding
    ]
    if held:
        cost = 1e3 * made.cost_kg
        said = f"together they cost {cost:.0f} g" if cost >= 0.5 else "they cost no weight"
        lines += [heading("Limits that bind"), *bullets([*held, said])]
    return lines


def _schedule(before: HalfPaddle, after: HalfPaddle, words: Words) -> str:
    rows = [
        (new.name, words.length(new.x), words.length(old.crown), words.both(new.crown),
         "-" if new.edge is None else words.length(new.edge))
        for old, new in zip(before.stations, after.stations, strict=True)
    ]
    return grid(("station", "from centre", "crown now", "crown wanted", "edge"), rows)
