"""Run CalculiX on a half blade and read back what the beam is compared with."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from tests.solid3d.deck import Constants, deck
from tests.solid3d.mesh import Mesh

Floats = npt.NDArray[np.float64]

TIMEOUT = 600.0


class SolverMissingError(RuntimeError):
    """CalculiX is not on this machine."""


class SolverFailedError(RuntimeError):
    """CalculiX ran and gave no result."""


@dataclass(frozen=True, slots=True)
class Solved:
    """What the solid does; arrays run from the root to the end.

    Attributes:
        x: (n,) places of the axis's nodes, m from the centre.
        deflection: (n,) their displacement along z, m.
        frequencies: lowest flatwise frequencies, Hz. The half model can move flatwise or
            along x only: turning and edgewise modes would cross its plane of symmetry.
        crown_x: (m,) places of the upper ridge's nodes, m.
        crown_stress: (m,) stress along x there, Pa (negative: pressed).
        volume: of the whole blade, m³.
        seconds: wall time of the solver.
    """

    x: Floats
    deflection: Floats
    frequencies: tuple[float, ...]
    crown_x: Floats
    crown_stress: Floats
    volume: float
    seconds: float


def ccx_command() -> str:
    """Path of the solver: ``ccx``, or what the environment variable CCX names.

    Raises:
        SolverMissingError: it isn't installed; says how to.
    """
    found = shutil.which(os.environ.get("CCX", "ccx"))
    if found is None:
        raise SolverMissingError(
            "CalculiX (ccx) is not installed, and this check compares the beam with it. "
            "On Debian or Ubuntu: apt-get install calculix-ccx. Elsewhere conda-forge has it as "
            "calculix. A ccx that isn't on the PATH may be named in the environment variable CCX."
        )
    return found


def solve(
    mesh: Mesh, constants: Constants, density: float, force: float, work: Path, threads: int = 1
) -> Solved:
    """Solve one half blade in the empty folder ``work``.

    Args:
        mesh: the half blade.
        constants: along its own axes.
        density: kg/m³.
        force: on the end of the whole blade, N.
        work: where the solver's files go; the caller's to remove.
        threads: how many the solver may use.

    Raises:
        SolverMissingError: no solver.
        SolverFailedError: it stopped before the end; carries its last lines.
    """
    command = [ccx_command(), "-i", "blade"]
    (work / "blade.inp").write_text(deck(mesh, constants, density, force), encoding="ascii")
    begun = time.perf_counter()
    done = subprocess.run(
        command, cwd=work, env={**os.environ, "OMP_NUM_THREADS": str(threads)},
        capture_output=True, text=True, timeout=TIMEOUT, check=False,
    )
    seconds = time.perf_counter() - begun
    if done.returncode != 0 or "Job finished" not in done.stdout:
        raise SolverFailedError(f"ccx gave no result:\n{done.stdout[-2000:]}{done.stderr[-2000:]}")
    dat = (work / "blade.dat").read_text(encoding="ascii")
    frd = (work / "blade.frd").read_text(encoding="ascii")
    return parse(mesh, dat, frd, seconds)


def parse(mesh: Mesh, dat: str, frd: str, seconds: float) -> Solved:
    """Read the solver's two result files."""
    moved, stressed = displacements(dat), stresses(frd)
    return Solved(
        x=mesh.nodes[mesh.axis, 0],
        deflection=np.array([moved[number][2] for number in (mesh.axis + 1).tolist()]),
        frequencies=frequencies(dat),
        crown_x=mesh.nodes[mesh.crown, 0],
        crown_stress=np.array([stressed[number][0] for number in (mesh.crown + 1).tolist()]),
        volume=2.0 * half_volume(dat),
        seconds=seconds,
    )


def frequencies(dat: str) -> tuple[float, ...]:
    """Frequencies in Hz from the table of eigenvalues: number, eigenvalue, rad/s, Hz, imaginary."""
    table = _between(dat, r"E I G E N V A L U E   O U T P U T", r"P A R T I C I P A T I O N")
    rows = [line.split() for line in table.splitlines()]
    return tuple(float(row[3]) for row in rows if len(row) == 5 and row[0].isdigit())


def displacements(dat: str) -> dict[int, tuple[float, ...]]:
    """Displacements (x, y, z) in m by node number, of the static step."""
    table = _between(dat, r"displacements \(vx,vy,vz\) for set AXIS.*", r"^ [a-z]")
    rows = [line.split() for line in table.splitlines()]
    return {int(row[0]): tuple(map(float, row[1:])) for row in rows if len(row) == 4}


def half_volume(dat: str) -> float:
    """Volume of all bricks, m³."""
    return float(_between(dat, r"total volume for set BLADE.*", r"^ [a-z]"))


def stresses(frd: str) -> dict[int, tuple[float, ...]]:
    """Stresses (xx, yy, zz, xy, yz, zx) in Pa by node number; columns of twelve, no blanks."""
    table = _between(frd, r"^ -4  STRESS.*", r"^ -3")
    rows = [line for line in table.splitlines() if line.startswith(" -1")]
    return {
        int(row[3:13]): tuple(float(row[at : at + 12]) for at in range(13, 85, 12)) for row in rows
    }


def _between(text: str, start: str, stop: str) -> str:
    head = re.search(start, text, re.MULTILINE)
    if head is None:
        raise SolverFailedError(f"the solver's results have no {start!r}")
    rest = text[head.end():]
    tail = re.search(stop, rest, re.MULTILINE)
    return rest[: tail.start()] if tail else rest
