"""What is used where the species table has a gap, and how uncertain that is.

Three kinds of gap occur, each filled in one stated way:

- a strength at 12 % nobody printed: the Handbook's relation with specific gravity (Table 5-11);
- a green value nobody printed: the ratio of dry to green averaged over the species of the same
  group (softwoods, hardwoods) that have both;
- a volumetric shrinkage nobody printed: 26.5 times the green specific gravity (eq 4-12).

A filled value says so: its ``basis`` is "estimated".
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Literal

from springloom.errors import InputError
from springloom.wood.gravity import Gravity12, to_green, volumetric_shrinkage_percent
from springloom.wood.species import Group, PropertyName, Species, all_species

Basis = Literal["table", "memory", "estimated"]

E_L_OVER_MOE = 1.10
"""True E_L over the tabulated bending modulus (FPL-GTR-282 Table 5-3 footnote: span/depth 14)."""

GRAVITY_RELATIONS: dict[Group, dict[PropertyName, tuple[float, float]]] = {
    "softwood": {
        "moe_pa": (20.5e9, 0.84), "mor_pa": (170.7e6, 1.01), "comp_par_pa": (93.7e6, 0.97),
        "comp_perp_pa": (16.5e6, 1.57), "shear_pa": (16.6e6, 0.85), "tperp_pa": (6.0e6, 1.11),
    },
    "hardwood": {
        "moe_pa": (16.5e9, 0.70), "mor_pa": (171.3e6, 1.13), "comp_par_pa": (76.0e6, 0.89),
        "comp_perp_pa": (21.6e6, 2.09), "shear_pa": (21.9e6, 1.13), "tperp_pa": (10.1e6, 1.30),
    },
}
"""Property = a * G12**b at 12 % moisture, FPL-GTR-282 Table 5-11a.

From memory: no copy of that table was at hand. The tests compare every relation with the species
table itself, which was checked.
"""

ESTIMATE_SD_LN = 0.20
"""Standard deviation of ln(property) about the gravity relation, between species.

Our own measure, rounded up: the tabulated species scatter by 0.11 to 0.18 about the relations for
shear and for tension across the grain, the two that are ever needed.
"""

_COLUMN = {
    "moe_pa": "moe_{}_gpa", "mor_pa": "mor_{}_mpa", "comp_par_pa": "comp_par_{}_mpa",
    "comp_perp_pa": "comp_perp_{}_mpa", "shear_pa": "shear_{}_mpa", "tperp_pa": "tperp_{}_mpa",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with where it comes from; ``value`` in Pa, percent or a bare ratio."""

    value: float
    basis: Basis
    text: str


def from_gravity(group: Group, name: PropertyName, gravity: Gravity12) -> float:
    """Return a property at 12 % moisture from specific gravity alone, Pa.

    Source: FPL-GTR-282 Table 5-11a, coefficients from memory.

    Raises:
        InputError: the gravity is not on the 12 % basis.
    """
    if not isinstance(gravity, Gravity12):
        raise InputError("needs specific gravity on the 12 % basis", field="gravity",
                         given=type(gravity).__name__, allowed="Gravity12")
    factor, exponent = GRAVITY_RELATIONS[group][name]
    return float(factor * gravity.value**exponent)


def value_at_12(wood: Species, name: PropertyName) -> Figure:
    """Return a property at 12 % moisture, from the table or else from specific gravity."""
    printed = wood.at_12.value(name)
    if printed is None:
        value = from_gravity(wood.group, name, wood.gravity_12)
        return Figure(value, "estimated", "from specific gravity, FPL-GTR-282 Table 5-11")
    basis: Basis = "memory" if wood.from_memory(_COLUMN[name].format("12")) else "table"
    return Figure(printed, basis, wood.source)


def dry_over_green(wood: Species, name: PropertyName) -> Figure:
    """Return P12 / Pgreen, the species' own or else the average of its group.

    Raises:
        InputError: tension across the grain, for which the Handbook advises against any ratio.
    """
    if name == "tperp_pa":
        raise InputError("no moisture ratio is defined for tension across the grain",
                         field="property", given=name, allowed="the other properties")
    ratio = _own_ratio(wood, name)
    if ratio is not None:
        return Figure(ratio, "table", wood.source)
    text = f"average of the {wood.group}s that have both values"
    return Figure(_group_ratio(wood.group, name), "estimated", text)


def volumetric_shrinkage(wood: Species) -> Figure:
    """Return the volumetric shrinkage, green to oven-dry, in percent."""
    if wood.shrink_volumetric_percent is None:
        value = volumetric_shrinkage_percent(to_green(wood.gravity_12))
        return Figure(value, "estimated", "26.5 times the green specific gravity, eq 4-12")
    memory = wood.from_memory("shrink_volumetric_percent")
    return Figure(wood.shrink_volumetric_percent, "memory" if memory else "table", wood.source)


def _own_ratio(wood: Species, name: PropertyName) -> float | None:
    dry, green = wood.at_12.value(name), wood.green.value(name)
    return None if dry is None or green is None else dry / green


@cache
def _group_ratio(group: Group, name: PropertyName) -> float:
    members = (wood for wood in all_species() if wood.group == group)
    ratios = [ratio for wood in members if (ratio := _own_ratio(wood, name)) is not None]
    return sum(ratios) / len(ratios)
