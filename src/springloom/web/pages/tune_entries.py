"""The readings of a round as a log: what stands, and struck through what was corrected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from springloom.report.reading_text import reading_label, reading_text
from springloom.store.rounds import StoredReading
from springloom.web.moments import when


@dataclass(frozen=True, slots=True)
class Version:
    """One entry in words; ``text`` None where it only withdraws."""

    id: int
    text: str | None
    by: str
    at: str


@dataclass(frozen=True, slots=True)
class Line:
    """One reading: its versions, the newest first.

    Attributes:
        id: of the newest.
        label: what was read.
        versions: the newest first; all but it are struck through.
        stands: whether it counts.
    """

    id: int
    label: str
    versions: tuple[Version, ...]
    stands: bool


def log_of(every: Sequence[StoredReading], number: int) -> list[Line]:
    """Every reading of a round, in the order in which they were first read."""
    entries = {entry.id: entry for entry in every if entry.round == number}
    replaced = {entry.replaces for entry in entries.values()}
    lines = [_line(entry, entries) for entry in entries.values() if entry.id not in replaced]
    return sorted(lines, key=lambda line: line.versions[-1].id)


def _line(last: StoredReading, entries: dict[int, StoredReading]) -> Line:
    chain = [last]
    while chain[-1].replaces is not None:
        chain.append(entries[chain[-1].replaces])
    table = next((entry.table for entry in chain if entry.table is not None), {})
    return Line(last.id, reading_label(last.kind, table or {}),
                tuple(map(version, chain)), last.table is not None)


def version(entry: StoredReading) -> Version:
    """One entry in words."""
    text = None if entry.table is None else reading_text(entry.kind, entry.table, entry.units)
    return Version(entry.id, text, entry.made_by, when(entry.made_at))


def entry_words(entry: StoredReading) -> str:
    """An entry in one line: ``Thickness, blade A: crown root: 35.2 mm``."""
    if entry.table is None:
        return f"{reading_label(entry.kind, {})}: withdrawn"
    label = reading_label(entry.kind, entry.table)
    return f"{label}: {reading_text(entry.kind, entry.table, entry.units)}"


def latest(every: Sequence[StoredReading], number: int) -> tuple[int, str] | None:
    """The entry written last in a round: its number, and the entry in a line."""
    last = max((one for one in every if one.round == number), key=lambda one: one.id, default=None)
    if last is None:
        return None
    return last.id, f"{entry_words(last)}, {last.made_by}, {when(last.made_at)}"
