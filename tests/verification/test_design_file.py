"""The design file: its schema, its defaults, its units, its places, and writing it again."""

from __future__ import annotations

import copy
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from springloom.errors import FileError, InputError, SpringloomError
from springloom.fit.bend import Limits, Target
from springloom.records.design import Design, design_from, load_design
from springloom.records.layout import DesignFile, json_schema
from springloom.records.places import parse_place
from springloom.records.reading import check_layout, table_of
from springloom.records.rewrite import rewritten
from springloom.shape.blade import Loom
from springloom.shape.paddle import default_paddle
from springloom.tune.advice import Rules
from springloom.tune.evidence import (
    INSTRUMENTS,
    SCALES,
    BenchReading,
    ThicknessReading,
    WeightReading,
)
from springloom.units import (
    KILOGRAM_PER_POUND,
    METRE_PER_INCH,
    NEWTON_PER_POUND_FORCE,
    System,
    parse_length,
)
from springloom.wood.layup import HALF_BLANK_M
from tests.verification.command import EXAMPLES, MARSH_TERN

SCHEMA = json_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)
IDS = [path.stem for path in EXAMPLES]
Step = str | int


def parsed(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


def design(text: str, units: System = "mm") -> Design:
    head = f'format = 1\nname = "Test"\nunits = "{units}"\n'
    return design_from(check_layout(tomllib.loads(head + text)))


def is_taken(data: dict[str, Any]) -> bool:
    """Whether the layout's check passes, which looks at kinds and not yet at quantities."""
    try:
        check_layout(data)
    except SpringloomError:
        return False
    return True


def tables(data: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    """Paths of all tables in parsed TOML, the whole file first."""
    if isinstance(data, dict):
        yield path
        for key, value in data.items():
            yield from tables(value, (*path, key))
    elif isinstance(data, list):
        for i, value in enumerate(data):
            yield from tables(value, (*path, i))


def keys(data: Any, path: tuple[Step, ...] = ()) -> Iterator[tuple[Step, ...]]:
    """Paths of all keys and list entries in parsed TOML."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict | list):
            yield from keys(value, (*path, key))


def at(data: Any, path: tuple[Step, ...]) -> Any:
    for step in path:
        data = data[step]
    return data


# ---- schema ---------------------------------------------------------------------------------


def test_the_schema_is_a_json_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
def test_every_example_fits_the_schema(example: Path) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(parsed(example))] == []


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
def test_an_unknown_key_in_any_table_is_refused_by_schema_and_program(example: Path) -> None:
    found = list(tables(parsed(example)))
    assert len(found) > 10
    for path in found:
        data = parsed(example)
        at(data, path)["zzz"] = 1
        assert not VALIDATOR.is_valid(data), path
        with pytest.raises(InputError, match=r"zzz: is unknown"):
            check_layout(data)


ANYTHING = st.one_of(
    st.booleans(), st.integers(-3, 3), st.floats(), st.text(max_size=3), st.just([]), st.just({}),
    st.lists(st.one_of(st.integers(), st.text(max_size=2), st.booleans()), max_size=3),
    st.sampled_from(["a", "mm", "us", "flat", "storm", [{}], [[1]], "x" * 121, [1] * 41]),
)


@given(st.sampled_from(EXAMPLES), st.data())
def test_schema_and_program_agree_on_what_may_stand_at_any_key(
    example: Path, drawn: st.DataObject
) -> None:
    data = parsed(example)
    path = drawn.draw(st.sampled_from(list(keys(data))))
    value = drawn.draw(ANYTHING)
    at(data, path[:-1])[path[-1]] = copy.deepcopy(value)
    if path == ("format",) and isinstance(value, float) and value == 1.0:
        return  # JSON knows no difference between 1 and 1.0; the program does
    assert VALIDATOR.is_valid(data) == is_taken(data), (path, value)


@given(st.sampled_from(EXAMPLES), st.data())
def test_schema_and_program_agree_on_what_may_be_left_out(
    example: Path, drawn: st.DataObject
) -> None:
    data = parsed(example)
    paths = [path for path in keys(data) if isinstance(path[-1], str)]
    path = drawn.draw(st.sampled_from(paths))
    del at(data, path[:-1])[path[-1]]
    assert VALIDATOR.is_valid(data) == is_taken(data), path


def models(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    yield model
    for field in model.model_fields.values():
        table = table_of(field.annotation)
        if table is not None:
            yield from models(table)


def test_every_table_and_key_says_what_it_is() -> None:
    for model in models(DesignFile):
        assert model.__doc__
        unsaid = [key for key, field in model.model_fields.items() if not field.description]
        assert unsaid == [], model


# ---- defaults -------------------------------------------------------------------------------


def test_what_is_left_out_is_the_default_paddle() -> None:
    bare = design("")
    assert bare.paddle == default_paddle()
    assert (bare.body, bare.board, bare.layup, bare.target, bare.readings) == (
        None, None, None, None, ())
    assert bare.limits == Limits()
    assert bare.rules == Rules()


def test_an_empty_table_says_what_no_table_says() -> None:
    written = design("[paddle]\n[loom]\n[limits]\n[care]\n[readings]\n")
    assert written.paddle == default_paddle()
    assert written.readings == ()
    expected, found = Limits(), written.limits
    for name in ("least_crown_mid", "least_crown_tip", "least_edge", "blank", "margin"):
        # typed in mm, so rounded once on its way to metres
        assert getattr(found, name) == pytest.approx(getattr(expected, name), rel=1e-15)
    for name in ("pass_m", "target_risk", "limit_risk", "most_m"):
        assert getattr(written.rules, name) == pytest.approx(getattr(Rules(), name), rel=1e-15)


def test_a_target_needs_only_how_far_the_tip_sinks() -> None:
    target, expected = design("[target]\nsinks = 33\n").wanted(), Target(0.033)
    assert target.deflection_m == 0.033
    assert target.load_n == pytest.approx(expected.load_n, rel=1e-15)  # one rounding
    assert target.progression == expected.progression
    assert target.tolerance_m == expected.tolerance_m


# ---- units ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("units", "typed"), [
    ("mm", "2235.2"), ("mm", '"88 in"'), ("in", "88"), ("in", '"2235.2 mm"'),
    ("in", '"7\' 4\\""'), ("mm", '"7 ft 4 in"'), ("in", '"2.2352 m"'), ("mm", '"223.52 cm"'),
])
def test_one_length_in_any_unit_is_the_same_paddle(units: System, typed: str) -> None:
    # 88 in is 2235.2 mm exactly (1 in = 25.4 mm); halved and doubled without rounding
    assert design(f"[paddle]\nlength = {typed}\n", units).paddle.length == 88 * METRE_PER_INCH


def test_a_bare_fraction_is_inches_whatever_the_units() -> None:
    for units in ("mm", "in"):
        found = design('[loom]\nwidth = "1 1/4"\n', units).paddle.a.loom.width
        assert found == pytest.approx(1.25 * METRE_PER_INCH, rel=1e-15)  # one rounding


def test_an_error_speaks_the_files_unit() -> None:
    with pytest.raises(InputError) as caught:
        design("[loom]\nwidth = 32\n", "in")
    assert (caught.value.field, str(caught.value.given)) == ("loom.width", "32 in")
    # 15 to 80 mm, to four digits
    assert caught.value.allowed == f"{15 / 25.4:.4g} to {80 / 25.4:.4g} in"


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
def test_an_example_reads_the_same_with_its_bare_numbers_spelt_out(example: Path) -> None:
    """Every bare length gets its unit, then the file's own unit is changed."""
    data = parsed(example)
    unit = data["units"]
    lengths = {"height", "arm_span", "cubit", "boat_beam", "hand_length", "length", "width",
               "thickness", "span", "sinks", "within", "blend", "crown", "edge", "blank",
               "least_crown_mid", "least_crown_tip", "least_edge", "left", "right"}

    def spelt(value: Any) -> Any:
        if isinstance(value, list):
            return [spelt(one) for one in value]
        return f"{value} {unit}" if re.fullmatch(r"-?[0-9.]+", str(value)) else value

    other = copy.deepcopy(data)
    for path in list(keys(other)):
        if path[-1] in lengths:
            at(other, path[:-1])[path[-1]] = spelt(at(other, path))
    other["units"] = "in" if unit == "mm" else "mm"
    first, second = design_from(check_layout(data)), design_from(check_layout(other))
    for field in ("body", "boat", "board", "layup", "paddle", "target", "limits", "readings"):
        assert getattr(first, field) == getattr(second, field), field


# ---- places ---------------------------------------------------------------------------------

LOOM = Loom(half_length=0.26, width=0.032, thickness=0.038, blend=0.025)
TIP = 1.12
BLADE = TIP - LOOM.half_length


@pytest.mark.parametrize(("typed", "units", "x", "name"), [
    ("root", "mm", LOOM.root, "root"),
    ("Tip ", "mm", TIP, "tip"),
    ("1/4", "in", LOOM.half_length + BLADE / 4, "1/4"),
    (" 1 / 2 ", "mm", LOOM.half_length + BLADE / 2, "1/2"),
    ("6/8", "mm", LOOM.half_length + 0.75 * BLADE, "3/4"),
    ("2/3", "mm", LOOM.half_length + 2 / 3 * BLADE, f"{1e3 * BLADE / 3:.0f} mm from tip"),
    ("1/1", "mm", TIP, "tip"),
    ("75 mm from tip", "mm", TIP - 0.075, "75 mm from tip"),
    ("75 from the tip", "mm", TIP - 0.075, "75 from the tip"),
    ("3 from tip", "in", TIP - 3 * METRE_PER_INCH, "3 from tip"),
    ('3 1/2" from tip', "mm", TIP - 3.5 * METRE_PER_INCH, '3 1/2" from tip'),
    ("0 mm from tip", "mm", TIP, "tip"),
    ("100 mm from root", "mm", LOOM.root + 0.1, "100 mm from root"),
    ("25 mm from shoulder", "mm", LOOM.root, "root"),
    ("500 mm from centre", "mm", 0.5, "500 mm from centre"),
    ("500 mm from center", "mm", 0.5, "500 mm from center"),
])
def test_a_place_is_found_as_makers_name_it(
    typed: str, units: System, x: float, name: str
) -> None:
    found, called = parse_place(typed, LOOM, TIP, units, "at")
    assert found == pytest.approx(x, abs=1e-12)  # rounding of sums near 1 m
    assert called == name


@pytest.mark.parametrize("typed", [
    "", "blade", "75 mm from", "from tip", "5/4", "1/0", "1200 mm from tip", "900 mm from root",
    "-1/4",     "7", 7, 0.25, "nan from tip", "-5 mm from tip", "75 mm from the other tip",
])
def test_what_is_no_place_is_refused(typed: str | float) -> None:
    with pytest.raises(InputError) as caught:
        parse_place(typed, LOOM, TIP, "mm", "at[3]")
    assert caught.value.field == "at[3]"
    assert caught.value.allowed


# ---- readings, strips -----------------------------------------------------------------------


def test_readings_carry_their_instruments_uncertainty() -> None:
    found = design("""
        [readings]
        weight = "1 lb 8 oz"
        scale = "hanging scale"
        [[readings.caliper]]
        blade = "b"
        at = ["root", "1/2"]
        crown = [35.2, "-"]
        edge = ["", "1/4"]
        instrument = "dial caliper"
        [[readings.bench]]
        blade = "a"
        load = "5 kg"
        hung_at = "75 mm from tip"
        clamp_at = "shoulder"
        read_at = ["tip", "1/2"]
        sinks = [28, 7.5]
    """).readings
    half = default_paddle().a
    crown, edge, at_tip, at_half, weight = found
    assert isinstance(crown, ThicknessReading)
    assert (crown.side, crown.kind, crown.name) == ("b", "crown", "root")
    assert (crown.x, crown.thickness) == (half.loom.root, 0.0352)
    assert crown.sd == INSTRUMENTS["dial caliper"]
    assert isinstance(edge, ThicknessReading)
    assert (edge.kind, edge.thickness, edge.name) == ("edge", 0.25 * METRE_PER_INCH, "1/2")
    assert isinstance(at_tip, BenchReading)
    assert isinstance(at_half, BenchReading)
    assert (at_tip.side, at_tip.deflection, at_half.deflection) == ("a", 0.028, 0.0075)
    assert at_tip.load == pytest.approx(5 * 9.80665, rel=1e-15)  # one rounding
    assert at_tip.load_x == pytest.approx(half.tip - 0.075, abs=1e-12)
    assert (at_tip.clamp_x, at_tip.read_x) == (half.loom.half_length, half.tip)
    assert at_half.read_x == pytest.approx(half.at_fraction(0.5), abs=1e-12)
    assert at_tip.sd == INSTRUMENTS["ruler"]
    assert isinstance(weight, WeightReading)
    assert weight.mass == pytest.approx(1.5 * KILOGRAM_PER_POUND, rel=1e-15)
    assert weight.sd == SCALES["hanging scale"]


def test_strips_are_cut_where_the_file_says() -> None:
    layup = design("""
        [[strip]]
        species = "western_redcedar"
        right = -0.5
        [[strip]]
        species = "sitka_spruce"
        left = -0.5
        right = 0.5
        above = 0
        [[strip]]
        species = "white_ash"
        left = -0.5
        right = 0.5
        below = 0
        [[strip]]
        species = "western_redcedar"
        left = 0.5
    """, "in").layup
    assert layup is not None
    half, far = 0.5 * METRE_PER_INCH, HALF_BLANK_M
    edges = [(s.y_min_m, s.y_max_m, s.z_min_m, s.z_max_m) for s in layup.strips]
    assert edges == [(-far, -half, -far, far), (-half, half, -far, 0.0), (-half, half, 0.0, far),
                     (half, far, -far, far)]
    names = [strip.material.name for strip in layup.strips]
    assert names == ["western redcedar", "Sitka spruce", "white ash", "western redcedar"]


def test_the_board_is_read_in_si() -> None:
    board = load_design(MARSH_TERN).board
    assert board is not None
    assert (board.length_m, board.width_m, board.thickness_m) == (2.44, 0.089, 0.04)
    assert (board.mass_kg, board.moisture_percent, board.ring) == (3.23, 11.0, "flat")
    assert board.grain_slope == 1 / 24
    (test,), (tap,) = board.bending_tests, board.tap_tones
    assert (test.span_m, test.deflection_m, tap.frequency_hz) == (2.0, 0.0017, 34.0)
    assert test.load_n == pytest.approx(10 * NEWTON_PER_POUND_FORCE, rel=1e-15)


# ---- writing again --------------------------------------------------------------------------


def test_writing_again_changes_entries_and_nothing_between_them() -> None:
    text = """# first
[blade]   # the shape
crown = [
  34, # root
  20.5,

  # a remark of its own
  "9/16",
]  # all
edge = [18,9 , 5]# read 5 mm in
other = 'kept'
[target]
sinks = 33 # mm
"""
    half = default_paddle().a
    three = type("Half", (), {"stations": half.stations[:3]})
    new = rewritten(text, "mm", {"blade": three}, {"sinks": "30 mm"})  # type: ignore[dict-item] # three stations make no blade
    assert new == text.replace("34,", "34.0,").replace("20.5", "24.5").replace(
        '"9/16"', "17.5").replace("[18,9 , 5]", "[18.0,9.0 , 7.0]").replace("33", '"30 mm"')


def test_writing_again_needs_a_table_to_write_into() -> None:
    with pytest.raises(FileError) as caught:
        rewritten("format = 1\n", "mm", {"blade": default_paddle().a})
    assert caught.value.field == "blade"


@given(st.lists(st.floats(5.0, 40.0), min_size=6, max_size=6), st.sampled_from(["mm", "in"]))
def test_written_crowns_are_read_back_to_half_a_step(crowns: list[float], units: System) -> None:
    half = default_paddle().a.with_crowns([1e-3 * crown for crown in crowns])
    text = tomlkit.dumps({"blade": {"crown": [0] * 6, "edge": [0] * 6}})
    table = tomllib.loads(rewritten(text, units, {"blade": half}))["blade"]
    step = 1e-4 if units == "mm" else METRE_PER_INCH / 64
    for typed, station in zip(table["crown"], half.stations, strict=True):
        metres = parse_length(typed, default=units)
        assert metres == pytest.approx(station.crown, abs=0.5 * step * (1 + 1e-9))
