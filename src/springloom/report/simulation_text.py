"""The table of a simulation, as a page and as data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from springloom.report.words import grid
from springloom.tune.jobs import SPECIES
from springloom.tune.simulate import Tally, Trial, tallies

COLUMNS = ("of all paddles", "wanted", "the advice", "to the plan", "evenly")
"""Heads of the table: what is told, what the advice has to reach, and each way of tuning."""

_Row = tuple[str, str, Callable[[Tally], str]]


def _percent(value: float) -> str:
    return f"{100.0 * value:.1f} %"


_ROWS: tuple[_Row, ...] = (
    ("ended within the tolerance", "", lambda t: _percent(t.within)),
    ("ended at a true stop", "", lambda t: _percent(t.true_stop)),
    ("either of them", ">= 95 %", lambda t: _percent(t.good)),
    ("went past by more than the tolerance", "< 1 %", lambda t: _percent(t.past)),
    ("stopped short by more than that", "", lambda t: _percent(t.short)),
    ("passed a least thickness", "< 0.2 %", lambda t: _percent(t.thin)),
    ("failures: past, short or too thin", "least", lambda t: _percent(t.failures)),
    ("times the plane is taken up, median", "<= 4", lambda t: f"{t.rounds:g}"),
    ("weight, mean", "", lambda t: f"{1e3 * t.mass_kg:.0f} g"),
    ("heavier than it had to be, mean", "least", lambda t: f"{1e3 * t.spare_kg:.1f} g"),
    ("tip off the wanted deflection, mean", "", lambda t: f"{1e3 * t.off_m:.1f} mm"),
    ("blades unlike at the tip, mean", "", lambda t: f"{1e3 * t.unlike_m:.1f} mm"),
    ("bent line off the wanted one, mean", "least", lambda t: f"{1e3 * t.line_off_m:.2f} mm"),
    ("curvature's shape off, mean", "", lambda t: _percent(t.unfair)),
    ("both blades bend fairly", "", lambda t: _percent(t.fair)),
)


def simulation_text(done: Sequence[Trial], seed: int) -> str:
    """Return the table, and how the advice ended in each wood."""
    ways = tallies(done)
    rows = [(says, wanted, *(shown(way) for way in ways)) for says, wanted, shown in _ROWS]
    woods = [(wood, str(way.count), _percent(way.good), _percent(way.past), f"{way.rounds:g}")
             for wood, way in _by_wood(done)]
    return "\n".join([
        f"{len(done)} virtual paddles, seed {seed}", "", grid(COLUMNS, rows, "lrrrr"), "",
        "the advice, wood by wood", "",
        grid(("wood", "paddles", "well ended", "past", "rounds"), woods, "lrrrr"),
    ])


def simulation_data(done: Sequence[Trial], seed: int) -> dict[str, Any]:
    """The table as data: shares of 1, kg and m."""
    return {
        "paddles": len(done), "seed": seed,
        "ways": [_way(way) for way in tallies(done)],
        "woods": [_way(way) for _, way in _by_wood(done)],
    }


def _way(way: Tally) -> dict[str, Any]:
    return {"name": way.name, "well_ended": way.good,
            **{key: getattr(way, key) for key in Tally.__slots__ if key != "name"}}


def _by_wood(done: Sequence[Trial]) -> list[tuple[str, Tally]]:
    found = ((wood, [t.advised for t in done if t.advised.species == wood]) for wood in SPECIES)
    return [(wood, Tally.of(wood, outcomes)) for wood, outcomes in found if outcomes]
