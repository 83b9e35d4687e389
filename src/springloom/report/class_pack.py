"""A class in one go: a folder of plans for each student, and all of it in one document."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from springloom.drawing.contents import Part, book
from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page
from springloom.drawing.pdf import write_pdf
from springloom.errors import FileError
from springloom.records.classfile import load_class
from springloom.records.design import Design
from springloom.records.student_file import design_text
from springloom.report.all_sheets import SHEETS, SheetMaker, sheet_files
from springloom.report.class_words import class_text, fit_sheets, shopping_sheets
from springloom.report.classroom import Classroom, Student, classroom
from springloom.report.files import file_stem, progress, write_all
from springloom.report.words import Words

COMBINED = "class.pdf"


@dataclass(frozen=True)
class ClassPack:
    """What was done and written."""

    title: str
    room: Classroom
    paths: tuple[Path, ...]


def class_pack(source: Path, folder: Path, words: Words, base: Design | None = None,
               page: Page = "a4") -> ClassPack:
    """Read a class file and write everybody's plans, all files or none.

    Args:
        source: the class file.
        folder: where to write: ``class.pdf``, and a folder for each student.
        words: units of reading bare numbers and of lettering.
        base: whose wood, target and limits serve for all.
        page: size of the small sheets.

    Raises:
        FileError: no line of the file could be used.
        OutputError: nothing was written.
    """
    room = classroom(load_class(source, words.system), base, words.system)
    if not room.students:
        raise FileError("no line can be used", field=f"{source}, {room.bad[0]}",
                        allowed="at least one student with a name and a height")
    title = source.stem.replace("_", " ").replace("-", " ").strip().capitalize() or "Class"
    files = pack_files(title, room, words, folder, page)
    return ClassPack(title, room, tuple(write_all(files)))


def pack_files(title: str, room: Classroom, words: Words, folder: Path,
               page: Page) -> dict[Path, bytes]:
    """Return all that is written for a class, by path."""
    steps = pack_steps(title, room, words, folder, page)
    files: dict[Path, bytes] = {}
    for _, made in progress(steps, "plans", step_count(room)):
        files |= made
    return files


def step_count(room: Classroom) -> int:
    """Return how many steps :func:`pack_steps` takes."""
    return len(room.students) + 1


def pack_steps(title: str, room: Classroom, words: Words, folder: Path,
               page: Page) -> Iterator[tuple[str, dict[Path, bytes]]]:
    """Yield each student's name and files by path, and at last all of it in one document."""
    text = class_text(title, room, words)
    parts = [Part("Fit table", fit_sheets(text, room, words, page)),
             Part("Shopping and cut list", shopping_sheets(text, room, words, page))]
    for number, student in enumerate(room.students, 1):
        drawn = [(maker, maker.make(student.design, words, page)) for maker in SHEETS]
        parts.append(Part(student.row.name, ()))
        parts += [Part(maker.title, drawings, 1) for maker, drawings in drawn]
        yield student.row.name, _student_files(number, student, drawn, folder)
    whole = book(title, text.subtitle, parts, page)
    yield COMBINED, {folder / COMBINED: write_pdf(whole.drawings, title=title, marks=whole.marks,
                                                  jumps=whole.jumps)}


def student_folder(number: int, student: Student) -> str:
    """Name of a student's folder; the number keeps two of one name apart."""
    return f"{number:02d}-{file_stem(student.row.name)}"


def _student_files(number: int, student: Student,
                   drawn: Sequence[tuple[SheetMaker, tuple[Drawing, ...]]],
                   folder: Path) -> dict[Path, bytes]:
    own = folder / student_folder(number, student)
    files = {own / "design.toml": design_text(student.row, student.design).encode()}
    for maker, drawings in drawn:
        files |= sheet_files(drawings, own, maker.key, f"{student.row.name}: {maker.title}",
                             ("pdf",))
    return files
