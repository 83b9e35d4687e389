"""How far a paddle is, in its few numbers: planned, measured, and between two rounds."""

from __future__ import annotations

import tomllib
import uuid
from importlib import resources

import pytest

from springloom.records.reading import check_layout
from springloom.shape.stages import STAGES
from springloom.store import Store
from springloom.store.layout import design_of, take_in
from springloom.store.marks import mark_stage
from springloom.store.paddles import Paddle
from springloom.store.progress import progress_of
from springloom.store.rounds import close_round, rounds
from springloom.store.worked import worked_out

EXAMPLE = tomllib.loads(
    (resources.files("springloom.examples") / "marsh_tern.toml").read_text("utf-8"))


def mark() -> str:
    return str(uuid.uuid4())


def taken(store: Store, *left_out: str) -> Paddle:
    layout = check_layout({key: EXAMPLE[key] for key in EXAMPLE if key not in left_out})
    with store.write("Ada") as pen:
        return take_in(pen, mark(), layout)


@pytest.mark.parametrize(("left_out", "stage"), [
    (("paddler", "board", "readings"), "fit"), (("board", "readings"), "wood"),
    (("target", "readings"), "design"), (("readings",), "carve"), ((), "tune"),
])
def test_the_stage_is_that_of_what_is_missing(
    file_store: Store, left_out: tuple[str, ...], stage: str
) -> None:
    assert progress_of(file_store, taken(file_store, *left_out).id).stage == stage


def test_every_stage_of_carving_is_asked_for_in_its_order(file_store: Store) -> None:
    made, said = taken(file_store, "readings"), []
    for stage in STAGES:
        said.append(progress_of(file_store, made.id).say)
        with file_store.write("Ada") as pen:
            mark_stage(pen, mark(), made.id, stage, True, {})
    assert len(set(said)) == len(STAGES)
    assert progress_of(file_store, made.id).tab == "tune"


def test_between_rounds_the_figures_are_those_foretold_of_what_was_planed(
    file_store: Store,
) -> None:
    made = taken(file_store)
    with file_store.read() as connection:
        design = design_of(connection, made.id)
        seen = rounds(connection, made.id)[-1].seen
    told = worked_out(mark(), design).told
    planed = [{"blade": blade.side, "at": [r.station for r in blade.removals],
               "per_face": [f"{1e3 * off:.4f} mm" for off in blade.per_face]}
              for blade in told.advice.blades]
    with file_store.write("Ada") as pen:
        close_round(pen, mark(), made.id, {}, planed, seen)
    found = progress_of(file_store, made.id)
    assert found.say.startswith("Measure both blades again")
    assert found.figures is not None
    assert told.prediction is not None
    assert found.figures.measured
    # What is carried over a planing is what was foretold of it: the same estimate, moved. The
    # means differ by what the planing's own unevenness adds in the second order.
    assert found.figures.mass_kg == pytest.approx(told.prediction.mass_then_kg.value, rel=1e-3)
    assert found.figures.tip_a_m == pytest.approx(
        told.prediction.a.line_then_m[-1].value, rel=5e-3)
