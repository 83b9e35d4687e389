"""Tiling: any page on small sheets, nothing lost, joins where they can be proved, words whole."""

from __future__ import annotations

import itertools
from dataclasses import replace
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.drawing.flags import CLEAR_MM, Flag, flown, sides
from springloom.drawing.fonts import face
from springloom.drawing.glyphs import as_shapes
from springloom.drawing.lettering import item_box, set_text, text_box
from springloom.drawing.model import (
    Anchor,
    Array,
    Bounds,
    Drawing,
    Fill,
    Path,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.notes import SheetText
from springloom.drawing.paper import MARGIN_MM, paper
from springloom.drawing.paths import circle, curve_at, line, path_bounds, rect
from springloom.drawing.pdf import write_pdf
from springloom.drawing.plan_sheet import plan_sheet
from springloom.drawing.tape import tape
from springloom.drawing.tiling import Grid, grid_for, inside, joins_along, room_on, tiled
from springloom.errors import InputError, RangeError
from springloom.shape.paddle import default_paddle
from tests.verification.drawing_readback import grey_pixels, paths_of, texts_of
from tests.verification.drawing_tidy import assert_tidy, crossed, overlapping, rendered

A4 = paper("a4", landscape=True)
LETTER = paper("letter", landscape=True)
# Cuts are found to 1e-12 of a coordinate; places on a sheet are sums of a few hundred mm.
EXACT_MM = 1e-8

lengths = st.floats(50, 3000)
rooms = st.floats(90, 400)


@given(lengths, rooms, st.floats(5, 30), st.sampled_from([0.0, 5.0, 6.35]),
       st.lists(st.tuples(st.floats(0, 3000), st.floats(0.1, 40)), max_size=12))
def test_joins_leave_no_sheet_too_wide_and_no_gap(
        length: float, room: float, overlap: float, step: float,
        taken: list[tuple[float, float]]) -> None:
    avoid = [(a, a + width) for a, width in taken]
    joins = joins_along(-13.0, length, room, overlap, avoid=avoid, step=step)
    (row,) = Grid(Bounds(-13.0, 0.0, length, 10.0), joins, overlap=overlap).windows()
    assert max(window.width for window in row) <= room + 1e-6
    assert row[0].x0 == -13.0
    assert row[-1].x1 == length
    for a, b in pairwise(row):
        assert a.x1 - b.x0 == pytest.approx(overlap)
    # Never three sheets in one place, never a sheet more than needed.
    assert all(b - a >= overlap - 1e-6 for a, b in pairwise(joins))
    assert len(joins) <= max(0.0, np.ceil((length + 13.0 - overlap) / (room - overlap)) - 1 + 1e-9)


def test_joins_stand_at_round_places_clear_of_words() -> None:
    words = [(float(x), float(x) + 30.0) for x in range(0, 1100, 50)]
    joins = joins_along(0.0, 1100.0, 277.0, avoid=words, step=5.0)
    assert all(join % 5.0 == 0 for join in joins)
    assert not [(j, w) for j in joins for w in words if w[0] < j < w[1]]


def test_where_no_place_is_clear_the_clearest_is_taken() -> None:
    (join,) = joins_along(0.0, 300.0, 200.0, 20.0, avoid=[(0.0, 140.0), (139.0, 300.0)])
    assert join == pytest.approx(139.5, abs=0.5)


def test_what_fits_has_no_join() -> None:
    assert joins_along(0.0, 277.0, 277.0) == ()


def test_strip_as_wide_as_the_room_is_refused() -> None:
    with pytest.raises(RangeError, match=r"tiling\.overlap"):
        joins_along(0.0, 1000.0, 50.0, 20.0)


def plan() -> Drawing:
    return plan_sheet(default_paddle().a, SheetText("Bench paddle", wood="Cedar."),
                      length_m=2.21, system="in")


def shifts(drawing: Drawing, grid: Grid, sheets: tuple[Drawing, ...]) -> list[Array]:
    """Where the drawing's origin lies on each sheet, told by the key line through its middle."""
    windows = [window for row in grid.windows() for window in row]
    assert len(windows) == len(sheets)
    marks = [line((w.centre[0] - 5, w.centre[1]), (w.centre[0] + 5, w.centre[1]), layer="mark")
             for w in windows]
    marked = tiled(replace(drawing, items=(*drawing.items, *marks)), grid, A4)
    found = []
    for sheet, window in zip(marked, windows, strict=True):
        middles = [path_bounds(p).centre for p in paths_of(sheet) if p.layer == "mark"]
        found.append(np.array(middles).mean(axis=0) - window.centre)
        assert len(middles) == 1
    return found


def test_every_line_of_a_plan_is_on_some_sheet_in_its_place() -> None:
    drawing = plan()
    grid = grid_for(drawing.page, A4)
    sheets = tiled(drawing, grid, A4)
    assert len(sheets) == (len(grid.rows) + 1) * (len(grid.columns) + 1) > 12
    windows = [window for row in grid.windows() for window in row]
    own = set(drawing.layers)
    total = 0.0
    for sheet, window, shift in zip(sheets, windows, shifts(drawing, grid, sheets), strict=True):
        cells = cell_of(grid, window)
        for path in paths_of(sheet):
            if path.layer in own and path.layer != "check" and path.pen:
                back = path.moved(-shift[0], -shift[1])
                assert window.contains(path_bounds(back), 1e-6)
                total += sum(ink(piece) for piece in inside([back], cells)
                             if isinstance(piece, Path))
    whole = sum(ink(p) for p in paths_of(drawing) if p.pen and p.layer != "check")
    # Chords of 24 steps a segment, on each side alike.
    assert total == pytest.approx(whole, rel=1e-4)


def cell_of(grid: Grid, window: Bounds) -> Bounds:
    """A window without its half of the strips it shares: cells lie side by side."""
    half, area = grid.overlap / 2, grid.area
    return Bounds(window.x0 + half * (window.x0 > area.x0),
                  window.y0 + half * (window.y0 > area.y0),
                  window.x1 - half * (window.x1 < area.x1),
                  window.y1 - half * (window.y1 < area.y1))


def ink(path: Path) -> float:
    """Length of a path's lines, the unsaid closing ones included."""
    p = curve_at(path.segments, np.linspace(0, 1, 25))
    total = float(np.linalg.norm(np.diff(p, axis=1), axis=2).sum())
    if path.closed:
        total += sum(float(np.linalg.norm(run[0, 0] - run[-1, 3])) for run in path.runs())
    return total


def test_sheets_of_a_plan_print_the_plan(tmp_path: FilePath) -> None:
    """Laid together, the sheets' pixels are the plan's: words cut as shapes, fills and all."""
    drawing = plan()
    grid = grid_for(drawing.page, A4)
    sheets = tiled(drawing, grid, A4)
    dpi = 100
    whole = grey_pixels(write_pdf([drawing]), dpi, tmp_path)
    pixel = 25.4 / dpi
    windows = [window for row in grid.windows() for window in row]
    worst = 0.0
    for sheet, window, shift in list(zip(sheets, windows, shifts(drawing, grid, sheets),
                                         strict=True))[::3]:
        cell = cell_of(grid, window)
        # Joins' own lines run along the cells' edges: leave 1 mm. What the plan has inside.
        inner = cell.grown(-1.0)
        printed = rendered(write_pdf([sheet]), sheet.height_mm,
                           inner.moved(float(shift[0]), float(shift[1])), tmp_path, dpi=dpi)
        top = round((drawing.height_mm - inner.y1) / pixel)
        left = round(inner.x0 / pixel)
        part = whole[top:top + printed.shape[0], left:left + printed.shape[1]]
        # Grid phases differ by up to a pixel: compare the ink of blocks of 16 × 16 pixels.
        worst = max(worst, float(np.abs(blocks(printed) - blocks(part)).max()))
    # A line through a block covers a quarter of it at most, and a phase moves an eighth of that.
    assert worst < 40.0


def blocks(pixels: Array) -> Array:
    rows, columns = (n // 16 * 16 for n in pixels.shape)
    means: Array = pixels[:rows, :columns].reshape(rows // 16, 16, columns // 16, 16).mean((1, 3))
    return means


def test_no_word_on_the_sheets_of_a_plan_is_crossed_by_a_join() -> None:
    drawing = plan()
    grid = grid_for(drawing.page, LETTER)
    for sheet in tiled(drawing, grid, LETTER):
        assert overlapping(sheet) == []
        assert crossed(sheet) == []


@pytest.mark.parametrize("row", [0, 1])
def test_joins_with_the_sheets_below_have_letters_and_targets(row: int) -> None:
    drawing = plan()
    grid = grid_for(drawing.page, A4)
    sheets = tiled(drawing, grid, A4)
    first = sheets[row * (len(grid.columns) + 1)]
    said = [t.string for t in texts_of(first) if t.layer == "joins"]
    # Lettered from the top: the first row has A below it, the second A above and B below.
    assert {s for s in said if s[-1].isalpha() and s.startswith("Join ")} == (
        {"Join A"} if row == 0 else {"Join A", "Join B"})
    assert "Join 1" in said
    assert f"Sheet {1 + row * (len(grid.columns) + 1)} of {len(sheets)}" in said


def test_targets_stand_on_the_joins_wherever_sheets_meet() -> None:
    drawing = plan()
    grid = grid_for(drawing.page, A4)
    sheets = tiled(drawing, grid, A4)
    seen: dict[tuple[float, float], int] = {}
    for sheet, shift in zip(sheets, shifts(drawing, grid, sheets), strict=True):
        for path in paths_of(sheet):
            if path.layer == "joins" and len(path.segments) == 4 and not path.straight().any():
                x, y = np.subtract(path_bounds(path).centre, shift)
                assert min(np.abs(np.subtract(grid.columns, x)).min(),
                           np.abs(np.subtract(grid.rows, y)).min()) < EXACT_MM
                key = (round(float(x), 6), round(float(y), 6))
                seen[key] = seen.get(key, 0) + 1
    # Every join between two sheets has two targets, and both sheets show both.
    rows, columns = len(grid.rows) + 1, len(grid.columns) + 1
    meetings = rows * (columns - 1) + columns * (rows - 1)
    assert set(seen.values()) == {2}
    assert len(seen) == 2 * meetings


def page(*items: Path | Text) -> Drawing:
    return Drawing(800.0, 150.0, "Trial", items)


def test_words_that_fit_stay_words_and_others_are_cut_as_shapes() -> None:
    long = Text(20.0, 80.0, "a line far too long for any one sheet of the three " * 4, 4.0)
    drawing = page(Text(20, 40, "short"), long)
    grid = grid_for(drawing.page, A4)
    sheets = tiled(drawing, grid, A4)
    strings = [t.string for sheet in sheets for t in texts_of(sheet)]
    assert "short" in strings
    assert long.string not in strings
    shaped = [p for sheet in sheets for p in paths_of(sheet)
              if p.layer == "text" and p.fill is Fill.INK]
    # Of four sheets the last shows nothing of it.
    assert len(shaped) == len(sheets) - 1 == 3


def test_a_word_in_the_strip_stands_on_both_sheets() -> None:
    joins = joins_along(0.0, 800.0, room_on(A4, rows=False)[0])
    drawing = page(Text(joins[0], 40, "both", anchor=Anchor.MIDDLE))
    sheets = tiled(drawing, Grid(drawing.page, joins), A4)
    strings = [t.string for sheet in sheets for t in texts_of(sheet)]
    assert strings.count("both") == 2
    # Its own join leaves it alone.
    assert all(crossed(sheet) == [] for sheet in sheets)


def test_window_larger_than_the_sheet_is_refused() -> None:
    with pytest.raises(InputError, match=r"tiling\.grid"):
        tiled(page(line((0, 0), (800, 10))), Grid(Bounds(0, 0, 800, 150)), A4)


def test_line_and_fill_of_one_path_are_cut_apart() -> None:
    disc = circle(0, 0, 10, Pen.VISIBLE, fill=Fill.WASH)
    made = inside([disc], Bounds(0, -20, 20, 20))
    fill, stroke = made
    assert isinstance(fill, Path)
    assert isinstance(stroke, Path)
    assert (fill.pen, fill.fill) == (None, Fill.WASH)
    assert (stroke.pen, stroke.fill, stroke.closed) == (Pen.VISIBLE, None, False)
    # The line isn't drawn along the cut; the fill ends there.
    assert path_bounds(stroke).x0 == pytest.approx(0.0, abs=1e-9)
    assert len(fill.segments) > len(stroke.segments)


def test_one_sheet_has_no_key_and_no_joining() -> None:
    drawing = Drawing(200, 100, "Small", (rect(5, 5, 190, 90),))
    (sheet,) = tiled(drawing, grid_for(drawing.page, A4), A4)
    said = [t.string for t in texts_of(sheet)]
    assert "Sheet 1 of 1" in said
    assert not [s for s in said if "Join" in s or "Cut" in s]
    assert_tidy(sheet, MARGIN_MM)


@pytest.mark.parametrize("weight", Weight)
def test_shapes_of_letters_are_the_faces_own(weight: Weight) -> None:
    text = Text(30, 20, "Hx8Åg 3 1/4 in", 5.0, weight=weight)
    shapes = as_shapes(text)
    assert shapes.fill is Fill.INK
    # The face's own ink boxes, the same that lay lines out.
    box, laid = path_bounds(shapes), text_box(text)
    assert laid.grown(1e-6).contains(box)
    assert box.y1 == pytest.approx(laid.y1, abs=1e-6)
    measures = face(weight)
    em = 5.0 / measures.capital
    assert box.x0 - 30 == pytest.approx(measures.ink["H"][0] * em)
    assert len(set_text(text).bars) == 1


def test_turned_letters_turn() -> None:
    flat, upright = as_shapes(Text(0, 0, "ab 1/2", 4)), as_shapes(
        Text(0, 0, "ab 1/2", 4, rotation_deg=90.0))
    turned = flat.segments @ np.array([(0.0, 1.0), (-1.0, 0.0)])
    assert np.abs(turned - upright.segments).max() < EXACT_MM


Spans = list[tuple[float, float]]
UPRIGHT = 4.0


def spans_of(poles: list[float], widths: list[float], chosen: tuple[int, ...]) -> Spans:
    return [{1: (x, x + w), -1: (x - w, x), 0: (x - UPRIGHT, x)}[side]
            for x, w, side in zip(poles, widths, chosen, strict=True)]


def works(poles: list[float], spans: Spans, chosen: tuple[int, ...], barriers: list[float],
          high: float) -> bool:
    """Whether nothing meets: flying flags keep clear of all, upright ones of what stands there."""
    ends = [0.0 - CLEAR_MM, *(b for _, b in spans[:-1])]
    for n, (side, (a, b), end) in enumerate(zip(chosen, spans, ends, strict=True)):
        clear = CLEAR_MM if side else 0.0
        lines = [*poles[:n], *poles[n + 1:], *barriers]
        if end + clear > a:
            return False
        if side and (a < 0.0 or b > high or any(a - clear < p < b + clear for p in lines)):
            return False
    return True


@given(st.lists(st.tuples(st.floats(6, 60), st.floats(5, 50)), min_size=1, max_size=6),
       st.booleans())
def test_flags_fly_wherever_they_can(row: list[tuple[float, float]], joined: bool) -> None:
    """Against trying all 3^n ways."""
    poles = [float(x) for x in np.cumsum([gap for gap, _ in row])]
    widths, high = [width for _, width in row], poles[-1] + 20.0
    barriers = [p + 5.1 for p in poles[::2]] if joined else []

    def cost(chosen: tuple[int, ...]) -> tuple[int, int]:
        return chosen.count(0), chosen.count(-1)

    every = [chosen for chosen in itertools.product((1, -1, 0), repeat=len(row))
             if works(poles, spans_of(poles, widths, chosen), chosen, barriers, high)]
    chosen = sides(poles, [(width, UPRIGHT) for width in widths], 0.0, high, barriers)
    assert chosen in every
    assert cost(chosen) == min(map(cost, every))


def test_where_nothing_fits_a_flag_stands_upright() -> None:
    assert sides([3.0, 5.0], [(20.0, 4.0), (20.0, 4.0)], 0.0, 10.0) == (0, 0)


def test_crowded_flags_stand_upright() -> None:
    made = flown([Flag(5.0 * n, f"place {n} gy", ("said",)) for n in range(20)], 0.0, -10.0, 150.0)
    texts = [t for t in made.items if isinstance(t, Text)]
    # The last has all the room to its right.
    assert [t.rotation_deg for t in texts] == [90.0] * 19 + [0.0, 0.0]
    drawing = Drawing(200, 200, "t", tuple(t.moved(20, 20) for t in texts))
    assert overlapping(drawing) == []
    for n, text in enumerate(texts[:19]):
        assert text_box(text).x1 < 5.0 * n
        assert text_box(text).x0 > 5.0 * (n - 1)


def test_tape_ticks_stand_at_whole_tens_and_half_inches() -> None:
    made = tape(10.0, 20.0, 320.0)
    ticks = next(p for p in made.items if isinstance(p, Path) and len(p.segments) > 1)
    ends = ticks.segments[:, (0, 3)]
    over = ends[ends[:, 1, 1] > 20.0]
    under = ends[ends[:, 1, 1] < 20.0]
    assert over[:, 0, 0] - 10.0 == pytest.approx(10.0 * np.arange(33))
    assert under[:, 0, 0] - 10.0 == pytest.approx(12.7 * np.arange(26))
    figures = {(t.string, round(t.x - 10.0, 6)) for t in made.items if isinstance(t, Text)
               and t.string not in ("mm", "in")}
    assert ("300", 300.0) in figures
    assert ("12", 304.8) in figures
    assert item_box(made.items[0]).width == pytest.approx(320.0, abs=0.2)
