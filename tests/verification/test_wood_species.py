"""The species table is whole, marks what it does not know, and gaps are filled as documented."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import InputError, RangeError, UnknownNameError
from springloom.wood.elastic import elastic_ratios
from springloom.wood.estimates import (
    dry_over_green,
    from_gravity,
    value_at_12,
    volumetric_shrinkage,
)
from springloom.wood.gravity import (
    Gravity12,
    GreenGravity,
    to_12,
    to_green,
    volumetric_shrinkage_percent,
)
from springloom.wood.moisture import density, property_at
from springloom.wood.species import (
    PROPERTY_NAMES,
    all_species,
    canadian_ids,
    checked,
    species,
    species_ids,
)

gravities = st.floats(0.1, 0.9)


def test_every_species_is_whole() -> None:
    assert len(all_species()) == len(set(species_ids())) == 34
    for wood in all_species():
        assert wood.source
        assert elastic_ratios(wood).source
        assert wood.at_12.moe_pa is not None
        assert wood.at_12.mor_pa is not None
        assert wood.at_12.comp_par_pa is not None
        for name in PROPERTY_NAMES:
            assert property_at(wood, name, 12.0) > 0.0


def test_drying_raises_specific_gravity_of_every_species() -> None:
    for wood in (*all_species(), *(species(name, "canada") for name in canadian_ids())):
        # paulownia's two printed values are equal to their two digits
        assert wood.gravity_12.value >= wood.gravity_green.value


def test_what_is_from_memory_is_marked() -> None:
    assert species("scots_pine").from_memory("shear_12_mpa")
    assert value_at_12(species("norway_spruce"), "tperp_pa").basis == "memory"
    assert not species("western_redcedar").from_memory("shear_12_mpa")
    assert value_at_12(species("western_redcedar"), "shear_pa").basis == "table"
    assert volumetric_shrinkage(species("sitka_spruce")).basis == "memory"
    assert elastic_ratios(species("sugar_pine")).checked == "memory"
    assert elastic_ratios(species("sitka_spruce")).checked == "found"
    assert elastic_ratios(species("grand_fir")).id == "subalpine_fir"


@pytest.mark.parametrize("name", ["black_spruce", "western_white_pine", "sugar_maple",
                                  "paulownia", "balsa", "khaya"])
def test_missing_tension_across_the_grain_is_estimated_from_gravity(name: str) -> None:
    wood = species(name)
    assert wood.at_12.tperp_pa is None
    found = value_at_12(wood, "tperp_pa")
    assert found.basis == "estimated"
    factor, exponent = (6.0e6, 1.11) if wood.group == "softwood" else (10.1e6, 1.30)
    assert found.value == pytest.approx(factor * wood.gravity_12.value**exponent)


def test_missing_green_value_takes_the_ratio_of_its_group() -> None:
    wood = species("norway_spruce")
    assert wood.green.moe_pa is None
    found = dry_over_green(wood, "moe_pa")
    softwoods = [w for w in all_species() if w.group == "softwood"]
    ratios = [w.at_12.moe_pa / w.green.moe_pa for w in softwoods
              if w.at_12.moe_pa is not None and w.green.moe_pa is not None]
    assert found.basis == "estimated"
    assert found.value == pytest.approx(sum(ratios) / len(ratios))


def test_missing_volumetric_shrinkage_is_eq_4_12() -> None:
    wood = species("white_spruce")
    assert volumetric_shrinkage(wood).basis == "estimated"
    assert volumetric_shrinkage(wood).value == pytest.approx(26.5 * to_green(wood.gravity_12).value)


def test_no_moisture_ratio_for_tension_across_the_grain() -> None:
    with pytest.raises(InputError, match="no moisture ratio") as caught:
        dry_over_green(species("sitka_spruce"), "tperp_pa")
    assert caught.value.field == "property"


def test_canadian_row_keeps_what_its_table_does_not_list() -> None:
    canada, us = species("western_redcedar", "canada"), species("western_redcedar")
    assert canada.at_12.tperp_pa == us.at_12.tperp_pa
    assert canada.elastic_from == us.elastic_from
    assert canada.at_12.moe_pa != us.at_12.moe_pa
    assert canada.gravity_12.value == pytest.approx(to_12(canada.gravity_green).value, abs=5e-5)
    assert "sg_12" in canada.derived_fields
    assert "Table 5-4b" in canada.source


def test_unknown_names_are_told_with_the_nearest_known() -> None:
    with pytest.raises(UnknownNameError, match="did you mean 'western_redcedar'") as caught:
        species("western_red_cedar")
    assert caught.value.field == "species"
    with pytest.raises(UnknownNameError):
        species("balsa", "canada")
    with pytest.raises(UnknownNameError) as caught:
        species("balsa", "mars")  # type: ignore[arg-type]  # a wrong word is the point
    assert caught.value.field == "origin"
    with pytest.raises(InputError):
        checked("perhaps")


@given(gravities)
def test_gravity_bases_convert_back_and_forth(value: float) -> None:
    green = GreenGravity(value)
    assert to_green(to_12(green)).value == pytest.approx(value)
    assert to_12(green).value > value


def test_gravity_bases_are_never_mixed() -> None:
    green, dry = GreenGravity(0.4), Gravity12(0.43)
    for wrong in (
        lambda: to_12(dry),  # type: ignore[arg-type]  # mypy refuses it too
        lambda: to_green(green),  # type: ignore[arg-type]  # as above
        lambda: volumetric_shrinkage_percent(dry),  # type: ignore[arg-type]  # as above
        lambda: density(green, 10.0, 12.0),  # type: ignore[arg-type]  # as above
        lambda: from_gravity("softwood", "mor_pa", green),  # type: ignore[arg-type]  # as above
    ):
        with pytest.raises(InputError) as caught:
            wrong()
        assert caught.value.field == "gravity"
    with pytest.raises(RangeError):
        Gravity12(2.0)
    with pytest.raises(RangeError):
        GreenGravity(math.nan)
