"""Stores of every earlier version are brought up and lose nothing; newer ones are refused."""

from __future__ import annotations

import contextlib
import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, NullPool, create_engine, inspect, text

from springloom.errors import StoreError
from springloom.store import Store, migrations, open_store, schema
from springloom.store.backup import backups_of
from springloom.store.layout import layout_of
from springloom.store.migrations import HEAD, STEPS, upgrade
from springloom.store.opening import back_up, place_of
from springloom.store.paddles import paddle
from springloom.store.people import person
from springloom.store.rounds import all_readings, readings, rounds
from tests.stores import ENGINES, new_database
from tests.verification.store_entries import new_paddle

AT = "2026-03-01T09:30:00.000000Z"
UID = "00000000-0000-4000-8000-{:012d}"

# What a store of step 0001 may hold: every table of that step that keeps what was typed.
ROWS_OF_0001: dict[str, list[dict[str, Any]]] = {
    "person": [{"name": "Anna Ø."}],
    "body": [{"person_id": 1, "paddler": '{"height": "176 cm"}', "units": "mm"}],
    "board": [{"name": "Plank 3"}],
    "board_sheet": [{"board_id": 1, "units": "mm", "table": '{"species": "western_redcedar", '
                     '"length": 2440, "width": 89, "thickness": 40}'}],
    "board_test": [{"board_id": 1, "kind": "tap", "table": '{"frequency": "34 Hz"}',
                    "units": "mm", "replaces": None}],
    "class": [{"name": "Autumn", "base": '{"format": 1, "name": "Autumn"}', "board_id": None}],
    "paddle": [{"person_id": 1, "board_id": 1, "class_id": 1, "set_aside": 0}],
    "design": [{"paddle_id": 1, "number": 1, "why": "",
                "layout": '{"format": 1, "name": "Tern", "target": {"sinks": 33}}'}],
    "tuning_round": [{"paddle_id": 1, "number": 1}, {"paddle_id": 1, "number": 2}],
    "round_closing": [{"round_id": 1, "advice": '{"say": "plane"}', "units": "mm",
                       "planed": '[{"blade": "a", "at": ["1/2"], "per_face": ["1/64"]}]'}],
    "reading": [
        {"round_id": 1, "kind": "bench", "units": "mm", "replaces": None,
         "table": '{"blade": "a", "sinks": [28.4]}'},
        {"round_id": 1, "kind": "bench", "units": "mm", "replaces": 1,
         "table": '{"blade": "a", "sinks": ["28.9 mm"]}'},
        {"round_id": 2, "kind": "remark", "units": "mm", "replaces": None,
         "table": '{"text": "softer"}'},
        {"round_id": 2, "kind": "remark", "units": "mm", "replaces": 3, "table": None},
    ],
    "mark": [{"paddle_id": 1, "stage": "blank", "done": 1, "measured": "{}", "units": "mm"}],
    "note": [{"paddle_id": 1, "text": "a knot", "replaces": None}],
    "attachment": [{"board_id": 1, "name": "x.jpg", "media_type": "image/jpeg",
                    "sha256": "0" * 64, "content": b"\xff\xd8"}],
    "change": [{"person_id": 1, "was": '{"name": "Anna"}', "now": '{"name": "Anna Ø."}'}],
    "writer": [{"name": "Anna", "address": "127.0.0.1"}],
}
BARE_OF_0001: dict[str, list[dict[str, Any]]] = {
    "join_code": [{"code": "123456", "made_at": AT, "made_by": "Anna", "until": AT}],
    "attempt": [{"address": "10.0.0.6", "at": AT}],
    "setting": [{"key": "units", "value": '"in"'}],
}
ROWS_OF_0002: dict[str, list[dict[str, Any]]] = {
    "job": [{"kind": "plans", "arguments": "{}", "state": "asked", "claims": 0, "share": 0.0,
             "saying": ""}],
}
BARE_OF_0002: dict[str, list[dict[str, Any]]] = {
    "summary": [{"paddle_id": 1, "key": "k", "data": "{}"}],
}
HELD = {"0001": (ROWS_OF_0001, BARE_OF_0001),
        "0002": (ROWS_OF_0001 | ROWS_OF_0002, BARE_OF_0001 | BARE_OF_0002)}


@pytest.fixture(params=ENGINES)
def nowhere(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Where nothing is yet."""
    if request.param == "sqlite":
        return str(tmp_path / "old.db")
    return new_database(request.getfixturevalue("postgres"))


def old_store(where: str, step: str) -> None:
    """Make a store as the version of that step left it, by its own SQL."""
    with raw(where) as connection:
        upgrade(connection, step)
        entries, bare = HELD[step]
        counter = iter(range(1, 1000))
        for table, rows in entries.items():
            for row in rows:
                own = {"uid": UID.format(next(counter)), "made_at": AT, "made_by": "Anna"}
                insert(connection, table, own | row)
        for table, rows in bare.items():
            for row in rows:
                insert(connection, table, row)


def insert(connection: Connection, table: str, row: dict[str, Any]) -> None:
    names = ", ".join(f'"{name}"' for name in row)
    values = ", ".join(f":{name}" for name in row)
    connection.execute(text(f'INSERT INTO "{table}" ({names}) VALUES ({values})'), row)


def dump(connection: Connection, step: str) -> dict[str, list[tuple[Any, ...]]]:
    """Every row of the tables that a step knew, as the database gives it."""
    entries, bare = HELD[step]
    return {
        table: [tuple(bytes(cell) if isinstance(cell, memoryview) else str(cell) for cell in row)
                for row in connection.execute(text(f'SELECT * FROM "{table}" ORDER BY id'))]
        for table in (*entries, *bare)
    }


@contextlib.contextmanager
def raw(where: str | Path) -> Iterator[Connection]:
    """A connection that knows nothing of the store."""
    with create_engine(place_of(where)[0], poolclass=NullPool).begin() as connection:
        yield connection


@pytest.mark.parametrize("step", STEPS[:-1])
def test_a_store_of_an_earlier_version_is_brought_up_whole(nowhere: str, step: str) -> None:
    old_store(nowhere, step)
    with raw(nowhere) as connection:
        before = dump(connection, step)
    store = open_store(nowhere)
    with store.read() as connection:
        assert dump(connection, step) == before
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == HEAD
        assert person(connection, 1).name == "Anna Ø."
        assert paddle(connection, 1).name == "Tern"
        assert [one.table for one in readings(connection, 1, 1)] == [
            {"blade": "a", "sinks": ["28.9 mm"]}]
        assert (len(all_readings(connection, 1)), len(rounds(connection, 1))) == (4, 2)
        assert layout_of(connection, 1).round[0].planed[0].per_face == ["1/64"]
    new_paddle(store)  # and it can be written to
    store.close()


@pytest.mark.parametrize("step", STEPS[:-1])
def test_a_dated_copy_of_the_old_store_lies_beside_the_new_one(tmp_path: Path, step: str) -> None:
    path = tmp_path / "old.db"
    old_store(str(path), step)
    with raw(path) as connection:
        before = dump(connection, step)
    open_store(path).close()
    copy, = backups_of(path)
    assert re.fullmatch(rf"old\.\d{{4}}-\d\d-\d\dT\d{{6}}\.\d{{6}}Z-before-{HEAD}\.db", copy.name)
    with raw(copy) as connection:
        assert dump(connection, step) == before
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == step
    open_store(path).close()
    assert backups_of(path) == [copy]  # once


def test_a_step_that_fails_leaves_the_old_store_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "old.db"
    old_store(str(path), "0001")
    with closing(sqlite3.connect(path)) as connection:  # in the way of the step's second table
        connection.execute("CREATE TABLE summary (x)")
    with pytest.raises(StoreError, match="can't be used"):
        open_store(path)
    with closing(sqlite3.connect(path)) as connection:
        names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
        assert "job" not in names
        connection.execute("DROP TABLE summary")
        connection.commit()
    open_store(path).close()
    assert len(backups_of(path)) == 2


def test_no_step_is_taken_without_its_copy(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "old.db"
    old_store(str(path), "0001")

    def full(_: Path, to: Path) -> Path:
        raise StoreError("can't be written: no room", field=str(to))

    monkeypatch.setattr(migrations, "copy_file", full)
    with pytest.raises(StoreError, match="can't be written: no room"):
        open_store(path)
    with raw(path) as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == (
            "0001")


def test_a_store_of_a_newer_version_is_refused_untouched(store_place: str) -> None:
    with raw(store_place) as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '0099'"))
    with pytest.raises(StoreError) as caught:
        open_store(store_place)
    assert str(caught.value).endswith(
        f"was written by a newer Springloom (given '0099'); allowed: a store up to step {HEAD}: "
        "install the newer Springloom")
    with raw(store_place) as connection:
        assert connection.execute(text("SELECT version_num FROM alembic_version")).scalar() == (
            "0099")


def test_somebody_elses_database_is_refused_untouched(nowhere: str) -> None:
    with raw(nowhere) as connection:
        connection.execute(text("CREATE TABLE bookmark (url TEXT)"))
    path = place_of(nowhere)[1]
    before = path.read_bytes() if path else b""
    with pytest.raises(StoreError, match="holds something else, no paddles; allowed: a store, or"):
        open_store(nowhere)
    assert before == (path.read_bytes() if path else b"")
    with raw(nowhere) as connection:
        assert inspect(connection).get_table_names() == ["bookmark"]


def test_the_steps_end_at_the_tables_of_the_program(store: Store) -> None:
    with store.read() as connection:
        context = MigrationContext.configure(
            connection, opts={"compare_type": True, "compare_server_default": True})
        assert compare_metadata(context, schema.METADATA) == []
        checks = {table: {check["name"] for check in inspect(connection).get_check_constraints(
            table)} for table in ("note", "attachment", "change")}
    assert checks == {table: {f"ck_{table}_about_one"} for table in checks}


def test_every_step_is_known_and_there_is_no_way_back() -> None:
    config = Config()
    config.set_main_option("script_location", str(Path(migrations.__file__).parent))
    scripts = list(ScriptDirectory.from_config(config).walk_revisions())
    assert tuple(script.revision for script in scripts[::-1]) == STEPS
    assert not [script for script in scripts if hasattr(script.module, "downgrade")]


def test_a_number_is_never_given_twice(store: Store) -> None:
    first = new_paddle(store)
    with store.write("Anna") as pen:
        for table in (schema.design, schema.paddle):
            pen.connection.execute(table.delete())
    assert new_paddle(store).id > first.id


def test_a_copy_is_a_store_of_its_own(file_store: Store, tmp_path: Path) -> None:
    one = new_paddle(file_store)
    copy = back_up(file_store)
    assert backups_of(tmp_path / "store.db") == [copy]
    assert copy.parent == tmp_path
    other = new_paddle(file_store)
    moved = shutil.copy(copy, tmp_path / "moved.db")
    opened = open_store(moved)
    with opened.read() as connection:
        assert paddle(connection, one.id) == one
        assert len(list(connection.execute(schema.paddle.select()))) == 1
    assert new_paddle(opened).id == other.id
    opened.close()
    named = back_up(file_store, tmp_path / "by-hand.db")
    assert named == tmp_path / "by-hand.db"
    assert not list(tmp_path.glob(".*"))


def test_a_copy_never_falls_on_the_store_itself(file_store: Store) -> None:
    with pytest.raises(StoreError, match="is the store itself"):
        back_up(file_store, file_store.path)
    with pytest.raises(StoreError, match="can't be written"):
        back_up(file_store, Path("/nowhere/at/all.db"))


def test_a_server_is_backed_up_by_its_own_means(postgres: str) -> None:
    store = open_store(new_database(postgres, "ready"))
    with pytest.raises(StoreError, match="is kept by a database server; allowed: the server's own"):
        back_up(store)
    store.close()
