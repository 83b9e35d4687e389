"""The cut list's page: drawn to its scale, its verdict in words, nothing in the way."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from springloom.drawing.cut_drawing import SCALES, scale_for
from springloom.drawing.model import Drawing
from springloom.drawing.paper import MARGIN_MM
from springloom.drawing.paths import path_bounds
from springloom.records.design import Design, load_design
from springloom.report.cut_words import cut_drawings, cut_job
from springloom.report.words import Words
from springloom.shape.blank import blank_for
from springloom.wood.board import Board
from tests.verification.command import EXAMPLES, MARSH_TERN
from tests.verification.drawing_readback import paths_of, texts_of
from tests.verification.drawing_tidy import assert_tidy
from tests.verification.sheet_designs import random_design

BOARD = Board("western_redcedar", 2.44, 0.089, 0.041)


def tern(**sizes: float) -> Design:
    plain = load_design(MARSH_TERN)
    return replace(plain, board=replace(BOARD, **sizes))  # type: ignore[arg-type]  # sizes


def sheet(design: Design) -> Drawing:
    return cut_drawings(design, Words(design.units))[0]


def said(drawing: Drawing) -> str:
    return " ".join(text.string for text in texts_of(drawing))


def scale_of(drawing: Drawing) -> float:
    (foot,) = [t.string for t in texts_of(drawing) if "boards from above" in t.string]
    return float(foot.rsplit(":", 1)[1])


def boards_of(drawing: Drawing) -> list[tuple[float, float]]:
    """Sizes of the boards seen from above, mm on paper: the rectangles of the upper part."""
    found = [path_bounds(p) for p in paths_of(drawing) if p.layer == "board" and p.closed]
    return [(b.width, b.height) for b in found if b.width > 100.0]


@pytest.mark.parametrize("length", [2.0, 2.44, 3.1, 4.8])
def test_board_and_outline_are_drawn_to_the_scale_in_the_foot(length: float) -> None:
    design = tern(length_m=length)
    drawing = sheet(design)
    k = 1e3 / scale_of(drawing)
    (board,) = boards_of(drawing)
    assert board == pytest.approx((k * length, k * 0.089))
    outlines = [path_bounds(p) for p in paths_of(drawing) if p.layer == "pieces" and p.closed]
    longest = max(box.width for box in outlines)
    assert longest == pytest.approx(k * design.paddle.length)


@pytest.mark.parametrize(("length", "room", "scale"), [(2.44, 277.0, 10.0), (2.44, 244.0, 10.0),
                                                      (2.45, 244.0, 12.5), (60.0, 277.0, 217.0)])
def test_scale_is_the_largest_usual_one_that_fits(length: float, room: float,
                                                  scale: float) -> None:
    assert scale_for(length, room) == scale
    assert 1e3 * length / scale <= room
    smaller = [n for n in SCALES if n < scale]
    assert all(1e3 * length / n > room for n in smaller)


def test_end_view_is_full_size_where_it_fits() -> None:
    design = tern()
    drawing = sheet(design)
    blank = blank_for(design.paddle)
    sizes = [(b.width, b.height) for p in paths_of(drawing) if p.layer == "board" and p.closed
             for b in [path_bounds(p)] if b.width < 100.0]
    expected = {"blank": (1e3 * blank.width_m, 1e3 * blank.thickness_m), "board": (89.0, 41.0)}
    for size in expected.values():
        assert any(found == pytest.approx(size) for found in sizes)


@pytest.mark.parametrize(("sizes", "words"), [
    ({}, ("The board will do", "A second paddle does not come out of it")),
    ({"thickness_m": 0.0385}, ("only as it is", "Too thin by 1.5 mm at the loom",
                               "bare paddle would still come out")),
    ({"thickness_m": 0.036}, ("won't do", "Too thin by 4 mm at the loom",
                              "from the centre to the root")),
    ({"width_m": 0.080}, ("won't do", "Too narrow by 8 mm at 75 mm from tip")),
    ({"length_m": 2.20}, ("won't do", "Too short by 90 mm")),
    ({"width_m": 0.181}, ("will do", "Two squared blanks come out of it, side by side")),
    ({"length_m": 4.6}, ("will do", "Two squared blanks come out of it, end to end")),
    ({"length_m": 3.2, "width_m": 0.155}, ("will do", "outlines shifted by", "saw round")),
])
def test_every_verdict_is_told_in_words(sizes: dict[str, float], words: tuple[str, ...]) -> None:
    text = said(sheet(tern(**sizes)))
    for word in words:
        assert word in text


@pytest.mark.parametrize("shift", [False, True])
def test_two_outlines_are_drawn_where_two_come_out(shift: bool) -> None:
    drawing = sheet(tern(width_m=0.155, length_m=3.2) if shift else tern())
    k = 1e3 / scale_of(drawing)
    outlines = [path_bounds(p) for p in paths_of(drawing) if p.layer == "pieces" and p.closed
                and path_bounds(p).width > k * 2.0]
    assert len(outlines) == 1 + shift
    if shift:
        assert abs(outlines[0].centre[0] - outlines[1].centre[0]) > k * 0.3


def test_laminated_blank_shows_its_strips_glue_and_grain() -> None:
    design = load_design(next(p for p in EXAMPLES if p.stem == "low_skerry"))
    text = " ".join(map(said, cut_drawings(design, Words("in"))))
    for word in ("strip 2", "on edge", "1, 3", "Glued joints", "end for end", "safety sheet",
                 "square feet"):
        assert word in text
    made = cut_job(design, Words("in")).made
    assert f"{made.glue_area_m2:.3f} m²" in text


def test_a_board_that_only_stands_for_its_wood_is_not_judged() -> None:
    design = replace(tern(), board_assumed=True)
    text = said(sheet(design))
    assert "will do" not in text
    assert "Your board" not in text


def test_a_board_of_another_wood_than_any_strip_is_told() -> None:
    design = load_design(next(p for p in EXAMPLES if p.stem == "low_skerry"))
    other = replace(design, board=Board("white_ash", 2.0, 0.1, 0.04))
    assert "of another wood than any strip" in said(sheet(other))


def test_sizes_from_memory_are_marked_where_they_are_asked_for() -> None:
    design = load_design(next(p for p in EXAMPLES if p.stem == "low_skerry"))
    assert "(from memory)" in said(sheet(design))


@pytest.mark.parametrize("seed", range(200))
def test_no_word_is_in_the_way_on_any_sheet(seed: int) -> None:
    design = random_design(seed)
    for drawing in cut_drawings(design, Words(design.units), "letter" if seed % 5 else "a4"):
        assert_tidy(drawing, MARGIN_MM - 0.1)


def test_growth_rings_are_drawn_as_they_were_told() -> None:
    def slopes(ring: str) -> np.ndarray:
        design = replace(tern(), board=replace(BOARD, ring=ring))  # type: ignore[arg-type]  # one
        (rings,) = [p for p in paths_of(sheet(design)) if p.layer == "grain"]
        run = rings.segments[:, 3] - rings.segments[:, 0]
        return np.asarray(np.abs(run / np.hypot(*run.T)[:, None]))

    assert np.allclose(slopes("flat"), (1.0, 0.0))
    assert np.allclose(slopes("quarter"), (0.0, 1.0))
    assert np.allclose(slopes("mixed"), (0.5**0.5, 0.5**0.5))


@pytest.mark.parametrize("make", [lambda d: replace(d, paddle=d.paddle), lambda d: d])
def test_the_same_design_gives_the_same_sheet(make: Callable[[Design], Design]) -> None:
    one, two = sheet(tern()), sheet(make(tern()))
    assert [t.string for t in texts_of(one)] == [t.string for t in texts_of(two)]
