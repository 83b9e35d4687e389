"""Words of the carving guide: tools, limits, cautions and weights, stage by stage."""

from __future__ import annotations

from dataclasses import dataclass

from springloom.drawing.carving_guide import CarvingText, StageText, carving_sheets
from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page
from springloom.records.design import Design
from springloom.report.carving_measures import (
    TITLES,
    Measure,
    StageWeight,
    measure_rows,
    stage_measures,
    stage_weights,
    weight_rows,
)
from springloom.report.cautions import AT_SEA, BLADES, DEFER, DUST, GLUE, RAGS
from springloom.report.layout_words import SAW_OUT, left_place
from springloom.report.sheets import wood_name
from springloom.report.words import Words
from springloom.shape.stages import STAGES, Stage, stages


def carving_drawings(design: Design, words: Words, page: Page = "a4") -> tuple[Drawing, ...]:
    """Return the carving guide of a design."""
    return carving_sheets(carving_text(design, words), page)


def carving_text(design: Design, words: Words) -> CarvingText:
    """Return what the carving guide says of a design."""
    job = _job(design, words)
    made = (_squared, _sawn, _tapered, _first, _second, _rounded, _finished)
    return CarvingText(
        title=design.name,
        subtitle=f"{words.length(design.paddle.length)} paddle, {wood_name(design.build)}",
        before=("Tick each stage when it is done and write down what you measure. Weights are of "
                "the bare wood; the likely range holds nine in ten of what it may be. A weight "
                "outside says that the wood is not what was reckoned with, or that some is left.",),
        stages=tuple(stage(job) for stage in made),
        foot=DEFER,
    )


@dataclass(frozen=True, slots=True)
class _Job:
    """What the stages are made of."""

    design: Design
    words: Words
    found: dict[str, Stage]
    measures: dict[str, tuple[Measure, ...]]
    weights: dict[str, StageWeight]

    def checks(self, name: str) -> tuple[tuple[str, str], ...]:
        """Rows of the table for a stage: its sizes and its weight."""
        return (*measure_rows(self.measures[name], self.words),
                *weight_rows(self.weights[name], self.words))

    def left(self, name: str) -> str:
        """How much wood stands outside the surface at most after a stage."""
        return self.words.length(self.found[name].left_m or 0.0)

    def thin(self, name: str) -> str:
        """The same, where it is a shaving."""
        return self.words.thin(self.found[name].left_m or 0.0)

    def where(self, name: str) -> str:
        """Where that is."""
        return left_place(self.design.paddle, self.found[name], self.words)


def _job(design: Design, words: Words) -> _Job:
    return _Job(design, words, {stage.name: stage for stage in stages(design.paddle)},
                dict(zip(STAGES, stage_measures(design, words.system), strict=True)),
                {weight.name: weight for weight in stage_weights(design)})


def _squared(job: _Job) -> StageText:
    return StageText(
        TITLES["squared"], "saw, jointer or long plane, straight-edge, square, winding sticks",
        ("Plane one face flat and out of wind, then one edge square to it; bring the blank to "
         "width and thickness.",
         "Draw the centre line on all four sides and every place square across, all round."),
        ("Leave the ends long until the outline is cut.",),
        (DUST,),
        job.checks("squared"),
    )


def _sawn(job: _Job) -> StageText:
    return StageText(
        TITLES["sawn"], "band saw or rip saw, jack plane, spokeshave, square",
        ("Draw the outline on the face from the full-size drawing or its half-widths. Saw, then "
         "plane to the line, square to the face.",),
        (f"Saw no nearer than {job.words.length(SAW_OUT)} to the line. Try the square every hand's "
         "breadth: an edge out of square makes unlike flats.",),
        (BLADES,),
        job.checks("sawn"),
    )


def _tapered(job: _Job) -> StageText:
    return StageText(
        TITLES["tapered"], "band saw or rip saw, jack plane, calipers",
        ("Draw the taper on both edges, down from each face. Saw, then plane both faces to the "
         "lines, straight across.",),
        (f"Saw no nearer than {job.words.length(SAW_OUT)} to the line. Plane until the line is "
         "just gone and no further: this face is the finished ridge.",),
        ("Support the thin end: it springs away from the plane and then comes out thick, or "
         "snaps.",),
        job.checks("tapered"),
    )


def _first(job: _Job) -> StageText:
    return StageText(
        TITLES["first flats"], "marking gauge, jack plane, spokeshave",
        ("Draw a and c on both faces, b and e on both edges. Between the lines b stays the edge "
         "band. Plane flat 1 from a to b, all four corners in turn.",),
        (f"The corner stands {job.left('tapered')} off the surface at most "
         f"({job.where('tapered')}): no cut goes deeper. Stop when half of the breadth of both "
         f"lines is left; then at most {job.left('first flats')} stands over the "
         f"surface ({job.where('first flats')}).",),
        ("Plane downhill, from the root outward as the blade thins. Where the grain rises against "
         "the iron a split runs under the line: turn round.",),
        job.checks("first flats"),
    )


def _second(job: _Job) -> StageText:
    return StageText(
        TITLES["second flats"], "marking gauge, block plane, spokeshave",
        ("Draw d and f on flat 1. Plane flat 2 from c to d and flat 3 from e to f, even shavings "
         "from end to end.",),
        (f"No more than {job.left('first flats')} comes off an arris; then at most "
         f"{job.left('second flats')} stands over the surface ({job.where('second flats')}). Keep "
         "off the middle of flat 1: it is finished already.",),
        ("From here the edge is thin: rest the blade on its flat, never on its edge, and keep the "
         "vice off it.",),
        job.checks("second flats"),
    )


def _rounded(job: _Job) -> StageText:
    return StageText(
        TITLES["rounded"], "spokeshave set fine, block plane, scraper, templates, calipers",
        ("Take each arris off once more by eye, the new flats all of one breadth; then round with "
         "scraper and spokeshave to the templates. Both faces and both blades alike.",),
        (f"No more than {job.left('second flats')} comes off any arris, and nothing off the "
         "middle of a flat. Leave the last shavings until the bend has been measured.",),
        (DUST,),
        job.checks("rounded"),
    )


def _finished(job: _Job) -> StageText:
    return StageText(
        TITLES["finished"], "sanding block, fine paper, calipers, scale",
        ("Sand along the grain, raise the grain with a damp cloth, sand again.",),
        (f"Sand away what the last arrises left, {job.thin('rounded')} at most, and stop at the "
         "thicknesses: every place is measured after it.",),
        (GLUE, RAGS, AT_SEA),
        job.checks("finished"),
    )
