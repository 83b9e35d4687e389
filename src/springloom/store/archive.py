"""Everything a store holds as one JSON file, and such a file taken into a store."""

from __future__ import annotations

import base64
import binascii
import hashlib
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection, Table, select
from sqlalchemy.exc import IntegrityError

from springloom import __version__
from springloom.errors import FileError, InputError
from springloom.store import schema
from springloom.store.archive_check import refuse_missing, refuse_odd_entries, refuse_unbuilt
from springloom.store.archive_layout import KIND, VERSION, Archive
from springloom.store.entries import all_of
from springloom.store.opening import Pen, Store
from springloom.store.readings_csv import readings_csv
from springloom.store.schema import moment_of, moment_text
from springloom.store.settings import SECRET, put_setting, setting

Entry = Mapping[str, Any]
Numbers = dict[str, dict[str, int]]

PARTS: dict[str, Table] = {
    "people": schema.person, "bodies": schema.body, "boards": schema.board,
    "board_sheets": schema.board_sheet, "board_tests": schema.board_test,
    "classes": schema.klass, "paddles": schema.paddle, "designs": schema.design,
    "rounds": schema.tuning_round, "closings": schema.round_closing, "readings": schema.reading,
    "marks": schema.mark, "notes": schema.note, "attachments": schema.attachment,
    "changes": schema.change,
}
"""Lists of an archive: the table of each, every one after those it names."""


def archive(connection: Connection) -> dict[str, Any]:
    """Everything but who may write, codes, work under way and keys."""
    uids = {table.name: _uids(connection, table) for table in PARTS.values()}
    parts = {
        part: [_written(table, row._asdict(), uids) for row in connection.execute(
            select(table).order_by(table.c.id))]
        for part, table in PARTS.items()
    }
    settings = {row.key: row.value for row in connection.execute(
        select(schema.setting).where(schema.setting.c.key != SECRET)
        .order_by(schema.setting.c.key))}
    return {"format": KIND, "version": VERSION, "program": __version__, **parts,
            "settings": settings}


def restore(store: Store, data: Mapping[str, Any]) -> int:
    """Take an archive in, whole or not at all; return how many entries were new.

    What the store has already, by its uid, stays as it is.

    Raises:
        FileError: it is no archive, or one of a later version.
        InputError: it is broken; names the place.
    """
    _checked(data)
    with store.write("archive") as pen:
        numbers = {table.name: {uid: number for number, uid in _uids(pen.connection, table).items()}
                   for table in PARTS.values()}
        new = list(_put_all(pen, data, numbers))
        _take_changes(pen, [entry for part, entry in new if part == "changes"], numbers)
        for key, value in data["settings"].items():
            if setting(pen.connection, key) is None and key != SECRET:
                put_setting(pen, key, value)
        if new:
            refuse_unbuilt(pen.connection, data, numbers["paddle"])
    return len(new)


def new_entries(connection: Connection, data: Mapping[str, Any]) -> dict[str, tuple[int, int]]:
    """What :func:`restore` would take in, part by part: how many are new, of how many.

    Raises:
        FileError: it is no archive, or one of a later version.
        InputError: it is broken; names the place.
    """
    _checked(data)
    known = {part: set(_uids(connection, table).values()) for part, table in PARTS.items()}
    return {part: (sum(entry["uid"] not in uids for entry in data[part]), len(data[part]))
            for part, uids in known.items()}


def _put_all(pen: Pen, data: Mapping[str, Any], numbers: Numbers) -> Iterator[tuple[str, Entry]]:
    """Write every entry that is not there yet, and yield it."""
    for part, table in PARTS.items():
        known = numbers[table.name]
        for i, entry in enumerate(data[part]):
            if entry["uid"] not in known:
                known[entry["uid"]] = _put(pen, table, entry, numbers, f"{part}[{i + 1}]")
                yield part, entry


def _take_changes(pen: Pen, new: Sequence[Entry], numbers: Numbers) -> None:
    """Let the last change of each thing stand, wherever it was made."""
    for about in ("person", "board", "class", "paddle"):
        for uid in {entry[about] for entry in new if entry[about] is not None}:
            owner = numbers[about][uid]
            made = all_of(pen.connection, schema.change, f"{about}_id", owner)
            now: dict[str, Any] = {}
            for row in sorted(made, key=lambda row: (row.made_at, row.uid)):
                now |= row.now
            table = schema.METADATA.tables[about]
            values = {column: _number(now[key], numbers.get(to)) for key, column, to in _keys(table)
                      if key in now}
            pen.connection.execute(table.update().where(table.c.id == owner).values(**values))


def _number(value: Any, numbers: Mapping[str, int] | None) -> Any:
    return value if numbers is None or value is None else numbers[value]


def _uids(connection: Connection, table: Table) -> dict[int, str]:
    return {row.id: row.uid for row in connection.execute(select(table.c.id, table.c.uid))}


def _written(table: Table, row: Mapping[str, Any], uids: Mapping[str, Mapping[int, str]]
             ) -> dict[str, Any]:
    """An entry as the archive has it."""
    return {key: _value(row[column], uids.get(to)) for key, column, to in _keys(table)}


def _keys(table: Table) -> Iterator[tuple[str, str, str]]:
    """Of each column but the number: its key, its name, the table it refers to."""
    for column in table.columns:
        if column.name != "id":
            to = next((key.column.table.name for key in column.foreign_keys), "")
            yield column.name.removesuffix("_id") if to else column.name, column.name, to


def _value(value: Any, uids: Mapping[int, str] | None) -> Any:
    if value is None or uids is not None:
        return value if uids is None or value is None else uids[value]
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    return moment_text(value) if hasattr(value, "astimezone") else value


def _checked(data: Mapping[str, Any]) -> None:
    if not isinstance(data, dict) or data.get("format") != KIND:
        raise FileError("is no Springloom archive", field="archive",
                        allowed=f'a JSON file with "format": "{KIND}"')
    version = data.get("version")
    if isinstance(version, int) and version > VERSION:
        raise FileError("was made by a newer Springloom", field="archive", given=version,
                        allowed=f"an archive of version {VERSION}: install the newer Springloom")
    try:
        Archive.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        raise InputError(f"is broken: {first['msg']}", field=_dotted(first["loc"])) from None
    try:
        refuse_odd_entries(data, PARTS)
    except RecursionError:
        raise InputError("is nested too deeply", field="archive",
                         allowed="tables and lists of numbers and texts") from None
    refuse_missing(data)


def _dotted(parts: tuple[int | str, ...]) -> str:
    text = ""
    for part in parts:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text or "archive"


def _put(pen: Pen, table: Table, entry: Mapping[str, Any],
         numbers: Numbers, where: str) -> int:
    values: dict[str, Any] = {}
    for key, column, to in _keys(table):
        value = entry[key]
        try:
            values[column] = numbers[to][value] if to and value is not None else _read(
                table.c[column], value)
        except KeyError:
            raise InputError("is named before it comes, or is missing", field=f"{where}.{key}",
                             given=value, allowed="an entry of the archive") from None
        except (ValueError, binascii.Error) as error:
            raise InputError(f"is broken: {error}", field=f"{where}.{key}") from None
    _same_content(values, where)
    try:
        with pen.connection.begin_nested():
            made = pen.connection.execute(table.insert().values(**values))
    except IntegrityError:
        raise InputError("does not go with what is in the store: both have another entry in its "
                         "place", field=where, given=entry["uid"],
                         allowed="an empty store, or one that has not gone on by itself"
                         ) from None
    assert made.inserted_primary_key is not None  # one row, one key
    return int(made.inserted_primary_key[0])


def _read(column: Any, value: Any) -> Any:
    if value is None:
        return None
    if isinstance(column.type, schema.Moment):
        return moment_of(value)
    if column.name == "content":
        return base64.b64decode(value, validate=True)
    return value


def _same_content(values: Mapping[str, Any], where: str) -> None:
    if "sha256" in values and hashlib.sha256(values["content"]).hexdigest() != values["sha256"]:
        raise InputError("is broken: its content is not what was attached",
                         field=f"{where}.content")


__all__ = ["PARTS", "archive", "new_entries", "readings_csv", "restore"]
