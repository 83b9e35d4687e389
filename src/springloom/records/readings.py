"""The readings of a design file, in SI, each with its instrument's uncertainty."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from springloom.errors import InputError, known
from springloom.records.places import parse_place
from springloom.records.readings_layout import (
    BladeLengthTable,
    CaliperTable,
    ReadingsTable,
    TraceTable,
    WidthTable,
)
from springloom.records.readings_load import benches, hands, instrument, same_count, tone
from springloom.records.told import told
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.evidence import (
    DEFAULT_CALIPER,
    DEFAULT_GAUGE,
    DEFAULT_LENGTH,
    DEFAULT_SCALE,
    SCALES,
    BalanceReading,
    LengthReading,
    Reading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.trace import Trace, trace_readings
from springloom.units import System, Typed, parse_length, parse_mass

Kind = Literal["crown", "edge", "inset"]


def readings_from(table: ReadingsTable, paddle: Paddle, units: System) -> tuple[Reading, ...]:
    """Convert the readings tables: first shape, then bend and tone, then weight and balance."""
    found: list[Reading] = []
    for i, caliper in enumerate(table.caliper):
        found += _calipers(caliper, f"readings.caliper[{i + 1}]", paddle, units)
    for i, width in enumerate(table.width):
        found += _widths(width, f"readings.width[{i + 1}]", paddle, units)
    for i, length in enumerate(table.blade_length):
        found.append(_length(length, f"readings.blade_length[{i + 1}]", units))
    for i, trace in enumerate(traces_from(table, paddle, units)):
        with told(table.trace[i], f"readings.trace[{i + 1}]", units, **{trace.label: "at"}):
            found += trace_readings(trace, _half(paddle, trace.side))
    for i, bench in enumerate(table.bench):
        found += benches(bench, f"readings.bench[{i + 1}]", paddle, units)
    for i, two in enumerate(table.hands):
        found += hands(two, f"readings.hands[{i + 1}]", paddle, units)
    for i, tap in enumerate(table.tap):
        found.append(tone(tap, f"readings.tap[{i + 1}]", paddle, units))
    return (*found, *_weighed(table, units))


def traces_from(table: ReadingsTable, paddle: Paddle, units: System) -> tuple[Trace, ...]:
    """Convert the traces alone, to be shown as they are."""
    return tuple(_trace(trace, f"readings.trace[{i + 1}]", paddle, units)
                 for i, trace in enumerate(table.trace))


def _half(paddle: Paddle, side: Literal["a", "b"]) -> HalfPaddle:
    return paddle.a if side == "a" else paddle.b


def _weighed(table: ReadingsTable, units: System) -> Iterator[Reading]:
    if table.weight is not None:
        scale = known(table.scale or DEFAULT_SCALE, SCALES, "readings.scale")
        mass = parse_mass(table.weight, field="readings.weight")
        with told(table, "readings", units):
            yield WeightReading(mass, SCALES[scale])
    if table.balance is not None:
        offset = parse_length(table.balance, default=units, field="readings.balance", signed=True)
        with told(table, "readings", units):
            yield BalanceReading(offset)


def _calipers(
    table: CaliperTable, field: str, paddle: Paddle, units: System
) -> list[ThicknessReading]:
    found: dict[tuple[Kind, int], ThicknessReading] = {}
    inset = _inset(table, field, units)
    lists: tuple[tuple[Kind, str, list[Typed] | None], ...] = (
        ("crown", "crown", table.crown), ("edge", "edge", table.edge),
        ("inset", "thickness", table.thickness),
    )
    for kind, key, typed in lists:
        for i, reading in _thicknesses(table, kind, key, typed or [], inset, field, paddle, units):
            found[kind, i] = reading
    _edges_below_crowns(found, table, field)
    if not found:
        raise InputError("has no readings", field=field, allowed="a crown or an edge list")
    return list(found.values())


def _inset(table: CaliperTable, field: str, units: System) -> float:
    """How far in the thickness list was read, m; 0 where there is none."""
    if (table.inset is None) != (table.thickness is None):
        missing = "inset" if table.inset is None else "thickness"
        raise InputError("is missing: both go together", field=f"{field}.{missing}",
                         allowed="an inset, and a thickness for each place")
    if table.inset is None:
        return 0.0
    return parse_length(table.inset, default=units, field=f"{field}.inset")


def _thicknesses(
    table: CaliperTable, kind: Kind, key: str, typed: list[Typed], inset: float, field: str,
    paddle: Paddle, units: System,
) -> Iterator[tuple[int, ThicknessReading]]:
    half, sd = _half(paddle, table.blade), instrument(table.instrument or DEFAULT_CALIPER, field)
    if typed:
        same_count(typed, table.at, f"{field}.{key}")
    for i, value in enumerate(typed):
        if _is_unread(value):
            continue
        x, name = parse_place(table.at[i], half.loom, half.tip, units, f"{field}.at[{i + 1}]")
        here = f"{key}[{i + 1}]"
        _before_the_round(x, half, f"{field}.{here}", value, key, crown=kind == "crown")
        thick = parse_length(value, default=units, field=f"{field}.{here}")
        if kind == "inset" and inset > half.section(x).half_width:
            raise InputError("lies past the ridge there", field=f"{field}.inset",
                             given=table.inset,
                             allowed=f"at most {1e3 * half.section(x).half_width:.1f} mm")
        with told(table, field, units, **{key: here}):
            yield i, ThicknessReading(table.blade, x, thick, kind, sd, name,
                                      inset if kind == "inset" else 0.0, table.face)


def _is_unread(typed: Typed) -> bool:
    return str(typed).strip() in {"", "-"}


def _before_the_round(
    x: float, half: HalfPaddle, field: str, given: Typed, what: str, *, crown: bool = False
) -> None:
    """In the rounded tip only a crown can be read."""
    if x > half.cap[0] + 1e-9 and not crown:
        article = "an" if what[0] in "aeiou" else "a"
        raise InputError(f"{article} {what} can't be read in the rounded tip", field=field,
                         given=given, allowed='"-" at this place')


def _edges_below_crowns(
    found: dict[tuple[Kind, int], ThicknessReading], table: CaliperTable, field: str
) -> None:
    for (kind, i), reading in found.items():
        crown = found.get(("crown", i))
        if kind == "edge" and crown is not None and reading.thickness > crown.thickness:
            assert table.edge is not None  # or there were no reading of it
            assert table.crown is not None
            raise InputError("is thicker than the crown read there", field=f"{field}.edge[{i + 1}]",
                             given=table.edge[i], allowed=f"at most {table.crown[i]}")


def _widths(table: WidthTable, field: str, paddle: Paddle, units: System) -> list[WidthReading]:
    half, sd = _half(paddle, table.blade), instrument(table.instrument or DEFAULT_CALIPER, field)
    same_count(table.width, table.at, f"{field}.width")
    found = []
    for i, typed in enumerate(table.width):
        if _is_unread(typed):
            continue
        x, name = parse_place(table.at[i], half.loom, half.tip, units, f"{field}.at[{i + 1}]")
        here = f"width[{i + 1}]"
        _before_the_round(x, half, f"{field}.{here}", typed, "width")
        wide = parse_length(typed, default=units, field=f"{field}.{here}")
        with told(table, field, units, width=here):
            found.append(WidthReading(table.blade, x, wide, sd, name))
    if not found:
        raise InputError("has no readings", field=field, allowed="a width for a place")
    return found


def _length(table: BladeLengthTable, field: str, units: System) -> LengthReading:
    sd = instrument(table.instrument or DEFAULT_LENGTH, field)
    length = parse_length(table.length, default=units, field=f"{field}.length")
    with told(table, field, units):
        return LengthReading(table.blade, length, sd)


def _trace(table: TraceTable, field: str, paddle: Paddle, units: System) -> Trace:
    half = _half(paddle, table.blade)
    usual = DEFAULT_CALIPER if table.face == "both" else DEFAULT_GAUGE
    sd = instrument(table.instrument or usual, field)
    x, name = parse_place(table.at, half.loom, half.tip, units, f"{field}.at")
    _before_the_round(x, half, f"{field}.at", table.at, "section")
    same_count(table.high, table.across, f"{field}.high")
    across, high = (
        [parse_length(typed, default=units, field=f"{field}.{key}[{i + 1}]", signed=True)
         for i, typed in enumerate(getattr(table, key))] for key in ("across", "high")
    )
    with told(table, field, units):
        return Trace(table.blade, x, tuple(zip(across, high, strict=True)), table.face, sd, name)
