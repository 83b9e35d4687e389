"""Every reading as a table for a spreadsheet: one line a value."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from springloom.errors import SpringloomError
from springloom.records.readings_layout import (
    BenchTable,
    BladeLengthTable,
    CaliperTable,
    HandsTable,
    ToneTable,
    TraceTable,
    WidthTable,
)
from springloom.store import schema
from springloom.store.paddles import paddle
from springloom.store.rounds import StoredReading, all_readings
from springloom.store.schema import moment_text
from springloom.tune.evidence import (
    DEFAULT_BENCH,
    DEFAULT_CALIPER,
    DEFAULT_GAUGE,
    DEFAULT_LENGTH,
    DEFAULT_RECORDER,
    DEFAULT_SCALE,
)
from springloom.units import Typed, parse_frequency, parse_length, parse_mass

COLUMNS = ("paddle", "round", "kind", "blade", "place", "what", "typed", "si_value", "si_unit",
           "instrument", "made_at", "made_by", "stands", "entry", "replaces")


@dataclass(frozen=True, slots=True)
class _Value:
    what: str
    typed: Typed
    unit: str
    blade: str = ""
    place: Typed = ""
    instrument: str = ""


def readings_csv(connection: Connection, paddle_id: int | None = None) -> str:
    """Every value that was ever read, of one paddle or of all, in the order they came.

    ``stands`` says whether a value counts: yes, corrected or withdrawn. A text that a spreadsheet
    would take for a formula has an apostrophe before it.
    """
    file = io.StringIO(newline="")
    lines = csv.writer(file)
    lines.writerow(COLUMNS)
    for number in _paddles(connection, paddle_id):
        name = paddle(connection, number).name
        entries = all_readings(connection, number)
        after = {entry.replaces: entry for entry in entries if entry.replaces is not None}
        for entry in entries:
            lines.writerows([_safe(cell) for cell in line] for line in _lines(name, entry, after))
    return file.getvalue()


def _paddles(connection: Connection, paddle_id: int | None) -> list[int]:
    if paddle_id is not None:
        return [paddle_id]
    return list(connection.execute(select(schema.paddle.c.id).order_by(schema.paddle.c.id))
                .scalars())


def _lines(name: str, entry: StoredReading, after: Mapping[int, StoredReading]
           ) -> Iterator[list[Any]]:
    if entry.table is None:
        return
    successor = after.get(entry.id)
    stands = "yes" if successor is None else "withdrawn" if successor.table is None else "corrected"
    for value in _VALUES[entry.kind](entry.table):
        if str(value.typed).strip() in {"", "-"}:
            continue  # nothing was read there
        yield [name, entry.round, entry.kind, value.blade, value.place, value.what, value.typed,
               _si(value, entry), value.unit, value.instrument, moment_text(entry.made_at),
               entry.made_by, stands, entry.id, "" if entry.replaces is None else entry.replaces]


def _si(value: _Value, entry: StoredReading) -> str:
    try:
        if value.unit == "m":
            return f"{parse_length(value.typed, default=entry.units, signed=True):.9g}"
        if value.unit == "kg":
            return f"{parse_mass(value.typed):.9g}"
        return f"{parse_frequency(value.typed):.9g}" if value.unit == "Hz" else ""
    except SpringloomError:
        return ""  # the value as typed is there; a table with a gap is better than none


def _safe(cell: Any) -> Any:
    """A cell that no spreadsheet takes for a formula."""
    if not isinstance(cell, str) or not cell.startswith(("=", "+", "-", "@", "\t", "\r", "\n")):
        return cell
    try:
        float(cell)
    except ValueError:
        return f"'{cell}"
    return cell


def _caliper(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = CaliperTable.model_validate(typed)
    side = "" if table.face == "both" else f", {table.face} face"
    rows = {"crown": table.crown, "edge": table.edge,
            f"thickness {table.inset} from the edge": table.thickness}
    for what, row in rows.items():
        for place, value in zip(table.at, row or (), strict=False):
            yield _Value(f"{what}{side}", value, "m", table.blade, place,
                         table.instrument or DEFAULT_CALIPER)


def _width(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = WidthTable.model_validate(typed)
    for place, value in zip(table.at, table.width, strict=False):
        yield _Value("width", value, "m", table.blade, place, table.instrument or DEFAULT_CALIPER)


def _blade_length(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = BladeLengthTable.model_validate(typed)
    yield _Value("length from shoulder to tip", table.length, "m", table.blade, "",
                 table.instrument or DEFAULT_LENGTH)


def _trace(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = TraceTable.model_validate(typed)
    usual = DEFAULT_CALIPER if table.face == "both" else DEFAULT_GAUGE
    what = "thickness" if table.face == "both" else f"height of the {table.face} face"
    for across, high in zip(table.across, table.high, strict=False):
        yield _Value(f"{what}, {across} across", high, "m", table.blade, table.at,
                     table.instrument or usual)


def _bench(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = BenchTable.model_validate(typed)
    set_up = f"under {table.load} at {table.hung_at}, clamped at {table.clamp_at}"
    return _sunk(table, set_up)


def _hands(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = HandsTable.model_validate(typed)
    return _sunk(table, f"under {table.load} at {table.hung_at}, on supports {table.span} apart")


def _sunk(table: BenchTable | HandsTable, set_up: str) -> Iterator[_Value]:
    rows: dict[str, Iterable[Typed]] = {"sinks": table.sinks}
    rows |= {f"sinks, time {i + 2},": row for i, row in enumerate(table.repeats)}
    rows["sinks, weight taken down,"] = table.unloading or ()
    for what, row in rows.items():
        for place, value in zip(table.read_at, row, strict=False):
            yield _Value(f"{what} {set_up}", value, "m", table.blade, place,
                         table.instrument or DEFAULT_BENCH)


def _tap(typed: Mapping[str, Any]) -> Iterator[_Value]:
    table = ToneTable.model_validate(typed)
    what = f"tone, clamped at {table.clamp_at}" if table.blade else "tone of the paddle hung free"
    yield _Value(what, table.frequency, "Hz", table.blade or "", "",
                 table.recorder or DEFAULT_RECORDER)


def _weight(typed: Mapping[str, Any]) -> Iterator[_Value]:
    yield _Value("weight", typed["weight"], "kg", instrument=typed.get("scale") or DEFAULT_SCALE)


def _balance(typed: Mapping[str, Any]) -> Iterator[_Value]:
    yield _Value("balance, from the centre towards blade A", typed["balance"], "m")


def _remark(typed: Mapping[str, Any]) -> Iterator[_Value]:
    yield _Value("remark", typed["text"], "")


_VALUES: dict[str, Callable[[Mapping[str, Any]], Iterator[_Value]]] = {
    "weight": _weight, "balance": _balance, "caliper": _caliper, "width": _width,
    "blade_length": _blade_length, "trace": _trace, "bench": _bench, "hands": _hands, "tap": _tap,
    "remark": _remark,
}
