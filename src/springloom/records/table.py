"""What the tables of a design file are made of."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

Typed = str | float | int
Places = Annotated[list[Typed], Field(min_length=1, max_length=40)]
Shares = Annotated[list[float | int], Field(min_length=1, max_length=40)]
Name = Annotated[str, StringConstraints(min_length=1, max_length=120)]
Note = Annotated[str, StringConstraints(max_length=4000)]
Ring = Literal["flat", "quarter", "mixed"]


class Table(BaseModel):
    """A table of the file; unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)
