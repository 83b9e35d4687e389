"""Typed text to signed numbers with units, or one sentence why it can't be read.

::

    quantity  [+|-] term [term]        a hyphen may join feet to inches: 7'-3"
    term      number [unit]
    number    whole (space | hyphen) fraction  |  fraction  |  whole  |  decimal
    fraction  whole "/" whole  |  ½ ¼ ¾ ⅛ ⅜ ⅝ ⅞

Case and runs of spaces mean nothing. What a phone's keyboard makes of a quote, a prime, a
hyphen or a slash is read as the plain one. Nothing is guessed: a wrong number costs a board,
a refusal costs a keystroke.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from springloom.errors import QuantityError, RangeError
from springloom.units.exact import UNITS, Unit

MAX_CHARACTERS: Final = 64

_PLAIN: Final = str.maketrans({
    "\N{RIGHT SINGLE QUOTATION MARK}": "'",
    "\N{PRIME}": "'",
    "\N{RIGHT DOUBLE QUOTATION MARK}": '"',
    "\N{DOUBLE PRIME}": '"',
    "\N{HYPHEN}": "-",
    "\N{NON-BREAKING HYPHEN}": "-",
    "\N{MINUS SIGN}": "-",
    "\N{FRACTION SLASH}": "/",
    "\N{DIVISION SLASH}": "/",
    "\N{MASCULINE ORDINAL INDICATOR}": "°",
})
_VULGAR: Final = str.maketrans(
    {"½": "1/2 ", "¼": "1/4 ", "¾": "3/4 ", "⅛": "1/8 ", "⅜": "3/8 ", "⅝": "5/8 ", "⅞": "7/8 "}
)
_BEFORE_VULGAR: Final = re.compile("(?<=[0-9])(?=[½¼¾⅛⅜⅝⅞])")
_EXPONENT: Final = re.compile(r"[0-9]\.?e[+-]?[0-9]")
_NOT_FINITE: Final = re.compile(r"[+-]?(nan|inf|infinity)")

# The unit is possessive (++) and its dot may not open a number: "7 ft.5 in" can be .5 or 5.
_TERM: Final = re.compile(
    r"""(?: (?: (?P<whole>[0-9]+) (?:\ |-) )? (?P<over>[0-9]+) \ ?/\ ? (?P<under>[0-9]+)
          | (?P<decimal> [0-9]*\.[0-9]+ | [0-9]+ ) )
        \ ?
        (?P<unit> ['"%°] | [a-z]++ (?: /[a-z]++[23²³]? )? (?: \.(?![0-9]) | (?!\.) ) )?
        (?: (?<=')-(?=[0-9]) | \ ? )""",
    re.VERBOSE,
)


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked and what was typed, so that every refusal carries the same facts."""

    field: str
    given: object
    allowed: str

    def refuse(self, sentence: str) -> QuantityError:
        """Return the error for text that can't be read, or in two ways."""
        return QuantityError(sentence, field=self.field, given=self.given, allowed=self.allowed)

    def outside(self, sentence: str, allowed: str) -> RangeError:
        """Return the error for a number that was read but is not taken."""
        return RangeError(sentence, field=self.field, given=self.given, allowed=allowed)


@dataclass(frozen=True, slots=True)
class Term:
    """One number and the unit typed behind it, if any; ``amount`` is never negative."""

    amount: Fraction
    unit: Unit | None = None
    is_fraction: bool = False


def tidy(text: str) -> str:
    """Return ``text`` in lower case, with plain quotes, hyphens, fractions and single spaces."""
    plain = text.lower().translate(_PLAIN).replace("''", '"')
    return " ".join(_BEFORE_VULGAR.sub(" ", plain).translate(_VULGAR).split())


def scan(text: str, question: Question) -> tuple[bool, tuple[Term, ...]]:
    """Return whether a minus leads, and the terms, at least one.

    Raises:
        QuantityError: too long, empty, no number, an unknown unit, or anything left over.
    """
    if len(text) > MAX_CHARACTERS:
        raise question.refuse(f"is longer than {MAX_CHARACTERS} characters")
    rest = tidy(text)
    _refuse_at_sight(rest, question)
    negative = rest.startswith("-")
    rest = rest[1:].lstrip() if rest[0] in "+-" else rest
    terms: list[Term] = []
    while rest:
        match = _TERM.match(rest)
        if match is None:
            raise question.refuse(_why_unreadable(rest, first=not terms))
        terms.append(_term(match, question))
        rest = rest[match.end():]
    if not terms:
        raise question.refuse("has no number")
    return negative, tuple(terms)


def _refuse_at_sight(text: str, question: Question) -> None:
    if not text:
        raise question.refuse("is empty")
    if "," in text:
        raise question.refuse(
            "has a comma, which may be a decimal comma or part thousands; write 8.3 or 1200"
        )
    if _EXPONENT.search(text):
        raise question.refuse("has an exponent; write the number out")
    if _NOT_FINITE.fullmatch(text):
        raise question.refuse("is not a finite number")


def _term(match: re.Match[str], question: Question) -> Term:
    name = match["unit"]
    unit = None if name is None else UNITS.get(name.rstrip("."))
    if name is not None and unit is None:
        raise question.refuse(f"has an unknown unit {name!r}")
    if match["decimal"] is not None:
        return Term(Fraction(match["decimal"]), unit)
    over, under = int(match["over"]), int(match["under"])
    if under == 0:
        raise question.refuse("divides by zero")
    if match["whole"] is not None and over >= under:
        raise question.refuse(f"has {over}/{under}, a whole or more, behind a whole number")
    return Term(int(match["whole"] or 0) + Fraction(over, under), unit, is_fraction=True)


def _why_unreadable(rest: str, *, first: bool) -> str:
    if first:
        return f"does not begin with a number but with {rest!r}"
    if rest.startswith("-"):
        return "may be a range or a difference; give one number"
    return f"can't be read from {rest!r} on"
