"""A design file taken into the store comes out as it was, whatever unit it is in."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import InputError, NotStoredError
from springloom.records.design import design_from
from springloom.records.layout import DesignFile
from springloom.records.reading import check_layout
from springloom.store import Store
from springloom.store.boards import add_board_test, board, describe_board
from springloom.store.layout import design_of, layout_of, take_in
from springloom.store.paddles import assign, design_versions, paddles, save_design
from springloom.store.people import add_person, people
from springloom.store.rounds import add_reading, readings, rounds
from springloom.store.typed import LENGTHS, PLACES, in_units
from springloom.units import System, parse_length
from tests.verification.store_entries import (
    BENCH,
    DESIGN,
    LAYOUTS,
    a_paddle,
    new_paddle,
    uid,
)


def typed(layout: DesignFile) -> object:
    return layout.model_dump(exclude_unset=True)


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_file_taken_in_comes_out_as_it_was(store: Store, name: str) -> None:
    with store.write("Anna") as pen:
        made = take_in(pen, uid(), LAYOUTS[name])
    with store.read() as connection:
        back = layout_of(connection, made.id)
        assert typed(back) == typed(LAYOUTS[name])
        assert design_of(connection, made.id).readings == design_from(LAYOUTS[name]).readings
        turns = rounds(connection, made.id)
    assert [turn.is_open for turn in turns] == [False] * (len(turns) - 1) + [True]
    assert (made.name, made.number, made.made_by) == (LAYOUTS[name].name, 1, "Anna")


def test_taking_the_same_file_in_twice_takes_it_in_once(store: Store) -> None:
    mark = uid()
    for _ in range(2):
        with store.write("Anna") as pen:
            take_in(pen, mark, LAYOUTS["marsh_tern with rounds"])
    with store.read() as connection:
        assert len(paddles(connection)) == len(people(connection)) == 1


def test_a_file_that_makes_no_design_leaves_nothing_behind(store: Store) -> None:
    data = LAYOUTS["marsh_tern"].model_dump(exclude_unset=True)
    data["readings"]["bench"][0]["sinks"] = ["28 mm", "14 stone", "6 mm"]
    with pytest.raises(InputError, match=r"readings\.bench\[1\]\.sinks\[2\]"), \
            store.write("Anna") as pen:
        take_in(pen, uid(), check_layout(data))
    with store.read() as connection:
        assert not [*paddles(connection), *people(connection)]


def test_a_scale_without_a_weight_is_refused_rather_than_lost(store: Store) -> None:
    data = LAYOUTS["marsh_tern"].model_dump(exclude_unset=True)
    del data["readings"]["weight"]
    with pytest.raises(InputError, match=r"readings\.scale: is named, but no weight"), \
            store.write("Anna") as pen:
        take_in(pen, uid(), check_layout(data))


def test_a_paddle_like_another_file_is_refused(store: Store) -> None:
    data = LAYOUTS["marsh_tern"].model_dump(exclude_unset=True)
    data["target"] = {"like": "old_favourite.toml"}
    with pytest.raises(InputError, match=r"target\.like: is another file"), \
            store.write("Anna") as pen:
        take_in(pen, uid(), check_layout(data))


def test_what_was_typed_in_inches_means_the_same_in_a_file_in_mm(store: Store) -> None:
    with store.write("Anna") as pen:
        made = a_paddle(pen)
        who = add_person(pen, uid(), "Ben", {"height": 69.5, "hand_length": "7 1/2"}, units="in")
        assign(pen, uid(), made.id, person_id=who.id)
        plank = describe_board(pen, uid(), board(pen.connection, made.board_id or 0).id,
                               {"species": "sitka_spruce", "length": 96, "width": "3.5",
                                "thickness": "1 5/8"}, board(pen.connection, 1).sheet_id,
                               units="in")
        add_board_test(pen, uid(), plank.id, "bending", {"span": 78, "load": "10 lb", "sinks": .07})
        add_reading(pen, uid(), made.id, "caliper",
                    {"blade": "a", "at": ["root", "3 from tip"], "crown": [1.4, "7/16"],
                     "edge": ["-", "3/16"]}, units="in")
    with store.read() as connection:
        layout, design = layout_of(connection, made.id), design_of(connection, made.id)
    assert layout.units == "mm"
    assert layout.paddler is not None
    assert layout.board is not None
    assert layout.readings is not None
    assert (layout.paddler.height, layout.paddler.hand_length) == ("69.5 in", "7 1/2")
    assert (layout.board.length, layout.board.width) == ("96 in", "3.5 in")
    assert (layout.board.bending[0].span, layout.board.bending[0].sinks) == ("78 in", "0.07 in")
    assert layout.readings.caliper[0].at == ["root", "3 in from tip"]
    assert layout.readings.caliper[0].crown == ["1.4 in", "7/16"]
    assert layout.readings.caliper[0].edge == ["-", "3/16"]
    assert design.board is not None
    assert design.board.length_m == pytest.approx(96 * 0.0254, rel=1e-12)  # exact but for rounding


def test_readings_keep_their_meaning_when_the_design_goes_over_to_inches(store: Store) -> None:
    with store.write("Anna") as pen:
        made = a_paddle(pen)
        add_reading(pen, uid(), made.id, "bench", BENCH)
        add_reading(pen, uid(), made.id, "balance", {"balance": -4})
        before = design_of(pen.connection, made.id).readings
        inches = {"units": "in", "paddle": {"length": 88}}
        save_design(pen, uid(), made.id, inches, "inches", 1)
        after = design_of(pen.connection, made.id)
    assert after.units == "in"
    sunk = [getattr(one, "deflection", None) for one in after.readings]
    assert sunk == [getattr(one, "deflection", None) for one in before]
    assert after.readings[-1] == before[-1]


# Any number as makers type it, and the places they name.
NUMBERS = st.one_of(
    st.integers(1, 999), st.floats(0.01, 999, allow_nan=False),
    st.sampled_from(["3.25", " 12 ", "1 5/8", "7/16", "83 mm", "3.5 in", "4 cm", "7' 4\""]),
)


@given(value=NUMBERS, was=st.sampled_from(["mm", "in"]), wanted=st.sampled_from(["mm", "in"]))
def test_a_length_is_as_long_in_a_file_of_either_unit(
    value: float | str, was: System, wanted: System
) -> None:
    moved = in_units("caliper", {"crown": [value, "-"]}, was, wanted)["crown"]
    assert moved[1] == "-"
    assert parse_length(moved[0], default=wanted) == parse_length(value, default=was)
    if was == wanted:
        assert moved[0] == value


def test_every_length_of_a_design_files_own_tables_is_known_as_one() -> None:
    """Whatever says it is a weight, a tone, a share or a name has no unit of length."""
    others = {
        "paddler": {"use"},
        "board": {"species", "grown", "weight", "moisture", "grain_slope", "rings", "bending",
                  "tap", "note"},
        "bending": {"load", "edgewise"}, "planed": {"blade"},
        "caliper": {"blade", "face", "instrument"}, "width": {"blade", "instrument"},
        "blade_length": {"blade", "instrument"}, "trace": {"blade", "face", "instrument"},
        "bench": {"blade", "load", "instrument"}, "hands": {"blade", "load", "instrument"},
    }
    schema = DesignFile.model_json_schema()["$defs"]
    names = {"paddler": "Paddler", "board": "BoardTable", "bending": "BendingTest",
             "planed": "PlanedTable", "caliper": "CaliperTable", "width": "WidthTable",
             "blade_length": "BladeLengthTable", "trace": "TraceTable", "bench": "BenchTable",
             "hands": "HandsTable"}
    for kind, keys in others.items():
        assert LENGTHS[kind] | (PLACES & set(schema[names[kind]]["properties"])) == (
            set(schema[names[kind]]["properties"]) - keys), kind


def test_an_earlier_version_of_the_design_can_be_looked_at(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Ben") as pen:
        save_design(pen, uid(), made.id, DESIGN | {"target": {"sinks": 40}}, "softer", 1)
    with store.read() as connection:
        assert design_of(connection, made.id).wanted().deflection_m == pytest.approx(0.040)
        assert design_of(connection, made.id, 1).wanted().deflection_m == pytest.approx(0.033)
        assert [(one.number, one.why, one.made_by) for one in design_versions(
            connection, made.id)] == [(1, "", "Anna"), (2, "softer", "Ben")]
        for number in (0, 3, -1):
            with pytest.raises(NotStoredError, match="design: is not in the store"):
                layout_of(connection, made.id, number)


def test_a_paddle_without_person_and_board_is_a_design_all_the_same(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        assign(pen, uid(), made.id, person_id=None, board_id=None)
    with store.read() as connection:
        layout = layout_of(connection, made.id)
        assert layout.paddler is None
        assert layout.board is None
        assert not [*readings(connection, made.id), *rounds(connection, made.id)]
