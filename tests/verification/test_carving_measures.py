"""Sizes and weights to hit at each stage, and what a reading of them says."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from springloom.drawing.layout_figures import paddle_figures
from springloom.drawing.layout_key import SHOWN, letters_drawing, order_drawings
from springloom.mechanics.stage_mass import stage_masses
from springloom.mechanics.stiffness import spread_of
from springloom.records.design import load_design
from springloom.report.carving_measures import (
    NEAR,
    SAME_WOOD,
    TITLES,
    of_this_wood,
    size_said,
    stage_measures,
    stage_weights,
    weight_said,
)
from springloom.report.carving_words import carving_text
from springloom.report.set_off_words import WORK, set_off
from springloom.report.words import Words
from springloom.shape.paddle import Paddle
from springloom.shape.stages import STAGES, carvings
from springloom.units import METRE_PER_INCH
from tests.verification.command import MARSH_TERN

DESIGN = load_design(MARSH_TERN)
WORDS = Words("mm")
WEIGHTS = stage_weights(DESIGN)
TWO = replace(DESIGN, paddle=Paddle(DESIGN.paddle.a, replace(
    DESIGN.paddle.a, stations=tuple(replace(s, crown=0.95 * s.crown)
                                    for s in DESIGN.paddle.a.stations))))


def test_weights_and_their_ranges() -> None:
    assert [w.name for w in WEIGHTS] == list(STAGES)
    assert [w.mass_kg for w in WEIGHTS] == list(stage_masses(DESIGN.paddle, DESIGN.build))
    for weight in WEIGHTS:
        # 90 % of a lognormal lie within 1.645 standard deviations of its median
        wide = math.exp(1.6449 * spread_of(DESIGN.build)[1])
        assert weight.high_kg / weight.mass_kg == pytest.approx(wide, rel=1e-4)
        assert weight.low_kg * weight.high_kg == pytest.approx(weight.mass_kg**2)


@pytest.mark.parametrize("design", [DESIGN, TWO], ids=["alike", "unlike"])
def test_a_size_keeps_its_key_in_either_system_and_has_it_alone(design: object) -> None:
    assert isinstance(design, type(DESIGN))
    for mm, inch in zip(stage_measures(design, "mm"), stage_measures(design, "in"), strict=True):
        assert [one.key for one in mm] == [one.key for one in inch]
        assert [one.value_m for one in mm] == [one.value_m for one in inch]
        assert len({one.key for one in mm}) == len(mm)


def test_every_size_of_the_page_stands_on_the_paper() -> None:
    for stage, measures in zip(carving_text(DESIGN, WORDS).stages, stage_measures(DESIGN),
                               strict=True):
        should = " ".join(text for _, text in stage.checks)
        for one in measures:
            assert WORDS.bare(one.value_m) in should


def test_stages_are_called_as_on_the_paper() -> None:
    assert list(TITLES.values()) == [s.name for s in carving_text(DESIGN, WORDS).stages]


@pytest.mark.parametrize(("over", "call"), [(0.0, "as wanted"), (0.9 * NEAR, "as wanted"),
                                            (-0.9 * NEAR, "as wanted"), (0.0006, "more"),
                                            (-0.0006, "less")])
def test_what_a_size_says(over: float, call: str) -> None:
    said = size_said(0.03 + over, 0.03, WORDS)
    assert said.call == call
    if call != "as wanted":
        assert WORDS.length(0.0006) in said.sentence


def test_a_weight_inside_the_range() -> None:
    for weight in WEIGHTS:
        for kilograms in (weight.low_kg, weight.mass_kg, weight.high_kg):
            said = weight_said(WEIGHTS, weight.name, {weight.name: kilograms}, WORDS)
            assert said.call == "as wanted"
            assert "inside the likely range" in said.sentence


def test_a_heavy_blank_is_the_wood_and_a_heavy_stage_may_be_left_wood() -> None:
    blank, taper = WEIGHTS[0], WEIGHTS[2]
    heavy = weight_said(WEIGHTS, blank.name, {blank.name: 1.3 * blank.mass_kg}, WORDS)
    assert heavy.call == "more"
    assert "30 % over" in heavy.sentence
    assert "the wood is denser or wetter" in heavy.sentence
    left = weight_said(WEIGHTS, taper.name, {taper.name: 1.3 * taper.mass_kg}, WORDS)
    assert "Either wood is left" in left.sentence


def test_a_light_stage_may_be_taken_too_far() -> None:
    taper = WEIGHTS[2]
    said = weight_said(WEIGHTS, taper.name, {taper.name: 0.7 * taper.mass_kg}, WORDS)
    assert said.call == "less"
    assert "30 % under" in said.sentence
    assert "too much is off already" in said.sentence


def test_what_was_off_before_by_as_much_is_the_wood() -> None:
    taper, flats = WEIGHTS[2], WEIGHTS[3]
    ratio = 1.2 * math.exp(0.9 * SAME_WOOD)
    same = weight_said(WEIGHTS, flats.name, {taper.name: 1.2 * taper.mass_kg,
                                             flats.name: ratio * flats.mass_kg}, WORDS)
    assert f"“{TITLES[taper.name]}” was 20 % over as well" in same.sentence
    other = weight_said(WEIGHTS, flats.name, {taper.name: taper.mass_kg,
                                              flats.name: ratio * flats.mass_kg}, WORDS)
    assert "Either wood is left" in other.sentence


def test_what_later_stages_will_weigh_in_this_wood() -> None:
    taper, last = WEIGHTS[2], WEIGHTS[-1]
    found = of_this_wood(WEIGHTS, last.name, {taper.name: 1.1 * taper.mass_kg})
    assert found == pytest.approx(1.1 * last.mass_kg)
    assert of_this_wood(WEIGHTS, taper.name, {taper.name: taper.mass_kg}) is None


def test_figures_to_read_off_are_those_of_the_layout_table() -> None:
    (face,) = set_off(DESIGN, "mm")
    (figures,) = paddle_figures(DESIGN.paddle, "mm")
    assert [place.name for place in face.places] == list(figures.names)
    for place, row in zip(face.places, figures.figures[0].rows(), strict=True):
        assert place.x_m == row[0]
        for one, length in zip(place.figures, row, strict=True):
            assert length is not None
            assert one.first == f"{1e3 * length:.1f} mm"  # whole tenths
            assert one.second.endswith(" in")
    assert {group.work for place in face.places for group in place.groups} == set(dict(WORK))
    eight = face.places[0].wanted("8")
    assert [one.what[0] for group in eight for one in group.figures] == ["a", "b"]


def test_in_inches_the_rule_of_inches_comes_first() -> None:
    (face,) = set_off(DESIGN, "in")
    assert all(one.first.endswith(" in") and one.second.endswith(" mm")
               for place in face.places for one in place.figures)
    half_width = face.places[0].figures[1]
    # a figure of half the loom's width, rounded up: outside the line wood is left
    loom = 0.5 * DESIGN.paddle.a.loom.width
    assert half_width.first == f"{math.ceil(loom / METRE_PER_INCH * 64)}/64 in"


def test_unlike_blades_have_figures_each() -> None:
    assert [(face.key, face.blade) for face in set_off(TWO, "mm")] == [("a", "A"), ("b", "B")]


def test_the_section_after_each_stage_is_drawn_alone() -> None:
    carving = carvings(DESIGN.paddle)[0]
    made = order_drawings(carving, 0.0, "on the loom")
    assert [caption for caption, _ in made] == [caption for _, caption in SHOWN]
    assert len({(drawing.width_mm, drawing.height_mm) for _, drawing in made}) == 1
    # as wide as the loom, its axes and the margins
    assert made[0][1].width_mm > 1e3 * DESIGN.paddle.a.loom.width
    assert "a to f" in letters_drawing(carving).title
