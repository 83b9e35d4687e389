"""Drawings for a small screen: the paddle's own curves, stretched as they say, words apart."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from springloom.drawing.lettering import text_box
from springloom.drawing.model import Drawing, Path, Text
from springloom.drawing.oblique import oblique
from springloom.drawing.paths import path_bounds
from springloom.drawing.screen_bend import BentLine, WantedLine, screen_bend
from springloom.drawing.screen_sections import screen_sections, section_sheet
from springloom.drawing.screen_views import THICKER, WIDER, Stand, screen_views
from springloom.shape.blade import HalfPaddle, Station
from springloom.shape.paddle import Paddle, default_paddle
from springloom.units import System

HALF = default_paddle().a
SYSTEMS: tuple[System, ...] = ("mm", "in")


def with_more_stations() -> HalfPaddle:
    """A blade with a station every few centimetres at its tip."""
    tip = HALF.tip
    more = tuple(Station(tip - back, 0.082 + 0.001 * n, 0.0103 + 0.0004 * (3 - n), 0.005,
                         name=f"{1e3 * back:.0f} mm from tip")
                 for n, back in enumerate((0.16, 0.13, 0.10)))
    stations = (*HALF.stations[:3], *more, *HALF.stations[-2:])
    return replace(HALF, stations=stations)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("half", [HALF, with_more_stations()])
def test_no_words_meet_and_all_stay_on_the_page(half: HalfPaddle, system: System) -> None:
    for drawing in (screen_views(half, half, system), screen_sections(half, system)):
        boxes = [text_box(item) for item in drawing.items if isinstance(item, Text)]
        assert all(drawing.page.contains(box, 0.6) for box in boxes)
        assert not any(a.overlaps(b) for a, b in itertools.combinations(boxes, 2))


def test_views_are_stretched_as_they_say() -> None:
    at = Stand.of(HALF)
    assert at.across == WIDER * at.along
    assert at.through == THICKER * at.along
    drawing = screen_views(HALF, HALF)
    side = path_bounds(next(p for p in _paths(drawing) if p.layer == "side"))
    # The crown is greatest in the loom, 38 mm.
    assert side.height == pytest.approx(at.through * HALF.loom.thickness)
    assert side.width == pytest.approx(at.along * HALF.tip)


def test_the_page_keeps_its_size_while_a_value_is_drawn_along() -> None:
    crowns = [s.crown for s in HALF.stations]
    thinner = HALF.with_crowns(np.array(crowns) * 0.9)
    assert screen_views(HALF, HALF).height_mm == screen_views(thinner, thinner).height_mm


def test_another_half_is_drawn_over_it_within_the_same_page() -> None:
    longer = default_paddle(2.4).a
    drawing = screen_views(HALF, HALF, over=longer)
    assert all(drawing.page.contains(path_bounds(p), 1e-6) for p in _paths(drawing))
    assert len(_paths(drawing)) == len(_paths(screen_views(HALF, HALF))) + 2


def test_sections_are_drawn_to_one_scale() -> None:
    sheet = section_sheet(HALF)
    outlines = [p for p in _paths(screen_sections(HALF)) if p.closed and p.pen is not None]
    for place, outline in zip(sheet.places, outlines, strict=True):
        box = path_bounds(outline)
        assert box.width == pytest.approx(sheet.scale * 1e3 * place.row.width)
        assert box.height == pytest.approx(sheet.scale * 1e3 * place.row.crown)
        assert box.centre == pytest.approx((place.x, place.y))


def test_a_bend_names_what_it_shows() -> None:
    x = np.linspace(0.28, 1.1, 9)
    bent = BentLine("designed", x, 0.05 * (x - 0.28) ** 2, 1.2)
    drawing = screen_bend([bent], WantedLine(0.04, 1.9), "10 lb")
    names = {item.string for item in drawing.items if isinstance(item, Text)}
    assert {"designed", "wanted", "90 %"} <= names
    assert "wanted 40 mm" in drawing.description
    assert all(drawing.page.contains(path_bounds(p), 1e-6) for p in _paths(drawing))


def test_the_picture_holds_both_blades_within_its_page() -> None:
    blunt = default_paddle(2.4).a
    for paddle in (default_paddle(), Paddle(HALF, replace(blunt, loom=HALF.loom))):
        drawing = oblique(paddle)
        assert all(drawing.page.contains(path_bounds(p), 1e-6) for p in _paths(drawing))


def _paths(drawing: Drawing) -> list[Path]:
    return [item for item in drawing.items if isinstance(item, Path)]
