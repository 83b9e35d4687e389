"""The command line: every page and its data, its help, its files, its exit codes."""

from __future__ import annotations

import errno
import io
import json
import os
import re
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any

import pytest

from springloom import __version__, errors
from springloom.cli import COMMANDS, main
from springloom.records.design import load_design
from springloom.report import files
from springloom.units import METRE_PER_INCH
from tests.verification.command import EXAMPLES, MARSH_TERN, command, copied

ON_A_FILE = ("fit", "board", "forecast", "shape-to-bend", "tune")
IDS = [path.stem for path in EXAMPLES]
LOW_SKERRY = next(path for path in EXAMPLES if path.stem == "low_skerry")

# A number's key, or the nearest key above that isn't one of these, says its SI unit.
CARRIES_NO_UNIT = {"a", "b", "value", "before", "before_sd", "sd", "low_90", "high_90", "median"}
UNITS = (
    "m", "m2", "m3", "kg", "pa", "n", "hz", "per_m", "n_m", "kg_m2", "kg_m3", "rad_per_n_m",
    "m2_per_s2",
)
DIMENSIONLESS = {
    "sd_ln", "sd_ln_e_before", "sd_ln_e_after", "deflection_sd_ln", "predicted_sd_ln", "sigma",
    "sigmas", "ratio", "first", "second", "ridge", "ridge_below", "face_share", "growth_share",
    "progression", "excess", "margin", "strength_quantile", "index", "passes", "overshoot_chance",
    "upper_passes", "lower_passes",
    "stiffer_chance", "sg_12", "chance", "heavier_chance",
    "now_ratio", "then_ratio", "splitting_now_ratio", "splitting_then_ratio", "bend_sd_ln_before",
    "bend_sd_ln_after", "reduction_ratio", "margin_ratio", "margin_after_ratio",
    "splitting_ratio", "splitting_after_ratio", "ridge_fullness", "ridge_after_fullness", "share",
    "other_progression", "beyond_the_plans_ridge_fullness", "shift_in_sd", "fuller_ratio",
    "fuller_sd_ratio",
}


def numbers(data: Any, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Walk to every number; yields the keys that lead there."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from numbers(value, (*path, key))
    elif isinstance(data, list):
        for value in data:
            yield from numbers(value, path)
    elif isinstance(data, int | float) and not isinstance(data, bool):
        yield path


def names_its_unit(path: tuple[str, ...]) -> bool:
    key = next((key for key in reversed(path) if key not in CARRIES_NO_UNIT), "")
    return key in DIMENSIONLESS or any(key.endswith(f"_{unit}") for unit in UNITS)


def parsed(capsys: pytest.CaptureFixture[str], *words: str | Path) -> Any:
    ran = command(capsys, *words, "--json")
    assert (ran.code, ran.err) == (0, "")
    return json.loads(ran.out)


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", ON_A_FILE)
def test_every_page_fits_a_terminal_in_both_units(
    capsys: pytest.CaptureFixture[str], name: str, units: str, example: Path
) -> None:
    ran = command(capsys, name, example, "--units", units)
    assert (ran.code, ran.err) == (0, "")
    assert [line for line in ran.out.splitlines() if len(line) > 80] == []
    assert ran.out.endswith("\n")
    assert not ran.out.endswith("\n\n")
    assert not ran.out.startswith("\n")


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
@pytest.mark.parametrize("name", ON_A_FILE)
def test_every_page_shows_the_usual_cautions(
    capsys: pytest.CaptureFixture[str], name: str, example: Path
) -> None:
    page = command(capsys, name, example).out
    assert "Local codes and licensed practice come before anything said here." in page
    if name in {"board", "forecast", "shape-to-bend", "tune"}:
        assert "Wood dust harms lungs" in page
    if name in {"fit", "forecast", "shape-to-bend"}:
        assert "can break without warning" in page


# What a maker wants to know first.
@pytest.mark.parametrize(("name", "first"), [
    ("fit", r"Carve the touring paddle \d+ mm \(.* in\) long, \d+ mm wide"),
    ("board", r"This board of western redcedar: use"),
    ("forecast", r"Marsh Tern: the tip sinks \d\d\.\d mm \(.* in\) under 10 lb \(44\.5 N\)"),
    ("shape-to-bend", r"For 33\.0 mm at the tip under 10 lb \(44\.5 N\): these crowns, \d+ g"),
    ("tune", r"Plane both blades as below, then measure again\."),
])
def test_the_first_line_is_the_answer(
    capsys: pytest.CaptureFixture[str], name: str, first: str
) -> None:
    assert re.fullmatch(first, command(capsys, name, MARSH_TERN).out.splitlines()[0])


def test_a_file_in_inches_is_answered_in_inches(capsys: pytest.CaptureFixture[str]) -> None:
    own = command(capsys, "forecast", LOW_SKERRY).out
    assert own == command(capsys, "forecast", LOW_SKERRY, "--units", "in").out
    assert "lb" in own
    assert "station (in)" in own
    assert "station (mm)" in command(capsys, "forecast", LOW_SKERRY, "--units", "mm").out


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
@pytest.mark.parametrize("name", ON_A_FILE)
def test_every_number_of_the_data_has_a_unit_in_its_key(
    capsys: pytest.CaptureFixture[str], name: str, example: Path
) -> None:
    paths = set(numbers(parsed(capsys, name, example)))
    assert len(paths) > 5
    assert [path for path in paths if not names_its_unit(path)] == []


def test_the_rule_about_units_can_fail() -> None:
    data = {"length": 2.2, "width_m": {"a": {"value": 1.0}}, "heights": [{"value": 3}], "b": 1}
    assert {p for p in numbers(data) if not names_its_unit(p)} == {
        ("length",), ("heights", "value"), ("b",)
    }


def test_the_data_of_a_doubtful_board_has_units_too(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = tmp_path / "design.toml"
    text = MARSH_TERN.read_text(encoding="utf-8")
    path.write_text(text.replace('"34 Hz"', '"27 Hz"').replace("sinks = 1.7", "sinks = 1.2"),
                    encoding="utf-8")
    data = parsed(capsys, "board", path)
    assert data["contradictions"]
    assert data["verdict"] == "use with care"
    assert [p for p in numbers(data) if not names_its_unit(p)] == []
    page = command(capsys, "forecast", path).out
    assert "USE WITH CARE:" in page
    assert "both can't be right" in page


@pytest.mark.parametrize("name", ON_A_FILE)
def test_the_data_is_the_same_in_both_units(
    capsys: pytest.CaptureFixture[str], name: str
) -> None:
    in_mm = parsed(capsys, name, MARSH_TERN, "--units", "mm")
    assert in_mm == parsed(capsys, name, MARSH_TERN, "--units", "in")


def test_the_data_says_what_the_page_says(capsys: pytest.CaptureFixture[str]) -> None:
    data, page = parsed(capsys, "forecast", MARSH_TERN), command(capsys, "forecast", MARSH_TERN).out
    result = data["result"]
    assert f"the tip sinks {1e3 * result['a']['line']['tip_deflection_m']:.1f} mm" in page
    assert f"weighs {1e3 * result['mass']['mass_kg']:.0f} g bare" in page
    weakest = min(result["a"]["margins"], key=lambda margin: margin["margin"])
    assert f"{weakest['case']}" in page
    assert f"{weakest['margin']:.2f}  {weakest['kind']}" in page


def test_species_are_listed_as_a_page_and_as_data(capsys: pytest.CaptureFixture[str]) -> None:
    data, page = parsed(capsys, "species"), command(capsys, "species").out
    assert len(data) > 30
    assert [wood["id"] for wood in data if wood["id"] not in page] == []
    assert [path for path in numbers(data) if not names_its_unit(path)] == []
    in_inches = command(capsys, "species", "--units", "in").out
    assert "Mpsi" in in_inches
    assert [line for line in (page + in_inches).splitlines() if len(line) > 80] == []


def test_the_schema_is_printed_with_or_without_json(capsys: pytest.CaptureFixture[str]) -> None:
    plain = command(capsys, "schema")
    assert plain == command(capsys, "schema", "--json")
    assert json.loads(plain.out)["title"] == "DesignFile"


@pytest.mark.parametrize("example", EXAMPLES, ids=IDS)
def test_a_sheet_is_written_and_named(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, example: Path
) -> None:
    ran = command(capsys, "sheet", example, "--out", tmp_path / "new" / "folder")
    assert (ran.code, ran.err) == (0, "")
    named = [Path(line) for line in ran.out.splitlines()]
    assert sorted(named) == sorted((tmp_path / "new" / "folder").iterdir())
    assert {path.suffix for path in named} == {".svg", ".pdf"}
    assert next(p for p in named if p.suffix == ".pdf").read_bytes().startswith(b"%PDF-")
    assert "<svg" in next(p for p in named if p.suffix == ".svg").read_text(encoding="utf-8")


def test_a_sheet_goes_where_one_stands_unless_told_otherwise(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    data = parsed(capsys, "sheet", MARSH_TERN)
    assert sorted(data["paths"]) == sorted(path.name for path in tmp_path.iterdir())


def test_the_demo_ends_with_a_page_and_the_paths_of_what_it_wrote(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    ran = command(capsys, "demo", "--report")
    assert (ran.code, ran.err) == (0, "")
    page, written = ran.out.split("\nWritten\n-------\n")
    paths = [Path(line.strip()) for line in written.splitlines()]
    assert sorted(paths) == sorted(Path("out/demo").iterdir())
    assert paths
    assert page.startswith("Marsh Tern")
    assert "invented" in page.splitlines()[0]
    assert [line for line in ran.out.splitlines() if len(line) > 80] == []
    assert parsed(capsys, "demo")["paths"] == [str(path) for path in paths]


def test_what_the_demo_writes_can_be_read_again(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    command(capsys, "demo", "--report", "--out", tmp_path, "--units", "in")
    assert load_design(tmp_path / "marsh_tern.toml").name == "Marsh Tern"
    assert load_design(tmp_path / "marsh_tern_wanted.toml").name == "Marsh Tern"
    assert "in" in (tmp_path / "1-fit.txt").read_text(encoding="utf-8")


# ---- shape-to-bend --write ------------------------------------------------------------------


def comments(text: str) -> list[str]:
    return re.findall(r"#.*$", text, re.MULTILINE)


def tip_deflection_m(capsys: pytest.CaptureFixture[str], path: Path) -> float:
    value = parsed(capsys, "forecast", path)["result"]["a"]["line"]["tip_deflection_m"]
    return float(value)


@pytest.mark.parametrize(("example", "sinks_m", "share"), [
    # Crowns are written to 0.1 mm: 0.05 mm of 13 mm is 0.4 % of a crown, 1.2 % of EI, and the
    # six roundings go either way. The tables' forecast also takes the deep-bend line.
    (MARSH_TERN, 0.030, 0.01),
    # To 1/64 in: 0.2 mm of 13 mm is 1.5 % of a crown, 4.6 % of EI.
    (LOW_SKERRY, 0.018, 0.04),
], ids=IDS[::-1])
def test_a_written_design_keeps_its_comments_and_bends_as_wanted(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, example: Path, sinks_m: float, share: float
) -> None:
    new = tmp_path / "new.toml"
    wanted = f"{1e3 * sinks_m:g} mm"
    ran = command(capsys, "shape-to-bend", example, "--sinks", wanted, "--write", new)
    assert (ran.code, ran.err) == (0, f"wrote {new}\n")
    before, after = example.read_text(encoding="utf-8"), new.read_text(encoding="utf-8")
    assert comments(after) == comments(before)
    assert tip_deflection_m(capsys, new) == pytest.approx(sinks_m, rel=share)
    changed = [line for line in after.splitlines() if line not in before.splitlines()]
    assert [line for line in changed if not re.match(r'\s*("|crown|edge|sinks)', line)] == []


def test_a_written_design_has_the_new_target(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    new = tmp_path / "new.toml"
    command(capsys, "shape-to-bend", MARSH_TERN, "--sinks", "30 mm", "--under", "4 kg",
            "--write", new)
    target, old = load_design(new).wanted(), load_design(MARSH_TERN).wanted()
    assert target.deflection_m == 0.030
    assert target.load_n == pytest.approx(4 * 9.80665, rel=1e-15)  # one rounding
    assert (target.tolerance_m, target.progression) == (old.tolerance_m, old.progression)


def test_a_design_without_a_target_takes_it_from_the_command_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path, new = tmp_path / "design.toml", tmp_path / "new.toml"
    text = MARSH_TERN.read_text(encoding="utf-8")
    cut = text[text.index("[target]"):text.index("[limits]")]
    path.write_text(text.replace(cut, ""), encoding="utf-8")
    assert command(capsys, "shape-to-bend", path, "--under", "10 lb").code == 2
    ran = command(capsys, "shape-to-bend", path, "--sinks", "34 mm", "--write", new)
    assert ran.code == 0
    assert load_design(new).wanted().deflection_m == 0.034


def test_a_design_may_be_written_over_itself(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = copied(MARSH_TERN, tmp_path)
    path.chmod(0o600)
    command(capsys, "shape-to-bend", path, "--write", path)
    assert list(tmp_path.iterdir()) == [path]
    assert tip_deflection_m(capsys, path) == pytest.approx(0.033, rel=0.01)  # as above
    once = path.read_bytes()
    command(capsys, "shape-to-bend", path, "--write", path)
    assert path.read_bytes() == once


def test_a_written_file_in_inches_has_the_wanted_crowns_to_half_a_sixty_fourth(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    new = tmp_path / "new.toml"
    command(capsys, "shape-to-bend", LOW_SKERRY, "--sinks", "3/4", "--write", new)
    wanted = parsed(capsys, "shape-to-bend", LOW_SKERRY, "--sinks", "3/4")["blade_a"]["stations"]
    stations = load_design(new).paddle.a.stations
    for station, aim in zip(stations, wanted, strict=True):
        assert station.crown == pytest.approx(aim["crown_m"], abs=METRE_PER_INCH / 128 + 1e-12)
        assert station.name == aim["name"]
    assert [s.x for s in stations] == [s.x for s in load_design(LOW_SKERRY).paddle.a.stations]


def test_unlike_blades_are_both_shaped_and_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path, new = tmp_path / "design.toml", tmp_path / "new.toml"
    text = MARSH_TERN.read_text(encoding="utf-8")
    blade = text[text.index("[blade]"):text.index("[target]")]
    other = blade.replace("[blade]", "[blade_b]").replace("73, 82, 83", "70, 78, 79")
    path.write_text(text.replace("[target]", f"{other}[target]"), encoding="utf-8")
    page = command(capsys, "shape-to-bend", path, "--write", new).out
    assert "Blade A" in page
    assert "Blade B" in page
    data = parsed(capsys, "forecast", new)["result"]
    for side in ("a", "b"):  # 1 %: crowns to 0.1 mm, as above
        assert data[side]["line"]["tip_deflection_m"] == pytest.approx(0.033, rel=0.01)
    assert data["a"]["line"] != data["b"]["line"]


# ---- help, exit codes, speed ----------------------------------------------------------------


def every_error(root: type[errors.SpringloomError]) -> set[type[errors.SpringloomError]]:
    found = {root}
    for child in root.__subclasses__():
        found |= every_error(child)
    return found


def test_help_states_the_exit_codes_that_errors_have(capsys: pytest.CaptureFixture[str]) -> None:
    told = re.findall(r"^  (\d+)  +(\S.*)$", command(capsys, "--help").out, re.MULTILINE)
    codes = {error.exit_code for error in every_error(errors.SpringloomError)}
    assert {int(code) for code, _ in told} == codes | {0, 130}
    assert len(told) == len(codes) + 2


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    said = command(capsys, "--help").out
    assert [name for name in COMMANDS if f"\n  {name} " not in said] == []
    for name in COMMANDS:
        one = command(capsys, name, "--help")
        assert one.code == 0
        assert ("--json" in one.out) == (name != "serve")  # which answers by its pages
        assert one.out.startswith(f"usage: springloom {name}")


def test_the_version_is_the_packages(capsys: pytest.CaptureFixture[str]) -> None:
    assert command(capsys, "--version").out == f"springloom {__version__}\n"


@pytest.mark.parametrize("words", [["--help"], ["tune", "--help"], ["--version"]])
def test_help_comes_at_once(words: list[str]) -> None:
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-m", "springloom.cli", *words], check=True,
                       stdout=subprocess.DEVNULL)
        taken.append(time.perf_counter() - start)
    assert statistics.median(taken) < 0.2  # s, as promised


def test_help_loads_nothing_heavy() -> None:
    script = (
        "import sys\nfrom springloom.cli import main\n"
        "try: main(['--help'])\nexcept SystemExit: pass\n"
        "print([m for m in ('numpy', 'scipy', 'pydantic', 'tomlkit', 'reportlab', 'tqdm') "
        "if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True,
                          check=True)
    assert done.stdout.endswith("\n[]\n")


# ---- streams --------------------------------------------------------------------------------


def program(*words: str | Path, **options: Any) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([sys.executable, "-m", "springloom.cli", *map(str, words)],
                          check=False, stderr=subprocess.PIPE, **options)


@pytest.mark.parametrize("words", [["species"], ["--help"], ["forecast", MARSH_TERN, "--json"]])
def test_a_reader_that_goes_away_is_no_fault(words: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = program(*words, stdout=writing)
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


class Full(io.StringIO):
    """A stream onto a disk without room."""

    def __init__(self, file: IO[bytes]) -> None:
        super().__init__()
        self.file = file

    def fileno(self) -> int:
        return self.file.fileno()

    def write(self, _: str) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")


def test_a_full_disk_is_told(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with (tmp_path / "out").open("wb") as file:
        monkeypatch.setattr(sys, "stdout", Full(file))
        code = main(["species"])
        monkeypatch.undo()
    assert code == errors.OutputError.exit_code
    assert capsys.readouterr().err == (
        "springloom: standard output: can't be written: No space left on device; "
        "allowed: a place with room\n"
    )


def test_a_terminal_that_knows_few_letters_still_shows_the_page() -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    done = program("tune", MARSH_TERN, stdout=subprocess.PIPE, env=environment)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"is to sink 33.0 mm ? 1.5 mm" in done.stdout


def test_ctrl_c_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("springloom.records.design.load_design", interrupt)
    ran = command(capsys, "forecast", MARSH_TERN)
    assert (ran.code, ran.out, ran.err) == (130, "", "springloom: stopped\n")


class Terminal(io.StringIO):
    """A text stream that says it is a terminal, or not."""

    def __init__(self, *, is_one: bool) -> None:
        super().__init__()
        self.is_one = is_one

    def isatty(self) -> bool:
        return self.is_one


@pytest.mark.parametrize(("is_terminal", "seconds", "shows"), [
    (True, 1.3, True), (True, 0.0, False), (False, 1.3, False),
])
def test_a_bar_shows_on_a_terminal_once_the_work_has_taken_a_second(
    monkeypatch: pytest.MonkeyPatch, is_terminal: bool, seconds: float, shows: bool
) -> None:
    stream = Terminal(is_one=is_terminal)
    monkeypatch.setattr(sys, "stderr", stream)
    done = []
    for item in files.progress([1, 2, 3], "drawing"):
        time.sleep(seconds / 2)
        done.append(item)
    assert done == [1, 2, 3]
    assert ("drawing" in stream.getvalue()) == shows


def test_main_takes_the_words_of_the_process_when_given_none(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "argv", ["springloom", "species", "--json"])
    assert main() == 0
    assert json.loads(capsys.readouterr().out)
