"""The store on the command line: its own actions, and --store of every command on a design."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from springloom.cli_store import ACTIONS
from springloom.records.reading import read_layout
from springloom.store import open_store
from springloom.store.layout import layout_of
from springloom.store.opening import PLACE
from springloom.store.paddles import paddles, set_aside
from springloom.store.rounds import add_reading
from tests.stores import new_database
from tests.verification.command import EXAMPLES, MARSH_TERN, Ran, command
from tests.verification.store_entries import uid

Capture = pytest.CaptureFixture[str]
BOTH = ("Low Skerry", "Marsh Tern")


@pytest.fixture
def bench(capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The usual store, with both examples in it: Low Skerry is 1, Marsh Tern 2."""
    place = tmp_path / "bench.db"
    monkeypatch.setenv(PLACE, str(place))
    assert store(capsys, "take-in", *EXAMPLES).code == 0
    return place


def store(capsys: Capture, *words: str | Path) -> Ran:
    return command(capsys, "store", *words)


def parsed(capsys: Capture, *words: str | Path) -> Any:
    ran = store(capsys, *words, "--json")
    assert (ran.code, ran.err) == (0, "")
    return json.loads(ran.out)


def test_help_names_every_action(capsys: Capture) -> None:
    said = store(capsys, "--help").out
    assert [name for name in ACTIONS if f"\n  {name} " not in said] == []
    for name in ACTIONS:
        one = store(capsys, name, "--help")
        assert one.code == 0
        assert one.out.startswith(f"usage: springloom store {name}")
        assert "--json" in one.out
        assert "--store PLACE" in one.out


def test_an_action_that_is_none_is_told_in_one_line(capsys: Capture) -> None:
    ran = store(capsys, "lst")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith("springloom: action: is unknown; did you mean 'list'? (given 'lst')")


def test_help_loads_no_database() -> None:
    script = (
        "import sys\nfrom springloom.cli import main\n"
        "try: main(['store', '--help'])\nexcept SystemExit: pass\n"
        "print([m for m in ('sqlalchemy', 'alembic', 'platformdirs', 'starlette', 'pydantic') "
        "if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True,
                          check=True)
    assert done.stdout.endswith("\n[]\n")


def test_files_are_taken_in_once(capsys: Capture, bench: Path) -> None:
    said = "Low Skerry is paddle 1\nMarsh Tern is paddle 2\n"
    assert store(capsys, "take-in", *EXAMPLES).out == said
    assert parsed(capsys, "take-in", MARSH_TERN) == [{"number": 2, "name": "Marsh Tern"}]
    opened = open_store(bench)
    with opened.read() as connection:
        assert [one.name for one in paddles(connection)] == list(BOTH)
        assert layout_of(connection, 2) == read_layout(MARSH_TERN)
    opened.close()


def test_of_several_files_all_are_taken_in_or_none(capsys: Capture, bench: Path) -> None:
    wrong = bench.parent / "wrong.toml"
    wrong.write_text('format = 1\nname = "Wrong"\n[target]\nsinks = "3 stone"\n', encoding="utf-8")
    good = bench.parent / "good.toml"
    good.write_text('format = 1\nname = "Good"\n', encoding="utf-8")
    ran = store(capsys, "take-in", good, wrong)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"springloom: {wrong}.target.sinks: ")
    assert "Good" not in store(capsys, "list").out


def test_where_says_what_is_there_and_makes_nothing(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tmp_path / "new" / "bench.db"
    monkeypatch.setenv(PLACE, str(place))
    assert store(capsys, "where").out == (
        f"{place}\nThere is no store yet; serve and take-in make one.\n")
    assert parsed(capsys, "where") == {"place": str(place), "exists": False}
    for words in (["list"], ["archive", tmp_path / "x"], ["back-up"],
                  ["readings", tmp_path / "x"]):
        ran = store(capsys, *words)
        assert (ran.code, ran.out) == (6, "")
        assert "there is no store yet; allowed: a store: springloom serve makes one" in ran.err
    assert list(tmp_path.iterdir()) == []
    store(capsys, "take-in", MARSH_TERN)
    copy = store(capsys, "back-up").out.strip()
    assert store(capsys, "where").out.splitlines() == [
        str(place), "1 paddles, 1 people, 1 boards, 0 classes, 5 readings",
        f"newest backup: {copy}"]
    assert parsed(capsys, "where") == {
        "place": str(place), "exists": True, "paddles": 1, "people": 1, "boards": 1, "classes": 0,
        "readings": 5, "backups": [copy]}


def test_paddles_are_listed_the_last_touched_first(capsys: Capture, bench: Path) -> None:
    opened = open_store(bench)
    with opened.write("A very long name of a writer") as pen:
        add_reading(pen, uid(), 1, "remark", {"text": "softer"})
        set_aside(pen, uid(), 1, True)
    opened.close()
    page = store(capsys, "list").out
    assert [line.split()[0] for line in page.splitlines()[2:]] == ["1", "2"]
    assert page.splitlines()[2].endswith("  aside")
    assert [line for line in page.splitlines() if len(line) > 80] == []
    data = parsed(capsys, "list")
    assert [(one["number"], one["name"], one["set_aside"]) for one in data] == [
        (1, "Low Skerry", True), (2, "Marsh Tern", False)]
    assert data[0]["touched_by"] == "A very long name of a writer"
    empty = bench.parent / "empty.db"
    open_store(empty).close()
    assert store(capsys, "list", "--store", empty).out == "No paddle is in the store yet.\n"


@pytest.mark.parametrize("name", ["fit", "board", "forecast", "shape-to-bend", "tune"])
def test_a_stored_paddle_is_answered_as_its_file_is(
    capsys: Capture, bench: Path, name: str
) -> None:
    from_file = command(capsys, name, MARSH_TERN)
    for words in (["--store", "Marsh Tern"], ["--store", "2"], ["marsh tern", "--store"],
                  ["2", "--store", bench], ["--store", bench, "Marsh Tern"],
                  ["Marsh Tern", "--store", f"sqlite:///{bench}"]):
        assert command(capsys, name, *words) == from_file, words


def test_what_a_stored_paddle_is_drawn_as_is_what_its_file_is_drawn_as(
    capsys: Capture, bench: Path, tmp_path: Path
) -> None:
    del bench
    folders = [tmp_path / "file", tmp_path / "store"]
    given: tuple[list[str], ...] = ([str(MARSH_TERN)], ["--store", "Marsh Tern"])
    for folder, words in zip(folders, given, strict=True):
        assert command(capsys, "sheet", *words, "--out", folder / "sheet").code == 0
        assert command(capsys, "plans", *words, "--out", folder / "plans", "--format", "svg",
                       ).code == 0
    drawn = [{path.relative_to(folder): path.read_bytes() for path in folder.rglob("*.svg")}
             for folder in folders]
    assert drawn[0] == drawn[1]
    assert len(drawn[0]) > 5


def test_a_class_is_drawn_in_the_wood_of_a_stored_paddle(
    capsys: Capture, bench: Path, tmp_path: Path
) -> None:
    del bench
    roster = tmp_path / "class.csv"
    roster.write_text("name,height\nAnna,176 cm\n", encoding="utf-8")
    pages = [command(capsys, "class", roster, "--out", tmp_path / "out", *words).out
             for words in (["--design", MARSH_TERN], ["--design", "Marsh Tern", "--store"],
                           ["--store", "Marsh Tern"], [])]
    assert pages[0] == pages[1] == pages[2] != pages[3]


def test_new_crowns_of_a_stored_paddle_are_written_as_a_file(
    capsys: Capture, bench: Path
) -> None:
    new = bench.parent / "new.toml"
    ran = command(capsys, "shape-to-bend", "--store", "Low Skerry", "--sinks", "3/4", "--write",
                  new)
    assert (ran.code, ran.err) == (0, f"wrote {new}\n")
    made = read_layout(new)
    assert (made.name, made.units) == ("Low Skerry", "in")
    assert made.target is not None
    assert made.target.sinks == "3/4"
    assert made.readings == read_layout(next(
        path for path in EXAMPLES if path.stem == "low_skerry")).readings


@pytest.mark.parametrize(("words", "said"), [
    (["tune", "--store", "Marsh Tren"], "paddle: is unknown; did you mean 'Marsh Tern'? (given"),
    (["tune", "--store", "7"], "paddle: is unknown (given '7'); allowed: Low Skerry, Marsh Tern"),
    (["tune", "--store"], "file: names no paddle; allowed: the name or the number of a paddle"),
    (["tune", "--store", ""], "file: names no paddle"),
    (["tune"], "command line: the following arguments are required: file; allowed: see "
     "springloom tune --help"),
    (["class", "x.csv", "--out", "x", "--store"], "--design: names no paddle"),
    (["store", "readings", "x.csv", "--paddle", "Tern"], "paddle: is unknown; did you mean"),
])
def test_a_paddle_that_is_not_there_is_told_in_one_line(
    capsys: Capture, bench: Path, words: list[str], said: str
) -> None:
    del bench
    ran = command(capsys, *words)
    assert (ran.code, ran.out) == (2, "")
    assert ran.err.startswith(f"springloom: {said}")
    assert ran.err.count("\n") == 1


def test_of_two_paddles_of_one_name_the_number_decides(capsys: Capture, bench: Path) -> None:
    twin = bench.parent / "twin.toml"
    twin.write_text(MARSH_TERN.read_text(encoding="utf-8").replace("sinks = 33", "sinks = 34"),
                    encoding="utf-8")
    store(capsys, "take-in", twin)
    ran = command(capsys, "tune", "--store", "Marsh Tern")
    assert ran.code == 2
    assert "is what several paddles are called (given 'Marsh Tern'); allowed: the number of " \
        "one: 2, 3" in ran.err
    assert "34.0 mm" in command(capsys, "tune", "--store", "3").out


@pytest.mark.parametrize("engine", ["sqlite", "postgresql"])
def test_an_archive_goes_out_and_in(
    capsys: Capture, bench: Path, engine: str, request: pytest.FixtureRequest
) -> None:
    out = bench.parent / "bench.json"
    ran = store(capsys, "archive", out)
    assert ran.out == (f"wrote {out}: 2 people, 2 bodies, 2 boards, 2 board sheets, 3 board tests,"
                       " 2 paddles, 2 designs, 2 rounds, 10 readings\n")
    other = (str(bench.parent / "other.db") if engine == "sqlite"
             else new_database(request.getfixturevalue("postgres")))
    assert store(capsys, "restore", out, "--store", other).out == "27 entries are new\n"
    assert store(capsys, "restore", out, "--store", other).out == "everything was there already\n"
    assert parsed(capsys, "restore", out, "--store", other) == {"new": 0}
    again = bench.parent / "again.json"
    assert parsed(capsys, "archive", again, "--store", other)["readings"] == 10
    assert again.read_bytes() == out.read_bytes()
    assert command(capsys, "tune", "Marsh Tern", "--store", other) == command(
        capsys, "tune", MARSH_TERN)


@pytest.mark.parametrize(("text", "said"), [
    ("format = 1", "is no JSON: "), ("[" * 100_000, "is no JSON: "), ("{}", "archive: is no Spri"),
    ("\udcff", "is no JSON: "), ('{"format": "springloom archive", "version": 9}',
                                 "archive: was made by a newer Springloom"),
])
def test_what_is_no_archive_is_refused(
    capsys: Capture, bench: Path, text: str, said: str
) -> None:
    path = bench.parent / "in.json"
    path.write_bytes(text.encode("utf-8", "surrogateescape"))
    ran = store(capsys, "restore", path)
    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    gone = store(capsys, "restore", bench.parent / "none.json")
    assert gone.code == 2
    assert "none.json: can't be read: No such file or directory; allowed: an archive" in gone.err


def test_readings_go_to_a_spreadsheet(capsys: Capture, bench: Path) -> None:
    out = bench.parent / "all.csv"
    assert store(capsys, "readings", out).out == f"wrote {out}: 56 values\n"
    text = out.read_bytes()
    assert text.startswith(b"\xef\xbb\xbf")  # or spreadsheets take it for another alphabet
    rows = list(csv.DictReader(io.StringIO(text.decode("utf-8-sig"), newline="")))
    assert (len(rows), {row["paddle"] for row in rows}) == (56, set(BOTH))
    assert parsed(capsys, "readings", out, "--paddle", "marsh tern") == {
        "path": str(out), "values": 29}


def test_a_copy_is_made_beside_the_store_or_where_one_says(capsys: Capture, bench: Path) -> None:
    beside = Path(store(capsys, "back-up").out.strip())
    assert (beside.parent, beside.exists()) == (bench.parent, True)
    named = bench.parent / "copy.db"
    assert parsed(capsys, "back-up", named) == {"path": str(named)}
    assert "Marsh Tern" in store(capsys, "list", "--store", named).out


def test_a_damaged_store_is_one_line_and_exit_code_6(capsys: Capture, bench: Path) -> None:
    bench.write_bytes(b"format = 1\n" * 1000)
    ran = command(capsys, "tune", "--store", "Marsh Tern")
    assert (ran.code, ran.out) == (6, "")
    assert ran.err.startswith(f"springloom: {bench}: is no store: it is something else, or damag")
    assert ran.err.count("\n") == 1
