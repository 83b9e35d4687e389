"""A design file put together from the store, and a design file taken in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from sqlalchemy import Connection

from springloom.errors import InputError
from springloom.records.design import Design, design_from
from springloom.records.layout import DesignFile
from springloom.records.reading import check_layout
from springloom.records.readings_layout import ReadingsTable
from springloom.store import schema
from springloom.store.boards import board, take_board
from springloom.store.entries import add, by_uid, checked_uid, derived
from springloom.store.opening import Pen
from springloom.store.paddles import ELSEWHERE, Paddle, add_paddle, check, design_version, paddle
from springloom.store.people import add_person, person
from springloom.store.rounds import KINDS, StoredReading, readings_by_round, rounds
from springloom.store.typed import in_units
from springloom.units import System


def layout_of(connection: Connection, paddle_id: int, number: int | None = None) -> DesignFile:
    """A paddle as a design file: as typed, with the readings that stand.

    Args:
        connection: of a snapshot.
        paddle_id: of the paddle.
        number: of a version of its design, None for the newest.

    Raises:
        NotStoredError: there is no such paddle or version.
    """
    found = design_version(connection, paddle_id, number)
    units: System = found.design.get("units", "mm")
    data = dict(found.design)
    if found.person_id is not None:
        who = person(connection, found.person_id)
        data["paddler"] = in_units("paddler", who.paddler, who.units, units)
    if found.board_id is not None:
        data["board"] = board(connection, found.board_id).typed(units)
    stand = readings_by_round(connection, paddle_id)
    for one in rounds(connection, paddle_id):
        read = readings_table(stand[one.number], units)
        if one.closing is not None:
            planed = [in_units("planed", table, one.closing.units, units)
                      for table in one.closing.planed]
            data.setdefault("round", []).append({"readings": read, "planed": planed})
        elif read:
            data["readings"] = read
    return check_layout(data)


def design_of(connection: Connection, paddle_id: int, number: int | None = None) -> Design:
    """A paddle's design, in SI.

    Raises:
        InputError: a value in it can't be; names the key as in a design file.
        NotStoredError: there is no such paddle or version.
    """
    return design_from(layout_of(connection, paddle_id, number))


def take_in(pen: Pen, uid: str, layout: DesignFile) -> Paddle:
    """Keep all that a design file says: person, board, paddle, rounds and readings.

    Raises:
        InputError: the file makes no design, or needs another file.
    """
    uid = checked_uid(uid)
    known = by_uid(pen.connection, schema.paddle, uid)
    if known is not None:
        return paddle(pen.connection, known.id)
    data = layout.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    units, name = layout.units, layout.name
    person_id = board_id = None
    if "paddler" in data:
        person_id = add_person(pen, derived(uid, "person"), f"{name}'s paddler"[:120],
                               data["paddler"], units=units).id
    if "board" in data:
        board_id = take_board(pen, derived(uid, "board"), f"{name}'s board"[:120],
                              data["board"], units=units).id
    design = {key: value for key, value in data.items() if key not in ELSEWHERE}
    made = add_paddle(pen, uid, name, design, person_id, board_id)
    for i, one in enumerate(data.get("round", [])):
        number = _take_round(pen, derived(uid, f"round {i}"), made.id, i + 1, one["readings"],
                             units)
        add(pen, schema.round_closing, derived(uid, f"closing {i}"), round_id=number, advice={},
            planed=one["planed"], units=units)
    if data.get("readings"):
        number = len(data.get("round", []))
        _take_round(pen, derived(uid, f"round {number}"), made.id, number + 1, data["readings"],
                    units)
    check(pen.connection, made.id)
    return made


def _take_round(pen: Pen, uid: str, paddle_id: int, number: int, read: Mapping[str, Any],
                units: System) -> int:
    if "scale" in read and "weight" not in read:
        raise InputError("is named, but no weight was read", field="readings.scale",
                         allowed="a weight, or no scale")
    made = add(pen, schema.tuning_round, uid, paddle_id=paddle_id, number=number)
    for kind in KINDS:
        for i, table in enumerate(_tables(kind, read)):
            add(pen, schema.reading, derived(uid, f"{kind} {i}"), round_id=made, kind=kind,
                table=table, units=units, replaces=None)
    return made


def _tables(kind: str, read: Mapping[str, Any]) -> list[dict[str, Any]]:
    if kind == "remark":
        return [{"text": text} for text in read.get("remarks", [])]
    if kind == "weight":
        keys = ("weight", "scale")
        return [{key: read[key] for key in keys if key in read}] if "weight" in read else []
    if kind == "balance":
        return [{"balance": read["balance"]}] if "balance" in read else []
    return list(read.get(kind, []))


def readings_table(stand: Iterable[StoredReading], units: System) -> dict[str, Any]:
    """A [readings] table of the readings that stand."""
    found: dict[str, Any] = {}
    for one in stand:
        assert one.table is not None  # it stands
        table = in_units(one.kind, one.table, one.units, units)
        if one.kind == "remark":
            found.setdefault("remarks", []).append(table["text"])
        elif one.kind in ReadingsTable.model_fields and one.kind not in {"weight", "balance"}:
            found.setdefault(one.kind, []).append(table)
        else:
            found |= table
    return found


