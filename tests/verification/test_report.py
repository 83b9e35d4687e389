"""The pages: each warning can fire and keeps quiet otherwise; words and files."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from springloom.errors import OutputError
from springloom.report.cautions import EVERY
from springloom.report.files import file_stem, write_all
from springloom.report.words import WIDTH, Words, bullets, folded, grid
from springloom.units import METRE_PER_INCH, PASCAL_PER_PSI
from tests.verification.command import MARSH_TERN, command

GOOD = MARSH_TERN.read_text(encoding="utf-8")
CROWN = "crown    = [34, 24.5, 17.5, 13, 10, 7.5]"
EDGE = "edge     = [18, 9, 7, 6, 5, 4.5]"
WIDTHS = '[39, 60, 73, 82, 83, "round"]'


def page(
    capsys: pytest.CaptureFixture[str], folder: Path, name: str, *changes: tuple[str, str]
) -> str:
    """The page of the example with some things changed, unfolded to one line."""
    text = GOOD
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "design.toml"
    path.write_text(text, encoding="utf-8")
    ran = command(capsys, name, path)
    assert (ran.code, ran.err) == (0, "")
    return " ".join(ran.out.split())


# The command, what is changed in the example, and what the page then says, which it doesn't else.
@pytest.mark.parametrize(("name", "changes", "says"), [
    ("forecast", [(CROWN, "crown = [22, 20, 17, 13, 10, 7.5]"), (EDGE, "")],
     "WARNING: hard stroke: margin"),
    ("forecast", [(EDGE, "edge = [18, 9, 7, 4, 3.4, 3.2]")],
     "edges this thin split at a knock, leave more wood"),
    ("forecast", [('"1 in 24"', '"1 in 6"')], "NOT IN THE LOOM: The grain runs out at 1 in 6"),
    ("forecast", [('"11 %"', '"17 %"')], "USE WITH CARE: At 17 % moisture"),
    ("forecast", [(WIDTHS, '[39, 60, 61, 82, 83, "round"]')], "About the curves"),
    ("board", [('"1 in 24"', '"1 in 6"')], "This board of western redcedar: not in the loom"),
    ("board", [('rings = "flat"', "")], "lie of the growth rings was not given: taken as mixed"),
    ("board", [("sinks = 1.7", "sinks = 1.2"), ('"34 Hz"', '"27 Hz"')], "both can't be right"),
    ("board", [('weight = "3.23 kg"', ""), (GOOD[GOOD.index("[[board."):GOOD.index("[paddle]")],
                                            "")], "nothing was read; weighing and a bending test"),
    ("fit", [('boat_beam = "54 cm"', 'boat_beam = "90 cm"')], "Rules that disagree"),
    ("fit", [('arm_span = "178 cm"', "")], "arm span: 17"),
    ("shape-to-bend", [("least_crown_mid = 13", "least_crown_mid = 20")], "Limits that bind"),
    ("shape-to-bend", [("least_crown_mid = 13", "least_crown_mid = 20")],
     "least crown keeps"),
    ("tune", [("[28.4, 14.8, 5.8]", "[28.4, 14.8, 9.8]")], "Readings that don't fit"),
    ("tune", [("sinks = 33", "sinks = 24")], "Blade A: stop, past target: "),
    ("tune", [("sinks = 33", "sinks = 28.4")], "Blade A: stop, on target: "),
    ("tune", [("[28.4, 14.8, 5.8]", "[33.4, 17.4, 6.8]")], "blade B is the stiffer"),
])
def test_a_page_warns_when_it_should_and_only_then(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, name: str,
    changes: list[tuple[str, str]], says: str
) -> None:
    assert says in page(capsys, tmp_path, name, *changes)
    assert says not in page(capsys, tmp_path, name)


def test_a_length_is_written_as_fine_as_it_is_read() -> None:
    mm, inches = Words("mm"), Words("in")
    assert (mm.length(0.0826), mm.length(2.2104)) == ("82.6 mm", "2210 mm")
    assert (mm.bare(0.0826), mm.range(0.01, 0.0255)) == ("82.6", "10.0 to 25.5 mm")
    assert inches.length(3.25 * METRE_PER_INCH) == "3 1/4 in"
    assert inches.length((3 + 1 / 64) * METRE_PER_INCH) == "3 1/64 in"
    assert inches.length((30 + 1 / 64) * METRE_PER_INCH) == "30 in"  # a tape's length: sixteenths
    assert Words("in", coarse=True).length((3 + 1 / 64) * METRE_PER_INCH) == "3 in"
    assert Words("mm", coarse=True).both(0.0826) == "83 mm (3 1/4 in)"
    assert inches.both(0.0826) == "3 1/4 in (82.6 mm)"
    shaving = METRE_PER_INCH / 64
    assert (mm.thin(shaving), inches.thin(shaving)) == ("0.40 mm", "1/64 in")


def test_other_quantities_are_written_in_the_chosen_system() -> None:
    mm, inches = Words("mm"), Words("in")
    assert (mm.stress(27.04e6), inches.stress(3912 * PASCAL_PER_PSI)) == ("27.0 MPa", "3910 psi")
    assert (mm.bare_stress(27.04e6), mm.stress_unit(), inches.stress_unit()) == (
        "27.0", "MPa", "psi")
    assert (mm.density(372.0), inches.density(372.0)) == ("372 kg/m3", "23.2 lb/ft3")
    assert (mm.volume(0.002), inches.volume(100 * METRE_PER_INCH**3)) == ("2.00 L", "100 cubic in")
    assert (mm.hung(44.482216), inches.hung(44.482216)) == ("10 lb (44.5 N)",) * 2
    assert mm.hung(4.5 * 9.80665) == "4.5 kg (44.1 N)"


def test_sentences_are_folded_to_the_page() -> None:
    long = "word " * 60
    for text in (folded(long), *bullets([long, long])):
        assert max(len(line) for line in text.splitlines()) <= WIDTH
    assert bullets(["one"]) == ["  - one"]
    assert grid(("a", "b"), [("x", 1)]).splitlines()[0] == "a      b"


def test_the_cautions_are_the_usual_ones() -> None:
    said = " ".join(EVERY)
    for word in ("dust", "Edge tools", "Adhesives", "Oily rags", "bench", "break without warning",
                 "Local codes and licensed practice"):
        assert word in said


@pytest.mark.parametrize(("name", "stem"), [
    ("Marsh Tern", "marsh-tern"), ("a/b\\c:d", "a-b-c-d"), ("../../etc", "etc"), ("", "paddle"),
    ("賊鷗", "paddle"), ("No. 7, long", "no-7-long"),
])
def test_a_files_name_is_one_every_system_takes(name: str, stem: str) -> None:
    assert file_stem(name) == stem


def test_all_files_are_written_or_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second = tmp_path / "new" / "a.txt", tmp_path / "new" / "b.txt"
    assert write_all({first: b"one", second: b"two"}) == [first, second]
    assert (first.read_bytes(), second.read_bytes()) == (b"one", b"two")
    real, calls = os.fsync, []

    def full(handle: int) -> None:
        calls.append(handle)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        real(handle)

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError) as caught:
        write_all({first: b"three", second: b"four"})
    assert caught.value.field == str(second)
    assert (first.read_bytes(), second.read_bytes()) == (b"one", b"two")
    assert sorted(first.parent.iterdir()) == [first, second]


def test_a_set_with_a_folder_in_the_way_changes_nothing(tmp_path: Path) -> None:
    first, folder = tmp_path / "a.txt", tmp_path / "b"
    first.write_bytes(b"one")
    folder.mkdir()
    with pytest.raises(OutputError) as caught:
        write_all({first: b"two", folder: b"three"})
    assert caught.value.field == str(folder)
    assert first.read_bytes() == b"one"
    assert sorted(tmp_path.iterdir()) == [first, folder]


def test_nothing_is_left_behind_when_the_maker_stops_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_all({tmp_path / "a.txt": b"one"})
    assert list(tmp_path.iterdir()) == []
