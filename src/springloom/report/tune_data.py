"""One round of tuning as plain data; every key that carries a quantity ends in its SI unit."""

from __future__ import annotations

from springloom.fit.bend import Target
from springloom.report.data import Data, estimate_data, plain
from springloom.report.tune_asides import Asides
from springloom.report.tune_words import (
    blade_words,
    blocked_words,
    headline,
    next_words,
    reading_words,
)
from springloom.report.words import Words
from springloom.tune.advice import Advice
from springloom.tune.counsel import Counsel
from springloom.tune.estimate import Estimate
from springloom.tune.next_reading import NextReading

_WORDS = Words("mm")
"""Sentences in the data are in millimetres whatever the page is in."""


def tune_data(
    known: Estimate, told: Counsel, target: Target, asides: Asides | None = None
) -> Data:
    """Estimate, advice and all that follows from it; no prediction while something is in doubt."""
    advice = told.advice
    return {
        "do_now": headline(advice),
        "blocked": blocked_words(known) if advice.blocked else [],
        "target": plain(target),
        **(asides or Asides()).data(),
        **estimate_data(known),
        "doubts": [{"code": d.code, "sentence": d.sentence, "blocks": d.blocks}
                   for d in known.doubts],
        "softened": plain(known.softened),
        "advice": _advice(told, advice),
        "prediction": plain(told.prediction),
        "match": None if told.match is None else {
            **plain(told.match), "balance_shift_m": told.match.balance_shift_m,
        },
        "next_readings": [_reading(one, planed=_planed(advice)) for one in told.readings],
        "savings": plain(told.savings),
    }


def _planed(advice: Advice) -> bool:
    return any(blade.call == "plane" for blade in advice.blades)


def _advice(told: Counsel, advice: Advice) -> Data:
    """Calls and reasons alone where every number could be wrong."""
    pass_m = told.plans[0].rules.pass_m
    blades = {blade.side: {"say": blade_words(blade, pass_m, _WORDS)} for blade in advice.blades}
    if advice.blocked:
        return {blade.side: {"call": blade.call, "reason": blade.reason, **blades[blade.side]}
                for blade in advice.blades}
    data: Data = plain(advice)
    for side, said in blades.items():
        data[side].update(said)
    return data


def _reading(one: NextReading, *, planed: bool) -> Data:
    return {
        "label": one.label, "say": reading_words(one.reading, _WORDS),
        "why": next_words(one, _WORDS, planed=planed),
        "removal_sd_before_m": one.removal_sd_before_m,
        "removal_sd_after_m": one.removal_sd_after_m,
        "bend_sd_ln_before": one.bend_sd_ln_before, "bend_sd_ln_after": one.bend_sd_ln_after,
        "reduction_ratio": one.reduction,
    }

