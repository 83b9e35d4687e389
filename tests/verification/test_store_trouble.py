"""What goes wrong on a bench: power cuts, full disks, locked files, damage. Nothing confirmed is
lost, nothing is half there, and what to do is said."""

from __future__ import annotations

import contextlib
import random
import shutil
import sqlite3
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

import dev
import pytest
from sqlalchemy import event, select, text

from springloom.errors import StoreError
from springloom.store import Store, open_store, opening, schema
from springloom.store.attachments import attach, attachments
from springloom.store.layout import layout_of
from springloom.store.opening import PLACE, back_up, usual_place
from springloom.store.paddles import paddle, paddles
from springloom.store.rounds import add_reading, readings
from springloom.store.trouble import newest_backup
from tests.stores import new_database, run_sql, url_of
from tests.verification.store_entries import BENCH, new_paddle, uid

KILLS = 5


@contextlib.contextmanager
def child(*words: object) -> Iterator[subprocess.Popen[str]]:
    """A process of its own, killed at the end if it isn't over."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.verification.store_child", *map(str, words)], cwd=dev.ROOT,
        stdout=subprocess.PIPE, stdin=subprocess.PIPE, text=True,
    ) as running:
        try:
            assert lines(running).readline() == "ready\n"
            yield running
        finally:
            running.kill()


def lines(running: subprocess.Popen[str]) -> IO[str]:
    assert running.stdout is not None
    return running.stdout


def said(running: subprocess.Popen[str]) -> list[str]:
    """Every line up to its end."""
    return lines(running).read().splitlines()


def killed_in_the_middle(*words: object, wait_s: float) -> list[str]:
    """What a child confirmed until it was killed, some time after its third line."""
    with child(*words) as running:
        confirmed = [lines(running).readline().strip() for _ in range(3)]
        time.sleep(wait_s)
        running.kill()  # SIGKILL: nothing of it runs any more
        # The last line may be half there, and then was not confirmed.
        return [*confirmed, *(line[:-1] for line in lines(running) if line.endswith("\n"))]


@pytest.mark.slow
def test_what_was_confirmed_outlives_a_kill(store: Store, store_place: str) -> None:
    one = new_paddle(store)
    confirmed: list[str] = []
    chance = random.Random(7)
    for _ in range(KILLS):
        confirmed += killed_in_the_middle("write", store_place, one.id, 10**6,
                                          wait_s=chance.uniform(0.0, 0.3))
    again = open_store(store_place)
    with again.read() as connection:
        found = {reading.uid for reading in readings(connection, one.id)}
        assert len(layout_of(connection, one.id).model_dump()["readings"]["bench"]) == len(found)
    again.close()
    assert len(confirmed) >= 3 * KILLS
    assert set(confirmed) <= found
    assert len(found) <= len(confirmed) + KILLS  # one each was written and not yet confirmed
    refuse_unsound(store)


@pytest.mark.slow
def test_a_kill_in_a_long_write_leaves_all_of_it_or_nothing(store: Store, store_place: str) -> None:
    confirmed: list[str] = []
    chance = random.Random(8)
    for _ in range(KILLS):
        confirmed += killed_in_the_middle("take", store_place, wait_s=chance.uniform(0.0, 0.3))
    with store.read() as connection:
        found = paddles(connection)
        entries = {table: connection.execute(select(schema.METADATA.tables[table])).all()
                   for table in ("reading", "body", "board_test", "tuning_round")}
        wholes = {layout_of(connection, one.id).model_dump_json() for one in found}
    assert {one.uid for one in found} >= set(confirmed)
    assert len(wholes) == 1  # each is the file it came from
    rows = {table: len(rows) / len(found) for table, rows in entries.items()}
    assert rows == {"reading": rows["reading"], "body": 1, "board_test": 2, "tuning_round": 3}
    assert rows["reading"].is_integer()
    refuse_unsound(store)


def refuse_unsound(store: Store) -> None:
    if store.path is not None:
        with contextlib.closing(sqlite3.connect(store.path)) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def test_two_programs_write_at_once_and_lose_nothing(store: Store, store_place: str) -> None:
    one = new_paddle(store)
    words = ("write", store_place, one.id, 100)
    with child(*words) as first, child(*words) as second:
        confirmed = {*said(first), *said(second)}
    with store.read() as connection:
        assert {reading.uid for reading in readings(connection, one.id)} == confirmed
    assert len(confirmed) == 200


@pytest.mark.parametrize("engine", ["sqlite", "postgresql"])
def test_programs_that_make_the_same_store_at_once_share_it(
    engine: str, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    where = (str(tmp_path / "new" / "store.db") if engine == "sqlite"
             else new_database(request.getfixturevalue("postgres")))
    with child("open", where) as first, child("open", where) as second, \
            child("open", where) as third:
        at = time.time() + 0.2
        for one in (first, second, third):
            assert one.stdin is not None
            print(at, file=one.stdin, flush=True)
        made = {*said(first), *said(second), *said(third)}
    store = open_store(where)
    with store.read() as connection:
        assert {one.uid for one in paddles(connection)} == made
    store.close()
    assert len(made) == 3
    if engine == "sqlite":
        assert {path.name for path in (tmp_path / "new").iterdir()} <= {
            "store.db", "store.db-wal", "store.db-shm"}


def test_whoever_waits_too_long_is_told_so_and_readers_never_wait(
    store_place: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(opening, "WAIT_S", 0.3)
    with child("hold", store_place):
        store = open_store(store_place)
        with store.read() as connection:
            assert paddles(connection) == ()
        with pytest.raises(StoreError, match="is busy: another program has been writing for too "
                           "long; nothing of this was written; allowed: try again"):
            new_paddle(store)
    new_paddle(store)  # the other is gone
    store.close()


def test_a_reader_sees_one_moment(store: Store, store_place: str) -> None:
    other = open_store(store_place)
    with store.read() as connection:
        assert paddles(connection) == ()
        new_paddle(other)
        assert paddles(connection) == ()
    with store.read() as connection:
        assert len(paddles(connection)) == 1
    other.close()


def test_a_reader_cannot_write(store: Store) -> None:
    with pytest.raises(StoreError, match="can't be written to"), store.read() as connection:
        connection.execute(schema.setting.insert().values(key="x", value=1))
    new_paddle(store)


# A full disk -----------------------------------------------------------------------------------

def test_a_disk_that_fills_up_loses_nothing_that_was_confirmed(file_store: Store) -> None:
    """By PRAGMA max_page_count, which SQLite reports as a full disk."""
    one = new_paddle(file_store)
    file_store.close()
    event.listen(file_store.engine, "connect", _leave_little_room)
    kept = []

    def go_on() -> None:
        while True:
            with file_store.write("Anna") as pen:
                add_reading(pen, uid(), one.id, "bench", BENCH)
                made = attach(pen, uid(), "paddle", one.id, "x", "image/jpeg", bytes(50_000))
            kept.append(made)

    with pytest.raises(StoreError) as caught:
        go_on()
    assert "is full: the disk has no room; nothing of this was written; allowed: make room" in str(
        caught.value)
    with file_store.read() as connection:
        assert attachments(connection, "paddle", one.id) == tuple(kept)
        assert len(readings(connection, one.id)) == len(kept)
    assert kept
    refuse_unsound(file_store)


def _leave_little_room(connection: sqlite3.Connection, _: object) -> None:
    pages, = connection.execute("PRAGMA page_count").fetchone()
    connection.execute(f"PRAGMA max_page_count={max(pages, 200)}")


def test_a_file_that_may_not_grow_loses_nothing_that_was_confirmed(
    file_store: Store,
) -> None:
    """By the system's limit on the size of files: the write itself fails."""
    with child("fill", file_store.path, 2_000_000) as running:
        *confirmed, last = said(running)
    assert last.startswith("StoreError: ")
    assert "nothing of this was written" in last
    with file_store.read() as connection:
        one, = paddles(connection)
        assert {kept.uid for kept in attachments(connection, "paddle", one.id)} == set(confirmed)
    assert len(confirmed) > 3
    refuse_unsound(file_store)


@pytest.mark.parametrize(("code", "message"), [
    ("53100", "is full: the disk has no room; nothing of this was written; allowed: make room on"),
    ("53300", "takes no more connections"), ("25006", "the server is read-only"),
    ("42501", "turns this user away"), ("55P03", "is busy: another program"),
    ("XX001", "can't be used: trouble"),
])
def test_a_servers_trouble_is_told_plainly(postgres: str, code: str, message: str) -> None:
    """The codes that PostgreSQL documents, raised by the server itself when asked to."""
    store = open_store(new_database(postgres, "ready"))
    with pytest.raises(StoreError, match=message), store.write("Anna") as pen:
        pen.connection.execute(text(
            f"DO $$ BEGIN RAISE EXCEPTION 'trouble' USING ERRCODE = '{code}'; END $$"))
    store.close()


# Read-only -------------------------------------------------------------------------------------

@pytest.mark.parametrize(("file_mode", "folder_mode"), [(0o444, 0o777), (0o666, 0o555),
                                                        (0o444, 0o555), (0o000, 0o777)])
def test_a_file_or_folder_one_may_not_write_to_is_said_to_be_so(
    empty_file: Path, file_mode: int, folder_mode: int
) -> None:
    with others_folder() as folder:
        path = Path(shutil.copy(empty_file, folder / "store.db"))
        path.chmod(file_mode)
        folder.chmod(folder_mode)
        with child("try", path) as running:
            *before, last = said(running)
        assert before in ([], ["opened"])
        assert last.startswith(f"StoreError: {path}: can't be ")
        assert last.endswith("allowed: a file in a folder you may write to")


def test_a_store_is_not_made_where_one_may_not_write() -> None:
    with others_folder() as folder:
        folder.chmod(0o555)
        for path in (folder / "store.db", folder / "deeper" / "store.db"):
            with child("try", path) as running:
                answer, = said(running)
            assert answer == (f"StoreError: {path}: can't be made: Permission denied; allowed: "
                              "a file in a folder you may write to")


@contextlib.contextmanager
def others_folder() -> Iterator[Path]:
    """A folder that other users reach, which pytest's own they don't."""
    folder = Path(tempfile.mkdtemp(prefix="springloom-"))
    folder.chmod(0o777)
    try:
        yield folder
    finally:
        folder.chmod(0o777)
        shutil.rmtree(folder)


def test_a_new_store_is_nobody_elses_business(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "er" / "store.db"
    store = open_store(path)
    new_paddle(store)
    assert {stat.S_IMODE(one.stat().st_mode) for one in path.parent.iterdir()} == {0o600}
    assert stat.S_IMODE(back_up(store).stat().st_mode) == 0o600
    store.close()


# Damage ----------------------------------------------------------------------------------------

def overwritten(path: Path) -> None:
    data = bytearray(path.read_bytes())
    data[8192:12288] = b"\x5a" * 4096
    path.write_bytes(data)


def without_head(path: Path) -> None:
    path.write_bytes(b"\0" * 100 + path.read_bytes()[100:])


def truncated(path: Path) -> None:
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])


def cut_to_a_stump(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:100])


def a_text(path: Path) -> None:
    path.write_text("format = 1\nname = 'Marsh Tern'\n" * 200, encoding="utf-8")


def emptied(path: Path) -> None:
    path.write_bytes(b"")


DAMAGES = (overwritten, without_head, truncated, cut_to_a_stump, a_text, emptied)


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_file_is_refused_and_its_newest_backup_named(
    file_store: Store, damage: Callable[[Path], None]
) -> None:
    path = file_store.path
    assert path is not None
    one = new_paddle(file_store)
    back_up(file_store)
    copy = back_up(file_store)
    file_store.close()
    damage(path)
    left = path.read_bytes()
    with pytest.raises(StoreError, match=r"is (no store|damaged|empty)") as caught:
        open_store(path)
    assert str(copy) in str(caught.value)
    assert path.read_bytes() == left  # for whoever can still read something from it
    path.unlink()
    shutil.copy(copy, path)  # what the sentence says
    mended = open_store(path)
    with mended.read() as connection:
        assert paddle(connection, one.id) == one
    mended.close()


def test_without_a_backup_it_is_said_that_there_is_none(file_store: Store) -> None:
    path = file_store.path
    assert path is not None
    file_store.close()
    overwritten(path)
    with pytest.raises(StoreError, match="there is no backup beside it; an archive you made may"):
        open_store(path)


def test_every_page_that_is_overwritten_is_noticed(file_store: Store, tmp_path: Path) -> None:
    path = file_store.path
    assert path is not None
    one = new_paddle(file_store)
    with file_store.write("Anna") as pen:
        attach(pen, uid(), "paddle", one.id, "x", "image/jpeg", bytes(20_000))
    file_store.close()
    whole = path.read_bytes()
    unnoticed = []
    for start in range(0, len(whole), 4096):
        broken = tmp_path / "broken.db"
        broken.write_bytes(whole[:start] + b"\x5a" * 4096 + whole[start + 4096:])
        try:
            open_store(broken).close()
            unnoticed.append(start // 4096)
        except StoreError:
            pass
    # The last page of a long file has no structure of its own: only its sum tells.
    assert len(unnoticed) <= 1


def test_damage_that_comes_later_is_told_when_it_is_met(file_store: Store) -> None:
    path = file_store.path
    assert path is not None
    new_paddle(file_store)
    file_store.close()
    data = bytearray(path.read_bytes())
    data[4096:] = b"\x5a" * (len(data) - 4096)
    path.write_bytes(data)
    with pytest.raises(StoreError, match=r"is damaged; allowed: put it aside and go on from a "
                       "copy"), file_store.read() as connection:
        paddles(connection)
    with pytest.raises(StoreError, match="is damaged"):
        new_paddle(file_store)


def test_a_journal_whose_file_is_gone_is_not_mixed_into_a_new_store(file_store: Store) -> None:
    path = file_store.path
    assert path is not None
    new_paddle(file_store)
    path.unlink()
    with pytest.raises(StoreError, match=r"is gone, but what was written last is still in "
                       "store.db-wal; allowed: put the file back beside it"):
        open_store(path)
    path.with_name("store.db-wal").rename(path.with_name("away"))
    open_store(path).close()


def test_a_folder_is_no_store(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="is no file; allowed: a file"):
        open_store(tmp_path)
    below = tmp_path / "file"
    below.write_text("x", encoding="utf-8")
    with pytest.raises(StoreError, match="can't be made: "):
        open_store(below / "store.db")


# Places ----------------------------------------------------------------------------------------

@pytest.mark.parametrize("where", ["mysql://u:secret@h/d", "sqlite://", "sqlite:///:memory:",
                                   "http://x", "://", "postgresql:///x?host=%zz:://"])
def test_what_is_no_place_is_said_to_be_none(where: str) -> None:
    with pytest.raises(StoreError) as caught:
        open_store(where)
    assert "secret" not in str(caught.value)
    assert caught.value.exit_code == 6


def test_a_server_that_does_not_answer_is_said_so_and_the_password_is_not(postgres: str) -> None:
    for where, message in (
        ("postgresql://anna:secret@/x?host=/nowhere", "can't be used"),
        (url_of(postgres, "none"), "can't be used|has no such database"),
        (f"postgresql://stranger:secret@/ready?host={postgres}", "can't be used|turns this user"),
    ):
        with pytest.raises(StoreError, match=message) as caught:
            open_store(where)
        assert "secret" not in str(caught.value)
        assert "allowed: " in str(caught.value)


def test_a_server_that_went_away_is_found_again(postgres: str) -> None:
    store = open_store(new_database(postgres, "ready"))
    new_paddle(store)

    def cut() -> None:
        run_sql(postgres, "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                f"WHERE datname = '{store.engine.url.database}'")

    cut()
    one = new_paddle(store)

    def cut_off() -> None:
        with store.write("Anna") as pen:
            cut()
            add_reading(pen, uid(), one.id, "bench", BENCH)

    with pytest.raises(StoreError, match="can't be used: "):
        cut_off()
    with store.read() as connection:
        assert readings(connection, one.id) == ()
    store.close()


def test_a_path_a_url_and_the_variable_mean_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "store.db"
    first = open_store(path)
    one = new_paddle(first)
    monkeypatch.setenv(PLACE, str(path))
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    for where in (str(path), f"sqlite:///{path}", None, "", "~/store.db", "store.db"):
        other = open_store(where)
        assert (other.path, other.url) == (path, str(path))
        with other.read() as connection:
            assert paddles(connection) == (one,)
        other.close()
    first.close()


@pytest.mark.parametrize("name", ["a b.db", "ä?#%20.db", "store", "x'y\".db", "file:x.db"])
def test_a_file_may_be_called_anything(tmp_path: Path, name: str) -> None:
    path = tmp_path / "50%" / name
    store = open_store(path)
    new_paddle(store)
    copy = back_up(store)
    store.close()
    assert path.stat().st_size > 0
    assert newest_backup(path) == f"the newest backup is {copy}"
    open_store(copy).close()


def test_the_usual_place_is_in_the_users_own_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(PLACE, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    assert Path(usual_place()).is_relative_to(tmp_path)
    assert Path(usual_place()).name == "springloom.db"
