"""A tuning round by round: what each told, what its planing was to bring, what it brought.

And what all of it teaches for the next paddle from wood like this.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from springloom.errors import SpringloomError
from springloom.records.design import Design
from springloom.report.tune_tables import Grid
from springloom.report.tune_words import blade_words, blocked_words, headline, removal_words
from springloom.report.words import Words
from springloom.tune.advice import Removal
from springloom.tune.carry import Removals
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import Estimate, Known
from springloom.tune.evidence import SIDES, Side
from springloom.tune.prediction import Between
from springloom.tune.rounds import steps


@dataclass(frozen=True)
class Turn:
    """One round as its readings tell it.

    Attributes:
        known: what was known then.
        told: what follows from it; None without a target.
    """

    known: Estimate
    told: Counsel | None


def turns_of(design: Design) -> tuple[tuple[Turn, ...], str]:
    """Go through the rounds; return those that could be worked out, and why it ended early.

    A round at hand in which nothing was read yet is none.
    """
    try:
        rules, wanted = design.rules, design.target
        course = steps(design.paddle, design.build, design.rounds, design.readings, wanted,
                       design.limits, rules)
    except SpringloomError as error:
        return (), str(error)
    found: list[Turn] = []
    count = len(design.rounds) + bool(design.readings)
    try:
        while len(found) < count:
            one = next(course)
            known = one.now()
            found.append(Turn(known, None if wanted is None else counsel(
                known, wanted, design.limits, one.rules(rules))))
    except SpringloomError as error:
        return tuple(found), str(error)
    return tuple(found), ""


def advised_words(told: Counsel, words: Words) -> list[str]:
    """What a round advised: the headline, and a sentence a blade."""
    advice = told.advice
    if advice.blocked:
        return [headline(advice), *blocked_words(told.plans[0].known)]
    pass_m = told.plans[0].rules.pass_m
    return [headline(advice), *(blade_words(blade, pass_m, words) for blade in advice.blades)]


def kept_words(advice: Mapping[str, Any], words: Words) -> list[str]:
    """The same from what was kept when the round was closed; empty where nothing was.

    Removals are told in the reader's units; the rest as it was said then.
    """
    said = [str(advice["do_now"])] if advice.get("do_now") else []
    blades = advice.get("advice") or {}
    return said + [_blade(side, blades[side], words) for side in SIDES if side in blades]


def _blade(side: Side, kept: Mapping[str, Any], words: Words) -> str:
    removals = [Removal(**one) for one in kept.get("removals", ())]
    planed = [one for one in removals if one.passes]
    if kept.get("call") != "plane" or not planed:
        return str(kept.get("say", ""))
    pass_m = planed[0].per_face_m / planed[0].passes
    return f"Blade {side.upper()}: {removal_words(removals, pass_m, words)}"


@dataclass(frozen=True, slots=True)
class Came:
    """What a round's planing was to bring to one blade, and what the next round found; m."""

    side: Side
    sank_m: float
    planed: bool
    foretold: Between
    found_m: float | None


def came_of(turn: Turn, removals: Removals, after: Turn | None) -> tuple[Came, ...]:
    """Compare what was foretold of the wood really taken off with what was found after."""
    if turn.told is None or turn.told.prediction is None:
        return ()
    found = [] if after is None or after.told is None or after.told.prediction is None else [
        blade.deflection_m for blade in after.told.advice.blades]
    told = []
    for i, blade in enumerate(turn.told.plans):
        off = removals.get(blade.side, np.zeros(blade.size))
        told.append(Came(blade.side, blade.now[0], bool(np.any(off > 0.0)),
                         Between.log(*blade.sinks(off)), found[i] if found else None))
    return tuple(told)


def came_grid(came: Sequence[Came], words: Words) -> Grid:
    """The same as a table."""
    rows = tuple((
        f"blade {one.side.upper()}", words.bare(one.sank_m), words.bare(one.foretold.value),
        f"{words.bare(one.foretold.low_90)} to {words.bare(one.foretold.high_90)}",
        "not measured yet" if one.found_m is None else words.bare(one.found_m),
        "" if one.found_m is None else _verdict(one)) for one in came)
    headers = ("", "sank", "foretold after planing", "90 % sure of", "found then", "")
    return Grid(f"What came of it: how far the tip sinks ({words.system})", headers, rows, "lrrrrl")


def _verdict(one: Came) -> str:
    assert one.found_m is not None  # asked before
    inside = one.foretold.low_90 <= one.found_m <= one.foretold.high_90
    return "as foretold" if inside else "not as foretold"


def wood_grid(turns: Sequence[Turn], words: Words) -> Grid:
    """The wood before anything was read on the paddle, and as learnt."""
    first, last = turns[0].known, turns[-1].known
    pairs: list[tuple[str, Known, Known, Callable[[float], str]]] = [
        (f"stiffness E, blade {side.upper()}", first.modulus(side), last.modulus(side),
         words.modulus) for side in SIDES]
    pairs.append(("density", first.density(), last.density(), words.density))
    rows = tuple((name, f"{show(was.before)} ± {100.0 * was.before_sd / was.before:.0f} %",
                  show(now.value), f"{show(now.low)} to {show(now.high)}")
                 for name, was, now, show in pairs)
    return Grid("The wood", ("", "believed of the board", "as learnt", "90 % sure of"), rows)


CUBE_ROOT = ("The bend goes with stiffness times the cube of the thickness (E·I, with I in "
             "proportion to crown³ for sections of like shape), so the crown for the same bend "
             "goes with the cube root of what the stiffness was believed to be over what it is.")


def next_crowns_share(turns: Sequence[Turn]) -> float:
    """Crowns of the next paddle from such wood over this one's plan, for the same bend.

    EI ∝ E·h³ for sections of like shape.
    """
    believed = turns[0].known.modulus("a").before
    learnt = math.prod(turns[-1].known.modulus(side).value for side in SIDES) ** 0.5
    return math.cbrt(believed / learnt)


def lesson_words(turns: Sequence[Turn], words: Words) -> list[str]:
    """What to do otherwise next time, in sentences."""
    share = next_crowns_share(turns)
    both: list[Known] = [turns[-1].known.modulus(side) for side in SIDES]
    learnt = " and ".join(words.modulus(one.value) for one in both)
    off = abs(100.0 * (share - 1.0))
    if off < _SAME_PERCENT:
        plan = "the planned crowns were right for this wood to within half a percent"
    else:
        plan = (f"for the same bend from wood like this, plan the crowns {off:.1f} % "
                f"{'thinner' if share < 1.0 else 'thicker'} than they were planned here")
    return [f"The wood turned out at {learnt} (blades A and B): {plan}."]


_SAME_PERCENT = 0.5


def removal_grid_of(design: Design, turns: Sequence[Turn], words: Words) -> Grid | None:
    """Off each face, station by station: what the first round foretold, and what it took in all.

    None where nothing came off, or nothing was advised.
    """
    first = turns[0].told if turns else None
    if first is None or not design.rounds or first.prediction is None:
        return None
    rows: list[tuple[str, ...]] = []
    for blade, plan in zip(first.advice.blades, first.plans, strict=True):
        taken = sum((one.removals.get(blade.side, np.zeros(plan.size)) for one in design.rounds),
                    np.zeros(plan.size))
        for removal, off in zip(blade.removals, taken, strict=True):
            if removal.per_face_m or off:
                rows.append((f"{blade.side.upper()}, {removal.station}",
                             _shaving(removal.per_face_m, words), _shaving(float(off), words)))
    if not rows:
        return None
    headers = ("blade and station", "advised in the first round", "taken in all rounds")
    return Grid("Off each face", headers, tuple(rows))


def _shaving(metres: float, words: Words) -> str:
    return words.thin(metres) if metres else "none"
