"""Every error Springloom raises on purpose.

::

    SpringloomError                 anything below; the command line shows it in one line
    ├── InputError                  a value the user can mend (exit code 2)
    │   ├── QuantityError           text that is no quantity, or an ambiguous one
    │   ├── RangeError              a number outside what is allowed
    │   ├── UnknownNameError        a key, species, station or set-up nobody knows
    │   ├── ShapeError              stations that make no paddle
    │   ├── FileError               a file that can't be read as what it should be
    │   └── NotStoredError          an entry the store does not hold
    ├── EvidenceError               readings that contradict each other or the stated wood (exit 3)
    ├── UnreachableError            a target this wood or these limits can't reach (exit 4)
    ├── OutputError                 a result that can't be written (exit 5)
    ├── ForbiddenError              a request that may not do what it asks
    └── StoreError                  a store that can't be used: damaged, full, busy (exit 6)
        ├── ConflictError           somebody else has written in the meantime
        └── RateError               too many wrong codes

Each error carries ``field``, ``given`` and ``allowed`` as data, so that the command line,
the browser and a test read the same facts.
"""

from __future__ import annotations

import difflib
import math
import sys
from collections.abc import Iterable
from datetime import datetime
from typing import Self


class SpringloomError(Exception):
    """Root of all errors raised on purpose."""

    exit_code = 1

    def __init__(
        self, message: str, *, field: str = "", given: object = None, allowed: str = ""
    ) -> None:
        """Keep the facts beside the sentence; ``field`` is a dotted path into the input."""
        super().__init__(message)
        self.message = message
        self.field = field
        self.given = given
        self.allowed = allowed

    def __str__(self) -> str:
        """One line: field, sentence, what was given, what is allowed."""
        head = f"{self.field}: {self.message}" if self.field else self.message
        given = f" (given {_short(self.given)})" if self.given is not None else ""
        allowed = f"; allowed: {self.allowed}" if self.allowed else ""
        return f"{head}{given}{allowed}"

    def within(self, prefix: str) -> Self:
        """Return the same error with ``prefix`` put before its field."""
        return self.about(f"{prefix}.{self.field}" if self.field else prefix)

    def about(self, field: str) -> Self:
        """Return the same error with another field."""
        other = self.__class__.__new__(self.__class__, *self.args)  # some ask for more to be made
        other.__dict__.update(self.__dict__)
        other.field = field
        return other


class InputError(SpringloomError):
    """A value the user can mend."""

    exit_code = 2


class QuantityError(InputError):
    """Text that is no quantity, or one that can be read in two ways."""


class RangeError(InputError):
    """A number outside what is allowed."""


class UnknownNameError(InputError):
    """A key, species, station or set-up nobody knows."""


class ShapeError(InputError):
    """Stations that make no paddle."""


class FileError(InputError):
    """A file that can't be read as what it should be."""


class NotStoredError(InputError):
    """An entry the store does not hold."""


class EvidenceError(SpringloomError):
    """Readings that contradict each other or the stated wood."""

    exit_code = 3


class UnreachableError(SpringloomError):
    """A target that this wood or these limits can't reach."""

    exit_code = 4


class OutputError(SpringloomError):
    """A result that can't be written."""

    exit_code = 5


class ForbiddenError(SpringloomError):
    """A request that may not do what it asks."""

    exit_code = 2


class StoreError(SpringloomError):
    """A store that can't be used: damaged, full, busy, of a later version."""

    exit_code = 6


class ConflictError(StoreError):
    """Somebody else has written in the meantime.

    Attributes:
        who, when: wrote what is there now.
        now: what is there now.
    """

    def __init__(self, message: str, *, who: str, when: datetime, now: object = None,
                 field: str = "") -> None:
        """Keep who, when and what beside the sentence."""
        super().__init__(f"{message} ({who}, {when:%Y-%m-%d %H:%M} UTC)", field=field,
                         allowed="look at what is there now, then write again")
        self.who = who
        self.when = when
        self.now = now


class RateError(StoreError):
    """Too many wrong codes; another try counts only later."""


class AsIs(str):
    """A text that an error shows without quotes."""

    __slots__ = ()

    def __repr__(self) -> str:
        """Itself."""
        return str(self)


def _short(value: object, limit: int = 60) -> str:
    text = repr(value) if isinstance(value, str) else str(value)
    flat = " ".join(text.split())
    return flat if len(flat) <= limit else flat[: limit - 1] + "…"


def in_range(
    value: float,
    field: str,
    low: float = -math.inf,
    high: float = math.inf,
    unit: str = "",
    *,
    open_low: bool = False,
) -> float:
    """Return ``value`` if it is a finite number in [low, high] (or (low, high]).

    Raises:
        RangeError: not a number, not finite, or outside; carries the range with its unit.
    """
    if (_is_number(value) and low <= value <= high and -_MOST <= value <= _MOST
            and not (open_low and value == low)):
        return float(value)
    message = "is out of range" if _is_number(value) else "needs a number"
    if isinstance(value, float) and not math.isfinite(value):
        message = "must be a finite number"
    raise RangeError(message, field=field, given=_with_unit(value, unit),
                     allowed=_range_text(low, high, unit, open_low))


_MOST = sys.float_info.max


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _with_unit(value: object, unit: str) -> object:
    if not isinstance(value, int | float) or isinstance(value, bool):
        return value
    if isinstance(value, int) and not -_MOST <= value <= _MOST:
        return f"an integer of {value.bit_length()} bits"
    return f"{value:.6g} {unit}".strip()


def known(name: str, names: Iterable[str], field: str) -> str:
    """Return ``name`` if it is one of ``names``.

    Raises:
        UnknownNameError: otherwise; the sentence suggests the closest name.
    """
    choices = sorted(names)
    if name in choices:
        return name
    close = difflib.get_close_matches(str(name), choices, n=1, cutoff=0.5)
    hint = f"is unknown; did you mean {close[0]!r}?" if close else "is unknown"
    raise UnknownNameError(hint, field=field, given=name, allowed=_choices_text(choices))


def _choices_text(choices: list[str], limit: int = 12) -> str:
    shown = ", ".join(choices[:limit])
    return shown if len(choices) <= limit else f"{shown}, … ({len(choices)} in all)"


def _range_text(low: float, high: float, unit: str, open_low: bool) -> str:
    tail = f" {unit}" if unit else ""
    over = "more than" if open_low else "at least"
    if math.isinf(low) and math.isinf(high):
        return f"a finite number{tail}"
    if math.isinf(high):
        return f"{over} {low:g}{tail}"
    if math.isinf(low):
        return f"at most {high:g}{tail}"
    if open_low:
        return f"{over} {low:g} and at most {high:g}{tail}"
    return f"{low:g} to {high:g}{tail}"
