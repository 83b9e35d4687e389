"""Readings: added, corrected, withdrawn, closed into rounds; nothing that was read is ever lost."""

from __future__ import annotations

import itertools
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlalchemy import event

from springloom.errors import ConflictError, InputError, NotStoredError, UnknownNameError
from springloom.store import Pen, Store
from springloom.store.layout import layout_of, take_in
from springloom.store.paddles import save_design
from springloom.store.rounds import (
    KINDS,
    Kind,
    StoredReading,
    add_reading,
    all_readings,
    close_round,
    reading,
    reading_history,
    readings,
    rounds,
    withdraw_reading,
)
from tests.verification.store_entries import (
    BENCH,
    DESIGN,
    LAYOUTS,
    PLANED,
    new_paddle,
    uid,
)

CALIPER = {"blade": "b", "at": ["root", "1/4"], "crown": [35.4, "25.8 mm"], "edge": ["-", 9.3]}
TABLES: dict[Kind, Mapping[str, Any]] = {
    "weight": {"weight": "788 g", "scale": "kitchen scale"}, "balance": {"balance": -4},
    "caliper": CALIPER, "width": {"blade": "a", "at": ["1/4"], "width": [60.5]},
    "blade_length": {"blade": "a", "length": 860},
    "trace": {"blade": "a", "at": "1/2", "across": [0, 5, 10, 15, 20],
              "high": [0, 3.4, 5.4, 6.8, 7.8]},
    "bench": BENCH, "hands": {"blade": "a", "sinks": [38]}, "tap": {"frequency": "21 Hz"},
    "remark": {"text": "feels stiffer on the right"},
}


def test_there_is_an_example_of_every_kind() -> None:
    assert set(TABLES) == set(KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_reading_is_kept_as_typed_and_stands_in_the_design_file(
    store: Store, kind: Kind
) -> None:
    made = new_paddle(store)
    with store.write("Ben") as pen:
        kept = add_reading(pen, uid(), made.id, kind, TABLES[kind])
    with store.read() as connection:
        assert readings(connection, made.id) == readings(connection, made.id, 1) == (kept,)
        assert reading(connection, kept.id) == kept
        file = layout_of(connection, made.id).readings
    assert (kept.table, kept.kind, kept.round, kept.made_by) == (TABLES[kind], kind, 1, "Ben")
    assert file is not None
    typed = file.model_dump(exclude_unset=True)
    key = "remarks" if kind == "remark" else kind
    found = typed if kind in {"weight", "balance"} else typed[key][0]
    assert found == ("feels stiffer on the right" if kind == "remark" else TABLES[kind])


@pytest.mark.parametrize(("kind", "table", "field_"), [
    ("bench", BENCH | {"sinks": ["9 m", 5.8]}, r"readings\.bench\[1\]\.sinks\[1\]"),
    ("bench", BENCH | {"sinks": [1]}, r"readings\.bench\[1\]\.sinks"),
    ("bench", {"blade": "a"}, r"readings\.bench\[1\]\.sinks"),
    ("bench", BENCH | {"sincs": [1]}, r"readings\.bench\[1\]\.sincs"),
    ("weight", {"scale": "kitchen scale"}, r"readings\.weight"),
    ("weight", {"weight": "788 g", "caliper": []}, r"readings\.caliper"),
    ("weight", {"weight": "788"}, r"readings\.weight"), ("balance", {}, r"readings\.balance"),
    ("remark", {"text": "x" * 4001}, r"readings\.remarks\[1\]"),
    ("remark", {"text": 7}, r"readings\.remarks\[1\]"), ("photo", {}, "kind"),
])
def test_a_reading_that_cannot_be_leaves_nothing(
    store: Store, kind: Any, table: Mapping[str, Any], field_: str
) -> None:
    made = new_paddle(store)
    with pytest.raises((InputError, UnknownNameError), match=f"^{field_}: "), \
            store.write("Anna") as pen:
        add_reading(pen, uid(), made.id, kind, table)
    with store.read() as connection:
        assert rounds(connection, made.id) == ()


def test_a_correction_stands_where_the_first_stood_and_both_stay_readable(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
        other = add_reading(pen, uid(), made.id, "bench", BENCH | {"blade": "b"})
        right = add_reading(pen, uid(), made.id, "bench", BENCH | {"sinks": [28.9, 6]}, first.id)
    with store.read() as connection:
        assert readings(connection, made.id) == (right, other)
        for one in (first, right):
            assert reading_history(connection, one.id) == (first, right)
        assert all_readings(connection, made.id) == (first, other, right)


def test_a_withdrawn_reading_counts_no_more_and_can_be_taken_up_again(store: Store) -> None:
    made = new_paddle(store)
    mark = uid()
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
        gone = withdraw_reading(pen, mark, first.id)
        assert withdraw_reading(pen, mark, first.id) == gone
        assert readings(pen.connection, made.id) == ()
        back = add_reading(pen, uid(), made.id, "bench", BENCH, gone.id)
        assert readings(pen.connection, made.id) == (back,)
        assert reading_history(pen.connection, gone.id) == (first, gone, back)


def test_a_reading_is_corrected_once(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
    with store.write("Ben") as pen:
        second = add_reading(pen, uid(), made.id, "bench", BENCH | {"sinks": [28.9, 6]}, first.id)
    tries: tuple[Callable[[Pen], StoredReading], ...] = (
        lambda pen: add_reading(pen, uid(), made.id, "bench", BENCH, first.id),
        lambda pen: withdraw_reading(pen, uid(), first.id),
    )
    for again in tries:
        with pytest.raises(ConflictError, match=r"^reading: has been corrected") as caught, \
                store.write("Cara") as pen:
            again(pen)
        assert (caught.value.who, caught.value.now) == ("Ben", second.table)


def test_a_reading_of_another_paddle_or_kind_is_not_corrected(store: Store) -> None:
    made, other = new_paddle(store), new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
        with pytest.raises(InputError, match=r"^replaces: is of another paddle or kind"):
            add_reading(pen, uid(), other.id, "bench", BENCH, first.id)
        with pytest.raises(InputError, match=r"^replaces: is of another paddle or kind"):
            add_reading(pen, uid(), made.id, "remark", {"text": "x"}, first.id)
        with pytest.raises(NotStoredError):
            add_reading(pen, uid(), made.id, "bench", BENCH, 10**6)


@pytest.mark.parametrize("kind", ["weight", "balance"])
def test_a_second_weight_or_balance_stands_for_the_first(store: Store, kind: Kind) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, kind, TABLES[kind])
        second = add_reading(pen, uid(), made.id, kind, {kind: "780 g" if kind == "weight" else 3})
        assert second.replaces == first.id
        assert readings(pen.connection, made.id) == (second,)


def test_a_closed_round_keeps_what_was_advised_and_planed(store: Store) -> None:
    made = new_paddle(store)
    advice = {"headline": "Plane both blades", "passes": [1, 2]}
    mark = uid()
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
    with store.write("Ben") as pen:
        for _ in range(2):
            closed = close_round(pen, mark, made.id, advice, PLANED, first.id)
    with store.write("Anna") as pen:
        later = add_reading(pen, uid(), made.id, "bench", BENCH)
    with store.read() as connection:
        found = rounds(connection, made.id)
        layout = layout_of(connection, made.id)
        assert readings(connection, made.id) == (later,)
        assert readings(connection, made.id, 1) == (first,)
        with pytest.raises(NotStoredError, match=r"^round: is not in the store"):
            readings(connection, made.id, 3)
    assert found[0] == closed
    assert closed.closing is not None
    assert (closed.closing.advice, list(closed.closing.planed), closed.closing.made_by) == (
        advice, PLANED, "Ben")
    assert [(turn.number, turn.is_open, turn.seen) for turn in found] == [
        (1, False, first.id), (2, True, later.id)]
    assert layout.round[0].planed[0].per_face == ["1/64", 0.2]


def test_a_reading_of_a_round_that_is_over_can_still_be_corrected(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
        close_round(pen, uid(), made.id, {}, PLANED, first.id)
        right = add_reading(pen, uid(), made.id, "bench", BENCH | {"sinks": [28.9, 6]}, first.id)
        assert right.round == 1
        assert readings(pen.connection, made.id) == ()
        assert readings(pen.connection, made.id, 1) == (right,)


@pytest.mark.parametrize("late", ["reading", "withdrawal"])
def test_a_round_is_not_closed_over_what_the_writer_has_not_seen(store: Store, late: str) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        add_reading(pen, uid(), made.id, "bench", BENCH)
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
    with store.write("Ben") as pen:
        last = (add_reading(pen, uid(), made.id, "bench", BENCH) if late == "reading"
                else withdraw_reading(pen, uid(), first.id))
    with pytest.raises(ConflictError, match=r"^round: was written to in the meantime") as caught, \
            store.write("Anna") as pen:
        close_round(pen, uid(), made.id, {}, PLANED, first.id)
    assert (caught.value.who, caught.value.now) == ("Ben", last)
    with store.read() as connection:
        seen = rounds(connection, made.id)[-1].seen
    with store.write("Anna") as pen:
        assert not close_round(pen, uid(), made.id, {}, PLANED, seen).is_open


def test_a_round_without_readings_is_not_closed(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        with pytest.raises(InputError, match=r"^readings: are missing"):
            close_round(pen, uid(), made.id, {}, PLANED, 0)
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
        gone = withdraw_reading(pen, uid(), first.id)
        with pytest.raises(InputError, match=r"^readings: are missing"):
            close_round(pen, uid(), made.id, {}, PLANED, gone.id)


@pytest.mark.parametrize(("planed", "field_"), [
    ([], r"round\[1\]\.planed"),
    ([{"blade": "a", "at": ["1/3"], "per_face": [0.2]}], r"round\[1\]\.planed\[1\]\.at\[1\]"),
    ([{"blade": "a", "at": ["1/2"], "per_face": ["2 in"]}],
     r"round\[1\]\.planed\[1\]\.per_face\[1\]"),
])
def test_what_cannot_have_been_planed_off_closes_nothing(
    store: Store, planed: list[dict[str, Any]], field_: str
) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
    with pytest.raises(InputError, match=f"^{field_}: "), store.write("Anna") as pen:
        close_round(pen, uid(), made.id, {}, planed, first.id)
    with store.read() as connection:
        assert rounds(connection, made.id)[0].is_open


def test_a_design_that_what_was_planed_does_not_go_with_is_refused(store: Store) -> None:
    made = new_paddle(store)
    with store.write("Anna") as pen:
        first = add_reading(pen, uid(), made.id, "bench", BENCH)
        close_round(pen, uid(), made.id, {}, PLANED, first.id)
    other = DESIGN["blade"] | {"stations": ["root", "1/4", "0.5 m from root", "3/4",
                                            "75 mm from tip", "tip"]}
    with pytest.raises(InputError, match=r"^round\[1\]\.planed\[1\]\.at\[1\]: is no station"), \
            store.write("Anna") as pen:
        save_design(pen, uid(), made.id, DESIGN | {"blade": other}, "", 1)


def test_the_rounds_of_a_file_go_on_where_it_ended(store: Store) -> None:
    with store.write("Anna") as pen:
        made = take_in(pen, uid(), LAYOUTS["marsh_tern with rounds"])
        kept = add_reading(pen, uid(), made.id, "remark", {"text": "good"})
    assert kept.round == 3


@dataclass(eq=False)
class Line:
    """What plain Python holds of one reading and its corrections."""

    kind: Kind
    tables: list[Mapping[str, Any] | None] = field(default_factory=list)
    ids: list[int] = field(default_factory=list)


class Readings(RuleBasedStateMachine):
    """Any sequence of adds, corrections, withdrawals, second tries and closings.

    What stands is the last table of each line, in the order of the lines; what was ever written
    is there, in the order it came.
    """

    store: Store

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[list[Line]] = [[]]
        self.written: list[tuple[str, StoredReading]] = []
        self.counter = itertools.count(1)

    @initialize()
    def begin(self) -> None:
        self.paddle = new_paddle(self.store).id

    def _table(self, kind: Kind) -> dict[str, Any]:
        n = next(self.counter)
        tables: dict[str, dict[str, Any]] = {
            "bench": BENCH | {"sinks": [f"{20 + 0.01 * n:.2f} mm", 5.8]},
            "weight": {"weight": f"{700 + n} g"}, "remark": {"text": f"remark {n}"},
            "tap": {"frequency": 20 + 0.01 * n},
        }
        return tables[kind]

    def _open_lines(self) -> list[Line]:
        return [line for line in self.lines[-1] if line.tables[-1] is not None]

    def _is_beside_another(self, line: Line) -> bool:
        turn = next(lines for lines in self.lines if line in lines)
        return line.tables[-1] is None and any(
            one.kind == line.kind and one.tables[-1] is not None for one in turn)

    @rule(kind=st.sampled_from(["bench", "weight", "remark", "tap"]))
    def add(self, kind: Kind) -> None:
        table, mark = self._table(kind), uid()
        with self.store.write("Anna") as pen:
            made = add_reading(pen, mark, self.paddle, kind, table)
        old = next((one for one in self._open_lines() if kind == one.kind == "weight"), None)
        line = old or Line(kind)
        if old is None:
            self.lines[-1].append(line)
        self._note(line, mark, made)

    @precondition(lambda self: any(itertools.chain(*self.lines)))
    @rule(data=st.data(), withdraw=st.booleans())
    def correct(self, data: st.DataObject, withdraw: bool) -> None:
        line = data.draw(st.sampled_from([*itertools.chain(*self.lines)]))
        if not withdraw and line.kind == "weight" and self._is_beside_another(line):
            with pytest.raises(InputError, match="another weight stands"), \
                    self.store.write("Ben") as pen:
                add_reading(pen, uid(), self.paddle, "weight", self._table("weight"), line.ids[-1])
            return
        mark = uid()
        with self.store.write("Ben") as pen:
            if withdraw:
                made = withdraw_reading(pen, mark, line.ids[-1])
            else:
                made = add_reading(pen, mark, self.paddle, line.kind, self._table(line.kind),
                                   line.ids[-1])
        self._note(line, mark, made)

    @precondition(lambda self: self.written)
    @rule(data=st.data())
    def try_again(self, data: st.DataObject) -> None:
        mark, first = data.draw(st.sampled_from(self.written))
        with self.store.write("Cara") as pen:
            again = (withdraw_reading(pen, mark, first.replaces or 0) if first.table is None else
                     add_reading(pen, mark, self.paddle, first.kind, first.table, first.replaces))
        assert again == first

    @precondition(lambda self: any(len(one.ids) > 1 for one in itertools.chain(*self.lines)))
    @rule(data=st.data())
    def correct_what_is_replaced(self, data: st.DataObject) -> None:
        line = data.draw(st.sampled_from(
            [one for one in itertools.chain(*self.lines) if len(one.ids) > 1]))
        with pytest.raises(ConflictError), self.store.write("Cara") as pen:
            withdraw_reading(pen, uid(), data.draw(st.sampled_from(line.ids[:-1])))

    @precondition(lambda self: self._open_lines())
    @rule()
    def close(self) -> None:
        seen = max(number for line in self.lines[-1] for number in line.ids)
        with self.store.write("Anna") as pen:
            close_round(pen, uid(), self.paddle, {}, PLANED, seen)
        self.lines.append([])

    def _note(self, line: Line, mark: str, made: StoredReading) -> None:
        line.tables.append(made.table)
        line.ids.append(made.id)
        self.written.append((mark, made))

    @invariant()
    def what_stands_is_what_the_model_says(self) -> None:
        with self.store.read() as connection:
            turns = rounds(connection, self.paddle)
            for number, lines in enumerate(self.lines, 1):
                if number > len(turns):
                    assert lines == []  # a round begins with its first reading
                    continue
                found = readings(connection, self.paddle, number)
                assert [(one.kind, one.table) for one in found] == [
                    (line.kind, line.tables[-1]) for line in lines if line.tables[-1] is not None]

    @invariant()
    def nothing_is_lost(self) -> None:
        with self.store.read() as connection:
            assert all_readings(connection, self.paddle) == tuple(
                made for _, made in self.written)
            for line in itertools.chain(*self.lines):
                history = reading_history(connection, line.ids[0])
                assert [one.table for one in history] == line.tables


def test_no_sequence_of_writes_loses_a_reading(store: Store) -> None:
    class Here(Readings):
        pass

    Here.store = store
    if store.path is not None:
        event.listen(store.engine, "connect", wait_for_no_disk)  # what stands is the point here
        store.close()
    run_state_machine_as_test(Here, settings=settings(max_examples=15, stateful_step_count=20,
                                                      deadline=None))


def wait_for_no_disk(connection: sqlite3.Connection, _: object) -> None:
    connection.execute("PRAGMA synchronous=OFF")
