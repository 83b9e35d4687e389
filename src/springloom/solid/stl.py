"""Binary STL. The format knows no unit; programs that print or mill take it for mm."""

from __future__ import annotations

import struct

import numpy as np

from springloom.solid.mesh import Mesh

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(mesh: Mesh) -> bytes:
    """Return the mesh in mm; the 80-byte header states unit and chord tolerance."""
    records = np.zeros(len(mesh.triangles), dtype=_RECORD)
    area = mesh.area_vectors
    records["normal"] = area / np.linalg.norm(area, axis=1, keepdims=True)
    records["corners"] = 1e3 * mesh.corners
    # A header that begins with "solid" would be taken for the text form.
    header = f"Springloom paddle, mm, chord tolerance {1e3 * mesh.chord_m:g} mm".encode("ascii")
    return header.ljust(80) + struct.pack("<I", len(records)) + records.tobytes()
