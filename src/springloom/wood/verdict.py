"""May this board become a loom, and why: the reasons in a maker's words, each with its numbers.

The limits are common practice, no source, except where a reason names one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from springloom.wood.assess import BoardAssessment, Evidence
from springloom.wood.elastic import elastic_ratios
from springloom.wood.estimates import Basis
from springloom.wood.grain import STEEPEST_SLOPE, remaining_percent
from springloom.wood.moisture import size_change
from springloom.wood.variability import QUANTITIES, Quantity

Grade = Literal["use", "use with care", "not in the loom"]
GRADES: tuple[Grade, ...] = ("use", "use with care", "not in the loom")

Code = Literal[
    "grain_steep", "grain_too_steep", "grain_unread", "moisture_high", "moisture_green",
    "moisture_unread", "density_suspect", "stiffness_suspect", "stiffness_low", "strength_low",
    "readings_contradict", "stiffness_untested", "rings_flat", "from_memory", "estimated",
    "elastic_stand_in",
]

GRAIN_CARE = 1.0 / 15.0
"""Steeper grain than this asks for care: common practice, no source."""

GRAIN_LIMIT = 1.0 / 10.0
"""Steeper grain than this has no place in a loom: common practice, no source."""

MOISTURE_CARE_PERCENT = 15.0
"""Wetter than this, let it dry first: common practice, no source."""

MOISTURE_LIMIT_PERCENT = 20.0
"""Wetter than this it is green to a carver: common practice, no source."""

MOR_FLOOR_PA = 25.0e6
"""Least lower-5 % bending strength for a loom: common practice, no source."""

ONE_IN_A_THOUSAND_SIGMA = 3.0902
"""Standard deviations beyond which one board in a thousand lies, at either end."""

LOW_SHARE = 0.05
"""A board more flexible than this share of its species is remarked on."""

_BLADE_WIDTH_M = 0.083  # greatest width of the default paddle, for the remark on flat rings

_WORDS: dict[Quantity, str] = {
    "density": "density", "e": "stiffness", "mor": "bending strength",
    "comp": "compression strength", "shear": "shear strength",
    "tperp": "strength across the grain",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason: what it argues for by itself, said plainly, with its numbers by name."""

    code: Code
    grade: Grade
    sentence: str
    numbers: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Verdict:
    """The grade of the strictest reason, and all reasons, the strictest first."""

    grade: Grade
    reasons: tuple[Reason, ...]


def judge(assessment: BoardAssessment) -> Verdict:
    """Return the verdict on an assessed board.

    A reason whose grade is "use" is a remark. A board nothing speaks against is "use".
    """
    found = [
        *_grain(assessment), *_moisture(assessment), *_suspicions(assessment),
        *_contradictions(assessment), *_stiffness(assessment), *_strength(assessment),
        *_rings(assessment), *_sources(assessment),
    ]
    found.sort(key=lambda reason: -GRADES.index(reason.grade))
    return Verdict(found[0].grade if found else "use", tuple(found))


def _grain(a: BoardAssessment) -> Iterator[Reason]:
    slope = a.board.grain_slope
    if slope is None:
        yield Reason("grain_unread", "use", "Nobody read the slope of the grain; look at two "
                     "faces that meet before trusting the loom to it.")
        return
    if slope <= GRAIN_CARE:
        return
    left = remaining_percent(min(slope, STEEPEST_SLOPE), "mor")
    shock = remaining_percent(min(slope, STEEPEST_SLOPE), "impact")
    at_most = "at most " if slope > STEEPEST_SLOPE else ""
    text = (f"The grain runs out at 1 in {1.0 / slope:.0f}: {at_most}{left:.0f} % of the bending "
            f"strength and {shock:.0f} % of the shock strength are left "
            "(Wood Handbook, Table 5-12).")
    numbers = (("slope", slope), ("mor_percent", left), ("impact_percent", shock))
    if slope > GRAIN_LIMIT:
        yield Reason("grain_too_steep", "not in the loom", text, numbers)
    else:
        yield Reason("grain_steep", "use with care", text, numbers)


def _moisture(a: BoardAssessment) -> Iterator[Reason]:
    percent = a.board.moisture_percent
    if percent is None:
        mean, sd = a.board.moisture
        yield Reason("moisture_unread", "use", f"Nobody read the moisture; {mean:g} ± {sd:g} % is "
                     "taken, as for a board that has lain indoors.",
                     (("moisture_percent", mean), ("sd_percent", sd)))
    elif percent > MOISTURE_LIMIT_PERCENT:
        yield Reason("moisture_green", "not in the loom", f"At {percent:g} % moisture the board "
                     "is green; it will move, and it is weak until it dries.",
                     (("moisture_percent", percent),))
    elif percent > MOISTURE_CARE_PERCENT:
        yield Reason("moisture_high", "use with care", f"At {percent:g} % moisture the board "
                     "still has drying to do; let it settle before carving to size.",
                     (("moisture_percent", percent),))


def _suspicions(a: BoardAssessment) -> Iterator[Reason]:
    """Name the readings that fewer than one board in a thousand of the species would give."""
    for evidence in a.evidence:
        if abs(evidence.sigma) <= ONE_IN_A_THOUSAND_SIGMA:
            continue
        numbers = (("observed", evidence.observed), ("expected", evidence.expected),
                   ("sigma", evidence.sigma))
        if evidence.kind == "weighing":
            yield Reason("density_suspect", "use with care", _density_text(a, evidence), numbers)
        else:
            yield Reason("stiffness_suspect", "use with care", _stiffness_text(a, evidence),
                         numbers)


def _density_text(a: BoardAssessment, evidence: Evidence) -> str:
    side = "heavy" if evidence.sigma > 0.0 else "light"
    return (f"At {evidence.observed:.0f} kg/m³ the board is too {side} for {a.wood.common_name} "
            f"(about {evidence.expected:.0f}): check the species, the sizes and the scale.")


def _stiffness_text(a: BoardAssessment, evidence: Evidence) -> str:
    side = "stiffer" if evidence.sigma > 0.0 else "more flexible"
    share = 100.0 * abs(evidence.observed / evidence.expected - 1.0)
    by = "for its weight " if evidence.kind == "tap tone" else ""
    return (f"By the {evidence.kind} the board is {by}{share:.0f} % {side} than "
            f"{a.wood.common_name} should be, as fewer than one board in a thousand is: "
            "check the species and the readings.")


def _contradictions(a: BoardAssessment) -> Iterator[Reason]:
    for clash in a.contradictions:
        first, second = a.evidence[clash.first].kind, a.evidence[clash.second].kind
        by = "more" if clash.ratio > 1.0 else "less"
        share = 100.0 * abs(clash.ratio - 1.0)
        yield Reason("readings_contradict", "use with care",
                     f"Reading {clash.first + 1} ({first}) says {share:.0f} % {by} stiffness than "
                     f"reading {clash.second + 1} ({second}); both can't be right, so repeat them.",
                     (("ratio", clash.ratio), ("sigma", clash.sigma)))


def _stiffness(a: BoardAssessment) -> Iterator[Reason]:
    now = a.after.e_pa
    if all(evidence.kind == "weighing" for evidence in a.evidence):
        yield Reason("stiffness_untested", "use", "Stiffness is only what the species suggests, "
                     f"give or take {100.0 * now.cov:.0f} %; a bending test or a tap tone would "
                     "nearly settle it.", (("cov", now.cov),))
    low = a.before.e_pa.quantile(LOW_SHARE)
    if now.median < low:
        yield Reason("stiffness_low", "use with care",
                     f"At {now.median / 1e9:.1f} GPa the board is among the most flexible 5 % of "
                     f"{a.wood.common_name} (below {low / 1e9:.1f} GPa); the paddle must be made "
                     "thicker for the same bend.",
                     (("e_pa", now.median), ("lower_5_percent_pa", low)))


def _strength(a: BoardAssessment) -> Iterator[Reason]:
    low = a.after.mor_pa.quantile(LOW_SHARE)
    if low < MOR_FLOOR_PA:
        yield Reason("strength_low", "not in the loom",
                     f"One such board in twenty breaks below {low / 1e6:.0f} MPa in bending; a "
                     f"loom should have {MOR_FLOOR_PA / 1e6:.0f} MPa.",
                     (("mor_lower_5_percent_pa", low), ("floor_pa", MOR_FLOOR_PA)))


def _rings(a: BoardAssessment) -> Iterator[Reason]:
    if a.board.ring != "flat":
        return
    flat = -size_change(a.wood, "tangential", _BLADE_WIDTH_M, 12.0, 8.0)
    edge = -size_change(a.wood, "radial", _BLADE_WIDTH_M, 12.0, 8.0)
    yield Reason("rings_flat", "use", "The growth rings lie flat in the blade, so drying from 12 "
                 f"to 8 % narrows it by {1e3 * flat:.1f} mm where rings on edge would give "
                 f"{1e3 * edge:.1f} mm, and it can cup.", (("flat_m", flat), ("on_edge_m", edge)))


def _sources(a: BoardAssessment) -> Iterator[Reason]:
    by_basis: dict[Basis, list[str]] = {"table": [], "memory": [], "estimated": []}
    for quantity in QUANTITIES:
        by_basis[a.basis(quantity)].append(_WORDS[quantity])
    ratios = elastic_ratios(a.wood)
    if ratios.checked == "memory":
        by_basis["memory"].append("shear stiffness")
    if by_basis["memory"]:
        yield Reason("from_memory", "use", "Remembered, not checked against the source: "
                     f"{', '.join(by_basis['memory'])} of {a.wood.common_name}.")
    if by_basis["estimated"]:
        yield Reason("estimated", "use", "No table prints it, so it is estimated from specific "
                     f"gravity: {', '.join(by_basis['estimated'])} of {a.wood.common_name}.")
    if ratios.id != a.wood.id:
        yield Reason("elastic_stand_in", "use", f"Shear stiffness of {a.wood.common_name} is "
                     f"printed nowhere; {ratios.id.replace('_', ' ')} stands in for it.")
