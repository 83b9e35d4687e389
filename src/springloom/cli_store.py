"""The store on the command line: ``springloom store``, and ``--store`` of the other commands."""

from __future__ import annotations

import argparse
import contextlib
import getpass
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from springloom.cli_output import say
from springloom.errors import FileError, InputError, StoreError, known

if TYPE_CHECKING:
    from springloom.records.layout import DesignFile
    from springloom.store.logbook import Line
    from springloom.store.opening import Store

ACTIONS = {
    "where": "where the store is, and how much it holds",
    "list": "every paddle in it, the last touched first",
    "take-in": "design files with all their readings, each as a paddle",
    "archive": "everything to one JSON file",
    "restore": "an archive, as far as it is not there yet",
    "readings": "every reading to a CSV file, one line a value",
    "back-up": "a copy of the store's file",
}


def add_store(store: argparse.ArgumentParser) -> None:
    """Say what ``store`` understands."""
    store.formatter_class = argparse.RawDescriptionHelpFormatter
    listed = "\n".join(f"  {name:<10}{says}" for name, says in ACTIONS.items())
    store.epilog = f"actions:\n{listed}\n\nEach takes --json and --store PLACE."
    actions = store.add_subparsers(metavar="ACTION", required=True,
                                   help="one of those below; each has its own --help")
    made = {name: _action(actions, name) for name in ACTIONS}
    made["take-in"].add_argument("files", nargs="+", type=Path, metavar="FILE",
                                 help="a design file (TOML); the same one again changes nothing")
    made["archive"].add_argument("file", type=Path, metavar="OUT.json", help="the file to write")
    made["restore"].add_argument("file", type=Path, metavar="IN.json", help="an archive")
    made["readings"].add_argument("file", type=Path, metavar="OUT.csv", help="the file to write")
    made["readings"].add_argument("--paddle", metavar="NAME",
                                  help="of this paddle only: its name or its number")
    made["back-up"].add_argument("file", nargs="?", type=Path, metavar="OUT.db",
                                 help="the copy (a dated file beside the store)")


def _action(actions: Any, name: str) -> argparse.ArgumentParser:
    says = ACTIONS[name]
    parser: argparse.ArgumentParser = actions.add_parser(
        name, description=f"{says[0].upper()}{says[1:]}.", allow_abbrev=False)
    parser.set_defaults(run=_RUN[name])
    parser.add_argument("--json", action="store_true", help="data instead of a page")
    parser.add_argument("--store", metavar="PLACE",
                        help="a file or the URL of a database (the usual one)")
    return parser


def stored_layout(store: str, name: str) -> DesignFile:
    """The design file of a paddle in the store.

    Args:
        store: a place, "" for the usual one.
        name: of the paddle, or its number.

    Raises:
        InputError: no paddle is called so, or several are.
        StoreError: the store can't be used, or there is none.
    """
    from springloom.store.layout import layout_of

    with _opened(store) as opened, opened.read() as connection:
        return layout_of(connection, _number(connection, name))


def asked_for(name: Path | None, store: str, field: str = "file") -> tuple[str, str]:
    """The place and the paddle's name, of what was typed.

    ``--store NAME`` with no other name means a paddle of the usual store.

    Raises:
        InputError: nothing names a paddle.
    """
    if name is not None:
        return store, str(name)
    if not store:
        raise InputError("names no paddle", field=field,
                         allowed="the name or the number of a paddle in the store")
    return "", store


@contextlib.contextmanager
def _opened(place: str | None) -> Iterator[Store]:
    """A store that is there; reading never makes one.

    Raises:
        StoreError: there is none, or it can't be used.
    """
    from springloom.store.opening import open_store, place_of

    _, path = place_of(place)
    if path is not None and not path.exists():
        raise StoreError("there is no store yet", field=str(path),
                         allowed="a store: springloom serve makes one, and springloom store "
                         "take-in")
    with contextlib.closing(open_store(place)) as store:
        yield store


def _number(connection: Any, name: str) -> int:
    from springloom.store.paddles import paddles

    every = [*paddles(connection), *paddles(connection, aside=True)]
    called = [one.id for one in every if one.name.casefold() == name.strip().casefold()]
    if len(called) > 1:
        raise InputError("is what several paddles are called", field="paddle", given=name,
                         allowed=f"the number of one: {', '.join(map(str, sorted(called)))}")
    if called:
        return called[0]
    numbers = {str(one.id): one.id for one in every}
    if name.strip() in numbers:
        return numbers[name.strip()]
    return int(known(name, [one.name for one in every], "paddle"))


def _where(chosen: argparse.Namespace) -> None:
    from springloom.store.backup import backups_of
    from springloom.store.opening import place_of

    url, path = place_of(chosen.store)
    place = str(path) if path else url.render_as_string(hide_password=True)
    if path is not None and not path.exists():
        say(chosen, lambda: f"{place}\nThere is no store yet; serve and take-in make one.",
            lambda: {"place": place, "exists": False})
        return
    counts = _counts(chosen.store)
    backups = [str(backup) for backup in backups_of(path)] if path else []
    told = ", ".join(f"{count} {name}" for name, count in counts.items())
    lines = [place, told, *([f"newest backup: {backups[-1]}"] if backups else [])]
    say(chosen, lambda: "\n".join(lines),
        lambda: {"place": place, "exists": True, **counts, "backups": backups})


def _counts(place: str | None) -> dict[str, int]:
    from sqlalchemy import func, select

    from springloom.store import schema

    tables = {"paddles": schema.paddle, "people": schema.person, "boards": schema.board,
              "classes": schema.klass, "readings": schema.reading}
    with _opened(place) as store, store.read() as connection:
        return {name: connection.execute(select(func.count()).select_from(table)).scalar_one()
                for name, table in tables.items()}


def _list(chosen: argparse.Namespace) -> None:
    from springloom.store.logbook import lines
    from springloom.store.schema import moment_text

    with _opened(chosen.store) as store, store.read() as connection:
        every = lines(connection)
    say(chosen, lambda: _listed(every), lambda: [
        {"number": one.id, "name": one.name, "whose": one.whose, "class": one.class_name,
         "species": list(one.species), "rounds": one.rounds, "set_aside": one.set_aside,
         "touched_at": moment_text(one.touched_at), "touched_by": one.touched_by}
        for one in every
    ])


def _listed(every: tuple[Line, ...]) -> str:
    from springloom.report.words import grid

    if not every:
        return "No paddle is in the store yet."
    rows = [(one.id, _cut(one.name, 18), _cut(one.whose, 13), one.rounds,
             f"{one.touched_at:%Y-%m-%d}", _cut(one.touched_by, 10),
             "aside" if one.set_aside else "") for one in every]
    return grid(("number", "name", "whose", "rounds", "touched", "by", ""), rows, "rllrlll")


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1]}…"


def _take_in(chosen: argparse.Namespace) -> None:
    from springloom.records.reading import read_layout
    from springloom.store.layout import take_in
    from springloom.store.opening import open_store

    layouts = [(file, read_layout(file)) for file in chosen.files]
    taken = []
    with contextlib.closing(open_store(chosen.store)) as store, store.write(_me()) as pen:
        for file, layout in layouts:
            try:
                taken.append(take_in(pen, _uid(layout), layout))
            except InputError as error:
                raise error.within(str(file)) from None
    say(chosen, lambda: "\n".join(f"{one.name} is paddle {one.id}" for one in taken),
        lambda: [{"number": one.id, "name": one.name} for one in taken])


def _uid(layout: DesignFile) -> str:
    """The same for the same file, so that taking it in again changes nothing."""
    import uuid

    return str(uuid.uuid5(uuid.NAMESPACE_URL, f"springloom:file:{layout.model_dump_json()}"))


def _archive(chosen: argparse.Namespace) -> None:
    import json

    from springloom.store.archive import PARTS, archive

    with _opened(chosen.store) as store, store.read() as connection:
        data = archive(connection)
    text = json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False)
    _write(chosen, f"{text}\n".encode(), {part: len(data[part]) for part in PARTS})


def _restore(chosen: argparse.Namespace) -> None:
    from springloom.store.archive import restore
    from springloom.store.opening import open_store

    data = _read_json(chosen.file)
    with contextlib.closing(open_store(chosen.store)) as store:
        count = restore(store, data)
    say(chosen, lambda: f"{count} entries are new" if count else "everything was there already",
        lambda: {"new": count})


def _read_json(path: Path) -> Any:
    import json

    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise FileError(f"can't be read: {error.strerror}", field=str(path),
                        allowed="an archive") from None
    except (ValueError, RecursionError) as error:  # no UTF-8, no JSON, or nested without end
        raise FileError(f"is no JSON: {error}", field=str(path), allowed="an archive") from None


def _readings(chosen: argparse.Namespace) -> None:
    from springloom.store.archive import readings_csv

    with _opened(chosen.store) as store, store.read() as connection:
        number = None if chosen.paddle is None else _number(connection, chosen.paddle)
        text = readings_csv(connection, number)
    # With the mark that lets spreadsheets see that it is UTF-8.
    _write(chosen, text.encode("utf-8-sig"), {"values": text.count("\r\n") - 1})


def _back_up(chosen: argparse.Namespace) -> None:
    from springloom.store.opening import back_up

    with _opened(chosen.store) as store:
        path = back_up(store, chosen.file)
    say(chosen, lambda: str(path), lambda: {"path": str(path)})


def _write(chosen: argparse.Namespace, content: bytes, counts: dict[str, int]) -> None:
    from springloom.report.files import write_all

    write_all({chosen.file: content})
    held = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in counts.items() if count)
    say(chosen, lambda: f"wrote {chosen.file}: {held or 'nothing'}",
        lambda: {"path": str(chosen.file), **counts})


def _me() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # a user without a name
        return "the command line"


_RUN: dict[str, Callable[[argparse.Namespace], None]] = {
    "where": _where, "list": _list, "take-in": _take_in, "archive": _archive,
    "restore": _restore, "readings": _readings, "back-up": _back_up,
}
