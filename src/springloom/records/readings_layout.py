"""The layout of the readings in a design file, as typed."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from springloom.records.table import Note, Places, Table, Typed

_BLADE = "which blade; mark them"


class CaliperTable(Table):
    """Thickness readings on one blade; "-" where nothing was read."""

    blade: Literal["a", "b"] = Field(description=_BLADE)
    at: Places = Field(description="places, as in [blade]", examples=[["root", "1/4", "1/2"]])
    crown: Places | None = Field(None, description="thickness at the ridge, one a place")
    edge: Places | None = Field(None, description="thickness 5 mm in from the edge, one a place")
    inset: Typed | None = Field(
        None, description="another distance in from the edge, for thickness", examples=[12]
    )
    thickness: Places | None = Field(None, description="thickness at that inset, one a place")
    face: Literal["both", "upper", "lower"] = Field(
        "both", description="both faces together, or how far one lies above or below the line "
        "from edge to edge"
    )
    instrument: str | None = Field(
        None, description='"vernier caliper" if not given; also "dial caliper", "combination '
        'square", "profile gauge", "ruler", "ruler against a string", "tape"'
    )


class WidthTable(Table):
    """Widths of one blade."""

    blade: Literal["a", "b"] = Field(description=_BLADE)
    at: Places = Field(description="places", examples=[["1/4", "1/2", "3/4"]])
    width: Places = Field(description="across the blade, one a place; \"-\" where it was not read")
    instrument: str | None = Field(
        None, description='"vernier caliper" if not given; else as for calipers'
    )


class BladeLengthTable(Table):
    """The length of one blade."""

    blade: Literal["a", "b"] = Field(description=_BLADE)
    length: Typed = Field(description="from the shoulder to the tip", examples=[860])
    instrument: str | None = Field(None, description='"tape" if not given; else as for calipers')


class TraceTable(Table):
    """A section, point by point: of one face by a profile gauge, of both by calipers."""

    blade: Literal["a", "b"] = Field(description=_BLADE)
    at: Typed = Field(description="place", examples=["1/2"])
    face: Literal["upper", "lower", "both"] = Field("upper", description="which face")
    across: Places = Field(
        description="of each point: across the blade, counted from anywhere; of both faces, in "
        "from the edge", examples=[[0, 5, 10, 15, 20, 25, 30, 35]]
    )
    high: Places = Field(
        description="of each point: above the line from edge to edge; of both faces, the "
        "thickness", examples=[[0, 3.4, 5.4, 6.8, 7.8, 8.3, 8.5, 8.6]]
    )
    instrument: str | None = Field(
        None, description='"profile gauge" if not given, for both faces "vernier caliper"'
    )


class BenchTable(Table):
    """One blade clamped and loaded; how far it sank against the unloaded line."""

    blade: Literal["a", "b"] = Field(description="which blade")
    load: Typed = Field("10 lb", description="the hung weight, with its unit")
    hung_at: Typed = Field("tip", description="where it hung")
    clamp_at: Typed = Field("root", description="outer edge of the clamp")
    read_at: Places = Field(["tip"], description="places where the blade's fall was read")
    sinks: Places = Field(description="how far each place sank", examples=[[28.4]])
    unloading: Places | None = Field(
        None, description="the same, come down to this weight from a heavier one",
        examples=[[28.9]],
    )
    repeats: Annotated[list[Places], Field(max_length=20)] = Field(
        default_factory=list, description="the same again, one list a time",
        examples=[[[28.3], [28.6]]],
    )
    instrument: str | None = Field(None, description='"ruler" if not given; else as for calipers')


class HandsTable(Table):
    """The paddle on two supports about its centre, a weight hung from one blade."""

    blade: Literal["a", "b"] = Field(description="the loaded blade")
    load: Typed = Field("89 N", description="the hung weight, with its unit")
    hung_at: Typed = Field("889 mm from centre", description="where it hung")
    span: Typed = Field("508 mm", description="from support to support")
    read_at: Places = Field(["889 mm from centre"],
                            description="places where the blade's fall was read")
    sinks: Places = Field(description="how far each place sank", examples=[[38]])
    unloading: Places | None = Field(None, description="as in bench readings")
    repeats: Annotated[list[Places], Field(max_length=20)] = Field(
        default_factory=list, description="as in bench readings"
    )
    instrument: str | None = Field(None, description='"ruler" if not given; else as for calipers')


class ToneTable(Table):
    """The first flatwise tone of a clamped blade, or of the paddle hung free."""

    frequency: Typed = Field(description="the tone; a bare number is in Hz", examples=["27 Hz"])
    blade: Literal["a", "b"] | None = Field(
        None, description="the clamped blade; none: the paddle, held loosely at 0.224 of its length"
    )
    clamp_at: Typed = Field("root", description="outer edge of the clamp")
    recorder: str | None = Field(None, description='"phone recording" if not given, or "tuner"')


class ReadingsTable(Table):
    """What was read on the carved paddle."""

    weight: Typed | None = Field(None, description="of the whole paddle, with its unit")
    scale: str | None = Field(
        None, description='"kitchen scale" if not given, or "hanging scale"'
    )
    balance: Typed | None = Field(
        None, description="where it balances, from the centre towards blade A; towards B is "
        "negative", examples=["4 mm"]
    )
    remarks: Annotated[list[Note], Field(max_length=100)] = Field(
        default_factory=list, description="what hands and eyes say; shown, and moves no number",
        examples=[["feels stiffer on the right"]],
    )
    caliper: list[CaliperTable] = Field(
        default_factory=list, max_length=200, description="thickness readings"
    )
    width: list[WidthTable] = Field(
        default_factory=list, max_length=200, description="widths"
    )
    blade_length: list[BladeLengthTable] = Field(
        default_factory=list, max_length=20, description="lengths of blades"
    )
    trace: list[TraceTable] = Field(
        default_factory=list, max_length=200, description="sections traced"
    )
    bench: list[BenchTable] = Field(
        default_factory=list, max_length=200, description="bending readings"
    )
    hands: list[HandsTable] = Field(
        default_factory=list, max_length=200, description="bending readings between two supports"
    )
    tap: list[ToneTable] = Field(
        default_factory=list, max_length=200, description="tap tones of the carved paddle"
    )
