"""Places along a paddle as makers name them, to metres from the centre."""

from __future__ import annotations

import re

from springloom.errors import InputError, RangeError
from springloom.shape.blade import Loom, station_name
from springloom.units import System, format_length, parse_length

_SHARE = re.compile(r"^\s*(\d{1,3})\s*/\s*(\d{1,3})\s*$")
_FROM = re.compile(
    r"^(?P<length>.+?)\s+from\s+(?:the\s+)?(?P<mark>tip|root|shoulder|cent(?:re|er))$"
)
_ALLOWED = '"root", "tip", a fraction of the blade ("1/4"), "75 mm from tip", "300 mm from root"'

LONGEST_NAME = 18
"""Letters of a station's name that a table has room for."""


def parse_place(typed: str | float | int, loom: Loom, tip: float, units: System,
                field: str) -> tuple[float, str]:
    """Return a place in m from the centre and its name, in the file's words where it has no other.

    ``"1/4"`` is a share of the blade from the shoulder to the tip, never a quarter of an inch.

    Raises:
        InputError: it names no place, or one beyond the tip.
    """
    text = str(typed).strip().lower()
    x = _place(text, loom, tip, units, field)
    if not 0.0 <= x <= tip + 1e-9:
        raise RangeError("lies off this half of the paddle", field=field, given=typed,
                         allowed=f"centre to tip, {format_length(tip, units)}")
    name = station_name(x, loom, tip)
    own = "from" in name and "from" in text and len(text) <= LONGEST_NAME
    return min(x, tip), text if own else name


def _place(text: str, loom: Loom, tip: float, units: System, field: str) -> float:
    marks = {"root": loom.root, "tip": tip, "shoulder": loom.half_length, "centre": 0.0,
             "center": 0.0}
    if text in marks:
        return marks[text]
    share = _SHARE.match(text)
    if share:
        return loom.half_length + _fraction(share, field) * (tip - loom.half_length)
    distance = _FROM.match(text)
    if not distance:
        raise InputError("is no place along the paddle", field=field, given=text, allowed=_ALLOWED)
    length = parse_length(distance["length"], default=units, field=field)
    mark = marks[distance["mark"]]
    return mark - length if distance["mark"] == "tip" else mark + length


def _fraction(match: re.Match[str], field: str) -> float:
    top, low = int(match[1]), int(match[2])
    if low == 0 or top > low:
        raise InputError("is no share of the blade", field=field, given=match[0].strip(),
                         allowed="0/1 to 1/1")
    return top / low
