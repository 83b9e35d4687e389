"""Random paddles that are valid, for the tests of plan sheets and outlines."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from springloom.shape.blade import EDGE_INSET, HalfPaddle, Loom, Station, station_name
from springloom.shape.paddle import Paddle
from springloom.shape.section import Section

Rng = np.random.Generator


def random_half(seed: int, loom: Loom | None = None) -> HalfPaddle:
    """Return one half: 0.8 to 1.25 m, 4 to 12 stations, some with unlike faces."""
    rng = np.random.default_rng(seed)
    loom = loom or Loom(rng.uniform(0.18, 0.30), rng.uniform(0.028, 0.038),
                        rng.uniform(0.030, 0.042), blend=rng.uniform(0.006, 0.05))
    tip = rng.uniform(0.80, 1.25)
    count = int(rng.integers(4, 13))
    inner = _places(rng, loom.root + 0.02, tip - rng.uniform(0.02, 0.12), count - 2)
    places = np.array([loom.root, *inner, tip])
    along = (places - loom.root) / (tip - loom.root)
    greatest, root = rng.uniform(0.060, 0.105), rng.uniform(0.034, 0.046)
    widths = root + (greatest - root) * np.sin(0.5 * np.pi * np.minimum(along / 0.9, 1.0))
    crowns = np.linspace(rng.uniform(0.028, 0.038), rng.uniform(0.006, 0.010), count)
    widths[-1] = 0.0
    faces = rng.choice(["alike", "unlike", "one"], p=[0.6, 0.2, 0.2])
    stations = [
        _station(rng, x, width, crown, str(faces), widths[max(n - 1, 0)], loom, tip)
        for n, (x, width, crown) in enumerate(zip(places, widths, crowns, strict=True))
    ]
    return HalfPaddle(loom, tuple(stations)).checked()


def random_paddle(seed: int) -> Paddle:
    """Return a paddle; every fifth has two unlike blades."""
    first = random_half(seed)
    if seed % 5:
        return Paddle.mirrored(first)
    return Paddle(first, random_half(seed + 10_000, first.loom))


def _places(rng: Rng, low: float, high: float, count: int) -> list[float]:
    while True:
        found = np.sort(rng.uniform(low, high, count)).tolist()
        if all(b - a > 0.006 for a, b in pairwise(found)):
            return [float(x) for x in found]


def _station(rng: Rng, x: float, width: float, crown: float, faces: str, before: float,
             loom: Loom, tip: float) -> Station:
    ridge = rng.uniform(0.3, 0.6)
    ridge_bottom = rng.uniform(0.3, 0.6) if faces == "unlike" else None
    share = {"alike": 0.5, "unlike": rng.uniform(0.4, 0.6), "one": 1.0}[faces]
    low = ridge if ridge_bottom is None else ridge_bottom
    whole = width or before
    r = share * ridge + (1.0 - share) * low
    # Any edge fullness in [0, 1] is a valid edge; the caliper's reading of it is what's stored.
    round_edge = Section.symmetric(0.5 * whole, 0.5 * crown, r, rng.uniform(0.2, 0.8))
    edge = round_edge.thickness_at(min(EDGE_INSET, 0.45 * whole))
    return Station(float(x), float(width), float(crown), edge, ridge, ridge_bottom, share,
                   station_name(float(x), loom, tip))
