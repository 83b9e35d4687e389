"""STEP files read back by Open CASCADE, an independent geometry kernel.

Volumes and balance are held to the section formulas integrated along the paddle, boxes to the
channels' greatest values.
"""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest
from OCP.Bnd import Bnd_Box
from OCP.BRepBndLib import BRepBndLib
from OCP.BRepCheck import BRepCheck_Analyzer
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.IFSelect import IFSelect_RetDone
from OCP.ShapeAnalysis import ShapeAnalysis_FreeBounds, ShapeAnalysis_ShapeTolerance
from OCP.STEPCAFControl import STEPCAFControl_Reader
from OCP.STEPControl import STEPControl_Reader
from OCP.TCollection import TCollection_ExtendedString
from OCP.TDataStd import TDataStd_Name
from OCP.TDF import TDF_ChildIterator
from OCP.TDocStd import TDocStd_Document
from OCP.TopAbs import TopAbs_EDGE, TopAbs_FACE, TopAbs_SHELL, TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.XCAFDoc import XCAFDoc_DocumentTool

from springloom.shape.paddle import Paddle
from springloom.solid import step_text
from tests.solid_paddles import PADDLES, box, closed_form

ALL = pytest.mark.parametrize("name", PADDLES)
ACCURACY = 1e-5
"""mm; what the file states, and no edge or vertex had to be loosened beyond."""


class Read(NamedTuple):
    """A file's one shape and its paddle."""

    shape: Any
    paddle: Paddle


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Reads a paddle's file, each once."""
    folder = tmp_path_factory.mktemp("step")

    @functools.cache
    def reader(name: str) -> Read:
        return Read(shape_in(folder / "paddle.step", step_text(PADDLES[name], name)),
                    PADDLES[name])

    return reader


def shape_in(path: Path, text: str) -> Any:
    path.write_text(text, encoding="ascii")
    reader = STEPControl_Reader()
    assert reader.ReadFile(str(path)) == IFSelect_RetDone
    assert reader.TransferRoots() == 1
    return reader.OneShape()


def parts(shape: Any, kind: Any) -> list[Any]:
    explorer, found = TopExp_Explorer(shape, kind), []
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    return found


@ALL
def test_it_is_one_valid_closed_solid(name: str, read: Any) -> None:
    shape = read(name).shape
    assert shape.ShapeType() == TopAbs_SOLID
    assert BRepCheck_Analyzer(shape).IsValid()
    shells = parts(shape, TopAbs_SHELL)
    assert len(shells) == 1
    assert shells[0].Closed()
    free = ShapeAnalysis_FreeBounds(shells[0])
    assert parts(free.GetClosedWires(), TopAbs_EDGE) == []
    assert parts(free.GetOpenWires(), TopAbs_EDGE) == []


@ALL
def test_no_edge_had_to_be_loosened(name: str, read: Any) -> None:
    assert ShapeAnalysis_ShapeTolerance().Tolerance(read(name).shape, 1) <= ACCURACY


@ALL
def test_volume_is_the_closed_form(name: str, read: Any) -> None:
    shape, paddle = read(name)
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)  # positive: faces point outward
    expected = closed_form(paddle)
    # Both integrate polynomials exactly; edges are good to 1e-5 mm of some 20 mm.
    assert found.Mass() == pytest.approx(1e9 * expected.volume_m3, rel=1e-6)
    balance = found.CentreOfMass().X()
    assert balance == pytest.approx(1e3 * expected.balance_m, abs=1e-3)  # mm
    assert found.CentreOfMass().Y() == pytest.approx(0.0, abs=1e-5)


@ALL
def test_volume_holds_under_another_integration(name: str, read: Any) -> None:
    shape, paddle = read(name)
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found, 1e-7, False, False)  # to a stated error
    assert found.Mass() == pytest.approx(1e9 * closed_form(paddle).volume_m3, rel=1e-6)


@ALL
def test_the_box_is_the_closed_form(name: str, read: Any) -> None:
    shape, paddle = read(name)
    bounds = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, bounds, False, False)
    low, high = bounds.CornerMin(), bounds.CornerMax()
    found = np.array([[low.X(), low.Y(), low.Z()], [high.X(), high.Y(), high.Z()]])
    assert found == pytest.approx(1e3 * box(paddle), abs=1e-3)  # mm; ten times below what is asked


@ALL
def test_a_flat_face_is_one_plane_and_all_others_are_splines(name: str, read: Any) -> None:
    shape, paddle = read(name)
    spans = len(paddle.a.knots) + len(paddle.b.knots) - 3
    flat = [half for half in (paddle.a, paddle.b) if min(s.share for s in half.stations) == 1.0]
    gone = sum(2 * (len(half.stations) - 1) - 1 for half in flat)
    assert len(parts(shape, TopAbs_FACE)) == 4 * spans - gone


def test_the_name_can_be_read_in_any_letters(tmp_path: Path) -> None:
    path, name = tmp_path / "odd.step", "Åse's \\ 桨 and 𝄞"
    path.write_text(step_text(PADDLES["short"], name), encoding="ascii")
    reader, document = STEPCAFControl_Reader(), TDocStd_Document(TCollection_ExtendedString("XCAF"))
    reader.SetNameMode(True)
    assert reader.ReadFile(str(path)) == IFSelect_RetDone
    assert reader.Transfer(document)
    shapes = XCAFDoc_DocumentTool.ShapeTool_s(document.Main())
    found = TDataStd_Name()
    assert TDF_ChildIterator(shapes.Label()).Value().FindAttribute(TDataStd_Name.GetID_s(), found)
    assert found.Get().ToExtString() == name
