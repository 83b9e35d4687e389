"""Words of the bend sheets, and the sheets of a design."""

from __future__ import annotations

import math

from springloom.drawing.bend_card import bend_card_tiles
from springloom.drawing.bend_job import BendJob, BendText
from springloom.drawing.bend_sheet import bend_sheets
from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page
from springloom.mechanics.expected import Expected, expected
from springloom.records.design import Design
from springloom.report.cautions import BENCH_TEST, DEFER
from springloom.report.sheets import wood_name
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle


def bend_drawings(design: Design, words: Words, page: Page = "a4") -> tuple[Drawing, ...]:
    """Return the bend sheets of a paddle, both blades' where they differ."""
    return tuple(drawing for job in bend_jobs(design, words) for drawing in bend_sheets(job, page))


def bend_tile_drawings(design: Design, words: Words, page: Page = "a4") -> tuple[Drawing, ...]:
    """Return the bend cards of a paddle on small sheets."""
    return tuple(drawing for job in bend_jobs(design, words)
                 for drawing in bend_card_tiles(job, page))


def bend_jobs(design: Design, words: Words) -> tuple[BendJob, ...]:
    """Return what is drawn, one for both blades or one each."""
    paddle = design.paddle
    if paddle.is_symmetric:
        return (_job(design, words, paddle.a, ""),)
    return _job(design, words, paddle.a, "A"), _job(design, words, paddle.b, "B")


def _job(design: Design, words: Words, half: HalfPaddle, blade: str) -> BendJob:
    setup = None if design.target is None else design.target.setup(half)
    bend = expected(half, design.build, setup)
    return BendJob(half, bend, _text(design, words, bend, blade), words.system, design.target)


def _text(design: Design, words: Words, bend: Expected, blade: str) -> BendText:
    load = bend.setup.loads[0]
    target = design.target
    wanted = "" if target is None else (
        f"Wanted: {words.length(target.deflection_m)}, give or take "
        f"{words.length(target.tolerance_m)}.")
    wood = wood_name(design.build)
    share = 100.0 * (math.exp(bend.sd_ln_e) - 1.0)
    return BendText(
        title=design.name,
        subtitle=f"{words.length(design.paddle.length)} paddle, {wood}",
        load=f"{words.hung(load.force)} hung at the tip, blade clamped at the root",
        expected=f"The tip sinks {words.length(bend.middle.tip_m)}; 90 of 100 such blades sink "
        f"{words.range(bend.least.tip_m, bend.most.tip_m)}.",
        wanted=wanted,
        wood=f"{wood[0].upper()}{wood[1:]}: stiffness known to {share:.0f} % (one "
        "standard deviation).",
        notes=("Every fall is the difference the weight makes: read the unloaded edge first.",),
        cautions=(BENCH_TEST, DEFER),
        blade=blade,
    )
