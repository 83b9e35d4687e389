"""The cut list: solid and laminated blanks, glue in closed form, the board's verdict."""

from __future__ import annotations

from dataclasses import replace

import pytest

from springloom.fit.cutlist import GLUE_SPREAD_KG_M2, clipped, cut_list, group_of, options
from springloom.records.design import load_design
from springloom.shape.blank import Allowances, blank_for
from springloom.shape.paddle import default_paddle
from springloom.wood.board import Board
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import species_material
from springloom.wood.stock import MARKETS
from tests.verification.command import EXAMPLES

PADDLE = default_paddle()
CEDAR, SPRUCE = species_material("western_redcedar"), species_material("sitka_spruce")
ASH = species_material("white_ash")
FAR = HALF_BLANK_M
BOARD = Board("western_redcedar", 2.44, 0.089, 0.0405, ring="flat")


def three_strips(width: float = 0.025) -> Layup:
    h = 0.5 * width
    return Layup((Strip(CEDAR, -FAR, -h, -FAR, FAR), Strip(SPRUCE, -h, h, -FAR, FAR, "quarter"),
                  Strip(CEDAR, h, FAR, -FAR, FAR)))


def test_a_solid_blank_is_one_piece_without_glue() -> None:
    made = cut_list(PADDLE, CEDAR, BOARD)
    blank = blank_for(PADDLE)
    (piece,) = made.pieces
    assert (piece.length_m, piece.width_m, piece.thickness_m) == (
        blank.length_m, blank.width_m, blank.thickness_m)
    assert (piece.wood, piece.group, piece.ring, piece.count) == (
        "western redcedar", "softwood", "flat", 1)
    assert (made.glue_area_m2, made.glue_kg, made.is_laminated) == (0.0, 0.0, False)


def test_strips_side_by_side_are_glued_on_two_faces() -> None:
    """Two joints, each as high as the blank is thick and as long as it is."""
    made = cut_list(PADDLE, three_strips())
    blank = made.blank
    assert made.glue_area_m2 == pytest.approx(2 * blank.thickness_m * blank.length_m)
    assert made.glue_kg == pytest.approx(GLUE_SPREAD_KG_M2 * made.glue_area_m2)
    outer, inner = made.pieces
    assert outer.numbers == (1, 3)
    assert outer.width_m == pytest.approx(0.5 * (blank.width_m - 0.025), abs=1e-6)
    assert inner.width_m == pytest.approx(0.025)
    assert inner.numbers == (2,)
    assert inner.ring == "quarter"
    assert all(p.thickness_m == pytest.approx(blank.thickness_m) for p in made.pieces)


def test_layers_and_strips_are_glued_wherever_they_touch() -> None:
    """A core of width b between two layers, in a blank W wide and T thick: the core's two sides,
    (T − 2c) each, and four seams of the layers with what lies between: 2 W in all."""
    c, b = 0.004, 0.030
    blank = blank_for(PADDLE)
    up, down = blank.above_m - c, -blank.below_m + c
    layup = Layup((
        Strip(ASH, -FAR, FAR, up, FAR), Strip(ASH, -FAR, FAR, -FAR, down),
        Strip(CEDAR, -FAR, -b / 2, down, up), Strip(SPRUCE, -b / 2, b / 2, down, up),
        Strip(CEDAR, b / 2, FAR, down, up),
    ))
    made = cut_list(PADDLE, layup)
    expected = 2 * (blank.thickness_m - 2 * c) + 2 * blank.width_m
    assert made.glue_area_m2 == pytest.approx(expected * blank.length_m)
    assert [p.wood for p in made.pieces] == ["white ash", "western redcedar", "Sitka spruce"]
    assert [p.group for p in made.pieces] == ["hardwood", "softwood", "softwood"]


def test_strips_fill_the_blank_and_no_more() -> None:
    blank = blank_for(PADDLE)
    strips = clipped(three_strips(), blank)
    area = sum((s.y_max_m - s.y_min_m) * (s.z_max_m - s.z_min_m) for _, s in strips)
    assert area == pytest.approx(blank.width_m * blank.thickness_m)
    assert [number for number, _ in strips] == [1, 2, 3]


def test_a_strip_outside_the_blank_is_not_sawn() -> None:
    layup = Layup((Strip(CEDAR, -FAR, 0.06, -FAR, FAR), Strip(ASH, 0.06, FAR, -FAR, FAR)))
    made = cut_list(PADDLE, layup)
    assert [p.wood for p in made.pieces] == ["western redcedar"]
    assert made.glue_area_m2 == 0.0


@pytest.mark.parametrize(("change", "fits", "bare"), [
    ({}, True, True),
    ({"thickness_m": 0.0385}, False, True),
    ({"thickness_m": 0.0375}, False, False),
    ({"width_m": 0.085}, False, True),
    ({"width_m": 0.080}, False, False),
    ({"length_m": 2.22}, False, True),
    ({"length_m": 2.15}, False, False),
])
def test_the_board_is_judged(change: dict[str, float], fits: bool, bare: bool) -> None:
    made = cut_list(PADDLE, CEDAR, replace(BOARD, **change))  # type: ignore[arg-type]  # sizes
    assert made.check is not None
    assert made.check.fits is fits
    assert made.check.fits_bare is bare
    assert {s.size for s in made.check.shortfalls} == {k.removesuffix("_m") for k in change}


def test_a_wide_board_gives_two() -> None:
    made = cut_list(PADDLE, CEDAR, replace(BOARD, width_m=0.19))
    assert made.check is not None
    assert made.check.nest is not None
    assert (made.check.nest.fits, made.check.nest.kind) == (True, "side by side")


def test_strips_of_the_boards_wood_are_laid_into_it() -> None:
    spruce = Board("sitka_spruce", 2.44, 0.089, 0.041)
    made = cut_list(PADDLE, three_strips(), spruce)
    assert made.check is not None
    assert [p.item.label for p in made.check.placed] == ["strip 2"]
    assert made.check.fits
    short = cut_list(PADDLE, three_strips(), replace(spruce, length_m=1.5)).check
    assert short is not None
    assert [i.label for i in short.left] == ["strip 2"]
    assert not short.fits_bare
    assert cut_list(PADDLE, three_strips(), Board("white_ash", 2.44, 0.089, 0.041)).check is None


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_every_example_can_be_bought_in_every_market(example: object) -> None:
    design = load_design(example)  # type: ignore[arg-type]  # a path
    made = cut_list(design.paddle, design.build, design.board)
    for market in MARKETS:
        found = options(made, design.paddle, market)
        assert {o.paddles for o in found} == {1, 2}
        for option in found:
            labels = [p.item.label for b in option.boards for p in b.placed]
            wanted = [i.label for piece in made.pieces for i in piece.items()]
            assert sorted(labels) == sorted(wanted * option.paddles)


def test_two_shifted_outlines_can_be_the_cheaper_way() -> None:
    """In 175 mm sawn stock two squared blanks of 88 mm leave no room for the cut between."""
    made = cut_list(PADDLE, CEDAR)
    double = options(made, PADDLE, "metric")[-1]
    assert double.paddles == 2
    assert double.nest is not None
    (board,) = double.boards
    assert double.nest.width_m <= board.stock.width_m + 1e-6
    assert double.nest.length_m <= board.length_m + 1e-6


def test_allowances_change_the_blank_and_what_is_bought() -> None:
    generous = Allowances(edge_m=0.006, end_m=0.05)
    made = cut_list(PADDLE, CEDAR, None, generous)
    assert made.blank.length_m == pytest.approx(PADDLE.length + 0.1)
    assert made.blank.width_m == pytest.approx(0.083 + 0.012)
    names = {o.boards[0].stock.name for o in options(made, PADDLE, "north american")}
    assert "2 × 4" not in names  # 95 mm no longer come out of 88.9


def test_hardwoods_are_known_by_their_names() -> None:
    assert group_of("white ash") == "hardwood"
    assert group_of("Sitka spruce") == "softwood"
    assert group_of("driftwood") == "softwood"
