"""What was typed, as a line of a log: readings, tests and measures with their units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from springloom.units import System, Typed

_NOTHING = "-"
_LABELS = {
    "weight": "Weight", "balance": "Balance point", "caliper": "Thickness", "width": "Width",
    "blade_length": "Length", "trace": "Section traced", "bench": "Bend, clamped",
    "hands": "Bend, on two supports", "tap": "Tone", "remark": "Remark",
    "bending": "Bending test", "board tap": "Tap tone",
}


def reading_label(kind: str, table: Mapping[str, Any]) -> str:
    """What was read: ``Thickness, blade A``."""
    label, blade = _LABELS.get(kind, kind), table.get("blade")
    return f"{label}, blade {str(blade).upper()}" if blade else label


def reading_text(kind: str, table: Mapping[str, Any], units: System) -> str:
    """One reading, test or tone in the maker's own figures.

    Args:
        kind: one of the keys of [readings], ``remark``, or a board's ``bending``, ``board tap``.
        table: as typed.
        units: of lengths typed without one.
    """
    said = _SAYS.get(kind, _pairs)(table, units)
    with_what = next((table[key] for key in ("instrument", "scale", "recorder")
                      if table.get(key)), "")
    return f"{said}; {with_what}" if with_what else said


def typed_text(value: Typed, units: str) -> str:
    """One value as typed, its unit named where it was not."""
    text = str(value).strip()
    return f"{text} {units}" if _bare(text) else text


def _bare(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True


def _lengths(places: Sequence[Typed], values: Sequence[Typed], units: System) -> str:
    return ", ".join(f"{place}: {typed_text(value, units)}"
                     for place, value in zip(places, values, strict=False)
                     if str(value).strip() != _NOTHING)


def _weight(table: Mapping[str, Any], units: System) -> str:
    del units
    return str(table["weight"])


def _balance(table: Mapping[str, Any], units: System) -> str:
    text = typed_text(table["balance"], units)
    side = "B" if text.startswith("-") else "A"
    return f"{text.lstrip('+-').strip()} towards blade {side}"


def _caliper(table: Mapping[str, Any], units: System) -> str:
    inset = f"{typed_text(table['inset'], units)} in" if table.get("inset") else "thickness"
    named = (("crown", "crown"), ("edge", "edge"), ("thickness", inset))
    parts = [f"{name} {_lengths(table['at'], table[key], units)}"
             for key, name in named if table.get(key)]
    face = table.get("face", "both")
    return "; ".join(parts) + ("" if face == "both" else f"; {face} face")


def _width(table: Mapping[str, Any], units: System) -> str:
    return _lengths(table["at"], table["width"], units)


def _blade_length(table: Mapping[str, Any], units: System) -> str:
    return f"{typed_text(table['length'], units)} from the shoulder to the tip"


def _trace(table: Mapping[str, Any], units: System) -> str:
    points = ", ".join(f"{typed_text(y, units)} across {typed_text(z, units)}"
                       for y, z in zip(table["across"], table["high"], strict=False))
    face = table.get("face", "upper")
    faces = "both faces" if face == "both" else f"{face} face"
    return f"at {table['at']}, {faces}: {points}"


def _bench(table: Mapping[str, Any], units: System) -> str:
    how = (f"{table.get('load', '10 lb')} hung at {table.get('hung_at', 'tip')}, clamped at "
           f"{table.get('clamp_at', 'root')}")
    return f"{how}: sinks {_sunk(table, ['tip'], units)}"


def _hands(table: Mapping[str, Any], units: System) -> str:
    place = "889 mm from centre"
    how = (f"{table.get('load', '89 N')} hung at {table.get('hung_at', place)}, supports "
           f"{typed_text(table.get('span', '508 mm'), units)} apart")
    return f"{how}: sinks {_sunk(table, [place], units)}"


def _sunk(table: Mapping[str, Any], usual: Sequence[str], units: System) -> str:
    places = table.get("read_at") or usual
    said = _lengths(places, table["sinks"], units)
    for again in table.get("repeats") or ():
        said += f"; again {_lengths(places, again, units)}"
    if table.get("unloading"):
        said += f"; unloading {_lengths(places, table['unloading'], units)}"
    return said


def _tap(table: Mapping[str, Any], units: System) -> str:
    del units
    clamped = f", clamped at {table.get('clamp_at', 'root')}" if table.get("blade") else (
        ", hung free")
    return f"{_hertz(table['frequency'])}{clamped}"


def _board_tap(table: Mapping[str, Any], units: System) -> str:
    del units
    give = f" ± {_hertz(table['sd'])}" if table.get("sd") else ""
    return f"{_hertz(table['frequency'])}{give}{_edgewise(table)}"


def _bending(table: Mapping[str, Any], units: System) -> str:
    give = f" ± {typed_text(table['sinks_sd'], units)}" if table.get("sinks_sd") else ""
    return (f"{table['load']} in the middle of {typed_text(table['span'], units)}: sinks "
            f"{typed_text(table['sinks'], units)}{give}{_edgewise(table)}")


def _edgewise(table: Mapping[str, Any]) -> str:
    return ", on edge" if table.get("edgewise") else ""


def _hertz(value: Typed) -> str:
    text = str(value).strip()
    return f"{text} Hz" if _bare(text) else text


def _remark(table: Mapping[str, Any], units: System) -> str:
    del units
    return f"“{table['text']}”"


def _pairs(table: Mapping[str, Any], units: System) -> str:
    del units
    return ", ".join(f"{key} {value}" for key, value in table.items())


_SAYS = {
    "weight": _weight, "balance": _balance, "caliper": _caliper, "width": _width,
    "blade_length": _blade_length, "trace": _trace, "bench": _bench, "hands": _hands,
    "tap": _tap, "remark": _remark, "bending": _bending, "board tap": _board_tap,
}
