"""What is known of one paddle's tuning: its rounds, its readings, and what they come to.

It takes some hundredths of a second to work out, so the last few are kept in memory, each with
the state of the paddle that it is true for.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from sqlalchemy import Connection

from springloom.errors import SpringloomError
from springloom.records.design import Design, design_from
from springloom.records.layout import DesignFile
from springloom.records.readings import readings_from
from springloom.records.readings_layout import ReadingsTable
from springloom.store.kept import Kept
from springloom.store.layout import layout_of, readings_table
from springloom.store.opening import Store
from springloom.store.paddles import Paddle, paddle
from springloom.store.rounds import (
    StoredReading,
    StoredRound,
    all_readings,
    readings,
    rounds,
)
from springloom.store.summaries import state_key
from springloom.store.worked import Worked, worked_out
from springloom.tune.evidence import Reading
from springloom.tune.walk import Step, walk

_KEPT = 12

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Missing:
    """Why there is no advice, and the page where that can be changed."""

    sentence: str
    page: str = ""
    button: str = ""


@dataclass(frozen=True)
class Tuning:
    """One paddle's tuning in one state of the store.

    Attributes:
        key: of this state.
        paddle: its newest version.
        layout, design: the same as typed, and in SI, with all readings that stand.
        turns: rounds, the first one first.
        entries: readings that stand in the open round.
        every: all entries there ever were.
    """

    key: str
    paddle: Paddle
    layout: DesignFile
    design: Design
    turns: tuple[StoredRound, ...]
    entries: tuple[StoredReading, ...]
    every: tuple[StoredReading, ...]
    _made: dict[Hashable, Any] = field(default_factory=dict, compare=False, repr=False)

    def once(self, name: Hashable, make: Callable[[], T]) -> T:
        """What ``make`` gives, made once for this state: drawings take their time."""
        if name not in self._made:
            self._made[name] = make()
        found: T = self._made[name]
        return found

    @property
    def open_turn(self) -> StoredRound | None:
        """The round that readings come into; None before its first."""
        return next((turn for turn in self.turns if turn.is_open), None)

    @property
    def closed(self) -> tuple[StoredRound, ...]:
        """The rounds that are over."""
        return tuple(turn for turn in self.turns if not turn.is_open)

    @property
    def number(self) -> int:
        """Of the round at hand."""
        return self.open_turn.number if self.open_turn else len(self.turns) + 1

    @property
    def seen(self) -> int:
        """Number of the last entry of the round at hand."""
        return self.open_turn.seen if self.open_turn else 0

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The readings of a round, in order."""
        return walk(self.design.paddle)

    @cached_property
    def read(self) -> Mapping[int, tuple[Reading, ...]]:
        """What each entry that stands says, in SI, by the entry's number."""
        return {entry.id: self.in_si(entry) for entry in self.entries}

    def in_si(self, entry: StoredReading) -> tuple[Reading, ...]:
        """One entry in SI."""
        table = ReadingsTable.model_validate(readings_table([entry], entry.units))
        return readings_from(table, self.design.paddle, entry.units)

    def of_step(self, step: Step) -> tuple[tuple[StoredReading, Reading], ...]:
        """The readings of one step, with the entries they are from."""
        return tuple((entry, reading) for entry in self.entries
                     for reading in self.read[entry.id] if step.is_read_by(reading))

    def labelled(self, label: str) -> tuple[StoredReading, ...]:
        """The entries that a reading called so comes from."""
        return tuple(entry for entry in self.entries
                     if any(reading.label == label for reading in self.read[entry.id]))

    @cached_property
    def _outcome(self) -> Worked | Missing:
        lacking = self._lacking()
        if lacking is not None:
            return lacking
        try:
            return worked_out(self.key, self.design)
        except SpringloomError as error:
            return Missing(f"These readings can't be made sense of: {error}.")

    @property
    def worked(self) -> Worked | None:
        """What the readings come to; None where there is nothing to go by."""
        return self._outcome if isinstance(self._outcome, Worked) else None

    @property
    def missing(self) -> Missing | None:
        """Why there is nothing to go by."""
        return self._outcome if isinstance(self._outcome, Missing) else None

    def _lacking(self) -> Missing | None:
        if self.design.board is None and self.design.layup is None:
            return Missing("The wood has to be known before readings mean anything: choose the "
                           "board, or say its species.", "design", "Choose the wood")
        if self.design.target is None:
            return Missing("Nobody has said yet how this paddle should bend.", "tune/target",
                           "Say how it should bend")
        if not self.design.readings:
            return Missing("Nothing has been read in this round yet. Advice comes with the first "
                           "readings: crowns and edges tell the shape, the hung weight the bend.")
        return None


def _tuning_in(connection: Connection, paddle_id: int, key: str) -> Tuning:
    layout = layout_of(connection, paddle_id)
    return Tuning(
        key, paddle(connection, paddle_id), layout, design_from(layout),
        rounds(connection, paddle_id), readings(connection, paddle_id),
        all_readings(connection, paddle_id))


_kept: Kept[Tuning] = Kept(_KEPT)


def tuning_of(store: Store, paddle_id: int) -> Tuning:
    """A paddle's tuning as it is now, from memory where nothing has changed since.

    Raises:
        NotStoredError: there is no such paddle.
        InputError: its design is none.
    """
    with store.read() as connection:
        key = state_key(connection, paddle_id)
        return _kept.get(key, lambda: _tuning_in(connection, paddle_id, key))
