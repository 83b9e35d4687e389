"""Large deflection of a clamped blade: the elastica with varying stiffness.

θ'(s) = Σ Pⱼ (Xⱼ − X(s))₊ / EI(s),  X' = cos θ,  y' = sin θ, where Xⱼ is how far out load j
hangs once the blade is bent. For given Xⱼ the equations are a Volterra system that Picard's
iteration solves; the Xⱼ are then found so that the bent blade agrees with them. Weights hang
straight down. Shear is added from the linear theory.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from scipy.optimize import root

from springloom.errors import UnreachableError
from springloom.mechanics.axis import Axis
from springloom.mechanics.beam import Bent, Load, cantilever
from springloom.mechanics.stiffness import Rigidity

Floats = npt.NDArray[np.float64]

NOTICEABLE = 0.005
"""Share by which the large-deflection answer must differ before it is used."""

_WORTH_TRYING = 0.0027
"""(deflection/length)² from which the elastica is tried. It differs by 36/35 times this in a
uniform blade, 1.5 times in the default one and 1.8 in the most progressive a target allows."""


def worth_trying(linear: Bent) -> bool:
    """Whether the linear line is deep enough that the elastica might differ noticeably."""
    length = linear.axis.ends[-1] - linear.axis.ends[0]
    return bool((linear.deflection_ends[-1] / length) ** 2 > _WORTH_TRYING)


def bend_deeply(
    axis: Axis, rigid: Rigidity, loads: Sequence[Load], rotation: float = 0.0
) -> Bent:
    """Line of a clamped blade under hung weights, rotations exact.

    The places in the result stay those of the straight blade; ``deflection`` is how far each
    of them moved down.

    Raises:
        UnreachableError: no equilibrium was found (a load far beyond any blade).
    """
    places = [axis.end_index(load.x) for load in loads]
    start = axis.ends[0]

    def gap(reach: Floats) -> Floats:
        theta_ends = _slopes(axis, rigid, loads, reach, rotation)[1]
        return theta_ends[places] - reach

    sunk = cantilever(axis, rigid, loads, rotation).deflection_ends[-1] / (axis.ends[-1] - start)
    # What a uniform blade's tip keeps of its reach, to 0.1 up to PL²/EI = 10.
    guess = np.array([load.x - start for load in loads]) / np.sqrt(1.0 + 0.4 * sunk * sunk)
    found = root(gap, guess, tol=1e-12)
    if not found.success and np.max(np.abs(gap(found.x))) > 1e-7:
        raise UnreachableError("the blade folds up under this load", field="load")
    return _line(axis, rigid, loads, found.x, rotation)


def _slopes(
    axis: Axis, rigid: Rigidity, loads: Sequence[Load], reach: Floats, rotation: float
) -> tuple[Floats, Floats, Floats]:
    """θ at the points, and X(s) at the ends and the points, for assumed reaches."""
    out = axis.x - axis.ends[0]
    theta = np.zeros_like(out)
    for _ in range(200):
        moment = _moment(loads, reach, out, axis)
        new = axis.running(moment / rigid.ei)[0] + rotation
        done = np.max(np.abs(new - theta)) < 1e-14
        theta = new
        out, out_ends = axis.running(np.cos(theta))
        if done:
            break
    return theta, out_ends, out


def _moment(loads: Sequence[Load], reach: Floats, out: Floats, axis: Axis) -> Floats:
    moment = np.zeros_like(out)
    for load, far in zip(loads, reach, strict=True):
        moment += load.force * (far - out) * (axis.x < load.x)
    return moment


def _line(
    axis: Axis, rigid: Rigidity, loads: Sequence[Load], reach: Floats, rotation: float
) -> Bent:
    theta, _, out = _slopes(axis, rigid, loads, reach, rotation)
    moment = _moment(loads, reach, out, axis)
    curvature = moment / rigid.ei
    shear = np.zeros_like(theta)
    for load in loads:
        shear += load.force * (axis.x < load.x)
    theta_ends = axis.running(curvature)[1] + rotation
    down, down_ends = axis.running(np.sin(theta) + shear / rigid.shear)
    return Bent(axis, moment, shear, curvature, theta, down, theta_ends, down_ends)
