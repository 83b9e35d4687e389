"""The layout of an archive: one JSON file with everything that a store holds.

Entries name each other by ``uid``. An entry comes after those it names.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

KIND = "springloom archive"
VERSION = 1

Uid = Annotated[str, StringConstraints(
    pattern=r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$")]
Moment = Annotated[str, StringConstraints(
    pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z$")]
Units = Annotated[Literal["mm", "in"], Field(description="of lengths typed without one")]
Typed = dict[str, Any]


class Part(BaseModel):
    """A part of the file; unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, populate_by_name=True)


class Entry(Part):
    """What every entry has."""

    uid: Uid = Field(description="its name for good")
    made_at: Moment = Field(description="when it was written, UTC")
    made_by: str = Field(description="by whom")


class Person(Entry):
    """A person."""

    name: str


class Body(Entry):
    """Measures of a person; the last of them stands."""

    person: Uid
    paddler: Typed = Field(description="a [paddler] table")
    units: Units


class Board(Entry):
    """A board."""

    name: str


class BoardSheet(Entry):
    """What was written down of a board; the last of them stands."""

    board: Uid
    table: Typed = Field(description="a [board] table without tests")
    units: Units


class BoardTest(Entry):
    """A bending test or a tap tone of a board."""

    board: Uid
    kind: Literal["bending", "tap"]
    table: Typed | None = Field(description="as typed; null: withdraws what it replaces")
    units: Units
    replaces: Uid | None


class Class(Entry):
    """A class."""

    name: str
    base: Typed = Field(description="what serves for all, by the keys of a design file")
    board: Uid | None


class Paddle(Entry):
    """A paddle: whose it is, of what, in which class."""

    person: Uid | None
    board: Uid | None
    of_class: Uid | None = Field(alias="class")
    set_aside: Literal[0, 1]


class Design(Entry):
    """A version of a paddle's design; the last of them stands."""

    paddle: Uid
    number: int = Field(ge=1)
    layout: Typed = Field(description="a design file without paddler, board, rounds, readings")
    why: str


class Round(Entry):
    """A round of tuning."""

    paddle: Uid
    number: int = Field(ge=1)


class Closing(Entry):
    """The end of a round."""

    round: Uid
    advice: Typed = Field(description="what was shown, as data")
    planed: list[Typed] = Field(description="[[round.planed]] tables")
    units: Units


class Reading(Entry):
    """A reading of a carved paddle."""

    round: Uid
    kind: Literal["weight", "balance", "caliper", "width", "blade_length", "trace", "bench",
                  "hands", "tap", "remark"] = Field(
        description="a key of [readings]; remark for one of its remarks")
    table: Typed | None = Field(description="as typed; null: withdraws what it replaces")
    units: Units
    replaces: Uid | None


class Mark(Entry):
    """A stage of carving, ticked off or not after all."""

    paddle: Uid
    stage: str
    done: Literal[0, 1]
    measured: Typed = Field(description="as typed, by name")
    units: Units


class _About(Entry):
    """About a paddle, a board or a person: one of the three."""

    paddle: Uid | None
    board: Uid | None
    person: Uid | None


class Note(_About):
    """A note about one of three: a paddle, a board or a person."""

    text: str | None = Field(description="null: withdraws what it replaces")
    replaces: Uid | None


class Attachment(_About):
    """A file that belongs to one of three: a paddle, a board or a person."""

    name: str
    media_type: str
    sha256: str
    content: str = Field(description="base64")


class Change(Entry):
    """A change of one thing's name, or of what a paddle goes with; the last of them stands."""

    person: Uid | None
    board: Uid | None
    of_class: Uid | None = Field(alias="class")
    paddle: Uid | None
    was: Typed = Field(description="the keys that changed, as they were")
    now: Typed = Field(description="the same as they are; a person, board or class by its uid")


class Archive(Part):
    """A Springloom archive."""

    format: Literal["springloom archive"]
    version: Literal[1] = Field(description="of this layout")
    program: str = Field(description="version of the Springloom that wrote it")
    people: list[Person]
    bodies: list[Body]
    boards: list[Board]
    board_sheets: list[BoardSheet]
    board_tests: list[BoardTest]
    classes: list[Class]
    paddles: list[Paddle]
    designs: list[Design]
    rounds: list[Round]
    closings: list[Closing]
    readings: list[Reading]
    marks: list[Mark]
    notes: list[Note]
    attachments: list[Attachment]
    changes: list[Change]
    settings: Typed = Field(description="by key")


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of an archive."""
    schema = Archive.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
