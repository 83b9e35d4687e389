"""What the design page's fields are called, and what stands in them if nothing is typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from springloom.units import System
from springloom.web.forms import Problem
from springloom.web.pages.design_form import BLADES, TABLES, shown
from springloom.wood.species import all_species


@dataclass(frozen=True, slots=True)
class FieldWords:
    """One field: label, what is meant if it is left empty, what it says."""

    label: str
    default: str
    hint: str


_LABELS = {
    "paddle.length": "Overall length", "loom.length": "Loom, length",
    "loom.width": "Loom, width", "loom.thickness": "Loom, thickness",
    "loom.blend": "Blend to the root", "target.sinks": "Tip sinks",
    "target.under": "Under", "target.within": "Give or take",
    "target.progression": "Progression", "target.as_light_as_safe": "As light as is safe",
    "target.like": "Bend like another paddle", "limits.least_crown_mid":
    "Least crown, root to middle", "limits.least_crown_tip": "Least crown at the tip",
    "limits.least_edge": "Least edge", "limits.blank": "Thickness of the blank",
    "limits.margin": "Least strength margin", "care.plane_pass": "One pass of the plane takes",
    "care.target_risk": "Risk of passing the target, one removal",
    "care.tuning_risk": "The same, over all rounds",
    "care.limit_risk": "Risk of passing a least thickness",
    "care.most_per_round": "Most off one face in one round",
    "care.keep": "Stations whose crown stays",
}


def field_words(units: System) -> dict[str, FieldWords]:
    """Return the words of every field that is no row of a table."""
    found = {}
    for name, table in TABLES.items():
        for key, info in table.model_fields.items():
            path = f"{name}.{key}"
            default = "" if info.default is None or info.is_required() else shown(info.default)
            if default == "PydanticUndefined":
                default = ""
            said = (info.description or "").capitalize()
            found[path] = FieldWords(_LABELS.get(path, path), default, said)
    del units  # defaults carry their own unit
    return found


def choices_of() -> Mapping[str, Any]:
    """Return what may be chosen in a strip's row."""
    woods = [("", "no strip"), *((one.id, one.common_name) for one in all_species())]
    return {"species": list(dict(woods).items()),
            "grown": [("", "US"), ("canada", "Canada")],
            "rings": [("", "mixed"), ("flat", "flat"), ("quarter", "quarter")]}


def slot_of(problem: Problem) -> str:
    """Return the id of the place beside a field where its trouble is told; empty for none."""
    table, _, rest = problem.field.partition(".")
    name, _, number = problem.field.rpartition("[")
    if name.split(".")[0] in {*BLADES, "strip"}:
        return f"{name.split('.')[0]}-{number.removesuffix(']')}-wrong"
    return f"{table}-{rest.split('[')[0]}-wrong" if table in TABLES and rest else ""
