"""Words and tables of a class's sheets and of its page on the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from springloom.drawing.class_sheets import ClassText, Grid, board_sheets, table_sheets
from springloom.drawing.cut_drawing import View
from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page
from springloom.fit.packing import Bought, totals
from springloom.report.cautions import AT_SEA, DEFER, DUST
from springloom.report.classroom import Classroom, Purchase, Student, shopping
from springloom.report.cut_words import buy_cells
from springloom.report.sheets import wood_name
from springloom.report.words import Words, bullets, grid, heading
from springloom.wood.stock import MARKETS, Market, Stock

MARKET_NAMES: dict[Market, str] = {
    "north american": "North American sizes", "metric": "metric sizes",
}
ESTIMATED = "*"
FIT_HEADS = (("", "", True), ("Name", "", True), ("Use", "", True), ("Height", "", False),
             ("Length", "", False), ("Loom", "", False), ("Loom section", "", False),
             ("Blade", "", False), ("Crown half-way", "", False), ("Tip sinks", "", False),
             ("Weight", "", False), ("Wood", "", True))
BUY_HEADS = (("Wood", "", True), ("Ask for", "", True), ("Length", "", False),
             ("Real size", "", True), ("Board feet", "", False), ("Litres", "", False),
             ("For", "", True))
SAW_HEADS = (("Name", "", True), ("Piece", "", True), ("Length", "", False), ("Width", "", False),
             ("Thickness", "", False), ("Wood", "", True), ("From", "", True))


def class_text(title: str, room: Classroom, words: Words) -> ClassText:
    """Return what is said on every sheet of the class."""
    target = room.target
    whose = "the design they came with" if room.reference is not None else "the default paddle"
    count = len(room.students)
    return ClassText(
        title, f"{count} paddle{'s' if count != 1 else ''}",
        notes=(
            f"Target: the tip sinks {words.length(target.deflection_m)} under "
            f"{words.hung(target.load_n)}, as stated for {whose}; for another size as far as gives "
            "the same curvature, in proportion to the square of the length that bends.",
            f"{ESTIMATED} arm span or cubit was not measured but estimated from the height: check "
            "the length with a tape before sawing.",
        ),
        missing=tuple(map(str, room.bad)), cautions=(DUST, AT_SEA, DEFER),
    )


def fit_rows(students: Sequence[Student], words: Words) -> tuple[tuple[str, ...], ...]:
    """Cells of the fit table, a student a row."""
    return tuple(_fit_row(n, student, words) for n, student in enumerate(students, 1))


def _fit_row(n: int, student: Student, words: Words) -> tuple[str, ...]:
    fitted, half = student.fitted, student.design.paddle.a
    guessed = {f.field for f in fitted.estimated} & {"arm_span_m", "cubit_m"}
    middle = float(half.values(half.parameter(half.at_fraction(0.5)))[1])
    width = max(s.width for s in half.stations)
    return (
        str(n), student.row.name, fitted.use, _plain(words.length(fitted.body.height_m)),
        _plain(words.length(student.design.paddle.length)) + (ESTIMATED if guessed else ""),
        _plain(words.length(2.0 * half.loom.half_length)),
        f"{words.bare(half.loom.width)} × {words.length(half.loom.thickness)}",
        words.length(width), words.length(middle), words.length(student.made.deflection_m),
        words.mass(student.mass_kg), wood_name(student.design.build),
    )


def _plain(length: str) -> str:
    return length.replace(".0 mm", " mm")


def fit_sheets(text: ClassText, room: Classroom, words: Words, page: Page) -> tuple[Drawing, ...]:
    """Draw the fit table."""
    return table_sheets(text, "Fit table", [Grid("Fit", FIT_HEADS, fit_rows(room.students, words))],
                        page)


def shopping_sheets(text: ClassText, room: Classroom, words: Words,
                    page: Page) -> tuple[Drawing, ...]:
    """Draw what to buy in each market, what to saw, and the boards of the maker's own market."""
    bought = {market: shopping(room.students, market) for market in MARKETS}
    grids = [Grid(f"To buy by {MARKET_NAMES[market]}", BUY_HEADS, buy_rows(found, words))
             for market, found in bought.items() if found]
    grids.append(Grid("To saw", SAW_HEADS, saw_rows(room.students, words)))
    text = replace(text, notes=(), cautions=())
    sheets = table_sheets(text, "Shopping and cut list", grids, page)
    own: Market = "north american" if words.system == "in" else "metric"
    boards = [_board_view(board, purchase.wood, words)
              for purchase in bought[own] for board in purchase.boards or ()]
    if not boards:
        return sheets
    paddle = room.students[0].design.paddle
    return (*sheets, *board_sheets(text, f"Boards, {MARKET_NAMES[own]}", boards, paddle, page))


def buy_rows(found: Sequence[Purchase], words: Words) -> tuple[tuple[str, ...], ...]:
    """Cells of what to buy: like boards together, a total at the end."""
    rows: list[tuple[str, ...]] = []
    everything: list[Bought] = []
    for purchase in found:
        wood = purchase.wood
        if purchase.boards is None:
            rows.append((wood, "no section is thick and wide enough", "", "", "", "",
                         "glue up, or ask a sawmill"))
            continue
        everything += purchase.boards
        alike: dict[tuple[Stock, float], list[Bought]] = {}
        for board in purchase.boards:
            alike.setdefault((board.stock, board.length_m), []).append(board)
        for boards in alike.values():
            name = f"{boards[0].stock.name} {boards[0].stock.surface}"
            whom = "; ".join(_owners(board) for board in boards)
            rows.append((wood, *buy_cells(boards, name, words), whom))
            wood = ""
    feet, volume = totals(everything)
    rows.append(("together", "", "", "", f"{feet:.1f}", f"{1e3 * volume:.1f}", ""))
    return tuple(rows)


def _owners(board: Bought) -> str:
    """Whose pieces come out of a board."""
    return ", ".join(dict.fromkeys(p.item.label.removesuffix(" blank") for p in board.placed))


def _board_view(board: Bought, wood: str, words: Words) -> tuple[View, str]:
    name = f"{board.stock.name} {board.stock.surface}"
    cells = buy_cells([board], name, words)
    label = f"{name}, {wood}, {cells[2]}"
    return View(label, board.length_m, board.stock.width_m, board.placed), cells[1]


def saw_rows(students: Sequence[Student], words: Words) -> tuple[tuple[str, ...], ...]:
    """Cells of what to saw, a piece a row."""
    rows = []
    for student in students:
        check = student.cut.check
        source = "the class's boards" if check is None else (
            "own board" if check.fits else
            "own board, nothing to spare" if check.fits_bare else "own board: IT WON'T DO")
        for piece in student.cut.pieces:
            number = "blank" if not piece.numbers else f"strip {', '.join(map(str, piece.numbers))}"
            sizes = (piece.length_m, piece.width_m, piece.thickness_m)
            rows.append((student.row.name, number, *(_plain(words.length(s)) for s in sizes),
                         piece.wood, source))
    return tuple(rows)


def class_page(title: str, room: Classroom, words: Words, folder: str, count: int) -> str:
    """Return the page for the terminal: fit, shopping, lines that failed, where it all is."""
    lines = [f"{title}: {len(room.students)} paddles, {count} files in {folder}"]
    rows = [(r[1], r[4], r[5], r[7], r[9], r[10]) for r in fit_rows(room.students, words)]
    if rows:
        lines += ["", grid(("name", "length", "loom", "blade", "tip sinks", "weight"), rows)]
    own: Market = "north american" if words.system == "in" else "metric"
    found = shopping(room.students, own)
    if found:
        lines += [heading(f"To buy by {MARKET_NAMES[own]}"),
                  *bullets([_bought(row) for row in buy_rows(found, words)])]
    if room.bad:
        lines += [heading("Lines that could not be used"), *bullets(list(map(str, room.bad)))]
    text = class_text(title, room, words)
    return "\n".join([*lines, heading("Notes"), *bullets([*text.notes, *text.cautions])])


def _bought(row: tuple[str, ...]) -> str:
    wood, name, length, size, feet, litres, whom = row
    if not name:
        return f"{wood}: {feet} board feet, {litres} litres"
    if not length:
        return f"{wood}: {name}; {whom}"
    return f"{wood + ': ' if wood else ''}{name}, {length} ({size}), for {whom}"


def class_data(room: Classroom, paths: Sequence[str]) -> dict[str, Any]:
    """Return the class as data; keys end in their SI unit."""
    return {
        "students": [
            {"line": s.row.line, "name": s.row.name, "use": s.fitted.use,
             "length_m": s.design.paddle.length,
             "loom_length_m": 2.0 * s.design.paddle.a.loom.half_length,
             "blade_width_m": max(st.width for st in s.design.paddle.a.stations),
             "crowns_m": [st.crown for st in s.design.paddle.a.stations],
             "tip_deflection_m": s.made.deflection_m, "wanted_m": s.target.deflection_m,
             "mass_kg": s.mass_kg, "wood": wood_name(s.design.build),
             "own_board_fits": None if s.cut.check is None else s.cut.check.fits}
            for s in room.students
        ],
        "bad_lines": [{"line": b.line, "name": b.name, "field": b.error.field,
                       "message": b.error.message, "allowed": b.error.allowed}
                      for b in room.bad],
        "paths": list(paths),
    }
