"""A class file: what is read, and what every bad line is answered with."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from springloom.errors import FileError, InputError, UnknownNameError
from springloom.records.classfile import (
    BOARD_COLUMNS,
    COLUMNS,
    MOST_STUDENTS,
    load_class,
    parse_class,
)
from springloom.records.design import load_design
from springloom.records.layout import Paddler
from springloom.records.student_file import design_text
from springloom.report.classroom import classroom

CLASS = Path(str(resources.files("springloom.examples") / "class_of_twelve.csv"))
HEAD = ("name,height,arm_span,boat_beam,use,species,board_length,board_width,board_thickness,"
        "board_weight,moisture,rings")
GOOD = "Ada,176 cm,178 cm,54 cm,touring,,,,,,,"

BAD_ROWS = [
    # cells of the line, the column the error names, what it says
    (",176 cm,,,,,,,,,,", "name", "is missing"),
    ("Ada,,,,,,,,,,,", "height", "is missing"),
    ("Ada,tall,,,,,,,,,,", "height", "does not begin with a number"),
    ("Ada,176 kg,,,,,,,,,,", "height", "is a mass (kg), not a length"),
    ("Ada,-176 cm,,,,,,,,,,", "height", "zero or more"),
    ("Ada,17.6 cm,,,,,,,,,,", "height", "1200 to 2300 mm"),
    ('Ada,"1,76 m",,,,,,,,,,', "height", "has a comma"),
    ("Ada,nan,,,,,,,,,,", "height", "finite"),
    ("Ada,5 ft 13 in,,,,,,,,,,", "height", "12 in or more"),
    ("Ada,176 cm,90 cm,,,,,,,,,", "arm_span", "check the tape"),
    ("Ada,176 cm,178,,,,,,,,,", "arm_span", "900 to 2800 mm"),
    ("Ada,176 cm,,5.4 m,,,,,,,,", "boat_beam", "380 to 1000 mm"),
    ("Ada,176 cm,,,racing,,,,,,,", "use", "touring"),
    ("Ada,176 cm,,,,oak_tree,,,,,,", "species", "is unknown"),
    ("Ada,176 cm,,,,western_redceder,,,,,,", "species", "did you mean 'western_redcedar'"),
    ("Ada,176 cm,,,,western_redcedar,2440,,40,,,", "board_width", "is missing"),
    ("Ada,176 cm,,,,,2440,89,40,,,", "species", "is missing"),
    ("Ada,176 cm,,,,western_redcedar,2440,40,89,,,", "board_thickness", "more than the width"),
    ("Ada,176 cm,,,,western_redcedar,2440,89,40,3.23,,", "board_weight", "needs a unit"),
    ("Ada,176 cm,,,,western_redcedar,2440,89,40,32 kg,,", "board_weight", "does not go with"),
    ("Ada,176 cm,,,,western_redcedar,2440,89,40,,1100 %,", "moisture", "%"),
    ("Ada,176 cm,,,,western_redcedar,2440,89,40,,,upright", "rings", "flat"),
    ("Ada,176 cm,,,,,,,,,,,,extra", "", "more cells than the heading"),
    ('"A\tda",176 cm,,,,,,,,,,', "name", "printable"),
    (f"{'x' * 121},176 cm,,,,,,,,,,", "name", "too long"),
]


@pytest.mark.parametrize(("cells", "column", "says"), BAD_ROWS)
def test_a_bad_line_is_told_by_its_number_and_the_rest_is_read(cells: str, column: str,
                                                               says: str) -> None:
    read = parse_class(f"{HEAD}\n{GOOD}\n{cells}\n{GOOD.replace('Ada', 'Bob')}\n")
    assert [row.name for row in read.rows] == ["Ada", "Bob"]
    assert [row.line for row in read.rows] == [2, 4]
    (bad,) = read.bad
    assert bad.line == 3
    assert bad.error.field == column
    assert says in str(bad)
    assert str(bad).startswith("line 3")
    assert isinstance(bad.error, InputError) or says == "does not go with"


def test_lines_are_counted_as_an_editor_counts_them() -> None:
    """Remarks, empty lines and a cell that goes on over two lines all count."""
    text = (f'# remark\n\n{HEAD},note\n{GOOD},"two\nlines"\n# another\n\n{GOOD},\n'
            f"Eve,tall,,,,,,,,,,,\n")
    read = parse_class(text)
    assert [row.line for row in read.rows] == [4, 8]
    assert [bad.line for bad in read.bad] == [9]
    assert read.rows[0].note == "two\nlines"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_spreadsheets_of_every_country_are_read(delimiter: str, ends: str) -> None:
    text = ends.join((HEAD, GOOD)).replace(",", delimiter)
    (row,) = parse_class(text).rows
    assert (row.name, row.use) == ("Ada", "touring")
    assert (row.body.height_m, row.boat.beam_m) == pytest.approx((1.76, 0.54))


def test_a_byte_order_mark_is_no_part_of_the_heading(tmp_path: Path) -> None:
    path = tmp_path / "class.csv"
    path.write_bytes(b"\xef\xbb\xbf" + f"{HEAD}\n{GOOD}\n".encode())
    assert len(load_class(path).rows) == 1


@pytest.mark.parametrize("head", ["Name,HEIGHT,Arm Span", "name,height,arm-span",
                                  " name , height ,arm_span"])
def test_headings_may_be_written_as_people_do(head: str) -> None:
    (row,) = parse_class(f"{head}\nAda,176 cm,178 cm\n").rows
    assert row.body.arm_span_m == pytest.approx(1.78)


def test_feet_and_inches_are_read_with_and_without_quotes() -> None:
    read = parse_class("name,height\nAda,\"5' 7 1/2\"\"\"\nBob,5' 7 1/2\"\nEve,67 1/2\n")
    assert [row.body.height_m for row in read.rows] == pytest.approx([67.5 * 0.0254] * 3)


def test_a_bare_number_is_in_the_units_asked_for() -> None:
    (metric,) = parse_class("name,height\nAda,1760\n", "mm").rows
    (inches,) = parse_class("name,height\nAda,69\n", "in").rows
    assert metric.body.height_m == pytest.approx(1.76)
    assert inches.body.height_m == pytest.approx(69 * 0.0254)


def test_short_lines_leave_their_last_cells_empty() -> None:
    (row,) = parse_class(f"{HEAD}\nAda,176 cm\n").rows
    assert (row.body.arm_span_m, row.board, row.owns_board) == (None, None, False)


def test_a_wood_without_sizes_is_asked_for_and_not_owned() -> None:
    (row,) = parse_class(f"{HEAD}\nAda,176 cm,,,,sitka_spruce\n").rows
    assert row.board is not None
    assert (row.board.species, row.owns_board) == ("sitka_spruce", False)


@pytest.mark.parametrize(("text", "error", "says"), [
    ("", FileError, "is empty"),
    ("# nothing\n\n", FileError, "is empty"),
    (f"{HEAD}\n", FileError, "has no students"),
    ("name,heigth\nAda,176 cm\n", UnknownNameError, "did you mean 'height'"),
    ("name,age\nAda,40\n", UnknownNameError, "is unknown"),
    ("name,use\nAda,touring\n", InputError, "is missing: height"),
    ("height,use\n176 cm,touring\n", InputError, "is missing: name"),
    ("name,height,Height\nAda,1760,1760\n", InputError, "is there twice"),
    ('name,height\n"Ada,1760\n', FileError, "is no CSV table"),
    ('name,height\n"Ada"x,1760\n', FileError, "is no CSV table"),
    ("name,height\n" + "Ada,176 cm\n" * (MOST_STUDENTS + 1), FileError, "too many lines"),
])
def test_a_file_that_is_no_class_is_refused(text: str, error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        parse_class(text)


@pytest.mark.parametrize(("content", "says"), [
    (None, "does not exist"), (b"\xff\xfe\x00", "is not text"),
])
def test_a_file_that_can_not_be_read_says_so(tmp_path: Path, content: bytes | None,
                                             says: str) -> None:
    path = tmp_path / "class.csv"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(FileError, match=says) as caught:
        load_class(path)
    assert "design file" not in str(caught.value)


def test_columns_are_those_of_the_design_file() -> None:
    assert set(Paddler.model_fields) < set(COLUMNS)
    assert set(BOARD_COLUMNS) < set(COLUMNS)


def test_the_demonstration_is_read_whole_and_says_it_is_invented() -> None:
    read = load_class(CLASS)
    assert (len(read.rows), len(read.bad)) == (12, 0)
    assert all(row.name.startswith("Invented ") for row in read.rows)
    assert "invented" in CLASS.read_text(encoding="utf-8").splitlines()[0]


def test_a_students_file_is_read_back_as_the_same_design(tmp_path: Path) -> None:
    room = classroom(load_class(CLASS), None, "mm")
    assert room.bad == ()
    for student in room.students:
        path = tmp_path / f"{student.row.line}.toml"
        path.write_text(design_text(student.row, student.design), encoding="utf-8")
        read = load_design(path)
        assert (read.body, read.boat, read.use) == (
            student.design.body, student.design.boat, student.design.use)
        assert read.name == student.row.name
        for mine, theirs in zip(read.paddle.a.stations, student.design.paddle.a.stations,
                                strict=True):
            # Sizes are written to a millionth of a mm, fullness to nine places.
            assert (mine.x, mine.width, mine.crown, mine.edge, mine.ridge) == pytest.approx(
                (theirs.x, theirs.width, theirs.crown, theirs.edge, theirs.ridge), abs=1e-8)
            assert mine.name == theirs.name
        assert read.wanted().deflection_m == pytest.approx(student.target.deflection_m, abs=1e-8)
        assert read.limits.blank == pytest.approx(student.design.limits.blank, abs=1e-8)
        assert read.board is not None
        assert student.design.board is not None
        assert read.board.species == student.design.board.species
        assert read.build == student.design.build
