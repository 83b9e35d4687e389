"""Random designs with woods, boards and targets, for the tests of sheets made from a design."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np

from springloom.fit.bend import Target
from springloom.records.design import Design, design_from
from springloom.records.reading import check_layout
from springloom.wood.board import Board
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import species_material
from tests.verification.plan_designs import random_paddle

WOODS = ("western_redcedar", "sitka_spruce", "white_ash", "yellow_poplar", "balsa")
FAR = HALF_BLANK_M


def random_design(seed: int) -> Design:
    """Return a design: solid or laminated, mm or inches, boards that fit and boards that don't."""
    rng = np.random.default_rng(1_000 + seed)
    system = "mm" if seed % 2 else "in"
    plain = design_from(check_layout({"format": 1, "name": f"Bench paddle {seed}",
                                      "units": system}))
    paddle = random_paddle(seed)
    wood = str(rng.choice(WOODS))
    board = Board(wood, rng.uniform(1.5, 4.0), rng.uniform(0.06, 0.24), rng.uniform(0.02, 0.055))
    return replace(
        plain, paddle=paddle, board=board, layup=random_layup(rng) if seed % 3 == 0 else None,
        target=Target(rng.uniform(0.015, 0.06)) if seed % 4 else None,
        board_assumed=seed % 7 == 0,
    )


def random_layup(rng: np.random.Generator) -> Layup:
    """Return strips side by side, now and then with a layer over and under the middle ones."""
    count = int(rng.integers(2, 6))
    cuts = np.sort(rng.uniform(-0.03, 0.03, count - 1))
    if np.any(np.diff(cuts) < 0.003):
        cuts = np.linspace(-0.02, 0.02, count - 1)
    edges = [-FAR, *cuts.tolist(), FAR]
    strips = []
    for low, high in itertools.pairwise(edges):
        wood = species_material(str(rng.choice(WOODS)))
        ring = str(rng.choice(["flat", "quarter", "mixed"]))
        levels = [-FAR, 0.0, FAR] if rng.random() < 0.3 else [-FAR, FAR]
        strips += [Strip(wood, low, high, a, b, ring)  # type: ignore[arg-type]  # one of Ring's
                   for a, b in itertools.pairwise(levels)]
    return Layup(tuple(strips))
