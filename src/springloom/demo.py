"""The whole job on an invented paddle: fit, wood, plan, tune, in one go."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from springloom.fit.bend import design_blades_for_bend
from springloom.fit.dimensions import fit
from springloom.mechanics.analysis import analyse
from springloom.mechanics.stiffness import spread_of
from springloom.records.design import Design, load_design
from springloom.records.examples import example_text
from springloom.records.rewrite import rewritten
from springloom.report.design_text import bend_text, board_text, fit_text, forecast_text
from springloom.report.files import progress, write_all
from springloom.report.sheets import write_sheets
from springloom.report.tune_asides import Asides
from springloom.report.tune_text import tune_text
from springloom.report.words import Words, folded, heading
from springloom.tune.counsel import counsel
from springloom.units import System
from springloom.wood.verdict import judge

EXAMPLE = "marsh_tern.toml"


@dataclass(frozen=True, slots=True)
class DemoDone:
    """What the demonstration says and wrote."""

    page: str
    paths: tuple[Path, ...]


def run_demo(folder: Path, system: System | None = None) -> DemoDone:
    """Walk the job and write its pages, a new design file and the plan sheet into ``folder``.

    Raises:
        OutputError: the folder can't be written.
    """
    text = example_text(EXAMPLE.removesuffix(".toml"))
    source = write_all({folder / EXAMPLE: text.encode()})[0]
    design = load_design(source)
    words = Words(system or design.units)
    steps = _steps(design, words, text)
    pages = {name: make() for name, make in progress(list(steps.items()), "demo")}
    pages["marsh_tern_wanted.toml"] = _wanted_file(design, text)
    written = write_all({folder / name: page.encode() for name, page in pages.items()})
    paths = (source, *written, *write_sheets(design, words, folder))
    return DemoDone(_page(design, words, pages["5-tune.txt"], paths), paths)


def demo_data(done: DemoDone) -> dict[str, Any]:
    """The written paths as data."""
    return {"paths": [str(path) for path in done.paths]}


def _steps(design: Design, words: Words, text: str) -> dict[str, Callable[[], str]]:
    del text
    return {
        "1-fit.txt": lambda: _fit(design, words),
        "2-board.txt": lambda: board_text(design, words),
        "3-forecast.txt": lambda: _forecast(design, words),
        "4-shape-to-bend.txt": lambda: _bend(design, words),
        "5-tune.txt": lambda: _tune(design, words),
    }


def _fit(design: Design, words: Words) -> str:
    assert design.body is not None  # the example has one
    return fit_text(fit(design.body, design.boat, design.use), words)


def _forecast(design: Design, words: Words) -> str:
    result = analyse(design.paddle, design.build)
    return forecast_text(design, result, spread_of(design.build), words)


def _bend(design: Design, words: Words) -> str:
    made = design_blades_for_bend(design.paddle, design.build, design.wanted(), design.limits)
    return bend_text(design, made, words)


def _wanted_file(design: Design, text: str) -> str:
    made = design_blades_for_bend(design.paddle, design.build, design.wanted(), design.limits)
    return rewritten(text, design.units, {"blade": made[0].half})


def _tune(design: Design, words: Words) -> str:
    course = design.tuned()
    known = course.now()
    told = counsel(known, design.wanted(), design.limits, course.rules(design.rules))
    return tune_text(design.name, known, told, design.wanted(), words, Asides.of(design))


def _page(design: Design, words: Words, tuning: str, paths: tuple[Path, ...]) -> str:
    """One page: the job so far in four lines, the tuning round, the files."""
    verdict = judge(design.assessment)
    result = analyse(design.paddle, design.build)
    story = [
        f"The board: {design.assessment.wood.common_name}, {verdict.grade}; stiffness "
        f"{words.modulus(design.assessment.after.e_pa.median)}.",
        f"The plan as drawn: {words.mass(result.mass.mass_kg)}, the tip sinks "
        f"{words.both(result.a.line.tip_deflection_m)} under the standard weight; wanted "
        f"{words.both(design.wanted().deflection_m)}.",
        f"Weakest case: {result.a.weakest.case}, margin {result.a.weakest.margin:.2f}.",
        "Carved a little thick and measured; this is the first round of tuning:",
    ]
    head = f"{design.name}, {words.both(design.paddle.length)} (demonstration, invented data)"
    lines = [head, "=" * len(head), "", *(folded(line, "") for line in story), "", tuning,
             heading("Written")]
    return "\n".join([*lines, *(f"  {path}" for path in paths)])
