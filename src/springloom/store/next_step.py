"""Working out how far a paddle is, and the one next thing to do."""

from __future__ import annotations

from dataclasses import replace

from springloom.errors import SpringloomError
from springloom.records.design import Design, design_from
from springloom.report.tune_words import headline
from springloom.shape.stages import STAGES
from springloom.store.figures import Progress
from springloom.store.layout import layout_of
from springloom.store.marks import marks
from springloom.store.opening import Store
from springloom.store.paddles import Paddle, paddle
from springloom.store.reckoned import carried_figures, measured_figures, planned_figures
from springloom.store.rounds import rounds
from springloom.store.worked import worked_out
from springloom.tune.advice import Advice
from springloom.tune.walk import unread, walk


def next_step(store: Store, paddle_id: int, key: str) -> Progress:
    """Work out how far a paddle is; ``key`` is that of its state."""
    with store.read() as connection:
        one, layout = paddle(connection, paddle_id), layout_of(connection, paddle_id)
        done = {mark.stage for mark in marks(connection, paddle_id) if mark.done}
        closed = [turn for turn in rounds(connection, paddle_id) if turn.closing is not None]
    try:
        design = design_from(layout)
    except SpringloomError as error:
        return Progress("design", "design", f"Mend the design: {error}.")
    found = _planned(one, design) or _tuned(
        design, key, carved=_carved(done), turns=len(closed))
    return found if found.figures else replace(found, figures=planned_figures(design))


def _planned(one: Paddle, design: Design) -> Progress | None:
    """Return what is missing before wood is cut."""
    wood = design.board is not None or design.layup is not None
    if design.body is None and one.person_id is None and not wood and not design.readings:
        return Progress("fit", "design", "Say whom it is for; with only a board it is anybody's.")
    if not wood:
        return Progress("wood", "design", "Choose a board for it.")
    if design.target is None:
        return Progress("design", "design", "Say how far the tip should sink.")
    return None


def _carved(done: set[str]) -> str | None:
    """Return the first stage that isn't ticked, None when all are."""
    return next((stage for stage in STAGES if stage not in done), None)


def _tuned(design: Design, key: str, *, carved: str | None, turns: int) -> Progress:
    if not design.readings:
        if carved is not None and turns == 0:
            return Progress("carve", "carve", _CARVE[carved])
        again = " again" if turns else ""
        return Progress("tune", "tune",
                        f"Measure both blades{again}: crowns and edges, weight, bend.",
                        carried_figures(design) if turns else None)
    try:
        told = worked_out(key, design).told
    except SpringloomError as error:
        return Progress("tune", "tune", f"Look at the readings: {error}.")
    finished = all(blade.call == "stop: on target" for blade in told.advice.blades)
    return Progress("done" if finished else "tune", "tune",
                    _going_on(design, told.advice) or headline(told.advice),
                    measured_figures(design, told))


def _going_on(design: Design, advice: Advice) -> str:
    """In the middle of measuring, how far that is; else ``""``."""
    steps = walk(design.paddle)
    left = len(unread(steps, design.readings))
    if advice.blocked or not left or any(b.call != "measure again" for b in advice.blades):
        return ""
    return f"Go on measuring: {len(steps) - left} of {len(steps)} readings are taken."


_CARVE = {
    "squared": "Square the blank and draw the centre lines.",
    "sawn": "Saw and plane the outline.",
    "tapered": "Saw and plane the taper.",
    "first flats": "Plane the first flats to their lines.",
    "second flats": "Plane the second flats.",
    "rounded": "Round: take each arris off once more.",
    "finished": "Scrape and sand to the finished surface, then measure both blades.",
}
