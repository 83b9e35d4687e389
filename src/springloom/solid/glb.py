"""GLB: binary glTF 2.0. Metres and y up, as that format demands.

The paddle keeps its x; what points out of its upper face (our z) points up, and our y
therefore towards −z.
"""

from __future__ import annotations

import json
import struct

import numpy as np
import numpy.typing as npt

from springloom.solid.mesh import Mesh

_MAGIC, _VERSION, _JSON, _BINARY = 0x46546C67, 2, 0x4E4F534A, 0x004E4942
_FLOAT, _UNSIGNED = 5126, 5125
_VERTICES, _INDICES = 34962, 34963  # what a buffer view is for
_WOOD = [0.63, 0.40, 0.22, 1.0]


def glb_bytes(mesh: Mesh, name: str) -> bytes:
    """Return the mesh with smooth normals; ``chord_m`` stands in the mesh's extras."""
    places = _upright(mesh.vertices).astype("<f4")
    normals = _upright(_normals(mesh)).astype("<f4")
    indices = mesh.triangles.astype("<u4")
    chunks = [places.tobytes(), normals.tobytes(), indices.tobytes()]
    scene = _scene(mesh, name, places, [len(chunk) for chunk in chunks])
    text = json.dumps(scene, separators=(",", ":")).encode("ascii")
    body = _chunk(_JSON, text, b" ") + _chunk(_BINARY, b"".join(chunks), b"\0")
    return struct.pack("<III", _MAGIC, _VERSION, 12 + len(body)) + body


def _upright(vectors: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """(x, y, z) to glTF's (x, z, −y)."""
    x, y, z = vectors.T
    return np.column_stack([x, z, -y])


def _normals(mesh: Mesh) -> npt.NDArray[np.float64]:
    """Unit normals at the vertices: the mean of the triangles around, by their area."""
    sums, areas = np.zeros_like(mesh.vertices), mesh.area_vectors
    for corner in mesh.triangles.T:
        np.add.at(sums, corner, areas)
    return np.asarray(sums / np.linalg.norm(sums, axis=1, keepdims=True))


def _scene(
    mesh: Mesh, name: str, places: npt.NDArray[np.float32], sizes: list[int]
) -> dict[str, object]:
    count = len(mesh.vertices)
    starts = np.concatenate([[0], np.cumsum(sizes)]).tolist()
    views = [
        {"buffer": 0, "byteOffset": start, "byteLength": size, "target": target}
        for start, size, target in zip(starts, sizes, (_VERTICES, _VERTICES, _INDICES),
                                       strict=False)
    ]
    bounds = {"min": places.min(axis=0).tolist(), "max": places.max(axis=0).tolist()}
    accessors = [
        {"bufferView": 0, "componentType": _FLOAT, "count": count, "type": "VEC3", **bounds},
        {"bufferView": 1, "componentType": _FLOAT, "count": count, "type": "VEC3"},
        {"bufferView": 2, "componentType": _UNSIGNED, "count": mesh.triangles.size,
         "type": "SCALAR"},
    ]
    part = {"attributes": {"POSITION": 0, "NORMAL": 1}, "indices": 2, "material": 0}
    surface = {"baseColorFactor": _WOOD, "metallicFactor": 0.0, "roughnessFactor": 0.7}
    return {
        "asset": {"version": "2.0", "generator": "Springloom"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0, "name": name}],
        "meshes": [{"name": name, "primitives": [part], "extras": {"chord_m": mesh.chord_m}}],
        "materials": [{"name": "wood", "pbrMetallicRoughness": surface}],
        "buffers": [{"byteLength": starts[-1]}],
        "bufferViews": views,
        "accessors": accessors,
    }


def _chunk(kind: int, content: bytes, padding: bytes) -> bytes:
    content += padding * (-len(content) % 4)
    return struct.pack("<II", len(content), kind) + content
