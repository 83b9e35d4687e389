"""The layout sheet: lines where the flats are, figures on the safe side, no word in the way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path as FilePath

import numpy as np
import pytest

from springloom.drawing.layout_figures import ROUND_TIP
from springloom.drawing.layout_lines import LETTERS
from springloom.drawing.layout_sheet import LayoutText, layout_sheets
from springloom.drawing.lettering import text_box
from springloom.drawing.model import Array, Drawing, Path, Pen, Text
from springloom.drawing.offsets import NONE
from springloom.drawing.paths import curve_at, path_bounds
from springloom.drawing.pdf import write_pdf
from springloom.report.layout_words import (
    guides,
    layout_drawings,
    layout_text,
    left_place,
    left_said,
)
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle, Station
from springloom.shape.facets import LINES, Flats
from springloom.shape.marks import FlatMarks, Ruler, clearances, places
from springloom.shape.paddle import Paddle, default_paddle
from springloom.shape.section import Section
from springloom.shape.stages import TAPERED, Carving, carvings, stages
from springloom.units import Denominator, System, parse_length
from tests.verification.drawing_agree import widest_gap_mm
from tests.verification.drawing_readback import paths_of, pdf_text, texts_of
from tests.verification.drawing_tidy import PIXEL_MM, assert_tidy, bar_errors_mm
from tests.verification.plan_designs import random_half, random_paddle
from tests.verification.sheet_designs import random_design

WORDS = LayoutText(
    "Bench paddle", "2210 mm paddle",
    order=("Square the blank.", "Plane flat 1 from a to b."),
    close=("Saw 1 1/2 mm outside the line, then plane to it.",),
    guides=("No two flats meet.",), cautions=("Wear a mask.",), date="3 May",
)
FRAME_MM = 12.0
# Drawn as Hermite cubics, 12 to a span of up to 0.6 m; the sheet promises a hundredth of a mm.
TRUE_MM = 0.01


def sheets(seed: int, system: System = "mm", denominator: Denominator = 64
           ) -> tuple[Drawing, ...]:
    return layout_sheets(random_paddle(seed), WORDS, system, denominator)


def sheet(paddle: Paddle, system: System = "mm") -> Drawing:
    return layout_sheets(paddle, WORDS, system)[0]


def on(drawing: Drawing, layer: str) -> list[Path]:
    return [path for path in paths_of(drawing) if path.layer == layer]


def layout(drawing: Drawing) -> list[tuple[Pen | None, Array]]:
    """Pens and points (page, mm) of what is drawn on the wood."""
    return [(path.pen, curve_at(path.segments, np.linspace(0, 1, 9)).reshape(-1, 2))
            for path in on(drawing, "layout")]


def middles(drawing: Drawing, half: HalfPaddle) -> tuple[float, float, float]:
    """Page x of the centre, and page y of the face's and the side's middle lines."""
    face = path_bounds(on(drawing, "outline")[0])
    (side,) = on(drawing, "side")
    # The side's first point is the loom's upper face, half its thickness over the middle.
    return face.x0, face.centre[1], float(side.segments[0, 0, 1]) - 500.0 * half.loom.thickness


def exact(flats: Flats, x: Array) -> dict[str, Array]:
    """Distance of each line from its view's middle line at x, m."""
    q, lines = flats.quadrant(flats.half.parameter(x)), flats.lines(x)
    both = flats.vertices(flats.half.parameter(x), 3)
    return {"first_in": q.w - lines.first_in, "first_down": q.h - lines.first_down,
            "second_in": q.w - lines.second_in, "third_down": q.h - lines.third_down,
            "second_across": both[:, 3, 0], "third_across": both[:, 2, 0]}


@pytest.mark.parametrize("seed", [-1, 1, 4, 7, 10])
def test_every_drawn_line_is_a_flat_s_own(seed: int) -> None:
    paddle = default_paddle() if seed < 0 else random_paddle(seed)
    drawing, carving = sheet(paddle), carvings(paddle)[0]
    x0, face, side = middles(drawing, paddle.a)
    names = {Pen.VISIBLE: (("first_in", face), ("first_down", side)),
             Pen.HIDDEN: (("second_in", face), ("third_down", side)),
             Pen.CONSTRUCTION: (("second_across", face), ("third_across", face))}
    split = (face + side) / 2
    for pen, drawn in layout(drawing):
        assert pen in names
        # Near the very tip the outline turns upright: half a hundredth along is much across.
        points = drawn[drawn[:, 0] < x0 + 1e3 * paddle.a.tip - 5.0]
        x = (points[:, 0] - x0) / 1e3
        level = face if points[0, 1] > split else side
        flats = carving.flats[0 if points[0, 1] > level else 1]
        found = np.abs(points[:, 1] - level)
        true = [1e3 * exact(flats, x)[name] for name, at in names[pen] if at == level]
        assert min(float(np.abs(found - one).max()) for one in true) < TRUE_MM


def test_all_six_lines_of_both_faces_are_drawn_from_centre_to_tip() -> None:
    paddle = default_paddle()
    drawing = sheet(paddle)
    x0, face, side = middles(drawing, paddle.a)
    ends: dict[tuple[Pen | None, bool, bool], list[float]] = {}
    for pen, points in layout(drawing):
        on_face = bool(points[0, 1] > (face + side) / 2)
        over = bool(points[0, 1] > (face if on_face else side))
        ends.setdefault((pen, on_face, over), []).extend(points[:, 0] - x0)
    # Two faces; on the face a, c and (thin) d and f, on the edge b and e.
    assert len(ends) == 2 * 3 + 2 * 2
    for reach in ends.values():
        assert min(reach) == pytest.approx(0.0, abs=TRUE_MM)
        assert max(reach) == pytest.approx(1e3 * paddle.a.tip, abs=TRUE_MM)


def test_every_line_carries_its_letter_in_a_gap_of_its_own() -> None:
    paddle = default_paddle()
    drawing = sheet(paddle)
    letters = [t for t in texts_of(drawing) if t.layer == "layout"]
    assert {t.string for t in letters} == set("abcdef") == set(LETTERS.values())
    points = np.concatenate([p for _, p in layout(drawing)])
    for letter in letters:
        box = text_box(letter)
        near = points[np.abs(points[:, 0] - letter.x) < 6.0]
        # Its line ends just before it and goes on just behind it, at its height.
        ends = near[(np.abs(near[:, 0] - box.x0) < 1.0) | (np.abs(near[:, 0] - box.x1) < 1.0)]
        assert np.abs(ends[:, 1] - letter.y).min() < 0.5


def test_the_blank_is_drawn_about_both_views() -> None:
    paddle = default_paddle()
    drawing, carving = sheet(paddle), carvings(paddle)[0]
    _, face, side = middles(drawing, paddle.a)
    levels = {round(float(s[0, 1]), 6) for path in on(drawing, "blank") for s in path.segments}
    blank = carving.blank
    assert levels == {round(y, 6) for y in (
        face + 500.0 * blank.width_m, face - 500.0 * blank.width_m,
        side + 1e3 * blank.above_m, side - 1e3 * blank.below_m,
    )}


def rows(drawing: Drawing) -> list[list[str]]:
    """Cells of the table's rows, left to right: a place and nine pairs."""
    lines: dict[float, list[Text]] = {}
    for text in texts_of(drawing):
        if text.layer == "tables":
            lines.setdefault(round(text.y, 3), []).append(text)
    found = [[t.string for t in sorted(line, key=lambda t: text_box(t).x0)]
             for _, line in sorted(lines.items(), reverse=True)]
    return [row for row in found if len(row) == 19]


@pytest.mark.parametrize("system", ["mm", "in"])
@pytest.mark.parametrize("seed", [-1, 2, 4])
def test_printed_figures_leave_wood_everywhere(system: System, seed: int) -> None:
    paddle = default_paddle() if seed < 0 else random_paddle(seed)
    half, carving = paddle.a, carvings(paddle)[0]
    assert carving.alike
    printed = rows(sheet(paddle, system))
    x = places(half, ROUND_TIP[system])
    assert len(printed) == len(x)
    units = ("mm", "in") if system == "mm" else ("in", "mm")
    for n, unit in enumerate(units):
        read = np.array([[parse_length(f"{cell} {unit}") for cell in row[1 + n::2]]
                         for row in printed]).T
        assert read[0] == pytest.approx(x, abs=0.0254 / 128 if unit == "in" else 0.05001e-3)
        w = half.values(half.parameter(x))[0]
        assert np.all(read[1][:-1] > w[:-1] - 1e-9)
        marks = FlatMarks(carving.flats[0], Ruler(half, x), read[3:])
        assert marks.given_up().min() > -1e-9
        there = np.linspace(0.0, half.tip - 1e-6, 3000)
        assert marks.clearances(there).min() > -1e-6
        # And not much more is left than the rule's own steps ask for.
        assert np.median(marks.given_up()) < (0.4e-3 if unit == "in" else 0.15e-3)


def test_a_figure_one_step_deeper_would_cut_in() -> None:
    paddle = default_paddle()
    carving = carvings(paddle)[0]
    x = places(paddle.a, ROUND_TIP["mm"])
    read = np.array([[parse_length(f"{cell} mm") for cell in row[7::2]]
                     for row in rows(sheet(paddle))]).T
    lines = FlatMarks(carving.flats[0], Ruler(paddle.a, x), read)
    q = carving.flats[0].quadrant(paddle.a.parameter(x))
    deeper = FlatMarks(lines.flats, lines.ruler, read + 2e-4)
    assert clearances(deeper.lines(), q).min() < -1e-5


def test_a_flat_face_has_no_figures_and_no_lines() -> None:
    seed = next(n for n in range(1, 60) if n % 5 and random_half(n).stations[0].share == 1.0)
    drawing = sheet(random_paddle(seed))
    table = rows(drawing)
    upper, lower = table[:len(table) // 2], table[len(table) // 2:]
    assert all(NONE not in row for row in upper)
    assert [row[0] for row in upper] == [row[0] for row in lower]
    assert all(row[7:] == [NONE] * 12 for row in lower[2:])
    assert all(NONE not in row for row in lower[:2])
    half = random_paddle(seed).a
    x0, face, side = middles(drawing, half)
    outside = [p for _, p in layout(drawing)
               if p[:, 0].max() > x0 + 1e3 * half.loom.root + 1.0]
    levels = [face if p[0, 1] > (face + side) / 2 else side for p in outside]
    assert outside
    assert all(np.all(p[:, 1] > level - 1e-6) for p, level in zip(outside, levels, strict=True))


def tidy(drawing: Drawing) -> None:
    inside = tuple(item for item in drawing.items if item.layer != "frame")
    assert_tidy(replace(drawing, items=inside), FRAME_MM)


@pytest.mark.parametrize("seed", range(40))
def test_no_word_is_in_the_way_on_any_sheet(seed: int) -> None:
    system: System = "mm" if seed % 2 else "in"
    for drawing in sheets(seed, system, 64 if seed % 3 else 16):
        tidy(drawing)


@pytest.mark.parametrize("seed", [*range(10), 45, 98])
def test_words_of_any_design_find_their_room(seed: int) -> None:
    design = random_design(seed)
    for drawing in layout_drawings(design, Words(design.units)):
        tidy(drawing)
        assert drawing.title == f"{design.name}: layout"


def test_long_words_make_the_page_higher() -> None:
    long = "a long word about flats 3 1/4 in " * 25
    words = LayoutText("A name that takes a line and a half of the block " * 2, "x" * 150,
                       (long,) * 3, (long, long), (long,), (long,), "A day in spring")
    (drawing,) = layout_sheets(default_paddle(), words, "in")
    assert drawing.height_mm > 594.0
    tidy(drawing)


def test_the_default_sheet_goes_on_a_common_roll() -> None:
    drawing = sheet(default_paddle())
    assert drawing.height_mm == 594.0
    assert drawing.width_mm == pytest.approx(1e3 * default_paddle().a.tip + 120.0, abs=1.0)


def test_unlike_blades_get_a_sheet_each() -> None:
    half = default_paddle().a
    other = half.with_crowns([1.1 * s.crown for s in half.stations])
    a, b = layout_sheets(Paddle(half, other), WORDS)
    assert "Layout of the flats, blade A" in {t.string for t in texts_of(a)}
    assert "Layout of the flats, blade B" in {t.string for t in texts_of(b)}
    assert rows(a)[4][9] != rows(b)[4][9]


def test_three_writers_agree() -> None:
    # Every writer rounds to a thousandth of a mm or of a point.
    assert widest_gap_mm(sheet(default_paddle())) < TRUE_MM


def test_check_bars_print_at_full_size(tmp_path: FilePath) -> None:
    assert max(map(abs, bar_errors_mm(sheet(default_paddle()), tmp_path))) <= PIXEL_MM


def test_text_stays_text_in_the_file() -> None:
    text = pdf_text(write_pdf([sheet(default_paddle(), "in")]))
    for words in (*WORDS.order, *WORDS.guides, "Figures to set off", "edge of the squared blank",
                  "Layout of the flats", "inches"):
        assert words in text


def test_words_say_how_much_wood_is_left_and_where() -> None:
    said = left_said(default_paddle(), Words("mm"))
    # Greatest of corner distances on the loom: 1.5 and 0.4 mm, see test_facets.
    assert "At most 1.5 mm of wood" in said
    assert "(on the loom)" in said
    assert "0.4 mm after flats 2 and 3" in said


def test_places_are_named_in_the_sheet_s_own_units() -> None:
    paddle = random_paddle(6)
    first = stages(paddle)[TAPERED + 1]
    assert left_place(paddle, first, Words("mm")).endswith(" mm from tip")
    assert left_place(paddle, first, Words("in")).endswith(" in from tip")
    half = default_paddle().a
    thick = half.with_crowns([1.3 * s.crown if n in {1, 2} else s.crown
                              for n, s in enumerate(half.stations)])
    unlike = Paddle(half, thick)
    assert left_place(unlike, stages(unlike)[TAPERED], Words("mm")) == "at 1/4, blade B"


def test_two_tables_stand_one_under_the_other_on_a_short_page() -> None:
    drawing = layout_drawings(random_design(3), Words("mm"))[0]
    heads = [t for t in texts_of(drawing) if t.string.startswith("Figures to set off, ")]
    assert heads[0].x == pytest.approx(heads[1].x)
    assert heads[0].y > heads[1].y + 50.0
    assert drawing.height_mm < 1000.0


def diamond(fullness: float) -> HalfPaddle:
    """A half whose blade has a ridge and an edge of this fullness from the first quarter on."""
    half = default_paddle().a

    def sharp(station: Station, width: float) -> Station:
        edge = Section.symmetric(0.5 * width, 0.5 * station.crown, fullness,
                                 fullness).thickness_at(0.005)
        return replace(station, edge=edge, ridge=fullness)

    widths = [s.width or half.stations[-2].width for s in half.stations]
    stations = [sharp(s, w) if n else s
                for n, (s, w) in enumerate(zip(half.stations, widths, strict=True))]
    return HalfPaddle(half.loom, tuple(stations))


def test_flats_that_meet_are_said_to_guide_themselves() -> None:
    eased = guides(default_paddle(), Words("mm"))
    assert eased[0] == "No two flats meet, so each ends at two lines of its own."
    # The straight diamond: flat 1 runs from the ridge itself to the edge itself.
    sharp = guides(Paddle.mirrored(diamond(0.01)), Words("mm"))
    assert sharp[0].startswith("Flats 1 come together in places at the centre line and at the "
                               "middle of the edge: there the flats guide themselves")


def test_the_edge_band_is_told_as_wide_as_it_is() -> None:
    said = guides(default_paddle(), Words("mm"))
    carving = Carving(default_paddle().a, carvings(default_paddle())[0].blank)
    x = np.linspace(0.0, carving.half.stations[-2].x, 400)
    lines, q = carving.flats[0].lines(x), carving.flats[0].quadrant(carving.half.parameter(x))
    band = 2e3 * (q.h - lines.first_down)
    assert any(f"{band.min():.1f} to {band.max():.1f} mm wide" in s for s in said)


def test_layout_text_is_whole() -> None:
    design = random_design(1)
    text = layout_text(design, Words("mm"))
    assert [head for head, _ in text.entries()] == ["Order", "How near", "Guides", "Take care"]
    assert LayoutText("Bare").entries() == ()
    assert len(LINES) == len(LETTERS)
