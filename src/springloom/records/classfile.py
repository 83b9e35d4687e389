"""A class as a spreadsheet saves it: one student a line, CSV, units as typed.

The columns are the keys of a design file's [paddler] and [board]; only name and height are
needed. A line that can't be read is kept with its number and the reason; the others stand.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from springloom.errors import FileError, InputError, SpringloomError, known
from springloom.fit.body import Boat, Body, Use
from springloom.records.design import Design, design_from
from springloom.records.layout import Paddler
from springloom.records.reading import check_layout, read_text
from springloom.units import System
from springloom.wood.board import Board

MOST_STUDENTS = 200

BOARD_COLUMNS = {
    "species": "species", "grown": "grown", "board_length": "length", "board_width": "width",
    "board_thickness": "thickness", "board_weight": "weight", "moisture": "moisture",
    "grain_slope": "grain_slope", "rings": "rings",
}
"""Column: key of [board]."""

SIZES = ("board_length", "board_width", "board_thickness")
COLUMNS = ("name", *Paddler.model_fields, *BOARD_COLUMNS, "note")

_ALLOWED = 'lines of cells under a heading line such as "name,height,use"'
# A board that only stands for its wood: the size is never used.
_SOME_BOARD = {"length": "2.4 m", "width": "90 mm", "thickness": "40 mm"}


@dataclass(frozen=True, slots=True)
class ClassRow:
    """One student, in SI.

    Attributes:
        line: the line of the file, counted from 1.
        name: as typed.
        body, boat, use: the paddler.
        board: the student's own, or one that stands for the wood asked for; None for the
            class's.
        owns_board: whether it is the student's own.
        note: as typed.
        cells: what was typed, by column; empty cells left out.
    """

    line: int
    name: str
    body: Body
    boat: Boat
    use: Use
    board: Board | None
    owns_board: bool
    note: str
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class BadRow:
    """A line that could not be used, and why."""

    line: int
    name: str
    error: SpringloomError

    def __str__(self) -> str:
        """One line: where, who, what is wrong, what is allowed."""
        who = f" ({self.name})" if self.name else ""
        return f"line {self.line}{who}: {self.error}"


@dataclass(frozen=True, slots=True)
class ClassFile:
    """The students that could be read, and the lines that could not."""

    rows: tuple[ClassRow, ...]
    bad: tuple[BadRow, ...]


def load_class(path: Path, units: System = "mm") -> ClassFile:
    """Read a class file; ``units`` are those of a length without one.

    Raises:
        FileError: it is missing, too large, no text, no table, or has no students.
        InputError, UnknownNameError: a column is missing, unknown or there twice.
    """
    try:
        text = read_text(path)
    except FileError as error:
        raise FileError(error.message.replace("a design file", "a class file"), field=error.field,
                        given=error.given, allowed=_ALLOWED) from None
    return parse_class(text, units, str(path))


def parse_class(text: str, units: System = "mm", name: str = "class file") -> ClassFile:
    """Read a class from text; as :func:`load_class`."""
    lines = _records(text, name)
    heading = next(lines, None)
    if heading is None:
        raise FileError("is empty", field=name, allowed=_ALLOWED)
    columns = _columns(heading[1])
    rows: list[ClassRow] = []
    bad: list[BadRow] = []
    for number, cells in lines:
        if len(rows) + len(bad) == MOST_STUDENTS:
            raise FileError("has too many lines for a class", field=name,
                            allowed=f"at most {MOST_STUDENTS} students")
        try:
            typed = _typed(columns, cells)
            rows.append(class_row(number, typed, units))
        except SpringloomError as error:
            bad.append(BadRow(number, _name_in(columns, cells), error))
    if not rows and not bad:
        raise FileError("has no students", field=name, allowed=_ALLOWED)
    return ClassFile(tuple(rows), tuple(bad))


def _records(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """Yield the records that hold anything, with the line each begins on; # opens a remark."""
    stream = io.StringIO(text, newline="")
    reader = csv.reader(stream, delimiter=_delimiter(text), strict=True, skipinitialspace=True)
    start = 1
    try:
        for cells in reader:
            first, start = start, reader.line_num + 1
            filled = [cell.strip() for cell in cells]
            if any(filled) and not filled[0].startswith("#"):
                yield first, filled
    except csv.Error as error:
        raise FileError(f"is no CSV table: {error}", field=f"{name}, line {start}",
                        allowed=_ALLOWED) from None


def _delimiter(text: str) -> str:
    """Return comma, semicolon or tab, whichever the heading line has most of."""
    lines = (line for line in text.splitlines() if line.strip() and line.lstrip()[0] != "#")
    heading = next(lines, "")
    return max(",;\t", key=heading.count)


def _columns(cells: list[str]) -> list[str]:
    found: list[str] = []
    for cell in cells:
        column = "_".join(cell.lower().replace("-", " ").replace("_", " ").split())
        known(column, COLUMNS, "column")
        if column in found:
            raise InputError("is there twice", field="column", given=cell, allowed="one of each")
        found.append(column)
    for needed in ("name", "height"):
        if needed not in found:
            raise InputError(f"is missing: {needed}", field="column", allowed=", ".join(COLUMNS))
    return found


def _typed(columns: list[str], cells: list[str]) -> dict[str, str]:
    if len(cells) > len(columns):
        raise InputError("has more cells than the heading line", given=len(cells),
                         allowed=f"{len(columns)} (a comma inside a cell needs quotes around it)")
    return {column: cell for column, cell in zip(columns, cells, strict=False) if cell}


def _name_in(columns: list[str], cells: list[str]) -> str:
    at = columns.index("name")
    return cells[at] if at < len(cells) else ""


def class_row(line: int, typed: dict[str, str], units: System) -> ClassRow:
    """Read one student's cells.

    Args:
        line: of the file, or any number that tells students apart.
        typed: what was typed, by column; empty cells left out.
        units: of a length without one.

    Raises:
        InputError: a cell is missing or can't be; its field is the column.
    """
    for needed in ("name", "height"):
        if needed not in typed:
            raise InputError("is missing", field=needed, allowed="something in this cell")
    if not typed["name"].isprintable():
        raise InputError("must be one line of printable text", field="name", given=typed["name"])
    owns = _owns_board(typed)
    design = _checked(typed, units, owns)
    assert design.body is not None  # the layout has a [paddler]
    return ClassRow(line, typed["name"], design.body, design.boat, design.use, design.board, owns,
                    typed.get("note", ""), typed)


def _owns_board(typed: dict[str, str]) -> bool:
    given = [column for column in SIZES if column in typed]
    if given and len(given) < len(SIZES):
        missing = next(column for column in SIZES if column not in typed)
        raise InputError("is missing: a board has three sizes", field=missing,
                         allowed="a length, a width and a thickness, or none of them")
    of_board = [column for column in BOARD_COLUMNS if column in typed]
    if of_board and "species" not in typed:
        raise InputError("is missing: of which wood?", field="species",
                         allowed="a wood that `springloom species` lists")
    return bool(given)


def _checked(typed: dict[str, str], units: System, owns_board: bool) -> Design:
    """Read the cells as the tables of a design file, errors named by their columns."""
    paddler = {key: typed[key] for key in Paddler.model_fields if key in typed}
    layout: dict[str, Any] = {"format": 1, "name": typed["name"], "note": typed.get("note", ""),
                              "units": units, "paddler": paddler}
    board = {key: typed[column] for column, key in BOARD_COLUMNS.items() if column in typed}
    if board:
        layout["board"] = _SOME_BOARD | board
    try:
        design = design_from(check_layout(layout))
        if owns_board:
            _ = design.assessment  # a weight that is not of this wood and size is told now
    except SpringloomError as error:
        raise error.about(_column(error.field)) from None
    return design


def _column(field: str) -> str:
    """Return the column of a key of the design file."""
    table, _, key = field.partition(".")
    names = {key: column for column, key in BOARD_COLUMNS.items()}
    return names.get(key, field) if table == "board" else key or field
