"""Whether what an archive brings makes sense: each entry by itself, then all of them together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from itertools import chain
from types import NoneType
from typing import Any

from sqlalchemy import Connection

from springloom.errors import InputError, SpringloomError
from springloom.records.reading import check_layout
from springloom.store.entries import clean, plain
from springloom.store.layout import design_of
from springloom.store.rounds import checked_table
from springloom.store.settings import LONGEST_KEY

Data = Mapping[str, Any]

_OWNERS = (("people", "bodies", "person"), ("boards", "board_sheets", "board"),
           ("paddles", "designs", "paddle"))
_CHAINS = {"board_tests": ("board", "kind"), "readings": ("round", "kind"),
           "notes": ("paddle", "board", "person")}
_ABOUT = {"notes": ("paddle", "board", "person"), "attachments": ("paddle", "board", "person"),
          "changes": ("paddle", "board", "person", "class")}
_PARTS = {"person": "people", "board": "boards", "class": "classes"}
_CHANGEABLE: dict[str, dict[str, tuple[type, ...]]] = {
    "person": {"name": (str,)}, "board": {"name": (str,)}, "class": {"name": (str,)},
    "paddle": {"person": (str, NoneType), "board": (str, NoneType), "class": (str, NoneType),
               "set_aside": (int,)},
}


def refuse_odd_entries(data: Data, parts: Iterable[str]) -> None:
    """Look at every entry by itself and beside those it names.

    Raises:
        InputError: names the first that is odd, counted from 1.
    """
    plain(data["settings"], "settings")
    for key in data["settings"]:
        clean(key, "settings", LONGEST_KEY)
    for part in parts:
        seen: dict[str, Data] = {}
        for i, entry in enumerate(data[part]):
            where = f"{part}[{i + 1}]"
            plain(entry, where)
            if entry["uid"] in seen:
                raise InputError("is there twice", field=f"{where}.uid", given=entry["uid"])
            _refuse_odd(part, entry, seen, where)
            if part == "changes":
                _refuse_odd_change(entry, data, where)
            seen[entry["uid"]] = entry


def refuse_missing(data: Data) -> None:
    """Refuse people without measures, boards without a sheet and paddles without a design.

    Raises:
        InputError: names the first of them.
    """
    for part, needed, key in _OWNERS:
        owners = {entry[key] for entry in data[needed]}
        for i, entry in enumerate(data[part]):
            if entry["uid"] not in owners:
                raise InputError(f"has no entry among {needed}", field=f"{part}[{i + 1}]",
                                 given=entry["uid"])
    closed = {entry["round"] for entry in data["closings"]}
    still_open = Counter(one["paddle"] for one in data["rounds"] if one["uid"] not in closed)
    numbers: dict[tuple[str, str], list[int]] = {}
    for part in ("designs", "rounds"):
        for one in data[part]:
            numbers.setdefault((part, one["paddle"]), []).append(one["number"])
    for i, entry in enumerate(data["paddles"]):
        uid, where = entry["uid"], f"paddles[{i + 1}]"
        if still_open[uid] > 1:
            raise InputError("has two open rounds", field=where, given=uid)
        for part in ("designs", "rounds"):
            found = numbers.get((part, uid), [])
            if found != list(range(1, len(found) + 1)):
                raise InputError(f"has {part} that are not numbered in order", field=where,
                                 given=uid)


def refuse_unbuilt(connection: Connection, data: Data, numbers: Mapping[str, int]) -> None:
    """Make every paddle's design of what is in the store now.

    Raises:
        InputError: names the paddle, and the key of its design file that can't be.
    """
    for i, entry in enumerate(data["paddles"]):
        try:
            design_of(connection, numbers[entry["uid"]])
        except SpringloomError as error:
            raise error.within(f"paddles[{i + 1}]") from None


def _refuse_odd(part: str, entry: Data, seen: Mapping[str, Data], where: str) -> None:
    if part in _ABOUT and sum(entry[key] is not None for key in _ABOUT[part]) != 1:
        raise InputError("is about nothing, or about two", field=where,
                         allowed=f"one of {', '.join(_ABOUT[part])}")
    old = seen.get(entry.get("replaces") or "")
    if old is not None and any(old[key] != entry[key] for key in _CHAINS[part]):
        raise InputError("replaces an entry of something else", field=f"{where}.replaces",
                         given=entry["replaces"])
    if part in _LAYOUTS:
        try:
            _LAYOUTS[part](entry)
        except SpringloomError as error:
            raise error.within(where) from None


def _refuse_odd_change(entry: Data, data: Data, where: str) -> None:
    about = next(key for key in _ABOUT["changes"] if entry[key] is not None)
    for key, value in chain(entry["was"].items(), entry["now"].items()):
        if key not in _CHANGEABLE[about]:
            raise InputError("can't be changed", field=f"{where}.now.{key}",
                             allowed=", ".join(sorted(_CHANGEABLE[about])))
        if not isinstance(value, _CHANGEABLE[about][key]) or (
                key == "set_aside" and value not in {0, 1}):
            raise InputError("is of the wrong kind", field=f"{where}.now.{key}", given=value)
        if value is not None and key in _PARTS and not any(
                value == other["uid"] for other in data[_PARTS[key]]):
            raise InputError("is not there", field=f"{where}.now.{key}", given=value,
                             allowed="an entry of the archive")


def _file(**tables: Any) -> object:
    return check_layout({"format": 1, "name": "-", **tables})


_LAYOUTS: dict[str, Callable[[Data], object]] = {
    "bodies": lambda entry: _file(paddler=entry["paddler"]),
    "board_sheets": lambda entry: _file(board=entry["table"]),
    "classes": lambda entry: check_layout(entry["base"]),
    "designs": lambda entry: check_layout(entry["layout"]),
    "readings": lambda entry: entry["table"] is None or checked_table(entry["kind"],
                                                                      entry["table"]),
}
"""What makes an entry's table one of a design file."""
