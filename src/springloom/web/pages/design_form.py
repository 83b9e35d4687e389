"""The design page's form: a design's tables as fields, and fields as tables again.

Fields go by the dotted names that errors carry (``blade.crown[3]``), counted from 1 as a file's
lists are. Rows come and go: a row whose first field is empty is left out, the empty row at the
foot adds one. What is typed stays typed; only plain numbers become numbers again.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from pydantic import BaseModel

from springloom.errors import SpringloomError
from springloom.records.layout import (
    CareTable,
    LimitsTable,
    LoomTable,
    PaddleTable,
    StripTable,
    TargetTable,
)
from springloom.records.places import parse_place
from springloom.records.shape_typed import shape_tables, typed_length
from springloom.shape.blade import HalfPaddle, Loom
from springloom.shape.paddle import default_paddle
from springloom.units import System, parse_length
from springloom.web.forms import Form, Problem, problem_of

TABLES: dict[str, type[BaseModel]] = {
    "paddle": PaddleTable, "loom": LoomTable, "target": TargetTable, "limits": LimitsTable,
    "care": CareTable,
}
STATION_KEYS = ("stations", "width", "crown", "edge", "ridge", "ridge_below", "face_share")
STRIP_KEYS = ("species", "grown", "rings", "left", "right", "below", "above")
BLADES = ("blade", "blade_b")
_LISTS = {"care.keep"}
_TICKS = {"target.as_light_as_safe"}
_NUMBER = re.compile(r"-?(?:0|[1-9]\d{0,8})(?:\.\d{1,8})?")
_INDEXED = re.compile(r"^(?P<table>blade|blade_b|strip)(?:\.(?P<key>\w+))?\[(?P<at>\d+)\]"
                      r"(?:\.(?P<sub>\w+))?$")


@dataclass(frozen=True)
class Typing:
    """What the form says.

    Attributes:
        design: a design file's tables, as the store keeps them.
        rows: for each list of rows, which row of the page each entry was typed in, from 1.
    """

    design: Mapping[str, Any]
    rows: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def problem(self, error: SpringloomError) -> Problem:
        """Return what is wrong, beside its field on the page rendered anew."""
        return problem_of(error.about(self._placed(error.field, {})))

    def problem_there(self, error: SpringloomError) -> Problem:
        """Return what is wrong, beside the row it was typed in on the page that is there."""
        return problem_of(error.about(self._placed(error.field, self.rows)))

    def _placed(self, name: str, known: Mapping[str, tuple[int, ...]]) -> str:
        found = _INDEXED.match(name)
        if not found:
            return name
        table, key, at = found["table"], found["key"] or found["sub"], int(found["at"])
        rows = known.get(table, ())
        at = rows[at - 1] if 0 < at <= len(rows) else at
        return f"{table}.{key}[{at}]" if key else f"{table}[{at}]"


def is_typed(form: Form) -> bool:
    """Whether the form came with the design's fields at all."""
    return "paddle.length" in form.fields


def typing_of(form: Form, base: Mapping[str, Any]) -> Typing:
    """Read the form; what it has no fields for stays as in ``base``."""
    design, rows = dict(base), {}
    for name, table in TABLES.items():
        _set(design, name, _table_of(form, name, table, base.get(name)))
    _target_said(design)
    alike = form.text("alike", "yes") != "no"
    for name in BLADES:
        if name == "blade_b" and alike:
            design.pop("blade_b", None)
            continue
        made, rows[name] = _blade_of(form, name, design)
        if name == "blade_b" and not made["stations"]:  # just told apart: it begins as A
            made, rows[name] = dict(design["blade"]), rows["blade"]
        _set(design, name, made)
    if "strips" in form.fields:
        made_strips, rows["strip"] = _strips_of(form)
        _set(design, "strip", made_strips)
    _set(design, "note", form.text("note"))
    return Typing(design, rows)


def fields_of(design: Mapping[str, Any]) -> dict[str, str]:
    """Return a design's fields by name, as they were typed; the default blade spelled out."""
    whole = {**design, "blade": design.get("blade") or default_blade(design)}
    fields = {"note": str(design.get("note", "")),
              "alike": "no" if design.get("blade_b") else "yes"}
    for name in TABLES:
        for key, value in (design.get(name) or {}).items():
            fields[f"{name}.{key}"] = shown(value)
    for name in BLADES:
        for key, values in (whole.get(name) or {}).items():
            for i, value in enumerate(values or ()):
                fields[f"{name}.{key}[{i + 1}]"] = shown(value)
    for i, strip in enumerate(design.get("strip") or ()):
        fields |= {f"strip.{key}[{i + 1}]": shown(value) for key, value in strip.items()}
    return fields


def fields_after(form: Form, typing: Typing) -> dict[str, str]:
    """Return the fields of a form that was sent, all that was typed still in them."""
    names = [f"{name}.{key}" for name, table in TABLES.items() for key in table.model_fields]
    typed = {name: form.text(name) for name in ("alike", "why", *names) if name in form.fields}
    return fields_of(typing.design) | typed


def shown(value: object) -> str:
    """Return a typed value as its field shows it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e9:
        return str(int(value))
    if isinstance(value, list):
        return ", ".join(shown(one) for one in value)
    return "" if value is None else str(value)


def default_blade(design: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Return the blade of a design that states none, as one would type it."""
    units: System = design.get("units", "mm")
    length, loom = _length_of(design, units), _loom_of(design, units)
    table: dict[str, list[Any]] = shape_tables(
        default_paddle(length, 2.0 * loom.half_length), units)["blade"]
    return table


def with_crowns(design: Mapping[str, Any], halves: Sequence[HalfPaddle]) -> dict[str, Any]:
    """Return a design whose blades have these crowns and edges, as one would type them."""
    units: System = design.get("units", "mm")
    made = {**design, "blade": design.get("blade") or default_blade(design)}
    for name, half in zip(BLADES, halves, strict=False):
        if not made.get(name):
            continue
        table = dict(made[name])
        table["crown"] = [typed_length(s.crown, units) for s in half.stations]
        if table.get("edge"):
            table["edge"] = [typed_length(s.edge or 0.0, units) for s in half.stations]
        made[name] = table
    return made


def _set(design: dict[str, Any], name: str, value: object) -> None:
    if value:
        design[name] = value
    else:
        design.pop(name, None)


def _table_of(form: Form, name: str, table: type[BaseModel],
              base: Mapping[str, Any] | None) -> dict[str, Any]:
    made = dict(base or {})
    for key in table.model_fields:
        path = f"{name}.{key}"
        if path not in form.fields:
            continue
        text = form.text(path)
        if path in _TICKS:
            _set(made, key, text == "yes")
        elif path in _LISTS:
            _set(made, key, [part.strip() for part in text.split(",") if part.strip()])
        elif text:
            made[key] = as_typed(text)
        else:
            made.pop(key, None)
    return made


def _target_said(design: dict[str, Any]) -> None:
    """A target that says nothing of a bend is none: a form always sends its other fields."""
    target = design.get("target")
    if target and not any(target.get(key) for key in ("sinks", "like", "as_light_as_safe")):
        design.pop("target")


def as_typed(text: str) -> str | int | float:
    """Return a plain number as a number, anything else as it is."""
    if not _NUMBER.fullmatch(text):
        return text
    return float(text) if "." in text else int(text)


def _filled(form: Form, table: str, keys: Iterable[str]) -> list[tuple[int, dict[str, str]]]:
    """Return the rows of a table whose first field is filled in, with their number."""
    start, *_ = keys
    end = f"{table}.{start}["
    numbers = sorted(int(name[len(end):-1]) for name in form.fields
                     if name.startswith(end) and name[len(end):-1].isdigit())
    rows = [(n, {key: form.text(f"{table}.{key}[{n}]") for key in keys}) for n in numbers[:60]]
    return [(n, row) for n, row in rows if row[start]]


def _strips_of(form: Form) -> tuple[list[dict[str, Any]], tuple[int, ...]]:
    rows = _filled(form, "strip", STRIP_KEYS)
    plain = {"species", *(k for k in STRIP_KEYS if "Literal" in
                          str(StripTable.model_fields[k].annotation))}
    strips = [{key: text if key in plain else as_typed(text) for key, text in row.items() if text}
              for _, row in rows]
    return strips, tuple(n for n, _ in rows)


def _blade_of(form: Form, name: str,
              design: Mapping[str, Any]) -> tuple[dict[str, Any], tuple[int, ...]]:
    """Read a station table; stations are put in order, and new ones get what they lack."""
    units: System = design.get("units", "mm")
    rows = _filled(form, name, STATION_KEYS)
    places = [_place_of(row["stations"], design, units) for _, row in rows]
    if all(place is not None for place in places):
        order = sorted(range(len(rows)), key=lambda i: places[i] or 0.0)
        rows, places = [rows[i] for i in order], [places[i] for i in order]
    made = _columns([row for _, row in rows])
    if any(_is_new(row) for _, row in rows):
        made = _between(made, [row for _, row in rows], places, units)
    return made, tuple(n for n, _ in rows)


def in_order(table: dict[str, list[Any]], design: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Return a station table with its stations from root to tip, if their places can be read."""
    units: System = design.get("units", "mm")
    places = [_place_of(str(place), design, units) for place in table.get("stations", ())]
    if any(place is None for place in places):
        return table
    order = sorted(range(len(places)), key=lambda i: places[i] or 0.0)
    return {key: [values[i] for i in order] for key, values in table.items()}


def _columns(rows: Sequence[Mapping[str, str]]) -> dict[str, Any]:
    return {key: [as_typed(row[key]) for row in rows] for key in STATION_KEYS
            if key in {"stations", "width", "crown"} or any(row[key] for row in rows)}


def _is_new(row: Mapping[str, str]) -> bool:
    return not row["width"] or not row["crown"]


def _between(made: dict[str, Any], rows: Sequence[Mapping[str, str]],
             places: Sequence[float | None], units: System) -> dict[str, Any]:
    """Give a station that has but a place what the curve through its neighbours has there.

    Between two stations a straight line is near enough to start from; the maker goes on from it.
    """
    for i, row in enumerate(rows):
        if not _is_new(row):
            continue
        low = next((j for j in range(i - 1, -1, -1) if not _is_new(rows[j])), None)
        high = next((j for j in range(i + 1, len(rows)) if not _is_new(rows[j])), None)
        if low is None or high is None or None in (places[i], places[low], places[high]):
            continue
        share = ((places[i] or 0.0) - (places[low] or 0.0)) / (
            (places[high] or 0.0) - (places[low] or 0.0) or 1.0)
        for key, values in made.items():
            if key != "stations" and not row[key]:
                values[i] = _mixed(key, (values[low], values[high]), share, units)
    return made


def _mixed(key: str, pair: tuple[Any, Any], share: float, units: System) -> Any:
    try:
        if key in {"width", "crown", "edge"}:
            low, high = (parse_length(pair[0] if one == "round" else one, default=units)
                         for one in pair)
            return typed_length(low + share * (high - low), units)
        return round(float(pair[0]) + share * (float(pair[1]) - float(pair[0])), 2)
    except (SpringloomError, TypeError, ValueError):
        return ""


def _place_of(text: str, design: Mapping[str, Any], units: System) -> float | None:
    """Distance of a typed place from the centre, m; None where that can't be said yet."""
    try:
        return parse_place(text, _loom_of(design, units), 0.5 * _length_of(design, units), units,
                           "stations")[0]
    except SpringloomError:
        return None


def _length_of(design: Mapping[str, Any], units: System) -> float:
    table = PaddleTable.model_construct(**(design.get("paddle") or {}))
    return parse_length(table.length, default=units, field="paddle.length")


def _loom_of(design: Mapping[str, Any], units: System) -> Loom:
    table = LoomTable.model_construct(**(design.get("loom") or {}))
    length, blend = (parse_length(getattr(table, key), default=units, field=f"loom.{key}")
                     for key in ("length", "blend"))
    return replace(default_paddle().a.loom, half_length=0.5 * length, blend=blend)

