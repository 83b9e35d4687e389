"""What a paddle weighs after each stage of carving."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from springloom.mechanics.mass import mass_properties
from springloom.mechanics.stiffness import Build
from springloom.shape.paddle import Paddle
from springloom.shape.stages import STAGES, Carving, carvings
from springloom.wood.layup import Layup, Strip
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]


def stage_masses(paddle: Paddle, build: Build) -> tuple[float, ...]:
    """Mass of the wood in kg after each of ``shape.stages.STAGES``, bare.

    Of a layup each strip counts as far as it reaches into the figure; what lies outside every
    strip, in a blank wider than its strips are drawn, counts as the mean of what lies inside.
    """
    a, b = carvings(paddle)
    if isinstance(build, Material):
        return tuple(build.density_kg_m3 * float(v) for v in a.volumes() + b.volumes())
    masses = _laminated(a, build)
    masses = masses + (masses if b is a else _laminated(b, build))
    return (*(float(m) for m in masses), mass_properties(paddle, build).mass_kg)


def _laminated(carving: Carving, layup: Layup) -> Floats:
    """Mass of one half after each stage before "finished", kg."""
    u, weight = carving.nodes
    volumes = carving.volumes()
    masses = []
    for stage in range(len(STAGES) - 1):
        top, low = (_across(face) for face in carving.faces(u, stage))
        parts = [weight @ (_inside(top, strip, 1.0) + _inside(low, strip, -1.0))
                 for strip in layup.strips]
        heavy = sum(part * strip.material.density_kg_m3
                    for part, strip in zip(parts, layup.strips, strict=True))
        masses.append(volumes[stage] * heavy / sum(parts))
    return np.array(masses)


def _across(quadrant: Floats) -> Floats:
    """Return a face's line from edge to edge, y rising, from its right quadrant's corners."""
    right = quadrant[:, ::-1]
    return np.concatenate((right[:, :0:-1] * (-1.0, 1.0), right), axis=1)


def _inside(face: Floats, strip: Strip, side: float) -> Floats:
    """Area, m², of a strip between the widest line and a face (n, corners, 2); ``side`` ±1."""
    limits = sorted((side * strip.z_min_m, side * strip.z_max_m))
    low, high = max(limits[0], 0.0), max(limits[1], 0.0)
    a, b = face[:, :-1], face[:, 1:]
    width = b[..., 0] - a[..., 0]
    step = np.where(width > 0.0, width, 1.0)
    start = np.clip((strip.y_min_m - a[..., 0]) / step, 0.0, 1.0)
    end = np.clip((strip.y_max_m - a[..., 0]) / step, 0.0, 1.0)
    rise = b[..., 1] - a[..., 1]
    z0, z1 = a[..., 1] + rise * start, a[..., 1] + rise * end
    return np.asarray(np.sum(width * (end - start) * _mean_clipped(z0, z1, low, high), axis=1))


def _mean_clipped(z0: Floats, z1: Floats, low: float, high: float) -> Floats:
    """Mean of min(max(z, low), high) − low as z runs from z0 to z1."""
    def filled(z: Floats) -> Floats:
        held = np.clip(z, low, high) - low
        return np.asarray(0.5 * held * held + np.maximum(z - high, 0.0) * (high - low))

    run = z1 - z0
    level = np.abs(run) < 1e-12
    middle = np.clip(0.5 * (z0 + z1), low, high) - low
    return np.where(level, middle, (filled(z1) - filled(z0)) / np.where(level, 1.0, run))
