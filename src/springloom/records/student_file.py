"""A student's design as a design file, so that every other command can go on from it."""

from __future__ import annotations

import tomlkit

from springloom.records.classfile import BOARD_COLUMNS, ClassRow
from springloom.records.design import Design
from springloom.records.layout import Paddler
from springloom.units import NEWTON_PER_POUND_FORCE
from springloom.wood.board import Board

_HEAD = "Made for a class from the student's measures; go on from here."
_DIGITS = 9  # of a metre: finer than any tool, and the same design is read back


def design_text(row: ClassRow, design: Design) -> str:
    """Return the text of a design file: what was typed as typed, what was worked out in mm.

    A laminated blank's strips are not repeated in it; its board is.
    """
    file = tomlkit.document()
    file.add(tomlkit.comment(_HEAD))
    file["format"] = 1
    file["name"] = row.name
    file["note"] = row.note
    file["units"] = design.units
    file["paddler"] = {key: row.cells[key] for key in Paddler.model_fields if key in row.cells}
    if design.board is not None:
        file["board"] = _board(row, design.board)
    _shape(file, design)
    target = design.wanted()
    file["target"] = {
        "sinks": _mm(target.deflection_m),
        "under": f"{target.load_n / NEWTON_PER_POUND_FORCE:.9g} lb",
        "within": _mm(target.tolerance_m), "progression": round(target.progression, _DIGITS),
    }
    limits = design.limits
    file["limits"] = {
        "least_crown_mid": _mm(limits.least_crown_mid),
        "least_crown_tip": _mm(limits.least_crown_tip), "least_edge": _mm(limits.least_edge),
        "blank": _mm(limits.blank), "margin": round(limits.margin, _DIGITS),
    }
    return tomlkit.dumps(file)


def _board(row: ClassRow, board: Board) -> dict[str, str]:
    """The board as typed; the class's own by its wood and size."""
    typed = {key: row.cells[column] for column, key in BOARD_COLUMNS.items()
             if column in row.cells}
    sizes = {"length": _mm(board.length_m), "width": _mm(board.width_m),
             "thickness": _mm(board.thickness_m)}
    return sizes | {"species": board.species, "grown": board.origin, "rings": board.ring} | typed


def _shape(file: tomlkit.TOMLDocument, design: Design) -> None:
    half = design.paddle.a
    loom, stations = half.loom, half.stations
    file["paddle"] = {"length": _mm(design.paddle.length)}
    file["loom"] = {"length": _mm(2.0 * loom.half_length), "width": _mm(loom.width),
                    "thickness": _mm(loom.thickness), "blend": _mm(loom.blend)}
    places = ["root", *(f"{_mm(s.x - loom.root)} from root" for s in stations[1:-1]), "tip"]
    blade: dict[str, object] = {
        "stations": places,
        "width": [_mm(s.width) if s.width else "round" for s in stations],
        "crown": [_mm(s.crown) for s in stations],
        "ridge": [round(s.ridge, _DIGITS) for s in stations],
    }
    if all(s.edge is not None for s in stations):
        blade["edge"] = [_mm(s.edge or 0.0) for s in stations]
    file["blade"] = blade


def _mm(metres: float) -> str:
    return f"{1e3 * metres:.6f}".rstrip("0").rstrip(".") + " mm"
