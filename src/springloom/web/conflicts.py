"""Two people changed the same thing: what the other wrote beside what was typed here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from springloom.errors import ConflictError
from springloom.web.moments import when

NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Changed:
    """Who changed it since, and both values of every field in which the two differ.

    ``rows`` are (what, theirs, yours), as typed.
    """

    who: str
    when: str
    rows: tuple[tuple[str, str, str], ...]


def changed(error: ConflictError, names: Sequence[tuple[str, str]], theirs: Mapping[str, object],
            yours: Mapping[str, object]) -> Changed:
    """Lay two versions beside each other; ``names`` are keys and what they are called."""
    return Changed(error.who, when(error.when), differences(names, theirs, yours))


def differences(names: Sequence[tuple[str, str]], one: Mapping[str, object],
                other: Mapping[str, object]) -> tuple[tuple[str, str, str], ...]:
    """Return (what, one, other) for every key whose typed text differs."""
    pairs = [(name, said(one.get(key)), said(other.get(key))) for key, name in names]
    return tuple(row for row in pairs if row[1] != row[2])


def said(typed: object) -> str:
    """Return what was typed as text; an empty field says so."""
    text = "" if typed is None else str(typed).strip()
    return text or NOTHING
