"""Which board for this paddle, in words: what each would make of it, and why it stands there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.fit.bend import BendDesign
from springloom.fit.choice import Ground, Suitability
from springloom.mechanics.strength import SAFE_MARGIN
from springloom.report.board_words import stiffness_words
from springloom.report.cut_words import lack_words
from springloom.report.forecast_words import gives_first, margin_warning, sure_of
from springloom.report.words import Words
from springloom.shape.paddle import Paddle

SCHEDULE_HEADS = ("station", "crown now", "crown wanted")


@dataclass(frozen=True, slots=True)
class ChoiceWords:
    """One board as it is told beside the others.

    Attributes:
        why: why it stands where it does.
        size: whether the paddle comes out of it.
        lacks: what it is short of, a sentence each.
        stiffness: with its band.
        weighs: the paddle's weight with its band.
        sinks: the tip with the crowns as they are.
        wanted: whether the wanted bend can be had.
        margin: the weakest load case.
        warning: set where that case is not borne.
        schedules: a table of crowns for each blade, (heading, rows); empty where there is none.
    """

    why: str
    size: str
    lacks: tuple[str, ...]
    stiffness: str
    weighs: str
    sinks: str
    wanted: str
    margin: str
    warning: str
    schedules: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]


def choice_words(paddle: Paddle, found: Sequence[Suitability], words: Words) -> list[ChoiceWords]:
    """Return the words of boards that stand in their order."""
    return [_words(paddle, one, found[i - 1] if i else None, words)
            for i, one in enumerate(found)]


def _words(paddle: Paddle, one: Suitability, before: Suitability | None,
           words: Words) -> ChoiceWords:
    after = one.assessment.after
    weakest = one.weakest
    return ChoiceWords(
        _why(one, before, words), _size(one),
        tuple(lack_words(paddle, lack, words) for lack in one.lacks),
        stiffness_words(one.assessment, words),
        f"{words.mass(one.mass_kg)} bare, "
        f"{sure_of(one.mass_kg, after.density_kg_m3.sd_ln, words.mass)}",
        f"{words.length(one.tip_m)}, {sure_of(one.tip_m, after.e_pa.sd_ln, words.length)}",
        _wanted(one, words), f"{weakest.margin:.2f}: {weakest.case}, {gives_first(weakest, words)}",
        margin_warning(weakest) if weakest.margin < SAFE_MARGIN else "",
        _schedules(paddle, one.made, words),
    )


def _size(one: Suitability) -> str:
    if one.fits:
        return "The board will do"
    return "The board will do only as it is, with nothing to spare" if one.fits_bare else (
        "The board won't do")


def _wanted(one: Suitability, words: Words) -> str:
    if one.refused is not None:
        return f"can't be had: {one.refused.message}; {one.refused.allowed}"
    if one.made is None:
        return "none is wanted yet"
    return f"{words.length(one.made[0].deflection_m)} with these crowns"


def _why(one: Suitability, before: Suitability | None, words: Words) -> str:
    """The best is told why it is good, each other what puts it behind the one before it."""
    if before is None:
        good = _size(one) if one.fits else f"Of these the best, but: {_size(one).lower()}"
        made = "" if one.made is None else " for the wanted bend"
        return f"{good}; verdict {one.verdict.grade}; {words.mass(one.mass_kg)}{made}"
    ground = one.behind(before)
    if ground is None:
        return "As good as the one before it"
    return f"Behind the one before it: {_behind(ground, one, before, words)}"


def _behind(ground: Ground, one: Suitability, before: Suitability, words: Words) -> str:
    if ground == "weight":
        bend = " for the same bend" if one.made is not None else ""
        return f"{words.mass(one.mass_kg - before.mass_kg)} heavier{bend}"
    said: dict[Ground, str] = {
        "size": _size(one).lower(), "verdict": f"verdict {one.verdict.grade}",
        "bend": "the wanted bend can't be had in it",
        "strength": "it does not bear every load case",
    }
    return said[ground]


def _schedules(paddle: Paddle, made: tuple[BendDesign, BendDesign] | None,
               words: Words) -> tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]:
    if made is None:
        return ()
    blades = [("Crowns for the wanted bend", paddle.a, made[0])]
    if not paddle.is_symmetric:
        blades = [("Crowns of blade A", paddle.a, made[0]),
                  ("Crowns of blade B", paddle.b, made[1])]
    return tuple(
        (heading, tuple((new.name, words.length(old.crown), words.both(new.crown))
                        for old, new in zip(half.stations, design.half.stations, strict=True)))
        for heading, half, design in blades)
