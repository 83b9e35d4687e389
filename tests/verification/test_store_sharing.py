"""Who may write, how others are let in, and what is worked on beside the pages."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from springloom.errors import InputError, NotStoredError, RangeError, RateError
from springloom.store import Pen, Store, jobs, open_store, summaries
from springloom.store.attachments import attach
from springloom.store.boards import add_board_test, describe_board, rename_board
from springloom.store.marks import mark_stage
from springloom.store.notes import add_note
from springloom.store.paddles import Paddle, assign, save_design, set_aside
from springloom.store.people import measure_person, person, rename_person
from springloom.store.rounds import add_reading, close_round, withdraw_reading
from springloom.store.settings import put_setting, setting, signing_key
from springloom.store.shares import (
    WITHIN,
    WRONG_IN_ALL,
    WRONG_PER_ADDRESS,
    close_share,
    open_share,
    share_now,
    try_join,
)
from springloom.store.writers import revoke, welcome, writer, writers
from tests.verification.store_entries import BENCH, BOARD, DESIGN, PLANED, new_paddle, uid


def later(pen: Pen, passed: timedelta) -> Pen:
    """The same pen, some time later."""
    return Pen(pen.connection, pen.by, pen.at + passed)


def invited(store: Store) -> str:
    with store.write("Anna") as pen:
        return open_share(pen, 15)


def wrong(code: str) -> str:
    return f"{(int(code) + 1) % 10**6:06d}"


def test_a_writer_is_let_in_once_and_can_be_sent_away(store: Store) -> None:
    mark = uid()
    with store.write("Anna") as pen:
        made = welcome(pen, mark, "Anna", "192.168.1.7")
        assert welcome(pen, mark, "Anna", "192.168.1.7") == made
        other = welcome(pen, uid(), "Ben", "")
        gone = revoke(pen, made.id)
        assert revoke(pen, made.id) == gone
    assert (made.may_write, gone.may_write, gone.name) == (True, False, "Anna")
    with store.read() as connection:
        assert writers(connection) == (other, gone)
        assert writer(connection, made.id) == gone


def test_whoever_knows_the_code_is_let_in(store: Store) -> None:
    code = invited(store)
    with store.read() as connection:
        now = share_now(connection)
    assert now is not None
    assert now.code == code
    assert timedelta(minutes=14) < now.until - datetime.now(UTC) <= timedelta(minutes=15)
    made = try_join(store, f" {code[:3]} {code[3:]} ", "Ben", "192.168.1.8")
    assert (made.name, made.address, made.may_write) == ("Ben", "192.168.1.8", True)


def test_a_new_code_ends_the_old_one_and_none_is_left_when_it_is_closed(store: Store) -> None:
    old, new = invited(store), invited(store)
    if old != new:  # one in a million is the same
        with pytest.raises(InputError, match=r"^code: is not the code"):
            try_join(store, old, "Ben", "a")
    assert try_join(store, new, "Ben", "a").name == "Ben"
    with store.write("Anna") as pen:
        close_share(pen)
        assert share_now(pen.connection) is None
    with pytest.raises(InputError, match=r"^code: is not the code, or nobody is invited"):
        try_join(store, new, "Ben", "a")


def test_a_code_ends_by_itself(store: Store) -> None:
    with store.write("Anna") as pen:
        code = open_share(later(pen, -timedelta(minutes=16)), 15)
    with store.read() as connection:
        assert share_now(connection) is None
    with pytest.raises(InputError, match=r"^code: "):
        try_join(store, code, "Ben", "a")


@pytest.mark.parametrize("minutes", [0, -1, 24 * 60 + 1, float("nan")])
def test_an_invitation_lasts_some_minutes(store: Store, minutes: float) -> None:
    with store.write("Anna") as pen, pytest.raises(RangeError, match=r"^minutes: "):
        open_share(pen, minutes)


def test_after_five_wrong_codes_an_address_waits(store: Store) -> None:
    code = invited(store)
    for _ in range(WRONG_PER_ADDRESS):
        with pytest.raises(InputError, match=r"^code: is not the code"):
            try_join(store, wrong(code), "Eve", "10.0.0.6")
    with pytest.raises(RateError, match=r"^code: too many wrong codes; allowed: another try in 10"):
        try_join(store, code, "Eve", "10.0.0.6")
    assert try_join(store, code, "Ben", "10.0.0.7").name == "Ben"  # another address


def test_after_twenty_wrong_codes_everybody_waits(store: Store) -> None:
    code = invited(store)
    for i in range(WRONG_IN_ALL):
        with pytest.raises(InputError, match=r"^code: is not the code"):
            try_join(store, wrong(code), "Eve", f"10.0.0.{i}")
    with pytest.raises(RateError):
        try_join(store, code, "Ben", "10.0.1.7")


def test_wrong_codes_are_forgotten_after_a_while(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = invited(store)
    for _ in range(WRONG_PER_ADDRESS):
        with pytest.raises(InputError):
            try_join(store, wrong(code), "Eve", "10.0.0.6")
    monkeypatch.setattr("springloom.store.shares.WITHIN", timedelta(0))
    assert timedelta(minutes=10) == WITHIN
    assert try_join(store, code, "Eve", "10.0.0.6").name == "Eve"


def test_a_name_that_is_none_lets_nobody_in(store: Store) -> None:
    with pytest.raises(InputError, match=r"^name: "):
        try_join(store, invited(store), "  ", "a")
    with store.read() as connection:
        assert writers(connection) == ()


def test_settings_are_kept_and_set_anew(store: Store) -> None:
    with store.write("Anna") as pen:
        assert setting(pen.connection, "units") is None
        put_setting(pen, "units", "in")
        put_setting(pen, "units", {"lengths": ["in", 1.5]})
    with store.read() as connection:
        assert setting(connection, "units") == {"lengths": ["in", 1.5]}
    with store.write("Anna") as pen:
        put_setting(pen, "units", None)
        assert setting(pen.connection, "units") is None


def test_a_store_has_one_key_of_its_own(store: Store, store_place: str) -> None:
    key = signing_key(store)
    again = open_store(store_place)
    assert signing_key(again) == signing_key(store) == key
    again.close()
    assert len(key) == 32


def asked(store: Store, mark: str = "") -> jobs.Job:
    with store.write("Anna") as pen:
        return jobs.ask(pen, mark or uid(), "plans", {"paddle": 1})


def test_work_is_asked_for_done_and_fetched(store: Store) -> None:
    mark = uid()
    made = asked(store, mark)
    assert asked(store, mark) == made
    assert (made.state, made.share, made.arguments) == ("asked", 0.0, {"paddle": 1})
    with store.write("worker") as pen:
        taken = jobs.claim(pen)
        assert taken is not None
        assert (taken.id, taken.state) == (made.id, "running")
        assert jobs.claim(pen) is None
        jobs.report(pen, made.id, 0.4, "sheet 4 of 10")
        now = jobs.job(pen.connection, made.id)
        assert (now.share, now.saying) == (0.4, "sheet 4 of 10")
        with pytest.raises(NotStoredError, match=r"^job: is not done"):
            jobs.result(pen.connection, made.id)
        jobs.finish(pen, made.id, "plans.zip", "application/zip", b"PK\0")
    with store.read() as connection:
        assert jobs.job(connection, made.id).state == "done"
        assert jobs.result(connection, made.id) == jobs.Result(
            "plans.zip", "application/zip", b"PK\0")


def test_work_of_a_worker_that_died_is_taken_up_again_and_given_up_in_the_end(
    store: Store,
) -> None:
    made, other = asked(store), asked(store)
    passed = timedelta()
    with store.write("worker") as pen:
        for _ in range(jobs.MOST_CLAIMS):
            taken = jobs.claim(later(pen, passed))
            assert taken is not None
            assert taken.id == made.id
            passed += jobs.SILENT + timedelta(seconds=1)
        taken = jobs.claim(later(pen, passed))
        assert taken is not None
        assert taken.id == other.id
        lost = jobs.job(pen.connection, made.id)
    assert (lost.state, lost.saying) == ("failed", "was given up: 3 tries ended without an answer")


def test_a_worker_that_reports_keeps_its_work(store: Store) -> None:
    made = asked(store)
    with store.write("worker") as pen:
        jobs.claim(pen)
        jobs.report(later(pen, timedelta(seconds=50)), made.id, 2.0, "")
        assert jobs.claim(later(pen, timedelta(seconds=100))) is None
        assert jobs.job(pen.connection, made.id).share == 1.0
        jobs.fail(pen, made.id, "the target can't be reached")
        assert jobs.job(pen.connection, made.id).saying == "the target can't be reached"


def test_old_results_are_forgotten(store: Store) -> None:
    made = asked(store)
    with store.write("worker") as pen:
        jobs.claim(pen)
        jobs.finish(pen, made.id, "plans.zip", "application/zip", b"PK")
        jobs.ask(later(pen, jobs.KEPT - timedelta(minutes=1)), uid(), "plans", {})
        assert jobs.job(pen.connection, made.id).state == "done"
        jobs.ask(later(pen, jobs.KEPT + timedelta(minutes=1)), uid(), "plans", {})
        with pytest.raises(NotStoredError):
            jobs.job(pen.connection, made.id)


def _all_writes(pen: Pen, one: Paddle) -> list[Any]:
    """Everything that can be written of a paddle, each a call."""
    board_id, person_id = one.board_id or 0, one.person_id or 0
    return [
        lambda: save_design(pen, uid(), one.id, DESIGN, "again", 1),
        lambda: measure_person(pen, uid(), person_id, {"height": "177 cm"},
                               person(pen.connection, person_id).body_id),
        lambda: rename_person(pen, uid(), person_id, "Zoe"),
        lambda: describe_board(pen, uid(), board_id, BOARD, 1),
        lambda: rename_board(pen, uid(), board_id, "zz"),
        lambda: add_board_test(pen, uid(), board_id, "tap", {"frequency": "34 Hz"}),
        lambda: add_reading(pen, uid(), one.id, "bench", BENCH),
        lambda: withdraw_reading(pen, uid(), 1),
        lambda: add_reading(pen, uid(), one.id, "bench", BENCH),
        lambda: close_round(pen, uid(), one.id, {}, PLANED, 3),
        lambda: mark_stage(pen, uid(), one.id, "blank", True, {}),
        lambda: add_note(pen, uid(), "paddle", one.id, "x"),
        lambda: attach(pen, uid(), "paddle", one.id, "x", "text/plain", b"x"),
        lambda: set_aside(pen, uid(), one.id, True),
        lambda: assign(pen, uid(), one.id, person_id=None),
        lambda: assign(pen, uid(), one.id, board_id=None),
    ]


def test_the_state_of_a_paddle_changes_with_every_write_and_with_no_other(store: Store) -> None:
    one, other = new_paddle(store), new_paddle(store)
    with store.read() as connection:
        seen = [summaries.state_key(connection, one.id)]
        unmoved = summaries.state_key(connection, other.id)
        assert summaries.state_key(connection, one.id) == seen[0] != unmoved
    with store.write("Anna") as pen:
        for write in _all_writes(pen, one):
            write()
            seen.append(summaries.state_key(pen.connection, one.id))
        assert summaries.state_key(pen.connection, other.id) == unmoved
    assert len(set(seen)) == len(seen)


def test_what_was_worked_out_is_kept_with_its_key(store: Store) -> None:
    one = new_paddle(store)
    with store.read() as connection:
        assert summaries.summary(connection, one.id) is None
    for key in ("a", "b"):
        summaries.keep_summary(store, one.id, key, {"say": key, "share": 0.5})
    with store.read() as connection:
        assert summaries.summary(connection, one.id) == ("b", {"say": "b", "share": 0.5})
    with pytest.raises(NotStoredError):
        summaries.keep_summary(store, 10**6, "a", {})
