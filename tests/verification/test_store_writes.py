"""People, boards, paddles and what is written about them: kept, versioned, never overwritten."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from springloom.errors import ConflictError, InputError, NotStoredError, RangeError
from springloom.store import Pen, Store
from springloom.store.attachments import MOST_BYTES, attach, attachments, content
from springloom.store.boards import (
    add_board,
    add_board_test,
    board,
    board_history,
    board_test_history,
    boards,
    describe_board,
    rename_board,
    withdraw_board_test,
)
from springloom.store.classes import add_class, add_student, classes, klass, students
from springloom.store.layout import design_of
from springloom.store.marks import mark_history, mark_stage, marks
from springloom.store.notes import add_note, note_history, notes, withdraw_note
from springloom.store.paddles import (
    add_paddle,
    assign,
    design_version,
    paddle,
    paddles,
    save_design,
    set_aside,
)
from springloom.store.people import (
    add_person,
    body_history,
    measure_person,
    people,
    person,
    rename_person,
)
from tests.verification.store_entries import (
    BOARD,
    BODY,
    DESIGN,
    a_board,
    a_paddle,
    a_person,
    new_paddle,
    uid,
)

TAP = {"frequency": "34 Hz"}
NONE = 10**6
"""The number of nothing."""


def test_a_person_is_kept_as_typed(store: Store) -> None:
    with store.write("Anna") as pen:
        made = add_person(pen, uid(), "Anna Ø. Test", BODY)
    with store.read() as connection:
        found = person(connection, made.id)
    assert found == made
    assert found.paddler == BODY
    assert [type(value) for value in found.paddler.values()] == [str, float]
    assert abs(found.made_at - datetime.now(UTC)) < timedelta(minutes=1)
    assert (found.made_by, found.made_at.tzinfo) == ("Anna", UTC)


def test_measures_are_added_and_the_old_ones_stay_readable(store: Store) -> None:
    with store.write("Anna") as pen:
        first = a_person(pen)
    with store.write("Ben") as pen:
        second = measure_person(pen, uid(), first.id, {"height": "177 cm"}, first.body_id)
    with store.read() as connection:
        assert person(connection, first.id) == second
        assert body_history(connection, first.id) == (first, second)
        assert people(connection) == (second,)
    assert (second.paddler, second.made_by, second.uid) == (
        {"height": "177 cm"}, "Ben", first.uid)


def test_whoever_saw_older_measures_is_told_what_is_there_now(store: Store) -> None:
    with store.write("Anna") as pen:
        first = a_person(pen)
    with store.write("Ben") as pen:
        second = measure_person(pen, uid(), first.id, {"height": "177 cm"}, first.body_id)
    with pytest.raises(ConflictError, match="has been changed in the meantime") as caught, \
            store.write("Cara") as pen:
        measure_person(pen, uid(), first.id, {"height": "178 cm"}, first.body_id)
    assert (caught.value.who, caught.value.when, caught.value.now) == (
        "Ben", second.made_at, second)
    assert caught.value.exit_code == 6


def test_a_second_try_after_others_wrote_is_still_the_same_write(store: Store) -> None:
    mark = uid()
    with store.write("Anna") as pen:
        first = a_person(pen)
        measure_person(pen, mark, first.id, {"height": "177 cm"}, first.body_id)
    with store.write("Anna") as pen:
        measure_person(pen, mark, first.id, {"height": "177 cm"}, first.body_id)
    with store.read() as connection:
        assert len(body_history(connection, first.id)) == 2


def test_people_and_boards_are_renamed_and_listed_by_name(store: Store) -> None:
    with store.write("Anna") as pen:
        first, plank = a_person(pen), a_board(pen)
        add_person(pen, uid(), "berta", BODY)
        add_board(pen, uid(), "Ash", BOARD)
        mark = uid()
        for _ in range(2):
            assert rename_person(pen, mark, first.id, "Zoe").name == "Zoe"
        assert rename_board(pen, uid(), plank.id, "zz").name == "zz"
    with store.read() as connection:
        assert [one.name for one in people(connection)] == ["berta", "Zoe"]
        assert [one.name for one in boards(connection)] == ["Ash", "zz"]
        assert boards(connection)[1] == board(connection, plank.id)


@pytest.mark.parametrize(("table", "field"), [
    ({"height": "9 m"}, r"paddler\.height"), ({}, r"paddler\.height"),
    ({"height": "176 cm", "heigth": 3}, r"paddler\.heigth"),
    ({"height": float("nan")}, "paddler"), ({"height": "17\0 cm"}, "paddler"),
    ({"height": "17\ud800 cm"}, "paddler"), ({"height": 10**5000}, "paddler"),
    ({"height": {1}}, "paddler"),
])
def test_measures_nobody_has_are_refused_and_leave_nothing(
    store: Store, table: dict[str, Any], field: str
) -> None:
    with pytest.raises(InputError, match=f"^{field}"), store.write("Anna") as pen:
        add_person(pen, uid(), "Anna", table)
    with store.read() as connection:
        assert people(connection) == ()


@pytest.mark.parametrize("name", ["", "  \n", "x" * 121, "a\0b", "\udfff"])
def test_names_that_are_none_are_refused(store: Store, name: str) -> None:
    with store.write("Anna") as pen:
        with pytest.raises(InputError, match=r"^name: "):
            add_person(pen, uid(), name, BODY)
        with pytest.raises(InputError, match=r"^name: "):
            add_board(pen, uid(), name, BOARD)
        with pytest.raises(InputError, match=r"^name: "):
            add_paddle(pen, uid(), name, DESIGN)


@pytest.mark.parametrize("mark", ["", "12", "x" * 36, "../../etc/passwd", None, 7])
def test_what_is_no_uuid_is_refused(store: Store, mark: Any) -> None:
    with store.write("Anna") as pen, pytest.raises(InputError, match=r"^uid: is no UUID"):
        add_person(pen, mark, "Anna", BODY)


def test_a_uid_may_be_spelt_in_capitals(store: Store) -> None:
    mark = uid()
    with store.write("Anna") as pen:
        first = add_person(pen, mark, "Anna", BODY)
        assert add_person(pen, mark.upper(), "Anna", BODY) == first


def test_a_board_goes_with_its_tests(store: Store) -> None:
    with store.write("Anna") as pen:
        made = a_board(pen)
        bend = add_board_test(pen, uid(), made.id, "bending",
                              {"span": 2000, "load": "10 lb", "sinks": 1.7})
        first = add_board_test(pen, uid(), made.id, "tap", TAP)
        second = add_board_test(pen, uid(), made.id, "tap", {"frequency": "35 Hz"}, first.id)
        third = add_board_test(pen, uid(), made.id, "tap", TAP | {"edgewise": True})
    with store.write("Ben") as pen:
        gone = withdraw_board_test(pen, uid(), third.id)
    with store.read() as connection:
        found = board(connection, made.id)
        assert board_test_history(connection, made.id) == (bend, first, second, third, gone)
    assert found.tests == (bend, second)
    assert (gone.table, gone.replaces, gone.made_by) == (None, third.id, "Ben")
    assert [tap.frequency for tap in found.layout().tap] == ["35 Hz"]
    assert found.layout().bending[0].sinks == 1.7


def test_a_test_is_corrected_once(store: Store) -> None:
    with store.write("Anna") as pen:
        made = a_board(pen)
        first = add_board_test(pen, uid(), made.id, "tap", TAP)
        mark = uid()
        second = add_board_test(pen, mark, made.id, "tap", {"frequency": 35}, first.id)
        assert add_board_test(pen, mark, made.id, "tap", {"frequency": 35}, first.id) == second
        with pytest.raises(ConflictError, match="has been corrected in the meantime") as caught:
            withdraw_board_test(pen, uid(), first.id)
        assert caught.value.now == {"frequency": 35}
        away = uid()
        gone = withdraw_board_test(pen, away, second.id)
        assert withdraw_board_test(pen, away, second.id) == gone
        with pytest.raises(ConflictError, match="has been withdrawn in the meantime"):
            add_board_test(pen, uid(), made.id, "tap", TAP, second.id)


def test_a_test_of_another_board_or_kind_is_not_corrected(store: Store) -> None:
    with store.write("Anna") as pen:
        made, other = a_board(pen), a_board(pen)
        tap = add_board_test(pen, uid(), made.id, "tap", TAP)
        with pytest.raises(InputError, match=r"^replaces: is of another board or kind"):
            add_board_test(pen, uid(), other.id, "tap", TAP, tap.id)
        with pytest.raises(InputError, match=r"^kind: is no test of a board"):
            add_board_test(pen, uid(), made.id, "weight", TAP)  # type: ignore[arg-type]  # the point


@pytest.mark.parametrize(("kind", "table", "field"), [
    ("tap", {"frequency": "34 kg"}, r"board\.tap\[1\]\.frequency"),
    ("bending", {"span": 2000, "load": "10 lb", "sinks": "3 m"}, r"board\.bending\[1\]\.sinks"),
])
def test_a_test_that_cannot_be_leaves_nothing(
    store: Store, kind: Any, table: dict[str, Any], field: str
) -> None:
    with store.write("Anna") as pen:
        made = a_board(pen)
    with pytest.raises(InputError, match=f"^{field}"), store.write("Anna") as pen:
        add_board_test(pen, uid(), made.id, kind, table)
    with store.read() as connection:
        assert board(connection, made.id).tests == ()


def test_a_board_is_described_anew_and_its_tests_stay(store: Store) -> None:
    with store.write("Anna") as pen:
        first = a_board(pen)
        add_board_test(pen, uid(), first.id, "tap", TAP)
        mark = uid()
        for _ in range(2):
            second = describe_board(pen, mark, first.id, BOARD | {"weight": "3.2 kg"},
                                    first.sheet_id)
        with pytest.raises(ConflictError) as caught:
            describe_board(pen, uid(), first.id, BOARD, first.sheet_id)
        assert caught.value.now == second
    with store.read() as connection:
        assert [one.table for one in board_history(connection, first.id)] == [
            BOARD, BOARD | {"weight": "3.2 kg"}]
    assert len(second.tests) == 1


def test_a_boards_sheet_carries_no_tests(store: Store) -> None:
    with store.write("Anna") as pen, pytest.raises(InputError, match=r"^board\.tap: has entries"):
        add_board(pen, uid(), "Plank", BOARD | {"tap": [TAP]})


def test_a_design_is_kept_in_versions(store: Store) -> None:
    first = new_paddle(store)
    softer = DESIGN | {"target": {"sinks": 40}, "name": "Marsh Tern II"}
    mark = uid()
    with store.write("Ben") as pen:
        second = save_design(pen, mark, first.id, softer, "softer", 1)
        third = save_design(pen, uid(), first.id, DESIGN, "", 2)
        assert save_design(pen, mark, first.id, softer, "softer", 1) == second
        with pytest.raises(ConflictError, match=r"^design: .*\(Ben, \d{4}-") as caught:
            save_design(pen, uid(), first.id, DESIGN, "", 2)
        assert caught.value.now == third
    assert (second.name, second.number, second.why) == ("Marsh Tern II", 2, "softer")
    assert third.name == "Marsh Tern II"
    with store.read() as connection:
        assert design_version(connection, first.id, 1) == first
        assert paddle(connection, first.id) == third


def test_a_design_says_nothing_that_has_entries_of_its_own(store: Store) -> None:
    with store.write("Anna") as pen:
        for key in ("paddler", "board", "readings", "round"):
            with pytest.raises(InputError, match=f"^{key}: has entries of its own"):
                add_paddle(pen, uid(), "Tern", DESIGN | {key: {}})


def test_a_design_that_is_none_leaves_nothing(store: Store) -> None:
    wrong = DESIGN | {"blade": DESIGN["blade"] | {"crown": [34, 24.5]}}
    with pytest.raises(InputError, match=r"^blade\.crown"), store.write("Anna") as pen:
        add_paddle(pen, uid(), "Tern", wrong)
    with store.read() as connection:
        assert paddles(connection) == ()


def test_a_paddle_is_set_aside_and_taken_up_again(store: Store) -> None:
    made = new_paddle(store)
    mark = uid()
    for _ in range(2):
        with store.write("Anna") as pen:
            assert set_aside(pen, mark, made.id, True).set_aside
    with store.read() as connection:
        assert paddles(connection) == ()
        assert [one.id for one in paddles(connection, aside=True)] == [made.id]
    with store.write("Anna") as pen:
        assert not set_aside(pen, uid(), made.id, False).set_aside
        assert set_aside(pen, mark, made.id, True).set_aside is False  # said before, long done


def test_a_paddle_goes_over_to_another_person_and_board(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        who = add_person(pen, uid(), "Ben", {"height": "190 cm"})
        now = assign(pen, uid(), made.id, person_id=who.id)
        assert (now.person_id, now.board_id) == (who.id, made.board_id)
        body = design_of(pen.connection, made.id).body
        assert body is not None
        assert body.height_m == pytest.approx(1.90)
        assert assign(pen, uid(), made.id, board_id=None).board_id is None
        assert assign(pen, uid(), made.id) == paddle(pen.connection, made.id)


@pytest.mark.parametrize("ask", [
    lambda pen: person(pen.connection, NONE), lambda pen: board(pen.connection, NONE),
    lambda pen: paddle(pen.connection, NONE), lambda pen: klass(pen.connection, NONE),
    lambda pen: paddle(pen.connection, -1), lambda pen: paddle(pen.connection, 2**63),
    lambda pen: body_history(pen.connection, NONE), lambda pen: students(pen.connection, NONE),
    lambda pen: notes(pen.connection, "board", NONE), lambda pen: marks(pen.connection, NONE),
    lambda pen: attachments(pen.connection, "person", NONE),
    lambda pen: content(pen.connection, NONE), lambda pen: design_of(pen.connection, NONE),
    lambda pen: measure_person(pen, uid(), NONE, BODY, 1),
    lambda pen: save_design(pen, uid(), NONE, DESIGN, "", 1),
    lambda pen: set_aside(pen, uid(), NONE, True),
    lambda pen: assign(pen, uid(), a_paddle(pen).id, person_id=NONE),
    lambda pen: add_paddle(pen, uid(), "Tern", DESIGN, board_id=NONE),
    lambda pen: add_note(pen, uid(), "paddle", NONE, "x"),
    lambda pen: withdraw_board_test(pen, uid(), NONE),
])
def test_what_is_not_there_is_said_to_be_not_there(
    store: Store, ask: Callable[[Pen], object]
) -> None:
    with store.write("Anna") as pen, pytest.raises(NotStoredError, match="is not in the store"):
        ask(pen)


def test_stages_are_marked_and_unmarked_and_every_mark_stays(store: Store) -> None:
    made = new_paddle(store)
    measured: dict[str, Any] = {"width": "83 mm", "crown": 12.5}
    mark = uid()
    with store.write("Anna") as pen:
        first = mark_stage(pen, uid(), made.id, "blank", True, {})
        second = mark_stage(pen, mark, made.id, "outline", True, measured)
        third = mark_stage(pen, uid(), made.id, "blank", False, {})
        assert mark_stage(pen, mark, made.id, "outline", True, measured) == second
    with store.read() as connection:
        assert marks(connection, made.id) == (third, second)
        assert mark_history(connection, made.id) == (first, second, third)
    assert second.measured == measured


@pytest.mark.parametrize("about", ["paddle", "board", "person"])
def test_notes_are_corrected_and_withdrawn_and_stay_readable(store: Store, about: Any) -> None:
    made = new_paddle(store)
    number = {"paddle": made.id, "board": made.board_id or 0, "person": made.person_id or 0}[about]
    with store.write("Anna") as pen:
        first = add_note(pen, uid(), about, number, "a knot at 300 mm")
        other = add_note(pen, uid(), about, number, "smells of cedar")
        second = add_note(pen, uid(), about, number, "two knots at 300 mm", first.id)
        assert notes(pen.connection, about, number) == (second, other)
        gone = withdraw_note(pen, uid(), second.id)
        assert notes(pen.connection, about, number) == (other,)
        with pytest.raises(ConflictError, match=r"^note: has been withdrawn in the meantime"):
            add_note(pen, uid(), about, number, "three", second.id)
        assert note_history(pen.connection, about, number) == (first, other, second, gone)
    assert (first.about, first.about_id, gone.text) == (about, number, None)


def test_a_note_is_about_one_of_three_and_says_something(store: Store) -> None:
    with store.write("Anna") as pen:
        made = a_paddle(pen)
        other = add_note(pen, uid(), "board", made.board_id or 0, "x")
        with pytest.raises(InputError, match=r"^about: is nothing an entry can be about"):
            add_note(pen, uid(), "class", 1, "x")  # type: ignore[arg-type]  # the point
        with pytest.raises(InputError, match=r"^replaces: is about something else"):
            add_note(pen, uid(), "paddle", made.id, "x", other.id)
        for text in ("", "x" * 4001):
            with pytest.raises(InputError, match=r"^text: "):
                add_note(pen, uid(), "paddle", made.id, text)


def test_a_file_is_kept_byte_by_byte(store: Store) -> None:
    made = new_paddle(store)
    data = bytes(range(256)) * 40
    mark = uid()
    with store.write("Anna") as pen:
        for _ in range(2):
            kept = attach(pen, mark, "paddle", made.id, "blade.jpg", "image/jpeg", data)
    with store.read() as connection:
        assert attachments(connection, "paddle", made.id) == (kept,)
        assert content(connection, kept.id) == data
    assert (kept.name, kept.media_type, kept.size) == ("blade.jpg", "image/jpeg", len(data))


@pytest.mark.parametrize("size", [0, MOST_BYTES + 1])
def test_a_file_of_no_size_or_too_large_is_refused(store: Store, size: int) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen, pytest.raises(RangeError, match=r"^content: is "):
        attach(pen, uid(), "paddle", made.id, "blade.jpg", "image/jpeg", bytes(size))


def test_the_largest_file_that_is_allowed_is_kept(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        kept = attach(pen, uid(), "paddle", made.id, "x.jpg", "image/jpeg", bytes(MOST_BYTES))
    with store.read() as connection:
        assert len(content(connection, kept.id)) == MOST_BYTES


def test_a_class_gives_each_student_its_wood_and_target(store: Store) -> None:
    base: Mapping[str, Any] = DESIGN | {"units": "mm", "board": BOARD | {"tap": [TAP]}}
    with store.write("Anna") as pen:
        made = add_class(pen, uid(), "Autumn", base)
        mark = uid()
        for _ in range(2):
            who, theirs = add_student(pen, mark, made.id, "Ben", {"height": "180 cm"})
        other = add_student(pen, uid(), made.id, "Cara", {"height": "165 cm"})
    with store.read() as connection:
        assert students(connection, made.id) == ((who, theirs), other)
        assert classes(connection) == (made,)
        design = design_of(connection, theirs.id)
    assert (theirs.name, theirs.class_id, theirs.person_id) == ("Ben", made.id, who.id)
    assert design.board is not None
    assert (design.board.species, len(design.board.tap_tones)) == (BOARD["species"], 1)
    assert design.wanted().deflection_m == pytest.approx(0.033)


def test_a_class_with_a_base_that_is_no_design_is_refused(store: Store) -> None:
    with store.write("Anna") as pen, pytest.raises(InputError, match=r"^target\.sinks"):
        add_class(pen, uid(), "Autumn", {"target": {"sinks": "33 stone"}})


def test_a_broken_off_write_leaves_nothing(store: Store) -> None:
    def broken_off() -> None:
        with store.write("Anna") as pen:
            a_paddle(pen)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        broken_off()
    with store.read() as connection:
        assert not [*people(connection), *boards(connection), *paddles(connection)]
