"""The layout of a design file: which tables and keys there are, as typed.

Values stay as the maker typed them ("3 1/4", "83mm", 82.5); :mod:`springloom.records.design`
turns them into SI. The JSON Schema is generated from these classes.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Typed = Annotated[str | float | int, Field(examples=["83 mm", "3 1/4", 82.5])]
Places = Annotated[list[Typed], Field(max_length=40)]


class Table(BaseModel):
    """A table of the file; unknown keys are errors."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)


class Paddler(Table):
    """Who will use it, and in which boat."""

    height: Typed = Field(description="standing height, barefoot")
    arm_span: Typed | None = Field(None, description="fingertip to fingertip, arms out")
    cubit: Typed | None = Field(None, description="elbow to fingertip")
    shoulder_breadth: Typed | None = Field(None, description="across the shoulders")
    hand_length: Typed | None = Field(None, description="wrist crease to middle fingertip")
    grip_circumference: Typed | None = Field(
        None, description="girth of the rod that thumb and forefinger just close round"
    )
    boat_beam: Typed | None = Field(None, description="greatest width of the boat")
    use: Literal["touring", "rolling", "storm"] = "touring"


class BendingTest(Table):
    """The board on two supports with a weight half-way between them."""

    span: Typed
    load: Typed = Field(description="the weight hung at the middle", examples=["10 lb"])
    sinks: Typed = Field(description="how far the middle sank under it")
    sinks_sd: Typed | None = Field(None, description="uncertainty of that reading")
    edgewise: bool = False


class Tap(Table):
    """The board's first bending tone, held loosely 0.224 of its length from each end."""

    frequency: Typed = Field(examples=["41 Hz"])
    sd: Typed | None = None
    edgewise: bool = False


class BoardTable(Table):
    """The board the paddle comes from."""

    species: str = Field(examples=["western_redcedar"])
    grown: Literal["us", "canada"] = "us"
    length: Typed
    width: Typed
    thickness: Typed
    weight: Typed | None = None
    moisture: Typed | None = Field(None, examples=["11 %"])
    grain_slope: Typed | None = Field(None, examples=["1 in 20", "straight", "3 deg"])
    rings: Literal["flat", "quarter", "mixed"] = Field(
        "mixed", description="flat: growth rings lie along the wide face; quarter: across it"
    )
    bending: list[BendingTest] = Field(default_factory=list, max_length=20)
    tap: list[Tap] = Field(default_factory=list, max_length=20)
    note: str = ""


class StripTable(Table):
    """One strip of a laminated blank, seen along its length; limits from the middle."""

    species: str
    grown: Literal["us", "canada"] = "us"
    rings: Literal["flat", "quarter", "mixed"] = "mixed"
    left: Typed | None = Field(None, description="edge across the blade; none: past the blade")
    right: Typed | None = None
    below: Typed | None = Field(None, description="lower face; none: past the blade")
    above: Typed | None = None


class LoomTable(Table):
    """The part between the shoulders."""

    length: Typed = Field("510 mm", description="between the shoulders")
    width: Typed = "32 mm"
    thickness: Typed = "38 mm"
    blend: Typed = Field("25 mm", description="from the shoulder to the root")


class BladeTable(Table):
    """Stations from the root to the tip, one list entry each."""

    stations: Places = Field(
        description='"root", a fraction of the blade from the shoulder, "75 mm from tip", "tip"'
    )
    width: Places = Field(description='at each station; "round" at the tip')
    crown: Places = Field(description="thickness at the ridge")
    edge: Places | None = Field(None, description="thickness 5 mm in from the edge")
    ridge: Annotated[list[float | int], Field(max_length=40)] | None = Field(
        None, description="ridge fullness: 0 a straight diamond, 0.55 an oval"
    )
    ridge_below: Annotated[list[float | int], Field(max_length=40)] | None = Field(
        None, description="of the other face, where it differs"
    )
    face_share: Annotated[list[float | int], Field(max_length=40)] | None = Field(
        None, description="part of the crown on the upper face; 1 for a flat lower face"
    )


class PaddleTable(Table):
    """The whole paddle."""

    length: Typed = Field("2210 mm", description="tip to tip")


class TargetTable(Table):
    """The wanted bend: root clamped, a weight hung at the tip."""

    sinks: Typed = Field(description="how far the tip sinks")
    under: Typed = Field("10 lb", description="the weight")
    within: Typed = Field("1.5 mm", description="how near is near enough")
    progression: float | int = Field(1.9, description="0 an even arc, 2 strongly outward")


class LimitsTable(Table):
    """What must not be passed."""

    least_crown_mid: Typed = "13 mm"
    least_crown_tip: Typed = "6 mm"
    least_edge: Typed = "3 mm"
    blank: Typed = Field("38 mm", description="thickness of the blank: no crown is thicker")
    margin: float | int = Field(1.0, description="least strength margin in every load case")


class CareTable(Table):
    """How careful the advice is, and how fine the plane is set."""

    plane_pass: Typed = Field("1/128", description="what one pass takes off one face")
    target_risk: Typed = Field("5 %", description="chance allowed of passing the target")
    limit_risk: Typed = Field("1 %", description="chance allowed of passing a least thickness")
    most_per_round: Typed = Field("1.5 mm", description="most off one face in one round")


class CaliperTable(Table):
    """Thickness readings on one blade."""

    blade: Literal["a", "b"]
    at: Places
    crown: Places | None = None
    edge: Places | None = None
    instrument: str | None = None


class BenchTable(Table):
    """One blade clamped and loaded; how far it sank against the unloaded line."""

    blade: Literal["a", "b"]
    load: Typed = "10 lb"
    hung_at: Typed = "tip"
    clamp_at: Typed = "root"
    read_at: Places = ["tip"]
    sinks: Places
    instrument: str | None = None


class ReadingsTable(Table):
    """What was read on the carved paddle."""

    weight: Typed | None = None
    scale: str | None = None
    caliper: list[CaliperTable] = Field(default_factory=list, max_length=200)
    bench: list[BenchTable] = Field(default_factory=list, max_length=200)


class DesignFile(Table):
    """A Springloom design file."""

    format: Literal[1] = Field(description="version of this layout")
    name: str = Field(max_length=120)
    note: str = Field("", max_length=4000)
    units: Literal["mm", "in"] = Field("mm", description="unit of bare numbers, and of printing")
    paddler: Paddler | None = None
    board: BoardTable | None = None
    strip: list[StripTable] = Field(default_factory=list, max_length=40)
    paddle: PaddleTable | None = None
    loom: LoomTable | None = None
    blade: BladeTable | None = None
    blade_b: BladeTable | None = Field(None, description="the other blade, where it differs")
    target: TargetTable | None = None
    limits: LimitsTable | None = None
    care: CareTable | None = None
    readings: ReadingsTable | None = None


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a design file."""
    schema = DesignFile.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
