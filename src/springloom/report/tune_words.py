"""What a round of tuning says, sentence by sentence, as one maker would tell another."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from springloom.fit.bend import Target
from springloom.report.words import Words
from springloom.tune.advice import Advice, Below, BladeAdvice, Removal
from springloom.tune.estimate import Estimate, Misfit
from springloom.tune.evidence import (
    BalanceReading,
    BenchReading,
    HandsReading,
    LengthReading,
    Reading,
    Side,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.matching import Match
from springloom.tune.next_reading import NextReading
from springloom.tune.prediction import Prediction
from springloom.tune.rules import FINE_PASS, Rules
from springloom.tune.saving import Saving
from springloom.tune.targets import Carried

_COUNT = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_STILL_FINE = 1.25  # of a fine pass: from here on a pass is just a pass
_TENTHS = 0.00015  # m; from here on a tenth of a millimetre says enough
_LITTLE = 0.03  # share by which a reading has to narrow things to be worth its trouble


def headline(advice: Advice) -> str:
    """What to do now, in one line."""
    if advice.blocked:
        return "Plane nothing yet: first clear up the readings named below."
    calls = {told.side: told.call for told in advice.blades}
    planed = [side for side, call in calls.items() if call == "plane"]
    unsure = [side for side, call in calls.items() if call == "measure again"]
    if len(planed) == len(calls):
        return "Plane both blades as below, then measure again."
    if planed:
        other = "b" if planed[0] == "a" else "a"
        rest = (f"measure blade {other.upper()} again before planing it" if unsure
                else f"leave blade {other.upper()} alone")
        return f"Plane blade {planed[0].upper()} as below and {rest}."
    if len(unsure) == len(calls):
        return "Measure again before planing anything."
    if unsure:
        other = "b" if unsure[0] == "a" else "a"
        return (f"Measure blade {unsure[0].upper()} again before planing it; leave blade "
                f"{other.upper()} alone.")
    return _stopped(advice)


def _stopped(advice: Advice) -> str:
    a, b = (told.call.removeprefix("stop: ") for told in advice.blades)
    if a == b:
        return f"Stop: {_BOTH[a]}."
    return f"Stop: blade A {_ONE[a]}, blade B {_ONE[b]}."


_BOTH = {
    "on target": "both blades are on target",
    "past target": "both blades bend further than wanted, take nothing off",
    "a limit is reached": "a limit is reached on both blades",
    "the readings can't tell": "what is left to take is less than the readings can tell",
    "the plane is too coarse": "set the plane finer, one pass would be too much",
}
_ONE = {
    "on target": "is on target",
    "past target": "is past it",
    "a limit is reached": "has reached a limit",
    "the readings can't tell": "is as near as the readings can tell",
    "the plane is too coarse": "needs a finer plane",
}


def blocked_words(known: Estimate) -> list[str]:
    """What has to be cleared up, each with what to do."""
    asked = [doubt.sentence for doubt in known.doubts if doubt.blocks]
    return [*asked, *(misfit_words(m) for m in known.misfits)]


def misfit_words(misfit: Misfit) -> str:
    """A reading that was left out, or a stiffness that does not go with the wood."""
    return (f"{misfit.label} doesn't go with the rest, {misfit.sigmas:.0f} times the usual scatter "
            "away: measure it again")


def doubt_words(known: Estimate) -> list[str]:
    """What may be wrong without spoiling the advice."""
    asked = [f"Look at this: {doubt.sentence}." for doubt in known.doubts if not doubt.blocks]
    return [*asked, *(softened_words(m) for m in known.softened)]


def softened_words(misfit: Misfit) -> str:
    """A reading that counts for less."""
    return (f"{misfit.label[0].upper()}{misfit.label[1:]} is {misfit.sigmas:.1f} times the usual "
            "scatter from the rest and counts for less: measure it again.")


def blade_words(told: BladeAdvice, pass_m: float, words: Words) -> str:
    """One blade: what comes off where, or why nothing does."""
    head = f"Blade {told.side.upper()}:"
    if told.call == "plane":
        return f"{head} {removal_words(told.removals, pass_m, words)} It is {told.reason}."
    return f"{head} {told.call.replace(': ', ', ')}: {told.reason}."


def chance_words(advice: Advice) -> str:
    """How likely planing as advised is to go too far; ``""`` where nothing comes off."""
    said = [f"blade {told.side.upper()} {100 * told.overshoot_chance:.1f} %"
            for told in advice.blades if told.call == "plane"]
    return f"Chance of going too far: {_and(said)}." if said else ""


def care_words(rules: Rules, words: Words) -> str:
    """How careful the advice is, and where that comes from."""
    return (f"A removal may have a chance of at most {100 * rules.target_risk:.3g} % of passing "
            f"the target by more than its tolerance, all removals of a tuning together "
            f"{100 * rules.tuning_risk:.3g} %, and one of at most {100 * rules.limit_risk:.3g} % "
            f"of passing a least thickness. One pass takes {words.thin(rules.pass_m)} off a face, "
            f"a round {words.thin(rules.most_m)} at most. How well a hand planes and an "
            "instrument reads: common practice, no source.")


def removal_words(removals: Sequence[Removal], pass_m: float, words: Words) -> str:
    """Say a removal: ``two fine passes, about 0.4 mm off each face, between 1/2 and 3/4; none at
    the root.``
    """
    fine = pass_m <= _STILL_FINE * FINE_PASS
    some: list[str] = []
    none: list[str] = []
    for faces, group in groupby(removals, key=lambda r: (r.upper_passes, r.lower_passes)):
        stretch = list(group)
        if not any(faces):
            none += [at_words(r.station) for r in stretch]
            continue
        said = _passes(stretch[0], pass_m, words, fine=fine, first=not some)
        some.append(f"{said} {_where(stretch)}")
    left = f"; none at {_and(none)}" if none else ""
    return f"{'; '.join(some)}{left}."


def _passes(removal: Removal, pass_m: float, words: Words, *, fine: bool, first: bool) -> str:
    """``two fine passes, about 0.4 mm off each face,``; shorter after the first."""
    upper, lower = removal.upper_passes, removal.lower_passes
    if upper == lower:
        off = f"about {_thin(upper * pass_m, words)}"
        faces = " off each face" if first else ""
        return f"{_counted(upper, fine=fine and first, named=first)}, {off}{faces},"
    parts = [f"{_counted(count, fine=fine and first, named=first)} off the {face} face"
             for count, face in ((upper, "upper"), (lower, "lower")) if count]
    return " and ".join(parts)


def _thin(metres: float, words: Words) -> str:
    """A shaving as it is spoken of."""
    return words.thin(metres) if words.system == "in" or metres < _TENTHS else words.length(metres)


def _counted(count: int, *, fine: bool, named: bool) -> str:
    number = _COUNT[count] if count < len(_COUNT) else str(count)
    if not named:
        return number
    return f"{number} {'fine ' if fine else ''}pass{'' if count == 1 else 'es'}"


def _where(stretch: Sequence[Removal]) -> str:
    first, last = at_words(stretch[0].station), at_words(stretch[-1].station)
    return f"at {first}" if len(stretch) == 1 else f"between {first} and {last}"


def at_words(station: str) -> str:
    """A station inside a sentence: ``the root``, ``75 mm from the tip``."""
    if station in {"root", "tip", "shoulder"}:
        return f"the {station}"
    return station.replace("from tip", "from the tip")


def _and(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def target_words(name: str, target: Target, carried: Carried | None, words: Words) -> str:
    """What is wanted, and where that comes from."""
    under = f"under {words.hung(target.load_n)} at the tip, root clamped"
    sinks, near = words.length(target.deflection_m), words.length(target.tolerance_m)
    if target.lightest:
        return f"{name}: as light as is safe; the tip may sink {sinks} at most {under}."
    said = f"{name}: the tip is to sink {sinks} ± {near} {under}"
    if carried is None:
        return f"{said}."
    doubt = f", known to {100 * carried.sd_ln:.0f} %" if carried.sd_ln > 0.0 else ""
    return (f"{said}: like the other paddle, which sinks {words.length(carried.other_m)}{doubt}; "
            f"carried over as the same {100 * carried.share:.1f} % of the length from root to tip "
            "and the same shape of the bent line.")


def unreachable_words(blades: Sequence[BladeAdvice], target: Target, words: Words) -> str:
    """That the target can't be reached safely in this wood, and the nearest that can; or ``""``."""
    short = [told for told in blades if told.nearest_m < told.goal_m - target.tolerance_m]
    if target.lightest or not short:
        return ""
    who = " and ".join(told.side.upper() for told in short)
    nearest = " and ".join(dict.fromkeys(words.length(told.nearest_m) for told in short))
    return (f"Blade {who} can't reach {words.length(short[0].goal_m)} safely in this wood: inside "
            f"the limits the nearest is {nearest}.")


def below_words(side: Side, below: Sequence[Below], words: Words) -> str:
    """Thicknesses below their least already; or ``""``."""
    if not below:
        return ""
    said = [f"{one.kind} at {at_words(one.station)} {words.length(one.thickness_m)} (least "
            f"{words.length(one.least_m)})" for one in below[:_NAMED]]
    if len(below) > _NAMED:
        said.append(f"and at {len(below) - _NAMED} more")
    return (f"Blade {side.upper()} is thinner than its least already, nothing comes off there: "
            f"{', '.join(said)}.")


def next_words(best: NextReading, words: Words, *, planed: bool) -> str:
    """The reading to take next, and what it is expected to tell."""
    when = "after planing," if planed else "next,"
    said = f"{when} the reading that tells most: {reading_words(best.reading, words)}"
    if best.reduction < _LITTLE:
        return (f"{said}; it narrows what is to come off by {100 * best.reduction:.0f} % only, "
                "and no other tells more")
    return (f"{said}; it should narrow what is still to come off by {100 * best.reduction:.0f} % "
            f"(to ± {words.thin(best.removal_sd_after_m)} a face), the bend to "
            f"± {100 * best.bend_sd_ln_after:.1f} %")


def reading_words(reading: Reading, words: Words) -> str:  # noqa: PLR0911 - one kind a line
    """How to take a reading."""
    if isinstance(reading, WeightReading):
        return "weigh the paddle"
    if isinstance(reading, BalanceReading):
        return "find the paddle's balance point"
    if isinstance(reading, TapReading):
        whose = "the paddle, hung free" if reading.side is None else (
            f"blade {reading.side.upper()}, clamped at the root")
        return f"tap {whose}, and record the tone"
    blade = f"blade {reading.side.upper()}"
    if isinstance(reading, LengthReading):
        return f"measure {blade} from shoulder to tip"
    at = at_words(reading.name)
    if isinstance(reading, BenchReading):
        return (f"clamp {blade} at the root, hang {words.hung(reading.load)} from the tip and "
                f"read how far {at} sinks")
    if isinstance(reading, HandsReading):
        return f"lay the paddle on two supports, hang the weight from {blade} and read {at}"
    if isinstance(reading, ThicknessReading):
        inset = f" ({words.length(0.005)} in)" if reading.kind == "edge" else ""
        return f"caliper {blade}'s {reading.kind}{inset} at {at}"
    if isinstance(reading, WidthReading):
        return f"measure {blade}'s width at {at}"
    return f"trace {blade}'s section at {at}"


def weight_words(predicted: Prediction, words: Words) -> str:
    """The whole paddle's weight and where it balances, now and then."""
    now, then = predicted.mass_now_kg, predicted.mass_then_kg
    at = predicted.balance_then_m.value
    said = f"the paddle weighs {words.mass(now.value)}"
    if now.value - then.value > _GRAM:
        said += f", then {words.mass(then.value)}"
    sure = f"90 % sure of {words.mass(then.low_90)} to {words.mass(then.high_90)}"
    moved = at - predicted.balance_now_m.value
    shift = f" ({_offset(moved, words)} of where it does now)" if abs(moved) > _SEEN else ""
    where = f"{_offset(at, words)} of its centre" if abs(at) > _SEEN else "at its centre"
    return f"{said} ({sure}), and balances {where}{shift}"


def saving_words(saving: Saving, words: Words) -> str:
    """What a saving brings and what it risks."""
    grams = words.mass(saving.saved_kg)
    verb = "saves" if saving.kind == "sharper ridge" else "save"
    when = "" if saving.now else "on the next blade "
    head = f"blade {saving.side.upper()}: {when}{_SAVES[saving.kind]} {verb} {grams}"
    if saving.kind == "thinner edges":
        risk = (f"splitting screen {saving.splitting_ratio:.2f}, then "
                f"{saving.splitting_after_ratio:.2f}")
    else:
        risk = f"least margin {saving.margin_ratio:.2f}, then {saving.margin_after_ratio:.2f}"
    return f"{head} at the same bend; {saving.risk} ({risk})"


_SAVES = {"thinner edges": "thinner edges", "sharper ridge": "a sharper ridge at the root",
          "shoulder blend": "the root's edges eased into the shoulder"}


def saving_detail(saving: Saving, words: Words) -> str:
    """What calipers should read where a saving is made."""
    said = [f"{at_words(s.station)}: crown {words.length(s.crown_after_m)}, half-way out "
            f"{words.length(s.flank_after_m)}, edge {words.length(s.edge_after_m)}"
            for s in saving.stations]
    return f"blade {saving.side.upper()}, {saving.kind}: {'; '.join(said)}"


def match_words(found: Match, target: Target, words: Words) -> list[str]:
    """How alike the blades are, now and then."""
    return [_bend_match(found, target, words), _weight_match(found, words)]


def _bend_match(found: Match, target: Target, words: Words) -> str:
    then = words.length(abs(found.bend_then_m.value))
    near = words.length(target.tolerance_m)
    end = "" if found.alike else f", which is more than the {near} wanted"
    if found.stiffer is None:
        return f"the blades can't be told apart by these readings; then {then} apart{end}"
    chance = found.stiffer_chance
    sure = "more than 99" if chance > 0.99 else f"{100 * chance:.0f}"
    return (f"blade {found.stiffer.upper()} is the stiffer ({sure} % sure), the other sinks "
            f"{words.length(abs(found.bend_now_m.value))} further; then {then} apart{end}")


def _weight_match(found: Match, words: Words) -> str:
    apart = abs(found.mass_then_kg)
    if apart < _ALIKE:
        return "the blades then weigh the same"
    side = "A" if found.mass_then_kg > 0.0 else "B"
    said = f"blade {side} is then the heavier by {words.mass(apart)}"
    if found.spare_kg > _GRAM:
        said += f"; {words.mass(found.spare_kg)} of that can come off without touching the bend"
    return said


_NAMED = 3
"""Thin places that are named one by one; the table has them all."""

_GRAM, _ALIKE = 0.0005, 0.0015
"""Less than half a gram is no change of weight, and blades this near weigh the same, kg."""
_SEEN = 0.0005  # m


def _offset(offset_m: float, words: Words) -> str:
    return f"{words.length(abs(offset_m))} on blade {'A' if offset_m >= 0.0 else 'B'}'s side"
