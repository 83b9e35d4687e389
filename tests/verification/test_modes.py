"""Energy shares of a mode give the frequency's derivatives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from springloom.errors import ShapeError
from springloom.mechanics.axis import Axis, half_axis, whole_axis
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


TURNING = 4e-5
"""How far a clamp turns per moment, rad/(N·m): the tip sinks 1 mm further under 10 lb."""


def _ln_square(axis: Axis, rigid: Rigidity, turning: float, *, clamped: bool = True) -> float:
    mode = first_mode(axis, rigid, clamped=clamped, turning=turning)
    return float(2.0 * np.log(mode.frequency_hz))


def test_a_turning_clamp_is_a_soft_first_span() -> None:
    """All of the turning put into the wood of a very short span at the clamp."""
    rigid = rigidity(CLAMPED, WOOD)
    short = 1e-4
    axis = half_axis(PADDLE.a, PADDLE.a.loom.root, [PADDLE.a.loom.root + short])
    softer = rigidity(axis, WOOD)
    ei = softer.ei.copy()
    ei[0] = 1.0 / (1.0 / ei[0] + TURNING / short)
    found = _ln_square(CLAMPED, rigid, TURNING)
    # the hinge sits half of that span further out: some 1e-4 of the blade
    assert found == pytest.approx(_ln_square(axis, replace(softer, ei=ei), 0.0), abs=1e-4)
    assert found < _ln_square(CLAMPED, rigid, 0.0) - 0.04


@pytest.mark.parametrize("turning", [-TURNING, 0.0, TURNING])
def test_the_clamps_part_is_the_derivative(turning: float) -> None:
    rigid = rigidity(CLAMPED, WOOD)
    mode = first_mode(CLAMPED, rigid, clamped=True, turning=turning)
    step = 1e-7
    rise = (_ln_square(CLAMPED, rigid, turning + step)
            - _ln_square(CLAMPED, rigid, turning - step))
    assert mode.clamp == pytest.approx(rise / (2.0 * step), rel=1e-5)  # a central difference
    whole = np.sum(mode.bending) + np.sum(mode.shear) - turning * mode.clamp
    assert whole == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize(("clamped", "turning"), [(True, 0.0), (True, TURNING), (False, 0.0)])
def test_lengthening_is_the_derivative(clamped: bool, turning: float) -> None:
    axis = CLAMPED if clamped else FREE
    rigid = rigidity(axis, WOOD)
    mode = first_mode(axis, rigid, clamped=clamped, turning=turning)
    step, lengths = 1e-4, np.diff(axis.ends)
    for span in range(len(lengths)):
        changed = []
        for way in (step, -step):
            factor = np.ones_like(lengths)
            factor[span] = np.exp(way)
            ends = axis.ends[0] + np.concatenate([[0.0], np.cumsum(lengths * factor)])
            x = ends[:-1, None] + (axis.x - axis.ends[:-1, None]) * factor[:, None]
            longer = Axis(x, axis.weight * factor[:, None], axis.slope, ends, axis.values)
            changed.append(_ln_square(longer, rigid, turning, clamped=clamped))
        numeric = (changed[0] - changed[1]) / (2.0 * step)
        assert mode.lengthening[span] == pytest.approx(numeric, abs=1e-4)  # as above
    # all of it: frequency falls as length squared, but for shear, rotary inertia and the clamp
    assert np.sum(mode.lengthening) == pytest.approx(-4.0, abs=0.12)


@pytest.mark.parametrize("clamped", [True, False])
@pytest.mark.parametrize("quantity", ["mass", "ei"])
def test_what_has_no_wood_sounds_no_tone(clamped: bool, quantity: str) -> None:
    axis = CLAMPED if clamped else FREE
    rigid = rigidity(axis, WOOD)
    hollow = replace(rigid, **{quantity: -getattr(rigid, quantity)})
    with pytest.raises(ShapeError, match="sounds no tone"):
        first_mode(axis, hollow, clamped=clamped)
