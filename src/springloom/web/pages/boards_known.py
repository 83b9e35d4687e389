"""What is known of a stored board, and how what was typed of it reads."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from springloom.errors import EvidenceError
from springloom.records.wood_tables import board_from, refuse_other_wood
from springloom.report.board_words import board_headline
from springloom.store.boards import StoredBoard
from springloom.store.typed import in_units
from springloom.units import System
from springloom.web.forms import Problem, problem_of
from springloom.wood.assess import BoardAssessment, assess
from springloom.wood.board import Board
from springloom.wood.species import Species, all_species, canadian_ids, species
from springloom.wood.verdict import Verdict, judge

NO_VERDICT = "no verdict, its readings can't be right"


@dataclass(frozen=True, slots=True)
class Known:
    """A board with its assessment; where a reading is hopeless there is none, and ``trouble``."""

    board: Board
    assessment: BoardAssessment | None
    verdict: Verdict | None
    trouble: str = ""

    @property
    def wood(self) -> str:
        """The wood as one says it."""
        return wood_words(self.board.wood)

    @property
    def verdict_words(self) -> str:
        """The verdict in a word."""
        return NO_VERDICT if self.verdict is None else self.verdict.grade

    @property
    def headline(self) -> str:
        """The verdict in a line."""
        if self.assessment is None or self.verdict is None:
            return f"This board of {self.board.wood.common_name}: {NO_VERDICT}"
        return board_headline(self.assessment, self.verdict.grade)


def known_of(stored: StoredBoard) -> Known:
    """Return what is known of a board with the tests that stand."""
    return _known(board_from(stored.layout(), stored.units))


@functools.lru_cache(maxsize=256)
def _known(board: Board) -> Known:
    found = assess(board)
    try:
        refuse_other_wood(found)
    except EvidenceError as error:
        return Known(board, None, None, _hopeless(problem_of(error)))
    return Known(board, found, judge(found))


def _hopeless(problem: Problem) -> str:
    return f"{problem.named} ({problem.given}; likely is {problem.allowed})."


def wood_words(wood: Species) -> str:
    """Return a wood's name, and where it grew if the table has two."""
    return wood.common_name + (", grown in Canada" if wood.origin == "canada" else "")


def woods() -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the woods to choose from, in groups; those with Canadian averages twice."""
    groups: dict[str, list[tuple[str, str]]] = {"Softwoods": [], "Hardwoods": []}
    for wood in all_species():
        names = groups["Softwoods" if wood.group == "softwood" else "Hardwoods"]
        names.append((wood.id, wood_words(wood)))
        if wood.id in canadian_ids():
            names.append((f"{wood.id}/canada", wood_words(species(wood.id, "canada"))))
    return list(groups.items())


def typed_words(kind: str, table: Mapping[str, Any], units: System) -> dict[str, str]:
    """Return typed values as text, bare lengths with the unit they were meant in."""
    other: System = "in" if units == "mm" else "mm"
    return {key: str(value) for key, value in in_units(kind, table, units, other).items()}
