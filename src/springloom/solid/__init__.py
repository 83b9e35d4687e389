"""The paddle as one closed body: STEP from the control net, and meshes within a chord."""

from __future__ import annotations

from springloom.solid.glb import glb_bytes
from springloom.solid.mesh import Mesh, mesh_of
from springloom.solid.mesh3mf import threemf_bytes
from springloom.solid.step import step_text
from springloom.solid.stl import stl_bytes

__all__ = ["Mesh", "glb_bytes", "mesh_of", "step_text", "stl_bytes", "threemf_bytes"]
