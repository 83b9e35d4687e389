"""Long work: asked for once, done by any worker, through restarts and deaths of workers."""

from __future__ import annotations

import io
import threading
import uuid
import zipfile
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from springloom.errors import InputError
from springloom.report.all_sheets import FORMATS, plan_files
from springloom.report.words import Words
from springloom.store import jobs, schema
from springloom.store.jobs import MOST_CLAIMS, SILENT, Job, Result
from springloom.store.kept import Kept
from springloom.store.layout import design_of
from springloom.store.opening import Store
from springloom.web.jobs import Make, Tell, Worker
from tests.verification.web_client import Browser, bench_at, put_example


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = bench_at(tmp_path)
    yield opened
    opened.close()


def asked(store: Store, kind: str = "note") -> int:
    with store.write("Ann") as pen:
        return jobs.ask(pen, str(uuid.uuid4()), kind, {"text": "hello"}).id


def state(store: Store, number: int) -> Job:
    with store.read() as connection:
        return jobs.job(connection, number)


def a_note(store: Store, arguments: Mapping[str, Any], tell: Tell) -> Result:
    del store
    tell(0.5, "half")
    return Result("note.txt", "text/plain", str(arguments["text"]).encode())


def wrong(*_: object) -> Result:
    raise InputError("is wrong", field="text", given="hello", allowed="nothing")


def broken(*_: object) -> Result:
    raise ZeroDivisionError


MAKERS: dict[str, Make] = {"note": a_note, "wrong": wrong, "broken": broken}


def test_work_is_done_and_its_result_kept(store: Store) -> None:
    number = asked(store)
    worker = Worker(store, MAKERS)
    assert worker.once()
    assert not worker.once()  # once only
    assert state(store, number).state == "done"
    with store.read() as connection:
        assert jobs.result(connection, number).content == b"hello"


@pytest.mark.parametrize(("kind", "said"), [("wrong", "is wrong"), ("broken", "ZeroDivisionError"),
                                            ("unheard of", "KeyError")])
def test_what_fails_says_why_and_the_worker_goes_on(store: Store, kind: str, said: str) -> None:
    number, after = asked(store, kind), asked(store)
    worker = Worker(store, MAKERS)
    assert worker.once()
    assert state(store, number).state == "failed"
    assert said in state(store, number).saying
    assert worker.once()
    assert state(store, after).state == "done"


def test_many_workers_do_each_piece_once(store: Store) -> None:
    count = {"made": 0}
    lock = threading.Lock()

    def counted(store: Store, arguments: Mapping[str, Any], tell: Tell) -> Result:
        with lock:
            count["made"] += 1
        return a_note(store, arguments, tell)

    numbers = [asked(store) for _ in range(6)]
    workers = [Worker(store, {"note": counted}, every_s=0.01) for _ in range(3)]
    for worker in workers:
        worker.start()
    waiting = threading.Event()
    for _ in range(1000):
        if all(state(store, number).state == "done" for number in numbers):
            break
        waiting.wait(0.01)
    for worker in workers:
        worker.stop()
    assert [state(store, number).state for number in numbers] == ["done"] * 6
    assert count["made"] == len(numbers)


def silent(store: Store, number: int) -> None:
    """Let the worker that took it have been silent for too long."""
    with store.write("Ann") as pen:
        pen.connection.execute(schema.job.update().where(schema.job.c.id == number).values(
            beat_at=pen.at - SILENT - timedelta(seconds=1)))


def heard_of(store: Store, number: int) -> bool:
    """Whether the worker has said that it lives within the time it has for that."""
    with store.read() as connection:
        beat: datetime = connection.execute(
            select(schema.job.c.beat_at).where(schema.job.c.id == number)).scalar_one()
    return beat > datetime.now(UTC) - SILENT


def test_what_a_killed_worker_left_is_taken_up(store: Store) -> None:
    number = asked(store)
    with store.write("Ann") as pen:
        assert jobs.claim(pen) is not None  # and dies
    worker = Worker(store, MAKERS)
    assert not worker.once()  # it may still be at it
    silent(store, number)
    assert worker.once()
    assert state(store, number).state == "done"


def test_work_that_kills_its_workers_is_given_up(store: Store) -> None:
    number = asked(store)
    for _ in range(MOST_CLAIMS):
        with store.write("Ann") as pen:
            assert jobs.claim(pen) is not None
        silent(store, number)
    assert not Worker(store, MAKERS).once()
    assert state(store, number).state == "failed"


def test_a_long_step_still_says_that_it_lives(store: Store) -> None:
    number = asked(store)
    seen = threading.Event()

    def slow(store: Store, arguments: Mapping[str, Any], tell: Tell) -> Result:
        tell(0.1, "a long step")
        silent(store, number)
        for _ in range(1000):
            if heard_of(store, number):
                seen.set()
                break
            threading.Event().wait(0.01)
        return a_note(store, arguments, tell)

    Worker(store, {"note": slow}, beat_s=0.02).once()
    assert seen.is_set()


def test_a_stopped_worker_leaves_its_work_for_the_next(store: Store) -> None:
    number = asked(store)
    worker = Worker(store, MAKERS)
    worker.stop()
    assert worker.once()
    assert state(store, number).state == "running"
    silent(store, number)
    assert Worker(store, MAKERS).once()
    assert state(store, number).state == "done"


def test_everything_as_one_zip(store: Store) -> None:
    number = put_example(store)
    browser = Browser(store)
    sent = browser.send(f"/paddles/{number}/plans/everything", {"page": "letter"})
    assert sent.status_code == 303
    where = sent.headers["location"]
    waiting = browser.text(where)
    assert "It waits for its turn" in waiting
    assert 'http-equiv="refresh"' in waiting  # for browsers without scripts
    assert "Look again" in waiting
    again = browser.send(f"/paddles/{number}/plans/everything", {"page": "letter"})
    assert again.headers["location"] == where  # the same state of the design is made once
    assert browser.get(f"{where}/result").status_code == 404
    worker: Worker = browser.client.app.state.worker  # type: ignore[attr-defined]  # a Starlette
    assert worker.once()
    assert not worker.once()
    done = browser.text(where)
    assert f"{where}/result" in done
    assert 'http-equiv="refresh"' not in done
    with store.read() as connection:
        design = design_of(connection, number)
    wanted = plan_files(design, Words("mm"), Path("marsh-tern"), "letter", FORMATS[:-1])
    with zipfile.ZipFile(io.BytesIO(browser.get(f"{where}/result").content)) as found:
        assert found.namelist() == [path.as_posix() for path in wanted]
        plan = Path("marsh-tern/marsh-tern-outline-tiles.pdf")
        assert found.read(plan.as_posix()) == wanted[plan]


def test_failed_work_can_be_asked_for_again(store: Store) -> None:
    number = asked(store, "broken")
    Worker(store, MAKERS).once()
    browser = Browser(store)
    assert "Try again" in browser.text(f"/jobs/{number}")
    sent = browser.send(f"/jobs/{number}/again", {})
    assert sent.headers["location"] == f"/jobs/{number + 1}"
    assert state(store, number + 1).state == "asked"


def test_a_part_of_the_page_is_asked_for_until_it_is_over(store: Store) -> None:
    number = asked(store)
    browser = Browser(store)
    assert "hx-get" in browser.text(f"/jobs/{number}/now")
    Worker(store, MAKERS).once()
    assert "hx-get" not in browser.text(f"/jobs/{number}/now")
    assert browser.get("/jobs/99").status_code == 404


def test_things_are_kept_once_and_let_go_of_in_their_turn() -> None:
    kept: Kept[int] = Kept(2)
    made: list[str] = []

    def make(name: str) -> int:
        made.append(name)
        return len(made)

    def get(name: str) -> int:
        return kept.get(name, lambda: make(name))

    assert [get("a"), get("b"), get("a"), get("c"), get("b")] == [1, 2, 1, 3, 4]
    assert made == ["a", "b", "c", "b"]  # b was the one not asked for the longest


def test_what_could_not_be_made_is_tried_again() -> None:
    kept: Kept[int] = Kept(2)
    with pytest.raises(ZeroDivisionError):
        kept.get("a", lambda: 1 // 0)
    assert kept.get("a", lambda: 7) == 7


def test_two_who_ask_at_once_wait_for_one_making() -> None:
    kept: Kept[int] = Kept(2)
    begun, go, made, found = threading.Event(), threading.Event(), [], []

    def make() -> int:
        begun.set()
        go.wait(10.0)
        made.append(1)
        return 5

    first = threading.Thread(target=lambda: found.append(kept.get("a", make)))
    first.start()
    assert begun.wait(10.0)
    second = threading.Thread(target=lambda: found.append(kept.get("a", make)))
    second.start()
    go.set()
    first.join()
    second.join()
    assert found == [5, 5]
    assert made == [1]
