"""The layout of a design file: which tables and keys there are, as typed.

Values stay as the maker typed them ("3 1/4", "83mm", 82.5); :mod:`springloom.records.design`
turns them into SI. The JSON Schema and the reference in docs/ are generated from these classes.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, StringConstraints, field_validator
from pydantic_core import PydanticCustomError

from springloom.records.readings_layout import ReadingsTable
from springloom.records.table import Name, Note, Number, Places, Ring, Shares, Table, Typed


class Paddler(Table):
    """Who will use it, and in which boat. What is not measured is estimated from the height."""

    height: Typed = Field(description="standing height, barefoot", examples=["176 cm"])
    arm_span: Typed | None = Field(None, description="fingertip to fingertip, arms out")
    cubit: Typed | None = Field(None, description="elbow to fingertip")
    shoulder_breadth: Typed | None = Field(None, description="across the shoulders")
    hand_length: Typed | None = Field(None, description="wrist crease to middle fingertip")
    grip_circumference: Typed | None = Field(
        None, description="girth of the rod that thumb and forefinger just close round"
    )
    boat_beam: Typed | None = Field(None, description="greatest width of the boat")
    use: Literal["touring", "rolling", "storm"] = Field(
        "touring", description="what the paddle is for; decides which rule is followed"
    )


class BendingTest(Table):
    """The board on two supports with a weight half-way between them."""

    span: Typed = Field(description="from support to support", examples=[2000])
    load: Typed = Field(description="the weight hung at the middle", examples=["10 lb"])
    sinks: Typed = Field(description="how far the middle sank under it", examples=[1.7])
    sinks_sd: Typed | None = Field(
        None, description="uncertainty (standard deviation) of that reading; 0.1 mm if not given"
    )
    edgewise: bool = Field(False, description="whether the board stood on its edge")


class Tap(Table):
    """The board's first bending tone, held loosely 0.224 of its length from each end."""

    frequency: Typed = Field(description="the tone; a bare number is in Hz", examples=["34 Hz"])
    sd: Typed | None = Field(
        None, description="its uncertainty (standard deviation); 0.5 Hz if not given"
    )
    edgewise: bool = Field(False, description="whether it was tapped on its edge")


class BoardTable(Table):
    """The board the paddle comes from. What is not read is taken as usual, and told."""

    species: str = Field(description="a wood that `springloom species` lists",
                         examples=["western_redcedar"])
    grown: Literal["us", "canada"] = Field("us", description="whose averages to start from")
    length: Typed = Field(description="length of the board", examples=[2440])
    width: Typed = Field(description="the larger size of its section", examples=[89])
    thickness: Typed = Field(description="the smaller size of its section", examples=[40])
    weight: Typed | None = Field(None, description="on a scale, with its unit",
                                 examples=["3.2 kg"])
    moisture: Typed | None = Field(None, description="by a meter, in percent", examples=["11 %"])
    grain_slope: Typed | None = Field(
        None, description="how steeply the grain runs out of the edge",
        examples=["1 in 20", "straight", "3 deg"],
    )
    rings: Ring = Field(
        "mixed", description="flat: growth rings lie along the wide face; quarter: across it"
    )
    bending: list[BendingTest] = Field(
        default_factory=list, max_length=20, description="bending tests of the board"
    )
    tap: list[Tap] = Field(default_factory=list, max_length=20, description="tap tones of it")
    note: Note = Field("", description="anything worth remembering")


class StripTable(Table):
    """One strip of a laminated blank, seen along its length; edges from the middle."""

    species: str = Field(description="a wood that `springloom species` lists",
                         examples=["sitka_spruce"])
    grown: Literal["us", "canada"] = Field("us", description="whose averages to take")
    rings: Ring = Field("mixed", description="lie of the growth rings, as for a board")
    left: Typed | None = Field(
        None, description="left edge across the blade, left is negative; none: past the blade"
    )
    right: Typed | None = Field(None, description="right edge; none: past the blade")
    below: Typed | None = Field(
        None, description="lower face, below is negative; none: past the blade"
    )
    above: Typed | None = Field(None, description="upper face; none: past the blade")


class LoomTable(Table):
    """The part between the shoulders: an oval."""

    length: Typed = Field("510 mm", description="between the shoulders")
    width: Typed = Field("32 mm", description="across, as the blade is wide")
    thickness: Typed = Field("38 mm", description="through, as the blade is thick")
    blend: Typed = Field("25 mm", description="from the shoulder to the root")


class BladeTable(Table):
    """Stations from the root to the tip, one list entry each; at least four."""

    stations: Places = Field(
        description='places: "root", a share of the way from shoulder to tip ("1/4"), '
        '"75 mm from tip", "tip"',
        examples=[["root", "1/4", "1/2", "3/4", "75 mm from tip", "tip"]],
    )
    width: Places = Field(description='at each station; "round" at the tip',
                          examples=[[39, 60, 73, 82, 83, "round"]])
    crown: Places = Field(description="thickness at the ridge",
                          examples=[[34, 24.5, 17.5, 13, 10, 7.5]])
    edge: Places | None = Field(
        None, description="thickness 5 mm in from the edge; none: an oval edge"
    )
    ridge: Shares | None = Field(
        None, description="ridge fullness: 0 a straight diamond, 0.55 an oval; none: oval"
    )
    ridge_below: Shares | None = Field(None, description="of the lower face, where it differs")
    face_share: Shares | None = Field(
        None, description="part of the crown on the upper face: 0.5 both alike, 1 a flat lower face"
    )


class PaddleTable(Table):
    """The whole paddle."""

    length: Typed = Field("2210 mm", description="tip to tip")


class TargetTable(Table):
    """The wanted bend: how far the tip sinks, like which other paddle, or as light as is safe."""

    sinks: Typed | None = Field(None, description="how far the tip sinks", examples=["33 mm"])
    like: Annotated[str, StringConstraints(min_length=1, max_length=400)] | None = Field(
        None, description="design file of a paddle to bend like, in place of sinks and "
        "progression; measured if it has readings", examples=["old_favourite.toml"]
    )
    as_light_as_safe: bool = Field(
        False, description="down to the limits; sinks is then how far the tip may sink at most, "
        "6 % of the length from root to tip under 10 lb if not given"
    )
    under: Typed = Field("10 lb", description="the weight, with its unit")
    within: Typed = Field("1.5 mm", description="how near is near enough")
    progression: Number = Field(1.9, description="0 an even arc, 2 strongly outward")


class LimitsTable(Table):
    """What must not be passed."""

    least_crown_mid: Typed = Field("13 mm", description="thinnest ridge, root to mid-blade")
    least_crown_tip: Typed = Field("6 mm", description="thinnest ridge at the tip")
    least_edge: Typed = Field("3 mm", description="thinnest edge")
    blank: Typed = Field("38 mm", description="thickness of the blank: no crown is thicker")
    margin: Number = Field(1.0, description="least strength margin in every load case")


class CareTable(Table):
    """How careful the advice is, and how fine the plane is set."""

    plane_pass: Typed = Field("1/128", description="what one pass takes off one face")
    target_risk: Typed = Field("5 %", description="most that one removal may take of the chance "
                               "of passing the target")
    tuning_risk: Typed = Field("1 %", description="chance allowed of passing the target over all "
                               "rounds together")
    limit_risk: Typed = Field("1 %", description="chance allowed of passing a least thickness")
    most_per_round: Typed = Field("1.5 mm", description="most off one face in one round")
    keep: Annotated[list[Typed], Field(max_length=40)] = Field(
        default_factory=list, description="stations whose crown stays as it is",
        examples=[["root"]],
    )


class PlanedTable(Table):
    """What was really taken off one blade; where nothing is said, nothing was."""

    blade: Literal["a", "b"] = Field(description="which blade")
    at: Places = Field(description="stations of the blade", examples=[["1/2", "3/4"]])
    per_face: Places = Field(description="off each face, one a station",
                             examples=[["1/64", "1/128"]])


class RoundTable(Table):
    """One round of tuning that is over: what was read, and what was then taken off."""

    readings: ReadingsTable = Field(description="as [readings]")
    planed: list[PlanedTable] = Field(
        min_length=1, max_length=10, description="what was taken off after them"
    )


class DesignFile(Table):
    """A Springloom design file."""

    format: Literal[1] = Field(description="version of this layout", examples=[1])
    name: Name = Field(description="what the paddle is called", examples=["Marsh Tern"])
    note: Note = Field("", description="lettered on the plan sheet")
    units: Literal["mm", "in"] = Field(
        "mm", description="unit of lengths typed without one, and of printing"
    )
    paddler: Paddler | None = Field(None, description="who it is for; `fit` needs it")
    board: BoardTable | None = Field(
        None, description="the wood; every command but `fit` needs it, or strips"
    )
    strip: list[StripTable] = Field(
        default_factory=list, max_length=40, description="a laminated blank, in place of the board"
    )
    paddle: PaddleTable | None = Field(None, description="overall length")
    loom: LoomTable | None = Field(None, description="the part the hands hold")
    blade: BladeTable | None = Field(
        None, description="the blades' shape; the default redcedar blade if not given"
    )
    blade_b: BladeTable | None = Field(None, description="the other blade, where it differs")
    target: TargetTable | None = Field(
        None, description="the wanted bend; `shape-to-bend` and `tune` need it"
    )
    limits: LimitsTable | None = Field(None, description="least thicknesses, blank, margin")
    care: CareTable | None = Field(None, description="risks taken, and the plane's setting")
    round: list[RoundTable] = Field(
        default_factory=list, max_length=40,
        description="rounds of tuning that are over, in their order",
    )
    readings: ReadingsTable | None = Field(
        None, description="what was measured on the carved paddle, since the last round if there "
        "was one; `tune` needs it"
    )

    @field_validator("format", mode="before")
    @classmethod
    def _is_plain_one(cls, value: object) -> object:
        """Refuse true and 1.0, which Python holds to be equal to 1."""
        if type(value) is not int or value != 1:
            raise PydanticCustomError("literal_error", "unknown layout", {"expected": "1"})
        return value


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a design file."""
    schema = DesignFile.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
