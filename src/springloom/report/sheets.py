"""Plan sheets of a design: the words on them, and the files."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

from springloom.drawing.model import Drawing
from springloom.drawing.pdf import write_pdf
from springloom.drawing.plan_sheet import SheetText, plan_sheets
from springloom.drawing.svg import write_svg
from springloom.mechanics.analysis import analyse
from springloom.mechanics.setups import STANDARD_LOAD
from springloom.mechanics.stiffness import Build, spread_of
from springloom.records.design import Design
from springloom.report.cautions import AT_SEA, BLADES, DEFER, DUST
from springloom.report.files import file_stem, progress, write_all
from springloom.report.words import Words
from springloom.tune.estimate import NORMAL_90
from springloom.wood.material import Material


def write_sheets(design: Design, words: Words, folder: Path) -> list[Path]:
    """Write the plan sheet as SVG (one a page) and PDF; returns the paths.

    Raises:
        OutputError: nothing was written.
    """
    drawings = plan_drawings(design, words)
    stem = file_stem(design.name)
    files: dict[Path, bytes] = {}
    for i, drawing in enumerate(progress(drawings, "drawing")):
        number = "" if len(drawings) == 1 else f"-{i + 1}"
        files[folder / f"{stem}-plan{number}.svg"] = write_svg(drawing).encode()
    files[folder / f"{stem}-plan.pdf"] = write_pdf(drawings, title=f"{design.name}: plan")
    return write_all(files)


def plan_drawings(design: Design, words: Words) -> tuple[Drawing, ...]:
    """Return the plan sheets with the expected weight and bend lettered on them."""
    return plan_sheets(design.paddle, _sheet_text(design, words), words.system)


def _sheet_text(design: Design, words: Words) -> SheetText:
    result = analyse(design.paddle, design.build)
    sd_e, sd_density = spread_of(design.build)
    tip, mass = result.a.line.tip_deflection_m, result.mass.mass_kg
    weak = result.a.weakest
    return SheetText(
        title=design.name,
        subtitle=f"{words.length(design.paddle.length)} paddle",
        wood=wood_name(design.build),
        weight=f"{words.mass(mass)} bare, {_band(mass, sd_density, words.mass)}",
        bend=f"tip sinks {words.length(tip)} under {words.force(STANDARD_LOAD)} at the tip, root "
        f"clamped, {_band(tip, sd_e, words.length)}",
        notes=(
            f"least strength margin {weak.margin:.2f} ({weak.case})",
            "edge thickness is read 5 mm in from the edge",
            "both blades alike" if design.paddle.is_symmetric else "blades differ: one sheet each",
            *((design.note,) if design.note else ()),
        ),
        cautions=(DUST, BLADES, AT_SEA, DEFER),
    )


def _band(median: float, sd_ln: float, show: Callable[[float], str]) -> str:
    factor = math.exp(NORMAL_90 * sd_ln)
    return f"90 % sure of {show(median / factor)} to {show(median * factor)}"


def wood_name(build: Build) -> str:
    """What the paddle is made of, in words."""
    if isinstance(build, Material):
        return build.name
    names = dict.fromkeys(strip.material.name for strip in build.strips)
    return f"laminated: {', '.join(names)}"
