"""The bench, two-hands and tap readings of a design file, in SI."""

from __future__ import annotations

from collections.abc import Sequence

from springloom.errors import InputError, known
from springloom.records.places import parse_place
from springloom.records.readings_layout import BenchTable, HandsTable, ToneTable
from springloom.records.told import told
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import (
    DEFAULT_BENCH,
    DEFAULT_RECORDER,
    INSTRUMENTS,
    RECORDERS,
    BenchReading,
    HandsReading,
    Repeated,
    TapReading,
    repeated,
)
from springloom.units import System, Typed, parse_force, parse_frequency, parse_length


def benches(table: BenchTable, field: str, paddle: Paddle, units: System) -> list[BenchReading]:
    """One reading for each place."""
    half = paddle.a if table.blade == "a" else paddle.b

    def place(typed: Typed, key: str) -> tuple[float, str]:
        return parse_place(typed, half.loom, half.tip, units, f"{field}.{key}")

    load = parse_force(table.load, field=f"{field}.load")
    hung, clamp = place(table.hung_at, "hung_at")[0], place(table.clamp_at, "clamp_at")[0]
    found = []
    for i, sunk in enumerate(_sunk(table, field, units)):
        x, name = place(table.read_at[i], f"read_at[{i + 1}]")
        with told(table, field, units, deflection=f"sinks[{i + 1}]", clamp="clamp_at",
                  read_at=f"read_at[{i + 1}]"):
            found.append(BenchReading(table.blade, sunk.value, x, hung, clamp, load, sunk.sd,
                                      name=name, scatter=sunk.scatter,
                                      hysteresis=sunk.hysteresis))
    return found


def hands(table: HandsTable, field: str, paddle: Paddle, units: System) -> list[HandsReading]:
    """One reading for each place."""
    half = paddle.a if table.blade == "a" else paddle.b

    def place(typed: Typed, key: str) -> tuple[float, str]:
        return parse_place(typed, half.loom, half.tip, units, f"{field}.{key}")

    load = parse_force(table.load, field=f"{field}.load")
    span = parse_length(table.span, default=units, field=f"{field}.span")
    widest = 2.0 * min(paddle.a.loom.root, paddle.b.loom.root)
    if span > widest:
        raise InputError("is wider than the loom: hands hold between the roots",
                         field=f"{field}.span", given=table.span,
                         allowed=f"at most {1e3 * widest:.0f} mm")
    hung = place(table.hung_at, "hung_at")[0]
    found = []
    for i, sunk in enumerate(_sunk(table, field, units)):
        x, name = place(table.read_at[i], f"read_at[{i + 1}]")
        with told(table, field, units, deflection=f"sinks[{i + 1}]", half_span="span",
                  read_at=f"read_at[{i + 1}]"):
            found.append(HandsReading(table.blade, sunk.value, x, hung, 0.5 * span, load, sunk.sd,
                                      name=name, scatter=sunk.scatter,
                                      hysteresis=sunk.hysteresis))
    return found


def tone(table: ToneTable, field: str, paddle: Paddle, units: System) -> TapReading:
    """One tap tone."""
    recorder = known(table.recorder or DEFAULT_RECORDER, RECORDERS, f"{field}.recorder")
    half = paddle.b if table.blade == "b" else paddle.a
    clamp, _ = parse_place(table.clamp_at, half.loom, half.tip, units, f"{field}.clamp_at")
    frequency = parse_frequency(table.frequency, field=f"{field}.frequency")
    with told(table, field, units):
        return TapReading(table.blade, frequency, clamp, RECORDERS[recorder])


def _sunk(table: BenchTable | HandsTable, field: str, units: System) -> list[Repeated]:
    """How far each place sank, with what was read on the way back and again."""
    sd = instrument(table.instrument or DEFAULT_BENCH, field)
    rows = {"sinks": table.sinks}
    rows |= {f"repeats[{i + 1}]": row for i, row in enumerate(table.repeats)}
    if table.unloading is not None:
        rows["unloading"] = table.unloading
    read = {key: _lengths(row, table.read_at, f"{field}.{key}", units)
            for key, row in rows.items()}
    back = read.pop("unloading", [])
    return [
        repeated([row[i] for row in read.values()], back[i:i + 1], sd)
        for i in range(len(table.read_at))
    ]


def _lengths(
    typed: Sequence[Typed], places: Sequence[Typed], field: str, units: System
) -> list[float]:
    same_count(typed, places, field)
    return [parse_length(value, default=units, field=f"{field}[{i + 1}]", signed=True)
            for i, value in enumerate(typed)]


def instrument(name: str, field: str) -> float:
    """Uncertainty of one reading by an instrument, m.

    Raises:
        UnknownNameError: nobody knows it.
    """
    return INSTRUMENTS[known(name, INSTRUMENTS, f"{field}.instrument")]


def same_count(values: Sequence[object], places: Sequence[object], field: str) -> None:
    """Refuse lists that do not go together.

    Raises:
        InputError: names the list and how long it should be.
    """
    if len(values) != len(places):
        raise InputError("needs one entry for each place", field=field,
                         given=f"{len(values)} entries", allowed=f"{len(places)} entries")
