"""DXF: native curves, lines and letters, in mm, clean, the same each time, as the other two."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable

import numpy as np
import pytest
from ezdxf.entities.boundary_paths import EdgePath, SplineEdge
from ezdxf.entities.hatch import Hatch
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.entities.text import Text as DxfText
from ezdxf.enums import TextEntityAlignment

from springloom.drawing.dxf import write_dxf
from springloom.drawing.fonts import plain_width_mm
from springloom.drawing.full_outline import outline_roll, outline_tiles
from springloom.drawing.lettering import set_text, text_corners
from springloom.drawing.model import Drawing, Fill, Path, Pen, Text, Weight
from springloom.drawing.outline import face_outline, section_outline
from springloom.drawing.paths import bezier_from_points, circle, line, polyline, rect
from springloom.drawing.plan_sheet import SheetText, plan_sheet
from springloom.drawing.templates import section_templates
from springloom.shape.paddle import default_paddle
from tests.verification.drawing_agree import dxf_document, dxf_segments, widest_gap_mm
from tests.verification.drawing_readback import sample, texts_of
from tests.verification.plan_designs import random_half

# What the three files promise; the SVG rounds to 0.5e-3 mm, the PDF to 0.5e-3 pt.
TRUE_MM = 0.01


def plan() -> Drawing:
    return plan_sheet(default_paddle().a, SheetText("Bench paddle"), length_m=2.21, system="in")


def page(*items: Path | Text) -> Drawing:
    return Drawing(200, 100, "Trial", items)


def card() -> Drawing:
    return section_templates(default_paddle().a, SheetText("Bench paddle"), system="in")[0]


def roll() -> Drawing:
    return outline_roll(default_paddle().a, SheetText("Bench paddle"))[0]


def tile() -> Drawing:
    return outline_tiles(default_paddle().a, SheetText("Bench paddle"), page="letter")[2]


PAGES: list[Callable[[], Drawing]] = [sample, plan, card, roll, tile]


@pytest.mark.parametrize("make", PAGES)
def test_audit_finds_nothing(make: Callable[[], Drawing]) -> None:
    auditor = dxf_document(write_dxf(make())).audit()
    assert auditor.errors == []
    assert auditor.fixes == []


@pytest.mark.parametrize("make", PAGES)
def test_units_and_size_are_stated(make: Callable[[], Drawing]) -> None:
    drawing = make()
    header = dxf_document(write_dxf(drawing)).header
    assert header["$INSUNITS"] == 4  # mm, DXF reference
    assert header["$MEASUREMENT"] == 1  # metric
    assert tuple(header["$EXTMIN"])[:2] == (0.0, 0.0)
    assert tuple(header["$EXTMAX"])[:2] == (drawing.width_mm, drawing.height_mm)
    assert header.custom_vars.get("Title") == drawing.title


@pytest.mark.parametrize("make", PAGES)
def test_three_writers_agree_on_every_path(make: Callable[[], Drawing]) -> None:
    assert widest_gap_mm(make()) < TRUE_MM


@pytest.mark.parametrize("seed", [1, 3, 4, 6, 7])
def test_three_writers_agree_on_random_paddles(seed: int) -> None:
    half = random_half(seed)
    drawing = plan_sheet(half, SheetText("Any"), length_m=2 * half.tip)
    assert widest_gap_mm(drawing) < TRUE_MM


def test_dxf_holds_the_models_own_control_points() -> None:
    path = face_outline(default_paddle().a)
    read = dxf_segments(write_dxf(page(path)))
    # The file carries every digit of a double.
    assert np.abs(read - path.segments).max() < 1e-12


def test_the_agreement_test_can_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    drawing = page(circle(50, 50, 20))
    moved = page(circle(50, 50.02, 20))
    monkeypatch.setattr("tests.verification.drawing_agree.write_dxf", lambda _: write_dxf(moved))
    assert widest_gap_mm(drawing) > TRUE_MM


def test_each_kind_of_path_is_the_plainest_entity() -> None:
    half = default_paddle().a
    drawn: dict[str, Path] = {
        "LINE": line((0, 0), (10, 5)),
        "LWPOLYLINE": rect(0, 0, 20, 10),
        "SPLINE": bezier_from_points([(0, 0), (10, 5), (20, 0), (30, 5)]),
        "LWPOLYLINE ": polyline([(0, 0), (10, 5), (20, 0)]),
        "SPLINE ": section_outline(half.section(0.6)),
        "HATCH": circle(5, 5, 3, None, fill=Fill.INK),
    }
    for kind, path in drawn.items():
        found = [e.dxftype() for e in dxf_document(write_dxf(page(path))).modelspace()]
        assert found == [kind.strip()]


def test_straight_loom_and_curved_blade_stay_joined() -> None:
    path = face_outline(default_paddle().a)
    kinds = [e.dxftype() for e in dxf_document(write_dxf(page(path))).modelspace()]
    assert kinds == ["LINE", "SPLINE", "LINE"]
    read = dxf_segments(write_dxf(page(path)))
    assert (read[1:, 0] == read[:-1, 3]).all()


@pytest.mark.parametrize("pen", Pen)
def test_pens_keep_width_and_dashes(pen: Pen) -> None:
    document = dxf_document(write_dxf(page(line((0, 0), (50, 0), pen, layer="face"))))
    (entity,) = document.modelspace()
    assert entity.dxf.layer == "face"
    assert "face" in document.layers
    # Line weights are hundredths of a mm.
    assert entity.dxf.lineweight == pytest.approx(100 * pen.width_mm)
    name = entity.dxf.linetype
    if not pen.dash_mm:
        assert name == "BYLAYER"
        return
    tags = document.linetypes.get(name).pattern_tags.tags
    lengths = [tag.value for tag in tags if tag.code == 49]
    assert [abs(n) for n in lengths] == pytest.approx(pen.dash_mm)
    assert [n > 0 for n in lengths] == [n % 2 == 0 for n in range(len(lengths))]


@pytest.mark.parametrize("fill", Fill)
def test_fills_cover_what_the_path_encloses(fill: Fill) -> None:
    shape = circle(20, 20, 10, None, fill=fill)
    document = dxf_document(write_dxf(page(shape)))
    (hatch,) = document.modelspace()
    assert isinstance(hatch, Hatch)
    assert hatch.dxf.solid_fill == 1
    (boundary,) = hatch.paths.paths
    assert isinstance(boundary, EdgePath)
    read = np.array([[(p[0], p[1]) for p in edge.control_points] for edge in boundary.edges
                     if isinstance(edge, SplineEdge)])
    assert np.abs(read - shape.segments).max() < 1e-12
    assert hatch.dxf.color == 7
    assert (hatch.rgb is None) == (fill is Fill.INK)


def read_texts(drawing: Drawing) -> list[DxfText]:
    return [e for e in dxf_document(write_dxf(drawing)).modelspace() if isinstance(e, DxfText)]


def test_letters_are_text_where_the_model_lays_them() -> None:
    drawing = sample()
    found = iter(read_texts(drawing))
    for text in texts_of(drawing):
        turn = np.radians(text.rotation_deg)
        frame = np.array([(np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))])
        for run in set_text(text).runs:
            if not run.visible or not run.string.strip():
                continue
            entity = next(found)
            align, start, stop = entity.get_placement()
            assert align is TextEntityAlignment.FIT
            assert entity.plain_text() == run.string.strip()
            assert entity.dxf.height == pytest.approx(run.size_mm)
            assert entity.dxf.rotation == pytest.approx(text.rotation_deg)
            left = len(run.string) - len(run.string.lstrip())
            x = run.x + plain_width_mm(run.string[:left], run.size_mm, text.weight)
            width = plain_width_mm(run.string.strip(), run.size_mm, text.weight)
            wanted = np.array([(x, run.y), (x + width, run.y)]) @ frame + (text.x, text.y)
            assert stop is not None
            read = np.array([(start.x, start.y), (stop.x, stop.y)])
            assert read == pytest.approx(wanted, abs=1e-9)
    assert next(found, None) is None


def test_a_stacked_fraction_keeps_its_bar() -> None:
    text = Text(20, 30, "3 1/4 in", 5.0, rotation_deg=90.0)
    document = dxf_document(write_dxf(page(text)))
    whole, top, bottom, unit, bar = document.modelspace()
    assert isinstance(whole, DxfText)
    assert [e.dxf.text for e in (whole, top, bottom, unit)] == ["3", "1", "4", "in"]
    assert top.dxf.height == bottom.dxf.height < whole.dxf.height
    model = set_text(text).bars[0]
    assert bar.dxf.const_width == pytest.approx(model.height)
    assert isinstance(bar, LWPolyline)
    (x0, y0), (x1, y1) = ((float(p[0]), float(p[1])) for p in bar)
    # Turned upright: the bar stands along y, to the left of the foot line.
    assert (y0 - 30, y1 - 30) == pytest.approx((model.x0, model.x1))
    assert 20 - x0 == pytest.approx((model.y0 + model.y1) / 2)
    assert x1 == pytest.approx(x0)
    corners = text_corners(text)
    assert corners[:, 0].min() < x0 < corners[:, 0].max()


@pytest.mark.parametrize("string", ["50 % off", "100%% sure", "%%d", "a ^ b", "^J", "Å × – °",
                                    "%%%", "%%"])
def test_what_is_written_is_read(string: str) -> None:
    (entity,) = read_texts(page(Text(10, 10, string)))
    assert entity.plain_text().replace("%%%", "%") == string.replace("%%%", "%")


@pytest.mark.parametrize("weight", Weight)
def test_style_names_a_typeface(weight: Weight) -> None:
    document = dxf_document(write_dxf(page(Text(10, 10, "a", weight=weight))))
    (entity,) = document.modelspace()
    style = document.styles.get(entity.dxf.style)
    assert style.dxf.font.endswith(".ttf")
    # A style of height 0 leaves each text its own.
    assert style.dxf.height == 0


def test_same_file_in_another_process() -> None:
    code = ("from tests.verification.test_drawing_dxf import plan, write_dxf;"
            "import hashlib; print(hashlib.sha256(write_dxf(plan()).encode()).hexdigest())")
    found = {
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True,
                       timeout=120, env={**os.environ, "PYTHONHASHSEED": seed}).stdout
        for seed in ("1", "2")
    }
    assert len(found) == 1
    assert write_dxf(plan()) == write_dxf(plan())


def test_a_users_own_files_keep_their_dates() -> None:
    from ezdxf._options import options  # noqa: PLC0415 - only this test looks inside

    write_dxf(sample())
    assert options.write_fixed_meta_data_for_testing is False
