"""Bend sheet and card: the drawn line is the model's at full size, the figures are its own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath

import numpy as np
import pytest

from springloom.drawing.bend_card import LEFT, bend_card, bend_card_tiles
from springloom.drawing.bend_job import BendJob
from springloom.drawing.bend_sheet import bend_sheets
from springloom.drawing.model import Array, Drawing, Fill, Path, Pen
from springloom.drawing.paper import MARGIN_MM
from springloom.drawing.paths import curve_at, path_bounds
from springloom.drawing.pdf import write_pdf
from springloom.drawing.svg import write_svg
from springloom.mechanics.expected import stiffer
from springloom.mechanics.setups import Clamped, clamped_line
from springloom.mechanics.stiffness import Build
from springloom.records.design import Design, load_design
from springloom.report.bend_words import bend_drawings, bend_jobs
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle, Station
from springloom.units import parse_length
from tests.verification.command import MARSH_TERN
from tests.verification.drawing_readback import (
    SVG,
    path_segments,
    paths_of,
    pdf_paths,
    svg_root,
    texts_of,
)
from tests.verification.drawing_tidy import assert_tidy, bar_errors_mm
from tests.verification.sheet_designs import random_design

# Files hold thousandths of a mm; the card promises a hundredth.
TRUE_MM = 0.01


def design_of(seed: int) -> Design:
    return load_design(MARSH_TERN) if seed < 0 else random_design(seed)


def job_of(seed: int) -> BendJob:
    design = design_of(seed)
    return bend_jobs(design, Words(design.units))[0]


def model_line(job: BendJob, build: Build) -> Array:
    """The loaded line at 40 places of its own, mm from the clamp: out along x, down along −y."""
    half, setup = job.half, job.bend.setup
    places = np.linspace(job.clamp + 0.01, half.tip - 1e-4, 40)
    bent = clamped_line(half, build, Clamped(setup.clamp, setup.loads, tuple(places)))
    _, ends = bent.axis.running(np.cos(bent.slope))
    rows = [bent.axis.end_index(float(x)) for x in places]
    return 1e3 * np.column_stack((ends[rows], -bent.deflection_ends[rows]))


def drawn_line(segments: Array, straight: float) -> Array:
    """Densely, in the same frame: page x from the clamp, y from the straight line."""
    points = curve_at(segments, np.linspace(0.0, 1.0, 101)).reshape(-1, 2)
    return np.asarray(points - (LEFT, straight))


def straight_of(card: Drawing) -> float:
    (centre,) = [p for p in paths_of(card) if p.layer == "straight" and p.pen is Pen.CENTRE]
    return path_bounds(centre).y0


def outline_of(card: Drawing) -> Path:
    (line,) = [p for p in paths_of(card) if p.layer == "line"]
    return line


def svg_line(card: Drawing) -> Array:
    groups = [g for g in svg_root(write_svg(card)) if g.attrib.get("id") == "line"]
    (path,) = groups[0].findall(f"{SVG}path")
    return path_segments(path.attrib["d"], card.height_mm)[0]


def pdf_line(card: Drawing) -> Array:
    wanted = outline_of(card).segments
    alike = [p for p in pdf_paths(write_pdf([card])) if p.shape == wanted.shape]
    return min(alike, key=lambda p: float(np.abs(p - wanted).max()))


@pytest.mark.parametrize("read", [svg_line, pdf_line])
@pytest.mark.parametrize("seed", [-1, 1, 2, 3, 4, 9, 15])
def test_line_on_paper_is_the_model_at_full_size(read: Callable[[Drawing], Array],
                                                 seed: int) -> None:
    job = job_of(seed)
    card = bend_card(job)
    drawn = drawn_line(read(card), straight_of(card))
    model = model_line(job, design_of(seed).build)
    at = np.interp(model[:, 0], drawn[:, 0], drawn[:, 1])
    assert np.abs(at - model[:, 1]).max() < TRUE_MM
    assert drawn[0] == pytest.approx([0.0, 0.0], abs=TRUE_MM)
    # Both ends: the tip falls as far as the model says.
    assert drawn[-1, 1] == pytest.approx(-1e3 * job.bend.middle.tip_m, abs=TRUE_MM)


@pytest.mark.parametrize("seed", [-1, 3, 5])
def test_grey_lies_between_the_stiff_and_the_soft_line(seed: int) -> None:
    job, design = job_of(seed), design_of(seed)
    card = bend_card(job)
    (band,) = [p for p in paths_of(card) if p.layer == "band"]
    assert (band.fill, band.pen) == (Fill.WASH, None)
    points = drawn_line(band.segments, straight_of(card))
    factor = float(np.exp(1.6448536269514722 * job.bend.sd_ln_e))
    for by, pick in ((factor, np.max), (1.0 / factor, np.min)):
        model = model_line(job, stiffer(design.build, by))
        tip = model[-1]
        near = points[np.abs(points[:, 0] - tip[0]) < 0.6]
        # Within 0.6 mm along the line it falls by less than 0.1 mm at these slopes.
        assert pick(near[:, 1]) == pytest.approx(tip[1], abs=0.2)


@pytest.mark.parametrize("seed", [-1, 2, 7])
def test_lines_drop_to_where_each_place_has_come(seed: int) -> None:
    job = job_of(seed)
    card = bend_card(job)
    straight = straight_of(card)
    middle = job.bend.middle
    wanted = [(np.interp(row.x, middle.x, middle.out), np.interp(row.x, middle.x, middle.fall))
              for row in job.rows if row.x > job.clamp + 1e-6]
    feet = [p.segments[-1, 3] - (LEFT, straight) for p in paths_of(card)
            if p.layer == "stations" and p.pen is Pen.CONSTRUCTION and len(p.segments) == 3]
    assert len(feet) == len(wanted)
    for foot, (out, fall) in zip(sorted(feet, key=lambda f: f[0]), wanted, strict=True):
        assert foot == pytest.approx([1e3 * (out - job.clamp), -1e3 * fall], abs=TRUE_MM)


@pytest.mark.parametrize("seed", [-1, 1, 6])
def test_charts_stand_under_the_card_at_full_size(seed: int) -> None:
    job = job_of(seed)
    card = bend_card(job)
    frames = [path_bounds(p) for p in paths_of(card)
              if p.layer == "plot" and p.pen is Pen.DIMENSION and len(p.segments) == 2]
    assert len(frames) == 3
    for box in frames:
        assert box.x0 == pytest.approx(LEFT, abs=TRUE_MM)
        assert box.width == pytest.approx(1e3 * (job.half.tip - job.clamp), abs=TRUE_MM)


@pytest.mark.parametrize("seed", [-1, 2, 3, 10, 17])
def test_figures_in_the_table_are_the_model(seed: int) -> None:
    job = job_of(seed)
    names = {row.name for row in job.rows}
    rows: dict[float, list[tuple[float, str]]] = {}
    for page in bend_sheets(job)[:-1]:
        for text in texts_of(page):
            if text.layer == "tables":
                rows.setdefault(round(text.y, 2), []).append((text.x, text.string))
    cells = [[s for _, s in sorted(row)] for row in rows.values()]
    found = {row[0]: row[1:] for row in cells if row[0] in names and len(row) == 7}
    slack = 0.05e-3 if job.system == "mm" else 0.0254 / 128
    for row in job.rows:
        if sum(other.name == row.name for other in job.rows) > 1:
            continue
        said = found[row.name]
        ei = float(np.interp(row.x, job.bend.middle.x, job.bend.ei))
        assert float(said[2]) == pytest.approx(ei, abs=0.51)
        falls = [job.fall(line, row.x)
                 for line in (job.bend.middle, job.bend.least, job.bend.most)]
        for cell, true in zip((said[0], said[1], *said[3:]), (row.x, row.crown, *falls),
                              strict=True):
            assert abs(parse_length(f"{cell} {job.system}") - true) <= slack * (1 + 1e-9)


@pytest.mark.parametrize("seed", range(200))
def test_no_word_is_in_the_way_on_any_sheet(seed: int) -> None:
    design = random_design(seed)
    drawings = bend_drawings(design, Words(design.units), "letter" if seed % 5 else "a4")
    assert len(drawings) == (2 if design.paddle.is_symmetric else 4) or len(drawings) > 2
    for drawing in drawings:
        assert_tidy(drawing, MARGIN_MM - 0.1)


def test_crowded_stations_are_named_upright_and_go_on_on_a_second_page() -> None:
    design = load_design(MARSH_TERN)
    half = design.paddle.a
    inner = [Station(half.loom.root + 0.006 * n, 0.045 + 0.001 * n, 0.030 - 0.0005 * n)
             for n in range(40)]
    job = job_of(-1)
    crowded = HalfPaddle(half.loom, (*inner, *half.stations[-2:]))
    more = BendJob(crowded, job.bend, job.words, "in", job.target)
    *pages, card = bend_sheets(more)
    assert len(pages) > 1
    for drawing in (*pages, card):
        assert_tidy(drawing, MARGIN_MM - 0.1)
    assert [t for t in texts_of(card) if t.layer == "stations" and t.rotation_deg == 90.0]


def test_a_target_for_another_weight_is_not_marked() -> None:
    job = job_of(-1)
    assert job.aim == job.target
    assert job.target is not None
    other = BendJob(job.half, job.bend, job.words, job.system,
                    type(job.target)(0.033, load_n=20.0))
    assert other.aim is None
    assert [t.string for t in texts_of(bend_card(job)) if t.string.endswith("wanted")]
    assert not [t.string for t in texts_of(bend_card(other)) if t.string.endswith("wanted")]


def test_blades_that_differ_have_a_card_each() -> None:
    design = random_design(5)
    assert not design.paddle.is_symmetric
    titles = [d.title for d in bend_drawings(design, Words("mm")) if "card" in d.title]
    assert [title[-7:] for title in titles] == ["blade A", "blade B"]


def test_check_bars_on_the_card_print_at_full_size(tmp_path: FilePath) -> None:
    millimetres, inches = bar_errors_mm(bend_card(job_of(-1)), tmp_path)
    # One pixel of 300 to the inch.
    assert abs(millimetres) < 25.4 / 300
    assert abs(inches) < 25.4 / 300


@pytest.mark.parametrize("seed", range(30))
def test_small_sheets_of_the_card_are_tidy(seed: int) -> None:
    for drawing in bend_card_tiles(job_of(seed), "letter" if seed % 3 else "a4"):
        assert_tidy(drawing, MARGIN_MM - 0.1)


@pytest.mark.parametrize("seed", [-1, 2, 5])
def test_small_sheets_of_the_card_show_the_whole_line(seed: int) -> None:
    """Laid join on join their pieces are the line: as much along x and y, overlaps taken off."""
    job = job_of(seed)
    tiles = bend_card_tiles(job)
    pieces = [p.segments for tile in tiles for p in paths_of(tile) if p.layer == "line"]
    fall = sum(float(s[0, 0, 1] - s[-1, 3, 1]) for s in pieces)
    run = sum(float(s[-1, 3, 0] - s[0, 0, 0]) for s in pieces)
    whole = 1e3 * (job.bend.middle.out[-1] - job.clamp)
    shared = (len(tiles) - 1) * 20.0  # every strip is drawn twice
    assert run == pytest.approx(whole + shared, abs=0.05)
    assert fall >= 1e3 * job.bend.middle.tip_m - TRUE_MM
