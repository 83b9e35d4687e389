"""The outline at full size: the model's own, on a roll or on small sheets that join truly."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np
import pytest

from springloom.drawing.full_outline import outline_roll, outline_tiles
from springloom.drawing.lettering import text_box
from springloom.drawing.model import Array, Bounds, Drawing, Path, Pen, Text
from springloom.drawing.notes import SheetText
from springloom.drawing.offsets import figure, offsets
from springloom.drawing.outline import face_outline
from springloom.drawing.paper import MARGIN_MM, Page, paper
from springloom.drawing.paths import curve_at, path_bounds
from springloom.drawing.pdf import write_pdf
from springloom.drawing.svg import write_svg
from springloom.errors import UnknownNameError
from springloom.shape.blade import HalfPaddle, Loom, Station, station_name
from springloom.shape.paddle import default_paddle
from springloom.units import System, parse_length
from tests.verification.drawing_agree import widest_gap_mm
from tests.verification.drawing_readback import paths_of, pdf_text, texts_of
from tests.verification.drawing_tidy import (
    PIXEL_MM,
    assert_tidy,
    bar_errors_mm,
    crossed,
    overlapping,
    rendered,
)
from tests.verification.plan_designs import random_half

WORDS = SheetText("Bench paddle", date="3 May")
PAGES: tuple[Page, ...] = ("a4", "letter")
JOIN_MM = 0.05  # what tiles promise
T = np.linspace(0.0, 1.0, 25)


def on(drawing: Drawing, layer: str) -> list[Path]:
    return [path for path in paths_of(drawing) if path.layer == layer]


def in_one_row(seed: int, page: Page = "a4", system: System = "mm") -> tuple[
        HalfPaddle, tuple[Drawing, ...]]:
    """Return the first paddle from this seed on whose sheets lie in one row, as most do."""
    for n in range(seed, seed + 500, 50):
        half = default_paddle().a if n < 0 else random_half(n)
        sheets = outline_tiles(half, WORDS, page=page, system=system)
        if not any("Join A" in strings(sheet) for sheet in sheets):
            return half, sheets
    raise AssertionError(seed)


def targets(drawing: Drawing) -> list[tuple[float, float]]:
    """Middles of the register circles, left to right, foot first."""
    return sorted(path_bounds(p).centre for p in on(drawing, "joins") if len(p.segments) == 4
                  and not p.straight().any())


def strings(drawing: Drawing) -> list[str]:
    return [t.string for t in texts_of(drawing)]


def joined(sheets: tuple[Drawing, ...]) -> list[tuple[float, float]]:
    """Lay the sheets together by their targets alone; return each one's shift to the first."""
    shift = (0.0, 0.0)
    found = [shift]
    for left, right in pairwise(sheets):
        ours, theirs = targets(left)[-2:], targets(right)[:2]
        moves = [(a[0] - b[0], a[1] - b[1]) for a, b in zip(ours, theirs, strict=True)]
        # Both targets of a join ask for the same move.
        assert moves[0] == pytest.approx(moves[1], abs=1e-9)
        shift = (shift[0] + moves[0][0], shift[1] + moves[0][1])
        found.append(shift)
    return found


def laid_out(sheets: tuple[Drawing, ...]) -> tuple[Array, Array]:
    """Points of the outline from all sheets laid together, and the model's own segments."""
    pieces = [p.moved(*move).segments for sheet, move in zip(sheets, joined(sheets), strict=True)
              for p in on(sheet, "outline")]
    return curve_at(np.concatenate(pieces), T).reshape(-1, 2), np.concatenate(pieces)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("seed", [-1, *range(12)])
def test_sheets_joined_at_their_targets_show_the_model(seed: int, page: Page) -> None:
    half, sheets = in_one_row(seed, page)
    points, _ = laid_out(sheets)
    model = curve_at(face_outline(half).segments, np.linspace(0, 1, 4001)).reshape(-1, 2)
    # The centre's station line and centre line fix the model's place on the first sheet.
    first = on(sheets[0], "outline")[0].segments
    corner = first[:, (0, 3)].reshape(-1, 2)
    origin = (corner[:, 0].min(), (corner[:, 1].max() + corner[:, 1].min()) / 2)
    loom = corner[corner[:, 0] == origin[0]]
    assert np.ptp(loom[:, 1]) == pytest.approx(1e3 * half.loom.width)
    moved = points - origin
    # Nearest model point by x along each face is enough: steps of 0.1 mm at most.
    gaps = np.array([np.hypot(*(model - p).T).min() for p in moved[::7]])
    step = np.hypot(*np.diff(model, axis=0).T)
    assert gaps.max() < JOIN_MM / 5 + np.sort(step)[-2] / 2
    assert moved[:, 0].max() == pytest.approx(1e3 * half.tip, abs=1e-6)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("seed", range(12))
def test_both_sheets_of_a_join_meet_it_in_the_same_points(seed: int, page: Page) -> None:
    _, sheets = in_one_row(seed, page)
    assert len(sheets) > 3
    moves = joined(sheets)
    for n, (left, right) in enumerate(pairwise(sheets)):
        at = targets(left)[-1][0] + moves[n][0]
        ours, theirs = (crossing(sheet, at - move[0]) + move[1]
                        for sheet, move in ((left, moves[n]), (right, moves[n + 1])))
        assert len(ours) == 2
        # Exact but for chords of 2000 steps to a span.
        assert np.abs(ours - theirs).max() < 1e-5


def crossing(drawing: Drawing, x: float) -> Array:
    """Heights at which the outline crosses an upright line."""
    found = []
    for path in on(drawing, "outline"):
        for curve in curve_at(path.segments, np.linspace(0, 1, 2001)):
            side = curve[:, 0] > x  # so that a place on the line counts once
            for i in np.flatnonzero(side[:-1] != side[1:]):
                (x0, y0), (x1, y1) = curve[i:i + 2]
                found.append(float(y0 + (x - x0) / (x1 - x0) * (y1 - y0)))
    return np.sort(np.array(found))


@pytest.mark.parametrize("page", PAGES)
def test_printed_sheets_join(page: Page, tmp_path: FilePath) -> None:
    """Rendered at 600 dpi: the outline's height over the targets is the same on both sheets."""
    sheets = outline_tiles(default_paddle().a, WORDS, page=page)
    pdf = write_pdf(sheets)
    dpi = 600
    for n, (left, right) in enumerate(pairwise(sheets)):
        heights = [printed(pdf, n, left, targets(left)[-2:], tmp_path, dpi),
                   printed(pdf, n + 1, right, targets(right)[:2], tmp_path, dpi)]
        # Inked rows are averaged, so that a fifth of a pixel (0.04 mm) is told apart.
        assert np.abs(heights[0] - heights[1]).max() < JOIN_MM


def printed(pdf: bytes, page: int, drawing: Drawing, ends: list[tuple[float, float]],
            folder: FilePath, dpi: int) -> Array:
    """Heights (mm over the lower target) of the ink beside a join, strokes told by thickness."""
    (x, low), (_, high) = ends
    pixel = 25.4 / dpi
    # 0.4 to 0.8 mm beside the join's own line: outline strokes are 0.5 mm thick, others thinner.
    box = Bounds(x + 0.4, low - 4.0, x + 0.8, high + 4.0)
    ink = 255.0 - rendered(pdf, drawing.height_mm, box, folder, page=page, dpi=dpi).mean(axis=1)
    dark = np.flatnonzero(ink > 25)
    groups = np.split(dark, np.flatnonzero(np.diff(dark) > 1) + 1)
    heavy = [g for g in groups if 0.4 < len(g) * pixel < 0.7]
    rows = np.array([float(np.average(g + 0.5, weights=ink[g])) for g in heavy])
    lower = rendered(pdf, drawing.height_mm, Bounds(x - 3.0, low - 1.0, x - 2.5, low + 1.0),
                     folder, page=page, dpi=dpi)
    arm = 255.0 - lower.mean(axis=1)
    zero = float(np.average(np.arange(len(arm)) + 0.5, weights=arm))
    assert len(rows) == 2
    top = round((drawing.height_mm - box.y1) / pixel)
    arm_top = round((drawing.height_mm - low - 1.0) / pixel)
    heights: Array = (arm_top + zero - top - rows) * pixel
    return heights


@pytest.mark.parametrize("page", PAGES)
def test_check_bars_print_at_full_size_on_every_sheet(page: Page, tmp_path: FilePath) -> None:
    for drawing in outline_tiles(default_paddle().a, WORDS, page=page):
        assert max(map(abs, bar_errors_mm(drawing, tmp_path))) <= PIXEL_MM


def test_check_bars_of_the_roll_print_at_full_size(tmp_path: FilePath) -> None:
    (drawing,) = outline_roll(default_paddle().a, WORDS)
    assert max(map(abs, bar_errors_mm(drawing, tmp_path))) <= PIXEL_MM


@pytest.mark.parametrize("system", ["mm", "in"])
@pytest.mark.parametrize("seed", [-1, *range(10)])
def test_distance_said_at_a_join_is_where_it_stands(seed: int, system: System) -> None:
    _, sheets = in_one_row(seed, system=system)
    origin = min(path_bounds(p).x0 for p in on(sheets[0], "outline"))
    for n, (sheet, move) in enumerate(zip(sheets, joined(sheets), strict=True)):
        said = [s for s in strings(sheet) if s.endswith(") from centre")]
        assert len(said) == (n > 0) + (n < len(sheets) - 1)
        places = sorted({round(x, 6) for x, _ in targets(sheet)})
        texts = sorted((t for t in texts_of(sheet) if t.string in said), key=lambda t: t.x)
        for text, x in zip(texts, places, strict=True):
            found = re.fullmatch(r"(.+) \((.+)\) from centre", text.string)
            assert found
            true = 1e-3 * (x + move[0] - origin)
            # Printed to 0.1 mm and 1/64 in; joins stand at whole 5 mm, or quarters of an inch.
            for words, slack in zip(found.groups(), (1e-7, 0.2e-3), strict=True):
                assert abs(parse_length(words) - true) < slack
            step = 0.005 if system == "mm" else 0.0254 / 4
            assert true / step == pytest.approx(round(true / step), abs=1e-6)


@pytest.mark.parametrize("seed", range(200))
def test_no_word_is_in_the_way_on_any_sheet(seed: int) -> None:
    system: System = "mm" if seed % 2 else "in"
    page = PAGES[seed // 2 % 2]
    half = random_half(seed)
    for drawing in outline_tiles(half, WORDS, page=page, system=system):
        assert_tidy(drawing, MARGIN_MM)


@pytest.mark.parametrize("seed", range(200))
def test_no_word_is_in_the_way_on_the_roll(seed: int) -> None:
    system: System = "mm" if seed % 2 else "in"
    (drawing,) = outline_roll(random_half(seed), WORDS, system=system, blade="AB"[seed % 2])
    # The frame's heavy line stands 10 mm inside the page.
    assert_tidy(drawing, 10.0)
    frame = drawing.page.grown(-12.0)
    outer = [p for p in paths_of(drawing) if p.layer != "frame"]
    assert all(frame.contains(path_bounds(p)) for p in outer)
    assert all(frame.contains(text_box(t)) for t in texts_of(drawing))


def test_the_tidiness_test_can_fail() -> None:
    sheet = outline_tiles(default_paddle().a, WORDS)[1]
    box = path_bounds(on(sheet, "outline")[0])
    bad = sheet.with_items(Text(box.x0 + 5, box.y1 - 6, "in the way of the line", 8.0),
                           Text(box.x0 + 6, box.y1 - 6, "too"))
    assert overlapping(bad) != []
    assert crossed(bad) != []


@pytest.mark.parametrize("seed", [-1, 1, 4, 6])
def test_roll_shows_the_whole_outline_and_three_writers_agree(seed: int) -> None:
    half = default_paddle().a if seed < 0 else random_half(seed)
    (drawing,) = outline_roll(half, WORDS)
    (path,) = on(drawing, "outline")
    model = face_outline(half).segments
    assert path.pen is Pen.OUTLINE
    shift = path.segments[0, 0] - model[0, 0]
    assert np.abs(path.segments - shift - model).max() < 1e-9
    # What the three files promise, mm.
    assert widest_gap_mm(drawing) < 0.01


@pytest.mark.parametrize("page", PAGES)
def test_three_writers_agree_on_every_sheet(page: Page) -> None:
    for seed in (1, 3):
        for drawing in outline_tiles(random_half(seed), WORDS, page=page):
            assert widest_gap_mm(drawing) < 0.01


@pytest.mark.parametrize("seed", [-1, 2, 5])
def test_every_station_has_its_line_and_its_figures(seed: int) -> None:
    half = default_paddle().a if seed < 0 else random_half(seed)
    (drawing,) = outline_roll(half, WORDS)
    x0 = path_bounds(on(drawing, "outline")[0]).x0
    poles = sorted(float(s[0, 0]) - x0 for p in on(drawing, "stations") for s in p.segments)
    rows = offsets(half)
    assert poles == pytest.approx([1e3 * row.x for row in rows])
    said = strings(drawing)
    upright = {t.string for t in texts_of(drawing) if t.rotation_deg and t.layer == "stations"}
    assert len(upright) < len(rows)
    for row in rows:
        if row.name not in upright:
            assert row.x == 0.0 or f"{figure(row.x, 'mm')} from centre" in said
            assert row.width == 0.0 or f"{figure(row.width, 'mm')} wide" in said


def test_default_paddle_takes_five_sheets_of_either_paper() -> None:
    for page in PAGES:
        sheets = outline_tiles(default_paddle().a, WORDS, page=page)
        assert len(sheets) == 5
        size = paper(page, landscape=True)
        assert {(s.width_mm, s.height_mm) for s in sheets} == {(size.width_mm, size.height_mm)}
        assert size.width_mm > size.height_mm
        assert [f"Sheet {n} of 5" in strings(s) for n, s in enumerate(sheets, 1)] == [True] * 5
        numbers = [sorted(s for s in set(strings(sheet)) if re.fullmatch(r"Join \d", s))
                   for sheet in sheets]
        assert numbers == [["Join 1"], ["Join 1", "Join 2"], ["Join 2", "Join 3"],
                           ["Join 3", "Join 4"], ["Join 4"]]


def test_neighbours_share_a_strip() -> None:
    sheets = outline_tiles(default_paddle().a, WORDS)
    moves = joined(sheets)
    lines = [max(on(sheet, "tape"), key=lambda p: path_bounds(p).width) for sheet in sheets]
    reach = [path_bounds(line).moved(*move) for line, move in zip(lines, moves, strict=True)]
    for a, b in pairwise(reach):
        assert a.x1 - b.x0 == pytest.approx(20.0, abs=0.5)


def test_roll_is_as_long_as_the_paddle_and_no_higher_than_a_common_roll() -> None:
    drawings = [outline_roll(default_paddle(length).a, WORDS)[0] for length in (1.9, 2.4)]
    assert {d.height_mm for d in drawings} == {297.0}
    assert drawings[1].width_mm - drawings[0].width_mm == pytest.approx(250.0, abs=1.0)


def crowded(count: int, name: str = "") -> HalfPaddle:
    """Return a half with ``count`` stations 6 mm apart from the root on."""
    half = default_paddle().a
    xs = [half.loom.root + 0.006 * n for n in range(count)]
    inner = [Station(x, 0.045 + 0.02 * n / count, 0.030 - 0.015 * n / count,
                     name=name or station_name(x, half.loom, half.tip))
             for n, x in enumerate(xs)]
    return HalfPaddle(half.loom, (*inner, *half.stations[-2:]))


@pytest.mark.parametrize("system", ["mm", "in"])
@pytest.mark.parametrize("count", [20, 60])
def test_crowded_stations_stand_upright(system: System, count: int) -> None:
    half = crowded(count)
    (roll,) = outline_roll(half, WORDS, system=system)
    upright = [t for t in texts_of(roll) if t.layer == "stations" and t.rotation_deg == 90.0]
    assert len(upright) > 0.8 * count
    for drawing in (roll, *outline_tiles(half, WORDS, system=system)):
        assert_tidy(drawing, MARGIN_MM)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("width", [0.14, 0.2, 0.3])
def test_a_very_wide_blade_takes_more_rows(width: float, page: Page) -> None:
    loom = Loom(0.25, 0.032, 0.038)
    half = HalfPaddle(loom, tuple(Station(x, w, 0.02) for x, w in (
        (loom.root, 0.04), (0.5, width), (0.8, width), (1.1, 0.0))))
    sheets = outline_tiles(half, WORDS, page=page)
    assert len(sheets) > 8
    assert {"Join A"} <= {s for sheet in sheets for s in strings(sheet)}
    for drawing in sheets:
        assert_tidy(drawing, MARGIN_MM)


def test_long_names_are_broken_or_set_smaller() -> None:
    words = SheetText("The name of a paddle that nobody can say in one breath " * 2, date="x" * 60)
    half = crowded(2, "where the grain runs out near the knot that was left in on purpose")
    for drawing in (*outline_roll(half, words, system="in"), *outline_tiles(half, words)):
        assert_tidy(drawing, MARGIN_MM)


@pytest.mark.parametrize("kind", ["one face", "unlike ridges"])
def test_other_faces_draw_too(kind: str) -> None:
    tests: dict[str, Callable[[HalfPaddle], bool]] = {
        "one face": lambda h: h.stations[0].share == 1.0,
        "unlike ridges": lambda h: h.stations[0].ridge_bottom is not None,
    }
    half = next(h for h in map(random_half, range(40)) if tests[kind](h))
    for drawing in (*outline_roll(half, WORDS), *outline_tiles(half, WORDS)):
        assert_tidy(drawing, MARGIN_MM)


def test_unknown_page_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="page"):
        outline_tiles(default_paddle().a, WORDS, page="a5")  # type: ignore[arg-type]  # wrong on purpose


def test_files_are_written_and_text_stays_text() -> None:
    drawings = outline_tiles(default_paddle().a, WORDS, system="in", blade="A")
    for drawing in drawings:
        assert "nan" not in write_svg(drawing).split("</style>")[1].lower()
    text = pdf_text(write_pdf(drawings), page=1)
    for word in ("Bench paddle, blade A: outline at full size", "Join 1", ") from centre",
                 "Print at 100 %", "shoulder", "4 in"):
        assert word in text
