"""Section templates: the model's own sections, at full size, a card that can be cut and found."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath

import numpy as np
import pytest

from springloom.drawing.lettering import text_box
from springloom.drawing.model import Array, Drawing, Path, Pen, Text
from springloom.drawing.notes import SheetText
from springloom.drawing.offsets import figure, offsets
from springloom.drawing.paper import Page
from springloom.drawing.paths import curve_at, path_bounds
from springloom.drawing.pdf import write_pdf
from springloom.drawing.svg import write_svg
from springloom.drawing.templates import LOOM, section_templates
from springloom.errors import RangeError, UnknownNameError
from springloom.shape.blade import HalfPaddle, Loom, Station
from springloom.shape.paddle import default_paddle
from springloom.units import System
from tests.verification.drawing_agree import widest_gap_mm
from tests.verification.drawing_readback import paths_of, pdf_text, texts_of
from tests.verification.drawing_tidy import (
    PIXEL_MM,
    assert_tidy,
    bar_errors_mm,
    crossed,
    rendered,
)
from tests.verification.plan_designs import random_half

WORDS = SheetText("Bench paddle", date="3 May")
PAGES: tuple[Page, ...] = ("a4", "letter")
T = np.linspace(0.0, 1.0, 41)
# The sheet keeps 10 mm; letters taller than capitals reach 0.3 mm into them.
MARGIN_MM = 9.7


def cut(drawing: Drawing) -> tuple[list[Path], list[Path]]:
    """Return the cards and the sections on a page, each from the top."""
    paths = [p for p in paths_of(drawing) if p.layer == "cut"]
    assert all(p.pen is Pen.OUTLINE and p.closed for p in paths)
    cards = [p for p in paths if len(p.segments) == 7]
    return cards, [p for p in paths if len(p.segments) < 7]


def all_cut(pages: tuple[Drawing, ...]) -> tuple[list[Path], list[Path]]:
    both = [cut(page) for page in pages]
    return [c for cards, _ in both for c in cards], [s for _, found in both for s in found]


def places(half: HalfPaddle) -> list[float]:
    """Where there is a section of its own: the centre, and every station but the tip."""
    return [0.0, *(s.x for s in half.stations[:-1])]


def points(segments: Array) -> Array:
    return curve_at(segments, T).reshape(-1, 2)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("seed", range(8))
def test_each_place_has_its_card_and_its_section(seed: int, page: Page) -> None:
    half = random_half(seed)
    cards, sections = all_cut(section_templates(half, WORDS, page=page))
    assert len(cards) == len(sections) == len(places(half))
    for card, drawn, x in zip(cards, sections, places(half), strict=True):
        true = 1e3 * half.section(x).controls()
        # The section's axes stand where its lower right quadrant begins.
        shift = drawn.segments[3, 0] - true[3, 0]
        assert np.abs(drawn.segments - shift - true).max() < 1e-9
        # The card's mouth is its right half: lower, then upper quadrant.
        mouth = card.segments[0, 0] - true[3, 0]
        assert np.abs(card.segments[:2] - mouth - true[[3, 0]]).max() < 1e-9


@pytest.mark.parametrize("seed", range(8))
def test_card_is_whole_round_its_mouth(seed: int) -> None:
    half = random_half(seed)
    for card in all_cut(section_templates(half, WORDS))[0]:
        assert len(card.runs()) == 1
        box, mouth = path_bounds(card), points(card.segments[:2])
        # Open on the left, the centre line; wood for the fingers on the other three sides, mm.
        assert mouth[:, 0].min() == pytest.approx(box.x0)
        assert box.x1 - mouth[:, 0].max() >= 14.0 - 1e-9
        assert box.y1 - mouth[:, 1].max() >= 9.0 - 1e-9
        assert mouth[:, 1].min() - box.y0 >= 9.0 - 1e-9


@pytest.mark.parametrize("seed", range(8))
def test_flats_lie_outside_the_section_and_inside_the_card(seed: int) -> None:
    half = random_half(seed)
    for drawing in section_templates(half, WORDS):
        flats = [p for p in paths_of(drawing) if p.layer == "facets"]
        cards, _ = cut(drawing)
        # One for each face of each place; a flat face has none.
        assert len(cards) <= len(flats) <= 2 * len(cards)
        for flat in flats:
            (card,) = [c for c in cards if path_bounds(c).contains(path_bounds(flat), 1e-6)]
            level, corners = card.segments[0, 3, 1], points(flat.segments)
            side = 1 if corners[:, 1].mean() > level else -1
            face = points(card.segments[1:2] if side > 0 else card.segments[:1])
            order = np.argsort(face[:, 0])
            wood = np.interp(corners[:, 0], face[order, 0], face[order, 1])
            # Chords of 40 steps to a quadrant stay within 0.02 mm of a curve of this size.
            assert (side * (corners[:, 1] - wood) > -0.02).all()
            assert corners[:, 0].max() == pytest.approx(card.segments[0, 3, 0])


@pytest.mark.parametrize("seed", range(200))
def test_no_word_is_in_the_way(seed: int) -> None:
    system: System = "mm" if seed % 2 else "in"
    page = PAGES[seed // 2 % 2]
    for drawing in section_templates(random_half(seed), WORDS, page=page, system=system):
        assert_tidy(drawing, MARGIN_MM)


def nothing_cut_overlaps(drawing: Drawing) -> bool:
    made = [path_bounds(p) for group in cut(drawing) for p in group]
    return not any(a.overlaps(b) for i, a in enumerate(made) for b in made[:i])


@pytest.mark.parametrize("seed", range(20))
def test_no_two_pieces_overlap(seed: int) -> None:
    for drawing in section_templates(random_half(seed), WORDS):
        assert nothing_cut_overlaps(drawing)


@pytest.mark.parametrize("page", PAGES)
def test_check_bars_print_at_full_size_on_every_page(page: Page, tmp_path: FilePath) -> None:
    drawings = section_templates(default_paddle().a, WORDS, page=page)
    assert len(drawings) > 1
    for drawing in drawings:
        assert max(map(abs, bar_errors_mm(drawing, tmp_path))) <= PIXEL_MM


def test_a_printed_section_is_as_wide_and_thick_as_the_blade(tmp_path: FilePath) -> None:
    half = default_paddle().a
    drawing = section_templates(half, WORDS)[0]
    pdf = write_pdf([drawing])
    _, sections = cut(drawing)
    for path, x in zip(sections, places(half), strict=False):
        box = path_bounds(path)
        pixels = rendered(pdf, drawing.height_mm, box.grown(1.2), tmp_path)
        # Clear of the axes and ticks: 1 mm over the widest line, 1 mm beside the ridge.
        row = pixels[round((box.y1 + 1.2 - box.centre[1] - 1.0) / PIXEL_MM)]
        dark = np.flatnonzero(row < 128) * PIXEL_MM
        # The curve 1 mm above the widest line, from the model; and the line's own 0.5 mm.
        quadrant = points(path.segments[:1])
        at = 2 * (np.interp(box.centre[1] + 1.0, quadrant[:, 1], quadrant[:, 0]) - box.centre[0])
        assert dark[-1] - dark[0] == pytest.approx(at + 0.5, abs=3 * PIXEL_MM)
        assert box.width == pytest.approx(2e3 * half.section(x).half_width)


@pytest.mark.parametrize("page", PAGES)
def test_three_writers_agree(page: Page) -> None:
    for seed in (1, 3, 6):
        for drawing in section_templates(random_half(seed), WORDS, page=page):
            # What the three files promise, mm.
            assert widest_gap_mm(drawing) < 0.01


def test_measured_width_stretches_that_place_alone() -> None:
    half = default_paddle().a
    drawn = all_cut(section_templates(half, WORDS))
    scaled_pages = section_templates(half, WORDS, widths={"1/2": 0.0715})
    scaled = all_cut(scaled_pages)
    names = [LOOM, *(row.name for row in offsets(half)[2:-1])]
    for name, before, after in zip(names, drawn[1], scaled[1], strict=True):
        a, b = path_bounds(before), path_bounds(after)
        assert b.height == pytest.approx(a.height)
        assert b.width == pytest.approx(71.5 if name == "1/2" else a.width)
    said = [t.string for page in scaled_pages for t in texts_of(page)]
    assert said.count("width as measured") == 1
    assert any(s.startswith("71.5 × ") for s in said)


def test_flats_are_stretched_with_the_section() -> None:
    half = default_paddle().a

    def reach(widths: dict[str, float] | None) -> list[float]:
        found = [path_bounds(p).width for page in section_templates(half, WORDS, widths=widths)
                 for p in paths_of(page) if p.layer == "facets"]
        return sorted(found)

    # Both faces of the half section of the widest place, 83 mm drawn.
    assert reach(None)[-2:] == pytest.approx([41.5, 41.5])
    assert reach({"75 mm from tip": 0.090})[-2:] == pytest.approx([45.0, 45.0])


@pytest.mark.parametrize(("widths", "error"), [
    ({"half-way": 0.07}, UnknownNameError), ({"1/2": 0.03}, RangeError),
    ({"1/2": float("nan")}, RangeError),
])
def test_wrong_measurements_are_refused(widths: dict[str, float],
                                        error: type[Exception]) -> None:
    with pytest.raises(error, match=r"templates\.widths"):
        section_templates(default_paddle().a, WORDS, widths=widths)


def test_unknown_page_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="page"):
        section_templates(default_paddle().a, WORDS, page="a5")  # type: ignore[arg-type]  # wrong on purpose


@pytest.mark.parametrize("system", ["mm", "in"])
def test_card_says_which_place_it_is_and_how_large(system: System) -> None:
    half = default_paddle().a
    for drawing in section_templates(half, WORDS, system=system):
        cards, _ = cut(drawing)
        rows = {figure(row.x, system): row for row in offsets(half, system)}
        for card in cards:
            box = path_bounds(card)
            on = [t.string for t in texts_of(drawing) if box.contains(text_box(t))]
            assert WORDS.title in on
            place = [s.removesuffix(" from centre") for s in on if s.endswith(" from centre")]
            row = rows[place[0] if place else figure(0.0, system)]
            assert (row.name if place else LOOM) in on
            width = figure(row.width, system).rsplit(" ", 1)[0]
            assert f"{width} × {figure(row.crown, system)}" in on


def wanted(kind: str) -> HalfPaddle:
    halves = map(random_half, range(40))
    tests: dict[str, Callable[[HalfPaddle], bool]] = {
        "one face": lambda h: h.stations[0].share == 1.0,
        "unlike ridges": lambda h: h.stations[0].ridge_bottom is not None,
    }
    return next(h for h in halves if tests[kind](h))


@pytest.mark.parametrize("kind", ["one face", "unlike ridges"])
def test_unlike_faces_are_told_apart(kind: str) -> None:
    half = wanted(kind)
    pages = section_templates(half, WORDS)
    said = [t.string for page in pages for t in texts_of(page)]
    # All places but the loom, whose oval is even.
    assert said.count("upper face") == said.count("lower face") == len(places(half)) - 1
    for page in pages:
        assert_tidy(page, MARGIN_MM)
    assert "upper face" not in [t.string for page in section_templates(default_paddle().a, WORDS)
                                for t in texts_of(page)]


def broad(width: float, name: str = "") -> HalfPaddle:
    """Return a half far wider than any that is carved."""
    loom = Loom(0.25, 0.032, 0.038)
    stations = tuple(Station(x, w, 0.02, name=name) for x, w in
                     ((loom.root, 0.04), (0.5, width), (0.8, width), (1.1, 0.0)))
    return HalfPaddle(loom, stations)


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("width", [0.13, 0.19, 0.3])
def test_a_very_wide_blade_still_finds_room(width: float, page: Page) -> None:
    pages = section_templates(broad(width), WORDS, page=page)
    for drawing in pages:
        assert_tidy(drawing, MARGIN_MM)
        assert nothing_cut_overlaps(drawing)
    cards, sections = all_cut(pages)
    assert len(cards) == len(sections) == 4
    widest = max(path_bounds(p).width for p in sections)
    # Where the whole has no room on the sheet, its half is drawn.
    assert widest == pytest.approx(1e3 * width if width < 0.18 else 500 * width)


def test_long_names_are_broken() -> None:
    words = SheetText("The name of a paddle that nobody can say in one breath " * 2)
    half = broad(0.08, "where the grain runs out near the knot that was left in on purpose")
    for drawing in section_templates(half, words, system="in", blade="A"):
        assert_tidy(drawing, MARGIN_MM)


def test_many_stations_take_many_pages() -> None:
    half = default_paddle().a
    xs = [half.loom.root + 0.02 * n for n in range(30)]
    stations = [Station(x, 0.045 + 0.001 * n, 0.030 - 0.0005 * n) for n, x in enumerate(xs)]
    crowded = HalfPaddle(half.loom, (*stations, *half.stations[-2:]))
    pages = section_templates(crowded, WORDS)
    assert len(all_cut(pages)[0]) == 32
    assert len(pages) > 5
    assert f"sheet 6 of {len(pages)}" in pages[5].title


def test_the_files_are_written_and_text_stays_text() -> None:
    page = section_templates(default_paddle().a, WORDS, system="in", blade="B")[0]
    assert "nan" not in write_svg(page).split("</style>")[1].lower()
    text = pdf_text(write_pdf([page]))
    for word in ("Bench paddle", "section templates, sheet 1 of 2", "100 mm", "4 in", "Blade B",
                 "loom"):
        assert word in text


def test_the_crossing_test_can_fail() -> None:
    page = section_templates(default_paddle().a, WORDS)[0]
    card = path_bounds(cut(page)[0][0])
    assert crossed(page.with_items(Text(card.x1 - 2, card.y0 + 1, "in the way"))) != []
