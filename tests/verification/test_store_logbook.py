"""The logbook's queries, states of all paddles at once, and classes, on each kind of database."""

from __future__ import annotations

import uuid

from springloom.records.classfile import parse_class
from springloom.store.archive import archive, new_entries
from springloom.store.class_rows import room_of, take_students
from springloom.store.classes import add_class
from springloom.store.logbook import Asked, choose, lines, work_out
from springloom.store.notes import add_note
from springloom.store.opening import Store
from springloom.store.paddles import add_paddle
from springloom.store.people import add_person, rename_person
from springloom.store.rounds import add_reading
from springloom.store.summaries import state_key, state_keys
from tests.verification.web_client import put_example

CSV = ("name,height,species,board_length,board_width,board_thickness\n"
       "Ann,176 cm,,,,\nBo,170 cm,sitka_spruce,,,\nCy,180 cm,sitka_spruce,2400,90,45\n"
       "Ann,176 cm,,,,\n")
WOOD = {"board": {"species": "western_redcedar", "length": "2.4 m", "width": "90 mm",
                  "thickness": "40 mm"}}


def mark() -> str:
    return str(uuid.uuid4())


def test_states_of_all_paddles_are_each_ones_own(store: Store) -> None:
    put_example(store)
    with store.write("Bea") as pen:
        who = add_person(pen, mark(), "Ann", {"height": "176 cm"})
        bare = add_paddle(pen, mark(), "Bare", {})
        his = add_paddle(pen, mark(), "Ann's", {}, person_id=who.id)

    def states() -> dict[int, str]:
        with store.read() as connection:
            found = state_keys(connection)
            assert found == {number: state_key(connection, number) for number in found}
            return found

    before = states()
    with store.write("Bea") as pen:
        add_note(pen, mark(), "paddle", bare.id, "light")
    noted = states()
    assert {n for n in noted if noted[n] != before[n]} == {bare.id}
    with store.write("Bea") as pen:
        rename_person(pen, mark(), who.id, "Anna")
    renamed = states()
    assert {n for n in renamed if renamed[n] != noted[n]} == {his.id}


def test_lines_say_who_touched_a_paddle_last_and_find_what_was_said(store: Store) -> None:
    number = put_example(store)
    with store.write("Cid") as pen:
        add_reading(pen, mark(), number, "remark", {"text": "Größer als gedacht"})
    with store.write("Bea") as pen:
        add_paddle(pen, mark(), "Bare", {})
    with store.read() as connection:
        every = lines(connection)
        found = choose(connection, every, Asked(text="GRÖSSER"))
    assert [(one.name, one.touched_by) for one in every] == [("Bare", "Bea"), ("Marsh Tern", "Cid")]
    assert [one.id for one in found] == [number]
    assert all(one.progress is None for one in every)
    assert work_out(store, (*every, *every), 0.0) == 2
    assert work_out(store, every, 60.0) == 0
    with store.read() as connection:
        told = {one.name: one.progress for one in lines(connection)}
    assert told["Marsh Tern"] is not None
    assert told["Marsh Tern"].stage == "tune"
    assert told["Bare"] is not None
    assert told["Bare"].figures is not None
    assert told["Bare"].figures.mass_kg is None  # of no wood yet


def test_a_class_file_taken_in_twice_changes_nothing(store: Store) -> None:
    with store.write("Bea") as pen:
        klass = add_class(pen, mark(), "Autumn", WOOD)
    first = take_students(store, "Bea", klass.id, parse_class(CSV))
    with store.read() as connection:
        before = archive(connection)
    again = take_students(store, "Bea", klass.id, parse_class(CSV))
    assert (len(first.new), first.known) == (4, 0)  # two of one name and size are two students
    assert (len(again.new), again.known) == (0, 4)
    with store.read() as connection:
        assert archive(connection) == before
        room, paddles = room_of(connection, klass.id)
    owns = [(s.row.name, s.row.owns_board, s.design.board and s.design.board.species)
            for s in room.students]
    assert owns == [("Ann", False, "western_redcedar"), ("Bo", False, "sitka_spruce"),
                    ("Cy", True, "sitka_spruce"), ("Ann", False, "western_redcedar")]
    assert len(set(paddles.values())) == 4


def test_what_an_archive_would_add_is_told(store: Store) -> None:
    put_example(store)
    with store.read() as connection:
        data = archive(connection)
        assert {part: new for part, (new, _) in new_entries(connection, data).items()
                if new} == {}
    data["notes"] = [{"uid": mark(), "made_at": data["paddles"][0]["made_at"], "made_by": "Bea",
                      "paddle": data["paddles"][0]["uid"], "board": None, "person": None,
                      "text": "from afar", "replaces": None}]
    with store.read() as connection:
        found = new_entries(connection, data)
    assert found["notes"] == (1, 1)
    assert found["paddles"] == (0, 1)
