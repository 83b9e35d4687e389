"""What the tables of a design file are made of."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints

MOST = 10**18
"""Whole numbers beyond it are no measure of anything, and some too large for any arithmetic."""


def _measure(number: float | int) -> float | int:
    if isinstance(number, int) and not -MOST <= number <= MOST:
        raise ValueError("beyond every measure")
    return number


Typed = str | float | int
Number = Annotated[float | int, AfterValidator(_measure)]
Places = Annotated[list[Typed], Field(min_length=1, max_length=40)]
Shares = Annotated[list[Number], Field(min_length=1, max_length=40)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=120)]
Note = Annotated[str, StringConstraints(max_length=4000)]
Ring = Literal["flat", "quarter", "mixed"]


class Table(BaseModel):
    """A table of the file; unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
