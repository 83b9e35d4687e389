"""The line a loaded blade is expected to take, with what the wood's stiffness leaves open.

The shape is the bent blade's own: each place of the straight blade has moved down, and a
little inward, since the blade does not stretch. A card cut to it can be held against the blade.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.mechanics.beam import Bent
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.mechanics.stiffness import Build, rigidity_at, spread_of
from springloom.shape.blade import HalfPaddle
from springloom.wood.layup import Layup
from springloom.wood.material import Material

Floats = npt.NDArray[np.float64]

SIGMA_90 = 1.6448536269514722
"""Standard deviations either side that hold 90 % of a normal distribution."""

CUTS = 24


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One bent line from the clamp to the tip; arrays (n,), m and 1/m.

    Attributes:
        x: places on the straight blade, from the paddle's centre.
        out: how far along the straight line each has come, from the paddle's centre.
        fall: how far each has come down.
        curvature: of the blade there.
    """

    x: Floats
    out: Floats
    fall: Floats
    curvature: Floats

    @property
    def tip_m(self) -> float:
        """How far the tip comes down, m."""
        return float(self.fall[-1])


@dataclass(frozen=True, slots=True, eq=False)
class Expected:
    """What a blade is expected to do under a set-up.

    Attributes:
        setup: the set-up, every place filled in.
        middle: the line for the median stiffness.
        least, most: the lines between which 90 of 100 such blades lie.
        ei: bending rigidity at ``middle.x``, N·m².
        sd_ln_e: standard deviation of ln E behind the band.
    """

    setup: Clamped
    middle: Line
    least: Line
    most: Line
    ei: Floats
    sd_ln_e: float


def expected(half: HalfPaddle, build: Build, setup: Clamped | None = None) -> Expected:
    """Return the expected line and its 90 % band; the standard set-up if none is given."""
    full = (setup or Clamped()).on(half)
    start = half.loom.root if full.clamp is None else full.clamp
    # Cuts between the stations, so that a smooth curve through the points is the line itself.
    cuts = np.linspace(start, half.tip, CUTS + 1)[1:].tolist()
    read = replace(full, read=(*full.read, *cuts))
    sd, _ = spread_of(build)
    factor = math.exp(SIGMA_90 * sd)
    middle, stiff, soft = (line_of(clamped_line(half, stiffer(build, by), read))
                           for by in (1.0, factor, 1.0 / factor))
    # The tip has no width and so no rigidity.
    ei = rigidity_at(half.values(half.parameter(middle.x[:-1])), build).ei
    return Expected(full, middle, stiff, soft, np.append(ei, 0.0), sd)


def stiffer(build: Build, factor: float) -> Build:
    """Return the build with every modulus times ``factor``."""
    if isinstance(build, Material):
        return replace(build, e_pa=factor * build.e_pa, g_pa=factor * build.g_pa,
                       g_width_pa=factor * build.g_width_pa)
    strips = (replace(strip, material=_wood(stiffer(strip.material, factor)))
              for strip in build.strips)
    return Layup(tuple(strips))


def _wood(build: Build) -> Material:
    assert isinstance(build, Material)  # a material made stiffer is a material
    return build


def line_of(bent: Bent) -> Line:
    """Return a bent line as a shape, clamp and tip and all cuts among its points."""
    axis = bent.axis
    x = np.concatenate([axis.ends, axis.x.ravel()])
    order = np.argsort(x, kind="stable")
    inside, ends = axis.running(np.cos(bent.slope))
    out = axis.ends[0] + np.concatenate([ends, inside.ravel()])
    fall = np.concatenate([bent.deflection_ends, bent.deflection.ravel()])
    at, kappa = axis.x.ravel(), bent.curvature.ravel()
    # Curvature is known inside the spans; nought at a free tip, straight on to the clamp.
    clamp = kappa[0] - (kappa[1] - kappa[0]) / (at[1] - at[0]) * (at[0] - axis.ends[0])
    known_at = np.concatenate([axis.ends[:1], at, axis.ends[-1:]])
    all_kappa = np.interp(x, known_at, np.concatenate([[clamp], kappa, [0.0]]))
    return Line(x[order], out[order], fall[order], all_kappa[order])
