"""One round of tuning as a page: what to do now comes first."""

from __future__ import annotations

from itertools import groupby

from springloom.fit.bend import Target
from springloom.report.cautions import TUNING
from springloom.report.words import Words, bullets, folded, grid, heading
from springloom.tune.advice import Advice, BladeAdvice, Removal
from springloom.tune.estimate import Estimate
from springloom.tune.evidence import SIDES


def tune_text(name: str, known: Estimate, advice: Advice, target: Target, words: Words) -> str:
    """What to plane off where, what it will do, and what is known."""
    blades = (advice.a, advice.b)
    lines = [_first_line(blade, words) for blade in blades]
    lines += ["", folded(f"{name}: wanted {words.length(target.deflection_m)} ± "
                         f"{words.length(target.tolerance_m)} at the tip under "
                         f"{words.hung(target.load_n)}, root clamped.")]
    if any(blade.call == "plane" for blade in blades):
        lines += [heading(f"Passes off each face, and what calipers should then read "
                          f"({words.system})"), _removals(advice, words), folded(_HOW)]
    lines += [heading("What it does now, and should then"), _before_after(blades, words),
              *bullets(_alike(advice, words))]
    if known.misfits:
        said = [f"{m.label} is {m.sigmas:.0f} sigma from the rest: measure it again"
                for m in known.misfits]
        lines += [heading("Readings that don't fit"), *bullets(said)]
    lines += [heading("What the readings say"), *bullets([_bend(b, words) for b in blades]),
              *bullets(_known(known, target, words))]
    return "\n".join([*lines, heading("Cautions"), *bullets(TUNING)])


_HOW = ("Passes are at the ridge and run out towards the edge. Fair them out at both ends, leave "
        "the shoulder alone, then measure again.")


def _first_line(blade: BladeAdvice, words: Words) -> str:
    head = f"Blade {blade.side.upper()}: "
    if blade.call == "plane":
        return folded(head + _in_words(blade.removals, words), "         ", "")
    return folded(f"{head}{blade.call}; {blade.reason}.", "         ", "")


def _in_words(removals: tuple[Removal, ...], words: Words) -> str:
    """Say removals as stretches of like passes: ``2 passes (0.40 mm) from 1/4 to 1/2``."""
    said = []
    for passes, group in groupby(removals, key=lambda r: r.passes):
        stretch = list(group)
        if passes == 0:
            continue
        where = (f"at {stretch[0].station}" if len(stretch) == 1
                 else f"from {stretch[0].station} to {stretch[-1].station}")
        plural = "" if passes == 1 else "es"
        said.append(f"{passes} pass{plural} ({words.thin(stretch[0].per_face_m)}) {where}")
    return f"plane off each face {', '.join(said)}; then measure again."


def _removals(advice: Advice, words: Words) -> str:
    rows = [
        (mine.station, *_cells(mine, words), *_cells(theirs, words))
        for mine, theirs in zip(advice.a.removals, advice.b.removals, strict=True)
    ]
    headers = ("station", "A: passes", "crown", "edge", "B: passes", "crown", "edge")
    return grid(headers, rows)


def _cells(removal: Removal, words: Words) -> tuple[str, str, str]:
    passes = str(removal.passes) if removal.passes else "-"
    return passes, words.bare(removal.crown_after_m), words.bare(removal.edge_after_m)


def _before_after(blades: tuple[BladeAdvice, ...], words: Words) -> str:
    rows = [
        (f"blade {b.side.upper()}", words.length(b.deflection_m),
         f"± {100 * b.deflection_sd_ln:.1f} %", words.length(b.predicted_m),
         f"{100 * b.overshoot_chance:.1f} %", words.mass(b.mass_saved_kg))
        for b in blades
    ]
    headers = ("", "sinks now", "known to", "should sink", "chance too far", "saves")
    return grid(headers, rows)


def _alike(advice: Advice, words: Words) -> list[str]:
    goal = words.length(advice.a.goal_m)
    if advice.stiffer is None:
        said = "the blades can't be told apart by these readings"
    else:
        chance = advice.stiffer_chance
        sure = "more than 99" if chance > 0.99 else f"{100 * chance:.0f}"
        said = (f"blade {advice.stiffer.upper()} is the stiffer ({sure} % sure), the other sinks "
                f"{words.length(advice.difference_m)} further")
    return [f"{said}; the aim for both is {goal}"]


def _bend(blade: BladeAdvice, words: Words) -> str:
    text = f"blade {blade.side.upper()}: {blade.bend.words}"
    for spot in blade.bend.spots:
        text += (f"; {spot.kind} from {words.length(spot.from_m)} to {words.length(spot.to_m)} "
                 f"from the centre ({100 * spot.excess:+.0f} %)")
    return text


def _known(known: Estimate, target: Target, words: Words) -> list[str]:
    said = []
    for side in SIDES:
        e, clamp = known.modulus(side), known.clamp_turning(side)
        half = known.half(side)
        arm = target.load_n * (half.tip - half.loom.root) ** 2  # clamp at the root, load at the tip
        said.append(
            f"blade {side.upper()}: E {words.modulus(e.value)}, 90 % sure of "
            f"{words.modulus(e.low)} to {words.modulus(e.high)} (before: "
            f"{words.modulus(e.before)} ± {100 * e.before_sd / e.before:.0f} %); of what the tip "
            f"shows, the clamp gives {words.length(arm * clamp.value)} ± "
            f"{words.length(arm * clamp.sd)}"
        )
    density = known.density()
    low, high = words.density(density.low), words.density(density.high)
    return [*said, f"density: {words.density(density.value)}, 90 % sure of {low} to {high}"]
