"""Every reason of a verdict can fire, says what it should, and only when it should."""

from __future__ import annotations

import dataclasses
from typing import Any, get_args

import pytest

from springloom.wood.assess import assess
from springloom.wood.board import Board, CentralLoadTest, TapTone
from springloom.wood.elastic import elastic_constants
from springloom.wood.readings import central_load_deflection, free_bar_frequency
from springloom.wood.verdict import (
    GRADES,
    GRAIN_CARE,
    GRAIN_LIMIT,
    MOISTURE_CARE_PERCENT,
    MOISTURE_LIMIT_PERCENT,
    MOR_FLOOR_PA,
    Code,
    Reason,
    Verdict,
    judge,
)

VOLUME = 2.4 * 0.09 * 0.038
E_OVER_G = 1.0 / elastic_constants(Board("western_redcedar", 2.4, 0.09, 0.038).wood,
                                   1.0).shear_modulus("quarter")


def bent(e_pa: float) -> CentralLoadTest:
    load = 30.0
    sag = central_load_deflection(e_pa=e_pa, load_n=load, span_m=2.2, width_m=0.09,
                                  depth_m=0.038, e_over_g=E_OVER_G)
    return CentralLoadTest(2.2, load, sag)


def tapped(e_pa: float, density: float) -> TapTone:
    return TapTone(free_bar_frequency(e_pa, density, 2.4, 0.038, E_OVER_G))


GOOD = Board("western_redcedar", 2.4, 0.09, 0.038, mass_kg=358.0 * VOLUME, moisture_percent=11.0,
             grain_slope=1.0 / 30.0, ring="quarter", bending_tests=(bent(8.4e9),))


def verdict(**changes: Any) -> Verdict:
    return judge(assess(dataclasses.replace(GOOD, **changes)))


def reason(code: Code, **changes: Any) -> Reason:
    (found,) = (r for r in verdict(**changes).reasons if r.code == code)
    return found


def test_a_good_board_is_for_use_and_nothing_is_said() -> None:
    assert verdict() == Verdict("use", ())


FIRES: dict[Code, tuple[dict[str, Any], str, str]] = {
    "grain_steep": ({"grain_slope": 1.0 / 12.0}, "use with care", "1 in 12"),
    "grain_too_steep": ({"grain_slope": 1.0 / 8.0}, "not in the loom", "1 in 8"),
    "grain_unread": ({"grain_slope": None}, "use", "slope of the grain"),
    "moisture_high": ({"moisture_percent": 17.0}, "use with care", "17 %"),
    "moisture_green": ({"moisture_percent": 24.0}, "not in the loom", "green"),
    "moisture_unread": ({"moisture_percent": None}, "use", "12 ± 3 %"),
    "density_suspect": ({"mass_kg": 530.0 * VOLUME}, "use with care", "too heavy"),
    "stiffness_suspect": ({"bending_tests": (bent(17.5e9),)}, "use with care", "stiffer"),
    "stiffness_low": ({"bending_tests": (bent(5.3e9),)}, "use with care", "most flexible 5 %"),
    "strength_low": ({"species": "balsa", "mass_kg": 184.0 * VOLUME, "bending_tests": ()},
                     "not in the loom", "25 MPa"),
    "readings_contradict": ({"tap_tones": (tapped(11.0e9, 358.0),)}, "use with care",
                            "Reading 2 (bending test)"),
    "stiffness_untested": ({"bending_tests": ()}, "use", "bending test or a tap tone"),
    "rings_flat": ({"ring": "flat"}, "use", "cup"),
    "from_memory": ({"species": "scots_pine", "mass_kg": 550.0 * VOLUME}, "use",
                    "shear strength, strength across the grain, shear stiffness"),
    "estimated": ({"species": "black_spruce", "mass_kg": 470.0 * VOLUME,
                   "bending_tests": (bent(12e9),)}, "use", "strength across the grain"),
    "elastic_stand_in": ({"species": "yellow_cedar", "mass_kg": 490.0 * VOLUME,
                          "bending_tests": (bent(10e9),)}, "use", "western redcedar stands in"),
}


def test_every_code_has_a_board_that_fires_it() -> None:
    assert set(FIRES) == set(get_args(Code))


@pytest.mark.parametrize("code", sorted(FIRES))
def test_reason_fires_with_its_grade_and_words(code: Code) -> None:
    changes, grade, words = FIRES[code]
    found = reason(code, **changes)
    assert found.grade == grade
    assert words in found.sentence
    assert found.sentence[0].isupper()
    assert found.sentence.endswith(".")
    assert GRADES.index(verdict(**changes).grade) >= GRADES.index(found.grade)


def test_grade_is_that_of_the_strictest_reason_which_comes_first() -> None:
    found = verdict(grain_slope=1.0 / 8.0, moisture_percent=17.0, ring="flat")
    assert found.grade == "not in the loom"
    ranks = [GRADES.index(r.grade) for r in found.reasons]
    assert ranks == sorted(ranks, reverse=True)


def test_a_remark_does_not_spoil_the_grade() -> None:
    found = verdict(ring="flat", grain_slope=None, moisture_percent=None)
    assert found.grade == "use"
    assert {r.code for r in found.reasons} == {"rings_flat", "grain_unread", "moisture_unread"}


def test_limits_belong_to_the_milder_side() -> None:
    assert verdict(grain_slope=GRAIN_CARE).grade == "use"
    assert verdict(grain_slope=GRAIN_LIMIT).grade == "use with care"
    assert verdict(moisture_percent=MOISTURE_CARE_PERCENT).grade == "use"
    assert verdict(moisture_percent=MOISTURE_LIMIT_PERCENT).grade == "use with care"


def test_steep_grain_quotes_table_5_12() -> None:
    numbers = dict(reason("grain_steep", grain_slope=1.0 / 10.0).numbers)
    assert numbers["mor_percent"] == pytest.approx(81.0)  # FPL-GTR-282 Table 5-12, 1 in 10
    assert numbers["impact_percent"] == pytest.approx(62.0)


def test_grain_beyond_the_table_says_at_most() -> None:
    assert "at most 55 %" in reason("grain_too_steep", grain_slope=0.3).sentence


def test_a_light_board_and_a_limp_one_are_told_as_such() -> None:
    assert "too light" in reason("density_suspect", mass_kg=230.0 * VOLUME).sentence
    limp = reason("stiffness_suspect", bending_tests=(bent(3.5e9),))
    assert "more flexible" in limp.sentence
    ringing = reason("stiffness_suspect", mass_kg=None, bending_tests=(),
                     tap_tones=(tapped(18e9, 358.0),))
    assert "for its weight" in ringing.sentence


def test_low_strength_quotes_the_lower_five_percent() -> None:
    changes = FIRES["strength_low"][0]
    numbers = dict(reason("strength_low", **changes).numbers)
    found = assess(dataclasses.replace(GOOD, **changes))
    assert numbers["mor_lower_5_percent_pa"] == found.after.mor_pa.quantile(0.05)
    assert numbers["floor_pa"] == MOR_FLOOR_PA


def test_flat_rings_quote_table_13_5() -> None:
    numbers = dict(reason("rings_flat", ring="flat").numbers)
    assert numbers["flat_m"] == pytest.approx(0.083 * 0.00234 * 4.0)
    assert numbers["on_edge_m"] == pytest.approx(0.083 * 0.00111 * 4.0)
