"""From the lines of a class file to a paddle for each student, in the class's wood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from springloom.errors import SpringloomError
from springloom.fit.bend import BendDesign, Limits, Target, design_for_bend, strength_crowns
from springloom.fit.cutlist import CutList, cut_list
from springloom.fit.dimensions import FitResult, fit, paddle_from_fit
from springloom.fit.packing import Bought, Item, shop
from springloom.fit.scaled import CLASS_TARGET, scaled_target
from springloom.mechanics.bend import character
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import clamped_line
from springloom.records.classfile import BadRow, ClassFile, ClassRow
from springloom.records.design import Design, design_from
from springloom.records.reading import check_layout
from springloom.records.wood_tables import check_cover
from springloom.report.files import progress
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.units import System
from springloom.wood.board import Board
from springloom.wood.stock import Market

CLASS_WOOD = "western_redcedar"
"""What a class is taught with where nobody says otherwise (common practice, no source)."""


@dataclass(frozen=True)
class Student:
    """One student's paddle.

    Attributes:
        row: what was typed.
        fitted: the dimensions and the rules behind them.
        made: the blade for the target.
        design: all of it, as if read from a file.
        cut: what is sawn for it.
        mass_kg: of the bare wood.
    """

    row: ClassRow
    fitted: FitResult
    made: BendDesign
    design: Design
    cut: CutList
    mass_kg: float

    @property
    def target(self) -> Target:
        """The class's target carried over to this size."""
        return self.design.wanted()


@dataclass(frozen=True)
class Classroom:
    """Everybody who could be done, and the lines that could not."""

    students: tuple[Student, ...]
    bad: tuple[BadRow, ...]
    target: Target
    reference: HalfPaddle | None


@dataclass(frozen=True, slots=True)
class Purchase:
    """The boards of one wood for a whole class; None if no section of this market will do."""

    wood: str
    boards: tuple[Bought, ...] | None


def classroom(read: ClassFile, base: Design | None, units: System) -> Classroom:
    """Make a paddle for every line; what can't be made joins the bad lines.

    Args:
        read: the class file.
        base: wood, target and limits for all; None for redcedar and the usual target.
        units: in which results are lettered.
    """
    start = base or design_from(check_layout({"format": 1, "name": "Class", "units": units}))
    reference = None if start.target is None else start.paddle.a
    target = start.target or CLASS_TARGET
    students: list[Student] = []
    bad = list(read.bad)
    for row in progress(read.rows, "class"):
        try:
            students.append(_student(row, start, target, reference, units))
        except SpringloomError as error:
            bad.append(BadRow(row.line, row.name, error))
    return Classroom(tuple(students), tuple(sorted(bad, key=lambda b: b.line)), target, reference)


def _student(row: ClassRow, start: Design, target: Target, reference: HalfPaddle | None,
             units: System) -> Student:
    fitted = fit(row.body, row.boat, row.use)
    outline = paddle_from_fit(fitted)
    plain = replace(
        start, name=row.name, note=row.note, units=units, body=row.body, boat=row.boat,
        use=row.use, board=row.board or start.board or Board(CLASS_WOOD, 2.4, 0.09, 0.04),
        layup=None if row.board else start.layup, paddle=outline, carried=None, readings=(),
        target=scaled_target(target, outline.a, reference), board_assumed=not row.owns_board,
    )
    if plain.layup is not None:
        check_cover(plain.layup, outline)
    plain = replace(plain, limits=_no_deeper_than_loom(plain))
    made = design_for_bend(outline.a, plain.build, plain.wanted(), plain.limits)
    design = replace(plain, paddle=Paddle.mirrored(made.half))
    cut = cut_list(design.paddle, design.build, row.board if row.owns_board else None)
    return Student(row, fitted, made, design, cut,
                   mass_properties(design.paddle, design.build).mass_kg)


def as_designed(row: ClassRow, design: Design) -> Student:
    """Return a student whose paddle is designed already, whatever the class's target says.

    Raises:
        InputError: the design has no wood or no target.
        UnreachableError: no blank of it can be cut.
    """
    half, build, wanted = design.paddle.a, design.build, design.wanted()
    line = clamped_line(half, build, wanted.setup(half), large=False)
    mass = mass_properties(design.paddle, build).mass_kg
    made = BendDesign(half, float(line.deflection_ends[-1]), mass, mass, (),
                      character(line, half.cap[0]))
    cut = cut_list(design.paddle, build, row.board if row.owns_board else None)
    return Student(row, fit(row.body, row.boat, row.use), made,
                   replace(design, board_assumed=not row.owns_board), cut, mass)


def _no_deeper_than_loom(design: Design) -> Limits:
    """Keep a blade from being deeper than its loom, unless its strength asks for it."""
    half, limits = design.paddle.a, design.limits
    asked = float(np.max(strength_crowns(half, design.build, limits.margin)))
    # A thousandth more than what is asked, so that rounding does not refuse it.
    return replace(limits, blank=min(limits.blank, max(half.loom.thickness, 1.001 * asked)))


def shopping(students: Sequence[Student], market: Market) -> tuple[Purchase, ...]:
    """Return the boards to buy, wood by wood, for everybody who brings no board."""
    wanted: dict[str, list[Item]] = {}
    groups = {}
    for student in students:
        if student.row.owns_board:
            continue
        for piece in student.cut.pieces:
            groups[piece.wood] = piece.group
            wanted.setdefault(piece.wood, []).extend(piece.items(_owner(student, students)))
    return tuple(Purchase(wood, shop(items, market, groups[wood]))
                 for wood, items in wanted.items())


def _owner(student: Student, students: Sequence[Student]) -> str:
    """Return the name pieces are labelled with, told apart where two students share one."""
    alike = sum(other.row.name == student.row.name for other in students)
    return student.row.name if alike == 1 else f"{student.row.name} (line {student.row.line})"
