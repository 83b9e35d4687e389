"""A middling body in a middling boat gets the default paddle, and its numbers stay put."""

from __future__ import annotations

import pytest

from springloom.fit.body import DEFAULT_BOAT, DEFAULT_BODY, Boat, Use
from springloom.fit.dimensions import fit, paddle_from_fit
from springloom.fit.rules import DimensionName
from springloom.shape.paddle import default_paddle


@pytest.mark.parametrize("beam", [0.52, 0.54, 0.56])
def test_the_default_body_gets_the_default_paddle(beam: float) -> None:
    # common practice, no source: length 2210, loom 510, 32 x 38, widest 83, root 39 mm.
    result = fit(DEFAULT_BODY, Boat(beam))
    model = default_paddle()
    wanted: dict[DimensionName, float] = {
        "length": model.length,
        "loom_length": 2.0 * model.a.loom.half_length,
        "loom_width": model.a.loom.width,
        "loom_thickness": model.a.loom.thickness,
        "blade_width": max(station.width for station in model.a.stations),
        "root_width": model.a.stations[0].width,
    }
    for name, value in wanted.items():
        # 3 %: what "close to the default paddle" was agreed to mean.
        assert result.value_m(name) == pytest.approx(value, rel=0.03), name
    assert result.conflicts == ()


def test_its_stations_are_the_default_ones_too() -> None:
    ours, model = paddle_from_fit(fit(DEFAULT_BODY, DEFAULT_BOAT)).a, default_paddle().a
    assert [s.name for s in ours.stations] == [s.name for s in model.stations]
    for our, default in zip(ours.stations, model.stations, strict=True):
        assert our.x == pytest.approx(default.x, rel=0.03)
        assert our.width == pytest.approx(default.width, rel=0.03)
        assert our.crown == pytest.approx(default.crown, rel=0.03)
    assert ours.notes() == model.notes()


NUMBERS: list[tuple[Use, DimensionName, float]] = [
    ("touring", "length", 2245.0),
    ("touring", "loom_length", 519.9),
    ("touring", "blade_width", 83.9),
    ("touring", "loom_girth", 110.0),
    ("touring", "root_width", 39.0),
    ("rolling", "length", 2242.2),
    ("storm", "length", 1772.4),
    ("storm", "loom_length", 286.0),
]


@pytest.mark.parametrize(("use", "name", "value_mm"), NUMBERS)
def test_numbers_of_the_default_body(use: Use, name: DimensionName, value_mm: float) -> None:
    # Half of the last digit written above.
    assert 1e3 * fit(DEFAULT_BODY, DEFAULT_BOAT, use).value_m(name) == pytest.approx(
        value_mm, abs=0.0501)
