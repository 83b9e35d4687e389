"""Mesh files read back by trimesh, which knows nothing of ours."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest
import trimesh

from springloom.solid import Mesh, glb_bytes, mesh_of, stl_bytes, threemf_bytes
from tests.solid_paddles import PADDLES, box, closed_form

CHORD = 2e-4
NAME = "Åse's <long> & \"narrow\" 桨"


class Format(NamedTuple):
    """How a format is written, and what one of its units is; its axes as ours."""

    write: Callable[[Mesh], bytes]
    metres: float
    axes: tuple[int, int, int]
    signs: tuple[int, int, int]


FORMATS = {
    "stl": Format(stl_bytes, 1e-3, (0, 1, 2), (1, 1, 1)),
    "3mf": Format(lambda mesh: threemf_bytes(mesh, NAME), 1e-3, (0, 1, 2), (1, 1, 1)),
    "glb": Format(lambda mesh: glb_bytes(mesh, NAME), 1.0, (0, 2, 1), (1, -1, 1)),
}
EACH = [(name, kind) for name in PADDLES for kind in FORMATS]


def read(content: bytes, kind: str) -> trimesh.Trimesh:
    scene = trimesh.load_scene(io.BytesIO(content), file_type=kind)
    assert len(scene.geometry) == 1
    mesh = scene.to_mesh()
    assert isinstance(mesh, trimesh.Trimesh)
    return mesh


@pytest.mark.parametrize(("name", "kind"), EACH)
def test_the_file_is_a_watertight_body_of_the_right_volume(name: str, kind: str) -> None:
    paddle, form = PADDLES[name], FORMATS[kind]
    ours = mesh_of(paddle, CHORD)
    found = read(form.write(ours), kind)
    assert found.is_watertight
    assert found.is_winding_consistent
    assert found.euler_number == 2
    assert len(found.faces) == len(ours.triangles)
    volume = found.volume * form.metres**3
    assert volume == pytest.approx(ours.volume_m3, rel=1e-6)  # 32-bit floats, or six decimals
    # A surface of this area moved by no more than the chord sweeps no more than their product.
    assert abs(volume - closed_form(paddle).volume_m3) < CHORD * ours.area_m2


@pytest.mark.parametrize(("name", "kind"), EACH)
def test_the_file_has_the_right_size_and_stands_the_right_way(name: str, kind: str) -> None:
    paddle, form = PADDLES[name], FORMATS[kind]
    found = read(form.write(mesh_of(paddle, CHORD)), kind)
    ends = np.asarray(found.bounds)[:, list(form.axes)] * form.metres * form.signs
    assert np.sort(ends, axis=0) == pytest.approx(box(paddle), abs=CHORD)


@pytest.mark.parametrize("kind", ["3mf", "glb"])
def test_the_name_survives(kind: str) -> None:
    scene = trimesh.load_scene(
        io.BytesIO(FORMATS[kind].write(mesh_of(PADDLES["short"], CHORD))), file_type=kind
    )
    assert list(scene.geometry) == [NAME]


def test_3mf_and_glb_carry_their_unit() -> None:
    mesh = mesh_of(PADDLES["short"], CHORD)
    units = {kind: trimesh.load_scene(io.BytesIO(FORMATS[kind].write(mesh)), file_type=kind).units
             for kind in ("3mf", "glb")}
    assert units == {"3mf": "millimeter", "glb": "meters"}


def test_a_fine_stl_stays_watertight_in_single_precision() -> None:
    # 32-bit floats at 1.1 m are 0.12 µm apart; the closest vertices of this mesh far more.
    assert read(stl_bytes(mesh_of(PADDLES["default"], 2e-5)), "stl").is_watertight
