"""From the wanted bend to the thickness: what would be changed, beside what is."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.fit.bend import BendDesign, design_blades_for_bend
from springloom.records.design import Design
from springloom.report.forecast_words import SCHEDULE_HEADS, binding_words, schedule_rows
from springloom.report.words import Words


@dataclass(frozen=True, slots=True)
class BladeProposal:
    """One blade: its schedule, its bend, and the limits that hold it."""

    name: str
    rows: tuple[tuple[str, ...], ...]
    bend: str
    held: tuple[str, ...]


@dataclass(frozen=True)
class Proposal:
    """Thickness for a wanted bend.

    Attributes:
        made: both blades.
        say: for what, and what it weighs.
        heads: of the schedules.
        blades: one for both, or one each.
        sinks_m: what the tip then sinks.
    """

    made: tuple[BendDesign, BendDesign]
    say: str
    heads: tuple[str, ...]
    blades: tuple[BladeProposal, ...]
    design: Design


def proposal_of(design: Design, words: Words) -> Proposal:
    """Work out the crowns for the design's target, as ``springloom shape-to-bend`` does.

    Raises:
        InputError: no bend is wanted, or the wood isn't known.
        UnreachableError: no blade inside the limits bends so; carries the nearest that does.
    """
    target = design.wanted()
    made = design_blades_for_bend(design.paddle, design.build, target, design.limits)
    same = design.paddle.is_symmetric
    weight = f", {words.mass(made[0].mass_kg)}" if same else ""
    sinks = (f"at most {words.length(target.deflection_m)}" if target.lightest
             else words.length(target.deflection_m))
    say = f"For {sinks} at the tip under {words.hung(target.load_n)}: these crowns{weight}."
    halves = (design.paddle.a, design.paddle.b)
    blades = tuple(
        BladeProposal("" if same else name, schedule_rows(half, one.half, words),
                      f"The tip then sinks {words.length(one.deflection_m)}. The bend is "
                      f"{one.character.words}.", binding_words(one, words))
        for name, half, one in zip("AB", halves, made, strict=True) if name == "A" or not same)
    return Proposal(made, say, SCHEDULE_HEADS, blades, design)


def why_of(proposal: Proposal, words: Words) -> str:
    """Why the version that takes it was made."""
    target = proposal.design.wanted()
    kind = "as light as is safe" if target.lightest else words.length(target.deflection_m)
    return f"thickness for {kind} under {words.hung(target.load_n)}"
