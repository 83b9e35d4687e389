"""The figures of what to measure and how a board is tested: readable, tidy, true."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from springloom.drawing.board_figure import NODE, bending_figure, tap_figure
from springloom.drawing.body_figure import WIDTH, body_figures
from springloom.drawing.model import Drawing, Pen
from springloom.fit.body import MEASURES
from springloom.wood.readings import EULER_ROOT
from tests.verification.drawing_readback import paths_of, texts_of
from tests.verification.drawing_tidy import beyond, overlapping

PHONE_PX = 366  # what a page of ours leaves of a screen 390 pixels wide
READABLE_PX = 9.0  # capitals of a letter of 12.5 pixels, the least a phone is read at

FIGURES = (*body_figures(), bending_figure(), tap_figure("21 9/16 in", "96 1/8 in"))


@pytest.mark.parametrize("drawing", FIGURES, ids=lambda drawing: drawing.title)
def test_figures_are_tidy_and_readable_on_a_phone(drawing: Drawing) -> None:
    assert drawing.description
    assert overlapping(drawing) == []
    assert beyond(drawing, drawing.page) == []
    for text in texts_of(drawing):
        assert text.size_mm * PHONE_PX / drawing.width_mm > READABLE_PX


def test_every_measure_of_body_and_boat_is_drawn() -> None:
    said = " ".join(text.string for drawing in body_figures() for text in texts_of(drawing))
    called = {"grip_circumference_m": "girth"}
    for measure in MEASURES:
        assert called.get(measure.field, measure.name) in said
    assert "height" in said
    assert "beam" in said
    assert all(drawing.width_mm == WIDTH for drawing in body_figures())


def test_a_tapped_board_is_held_where_its_first_tone_leaves_it_at_rest() -> None:
    # Free bar, first mode about the middle: cos(k x) cosh(k/2) + cosh(k x) cos(k/2), k of the
    # slender bar's cos k cosh k = 1.
    k = math.sqrt(EULER_ROOT)
    assert abs(math.cos(k) * math.cosh(k) - 1.0) < 1e-9  # the root's own rounding

    def shape(x: float) -> float:
        z = k * (x - 0.5)
        return math.cos(z) * math.cosh(k / 2) + math.cosh(z) * math.cos(k / 2)

    at_rest = float(brentq(shape, 0.1, 0.4))
    assert abs(NODE - at_rest) < 5e-4  # it is said to three digits


def test_the_drawn_mode_passes_the_board_s_middle_at_the_supports() -> None:
    drawing = tap_figure("547 mm", "2440 mm")
    mode = next(path for path in paths_of(drawing)
                if path.pen is Pen.HIDDEN and len(path.segments) == 30)
    points = np.vstack([mode.segments[:, 0], mode.segments[-1:, 3]])
    heights = np.interp((10.0 + NODE * 100.0, 110.0 - NODE * 100.0), points[:, 0], points[:, 1])
    assert np.allclose(heights, 36.0, atol=0.05)  # the line runs straight between its 31 points
