"""The rounds of a design file that are over, in SI."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from springloom.errors import InputError, SpringloomError, in_range
from springloom.records.layout import PlanedTable, RoundTable
from springloom.records.places import parse_place
from springloom.records.readings import readings_from
from springloom.records.told import told
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import Side
from springloom.tune.rounds import Round
from springloom.units import System, parse_length

Floats = npt.NDArray[np.float64]

_MOST_OFF = 0.01
"""Most that one round takes off a face, m."""


def rounds_from(tables: Sequence[RoundTable], paddle: Paddle, units: System) -> tuple[Round, ...]:
    """Convert the rounds; errors name the round, counted from 1.

    Raises:
        InputError: a place that is no station, or one that is planed twice.
        RangeError: more off a face than any round takes.
    """
    found = []
    for i, table in enumerate(tables):
        try:
            found.append(_round(table, paddle, units))
        except SpringloomError as error:
            raise error.within(f"round[{i + 1}]") from None
    return tuple(found)


def _round(table: RoundTable, paddle: Paddle, units: System) -> Round:
    removals: dict[Side, Floats] = {}
    for i, planed in enumerate(table.planed):
        field = f"planed[{i + 1}]"
        if planed.blade in removals:
            raise InputError("is told twice: one table a blade in each round",
                             field=f"{field}.blade", given=planed.blade)
        removals[planed.blade] = _removal(planed, paddle, units, field)
    return Round(readings_from(table.readings, paddle, units), removals)


def _removal(table: PlanedTable, paddle: Paddle, units: System, field: str) -> Floats:
    half = paddle.a if table.blade == "a" else paddle.b
    if len(table.per_face) != len(table.at):
        raise InputError("needs one value for each place", field=f"{field}.per_face",
                         given=len(table.per_face), allowed=str(len(table.at)))
    stations = {round(station.x, 4): i for i, station in enumerate(half.stations)}
    off, seen = np.zeros(len(half.stations)), set[int]()
    for j, (place, typed) in enumerate(zip(table.at, table.per_face, strict=True)):
        x, _ = parse_place(place, half.loom, half.tip, units, f"{field}.at[{j + 1}]")
        i = stations.get(round(x, 4))
        if i is None or i in seen:
            said = "is no station of the blade" if i is None else "is told twice"
            raise InputError(said, field=f"{field}.at[{j + 1}]", given=place,
                             allowed=", ".join(station.name for station in half.stations))
        seen.add(i)
        key = f"per_face[{j + 1}]"
        with told(table, field, units, per_face=key):
            value = parse_length(typed, default=units, field=f"{field}.{key}")
            off[i] = in_range(value, "per_face", 0.0, _MOST_OFF, "m")
    return off
