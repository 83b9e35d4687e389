"""The woods that are known, as a page and as data."""

from __future__ import annotations

from typing import Any

from springloom.report.words import Words, bullets, grid
from springloom.wood.species import Species, all_species, canadian_ids


def species_text(words: Words) -> str:
    """One line a species: stiffness, strength and weight at 12 % moisture."""
    rows = [
        (wood.id, f"{wood.gravity_12.value:.2f}", _shown(wood.at_12.moe_pa, words.modulus),
         _shown(wood.at_12.mor_pa, words.stress), _mark(wood))
        for wood in all_species()
    ]
    notes = [
        "at 12 % moisture; MOE as tabulated, E along the grain is 1.10 times that",
        "m: some figures of this wood are from memory, not checked against the source",
        "c: Canadian-grown averages are known too (grown = \"canada\")",
    ]
    table = grid(("species", "specific gravity", "MOE", "bending strength", ""), rows, "lrrrl")
    return "\n".join([table, "", *bullets(notes)])


def species_data() -> list[dict[str, Any]]:
    """The table as data; SI, None where nothing is printed."""
    return [
        {"id": wood.id, "common_name": wood.common_name, "sg_12": wood.gravity_12.value,
         "moe_12_pa": wood.at_12.moe_pa, "mor_12_pa": wood.at_12.mor_pa,
         "shear_12_pa": wood.at_12.shear_pa, "tension_perp_12_pa": wood.at_12.tperp_pa,
         "source": wood.source, "memory_fields": list(wood.memory_fields)}
        for wood in all_species()
    ]


def _shown(value: float | None, show: Any) -> str:
    return "-" if value is None else str(show(value))


def _mark(wood: Species) -> str:
    memory = wood.checked == "memory" or wood.memory_fields
    return ("m" if memory else "") + ("c" if wood.id in canadian_ids() else "")
