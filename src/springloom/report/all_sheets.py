"""Every sheet of a design by name: what can be drawn, in the order a maker needs it.

A new kind of sheet is one line in :data:`SHEETS`, a new kind of solid one in :data:`SOLIDS`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal, get_args

from springloom.drawing.dxf import write_dxf
from springloom.drawing.full_outline import outline_roll, outline_tiles
from springloom.drawing.model import Drawing
from springloom.drawing.notes import SheetText
from springloom.drawing.paper import Page
from springloom.drawing.pdf import write_pdf
from springloom.drawing.svg import write_svg
from springloom.drawing.templates import section_templates
from springloom.errors import known
from springloom.records.design import Design
from springloom.report.bend_words import bend_drawings, bend_tile_drawings
from springloom.report.carving_words import carving_drawings
from springloom.report.cut_words import cut_drawings
from springloom.report.files import file_stem, progress, write_all
from springloom.report.layout_words import layout_drawings
from springloom.report.sheets import plan_drawings
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.solid.glb import glb_bytes
from springloom.solid.mesh import mesh_of
from springloom.solid.mesh3mf import threemf_bytes
from springloom.solid.step import step_text
from springloom.solid.stl import stl_bytes

DrawingFormat = Literal["pdf", "svg", "dxf"]
DRAWING_FORMATS: tuple[DrawingFormat, ...] = get_args(DrawingFormat)

Make = Callable[[Design, Words, Page], tuple[Drawing, ...]]


@dataclass(frozen=True, slots=True)
class SheetMaker:
    """A kind of sheet: its key in file names, its title, what it is for, and what draws it."""

    key: str
    title: str
    purpose: str
    make: Make


def _plan(design: Design, words: Words, page: Page) -> tuple[Drawing, ...]:
    del page  # it comes on a roll
    return plan_drawings(design, words)


def _roll(design: Design, words: Words, page: Page) -> tuple[Drawing, ...]:
    del page
    return tuple(drawing for half, blade in _blades(design)
                 for drawing in outline_roll(half, _named(design), system=words.system,
                                             blade=blade))


def _tiles(design: Design, words: Words, page: Page) -> tuple[Drawing, ...]:
    return tuple(drawing for half, blade in _blades(design)
                 for drawing in outline_tiles(half, _named(design), page=page,
                                              system=words.system, blade=blade))


def _templates(design: Design, words: Words, page: Page) -> tuple[Drawing, ...]:
    return tuple(drawing for half, blade in _blades(design)
                 for drawing in section_templates(half, _named(design), page=page,
                                                  system=words.system, blade=blade))


def _layout(design: Design, words: Words, page: Page) -> tuple[Drawing, ...]:
    del page
    return layout_drawings(design, words)


def _blades(design: Design) -> tuple[tuple[HalfPaddle, str], ...]:
    """Each blade to draw with its letter, one without a letter where both are alike."""
    paddle = design.paddle
    return ((paddle.a, ""),) if paddle.is_symmetric else ((paddle.a, "A"), (paddle.b, "B"))


def _named(design: Design) -> SheetText:
    return SheetText(design.name)


SHEETS: tuple[SheetMaker, ...] = (
    SheetMaker("plan", "Plan sheet",
               "Half the paddle at full size with every size at every place: what is made, on one "
               "sheet.", _plan),
    SheetMaker("cut-list", "Cut list",
               "What to buy and what to saw, and whether the board you have will do.",
               cut_drawings),
    SheetMaker("layout", "Layout sheet",
               "What to draw on the squared blank, at full size, and the figures to set off for "
               "every flat.", _layout),
    SheetMaker("carving", "Carving guide",
               "Stage after stage to tick off at the bench: tools, limits, weights, and room to "
               "write what you measure.", carving_drawings),
    SheetMaker("templates", "Section templates, full size",
               "Gauges to cut out and hold against the wood at each place.", _templates),
    SheetMaker("outline", "Outline, full size, on a roll",
               "The outline to trace on the blank, in one piece, from a printer that takes a roll.",
               _roll),
    SheetMaker("outline-tiles", "Outline, full size, on small sheets",
               "The same outline from any printer: cut at the joins and lay the sheets together.",
               _tiles),
    SheetMaker("bend", "Bend sheet and card",
               "How far the finished blade should bend under the test weight, and the full-size "
               "card to hold its bent edge against.", bend_drawings),
    SheetMaker("bend-tiles", "Bend card, full size, on small sheets",
               "The same card from any printer: cut at the joins and lay the sheets together.",
               bend_tile_drawings),
)

Solid = Callable[[Design], bytes]
SOLIDS: Mapping[str, Solid] = MappingProxyType({
    "step": lambda design: step_text(design.paddle, design.name).encode(),
    "stl": lambda design: stl_bytes(mesh_of(design.paddle)),
    "3mf": lambda design: threemf_bytes(mesh_of(design.paddle), design.name),
    "glb": lambda design: glb_bytes(mesh_of(design.paddle), design.name),
})
"""Kind of solid, as its file's suffix: what writes it."""

SOLID_PURPOSES: Mapping[str, str] = MappingProxyType({
    "step": "The exact surfaces, for CAD and for milling.",
    "stl": "A mesh for printing and milling, in mm.",
    "3mf": "A mesh that knows its unit, for printing.",
    "glb": "A mesh to look at, on a page or a phone, in m.",
})
"""What each kind is for."""

FORMATS: tuple[str, ...] = (*DRAWING_FORMATS, *SOLIDS, "all")


def chosen_formats(asked: Sequence[str]) -> tuple[str, ...]:
    """Return the formats asked for, each once; PDF if none was.

    Raises:
        UnknownNameError: a format nobody writes.
    """
    for name in asked:
        known(name, FORMATS, "--format")
    if "all" in asked:
        return FORMATS[:-1]
    return tuple(dict.fromkeys(asked)) or ("pdf",)


Draw = Callable[[SheetMaker], tuple[Drawing, ...]]


def draw_all(design: Design, words: Words,
             page: Page = "a4") -> tuple[tuple[SheetMaker, tuple[Drawing, ...]], ...]:
    """Draw every kind of sheet."""
    return tuple((maker, maker.make(design, words, page))
                 for maker in progress(SHEETS, design.name))


def write_plans(design: Design, words: Words, folder: Path, page: Page = "a4",
                formats: Sequence[str] = ()) -> list[Path]:
    """Write every sheet, and solids where asked for; return the paths.

    Raises:
        UnknownNameError: a format nobody writes.
        OutputError: nothing was written.
    """
    return write_all(plan_files(design, words, folder, page, chosen_formats(formats)))


def plan_files(design: Design, words: Words, folder: Path, page: Page,
               formats: Sequence[str]) -> dict[Path, bytes]:
    """Return what is written for a design, by path."""
    files: dict[Path, bytes] = {}
    steps = plan_steps(design, folder, formats, lambda maker: maker.make(design, words, page))
    for _, made in progress(steps, design.name, step_count(formats)):
        files |= made
    return files


def plan_steps(design: Design, folder: Path, formats: Sequence[str],
               draw: Draw) -> Iterator[tuple[str, dict[Path, bytes]]]:
    """Write one kind of sheet or solid after the other: its title, and its files by path."""
    stem = file_stem(design.name)
    drawn = [name for name in DRAWING_FORMATS if name in formats]
    for maker in SHEETS if drawn else ():
        title = f"{design.name}: {maker.title}"
        yield maker.title, sheet_files(draw(maker), folder, f"{stem}-{maker.key}", title, drawn)
    for suffix, make in SOLIDS.items():
        if suffix in formats:
            yield f"Solid, {suffix.upper()}", {folder / f"{stem}.{suffix}": make(design)}


def step_count(formats: Sequence[str]) -> int:
    """How many steps :func:`plan_steps` takes."""
    drawn = any(name in formats for name in DRAWING_FORMATS)
    return len(SHEETS) * drawn + sum(suffix in formats for suffix in SOLIDS)


def sheet_files(drawings: Sequence[Drawing], folder: Path, base: str, title: str,
                formats: Sequence[str]) -> dict[Path, bytes]:
    """Return one kind of sheet in each format: a PDF of all its pages, else a file a page."""
    files: dict[Path, bytes] = {}
    if "pdf" in formats:
        files[folder / f"{base}.pdf"] = write_pdf(drawings, title=title)
    writers = {"svg": write_svg, "dxf": write_dxf}
    for suffix in (name for name in formats if name in writers):
        for n, drawing in enumerate(drawings):
            number = "" if len(drawings) == 1 else f"-{n + 1}"
            files[folder / f"{base}{number}.{suffix}"] = writers[suffix](drawing).encode()
    return files
