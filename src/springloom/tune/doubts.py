"""Bad input and bad luck, in plain words: what would explain readings that the plan can't.

Rivals to "all is as typed" are a load in the wrong unit, a clamp that slipped and another wood.
Each is an estimate of its own from the same readings; their evidences say how much better it fits
(Laplace; MacKay, Information Theory, Inference, and Learning Algorithms, 2003, ch. 28; from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from springloom.errors import SpringloomError
from springloom.mechanics.setups import POUND_FORCE
from springloom.tune.evidence import (
    SIDES,
    BalanceReading,
    BenchReading,
    HandsReading,
    Reading,
    Side,
    WeightReading,
)
from springloom.tune.model import Model
from springloom.tune.other_wood import other_wood
from springloom.tune.prior import CLAMP_SD, Prior, prior_of
from springloom.tune.settle import (
    DOUBTFUL,
    Evidence,
    Floats,
    Settled,
    ln_evidence,
    posterior,
    settle,
    sigmas_from_rest,
    strangeness,
)
from springloom.wood.material import Material

Code = Literal["load unit", "clamp slipped", "other wood", "wrong sign", "hysteresis", "scatter"]

KILOGRAM_FORCE = 9.80665
"""Newtons, by the 3rd CGPM (1901)."""

ONE_IN_A_THOUSAND = 3.2905267314918945
"""Half-width in sd of what 999 in 1,000 boards, or clamps, are inside of."""

BETTER = math.log(20.0)
"""How much better, in ln, another explanation must fit to be asked about."""

_LOOK_AT = (2.0, 1.5)  # sd of stiffness, and of clamp, from which rivals are worked out at all
_SLIP = 10.0  # times CLAMP_SD: how far a clamp that slipped may turn
_FITTING = 1.645  # sd within which a balance point fits
_MOST_LN = 600.0  # beyond it no float holds the number
_HYSTERESIS = (0.001, 0.03)  # m, and share of the deflection, beyond which it is worth a word
_SCATTER = 0.0008  # m


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that may be wrong, said so that the maker can look.

    Attributes:
        code: which kind.
        sentence: in plain words.
        blocks: whether advice drawn from these readings could be wrong.
        better: how many times better it fits than what was typed, None where nothing rivals.
        side: the blade in question, if it is one.
        loads_n: the weights that may have been another unit's, as typed.
        meant: that other unit, kg or lb.
        label: the reading it is about, if it is one.
    """

    code: Code
    sentence: str
    blocks: bool
    better: float | None = None
    side: Side | None = None
    loads_n: tuple[float, ...] = ()
    meant: str = ""
    label: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """What an estimate came to: all readings, those left, its prior, unknowns, covariance."""

    model: Model
    given: tuple[Reading, ...]
    used: Evidence
    prior: Prior
    settled: Settled
    covariance: Floats


def doubts_of(found: Found) -> tuple[Doubt, ...]:
    """Everything about these readings that should be asked, worst first."""
    told = [*_rivals(found), *_signs(found), *_unsteady(found.given)]
    return tuple(sorted(told, key=lambda doubt: not doubt.blocks))


def stiffness_sigmas(found: Found) -> tuple[float, float]:
    """How strange each blade's ln E is for the stated wood, sd."""
    mean, spread = prior_of(found.model)
    a, b = (strangeness(float(found.settled.theta[i] - mean[i]), float(spread[i, i]),
                        float(found.covariance[i, i])) for i in range(len(SIDES)))
    return a, b


def _clamp_sigmas(found: Found, settled: Settled, covariance: Floats) -> Floats:
    """How far each clamp turned, in sd of what clamps usually do."""
    at = [found.model.layout.clamp(side) for side in SIDES]
    before = np.diag(found.prior.covariance)[at]
    moved = settled.theta[at] - found.prior.mean[at]
    learnt = np.maximum(before - np.diag(covariance)[at], 1e-12 * before)
    return np.abs(moved) / np.sqrt(learnt)


@dataclass(frozen=True, slots=True)
class _Rival:
    """Another explanation, and how much better it fits in ln."""

    doubt: Doubt
    gain: float


def _rivals(found: Found) -> list[Doubt]:
    """Other explanations that fit far better, the best first; only odd readings are looked into."""
    stiff = max(stiffness_sigmas(found))
    clamps = _clamp_sigmas(found, found.settled, found.covariance)
    dropped = len(found.given) > len(found.used.readings)
    if stiff < _LOOK_AT[0] and np.max(clamps) < _LOOK_AT[1] and not dropped:
        return []
    everything, base = _as_typed(found)
    if base is None:
        return []
    as_typed = ln_evidence(everything, base, found.prior)
    sides = [side for side, odd in zip(SIDES, clamps, strict=True)
             if dropped or odd >= _LOOK_AT[1]]
    rivals = [*_clamps(found, everything, as_typed, sides)]
    if dropped or stiff >= _LOOK_AT[0]:
        rivals += _loads(found, as_typed)
    weight_dropped = (any(isinstance(r, WeightReading) for r in found.given)
                      and not any(isinstance(r, WeightReading) for r in found.used.readings))
    if stiff > ONE_IN_A_THOUSAND or weight_dropped:
        rivals += _wood(found, everything)
    best = max((rival.gain for rival in rivals), default=0.0)
    kept = [rival for rival in rivals if rival.gain >= max(best - BETTER, BETTER)
            or (rival.doubt.code == "other wood" and best < BETTER and stiff > ONE_IN_A_THOUSAND)]
    return [rival.doubt for rival in sorted(kept, key=lambda rival: -rival.gain)]


def _as_typed(found: Found) -> tuple[Evidence, Settled | None]:
    """All readings with all their weight, and where they settle."""
    used = found.used
    if len(used.readings) == len(found.given) and np.all(used.kept == 1.0):
        return used, found.settled
    everything = Evidence.of(found.model, found.given)
    return everything, settle(everything, found.prior, found.settled.theta)


def _times(gain: float) -> float:
    """How many times better a gain in ln fits."""
    return math.exp(min(gain, _MOST_LN))


def _fits(gain: float) -> str:
    times = _times(gain)
    return "a million times or more" if times > 1e6 else f"{float(f'{times:.2g}'):,.0f} times"


def _loads(found: Found, as_typed: float) -> Iterator[_Rival]:
    """All loads, or where there are several each alone, in pounds for kilograms or back."""
    hung = sorted({r.load for r in found.given if isinstance(r, BenchReading | HandsReading)})
    groups = [hung, *([load] for load in hung if len(hung) > 1)]
    for loads in groups if hung else []:
        for factor, typed, meant in ((KILOGRAM_FORCE / POUND_FORCE, "lb", "kg"),
                                     (POUND_FORCE / KILOGRAM_FORCE, "kg", "lb")):
            gain = _load_gain(found, loads, factor, as_typed)
            if gain is None:
                continue
            unit = POUND_FORCE if typed == "lb" else KILOGRAM_FORCE
            amounts = " and ".join(f"{load / unit:.3g}" for load in loads)
            sentence = (f"the blades bend as if {amounts} {meant} had been hung, not {typed} "
                        f"(that fits {_fits(gain)} better): in which unit was the weight?")
            yield _Rival(Doubt("load unit", sentence, True, _times(gain), loads_n=tuple(loads),
                               meant=meant), gain)


def _load_gain(
    found: Found, loads: Sequence[float], factor: float, as_typed: float
) -> float | None:
    try:
        changed = [replace(r, load=r.load * factor)
                   if isinstance(r, BenchReading | HandsReading) and r.load in loads else r
                   for r in found.given]
        evidence = Evidence.of(found.model, changed)
    except SpringloomError:
        return None  # no such weight hangs from a paddle
    at = settle(evidence, found.prior)
    return None if at is None else ln_evidence(evidence, at, found.prior) - as_typed


def _clamps(
    found: Found, everything: Evidence, as_typed: float, sides: Sequence[Side]
) -> Iterator[_Rival]:
    """Each blade's clamp turning far further than clamps do."""
    for side in sides:
        at = found.model.layout.clamp(side)
        wider = found.prior.covariance.copy()
        wider[at, at] += (_SLIP * CLAMP_SD) ** 2
        prior = Prior(found.prior.mean, wider)
        settled = settle(everything, prior, found.settled.theta)
        if settled is None:
            continue
        turned = float(settled.theta[at] - prior.mean[at]) / CLAMP_SD
        usual = strangeness(turned * CLAMP_SD, float(found.prior.covariance[at, at]),
                            float(posterior(everything, settled, found.prior)[at, at]))
        gain = ln_evidence(everything, settled, prior) - as_typed
        if abs(turned) < ONE_IN_A_THOUSAND or usual < ONE_IN_A_THOUSAND:
            continue
        sentence = (f"blade {side.upper()}'s clamp seems to have slipped: it turned "
                    f"{abs(turned):.0f} times as far as clamps usually do (that fits "
                    f"{_fits(gain)} better); tighten it and read again")
        yield _Rival(Doubt("clamp slipped", sentence, True, _times(gain), side), gain)


def _wood(found: Found, everything: Evidence) -> Iterator[_Rival]:
    """Blades far stiffer, softer, heavier or lighter than the stated wood."""
    build = found.model.build
    other = other_wood(build, everything, found.prior, prior_of(found.model),
                       found.settled.theta)
    if other is None:
        return
    like = f"boards of {build.name}" if isinstance(build, Material) else "layups"
    offered = f" It would go with {' or '.join(other.names)}." if other.names else ""
    if max(stiffness_sigmas(found)) > ONE_IN_A_THOUSAND:
        way = "stiffer" if other.ln_e > 0.0 else "softer"
        odd = (f"the paddle is {way} than 999 of 1,000 {like} like this one would make it "
               f"({100.0 * (math.exp(other.ln_e) - 1.0):+.0f} %)")
        slip = "a load or a length"
    else:
        odd, slip = f"the paddle's weight does not go with {like} like this one", "the scale"
    sentence = f"{odd}: is it another wood, or is {slip} wrong?{offered}"
    yield _Rival(Doubt("other wood", sentence, True, _times(other.gain)), other.gain)


def _signs(found: Found) -> Iterator[Doubt]:
    """A balance point that fits on the other side of the centre."""
    for i, reading in enumerate(found.given):
        if not isinstance(reading, BalanceReading) or _agrees(found.used, reading):
            continue
        sigmas = []
        for offset in (reading.offset, -reading.offset):
            others = [*found.given[:i], *found.given[i + 1:]]
            kept = [r for r in others if r in found.used.readings]
            evidence = Evidence.of(found.model, [*kept, replace(reading, offset=offset)])
            at = settle(evidence, found.prior, found.settled.theta)
            sigmas.append(math.inf if at is None else
                          float(sigmas_from_rest(evidence, at, found.prior)[-1]))
        if sigmas[0] > DOUBTFUL and sigmas[1] < _FITTING:
            yield Doubt("wrong sign", "the balance point fits on the other side of the centre: "
                        "which blade is A?", True, label=reading.label)


def _agrees(used: Evidence, reading: Reading) -> bool:
    """Whether a reading was taken with all its weight."""
    return any(one is reading and kept == 1.0
               for one, kept in zip(used.readings, used.kept, strict=True))


def _unsteady(readings: Sequence[Reading]) -> Iterator[Doubt]:
    """Readings that came out otherwise on the way back, or again."""
    for reading in readings:
        if not isinstance(reading, BenchReading | HandsReading):
            continue
        gap, floor = abs(reading.hysteresis), _HYSTERESIS
        if gap > max(floor[0], floor[1] * reading.deflection):
            yield Doubt("hysteresis", f"{reading.label}: loading and unloading differ by "
                        f"{1e3 * gap:.1f} mm; something gives or sticks, and the reading counts "
                        "for less", False, label=reading.label)
        if reading.scatter > _SCATTER:
            yield Doubt("scatter", f"{reading.label}: repeats scatter by "
                        f"{1e3 * reading.scatter:.1f} mm; something moves between them", False,
                        label=reading.label)
