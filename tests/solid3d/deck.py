"""CalculiX input for a clamped half blade: its frequencies, then a load at its end."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple, dataclass
from typing import Literal

from springloom.wood.elastic import Orthotropic
from tests.solid3d.mesh import Ints, Mesh

MODES = 3


@dataclass(frozen=True, slots=True)
class Constants:
    """Engineering constants along the blade's own x, y, z in CalculiX's order; Pa.

    ``nu_ij`` is the strain along j over the strain along i when only the stress along i acts,
    for CalculiX as for the Wood Handbook.
    """

    e_x: float
    e_y: float
    e_z: float
    nu_xy: float
    nu_xz: float
    nu_yz: float
    g_xy: float
    g_xz: float
    g_yz: float


def oriented(wood: Orthotropic, ring: Literal["flat", "quarter"]) -> Constants:
    """Turn L, R, T to x, y, z: ``flat`` has R through the thickness, ``quarter`` across."""
    if ring == "flat":
        return Constants(
            wood.e_l_pa, wood.e_t_pa, wood.e_r_pa, wood.nu_lt, wood.nu_lr, wood.nu_tr,
            wood.g_lt_pa, wood.g_lr_pa, wood.g_rt_pa,
        )
    return Constants(
        wood.e_l_pa, wood.e_r_pa, wood.e_t_pa, wood.nu_lr, wood.nu_lt, wood.nu_rt,
        wood.g_lr_pa, wood.g_lt_pa, wood.g_rt_pa,
    )


def deck(mesh: Mesh, constants: Constants, density: float, force: float) -> str:
    """Return the input text; ``force`` (N) pushes the end of the whole blade along +z."""
    return "\n".join(
        [
            *_geometry(mesh),
            *_material(constants, density),
            "*BOUNDARY", "ROOT, 1, 3", "SYMMETRY, 2, 2",
            "*STEP", "*FREQUENCY", f"{MODES}", "*END STEP",
            "*STEP", "*STATIC", "*CLOAD", *_forces(mesh, force),
            "*NODE PRINT, NSET=AXIS", "U",
            "*EL PRINT, ELSET=BLADE, TOTALS=ONLY", "EVOL",
            "*EL FILE, NSET=CROWN", "S",
            "*END STEP", "",
        ]
    )


def _geometry(mesh: Mesh) -> Iterator[str]:
    yield "*NODE, NSET=ALL"
    for number, (x, y, z) in enumerate(mesh.nodes, start=1):
        yield f"{number}, {x:.11e}, {y:.11e}, {z:.11e}"
    # Full integration: on these meshes it settles sooner than C3D20R, at the surface above all.
    yield "*ELEMENT, TYPE=C3D20, ELSET=BLADE"
    for number, brick in enumerate(mesh.bricks + 1, start=1):
        yield ", ".join(map(str, [number, *brick[:12]])) + ","
        yield ", ".join(map(str, brick[12:]))
    yield from _set("ROOT", mesh.root)
    yield from _set("SYMMETRY", mesh.symmetry)
    yield from _set("AXIS", mesh.axis)
    yield from _set("CROWN", mesh.crown)


def _set(name: str, numbers: Ints) -> Iterator[str]:
    yield f"*NSET, NSET={name}"
    yield from (f"{number}," for number in numbers + 1)


def _material(constants: Constants, density: float) -> Iterator[str]:
    values = [f"{value:.8e}" for value in astuple(constants)]
    yield "*MATERIAL, NAME=WOOD"
    yield "*ELASTIC, TYPE=ENGINEERING CONSTANTS"
    yield ", ".join(values[:8]) + ","
    yield values[8]
    yield "*DENSITY"
    yield f"{density:.8e}"
    yield "*SOLID SECTION, ELSET=BLADE, MATERIAL=WOOD"


def _forces(mesh: Mesh, force: float) -> Iterator[str]:
    # The other half of the blade carries the other half of the load.
    for number, share in zip(mesh.end + 1, 0.5 * force * mesh.end_shares, strict=True):
        yield f"{number}, 3, {share:.11e}"
