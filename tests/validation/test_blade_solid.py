"""The whole blade against a three-dimensional orthotropic solid in CalculiX (ccx).

Independent solver: G. Dhondt, The Finite Element Method for Three-Dimensional Thermomechanical
Applications (2004), the CalculiX program. Clamped at the root, the standard load at the tip.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import eigh

from springloom.mechanics.axis import half_axis
from springloom.mechanics.stiffness import rigidity
from springloom.mechanics.vibration import assembled
from springloom.shape.blade import HalfPaddle
from springloom.shape.section import area
from springloom.wood.elastic import Orthotropic
from springloom.wood.material import species_material
from tests.solid3d.cases import CASES, DEFAULT, SLENDER, Case
from tests.solid3d.compare import Difference, compare
from tests.solid3d.deck import oriented
from tests.solid3d.mesh import TIP_CLIP, Grid
from tests.solid3d.run import SolverFailedError, SolverMissingError, frequencies

TIP, LINE, FREQUENCY, STRESS = 0.01, 0.01, 0.02, 0.05
"""How near a beam of this slenderness should come; what the tool promises."""

Compare = Callable[[Case], Difference]


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> Compare:
    """Each case is solved once for all tests."""
    known: dict[str, Difference] = {}

    def look_up(case: Case) -> Difference:
        if str(case) not in known:
            known[str(case)] = compare(case, work=tmp_path_factory.getbasetemp())
        return known[str(case)]

    return look_up


every_case = pytest.mark.parametrize("case", CASES, ids=str)


@every_case
def test_deflection_of_the_tip(case: Case, compared: Compare) -> None:
    assert abs(compared(case).tip) < TIP


@every_case
def test_deflected_line(case: Case, compared: Compare) -> None:
    found = compared(case)
    assert found.line < LINE
    # Two widths from the clamp on, of the local deflection; nearer, 1 % of next to nothing.
    assert found.line_local < LINE


@every_case
def test_first_two_frequencies(case: Case, compared: Compare) -> None:
    assert max(map(abs, compared(case).frequencies)) < FREQUENCY


@every_case
def test_stress_at_the_crown(case: Case, compared: Compare) -> None:
    assert compared(case).stress < STRESS


@every_case
def test_volume_of_the_bricks(case: Case, compared: Compare) -> None:
    axis = half_axis(case.half, case.half.loom.root, end=case.half.tip - TIP_CLIP)
    w, crown, r_top, r_low, s, share = axis.values
    ours = axis.integral(area(w, ((crown * share, r_top), (crown * (1.0 - share), r_low)), s))
    # The bricks follow a cubic outline by parabolas.
    assert compared(case).solved.volume == pytest.approx(ours, rel=3e-4)


def test_bricks_are_fine_enough(compared: Compare, tmp_path: Path) -> None:
    case = CASES[3]  # the sharpest ridge
    rough, fine = compared(case), compare(case, Grid(core=3, step=0.011), tmp_path)
    assert fine.solved.deflection[-1] == pytest.approx(rough.solved.deflection[-1], rel=2e-3)
    assert fine.solved.frequencies[:2] == pytest.approx(rough.solved.frequencies[:2], rel=2e-3)
    # Stresses are carried from points inside the bricks to the surface: a tenth of the promise.
    assert fine.stress == pytest.approx(rough.stress, abs=5e-3)


@pytest.mark.parametrize("half", [DEFAULT, SLENDER], ids=["default", "slender"])
def test_what_the_clip_takes_off_the_tip_is_nothing(half: HalfPaddle) -> None:
    wood = species_material("western_redcedar")
    lowest = []
    for end in (half.tip, half.tip - TIP_CLIP):
        axis = half_axis(half, half.loom.root, end=end, points=4, pieces=4)
        stiff, mass = assembled(axis, rigidity(axis, wood))
        squares = eigh(stiff[2:, 2:], mass[2:, 2:], eigvals_only=True, subset_by_index=(0, 1))
        lowest.append(np.sqrt(squares))
    # A twentieth of the 2 % asked of the frequencies.
    np.testing.assert_allclose(lowest[0], lowest[1], rtol=1e-3)


def test_rings_turn_the_constants_with_them() -> None:
    wood = Orthotropic(100.0, 8.0, 5.0, 7.0, 6.0, 0.5, 0.37, 0.44, 0.5)
    flat, quarter = oriented(wood, "flat"), oriented(wood, "quarter")
    assert (flat.e_z, flat.e_y, flat.g_xz) == (8.0, 5.0, 7.0)
    assert (quarter.e_z, quarter.e_y, quarter.g_xz) == (5.0, 8.0, 6.0)
    # Reciprocity, ν_yz/E_y = ν_zy/E_z.
    assert flat.nu_yz / flat.e_y == pytest.approx(quarter.nu_yz / quarter.e_y)


def test_missing_solver_says_how_to_get_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CCX", "no-such-solver")
    with pytest.raises(SolverMissingError, match="apt-get install calculix-ccx"):
        compare(CASES[0], work=tmp_path)


def test_solver_that_gives_up_is_no_result(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CCX", "false")
    with pytest.raises(SolverFailedError, match="no result"):
        compare(CASES[0], work=tmp_path)
    with pytest.raises(SolverFailedError, match="E I G E N"):
        frequencies("an empty file")
