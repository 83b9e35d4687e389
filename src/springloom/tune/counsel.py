"""One round of tuning in full: advice, what follows from it, what to read next, what else to do."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.fit.bend import Limits, Target
from springloom.tune.advice import Advice, advise_on, plans
from springloom.tune.estimate import Estimate
from springloom.tune.matching import Match, match
from springloom.tune.next_reading import NextReading, State, next_readings
from springloom.tune.planing import Planing
from springloom.tune.prediction import Prediction, predict
from springloom.tune.rules import Rules
from springloom.tune.saving import Saving, savings

Plans = tuple[Planing, Planing]


@dataclass(frozen=True, slots=True)
class Counsel:
    """All that a round of tuning has to say.

    Attributes:
        plans: both blades with their goal.
        advice: what to take off, or why not.
        prediction: what both blades are and do after that; None while something is in doubt.
        readings: what to read next, the most telling first: after the planing where something
            comes off, now where nothing does; empty where both blades are to be left alone.
        savings: weight that can come off without touching the bend, the greatest first.
        match: how alike the blades are; None while something is in doubt.
    """

    plans: Plans
    advice: Advice
    prediction: Prediction | None
    readings: tuple[NextReading, ...]
    savings: tuple[Saving, ...]
    match: Match | None


def counsel(
    known: Estimate, target: Target, limits: Limits | None = None, rules: Rules | None = None
) -> Counsel:
    """Advise on both blades (:func:`springloom.tune.advice.advise`) and work out what follows."""
    both = plans(known, target, limits, rules)
    advice = advise_on(both)
    if advice.blocked:
        return Counsel(both, advice, None, (), (), None)
    predicted, saved = predict(both, advice), _saved(both, advice)
    return Counsel(both, advice, predicted, _next(both, advice), saved,
                   match(both, advice, predicted, saved))


def _saved(both: Plans, advice: Advice) -> tuple[Saving, ...]:
    """Savings on blades whose thickness is known and is not in question."""
    settled = {told.side for told in advice.blades if told.call != "measure again"}
    found = savings(both, (advice.a.per_face, advice.b.per_face)) if settled else ()
    return tuple(saving for saving in found if saving.side in settled)


def _next(both: Plans, advice: Advice) -> tuple[NextReading, ...]:
    """Readings for the blades that are not done."""
    told = list(zip(both, advice.blades, strict=True))
    open_ones = [blade for blade, one in told if not one.call.startswith("stop")]
    if not any(one.call == "plane" for one in advice.blades):
        return next_readings(State.now(both[0].known), open_ones)
    taken = [(blade, one.per_face) for blade, one in told]
    return next_readings(State.planed(both[0].known, taken), open_ones)
