"""The species table: printed averages of clear, straight-grained wood.

The figures, their source and how far they were checked stand in the CSV files beside this
module. A value nobody printed is None here; :mod:`springloom.wood.estimates` says what is used
instead and marks it.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from springloom.errors import InputError, known
from springloom.wood.gravity import Gravity12, GreenGravity, to_12

Group = Literal["softwood", "hardwood"]
Origin = Literal["us", "canada"]
Checked = Literal["found", "memory"]
PropertyName = Literal["moe_pa", "mor_pa", "comp_par_pa", "comp_perp_pa", "shear_pa", "tperp_pa"]

PROPERTY_NAMES: tuple[PropertyName, ...] = (
    "moe_pa", "mor_pa", "comp_par_pa", "comp_perp_pa", "shear_pa", "tperp_pa",
)

Row = dict[str, str]

_COLUMNS = {
    "moe_pa": ("moe_{}_gpa", 1e9),
    "mor_pa": ("mor_{}_mpa", 1e6),
    "comp_par_pa": ("comp_par_{}_mpa", 1e6),
    "comp_perp_pa": ("comp_perp_{}_mpa", 1e6),
    "shear_pa": ("shear_{}_mpa", 1e6),
    "tperp_pa": ("tperp_{}_mpa", 1e6),
    "hardness_n": ("hardness_{}_n", 1.0),
}


@dataclass(frozen=True, slots=True)
class ClearWood:
    """Average properties of clear wood in one state of moisture; None where none is printed.

    ``moe_pa`` is the bending modulus as tabulated (centre load, span/depth 14, shear included).
    """

    moe_pa: float | None = None
    mor_pa: float | None = None
    comp_par_pa: float | None = None
    comp_perp_pa: float | None = None
    shear_pa: float | None = None
    tperp_pa: float | None = None
    hardness_n: float | None = None

    def value(self, name: PropertyName) -> float | None:
        """Return one property in Pa, None where none is printed."""
        found: float | None = getattr(self, name)
        return found


@dataclass(frozen=True, slots=True)
class Species:
    """One species as one country grows it.

    Shrinkage is green to oven-dry in percent; ``c_radial`` and ``c_tangential`` are the change of
    size per percent moisture; ``memory_fields`` and ``derived_fields`` name table columns.
    """

    id: str
    common_name: str
    botanical_name: str
    group: Group
    origin: Origin
    gravity_12: Gravity12
    gravity_green: GreenGravity
    at_12: ClearWood
    green: ClearWood
    shrink_radial_percent: float
    shrink_tangential_percent: float
    shrink_volumetric_percent: float | None
    mp_percent: float
    mp_is_tabulated: bool
    c_radial: float | None
    c_tangential: float | None
    elastic_from: str
    source: str
    checked: Checked
    memory_fields: tuple[str, ...]
    derived_fields: tuple[str, ...]
    note: str

    def from_memory(self, column: str) -> bool:
        """Tell whether a table column of this species is from memory, not checked."""
        return self.checked == "memory" or column in self.memory_fields


def species(id: str, origin: Origin = "us") -> Species:  # noqa: A002 - the table's own word
    """Return a species by its id, as grown in the United States (or where it is native).

    ``origin="canada"`` gives the Canadian-grown averages of FPL-GTR-282 Table 5-4b; what that
    table does not list is the ordinary row's.

    Raises:
        UnknownNameError: no such species, or none grown in Canada in the table.
    """
    known(origin, ("us", "canada"), "origin")
    known(id, species_ids(), "species")
    if origin == "us":
        return _table()[id]
    known(id, _canada(), "species")
    return _canada()[id]


def all_species() -> tuple[Species, ...]:
    """Return every species in the order of the table."""
    return tuple(_table().values())


def species_ids() -> tuple[str, ...]:
    """Return every species id in the order of the table."""
    return tuple(_table())


def canadian_ids() -> tuple[str, ...]:
    """Return the ids that also have Canadian-grown averages."""
    return tuple(_canada())


def read_rows(name: str) -> list[Row]:
    """Return the rows of one of this package's CSV tables, its ``#`` lines left out."""
    text = (resources.files("springloom.wood") / name).read_text(encoding="utf-8")
    return list(csv.DictReader(_data_lines(text.splitlines())))


def _data_lines(lines: Iterable[str]) -> Iterable[str]:
    return (line for line in lines if not line.startswith("#"))


@cache
def _table() -> dict[str, Species]:
    return {row["id"]: _species(row) for row in read_rows("species_table.csv")}


@cache
def _canada() -> dict[str, Species]:
    us = {row["id"]: row for row in read_rows("species_table.csv")}
    return {row["id"]: _canadian(us[row["id"]], row) for row in read_rows("species_canada.csv")}


def _canadian(us: Row, row: Row) -> Species:
    """Lay a Canadian row over the ordinary one; its 12 % gravity follows from eq 4-13."""
    sg_12 = to_12(GreenGravity(float(row["sg_green"]))).value
    # hardness is not printed for Canadian stock and nothing here needs it
    merged = us | {"hardness_12_n": "", "hardness_green_n": ""} | row
    merged["sg_12"] = f"{sg_12:.4f}"
    merged["derived_fields"] = " ".join([us["derived_fields"], "sg_12"])
    merged["source"] = f"{row['source']}; what it does not list: {us['source']}"
    return _species(merged, "canada")


def _species(row: Row, origin: Origin = "us") -> Species:
    return Species(
        id=row["id"],
        common_name=row["common_name"],
        botanical_name=row["botanical_name"],
        group=_group(row["group"]),
        origin=origin,
        gravity_12=Gravity12(float(row["sg_12"])),
        gravity_green=GreenGravity(float(row["sg_green"])),
        at_12=_clear(row, "12"),
        green=_clear(row, "green"),
        shrink_radial_percent=float(row["shrink_radial_percent"]),
        shrink_tangential_percent=float(row["shrink_tangential_percent"]),
        shrink_volumetric_percent=_number(row["shrink_volumetric_percent"]),
        mp_percent=float(row["mp_percent"]),
        mp_is_tabulated=row["mp_from"] == "table",
        c_radial=_number(row["c_radial"]),
        c_tangential=_number(row["c_tangential"]),
        elastic_from=row["elastic_from"],
        source=row["source"],
        checked=checked(row["checked"]),
        memory_fields=tuple(row["memory_fields"].split()),
        derived_fields=tuple(row["derived_fields"].split()),
        note=row["note"],
    )


def _clear(row: Row, state: str) -> ClearWood:
    values: dict[str, float | None] = {}
    for name, (column, factor) in _COLUMNS.items():
        number = _number(row[column.format(state)])
        values[name] = None if number is None else number * factor
    return ClearWood(**values)


def _number(text: str) -> float | None:
    return float(text) if text else None


def _group(text: str) -> Group:
    if text == "softwood":
        return "softwood"
    if text == "hardwood":
        return "hardwood"
    raise InputError("is no group of woods", field="group", given=text,
                     allowed="softwood, hardwood")


def checked(text: str) -> Checked:
    """Return a table's ``checked`` mark.

    Raises:
        InputError: any other text.
    """
    if text == "found":
        return "found"
    if text == "memory":
        return "memory"
    raise InputError("is no mark of checking", field="checked", given=text,
                     allowed="found, memory")
