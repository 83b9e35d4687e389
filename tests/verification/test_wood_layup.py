"""A layup fills a section with strips that touch and never overlap."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import InputError, ShapeError, SpringloomError
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import Material, species_material

CEDAR = species_material("western_redcedar")
ASH = species_material("white_ash")


def sandwich(half: float = 0.006) -> Layup:
    """Cedar with a strip of ash down the middle."""
    return Layup((Strip(CEDAR, -0.05, -half, -0.02, 0.02), Strip(ASH, -half, half, -0.02, 0.02),
                  Strip(CEDAR, half, 0.05, -0.02, 0.02)))


def test_a_blank_of_one_wood_is_one_strip() -> None:
    solid = Layup.solid(CEDAR)
    assert solid.is_solid
    assert solid.material_at(HALF_BLANK_M, -HALF_BLANK_M) is CEDAR
    solid.require_cover(0.04, 0.02)


def test_a_laminated_blank_knows_what_lies_where() -> None:
    blank = sandwich()
    assert not blank.is_solid
    assert blank.material_at(0.0, 0.01) is ASH
    assert blank.material_at(-0.03, 0.01) is CEDAR
    assert blank.material_at(-0.006, 0.0) is CEDAR  # a glue line: the strip listed first
    blank.require_cover(0.05, 0.02)


@given(st.floats(0.001, 0.049))
def test_touching_strips_never_overlap(half: float) -> None:
    for one in sandwich(half).strips:
        for other in sandwich(half).strips:
            if one != other:
                assert one.overlap_m2(other) == 0.0


def test_overlap_is_the_shared_rectangle() -> None:
    one, other = Strip(CEDAR, 0.0, 0.04, -0.02, 0.02), Strip(ASH, 0.03, 0.06, 0.0, 0.05)
    assert one.overlap_m2(other) == pytest.approx(0.01 * 0.02)
    assert other.overlap_m2(one) == one.overlap_m2(other)


def material(**changes: float) -> Material:
    values = {"e_pa": 1e10, "g_pa": 1e9, "g_width_pa": 1e9, "density_kg_m3": 400.0,
              "mor_pa": 5e7, "comp_pa": 3e7, "shear_pa": 6e6, "tperp_pa": 2e6}
    return Material("test wood", **(values | changes))


@pytest.mark.parametrize(("make", "field"), [
    (lambda: Layup(()), "strips"),
    (lambda: Layup((Strip(CEDAR, 0.0, 0.04, -0.02, 0.02), Strip(ASH, 0.03, 0.06, 0.0, 0.05))),
     "strips[1]"),
    (lambda: Strip(CEDAR, 0.01, 0.01, -0.02, 0.02), "y_max_m"),
    (lambda: Strip(CEDAR, 0.0, 0.01, 0.02, -0.02), "z_max_m"),
    (lambda: Strip(CEDAR, 0.0, 3.0, -0.02, 0.02), "y_max_m"),
    (lambda: sandwich().material_at(0.2, 0.0), "strips"),
    (lambda: sandwich().require_cover(0.05, 0.021), "strips"),
    (lambda: sandwich().require_cover(0.0, 0.02), "half_width_m"),
    (lambda: material(e_pa=-1.0), "e_pa"),
    (lambda: material(sd_ln_e=-0.1), "sd_ln_e"),
    (lambda: material(strength_quantile=0.0), "strength_quantile"),
])
def test_what_is_no_blank_is_refused_by_field(make: Callable[[], object], field: str) -> None:
    with pytest.raises(SpringloomError) as caught:
        make()
    assert caught.value.field == field
    assert caught.value.allowed


def test_the_refusals_are_of_their_own_kinds() -> None:
    with pytest.raises(InputError, match="overlaps strip 0"):
        Layup((Strip(CEDAR, 0.0, 0.04, -0.02, 0.02), Strip(ASH, 0.03, 0.06, 0.0, 0.05)))
    with pytest.raises(ShapeError, match="without wood"):
        sandwich().require_cover(0.06, 0.02)
