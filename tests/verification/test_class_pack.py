"""A class in one go: everybody's folder, one document whose contents lead to the right pages."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest
from pypdf.generic import Destination

from springloom.drawing.class_sheets import ClassText, Grid, table_sheets
from springloom.drawing.contents import Book, Part, book
from springloom.drawing.model import Drawing, Text
from springloom.drawing.paper import MARGIN_MM
from springloom.drawing.pdf import Jump, Mark, write_pdf
from springloom.errors import FileError, RangeError
from springloom.fit.bend import Target
from springloom.fit.scaled import CLASS_TARGET, free_length_m, scaled_target
from springloom.records.classfile import load_class, parse_class
from springloom.records.design import load_design
from springloom.report.all_sheets import SHEETS
from springloom.report.class_pack import COMBINED, ClassPack, class_pack
from springloom.report.class_words import buy_rows, class_text, fit_sheets, shopping_sheets
from springloom.report.classroom import Classroom, Purchase, classroom, shopping
from springloom.report.words import Words
from springloom.shape.paddle import default_paddle
from springloom.wood.stock import MARKETS
from tests.verification.command import EXAMPLES, MARSH_TERN, command
from tests.verification.drawing_readback import texts_of
from tests.verification.drawing_tidy import assert_tidy, beyond, crossed, overlapping
from tests.verification.test_classfile import CLASS, GOOD, HEAD

SMALL = f"{HEAD}\n{GOOD}\n,176 cm\nBob,5' 4\"\nEve,tall\nAda,1.82 m,,,storm,white_ash\n"


@pytest.fixture(scope="module")
def twelve() -> Classroom:
    return classroom(load_class(CLASS), None, "mm")


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> tuple[ClassPack, Path]:
    folder = tmp_path_factory.mktemp("class")
    source = folder / "spring_class.csv"
    source.write_text(SMALL, encoding="utf-8")
    return class_pack(source, folder / "out", Words("mm")), folder / "out"


def reader_of(folder: Path) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO((folder / COMBINED).read_bytes()))


def outline(reader: pypdf.PdfReader) -> Iterator[tuple[str, int, int]]:
    """Title, level and page number, counted from 1, of each line of the outline."""
    def walk(entries: object, level: int) -> Iterator[tuple[str, int, int]]:
        assert isinstance(entries, list)
        for entry in entries:
            if isinstance(entry, Destination):
                number = reader.get_destination_page_number(entry)
                assert number is not None
                yield str(entry.title), level, number + 1
            else:
                yield from walk(entry, level + 1)

    yield from walk(reader.outline, 0)


def test_bad_lines_are_told_and_the_rest_is_done(small: tuple[ClassPack, Path]) -> None:
    pack, folder = small
    assert [(b.line, b.error.field) for b in pack.room.bad] == [(3, "name"), (5, "height")]
    assert [s.row.name for s in pack.room.students] == ["Ada", "Bob", "Ada"]
    assert sorted(p.name for p in folder.iterdir()) == ["01-ada", "02-bob", "03-ada", COMBINED]
    for name in ("01-ada", "02-bob", "03-ada"):
        assert {p.name for p in (folder / name).iterdir()} == {
            "design.toml", *(f"{maker.key}.pdf" for maker in SHEETS)}
    text = reader_of(folder).pages[1].extract_text()
    assert "line 3" in text
    assert "line 5 (Eve)" in text


def test_contents_lead_to_the_pages_they_name(small: tuple[ClassPack, Path]) -> None:
    """Page by page: the title beside each number stands at the head of that very page."""
    reader = reader_of(small[1])
    found = list(outline(reader))
    assert found[0] == ("Contents", 0, 1)
    names = [title for title, level, _ in found if level == 0]
    assert names == ["Contents", "Fit table", "Shopping and cut list", "Ada", "Bob", "Ada"]
    kinds = {"Fit table": "Fit table", "Shopping and cut list": "Shopping and cut list",
             "Cut list": "Cut list", "Bend sheet and card": "Bend sheet"}
    owner = ""
    for title, level, number in found[1:]:
        page = reader.pages[number - 1].extract_text()
        if level == 0:
            owner = title
        if title in kinds:
            assert kinds[title] in page
        if level == 1:
            assert owner in page
    starts = [number for _, _, number in found]
    assert starts == sorted(starts)


def test_contents_page_says_what_the_outline_says(small: tuple[ClassPack, Path]) -> None:
    reader = reader_of(small[1])
    text = " ".join(reader.pages[0].extract_text(extraction_mode="layout").split())
    at = 0
    for title, _, number in list(outline(reader))[1:]:
        found = text.find(f"{title} {number} ", at)
        assert found >= at, title
        at = found + 1


def test_every_line_of_the_contents_is_a_link_to_its_page(small: tuple[ClassPack, Path]) -> None:
    reader = reader_of(small[1])
    pages = {page.indirect_reference.idnum: n  # type: ignore[union-attr]  # pages have one
             for n, page in enumerate(reader.pages, 1)}
    links = []
    for note in reader.pages[0]["/Annots"]:  # type: ignore[attr-defined]  # an array
        link = note.get_object()
        links.append((float(link["/Rect"][0]), -float(link["/Rect"][1]),
                      pages[link["/Dest"][0].idnum]))
    expected = [number for _, _, number in list(outline(reader))[1:]]
    assert [number for _, _, number in sorted(links)] == expected


def test_every_page_carries_its_own_number(small: tuple[ClassPack, Path]) -> None:
    reader = reader_of(small[1])
    count = len(reader.pages)
    for n, page in enumerate(reader.pages, 1):
        assert f"{n} of {count}" in page.extract_text().replace("\n", " ")


def test_a_students_pages_are_those_of_the_folder(small: tuple[ClassPack, Path]) -> None:
    _, folder = small
    reader = reader_of(folder)
    starts = [number for title, level, number in outline(reader) if level == 0]
    sheets = [sum(len(pypdf.PdfReader(f).pages) for f in (folder / name).glob("*.pdf"))
              for name in ("01-ada", "02-bob", "03-ada")]
    assert [b - a for a, b in zip(starts[-3:], [*starts[-2:], len(reader.pages) + 1],
                                  strict=True)] == sheets


@pytest.mark.parametrize("count", [0, 1, 85, 95, 300])
def test_contents_of_any_length_number_their_pages_right(count: int) -> None:
    """Each part has two pages, so part n begins after the contents on page 2n + 1."""
    def page(name: str) -> Drawing:
        return Drawing(100.0, 100.0, name, (Text(10.0, 50.0, name),))

    parts = [Part(f"Part {n}", (page(f"p{n}a"), page(f"p{n}b")), n % 2) for n in range(count)]
    made: Book = book("Trial", "of contents", parts)
    contents = len(made.drawings) - 2 * count
    assert contents == max(1, -(-count // 88))  # two columns of 44 lines on A4
    assert [mark.page for mark in made.marks[1:]] == [contents + 2 * n for n in range(count)]
    assert [jump.to for jump in made.jumps] == [contents + 2 * n for n in range(count)]
    for mark in made.marks[1:]:
        assert made.drawings[mark.page].title == f"p{mark.title.removeprefix('Part ')}a"
    for drawing in made.drawings[:contents]:
        assert overlapping(drawing) == []
        assert crossed(drawing) == []
        numbers = [t for t in texts_of(drawing) if t.layer == "page-number"]
        assert [t.string for t in numbers] == [
            f"{made.drawings.index(drawing) + 1} of {len(made.drawings)}"]


def test_links_and_lines_of_an_outline_must_lead_somewhere() -> None:
    page = Drawing(100.0, 100.0, "one", (Text(10.0, 50.0, "one"),))
    with pytest.raises(RangeError):
        write_pdf([page], marks=[Mark("two", 1)])
    with pytest.raises(RangeError):
        write_pdf([page], jumps=[Jump(0, page.page, 3)])


def test_the_twelve_are_all_done_and_bend_as_wanted(twelve: Classroom) -> None:
    assert (len(twelve.students), twelve.bad) == (12, ())
    for student in twelve.students:
        assert student.made.deflection_m == pytest.approx(student.target.deflection_m, rel=1e-6)
        half = student.design.paddle.a
        assert student.design.paddle.length == pytest.approx(student.fitted.value_m("length"))
        assert max(s.crown for s in half.stations) <= max(
            half.loom.thickness, student.design.limits.blank) + 1e-9


def test_targets_keep_the_curvature_for_every_size() -> None:
    """The same curvature over k times the length sinks the tip k² as far; so do both blades of
    one paddle made twice as long at the same EI·κ: M/EI = κ."""
    half = default_paddle().a
    for length in (1.7, 2.0, 2.4):
        other = default_paddle(length).a
        ratio = free_length_m(other) / free_length_m(half)
        made = scaled_target(CLASS_TARGET, other)
        assert made.deflection_m == pytest.approx(ratio**2 * CLASS_TARGET.deflection_m)
        assert (made.load_n, made.progression) == (CLASS_TARGET.load_n, CLASS_TARGET.progression)
    assert scaled_target(CLASS_TARGET, half).deflection_m == CLASS_TARGET.deflection_m
    assert scaled_target(Target(0.02), other, other).deflection_m == pytest.approx(0.02)


def test_wood_comes_from_the_line_else_from_the_class(twelve: Classroom) -> None:
    species = [s.design.board.species for s in twelve.students if s.design.board]
    assert species.count("western_redcedar") == 9
    assert species.count("sitka_spruce") == 2
    assert species.count("yellow_cedar") == 1
    owned = [s.row.name for s in twelve.students if not s.design.board_assumed]
    assert owned == ["Invented Cedar", "Invented Larch"]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda p: p.stem)
def test_a_base_design_lends_its_wood_target_and_limits(example: Path) -> None:
    base = load_design(example)
    room = classroom(parse_class("name,height\nAda,176 cm\n"), base, base.units)
    (student,) = room.students
    assert student.design.limits.least_edge == base.limits.least_edge
    assert student.design.layup == base.layup
    assert base.target is not None
    ratio = free_length_m(student.design.paddle.a) / free_length_m(base.paddle.a)
    assert student.target.deflection_m == pytest.approx(ratio**2 * base.target.deflection_m)
    if base.layup is None:
        assert student.design.board == base.board
        assert student.design.build == base.build


@pytest.mark.parametrize("market", MARKETS)
def test_all_but_owned_blanks_are_bought_once(market: str, twelve: Classroom) -> None:
    found = shopping(twelve.students, market)  # type: ignore[arg-type]  # one of MARKETS
    labels = sorted(p.item.label for purchase in found for board in purchase.boards or ()
                    for p in board.placed)
    wanted = sorted(f"{s.row.name} blank" for s in twelve.students if not s.row.owns_board)
    assert labels == wanted


def test_two_of_one_name_are_told_apart(small: tuple[ClassPack, Path]) -> None:
    students = [replace(s, row=replace(s.row, owns_board=False)) for s in small[0].room.students]
    labels = {p.item.label for purchase in shopping(students, "metric")
              for board in purchase.boards or () for p in board.placed}
    assert labels == {"Ada (line 2) blank", "Bob blank", "Ada (line 6) blank"}


def test_a_wood_nobody_sells_thick_enough_is_told() -> None:
    rows = buy_rows([Purchase("white ash", None)], Words("mm"))
    assert "no section is thick and wide enough" in rows[0]
    assert rows[-1][0] == "together"


def test_a_target_no_blade_can_meet_is_a_bad_line() -> None:
    base = load_design(MARSH_TERN)
    stiff = replace(base, target=Target(0.002))
    room = classroom(parse_class(f"{HEAD}\n{GOOD}\n"), stiff, "mm")
    assert room.students == ()
    assert "inside the limits" in str(room.bad[0])


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("page", ["a4", "letter"])
def test_no_word_is_in_the_way_on_the_classes_sheets(units: str, page: str,
                                                     twelve: Classroom) -> None:
    words = Words(units)  # type: ignore[arg-type]  # one of the two
    text = class_text("Class of twelve", twelve, words)
    drawings = (*fit_sheets(text, twelve, words, page),  # type: ignore[arg-type]  # a page
                *shopping_sheets(text, twelve, words, page))  # type: ignore[arg-type]  # a page
    assert len(drawings) >= 3
    for drawing in drawings:
        assert_tidy(drawing, MARGIN_MM - 0.1)


def test_long_names_and_many_rows_stay_on_the_sheet() -> None:
    text = ClassText("A class with a name as long as the winter before it " * 4, "x" * 300,
                     notes=("word " * 80,), missing=("line 3: " + "y" * 400,) * 30)
    grid = Grid("Names", (("Name", "", True), ("Length", "mm", False), ("Wood", "", True)),
                tuple((f"{'Long name ' * 12}{n}", "2240", "western redcedar") for n in range(90)))
    drawings = table_sheets(text, "Fit table", [grid])
    assert len(drawings) > 4
    for drawing in drawings:
        assert overlapping(drawing) == []
        assert beyond(drawing, drawing.page.grown(-MARGIN_MM + 0.1)) == []


def test_numbers_of_pages_stand_clear_of_every_sheet(small: tuple[ClassPack, Path]) -> None:
    room = small[0].room
    student = room.students[0]
    for maker in SHEETS:
        for drawing in maker.make(student.design, Words("mm"), "a4"):
            (made,) = book("Trial", "", [Part("x", (drawing,))]).drawings[1:]
            number = next(t for t in texts_of(made) if t.layer == "page-number")
            assert all(number.string not in pair for pair in overlapping(made))
            assert all(pair[1] != number.string for pair in crossed(made))


def test_the_command_writes_all_and_answers_with_two_for_bad_lines(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    source = tmp_path / "class.csv"
    source.write_text(SMALL, encoding="utf-8")
    ran = command(capsys, "class", source, "--out", tmp_path / "out", "--page", "letter")
    assert ran.code == 2
    assert "2 of 5 lines could not be used, the rest is done" in ran.err
    assert len(ran.err.splitlines()) == 1
    assert "line 5 (Eve)" in ran.out
    assert (tmp_path / "out" / COMBINED).exists()


def test_the_command_answers_with_data_when_asked(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    source = tmp_path / "class.csv"
    source.write_text(f"{HEAD}\n{GOOD}\n", encoding="utf-8")
    ran = command(capsys, "class", source, "--out", tmp_path / "out", "--design", MARSH_TERN,
                  "--json")
    assert (ran.code, ran.err) == (0, "")
    data = json.loads(ran.out)
    assert data["students"][0]["name"] == "Ada"
    assert all(Path(path).exists() for path in data["paths"])


def test_a_class_without_one_good_line_writes_nothing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    source = tmp_path / "class.csv"
    source.write_text(f"{HEAD}\nAda,tall\n", encoding="utf-8")
    with pytest.raises(FileError, match="no line can be used"):
        class_pack(source, tmp_path / "out", Words("mm"))
    ran = command(capsys, "class", source, "--out", tmp_path / "out")
    assert (ran.code, ran.out) == (2, "")
    assert "line 2 (Ada): height" in ran.err
    assert not (tmp_path / "out").exists()


def test_a_place_that_can_not_be_written_is_told_and_nothing_is_left(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    source = tmp_path / "class.csv"
    source.write_text(f"{HEAD}\n{GOOD}\n", encoding="utf-8")
    ran = command(capsys, "class", source, "--out", source)
    assert (ran.code, ran.out) == (5, "")
    assert sorted(tmp_path.iterdir()) == [source]
