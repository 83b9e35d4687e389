"""The carving guide: each stage with its own limits and weights, on sheets with room to write."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

import pytest

from springloom.drawing.carving_guide import CarvingText, StageText, carving_sheets
from springloom.drawing.lettering import text_box
from springloom.drawing.model import Drawing
from springloom.drawing.paper import MARGIN_MM, Page, paper
from springloom.drawing.paths import path_bounds
from springloom.drawing.pdf import write_pdf
from springloom.errors import InputError, UnknownNameError
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.stage_mass import stage_masses
from springloom.mechanics.stiffness import spread_of
from springloom.report.carving_words import carving_drawings, carving_text
from springloom.report.cautions import AT_SEA, BLADES, DUST, GLUE, RAGS
from springloom.report.words import Words
from springloom.shape.blank import blank_for
from springloom.shape.paddle import default_paddle
from springloom.shape.stages import STAGES, TAPERED, stages
from springloom.units import parse_length, parse_mass
from tests.verification.drawing_agree import widest_gap_mm
from tests.verification.drawing_readback import paths_of, pdf_text, texts_of
from tests.verification.drawing_tidy import assert_tidy
from tests.verification.plan_designs import random_paddle
from tests.verification.sheet_designs import random_design

PLAIN = replace(random_design(1), paddle=default_paddle())
WORDS = Words("mm")
GRAM = 0.5001e-3  # printed to whole grams


def text_of(drawings: tuple[Drawing, ...]) -> str:
    return pdf_text(write_pdf(list(drawings)))


def checks(stage: StageText) -> dict[str, str]:
    return dict(stage.checks)


def test_one_stage_of_words_for_each_of_the_model() -> None:
    assert len(carving_text(PLAIN, WORDS).stages) == len(STAGES)


def test_weights_are_the_model_s_with_its_band_and_fall() -> None:
    masses = stage_masses(PLAIN.paddle, PLAIN.build)
    sd = spread_of(PLAIN.build)[1]
    printed = []
    for stage, mass in zip(carving_text(PLAIN, WORDS).stages, masses, strict=True):
        found = checks(stage)
        low, middle, high = (parse_mass(found[key], field="t")
                             for key in ("likely from", "Weight", "to"))
        printed.append(middle)
        # Nine in ten of a lognormal lie within 1.645 standard deviations of ln (normal tables).
        for value, true in ((middle, mass), (low, mass * math.exp(-1.645 * sd)),
                            (high, mass * math.exp(1.645 * sd))):
            assert value == pytest.approx(true, rel=1e-4, abs=GRAM)
    assert all(before > after for before, after in pairwise(printed))
    last = mass_properties(PLAIN.paddle, PLAIN.build).mass_kg
    assert printed[-1] == pytest.approx(last, abs=GRAM)


def test_limits_are_the_wood_that_is_left() -> None:
    made, found = carving_text(PLAIN, WORDS).stages, stages(PLAIN.paddle)
    left = [f"{1e3 * (stage.left_m or 0.0):.1f} mm" for stage in found[TAPERED:]]
    first, second, rounding, finished = (" ".join(stage.limits) for stage in made[3:])
    assert left[0] in first
    assert left[1] in first
    assert left[1] in second
    assert left[2] in second
    assert left[2] in rounding
    assert f"{1e3 * (found[-2].left_m or 0.0):.2f} mm" in finished


def test_sizes_to_check_are_the_blank_s_and_the_blade_s() -> None:
    made = carving_text(PLAIN, WORDS).stages
    blank, half = blank_for(PLAIN.paddle), PLAIN.paddle.a
    squared = checks(made[0])
    for name, true in (("Length", blank.length_m), ("Width", blank.width_m),
                       ("Thickness", blank.thickness_m)):
        assert parse_length(squared[name]) == pytest.approx(true, abs=0.5001e-3)
    tapered, finished = checks(made[2]), checks(made[-1])
    for station in half.stations:
        assert parse_length(tapered[station.name]) == pytest.approx(station.crown, abs=0.05001e-3)
        both = finished[station.name].removesuffix(" mm").split(", ")
        sizes = [station.crown] if station.width == 0.0 else [station.crown, station.edge]
        assert [1e-3 * float(b) for b in both] == pytest.approx(sizes, abs=0.05001e-3)


def test_the_loom_is_checked_by_what_is_left_of_its_face() -> None:
    made, loom = carving_text(PLAIN, WORDS).stages, PLAIN.paddle.a.loom
    # 1 : √2 : 1, of which √2 stays: common practice says 10 of 24.
    stays = math.sqrt(2.0) / (2.0 + math.sqrt(2.0))
    found = checks(made[3])
    for name, whole in (("Loom, face left", loom.width), ("Loom, edge left", loom.thickness)):
        assert parse_length(found[name]) == pytest.approx(stays * whole, abs=0.05001e-3)
    assert parse_length(checks(made[4])["Loom, face left"]) < parse_length(found["Loom, face left"])


def test_cautions_stand_where_their_work_is_done() -> None:
    squared, sawn, *_, rounding, finished = carving_text(PLAIN, WORDS).stages
    assert DUST in squared.cautions
    assert BLADES in sawn.cautions
    assert DUST in rounding.cautions
    assert {GLUE, RAGS, AT_SEA} <= set(finished.cautions)
    assert all(stage.cautions and stage.limits and stage.tools and stage.work
               for stage in carving_text(PLAIN, WORDS).stages)


def test_unlike_blades_are_measured_each() -> None:
    paddle = random_paddle(5)
    assert not paddle.is_symmetric
    made = carving_text(replace(PLAIN, paddle=paddle), WORDS).stages
    heads = [name for name, value in made[-1].checks if not value]
    assert heads == ["Thickness, edge, A", "Thickness, edge, B"]


def test_inches_are_told_in_inches_and_ounces() -> None:
    text = text_of(carving_drawings(PLAIN, Words("in")))
    assert " oz" in text
    assert re.search(r"\d mm\b", text.replace("75 mm", "")) is None
    assert re.search(r"\d g\b", text) is None


@pytest.mark.parametrize("page", ["a4", "letter"])
@pytest.mark.parametrize("seed", range(20))
def test_no_word_is_in_the_way_for_any_design(seed: int, page: Page) -> None:
    design = random_design(seed)
    made = carving_drawings(design, Words(design.units), page)
    assert all((d.width_mm, d.height_mm) == (paper(page).width_mm, paper(page).height_mm)
               for d in made)
    for drawing in made:
        assert_tidy(drawing, MARGIN_MM)
    names = [f"{n} {s.name}" for n, s in
             enumerate(carving_text(design, Words(design.units)).stages, 1)]
    said = [t.string for d in made for t in texts_of(d)]
    assert [s for s in said if s in names] == names


def test_each_stage_has_a_box_to_tick_and_lines_to_write_on() -> None:
    made = carving_drawings(PLAIN, WORDS)
    boxes = [path_bounds(p) for d in made for p in paths_of(d)
             if p.layer == "stages" and p.closed]
    assert len(boxes) == len(STAGES)
    assert all(b.width == pytest.approx(5.0) and b.height == pytest.approx(5.0) for b in boxes)
    heads = [t for d in made for t in texts_of(d) if t.string == "Measured"]
    assert len(heads) == len(STAGES)
    right = paper("a4").inner.x1
    # Room for "1 lb 12.3 oz" by hand, up to the right margin.
    assert all(right - text_box(t).x0 > 17.0 for t in heads)


def test_a4_takes_two_pages_for_the_default_paddle() -> None:
    made = carving_drawings(PLAIN, WORDS)
    assert len(made) == 2
    assert "Carving guide, 2 of 2" in {t.string for t in texts_of(made[1])}


LONG = "a long word about planing 3 1/4 in " * 12


def test_long_words_are_broken_and_pages_are_added() -> None:
    checked = ("a thing that is measured and has a long name", "3 1/4 in"), ("other", "")
    stage = StageText("A stage whose name is longer than the sheet is wide " * 3, LONG, (LONG,) * 2,
                      (LONG,), (LONG,), checked)
    words = CarvingText("A name of a paddle that takes more than a line " * 3, "x" * 200, (LONG,),
                        (stage,) * 4, LONG)
    made = carving_sheets(words, "letter")
    assert len(made) > 2
    for drawing in made:
        assert_tidy(drawing, MARGIN_MM)


def test_bare_words_make_a_bare_sheet() -> None:
    (drawing,) = carving_sheets(CarvingText("Bare"))
    assert {"Bare", "Carving guide"} <= {t.string for t in texts_of(drawing)}
    (drawing,) = carving_sheets(CarvingText("Bare", stages=(StageText("Plane"),)))
    assert "1 Plane" in {t.string for t in texts_of(drawing)}
    assert "Tools" not in {t.string for t in texts_of(drawing)}


def test_unknown_page_and_broken_lines_are_refused() -> None:
    with pytest.raises(UnknownNameError, match="page"):
        carving_sheets(CarvingText("x"), "a5")  # type: ignore[arg-type]  # what a caller may type
    with pytest.raises(InputError, match="one line"):
        carving_sheets(CarvingText("x", stages=(StageText("a\nb"),)))


def test_three_writers_agree() -> None:
    assert max(map(widest_gap_mm, carving_drawings(PLAIN, WORDS))) < 0.01
