"""Between a class's lines and the store: students taken in, and read back as lines."""

from __future__ import annotations

import json
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from springloom.errors import SpringloomError
from springloom.fit.scaled import CLASS_TARGET
from springloom.records.classfile import BOARD_COLUMNS, BadRow, ClassFile, ClassRow
from springloom.records.design import Design, design_from
from springloom.records.layout import DesignFile
from springloom.records.reading import check_layout
from springloom.records.shape_typed import shape_tables, typed_length
from springloom.records.student_file import design_text
from springloom.report.classroom import Classroom, Student, as_designed, classroom
from springloom.store.boards import StoredBoard, add_board, board
from springloom.store.classes import StoredClass, add_student, klass, students
from springloom.store.entries import derived
from springloom.store.layout import layout_of
from springloom.store.opening import Pen, Store
from springloom.store.paddles import ELSEWHERE, Paddle, assign, paddle, save_design
from springloom.units import NEWTON_PER_POUND_FORCE, System

_LIKE_THE_CLASS = ("care", "strip")
"""Tables of the class's base that a student's own file does not repeat."""

_STANDS_FOR_ITS_WOOD = {"length": "2.4 m", "width": "90 mm", "thickness": "40 mm"}


def class_units(found: StoredClass) -> System:
    """Return the unit of lengths typed without one in a class."""
    units: System = found.base.get("units", "mm")
    return units


def class_base(connection: Connection, class_id: int) -> Design:
    """Return the wood, target and limits that serve for all, with the class's board as it is."""
    found = klass(connection, class_id)
    layout = dict(found.base)
    if found.board_id is not None:
        layout["board"] = board(connection, found.board_id).typed(class_units(found))
    return design_from(check_layout(layout))


@dataclass(frozen=True)
class Taken:
    """What became of a class file's lines.

    Attributes:
        new: paddles of students who came in.
        known: how many were in the class already.
        bad: lines that could not be used.
    """

    new: tuple[Paddle, ...]
    known: int
    bad: tuple[BadRow, ...]


def take_students(store: Store, by: str, class_id: int, read: ClassFile) -> Taken:
    """Take in every line that makes a paddle; a line that came in before is left as it is.

    The paddles are made first, so that nobody's writing waits for that.
    """
    with store.read() as connection:
        found, base = klass(connection, class_id), class_base(connection, class_id)
    made = classroom(read, base, class_units(found))
    with store.write(by) as pen:
        before = {one.id for _, one in students(pen.connection, class_id)}
        paddles = [take_student(pen, uid, class_id, student)
                   for uid, student in _with_uids(found, made.students)]
    new = tuple(one for one in paddles if one.id not in before)
    return Taken(new, len(paddles) - len(new), made.bad)


def _with_uids(found: StoredClass,
               made: Sequence[Student]) -> Iterator[tuple[str, Student]]:
    """Yield each student with a uid that is the same for the same line, in any file."""
    seen: dict[str, int] = {}
    for student in made:
        cells = json.dumps(student.row.cells, sort_keys=True)
        seen[cells] = seen.get(cells, 0) + 1
        yield derived(found.uid, f"student {seen[cells]} {cells}"), student


def take_student(pen: Pen, uid: str, class_id: int, student: Student) -> Paddle:
    """Take in one student: the person, the board if they have one, the paddle made for them."""
    found, row = klass(pen.connection, class_id), student.row
    paddler = {key: value for key, value in row.cells.items()
               if key not in BOARD_COLUMNS and key not in {"name", "note"}}
    _, made = add_student(pen, uid, class_id, row.name, paddler)
    if made.number > 1:  # it came in before, and may have been changed since
        return made
    if row.board is not None:
        wood = _wood(pen, found, uid, student)
        assign(pen, derived(uid, "wood"), made.id, board_id=wood.id)
    layout = tomllib.loads(design_text(row, student.design)) | _in_round_figures(student.design)
    design = {key: value for key, value in layout.items() if key not in ELSEWHERE}
    like = {key: found.base[key] for key in _LIKE_THE_CLASS
            if key in found.base and (key != "strip" or row.board is None)}
    save_design(pen, derived(uid, "fitted"), made.id, like | design,
                "fitted to the measures, for the class's target", made.number)
    return paddle(pen.connection, made.id)


def _in_round_figures(design: Design) -> dict[str, dict[str, Any]]:
    """Return shape, target and blank as somebody would type them, to a tenth or a 1/64."""
    wanted, units, limits = design.wanted(), design.units, design.limits
    up = math.ceil(1e4 * limits.blank - 0.01) / 10.0  # a blank thinner than its loom is refused
    pounds = wanted.load_n / NEWTON_PER_POUND_FORCE
    return {**shape_tables(design.paddle, units),
            "target": {"sinks": typed_length(wanted.deflection_m, units),
                       "under": f"{pounds:.4g} lb",
                       "within": typed_length(wanted.tolerance_m, units),
                       "progression": round(wanted.progression, 2)},
            "limits": {"least_crown_mid": typed_length(limits.least_crown_mid, units),
                       "least_crown_tip": typed_length(limits.least_crown_tip, units),
                       "least_edge": typed_length(limits.least_edge, units),
                       "blank": f"{up:g} mm", "margin": round(limits.margin, 3)}}


def _wood(pen: Pen, found: StoredClass, uid: str, student: Student) -> StoredBoard:
    """Keep a student's own board, or the one that stands for the wood they asked for."""
    row, units = student.row, class_units(found)
    typed = {key: row.cells[column] for column, key in BOARD_COLUMNS.items()
             if column in row.cells}
    if row.owns_board:
        return add_board(pen, derived(uid, "board"), f"{row.name}'s board"[:120], typed,
                         units=units)
    name = f"{found.name}: {typed['species'].replace('_', ' ')}"[:120]
    return add_board(pen, _standing(found, typed), name, _STANDS_FOR_ITS_WOOD | typed, units=units)


def _standing(found: StoredClass, typed: Mapping[str, Any]) -> str:
    """Return the uid of the board that stands for a wood in a class."""
    asked = {key: str(value) for key, value in typed.items() if key not in _STANDS_FOR_ITS_WOOD}
    return derived(found.uid, f"wood {json.dumps(asked, sort_keys=True)}")


def room_of(connection: Connection, class_id: int) -> tuple[Classroom, dict[int, int]]:
    """Return a class as its paddles are designed now, and each line's paddle by its number.

    What can't be designed is among the bad lines; lines are counted from 1 as students came.
    """
    found = klass(connection, class_id)
    made, bad, paddles = [], [], {}
    for line, (_, one) in enumerate(students(connection, class_id), 1):
        paddles[line] = one.id
        try:
            layout = layout_of(connection, one.id)
            design = design_from(layout)
            wood = None if one.board_id is None else board(connection, one.board_id)
            made.append(as_designed(_row(line, found, one, wood, (layout, design)), design))
        except SpringloomError as error:
            bad.append(BadRow(line, one.name, error))
    base = class_base(connection, class_id)
    reference = None if base.target is None else base.paddle.a
    return Classroom(tuple(made), tuple(bad), base.target or CLASS_TARGET, reference), paddles


def _row(line: int, found: StoredClass, one: Paddle, wood: StoredBoard | None,
         read: tuple[DesignFile, Design]) -> ClassRow:
    layout, design = read
    assert design.body is not None  # a student has measures
    assert layout.paddler is not None  # the same
    typed = {key: str(value) for key, value in layout.paddler.model_dump(
        exclude_unset=True, exclude_none=True).items()}
    owns = wood is not None and wood.id != found.board_id and wood.uid != _standing(
        found, wood.table)
    cells = {"name": one.name, **typed, **({} if wood is None or not owns else _cells(wood))}
    return ClassRow(line, one.name, design.body, design.boat, design.use,
                    design.board if owns else None, owns, design.note, cells)


def _cells(wood: StoredBoard) -> dict[str, str]:
    typed = wood.typed()
    return {column: str(typed[key]) for column, key in BOARD_COLUMNS.items() if key in typed}
