"""From readings to a board: evidence narrows, and simulated boards lie where they are claimed."""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import SpringloomError
from springloom.wood.assess import (
    BENDING_METHOD_SD_LN,
    TAP_METHOD_SD_LN,
    BoardAssessment,
    assess,
)
from springloom.wood.board import UNREAD_GRAIN, UNREAD_MOISTURE, Board, CentralLoadTest, TapTone
from springloom.wood.elastic import elastic_constants, ratio_sd_ln
from springloom.wood.estimates import E_L_OVER_MOE, ESTIMATE_SD_LN
from springloom.wood.grain import remaining_percent, stiffness_factor
from springloom.wood.material import material_from, species_material
from springloom.wood.moisture import density_at, property_at
from springloom.wood.readings import (
    central_load_deflection,
    central_load_modulus,
    free_bar_frequency,
)
from springloom.wood.species import species, species_ids
from springloom.wood.variability import COV, QUANTITIES, covariance, sd_ln

BARE = Board("western_redcedar", 2.4, 0.09, 0.038, moisture_percent=12.0,
             moisture_sd_percent=0.0, grain_slope=0.0, grain_slope_sd=0.0, ring="quarter")
E_OVER_G = 1.0 / elastic_constants(BARE.wood, 1.0).shear_modulus("quarter")


def bent(e_pa: float, load_n: float = 150.0, span_m: float = 2.2) -> CentralLoadTest:
    """The test a board of exactly this modulus would give."""
    sag = central_load_deflection(e_pa=e_pa, load_n=load_n, span_m=span_m, width_m=BARE.width_m,
                                  depth_m=BARE.thickness_m, e_over_g=E_OVER_G)
    return CentralLoadTest(span_m, load_n, sag)


def tapped(e_pa: float, density: float) -> TapTone:
    """The tone a board of exactly this modulus and density would give."""
    return TapTone(free_bar_frequency(e_pa, density, BARE.length_m, BARE.thickness_m, E_OVER_G))


def change(board: Board, **changes: Any) -> Board:
    return dataclasses.replace(board, **changes)


# ---- the starting point --------------------------------------------------------------------


@pytest.mark.parametrize("name", species_ids())
def test_before_any_reading_the_means_are_the_tables(name: str) -> None:
    wood = species(name)
    found = assess(change(BARE, species=name)).before
    assert found.e_pa.mean == pytest.approx(E_L_OVER_MOE * property_at(wood, "moe_pa", 12.0))
    assert found.density_kg_m3.mean == pytest.approx(density_at(wood, 12.0))
    assert found.mor_pa.mean == pytest.approx(property_at(wood, "mor_pa", 12.0))
    assert found.e_pa.cov == pytest.approx(COV["e"])
    if wood.at_12.tperp_pa is None:
        spread = math.hypot(sd_ln("tperp"), ESTIMATE_SD_LN)
        assert found.tperp_pa.sd_ln == pytest.approx(spread)
    else:
        assert found.tperp_pa.mean == pytest.approx(wood.at_12.tperp_pa)


def test_moisture_and_grain_move_the_starting_point() -> None:
    wet = assess(change(BARE, moisture_percent=18.0)).before
    assert wet.e_pa.mean == pytest.approx(E_L_OVER_MOE * property_at(BARE.wood, "moe_pa", 18.0))
    assert wet.density_kg_m3.mean == pytest.approx(density_at(BARE.wood, 18.0))
    steep = assess(change(BARE, grain_slope=0.1)).before
    straight = assess(BARE).before
    et = 0.055  # redcedar, FPL-GTR-282 Table 5-1
    assert steep.e_pa.median / straight.e_pa.median == pytest.approx(stiffness_factor(0.1, et))
    assert steep.mor_pa.median / straight.mor_pa.median == pytest.approx(
        remaining_percent(0.1, "mor") / 100.0)
    assert steep.shear_pa == straight.shear_pa


def test_doubt_about_moisture_and_grain_widens_the_spread() -> None:
    sure = assess(BARE).before
    doubtful = assess(change(BARE, moisture_sd_percent=3.0, grain_slope_sd=0.03)).before
    assert doubtful.e_pa.sd_ln > sure.e_pa.sd_ln
    assert doubtful.mor_pa.sd_ln > sure.mor_pa.sd_ln
    # grain only ever takes away: doubt about straight grain lowers the median
    assert doubtful.e_pa.median < sure.e_pa.median


def test_what_nobody_read_is_said() -> None:
    found = assess(Board("sitka_spruce", 2.4, 0.09, 0.038))
    assert [text.split()[0] for text in found.assumptions] == ["moisture", "slope", "lie"]
    assert found.board.moisture == UNREAD_MOISTURE
    assert found.board.grain == UNREAD_GRAIN
    assert assess(BARE).assumptions == ()


def test_grain_beyond_the_table_is_taken_at_its_end() -> None:
    end = assess(change(BARE, grain_slope=0.2)).before
    assert assess(change(BARE, grain_slope=0.5)).before == end


# ---- readings ------------------------------------------------------------------------------


def test_no_reading_leaves_the_starting_point() -> None:
    found = assess(BARE)
    assert found.after == found.before
    assert found.evidence == ()
    assert found.contradictions == ()


def test_weighing_moves_stiffness_along_the_correlation() -> None:
    # exact Gaussian conditioning on the one number: ln E moves by cov(E, density) / var * surprise
    heavy = 1.2 * assess(BARE).before.density_kg_m3.median
    mass = heavy * BARE.length_m * BARE.width_m * BARE.thickness_m
    found = assess(change(BARE, mass_kg=mass, mass_sd_kg=0.0, length_sd_m=0.0, width_sd_m=0.0,
                          thickness_sd_m=0.0))
    spread = covariance("softwood")
    step = spread[0, 1] / spread[0, 0] * math.log(1.2)
    assert math.log(found.after.e_pa.median / found.before.e_pa.median) == pytest.approx(step)
    left = spread[1, 1] - spread[0, 1] ** 2 / spread[0, 0]
    assert found.after.e_pa.sd_ln == pytest.approx(math.sqrt(left))
    assert found.after.density_kg_m3.median == pytest.approx(heavy)


def test_a_sharp_bending_test_all_but_fixes_stiffness() -> None:
    test = dataclasses.replace(bent(9.3e9), deflection_sd_m=1e-9, load_sd_n=0.0, span_sd_m=0.0)
    found = assess(change(BARE, bending_tests=(test,), width_sd_m=0.0, thickness_sd_m=0.0))
    (evidence,) = found.evidence
    assert evidence.observed == pytest.approx(9.3e9)
    # what remains is the method's own error and that of E/G in a share of shear of 0.4 %
    assert found.after.e_pa.sd_ln == pytest.approx(BENDING_METHOD_SD_LN, rel=0.02)
    # the species still weighs in by the square of the two spreads, here 1/400
    assert found.after.e_pa.median == pytest.approx(9.3e9, rel=2e-3)


def test_a_sharp_tap_tone_and_weighing_do_the_same() -> None:
    mass = 340.0 * BARE.length_m * BARE.width_m * BARE.thickness_m
    tap = dataclasses.replace(tapped(9.3e9, 340.0), sd_hz=1e-6)
    found = assess(change(BARE, mass_kg=mass, mass_sd_kg=0.0, tap_tones=(tap,), width_sd_m=0.0,
                          thickness_sd_m=0.0, length_sd_m=0.0))
    # all that is left is the method's 3 % against the species' 20 %: a pull of (3/20)^2
    assert found.after.e_pa.median == pytest.approx(9.3e9, rel=5e-3)
    assert found.after.e_pa.sd_ln == pytest.approx(TAP_METHOD_SD_LN, rel=0.03)


def test_an_edgewise_test_uses_the_other_size() -> None:
    sag = central_load_deflection(e_pa=8e9, load_n=400.0, span_m=2.2, width_m=BARE.thickness_m,
                                  depth_m=BARE.width_m, e_over_g=1.0 / 0.087)
    test = CentralLoadTest(2.2, 400.0, sag, edgewise=True)
    assert assess(change(BARE, bending_tests=(test,))).evidence[0].observed == pytest.approx(8e9)
    tone = TapTone(free_bar_frequency(8e9, 350.0, BARE.length_m, BARE.width_m, 1.0 / 0.087),
                   edgewise=True)
    found = assess(change(BARE, tap_tones=(tone,))).evidence[0]
    assert found.observed == pytest.approx(8e9 / 350.0)


def test_repeating_a_test_does_not_beat_the_shared_errors() -> None:
    # thickness is known to 0.5 %, so E to 1.5 % at best, however often it is bent
    board = change(BARE, thickness_sd_m=0.005 * BARE.thickness_m)
    tests = tuple(dataclasses.replace(bent(8e9), load_n=149.0 + i / 10.0) for i in range(20))
    found = assess(change(board, bending_tests=tests))
    assert found.after.e_pa.sd_ln > 3.0 * 0.005
    assert found.contradictions == ()


@given(
    name=st.sampled_from(species_ids()),
    mass=st.floats(0.7, 1.4),
    e_ratio=st.floats(0.5, 1.8),
    moisture=st.floats(6.0, 16.0),
    slope=st.floats(0.0, 0.15),
)
def test_every_reading_narrows_and_none_widens(
    name: str, mass: float, e_ratio: float, moisture: float, slope: float
) -> None:
    board = change(BARE, species=name, moisture_percent=moisture, moisture_sd_percent=1.5,
                   grain_slope=slope, grain_slope_sd=0.01, origin="us")
    start = assess(board).before
    e, rho = e_ratio * start.e_pa.median, mass * start.density_kg_m3.median
    volume = board.length_m * board.width_m * board.thickness_m
    board = change(board, mass_kg=rho * volume, bending_tests=(bent(e, 20.0),),
                   tap_tones=(tapped(e, rho),))
    found = assess(board)
    spreads = [step.sd_ln_e_before for step in found.evidence]
    spreads.append(found.evidence[-1].sd_ln_e_after)
    assert all(b <= a for a, b in itertools.pairwise(spreads))
    assert spreads[-1] < 0.5 * spreads[0]
    for field in dataclasses.fields(found.after):
        after, before = getattr(found.after, field.name), getattr(found.before, field.name)
        assert after.sd_ln <= before.sd_ln + 1e-12
    assert np.linalg.eigvalsh(np.array(found.log_covariance)).min() > 0.0


def test_order_of_readings_does_not_matter() -> None:
    one, two = bent(8.0e9), bent(8.3e9, load_n=100.0)
    first = assess(change(BARE, mass_kg=2.9, bending_tests=(one, two)))
    second = assess(change(BARE, mass_kg=2.9, bending_tests=(two, one)))
    assert first.log_mean == pytest.approx(second.log_mean)


def test_contradicting_readings_are_named() -> None:
    mass = 350.0 * BARE.length_m * BARE.width_m * BARE.thickness_m
    clash = change(BARE, mass_kg=mass, bending_tests=(bent(7.0e9),),
                   tap_tones=(tapped(10.0e9, 350.0),))
    (found,) = assess(clash).contradictions
    assert (found.first, found.second) == (1, 2)
    assert found.ratio == pytest.approx(0.7, rel=0.01)  # the density believed is 350 within 1 %
    assert found.sigma < -3.0
    agree = change(clash, tap_tones=(tapped(7.2e9, 350.0),))
    assert assess(agree).contradictions == ()


# ---- coverage ------------------------------------------------------------------------------


class Simulated:
    """A board drawn from the species, its true numbers known, and the readings it would give."""

    def __init__(self, rng: np.random.Generator, evidence: tuple[bool, bool, bool]) -> None:
        wood = species("western_redcedar")
        percent, slope = 11.0, 0.05
        wet = max(0.0, rng.normal(percent, 1.5))
        tilt = abs(rng.normal(slope, 0.01))
        spread = covariance(wood.group)
        logs = rng.multivariate_normal(-0.5 * np.diag(spread), spread)
        factor = dict(zip(QUANTITIES, np.exp(logs), strict=True))
        self.density = factor["density"] * density_at(wood, wet)
        self.e = (factor["e"] * E_L_OVER_MOE * property_at(wood, "moe_pa", wet)
                  * stiffness_factor(tilt, 0.055))
        self.mor = (factor["mor"] * property_at(wood, "mor_pa", wet)
                    * remaining_percent(tilt, "mor") / 100.0)
        plain = Board("western_redcedar", 2.4, 0.09, 0.038, moisture_percent=percent,
                      grain_slope=slope, ring="quarter")
        self.board = self._read(rng, plain, evidence)

    def _read(self, rng: np.random.Generator, board: Board, evidence: tuple[bool, bool, bool]
              ) -> Board:
        length, width, depth = (
            rng.normal(getattr(board, f"{name}_m"), getattr(board, f"{name}_sd_m"))
            for name in ("length", "width", "thickness"))
        e_over_g = E_OVER_G * math.exp(rng.normal(0.0, ratio_sd_ln(board.wood)))
        mass = rng.normal(self.density * length * width * depth, board.mass_sd_kg)
        load, span = 100.0, 2.0
        sag = central_load_deflection(
            e_pa=self.e * math.exp(rng.normal(0.0, BENDING_METHOD_SD_LN)), load_n=load,
            span_m=span, width_m=width, depth_m=depth, e_over_g=e_over_g)
        test = CentralLoadTest(rng.normal(span, 1e-3), rng.normal(load, 0.5),
                               rng.normal(sag, 0.1e-3))
        tone = free_bar_frequency(self.e * math.exp(rng.normal(0.0, TAP_METHOD_SD_LN)),
                                  self.density, length, depth, e_over_g)
        tap = TapTone(rng.normal(tone, 0.5))
        weighed, bent_, tapped_ = evidence
        return change(board, mass_kg=mass if weighed else None,
                      bending_tests=(test,) if bent_ else (),
                      tap_tones=(tap,) if tapped_ else ())


def inside(found: BoardAssessment, truth: Simulated) -> list[bool]:
    pairs = ((found.after.e_pa, truth.e), (found.after.density_kg_m3, truth.density),
             (found.after.mor_pa, truth.mor))
    return [low <= true <= high
            for number, true in pairs for low, high in (number.interval(0.9),)]


@pytest.mark.parametrize("evidence", [
    (False, False, False), (True, False, False), (False, True, False), (False, False, True),
    (True, True, False), (True, False, True), (True, True, True),
])
def test_ninety_percent_intervals_hold_nine_boards_in_ten(
    evidence: tuple[bool, bool, bool]
) -> None:
    rng = np.random.default_rng(20240607)
    boards = [Simulated(rng, evidence) for _ in range(2000)]
    hits = np.array([inside(assess(board.board), board) for board in boards])
    # 2000 draws scatter by sqrt(0.9 * 0.1 / 2000) = 0.7 %; three of those
    assert hits.mean(axis=0) == pytest.approx([0.9, 0.9, 0.9], abs=0.02)


def test_readings_of_honest_boards_rarely_contradict() -> None:
    rng = np.random.default_rng(7)
    clashes = sum(bool(assess(Simulated(rng, (True, True, True)).board).contradictions)
                  for _ in range(2000))
    # three sigma: 0.27 % or 5 in 2000 expected, 15 is beyond chance
    assert clashes < 15


# ---- material ------------------------------------------------------------------------------


def test_material_takes_medians_and_low_strengths() -> None:
    found = assess(change(BARE, bending_tests=(bent(8e9),)))
    material = material_from(found)
    assert material.e_pa == found.after.e_pa.median
    assert material.g_pa == pytest.approx(0.086 * material.e_pa)  # GLT/EL of redcedar, Table 5-1
    assert material.g_width_pa == pytest.approx(0.087 * material.e_pa)  # GLR/EL
    assert material.mor_pa == found.after.mor_pa.quantile(0.05)
    assert material.tperp_pa == found.after.tperp_pa.quantile(0.05)
    assert material.sd_ln_e == found.after.e_pa.sd_ln
    assert material_from(found, 0.01).mor_pa < material.mor_pa


def test_species_material_is_an_unmeasured_straight_board() -> None:
    plain = species_material("western_redcedar", ring="quarter")
    assert plain == material_from(assess(BARE))


# ---- refusals ------------------------------------------------------------------------------


@pytest.mark.parametrize(("make", "field"), [
    (lambda: change(BARE, species="teak"), "species"),
    (lambda: change(BARE, ring="rift"), "ring"),
    (lambda: change(BARE, length_m=0.0), "length_m"),
    (lambda: change(BARE, width_m=math.nan), "width_m"),
    (lambda: change(BARE, thickness_m=0.1), "thickness_m"),
    (lambda: change(BARE, thickness_sd_m=0.01), "thickness_sd_m"),
    (lambda: change(BARE, mass_kg=-1.0), "mass_kg"),
    (lambda: change(BARE, mass_kg=2.0, mass_sd_kg=1.0), "mass_sd_kg"),
    (lambda: change(BARE, moisture_percent=300.0), "moisture_percent"),
    (lambda: change(BARE, moisture_sd_percent=-1.0), "moisture_sd_percent"),
    (lambda: change(BARE, grain_slope=-0.1), "grain_slope"),
    (lambda: change(BARE, grain_slope_sd=1.0), "grain_slope_sd"),
    (lambda: change(BARE, bending_tests=(CentralLoadTest(2.5, 10.0, 0.001),)),
     "bending_tests[0].span_m"),
    (lambda: change(BARE, bending_tests=(bent(8e9), CentralLoadTest(0.3, 10.0, 0.001))),
     "bending_tests[1]"),
    (lambda: change(BARE, length_m=0.3, tap_tones=(TapTone(100.0),)), "tap_tones[0]"),
    (lambda: CentralLoadTest(0.01, 10.0, 0.001), "span_m"),
    (lambda: CentralLoadTest(2.0, 0.0, 0.001), "load_n"),
    (lambda: CentralLoadTest(2.0, 10.0, 0.2), "deflection_m"),
    (lambda: CentralLoadTest(2.0, 10.0, 0.002, deflection_sd_m=0.0), "deflection_sd_m"),
    (lambda: CentralLoadTest(2.0, 10.0, 0.002, load_sd_n=-1.0), "load_sd_n"),
    (lambda: CentralLoadTest(2.0, 10.0, 0.002, span_sd_m=1.0), "span_sd_m"),
    (lambda: TapTone(0.0), "frequency_hz"),
    (lambda: TapTone(100.0, 0.0), "sd_hz"),
    (lambda: dataclasses.replace(species_material("balsa"), g_pa=0.0), "g_pa"),
    (lambda: dataclasses.replace(species_material("balsa"), density_kg_m3=-1.0),
     "density_kg_m3"),
    (lambda: material_from(assess(BARE), 0.9), "strength_quantile"),
    (lambda: species_material("balsa", moisture_percent=-3.0), "moisture_percent"),
    (lambda: central_load_modulus(load_n=1.0, span_m=0.1, width_m=0.1, depth_m=0.1,
                                  deflection_m=0.1), "depth_over_span"),
])
def test_bad_input_is_refused_by_field(make: Callable[[], object], field: str) -> None:
    with pytest.raises(SpringloomError) as caught:
        make()
    assert caught.value.field == field
    assert caught.value.allowed
