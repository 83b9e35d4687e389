"""The plan sheet: true to the model in both files, every figure right, no word in the way."""

from __future__ import annotations

import time
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np
import pytest

from springloom.drawing.lettering import set_text, text_box
from springloom.drawing.model import Array, Drawing, Path, Pen, Text
from springloom.drawing.offsets import NONE, figure
from springloom.drawing.paths import curve_at, path_bounds
from springloom.drawing.pdf import write_pdf
from springloom.drawing.plan_sheet import SheetText, plan_sheet, plan_sheets
from springloom.drawing.rolls import HEIGHTS_MM
from springloom.drawing.svg import write_svg
from springloom.shape.blade import EDGE_INSET, HalfPaddle, Station, station_name
from springloom.shape.paddle import Paddle, default_paddle
from springloom.units import Denominator, System, parse_length
from tests.verification.drawing_readback import (
    SVG,
    path_segments,
    paths_of,
    pdf_paths,
    pdf_text,
    svg_root,
    texts_of,
)
from tests.verification.drawing_tidy import (
    PIXEL_MM,
    bar_errors_mm,
    boxes,
    crossed,
    overlapping,
)
from tests.verification.plan_designs import random_half, random_paddle

WORDS = SheetText(
    "Bench paddle", "One piece, for a class",
    wood="Western redcedar, run-out no steeper than 1 in 15.",
    weight="740 g, between 680 and 800 g in nine of ten boards.",
    bend="36 mm under 89 N, between 30 and 45 mm in nine of ten boards.",
    notes=("Leave 1 1/2 mm everywhere until both blades bend alike.",),
    cautions=("Edges below 3 mm split when the paddle is dropped.",),
    date="3 May",
)
EDGE_MM = 12.0  # page to the frame's inner line
# Both files write thousandths of a mm or point; the sheet promises a hundredth of a mm.
TRUE_MM = 0.01


def sheet(half: HalfPaddle, words: SheetText = WORDS, system: System = "mm",
          denominator: Denominator = 64) -> Drawing:
    return plan_sheet(half, words, length_m=2 * half.tip, system=system, denominator=denominator)


def sheet_of_all(seed: int) -> tuple[Drawing, ...]:
    system: System = "mm" if seed % 2 else "in"
    return plan_sheets(random_paddle(seed), WORDS, system)


def on(drawing: Drawing, layer: str) -> list[Path]:
    return [path for path in paths_of(drawing) if path.layer == layer]


def strings(drawing: Drawing) -> list[str]:
    return [text.string for text in texts_of(drawing)]


def svg_outline(drawing: Drawing) -> Array:
    groups = [g for g in svg_root(write_svg(drawing)) if g.attrib.get("id") == "outline"]
    (path,) = groups[0].findall(f"{SVG}path")
    return path_segments(path.attrib["d"], drawing.height_mm)[0]


def pdf_outline(drawing: Drawing) -> Array:
    (wanted,) = on(drawing, "outline")
    alike = [p for p in pdf_paths(write_pdf([drawing])) if p.shape == wanted.segments.shape]
    return min(alike, key=lambda p: float(np.abs(p - wanted.segments).max()))


@pytest.mark.parametrize("read", [svg_outline, pdf_outline])
@pytest.mark.parametrize("seed", [-1, 1, 2, 3, 6])
def test_outline_on_paper_is_the_model(read: Callable[[Drawing], Array], seed: int) -> None:
    half = default_paddle().a if seed < 0 else random_half(seed)
    segments = read(sheet(half))
    centre = segments[0, 0, 0], (segments[0, 0, 1] + segments[-1, 3, 1]) / 2
    x, y = (curve_at(segments, np.linspace(0, 1, 41)).reshape(-1, 2) - centre).T
    assert x.max() == pytest.approx(1e3 * half.tip, abs=TRUE_MM)
    # Where the outline turns in, half a hundredth along x is much more across: compare inside.
    inside = x < 1e3 * half.tip - 5.0
    width = 1e3 * half.values(half.parameter(1e-3 * x[inside]))[0]
    assert np.abs(np.abs(y[inside]) - width).max() < TRUE_MM
    # And along x near the tip, where the width tells the place.
    x_fine = np.linspace(half.tip - 0.006, half.tip, 4001)
    fine = np.column_stack((x_fine, half.values(half.parameter(x_fine))[0])) * 1e3
    near = np.column_stack((x, np.abs(y)))[~inside]
    gaps = np.linalg.norm(near[:, None] - fine[None], axis=2).min(axis=1)
    # The fine points are up to half a width's step apart where the outline is upright.
    step = np.linalg.norm(np.diff(fine, axis=0), axis=1).max() / 2
    assert gaps.max() < TRUE_MM + step


def test_check_bars_print_at_full_size(tmp_path: FilePath) -> None:
    errors = bar_errors_mm(sheet(default_paddle().a), tmp_path)
    assert max(map(abs, errors)) <= PIXEL_MM


def table_rows(drawing: Drawing) -> list[list[str]]:
    """Cells of the offsets table, left to right, a list for each line that names a station."""
    texts = [t for t in texts_of(drawing) if t.layer == "offsets"]
    lines: dict[float, list[Text]] = {}
    for text in texts:
        lines.setdefault(round(text.y, 3), []).append(text)
    rows = [[t.string for t in sorted(line, key=lambda t: text_box(t).x0)]
            for _, line in sorted(lines.items(), reverse=True)]
    return [row for row in rows if len(row) == 13]


def figures_of(half: HalfPaddle, x: float) -> list[float | None]:
    width, crown = half.values(half.parameter(x))[:2]
    edge = half.section(x).thickness_at(EDGE_INSET) if x < half.tip else None
    return [x, half.tip - x, 2 * float(width), float(width), float(crown), edge]


@pytest.mark.parametrize("system", ["mm", "in"])
@pytest.mark.parametrize("denominator", [16, 64])
@pytest.mark.parametrize("seed", [1, 2, 3, 8])
def test_printed_offsets_are_the_model(system: System, denominator: Denominator,
                                       seed: int) -> None:
    half = random_half(seed)
    rows = table_rows(sheet(half, system=system, denominator=denominator))
    places = [0.0, half.loom.half_length, *(s.x for s in half.stations)]
    assert len(rows) == len(places)
    # Half of what each is rounded to, m.
    slack = {"mm": 0.05e-3, "in": 0.0254 / denominator / 2}
    for row, x in zip(rows, places, strict=True):
        for n, true in enumerate(figures_of(half, x)):
            units = ("mm", "in") if system == "mm" else ("in", "mm")
            for cell, unit in zip(row[1 + 2 * n:3 + 2 * n], units, strict=True):
                if true is None:
                    assert cell == NONE
                else:
                    said = parse_length(f"{cell} {unit}")
                    assert abs(said - true) <= slack[unit] * (1 + 1e-9)


def test_station_names_head_the_rows_in_order() -> None:
    names = [row[0] for row in table_rows(sheet(default_paddle().a))]
    assert names == ["centre", "shoulder", "root", "1/4", "1/2", "3/4", "75 mm from tip", "tip"]


def test_distance_named_in_mm_is_named_in_inches_on_a_sheet_in_inches() -> None:
    # 75 mm is 2 61/64 in, to 1/64.
    rows = table_rows(sheet(default_paddle().a, system="in"))
    assert rows[-2][0] == "2 61/64 in from tip"


@pytest.mark.parametrize("seed", [1, 4, 7, 15])
def test_station_lines_run_through_both_views_at_their_place(seed: int) -> None:
    half = random_half(seed)
    drawing = sheet(half)
    (face,), (side,) = on(drawing, "outline"), on(drawing, "side")
    top, foot = path_bounds(face).y1, path_bounds(side).y0
    x0 = path_bounds(face).x0
    runs = [p.segments[-1] for p in on(drawing, "stations")]
    places = [0.0, half.loom.half_length, *(s.x for s in half.stations)]
    assert [run[0, 0] - x0 for run in runs] == pytest.approx([1e3 * x for x in places])
    assert all(run[0, 0] == run[3, 0] for run in runs)
    assert all(run[0, 1] > top and run[3, 1] < foot for run in runs)
    # The side stands under the face, end under end.
    assert path_bounds(side).x0 == pytest.approx(x0)
    assert path_bounds(side).x1 == pytest.approx(path_bounds(face).x1)


@pytest.mark.parametrize("seed", [1, 3, 6, 8])
def test_a_section_at_full_size_for_each_place_that_has_one(seed: int) -> None:
    half = random_half(seed)
    drawing = sheet(half)
    drawn = [path_bounds(p) for p in on(drawing, "sections") if p.pen is Pen.OUTLINE]
    places = [0.0, *(s.x for s in half.stations[:-1])]
    true = [(2e3 * s.half_width, 1e3 * (s.top + s.bottom)) for s in map(half.section, places)]
    found = sorted((box.width, box.height) for box in drawn)
    assert np.array(found) == pytest.approx(np.array(sorted(true)))


def test_sections_stand_under_their_stations_where_there_is_room() -> None:
    half = default_paddle().a
    drawing = sheet(half)
    x0 = path_bounds(on(drawing, "outline")[0]).x0
    middles = [path_bounds(p).centre[0] for p in on(drawing, "sections")
               if p.pen is Pen.OUTLINE]
    places = [0.0, *(s.x for s in half.stations[:-1])]
    assert middles == pytest.approx([x0 + 1e3 * x for x in places])


def test_lengths_and_breadths_are_dimensioned() -> None:
    half = default_paddle().a
    said = strings(sheet(half))
    for length, word in ((half.tip, "half length "), (half.blade_length, "blade "),
                         (half.loom.half_length, "half loom "), (half.loom.width, ""),
                         (half.loom.thickness, ""), (0.083, "")):
        assert f"{word}{figure(length, 'mm')}" in said
    assert f"{figure(2 * half.tip, 'mm')} overall" in said


def outside(drawing: Drawing) -> list[str]:
    """What reaches over the frame's inner line, on which the title block stands."""
    frame = drawing.page.grown(-EDGE_MM)
    _, b = boxes(drawing)
    low, high = b[:, :2].min(axis=0), b[:, 2:].max(axis=0)
    words = [] if (low > EDGE_MM).all() and high[0] < frame.x1 and high[1] < frame.y1 else ["words"]
    return words + [path.layer for path in paths_of(drawing)
                    if path.layer != "frame" and not frame.contains(path_bounds(path))]


def assert_tidy(drawing: Drawing) -> None:
    assert overlapping(drawing) == []
    assert crossed(drawing) == []
    assert outside(drawing) == []


@pytest.mark.parametrize("seed", range(60))
def test_no_word_is_in_the_way_on_any_sheet(seed: int) -> None:
    for drawing in sheet_of_all(seed):
        assert_tidy(drawing)


def test_the_tidiness_test_can_fail() -> None:
    drawing = sheet(default_paddle().a)
    box = path_bounds(on(drawing, "outline")[0])
    bad = drawing.with_items(Text(box.x1 - 2, box.centre[1], "in the way"),
                             Text(box.x1 - 3, box.centre[1] + 1, "too"),
                             Text(drawing.width_mm - 14, 300, "out of it"))
    assert ("in the way", "too") in overlapping(bad)
    assert len(crossed(bad)) >= 2
    assert outside(bad) == ["words"]


def crowded(count: int, name: str = "") -> HalfPaddle:
    """Return a half with ``count`` stations 6 mm apart from the root on."""
    half = default_paddle().a
    places = [half.loom.root + 0.006 * n for n in range(count)]
    inner = [Station(x, 0.045 + 0.02 * n / count, 0.030 - 0.015 * n / count,
                     name=name or station_name(x, half.loom, half.tip))
             for n, x in enumerate(places)]
    return HalfPaddle(half.loom, (*inner, *half.stations[-2:]))


@pytest.mark.parametrize("system", ["mm", "in"])
@pytest.mark.parametrize("count", [20, 60])
def test_crowded_stations_turn_their_names_upright(system: System, count: int) -> None:
    drawing = sheet(crowded(count), system=system)
    names = [t for t in texts_of(drawing) if t.layer == "stations"]
    assert all(t.rotation_deg == 90.0 for t in names)
    assert len([p for p in on(drawing, "sections") if p.pen is Pen.OUTLINE]) == count + 2
    assert_tidy(drawing)


def test_long_words_are_broken_and_the_page_grows() -> None:
    long = "a long word about wood 3 1/4 in " * 30
    words = SheetText("The name of a paddle that nobody can say in one breath " * 2, "x" * 200,
                      wood=long, notes=(long, long), cautions=(long,) * 3,
                      date="A day in the spring when the sap has not yet risen")
    half = crowded(5, "where the grain runs out near the knot that was left")
    drawing = sheet(half, words, "in")
    assert drawing.height_mm > HEIGHTS_MM[0]
    assert_tidy(drawing)


def test_page_is_as_long_as_the_paddle_and_fits_a_common_roll() -> None:
    short, long = (sheet(default_paddle(length).a) for length in (1.7, 2.4))
    assert {short.height_mm, long.height_mm} == {594.0}
    assert long.width_mm - short.width_mm == pytest.approx(350, abs=1)


def test_words_stand_on_the_sheet_and_blank_ones_are_left_out() -> None:
    text = pdf_text(write_pdf([sheet(default_paddle().a)]))
    for word in (WORDS.title, WORDS.subtitle, WORDS.weight, *WORDS.cautions, WORDS.date,
                 "Springloom", "1:1", "millimetres", "1 of 1"):
        assert word in text
    bare = strings(sheet(default_paddle().a, SheetText("Plain")))
    assert not {"Wood", "Weight", "Bend", "Notes", "Take care", "Date"} & set(bare)
    assert {"Maker", "Scale", "Sheet"} <= set(bare)


def test_like_blades_need_one_sheet_and_unlike_ones_two() -> None:
    paddle = default_paddle()
    assert len(plan_sheets(paddle, WORDS)) == 1
    other = paddle.a.with_crowns([1.2 * s.crown for s in paddle.a.stations])
    a, b = plan_sheets(Paddle(paddle.a, other), WORDS)
    assert {"Blade A", "1 of 2"} <= set(strings(a))
    assert {"Blade B", "2 of 2"} <= set(strings(b))
    heights = [path_bounds(on(drawing, "side")[0]) for drawing in (a, b)]
    assert heights[0].width == pytest.approx(heights[1].width)
    last = [table_rows(drawing)[-1][9] for drawing in (a, b)]
    # The tip's crown, mm, 7.5 and a fifth more; figures to 0.1.
    assert [float(cell) for cell in last] == pytest.approx([7.5, 9.0], abs=0.051)


@pytest.mark.parametrize("shape", ["one face", "unlike ridges"])
def test_other_faces_draw_too(shape: str) -> None:
    halves = map(random_half, range(40))
    wanted: Callable[[HalfPaddle], bool] = (
        (lambda h: h.stations[0].share == 1.0) if shape == "one face"
        else (lambda h: h.stations[0].ridge_bottom is not None))
    half = next(h for h in halves if wanted(h))
    drawing = sheet(half)
    assert_tidy(drawing)
    side = on(drawing, "side")[0].segments
    level = (side[0, 0, 1] + side[-1, 3, 1]) / 2
    if shape == "one face":
        # From the root outward the lower face is flat, on the widest line.
        lower = side[side[:, 3, 0] > side[0, 0, 0] + 1e3 * half.loom.root + 1][-1]
        assert lower[:, 1] == pytest.approx(level)


def test_both_files_are_written_and_text_stays_text() -> None:
    drawing = sheet(default_paddle().a, system="in")
    assert "nan" not in write_svg(drawing).split("</style>")[1].lower()
    assert "43 1/2 in" in pdf_text(write_pdf([drawing]))
    bars = sum(len(set_text(t).bars) for t in texts_of(drawing))
    assert bars > 50


def test_drawing_and_pdf_take_less_than_a_third_of_a_second() -> None:
    halves = [random_half(seed) for seed in range(20, 27)]
    write_pdf([sheet(halves[0])])
    times = [time.perf_counter()]
    for half in halves[1:]:
        write_pdf([sheet(half)])
        times.append(time.perf_counter())
    best = min(b - a for a, b in pairwise(times))
    print(f"plan PDF, warm: {1e3 * best:.0f} ms")
    # The best of six, since others may be using the machine.
    assert best < 0.3
