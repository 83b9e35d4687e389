"""What the mechanics say of a design while it is typed: drawn and in words, nothing kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from markupsafe import Markup
from sqlalchemy import Connection

from springloom.drawing.screen_bend import BentLine, WantedLine, screen_bend
from springloom.drawing.screen_sections import screen_sections, section_sheet
from springloom.drawing.screen_views import THICKER, WIDER, screen_views
from springloom.errors import SpringloomError
from springloom.mechanics.analysis import Analysis, BladeResult, analyse
from springloom.mechanics.setups import STANDARD_LOAD
from springloom.mechanics.stiffness import spread_of
from springloom.mechanics.strength import SAFE_MARGIN
from springloom.records.design import Design, design_from
from springloom.records.reading import check_layout
from springloom.report.forecast_words import (
    MARGINS_SAY,
    band,
    gives_first,
    hands_words,
    margin_warning,
    past_limits,
    splitting_words,
    stress_words,
    sure_of,
    swing_words,
    tone_words,
    weighs_words,
)
from springloom.report.words import Words
from springloom.shape.blade import EDGE_INSET, HalfPaddle
from springloom.store.boards import board
from springloom.store.paddles import Paddle
from springloom.web.figures import figure
from springloom.web.forms import Problem, problem_of
from springloom.web.pages.design_handles import section_handles, view_handles
from springloom.wood.verdict import judge

Row = tuple[str, ...]
Rows = Mapping[str, tuple[int, ...]]
NO_ROWS: Rows = {}
STRETCH = f"{WIDER:g}", f"{THICKER:g}"
"""How many times wider and thicker than long the face and the side are drawn."""


@dataclass(frozen=True)
class Worked:
    """A design worked out.

    Attributes:
        design: in SI.
        result: its analysis; None where the wood isn't known.
        spread: standard deviations of ln E and ln density.
        wood: why there is no result.
    """

    design: Design
    result: Analysis | None
    spread: tuple[float, float] = (0.0, 0.0)
    wood: Problem | None = None

    @property
    def halves(self) -> tuple[tuple[str, HalfPaddle], ...]:
        """The blades that are drawn: one for both, or one each, with their letters."""
        paddle = self.design.paddle
        if paddle.is_symmetric:
            return (("", paddle.a),)
        return ("A", paddle.a), ("B", paddle.b)

    @property
    def blades(self) -> tuple[tuple[str, BladeResult], ...]:
        """Each drawn blade's result."""
        if self.result is None:
            return ()
        both = (self.result.a, self.result.b)
        return tuple((name, one) for (name, _), one in zip(self.halves, both, strict=False))

    @property
    def load_n(self) -> float:
        """Under which weight the bend is shown."""
        return self.design.target.load_n if self.design.target else STANDARD_LOAD


def board_of(connection: Connection, kept: Paddle) -> Mapping[str, Any] | None:
    """Return the [board] table of a paddle's board, in the units of its design."""
    if kept.board_id is None:
        return None
    return board(connection, kept.board_id).typed(kept.design.get("units", "mm"))


def design_typed(typed: Mapping[str, Any], table: Mapping[str, Any] | None) -> Design:
    """Return a typed design with the board it is to be cut from; no readings.

    Args:
        typed: a design file's tables.
        table: its [board], as :func:`board_of` gives it.

    Raises:
        InputError: something in it can't be; names the field.
    """
    data = {"format": 1, **typed}
    if table is not None:
        data["board"] = table
    return design_from(check_layout(data))


def worked(design: Design) -> Worked:
    """Work a design out, as ``springloom forecast`` does, under the target's weight."""
    try:
        build = design.build
    except SpringloomError as error:
        return Worked(design, None, wood=problem_of(error))
    target = design.target
    setup = None
    if target is not None and target.load_n != STANDARD_LOAD:
        setup = target.setup(design.paddle.a)
    result = analyse(design.paddle, build, setup, target.progression if target else None)
    return Worked(design, result, spread_of(build))


def parts_of(work: Worked, words: Words, rows: Rows = NO_ROWS) -> dict[str, Any]:
    """Return everything the live parts of the page show.

    Args:
        work: the design, worked out.
        words: the reader's units.
        rows: the form's row of each station, by table, where it isn't the station's own number.
    """
    return {
        "stretch": STRETCH, "say": headline(work, words), "views": views(work, words, rows),
        "sections": sections(work, words, rows), "bend": bend(work, words),
        "bend_words": bend_words(work, words), "weight": weight_words(work, words),
        "margins": margin_rows(work, words), "margin_words": strength_words(work, words),
        "limits": limit_words(work, words), "shape_words": shape_words(work, words),
        "notes": work.result.notes if work.result else (),
        "wood": work.wood, "inset": words.length(EDGE_INSET), "doubts": doubts(work),
    }


def headline(work: Worked, words: Words) -> list[dict[str, str]]:
    """What changes as one types, in a few figures with their bands."""
    result, target = work.result, work.design.target
    if result is None:
        return [{"what": "Length", "value": words.length(work.design.paddle.length), "more": ""}]
    mass = result.mass.mass_kg
    said = [{"what": "Weighs", "value": words.mass(mass),
             "more": sure_of(mass, work.spread[1], words.mass)}]
    for name, blade in work.blades:
        tip = blade.line.tip_deflection_m
        aim = f", wanted {words.length(target.deflection_m)}" if target else ""
        said.append({"what": f"Tip {name} sinks".replace("  ", " "), "value": words.length(tip),
                     "more": f"{sure_of(tip, work.spread[0], words.length)}{aim}"})
    weak = min((blade.weakest for _, blade in work.blades), key=lambda m: m.margin)
    said.append({"what": "Least margin", "value": f"{weak.margin:.2f}",
                 "more": f"{weak.case}{', TOO WEAK' if weak.margin < SAFE_MARGIN else ''}"})
    return said


def views(work: Worked, words: Words, rows: Rows = NO_ROWS) -> list[dict[str, Any]]:
    """Face and side of each drawn blade, with its handles."""
    made, paddle = [], work.design.paddle
    for name, half in work.halves:
        other = paddle.a if name == "B" else paddle.b
        table = "blade_b" if name == "B" else "blade"
        made.append({
            "blade": name, "svg": figure(screen_views(half, other, words.system, name),
                                         f"views{name}-"),
            "handles": view_handles(half, table, work.design.units, rows.get(table, ())),
        })
    return made


def sections(work: Worked, words: Words, rows: Rows = NO_ROWS) -> list[dict[str, Any]]:
    """Sections of each drawn blade, with handles at their edges."""
    made = []
    for name, half in work.halves:
        table = "blade_b" if name == "B" else "blade"
        sheet = section_sheet(half, words.system)
        made.append({
            "blade": name,
            "svg": figure(screen_sections(half, words.system, name, sheet), f"sections{name}-"),
            "handles": section_handles(half, table, work.design.units, sheet,
                                       rows.get(table, ())),
        })
    return made


def bend(work: Worked, words: Words) -> Markup:
    """The bent lines against the wanted one."""
    lines = bent_lines(work)
    if not lines:
        return Markup()
    return figure(screen_bend(lines, wanted_line(work.design), words.hung(work.load_n),
                              words.system), "bend-")


def bent_lines(work: Worked, called: str = "designed") -> list[BentLine]:
    """Each drawn blade's line, the first one with its band."""
    made = []
    for n, ((name, blade), (_, half)) in enumerate(zip(work.blades, work.halves, strict=False)):
        line = blade.line
        tip = line.tip_deflection_m
        factor = band(1.0, work.spread[0])[1] if n == 0 else 1.0
        made.append(BentLine(
            f"blade {name}" if name else called,
            np.concatenate([[half.loom.root], line.x_m, [half.tip]]),
            np.concatenate([[0.0], line.deflection_m, [tip]]), factor))
    return made


def wanted_line(design: Design) -> WantedLine | None:
    """What is wanted of the line."""
    if design.target is None:
        return None
    return WantedLine(design.target.deflection_m, design.target.progression)


def bend_words(work: Worked, words: Words) -> list[str]:
    """How each blade bends, beside what is wanted."""
    said = []
    target = work.design.target
    for name, blade in work.blades:
        tip, blade_name = blade.line.tip_deflection_m, f"Blade {name}" if name else "The tip"
        said.append(f"{blade_name} sinks {words.both(tip)} under {words.hung(work.load_n)} at the "
                    f"tip, root clamped; {sure_of(tip, work.spread[0], words.length)}. The bend is "
                    f"{blade.line.character.words}.")
        if target is not None:
            said.append(_against(tip, work, words))
        said += [f"{spot.kind} from {words.length(spot.from_m)} to {words.length(spot.to_m)}: "
                 f"{100 * abs(spot.excess):.0f} % {'more' if spot.excess > 0 else 'less'} bent "
                 "than wanted" for spot in blade.line.character.spots]
    return [f"{one[0].upper()}{one[1:].removesuffix('.')}." for one in said]


def _against(tip: float, work: Worked, words: Words) -> str:
    target = work.design.target
    assert target is not None  # its caller asked
    gap, near = tip - target.deflection_m, words.length(target.tolerance_m)
    if abs(gap) <= target.tolerance_m:
        return f"wanted {words.length(target.deflection_m)}: within {near}, near enough"
    much = "more" if gap > 0 else "less"
    return (f"wanted {words.length(target.deflection_m)}: it sinks {words.length(abs(gap))} "
            f"{much}, which is past the {near} that would be near enough")


def weight_words(work: Worked, words: Words) -> list[str]:
    """Weight, balance, swing, tones."""
    if work.result is None:
        return []
    hands = hands_words(work.result, words)
    said = [weighs_words(work.result, work.spread[1], words), swing_words(work.result, words),
            *([hands] if hands else []), tone_words(work.result)]
    return [f"{one[0].upper()}{one[1:]}" for one in said]


def margin_rows(work: Worked, words: Words) -> list[Row]:
    """Case, margin, what gives first, stress and strength; one row a case and blade."""
    return [(f"{m.case}, blade {name}" if name else m.case,
             f"{m.margin:.2f}{' too weak' if m.margin < SAFE_MARGIN else ''}",
             gives_first(m, words), stress_words(m, words))
            for name, blade in work.blades for m in blade.margins]


def strength_words(work: Worked, words: Words) -> dict[str, Any]:
    """Warnings, the screen, and what margins are."""
    warnings = [margin_warning(m) for _, blade in work.blades for m in blade.margins
                if m.margin < SAFE_MARGIN]
    screens = [splitting_words(blade.splitting, words) for _, blade in work.blades]
    cases = {m.case: m.assumption for _, blade in work.blades for m in blade.margins}
    return {"warnings": warnings, "screens": [f"{s[0].upper()}{s[1:]}." for s in screens],
            "means": f"{MARGINS_SAY[0].upper()}{MARGINS_SAY[1:]}.", "cases": list(cases.items())}


def limit_words(work: Worked, words: Words) -> list[str]:
    """What is past the limits that were set."""
    limits = work.design.limits
    said = [f"blade {name}, {one}" if name else one
            for name, half in work.halves for one in past_limits(half, limits, words)]
    weak = min((blade.weakest for _, blade in work.blades), key=lambda m: m.margin, default=None)
    if weak is not None and SAFE_MARGIN <= weak.margin < limits.margin:
        said.append(f"{weak.case}: a margin of {weak.margin:.2f} is below the least of "
                    f"{limits.margin:g} that was set")
    return [f"{one[0].upper()}{one[1:]}" for one in said]


def doubts(work: Worked) -> list[str]:
    """What speaks against the board it is to be cut from."""
    if work.result is None or work.design.layup is not None:
        return []
    return [reason.sentence for reason in judge(work.design.assessment).reasons
            if reason.grade != "use"]


def shape_words(work: Worked, words: Words) -> list[str]:
    """The paddle's shape told in words, for whoever sees no drawing."""
    paddle, loom = work.design.paddle, work.design.paddle.a.loom
    said = [f"The paddle is {words.length(paddle.length)} long. Its loom, "
            f"{words.length(2.0 * loom.half_length)} between the shoulders, is an oval "
            f"{words.length(loom.width)} wide and {words.length(loom.thickness)} thick."]
    for name, half in work.halves:
        told = "; ".join(_section_words(half, i, words) for i in range(len(half.stations)))
        told = f"{told[0].upper()}{told[1:]}"
        said.append(f"{f'Blade {name}' if name else 'Each blade'} is "
                    f"{words.length(half.blade_length)} long from the shoulder. {told}.")
    return said


def _section_words(half: HalfPaddle, index: int, words: Words) -> str:
    station = half.stations[index]
    if station.width == 0.0:
        return f"at the tip it closes round, {words.length(station.crown)} thick"
    edge = "" if station.edge is None else f", edge {words.length(station.edge)}"
    return (f"at {station.name} {words.length(station.width)} wide and "
            f"{words.length(station.crown)} thick{edge}, {_form(station.ridge)}")


def _form(ridge: float) -> str:
    """What a section looks like by its ridge fullness: 0 a straight diamond, 0.55 an oval."""
    forms = ((0.15, "a diamond"), (0.35, "a diamond with round corners"),
             (0.48, "an eased diamond"), (0.62, "an oval"))
    return next((form for most, form in forms if ridge <= most), "a full oval, nearly a box")
