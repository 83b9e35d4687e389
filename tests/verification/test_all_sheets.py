"""Every sheet by one command: all kinds in all formats, each readable, all written or none."""

from __future__ import annotations

import io
import json
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree as ET

import ezdxf
import pypdf
import pytest

from springloom.errors import UnknownNameError
from springloom.records.design import load_design
from springloom.report.all_sheets import (
    DRAWING_FORMATS,
    FORMATS,
    SHEETS,
    SOLIDS,
    chosen_formats,
    draw_all,
    write_plans,
)
from springloom.report.words import Words
from tests.verification.command import EXAMPLES, MARSH_TERN, command


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("plans")
    design = load_design(MARSH_TERN)
    return write_plans(design, Words(design.units), folder, "a4", ["all"])


def test_kinds_of_sheets_have_names_of_their_own() -> None:
    for field in ("key", "title"):
        assert max(Counter(getattr(maker, field) for maker in SHEETS).values()) == 1
    assert {"plan", "cut-list", "bend", "templates", "outline", "outline-tiles"} <= {
        maker.key for maker in SHEETS}
    assert {"step", "stl", "3mf", "glb"} == set(SOLIDS)


@pytest.mark.parametrize("page", ["a4", "letter"])
@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_every_kind_is_drawn_for_every_example(example: Path, page: str) -> None:
    design = load_design(example)
    words = Words(design.units)
    for maker, drawings in draw_all(design, words, page):  # type: ignore[arg-type]  # a page
        assert drawings, maker.key
        assert all(drawing.title.startswith(design.name) for drawing in drawings), maker.key


def test_every_kind_is_written_in_every_format(everything: list[Path]) -> None:
    names = {path.name for path in everything}
    for maker in SHEETS:
        assert f"marsh-tern-{maker.key}.pdf" in names
        for suffix in ("svg", "dxf"):
            assert any(name.startswith(f"marsh-tern-{maker.key}") and name.endswith(suffix)
                       for name in names)
    assert {f"marsh-tern.{suffix}" for suffix in SOLIDS} <= names


def test_a_drawing_has_as_many_files_as_pages(everything: list[Path]) -> None:
    for maker in SHEETS:
        base = f"marsh-tern-{maker.key}"
        pdf = next(path for path in everything if path.name == f"{base}.pdf")
        count = len(pypdf.PdfReader(pdf).pages)
        numbers = ["", *(f"-{n}" for n in range(1, count + 1))]
        for suffix in ("svg", "dxf"):
            found = [p for p in everything
                     if p.name in {f"{base}{number}.{suffix}" for number in numbers}]
            assert len(found) == count, (maker.key, suffix)


def test_every_file_is_what_its_name_says(everything: list[Path]) -> None:
    for path in everything:
        content = path.read_bytes()
        if path.suffix == ".pdf":
            reader = pypdf.PdfReader(io.BytesIO(content))
            assert str(reader.metadata.title).startswith("Marsh Tern") if reader.metadata else False
        elif path.suffix == ".svg":
            assert ET.fromstring(content).tag.endswith("svg")
        elif path.suffix == ".dxf":
            assert not ezdxf.filemanagement.readfile(path).audit().has_errors
        else:
            start = {".step": b"ISO-10303-21", ".stl": b"Springloom", ".3mf": b"PK",
                     ".glb": b"glTF"}[path.suffix]
            assert content.startswith(start)


@pytest.mark.parametrize(("asked", "found"), [
    ([], ("pdf",)), (["svg"], ("svg",)), (["dxf", "pdf", "dxf"], ("dxf", "pdf")),
    (["all"], FORMATS[:-1]), (["pdf", "all"], FORMATS[:-1]), (["step"], ("step",)),
])
def test_formats_asked_for(asked: list[str], found: tuple[str, ...]) -> None:
    assert chosen_formats(asked) == found


def test_an_unknown_format_is_refused_with_what_is_near() -> None:
    with pytest.raises(UnknownNameError, match="did you mean 'glb'"):
        chosen_formats(["glbf"])
    assert set(DRAWING_FORMATS) < set(FORMATS)


def test_only_a_solid_draws_nothing(tmp_path: Path) -> None:
    design = load_design(MARSH_TERN)
    paths = write_plans(design, Words("mm"), tmp_path, formats=["stl", "glb"])
    assert sorted(path.name for path in paths) == ["marsh-tern.glb", "marsh-tern.stl"]


def test_the_command_says_what_it_wrote(capsys: pytest.CaptureFixture[str],
                                        tmp_path: Path) -> None:
    ran = command(capsys, "plans", MARSH_TERN, "--out", tmp_path, "--page", "letter")
    assert (ran.code, ran.err) == (0, "")
    assert [Path(line) for line in ran.out.splitlines()] == [
        tmp_path / f"marsh-tern-{maker.key}.pdf" for maker in SHEETS]
    assert all(Path(line).exists() for line in ran.out.splitlines())
    again = command(capsys, "plans", MARSH_TERN, "--out", tmp_path, "--format", "stl", "--json")
    assert json.loads(again.out)["paths"] == [str(tmp_path / "marsh-tern.stl")]


@pytest.mark.parametrize(("words", "code", "says"), [
    (["--format", "dwg"], 2, "--format"), (["--page", "a3"], 2, "--page"), ([], 2, "--out"),
])
def test_slips_are_told_and_nothing_is_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: list[str], code: int, says: str
) -> None:
    out = ["--out", str(tmp_path / "out")] if words else []
    ran = command(capsys, "plans", MARSH_TERN, *out, *words)
    assert (ran.code, ran.out) == (code, "")
    assert says in ran.err
    assert not (tmp_path / "out").exists()


def test_a_place_that_can_not_be_written_leaves_nothing(capsys: pytest.CaptureFixture[str],
                                                        tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file", encoding="utf-8")
    ran = command(capsys, "plans", MARSH_TERN, "--out", blocked)
    assert (ran.code, ran.out) == (5, "")
    assert sorted(tmp_path.iterdir()) == [blocked]
