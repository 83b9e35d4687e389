"""Paddles whose solids are tested: what is carved, and what closes a body in another way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from springloom.mechanics.mass import MassProperties, mass_properties
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import ELLIPSE
from springloom.wood.material import species_material
from tests.verification.plan_designs import random_paddle

DEFAULT = default_paddle()


def _with_shares(shares: Sequence[float]) -> HalfPaddle:
    stations = zip(DEFAULT.a.stations, shares, strict=True)
    return replace(DEFAULT.a, stations=tuple(replace(s, share=share) for s, share in stations))


def _with_ridges(half: HalfPaddle, low_ridges: Sequence[float]) -> HalfPaddle:
    stations = zip(half.stations, low_ridges, strict=True)
    return replace(half, stations=tuple(replace(s, ridge_bottom=ridge) for s, ridge in stations))


UNLIKE = _with_ridges(
    _with_shares((0.5, 0.6, 0.7, 0.75, 0.75, 0.7)), (0.4, 0.5, 0.6, 0.65, 0.6, ELLIPSE)
)
FLAT = _with_shares([1.0] * 6)
RUNS_OUT = _with_shares((0.5, 0.6, 0.7, 0.8, 0.9, 1.0))
DIAMOND = replace(
    DEFAULT.a,
    stations=tuple(replace(s, edge=None, ridge=0.0) for s in DEFAULT.a.stations),
)

PADDLES = {
    "default": DEFAULT,
    "unlike faces": Paddle.mirrored(UNLIKE),
    "flat lower face": Paddle.mirrored(FLAT),
    "lower face that runs out at the tip": Paddle.mirrored(RUNS_OUT),
    "straight diamond": Paddle.mirrored(DIAMOND),
    "unlike blades": Paddle(DEFAULT.a, UNLIKE),
    "one blade flat": Paddle(FLAT, RUNS_OUT),
    "short": default_paddle(length=1.7, loom_length=0.45),
    **{f"random {seed}": random_paddle(seed) for seed in range(6)},
}


def closed_form(paddle: Paddle) -> MassProperties:
    """Volume and balance from the section formulas, integrated along the paddle."""
    return mass_properties(paddle, species_material("western_redcedar"))


def box(paddle: Paddle) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Least and greatest x, y and z, (2, 3) in m, from the section formulas.

    Sampled every 0.1 mm or less: with a radius of curvature above 10 mm the greatest value is
    missed by less than 0.1²/(8·10) = 1.3e-4 mm.
    """
    values = np.hstack([
        half.values(np.linspace(0.0, half.knots[-1], 20_001)) for half in (paddle.a, paddle.b)
    ])
    w, crown, *_, share = values
    low, high = (crown * (1.0 - share)).max(), (crown * share).max()
    return np.array([[-paddle.b.tip, -w.max(), -low], [paddle.a.tip, w.max(), high]])
