"""The readings of a design file, in SI, each with its instrument's uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from springloom.errors import InputError, known
from springloom.records.layout import BenchTable, CaliperTable, ReadingsTable
from springloom.records.places import parse_place
from springloom.records.told import told
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import (
    DEFAULT_BENCH,
    DEFAULT_CALIPER,
    DEFAULT_SCALE,
    INSTRUMENTS,
    SCALES,
    BenchReading,
    Reading,
    ThicknessReading,
    WeightReading,
)
from springloom.units import System, Typed, parse_force, parse_length, parse_mass


def readings_from(table: ReadingsTable, paddle: Paddle, units: System) -> tuple[Reading, ...]:
    """Convert the readings tables; the order is thicknesses, bench, weight."""
    found: list[Reading] = []
    for i, caliper in enumerate(table.caliper):
        found += _calipers(caliper, f"readings.caliper[{i + 1}]", paddle, units)
    for i, bench in enumerate(table.bench):
        found += _benches(bench, f"readings.bench[{i + 1}]", paddle, units)
    if table.weight is not None:
        scale = known(table.scale or DEFAULT_SCALE, SCALES, "readings.scale")
        mass = parse_mass(table.weight, field="readings.weight")
        with told(table, "readings", units):
            found.append(WeightReading(mass, SCALES[scale]))
    return tuple(found)


_KINDS: tuple[Literal["crown"], Literal["edge"]] = ("crown", "edge")


def _calipers(
    table: CaliperTable, field: str, paddle: Paddle, units: System
) -> list[ThicknessReading]:
    half = paddle.a if table.blade == "a" else paddle.b
    sd = _instrument(table.instrument or DEFAULT_CALIPER, field)
    found: dict[tuple[str, int], ThicknessReading] = {}
    for kind in _KINDS:
        typed: list[Typed] | None = getattr(table, kind)
        if typed is None:
            continue
        _same_count(typed, table.at, f"{field}.{kind}")
        for i, (place, value) in enumerate(zip(table.at, typed, strict=True)):
            if str(value).strip() in {"", "-"}:
                continue  # not read here
            x, name = parse_place(place, half.loom, half.tip, units, f"{field}.at[{i + 1}]")
            if kind == "edge" and x > half.cap[0] + 1e-9:
                raise InputError("an edge can't be read in the rounded tip",
                                 field=f"{field}.edge[{i + 1}]", given=value,
                                 allowed='"-" at this place')
            thick = parse_length(value, default=units, field=f"{field}.{kind}[{i + 1}]")
            with told(table, field, units, **{kind: f"{kind}[{i + 1}]"}):
                found[kind, i] = ThicknessReading(table.blade, x, thick, kind, sd, name)
    _edges_below_crowns(found, table, field)
    if not found:
        raise InputError("has no readings", field=field, allowed="a crown or an edge list")
    return list(found.values())


def _edges_below_crowns(
    found: dict[tuple[str, int], ThicknessReading], table: CaliperTable, field: str
) -> None:
    for (kind, i), reading in found.items():
        crown = found.get(("crown", i))
        if kind == "edge" and crown is not None and reading.thickness > crown.thickness:
            assert table.edge is not None  # or there were no reading of it
            assert table.crown is not None
            raise InputError("is thicker than the crown read there", field=f"{field}.edge[{i + 1}]",
                             given=table.edge[i], allowed=f"at most {table.crown[i]}")


def _benches(table: BenchTable, field: str, paddle: Paddle, units: System) -> list[BenchReading]:
    half = paddle.a if table.blade == "a" else paddle.b

    def place(typed: Typed, key: str) -> tuple[float, str]:
        return parse_place(typed, half.loom, half.tip, units, f"{field}.{key}")

    _same_count(table.sinks, table.read_at, f"{field}.sinks")
    sd = _instrument(table.instrument or DEFAULT_BENCH, field)
    load = parse_force(table.load, field=f"{field}.load")
    hung, clamp = place(table.hung_at, "hung_at")[0], place(table.clamp_at, "clamp_at")[0]
    found = []
    for i, (at, typed) in enumerate(zip(table.read_at, table.sinks, strict=True)):
        x, name = place(at, f"read_at[{i + 1}]")
        sank = parse_length(typed, default=units, field=f"{field}.sinks[{i + 1}]", signed=True)
        with told(table, field, units, deflection=f"sinks[{i + 1}]", clamp="clamp_at",
                  read_at=f"read_at[{i + 1}]"):
            found.append(BenchReading(table.blade, sank, x, hung, clamp, load, sd, name=name))
    return found


def _instrument(name: str, field: str) -> float:
    return INSTRUMENTS[known(name, INSTRUMENTS, f"{field}.instrument")]


def _same_count(values: Sequence[object], places: Sequence[object], field: str) -> None:
    if len(values) != len(places):
        raise InputError("needs one entry for each place", field=field,
                         given=f"{len(values)} entries", allowed=f"{len(places)} entries")
