"""Energy shares of a mode give the frequency's derivatives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from springloom.mechanics.axis import half_axis, whole_axis
from springloom.mechanics.modes import first_mode
from springloom.mechanics.stiffness import Rigidity, rigidity
from springloom.mechanics.vibration import clamped_on, free_on
from springloom.shape.paddle import default_paddle
from springloom.wood.material import species_material

PADDLE = default_paddle()
WOOD = species_material("western_redcedar")
CLAMPED = half_axis(PADDLE.a, PADDLE.a.loom.root)
FREE = whole_axis(PADDLE, -PADDLE.b.tip, PADDLE.a.tip)


def frequency(rigid: Rigidity, *, clamped: bool) -> float:
    return clamped_on(CLAMPED, rigid, 1)[0] if clamped else free_on(FREE, rigid, 1)[0]


@pytest.mark.parametrize("clamped", [True, False])
def test_shares_sum_to_one_and_the_frequency_is_the_solver_s(clamped: bool) -> None:
    axis = CLAMPED if clamped else FREE
    rigid = rigidity(axis, WOOD)
    mode = first_mode(axis, rigid, clamped=clamped)
    assert np.sum(mode.bending) + np.sum(mode.shear) == pytest.approx(1.0, abs=1e-12)
    assert np.sum(mode.moving) + np.sum(mode.turning) == pytest.approx(1.0, abs=1e-12)
    # the same eigenvalue found twice: rounding only
    assert mode.frequency_hz == pytest.approx(frequency(rigid, clamped=clamped), rel=1e-9)


@pytest.mark.parametrize("clamped", [True, False])
@pytest.mark.parametrize(
    ("quantity", "share", "sign"),
    [("ei", "bending", 1.0), ("shear", "shear", 1.0), ("mass", "moving", -1.0),
     ("rotary", "turning", -1.0)],
)
def test_shares_are_the_derivatives(
    clamped: bool, quantity: str, share: str, sign: float
) -> None:
    axis = CLAMPED if clamped else FREE
    rigid = rigidity(axis, WOOD)
    mode = first_mode(axis, rigid, clamped=clamped)
    step = 1e-4
    for span in range(0, len(axis.x), 2):
        changed = []
        for way in (1.0, -1.0):
            values = getattr(rigid, quantity).copy()
            values[span] *= np.exp(way * step)
            new = replace(rigid, **{quantity: values})
            changed.append(np.log(frequency(new, clamped=clamped) ** 2))
        numeric = (changed[0] - changed[1]) / (2.0 * step)
        expected = sign * float(np.sum(getattr(mode, share)[span]))
        # 1e-4 of the whole: the shear parameter of the elements is held in the derivative
        assert numeric == pytest.approx(expected, abs=1e-4)
