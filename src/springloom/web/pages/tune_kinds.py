"""Forms for every kind of reading: what they ask for, the table they become, and back again."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from pydantic import BaseModel

from springloom.records.readings_layout import (
    BenchTable,
    BladeLengthTable,
    CaliperTable,
    HandsTable,
    ReadingsTable,
    ToneTable,
    TraceTable,
    WidthTable,
)
from springloom.store.rounds import Kind
from springloom.tune.evidence import INSTRUMENTS, RECORDERS, SCALES
from springloom.web.forms import Form

Options = tuple[tuple[str, str], ...]

_BLADES: Options = (("a", "Blade A"), ("b", "Blade B"))
_TOOLS: Options = (("", "the usual one"), *((name, name) for name in INSTRUMENTS))
_FACES: Options = (("both", "both faces together"), ("upper", "upper face alone"),
                   ("lower", "lower face alone"))
_UNREAD = "-"
_AGAIN = ("again1", "again2", "again3")


@dataclass(frozen=True, slots=True)
class Ask:
    """One input of a form: its key in the table, its label, and what is meant.

    Attributes:
        key, label: of the input.
        hint: the layout's own description of the key.
        options: to choose from; none for text.
        start: what stands in it at first.
        long: whether it takes several lines.
    """

    key: str
    label: str
    hint: str = ""
    options: Options = ()
    start: str = ""
    long: bool = False


@dataclass(frozen=True, slots=True)
class Sheet:
    """The form for one kind of reading: single inputs, and rows of one input a column.

    ``numbers`` are the single inputs that take nothing but numbers.
    """

    kind: Kind
    title: str
    how: str
    asks: tuple[Ask, ...]
    columns: tuple[Ask, ...] = ()
    rows: int = 0
    start_rows: tuple[tuple[str, ...], ...] = ()
    numbers: tuple[str, ...] = ()

    def inputs(self, rows: int) -> str:
        """Names of the inputs that take nothing but numbers, for the keys beside them."""
        cells = [f"{column.key}-{row + 1}" for row in range(rows) for column in self.columns
                 if column.key not in {"at", "read_at"}]
        return " ".join([*self.numbers, *cells])


def _ask(model: type[BaseModel], key: str, label: str, options: Options = (),
         start: str = "") -> Ask:
    hint = model.model_fields[key].description or ""
    return Ask(key, label, "" if options else hint, options, start)


def _sunk(model: type[BaseModel]) -> tuple[Ask, ...]:
    return (Ask("read_at", "Read at"), _ask(model, "sinks", "Sinks"),
            _ask(model, "unloading", "Unloading"),
            *(Ask(key, f"Again {i + 1}") for i, key in enumerate(_AGAIN)))


SHEETS: Mapping[str, Sheet] = {sheet.kind: sheet for sheet in (
    Sheet("caliper", "Thickness at any place",
          "Calipers on one blade. Leave empty what was not read.",
          (_ask(CaliperTable, "blade", "Blade", _BLADES),
           _ask(CaliperTable, "face", "Which face", _FACES),
           _ask(CaliperTable, "instrument", "Read with", _TOOLS),
           _ask(CaliperTable, "inset", "Inset of the last column")),
          (Ask("at", "Place"), Ask("crown", "Crown"), Ask("edge", "Edge"),
           Ask("thickness", "At that inset")), 3),
    Sheet("width", "Width", "Across the blade, square to its centre line.",
          (_ask(WidthTable, "blade", "Blade", _BLADES),
           _ask(WidthTable, "instrument", "Read with", _TOOLS)),
          (Ask("at", "Place"), Ask("width", "Width")), 4),
    Sheet("blade_length", "Length of a blade", "From the shoulder to the tip.",
          (_ask(BladeLengthTable, "blade", "Blade", _BLADES),
           _ask(BladeLengthTable, "length", "Length"),
           _ask(BladeLengthTable, "instrument", "Read with",
                (("", "the usual one"), *((name, name) for name in INSTRUMENTS)))),
          numbers=("length",)),
    Sheet("trace", "Section, traced point by point",
          "With a profile gauge over one face, or calipers over both.",
          (_ask(TraceTable, "blade", "Blade", _BLADES), _ask(TraceTable, "at", "Place"),
           _ask(TraceTable, "face", "Which face", _FACES[1:] + _FACES[:1]),
           _ask(TraceTable, "instrument", "Read with", _TOOLS)),
          (_ask(TraceTable, "across", "Across"), _ask(TraceTable, "high", "High")), 9),
    Sheet("bench", "Bend of a clamped blade",
          "Every place under one weight; unloading and repeats tell whether something gives.",
          (_ask(BenchTable, "blade", "Blade", _BLADES),
           _ask(BenchTable, "load", "Weight hung", start="10 lb"),
           _ask(BenchTable, "hung_at", "Hung at", start="tip"),
           _ask(BenchTable, "clamp_at", "Clamped at", start="root"),
           _ask(BenchTable, "instrument", "Read with", _TOOLS)),
          _sunk(BenchTable), 4, (("tip",), ("3/4",), ("1/2",))),
    Sheet("hands", "Bend on two supports",
          "The paddle on two supports about its centre, as two hands hold it.",
          (_ask(HandsTable, "blade", "Blade", _BLADES),
           _ask(HandsTable, "load", "Weight hung", start="89 N"),
           _ask(HandsTable, "hung_at", "Hung at", start="889 mm from centre"),
           _ask(HandsTable, "span", "Support to support", start="508 mm"),
           _ask(HandsTable, "instrument", "Read with", _TOOLS)),
          _sunk(HandsTable), 2, (("889 mm from centre",),)),
    Sheet("tap", "Tap tone", "Tap flatwise and read the lowest tone off a recording.",
          (_ask(ToneTable, "frequency", "Tone"),
           _ask(ToneTable, "blade", "What was tapped",
                (*_BLADES, ("", "the paddle, hung free at 0.224 of its length")), start="a"),
           _ask(ToneTable, "clamp_at", "Clamped at", start="root"),
           _ask(ToneTable, "recorder", "Read with",
                (("", "the usual one"), *((name, name) for name in RECORDERS))))),
    Sheet("balance", "Balance point", "Lay the paddle over an edge and find where it balances.",
          (Ask("balance", "From the centre"), Ask("towards", "Towards", "", _BLADES)),
          numbers=("balance",)),
    Sheet("weight", "Weight", "The whole paddle, as it is now.",
          (_ask(ReadingsTable, "weight", "Weight"),
           Ask("scale", "Weighed with", "",
               (("", "the usual one"), *((name, name) for name in SCALES))))),
    Sheet("remark", "Remark", "What hands and eyes say; it is shown, and moves no number.",
          (Ask("text", "Remark", long=True),)),
)}


def table_from(sheet: Sheet, form: Form) -> dict[str, Any]:
    """The table that a filled-in form is, empty inputs left out."""
    table: dict[str, Any] = {ask.key: form.text(ask.key) for ask in sheet.asks
                             if form.text(ask.key)}
    if sheet.kind == "balance":
        return _signed(table)
    texts = [form.texts(column.key) for column in sheet.columns]
    rows = [row for row in zip_longest(*texts, fillvalue="") if any(row[1:])]
    blank = _UNREAD if sheet.kind in {"caliper", "width"} else ""
    for column, cells in zip(sheet.columns, zip(*rows, strict=True), strict=False):
        if column is sheet.columns[0] or any(cells):
            table[column.key] = [cell or (blank if column is not sheet.columns[0] else "")
                                 for cell in cells]
    again = [table.pop(key) for key in _AGAIN if key in table]
    return table | ({"repeats": again} if again else {})


def _signed(table: dict[str, Any]) -> dict[str, Any]:
    """A balance point towards B is negative."""
    value = str(table.get("balance", "")).lstrip("+").strip()
    towards_b = table.get("towards") == "b" and value and not value.startswith("-")
    return {"balance": f"-{value}" if towards_b else value} if value else {}


@dataclass(frozen=True, slots=True)
class Filled:
    """What stands in a form's inputs: single ones by key, rows column by column."""

    values: Mapping[str, str]
    rows: tuple[tuple[str, ...], ...]


def filled(sheet: Sheet, table: Mapping[str, Any] | None) -> Filled:
    """Put a table into its form; None for an empty form with what usually stands there."""
    if table is None:
        start = {ask.key: ask.start for ask in sheet.asks}
        return Filled(start, _padded(sheet, sheet.start_rows))
    values = {ask.key: str(table.get(ask.key, _unsaid(ask))) for ask in sheet.asks}
    if sheet.kind == "balance":
        text = str(table.get("balance", "")).strip()
        values = {"balance": text.lstrip("+-"), "towards": "b" if text.startswith("-") else "a"}
    columns = [_cells(table, column.key) for column in sheet.columns]
    if sheet.columns and sheet.columns[0].key == "read_at" and not columns[0]:
        columns[0] = [row[0] for row in sheet.start_rows][:1]
    rows = tuple(zip_longest(*columns, fillvalue=""))
    return Filled(values, _padded(sheet, rows, len(rows) + 1))


def _unsaid(ask: Ask) -> str:
    """What a key that is not in a table means."""
    return "" if any(not key for key, _ in ask.options) else ask.start


def _cells(table: Mapping[str, Any], key: str) -> list[str]:
    if key in _AGAIN:
        again = table.get("repeats") or []
        i = _AGAIN.index(key)
        return [str(cell) for cell in again[i]] if i < len(again) else []
    return ["" if str(cell) == _UNREAD else str(cell) for cell in table.get(key) or []]


def _padded(sheet: Sheet, rows: tuple[tuple[str, ...], ...],
            least: int | None = None) -> tuple[tuple[str, ...], ...]:
    """Rows as wide as the form, and one or more left empty; ``least`` in all."""
    wide = [tuple(row) + ("",) * (len(sheet.columns) - len(row)) for row in rows]
    spare = max((sheet.rows if least is None else least) - len(wide), 1 if sheet.columns else 0)
    return (*wide, *[("",) * len(sheet.columns)] * spare)


def typed_in(sheet: Sheet, form: Form) -> Filled:
    """What was typed, to stand in the form again."""
    texts = [form.texts(column.key) for column in sheet.columns]
    rows = [row for row in zip_longest(*texts, fillvalue="") if any(row)]
    return Filled({ask.key: form.text(ask.key) for ask in sheet.asks},
                  _padded(sheet, tuple(rows)))


def field_of(field: str) -> str:
    """The input that a complaint about an entry belongs to: its key, with the row if it has one."""
    found = re.search(r"(?:^|\.)(\w+)(?:\[(\d+)\])?(?:\[(\d+)\])?$", field)
    if not found:
        return ""
    key, first, second = found.groups()
    if key == "repeats":
        return f"again{first}[{second}]" if second else f"again{first or 1}"
    return f"{key}[{first}]" if first else key
