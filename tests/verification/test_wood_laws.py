"""Moisture, grain, elasticity and variability: closed forms, limits and refusals."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import InputError, RangeError, SpringloomError, UnknownNameError
from springloom.wood import moisture
from springloom.wood.elastic import (
    Orthotropic,
    elastic_constants,
    is_positive_definite,
    ratio_sd_ln,
)
from springloom.wood.grain import (
    Property,
    combined_slope,
    hankinson,
    remaining_percent,
    stiffness_factor,
)
from springloom.wood.lognormal import LogNormal, sd_ln_from_cov
from springloom.wood.readings import central_load_modulus, e1876_modulus, free_bar_root
from springloom.wood.species import (
    PROPERTY_NAMES,
    Group,
    Species,
    all_species,
    canadian_ids,
    species,
)
from springloom.wood.variability import (
    COV,
    QUANTITIES,
    STIFFNESS_CORRELATION,
    correlation,
    covariance,
    density_correlation,
)

EVERY_WOOD = [*all_species(), *(species(name, "canada") for name in canadian_ids())]


# ---- moisture ------------------------------------------------------------------------------


@given(st.floats(1e6, 2e8), st.floats(0.4, 1.0), st.floats(20.0, 30.0))
def test_moisture_adjustment_meets_its_two_ends(p12: float, ratio: float, mp: float) -> None:
    green = p12 * ratio
    assert moisture.adjust(p12, green, mp, 12.0) == pytest.approx(p12)
    assert moisture.adjust(p12, green, mp, mp) == green
    assert moisture.adjust(p12, green, mp, mp + 40.0) == green
    # continuous at Mp: eq 5-3 gives exactly Pg there
    assert moisture.adjust(p12, green, mp, mp - 1e-9) == pytest.approx(green, rel=1e-8)


def test_drying_strengthens_every_species_but_not_across_the_grain() -> None:
    for wood in EVERY_WOOD:
        for name in PROPERTY_NAMES:
            dry, damp = (moisture.property_at(wood, name, m) for m in (8.0, 18.0))
            if name == "tperp_pa":
                assert dry == damp == moisture.property_at(wood, name, 12.0)
            else:
                assert dry > damp


@given(st.floats(0.0, 60.0), st.floats(0.0, 12.0))
def test_shrinkage_is_linear_below_saturation_and_nothing_above(m: float, total: float) -> None:
    expected = total * (30.0 - m) / 30.0 if m < 30.0 else 0.0
    assert moisture.shrinkage_percent(total, m) == pytest.approx(expected, abs=1e-12)


def test_size_goes_and_comes_back() -> None:
    narrow = moisture.size_after(0.1, 7.5, 20.0, 8.0)
    assert narrow < 0.1
    assert moisture.size_after(narrow, 7.5, 8.0, 20.0) == pytest.approx(0.1)
    assert moisture.size_after(0.1, 7.5, 40.0, 0.0) == pytest.approx(0.1 * (1.0 - 0.075))


def test_size_change_follows_the_printed_coefficient() -> None:
    cedar = species("western_redcedar")
    grown = moisture.size_change(cedar, "tangential", 0.083, 8.0, 12.0)
    assert grown == pytest.approx(0.083 * 0.00234 * 4.0)
    with pytest.raises(RangeError, match="6 to 14") as caught:
        moisture.size_change(cedar, "tangential", 0.083, 8.0, 20.0)
    assert caught.value.field == "after_percent"


def test_missing_change_coefficient_follows_shrinkage_at_10_percent() -> None:
    ash = species("white_ash")
    assert ash.c_radial is None
    expected = 0.049 / 30.0 / (1.0 - 0.049 * 20.0 / 30.0)
    assert moisture.change_coefficient(ash, "radial") == pytest.approx(expected)


@given(st.floats(-20.0, 60.0), st.floats(0.0, 0.98))
def test_equilibrium_moisture_rises_with_humidity(t: float, h: float) -> None:
    assert moisture.equilibrium_moisture(t, h + 0.01) > moisture.equilibrium_moisture(t, h) >= 0.0


def test_wood_gains_weight_as_it_takes_up_water() -> None:
    for wood in EVERY_WOOD:
        values = [moisture.density_at(wood, m) for m in (0.0, 6.0, 12.0, 20.0, 30.0, 80.0)]
        assert values == sorted(values)
        assert values[2] == pytest.approx(1120.0 * wood.gravity_12.value)


# ---- grain ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["mor", "impact", "comp_par"])
def test_strength_falls_steadily_with_slope(name: Property) -> None:
    values = [remaining_percent(s, name) for s in np.linspace(0.0, 0.2, 400)]
    assert values[0] == 100.0
    assert all(a >= b for a, b in itertools.pairwise(values))


@given(st.floats(0.03, 0.3), st.floats(1.5, 2.5))
def test_hankinson_meets_both_directions(ratio: float, n: float) -> None:
    assert hankinson(1.0, ratio, 0.0, n) == pytest.approx(1.0)
    assert hankinson(1.0, ratio, math.pi / 2.0, n) == pytest.approx(ratio)
    between = hankinson(1.0, ratio, 0.3, n)
    assert ratio <= between


@given(st.floats(0.0, 0.19), st.floats(0.02, 0.2))
def test_stiffness_falls_with_slope(slope: float, ratio: float) -> None:
    assert stiffness_factor(slope + 0.01, ratio) < stiffness_factor(slope, ratio) <= 1.0
    sin2 = slope**2 / (1.0 + slope**2)
    assert stiffness_factor(slope, ratio) == pytest.approx(1.0 / (sin2 / ratio + 1.0 - sin2))


# ---- elastic -------------------------------------------------------------------------------


@pytest.mark.parametrize("wood", EVERY_WOOD, ids=lambda w: f"{w.id}-{w.origin}")
def test_constants_are_reciprocal_and_positive_definite(wood: Species) -> None:
    c = elastic_constants(wood, 1.0e10)
    s = c.compliance()
    assert np.array_equal(s, s.T)
    assert is_positive_definite(s)
    assert s[0, 1] == pytest.approx(-c.nu_rl / c.e_r_pa)
    assert s[0, 2] == pytest.approx(-c.nu_tl / c.e_t_pa)
    assert s[1, 2] == pytest.approx(-c.nu_tr / c.e_t_pa)
    assert [1.0 / s[i, i] for i in range(6)] == pytest.approx(
        [c.e_l_pa, c.e_r_pa, c.e_t_pa, c.g_rt_pa, c.g_lt_pa, c.g_lr_pa])


def test_shear_modulus_follows_the_rings() -> None:
    c = elastic_constants(species("douglas_fir_coast"), 1.0e10)
    assert c.shear_modulus("flat") == c.width_shear_modulus("quarter") == c.g_lr_pa
    assert c.shear_modulus("quarter") == c.width_shear_modulus("flat") == c.g_lt_pa
    mixed = 0.5 * (c.g_lr_pa + c.g_lt_pa)
    assert c.shear_modulus("mixed") == c.width_shear_modulus("mixed") == pytest.approx(mixed)
    with pytest.raises(UnknownNameError) as caught:
        c.shear_modulus("rift")  # type: ignore[arg-type]  # a wrong word is the point
    assert caught.value.field == "ring"


def test_impossible_constants_are_refused() -> None:
    with pytest.raises(InputError, match="energy") as caught:
        Orthotropic(1e10, 1e9, 1e9, 7e8, 7e8, 1e8, 0.3, 0.3, 1.05)
    assert caught.value.field == "nu_rt"
    with pytest.raises(RangeError) as caught:
        Orthotropic(1e10, 0.0, 1e9, 7e8, 7e8, 1e8, 0.3, 0.3, 0.4)
    assert caught.value.field == "e_r_pa"


def test_a_stand_in_is_less_sure() -> None:
    assert ratio_sd_ln(species("yellow_cedar")) > ratio_sd_ln(species("western_redcedar"))


# ---- variability ---------------------------------------------------------------------------


@pytest.mark.parametrize("group", ["softwood", "hardwood"])
def test_correlations_are_positive_definite_and_as_documented(group: Group) -> None:
    matrix = correlation(group)
    assert np.array_equal(matrix, matrix.T)
    assert np.linalg.eigvalsh(matrix).min() > 0.05
    at = {name: i for i, name in enumerate(QUANTITIES)}
    assert matrix[at["e"], at["mor"]] == pytest.approx(STIFFNESS_CORRELATION)
    for quantity in QUANTITIES:
        expected = density_correlation(group, quantity)
        assert matrix[at["density"], at[quantity]] == pytest.approx(expected)


def test_density_correlation_is_exponent_times_ratio_of_spreads() -> None:
    # rho = b COV_G / COV_P; the logarithms' spreads differ from the COVs by less than 2.5 %
    assert density_correlation("softwood", "e") == pytest.approx(0.84 * 0.10 / 0.22, rel=0.025)
    assert density_correlation("hardwood", "shear") == pytest.approx(1.13 * 0.10 / 0.14, rel=0.025)


def test_covariance_holds_the_tabulated_spreads() -> None:
    for i, quantity in enumerate(QUANTITIES):
        assert covariance("softwood")[i, i] == pytest.approx(math.log(1.0 + COV[quantity] ** 2))


@given(st.floats(1.0, 1e10), st.floats(0.01, 0.6))
def test_lognormal_keeps_mean_and_spread(mean: float, cov: float) -> None:
    number = LogNormal.from_mean(mean, cov)
    assert number.mean == pytest.approx(mean)
    assert number.cov == pytest.approx(cov)
    assert number.sd == pytest.approx(mean * cov)
    assert number.quantile(0.5) == pytest.approx(number.median)
    low, high = number.interval(0.9)
    assert low * high == pytest.approx(number.median**2)
    assert number.z(high) == pytest.approx(1.6448536269514722)  # standard normal, 95 %
    assert number.sd_ln == pytest.approx(math.sqrt(math.log(1.0 + cov**2)))


def test_a_sure_number_has_no_spread() -> None:
    sure = LogNormal(3.0, 0.0)
    assert sure.quantile(0.05) == sure.mean == 3.0
    assert sure.z(3.0) == 0.0
    assert sure.z(4.0) == math.inf


# ---- refusals ------------------------------------------------------------------------------


@pytest.mark.parametrize(("call", "field"), [
    (lambda: moisture.adjust(-1.0, 1.0, 25.0, 12.0), "p12"),
    (lambda: moisture.adjust(1.0, 1.0, 12.0, 12.0), "mp_percent"),
    (lambda: moisture.adjust(1.0, 1.0, 25.0, -1.0), "moisture_percent"),
    (lambda: moisture.property_at(species("balsa"), "tperp_pa", -1.0), "moisture_percent"),
    (lambda: moisture.equilibrium_moisture(20.0, 50.0), "humidity"),
    (lambda: moisture.equilibrium_moisture(300.0, 0.5), "temperature_c"),
    (lambda: moisture.size_after(0.0, 7.0, 12.0, 8.0), "size_m"),
    (lambda: moisture.shrinkage_percent(50.0, 12.0), "shrinkage_percent"),
    (lambda: remaining_percent(0.25, "mor"), "grain_slope"),
    (lambda: remaining_percent(-0.1, "mor"), "grain_slope"),
    (lambda: remaining_percent(0.1, "shear"), "property"),  # type: ignore[arg-type]  # wrong word
    (lambda: hankinson(1.0, 0.0, 0.1, 2.0), "across"),
    (lambda: hankinson(1.0, 0.1, 2.0, 2.0), "angle_rad"),
    (lambda: stiffness_factor(0.1, 0.0), "et_over_el"),
    (lambda: combined_slope(-0.1, 0.1), "one"),
    (lambda: elastic_constants(species("balsa"), 0.0), "e_l_pa"),
    (lambda: LogNormal(0.0, 0.1), "median"),
    (lambda: LogNormal(1.0, 0.1).quantile(1.0), "probability"),
    (lambda: LogNormal(1.0, 0.1).z(0.0), "value"),
    (lambda: sd_ln_from_cov(-0.1), "cov"),
    (lambda: free_bar_root(0.3, 10.0), "depth_over_length"),
    (lambda: free_bar_root(0.1, 100.0), "e_over_g"),
    (lambda: e1876_modulus(mass_kg=1.0, frequency_hz=9.0, width_m=0.1, length_m=1.0,
                           depth_m=0.1), "depth_over_length"),
    (lambda: central_load_modulus(load_n=0.0, span_m=1.0, width_m=0.1, depth_m=0.04,
                                  deflection_m=0.01), "load_n"),
])
def test_what_cannot_be_is_refused_by_name(call: Callable[[], object], field: str) -> None:
    with pytest.raises(SpringloomError) as caught:
        call()
    assert caught.value.field == field
    assert caught.value.allowed
