"""Shapes as a maker would type them: round figures that read back as the same paddle."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from springloom.fit.body import USES, Boat, Body, Use
from springloom.fit.dimensions import fit, paddle_from_fit
from springloom.records.design import design_from
from springloom.records.reading import check_layout
from springloom.records.shape_typed import shape_tables, typed_length
from springloom.shape.paddle import Paddle, default_paddle
from springloom.units import METRE_PER_INCH, System, parse_length

STEP_M = {"mm": 1e-4, "in": METRE_PER_INCH / 64}
COARSE_STEP_M = {"mm": 1e-3, "in": METRE_PER_INCH / 16}


def read_back(paddle: Paddle, units: System) -> Paddle:
    tables = shape_tables(paddle, units)
    return design_from(check_layout({"format": 1, "name": "-", "units": units, **tables})).paddle


@given(height=st.floats(1.25, 2.25), beam=st.floats(0.4, 0.9), use=st.sampled_from(USES),
       units=st.sampled_from(["mm", "in"]))
def test_a_fitted_paddle_reads_back_to_half_a_step(height: float, beam: float, use: Use,
                                                   units: System) -> None:
    made = paddle_from_fit(fit(Body(height), Boat(beam), use))
    back = read_back(made, units)
    half = 0.5001 * STEP_M[units]  # a hair for the sum's rounding
    assert abs(back.length - made.length) < 0.5001 * COARSE_STEP_M[units]
    for old, new in zip(made.a.stations, back.a.stations, strict=True):
        assert abs(new.crown - old.crown) < half
        assert abs(new.width - old.width) < half
        assert abs((new.edge or 0.0) - (old.edge or 0.0)) < half


def test_blades_that_differ_get_a_table_each() -> None:
    paddle = default_paddle()
    other = paddle.with_crowns([s.crown for s in paddle.a.stations],
                               [0.9 * s.crown for s in paddle.b.stations])
    back = read_back(other, "mm")
    assert not back.is_symmetric
    assert all(abs(new.crown - old.crown) < 0.5001 * STEP_M["mm"]
               for old, new in zip(other.b.stations, back.b.stations, strict=True))


@given(metres=st.floats(0.001, 3.0), units=st.sampled_from(["mm", "in"]))
def test_a_typed_length_is_the_nearest_mark(metres: float, units: System) -> None:
    step = (COARSE_STEP_M if metres >= 0.2 else STEP_M)[units]
    typed = typed_length(metres, units)
    assert abs(parse_length(typed, default=units) - metres) <= 0.5001 * step
