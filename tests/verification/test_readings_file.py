"""The readings of a design file: each in SI with its uncertainty, each slip told by its key."""

from __future__ import annotations

import contextlib
import importlib.resources
import io
import re
import tempfile
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from springloom.cli import main
from springloom.errors import SpringloomError
from springloom.mechanics.setups import POUND_FORCE
from springloom.records.design import Design, design_from
from springloom.records.reading import check_layout
from springloom.shape.paddle import default_paddle
from springloom.tune.evidence import (
    INSTRUMENTS,
    RECORDERS,
    BalanceReading,
    BenchReading,
    FullnessReading,
    HandsReading,
    LengthReading,
    Reading,
    TapReading,
    ThicknessReading,
    WidthReading,
    repeated,
)

HALF = default_paddle().a

EVERYTHING = """
[[readings.width]]
blade = "a"
at = ["1/4", "1/2", "3/4"]
width = [60.2, 73.1, 82.4]
[[readings.blade_length]]
blade = "b"
length = 861
[[readings.caliper]]
blade = "b"
at = ["1/2"]
inset = 12
thickness = [12.6]
[[readings.caliper]]
blade = "a"
at = ["1/4"]
crown = [13.1]
face = "upper"
[[readings.trace]]
blade = "a"
at = "1/2"
across = [0, 6, 12, 18, 24, 30, 36, 42, 48, 54, 60, 66, 72]
high = [0, 4.1, 6.2, 7.6, 8.6, 9.1, 9.3, 9.1, 8.6, 7.6, 6.2, 4.1, 0]
[[readings.trace]]
blade = "b"
at = "3/4"
face = "both"
across = [5, 10, 15, 20, 30, 40]
high = [6.3, 8.8, 10.6, 12.0, 13.8, 14.6]
[[readings.bench]]
blade = "a"
load = "6 lb"
sinks = [17.1]
unloading = [17.4]
repeats = [[17.0], [17.3]]
[[readings.hands]]
blade = "a"
span = 508
sinks = [29.5]
[[readings.tap]]
frequency = 27.9
blade = "a"
[[readings.tap]]
frequency = 28.9
"""
"""One table of each kind, beside what the example has."""

EXAMPLE = (importlib.resources.files("springloom.examples") / "marsh_tern.toml").read_text(
    encoding="utf-8").replace("[readings]", "[readings]\nbalance = 2") + EVERYTHING
NUMBERS = [match.span() for match in
           re.finditer(r"(?<![\w.\"/'])\d+(?:\.\d+)?(?![\w.])", EXAMPLE)
           if match.start() > EXAMPLE.index("[readings]")]


def _design(text: str) -> Design:
    return design_from(check_layout(tomllib.loads(f'format = 1\nname = "T"\n{text}')))


def _read(text: str) -> tuple[Reading, ...]:
    return _design(text).readings


def test_thickness_on_one_face_and_at_an_inset() -> None:
    upper, inset, lower = _read("""
        [[readings.caliper]]
        blade = "a"
        at = ["1/2"]
        crown = [8.9]
        face = "upper"
        instrument = "combination square"
        [[readings.caliper]]
        blade = "b"
        at = ["1/2", "3/4"]
        inset = "1/2"
        thickness = ["-", 9.4]
        [[readings.caliper]]
        blade = "a"
        at = ["1/4"]
        edge = [4.4]
        face = "lower"
    """)
    assert upper == ThicknessReading("a", HALF.stations[2].x, 0.0089, "crown",
                                     INSTRUMENTS["combination square"], "1/2", 0.0, "upper")
    assert isinstance(inset, ThicknessReading)
    assert (inset.kind, inset.name, inset.inset, inset.face) == ("inset", "3/4", 0.0127, "both")
    assert inset.thickness == pytest.approx(0.0094, rel=1e-15)
    assert isinstance(lower, ThicknessReading)
    assert (lower.kind, lower.face, lower.label) == (
        "edge", "lower", "blade A, lower face, edge at 1/4")


def test_outline() -> None:
    *widths, length = _read("""
        [[readings.width]]
        blade = "a"
        at = ["1/4", "1/2", "3/4"]
        width = [60.5, "-", "3 1/4"]
        [[readings.blade_length]]
        blade = "b"
        length = "85.1 cm"
    """)
    assert widths == [
        WidthReading("a", HALF.stations[1].x, 0.0605, INSTRUMENTS["vernier caliper"], "1/4"),
        WidthReading("a", HALF.stations[3].x, 3.25 * 0.0254, INSTRUMENTS["vernier caliper"],
                     "3/4"),
    ]
    assert length == LengthReading("b", 0.851, INSTRUMENTS["tape"])


def test_bench_readings_there_back_and_again() -> None:
    tip, half = _read("""
        [[readings.bench]]
        blade = "a"
        load = "12 lb"
        read_at = ["tip", "1/2"]
        sinks = [28.0, 6.0]
        repeats = [[28.4, 6.1], [28.2, 5.9]]
        unloading = [29.0, 6.0]
        instrument = "ruler against a string"
    """)
    sd = INSTRUMENTS["ruler against a string"]
    told = repeated([0.0280, 0.0284, 0.0282], [0.0290], sd)
    assert isinstance(tip, BenchReading)
    assert isinstance(half, BenchReading)
    assert tip.deflection == pytest.approx(0.5 * (0.0282 + 0.0290), rel=1e-12)
    assert (tip.sd, tip.scatter, tip.hysteresis) == pytest.approx(
        (told.sd, told.scatter, told.hysteresis), rel=1e-9)
    assert tip.scatter == pytest.approx(0.0002, rel=1e-9)
    assert tip.hysteresis == pytest.approx(0.0008, rel=1e-9)
    assert half.hysteresis == pytest.approx(0.0, abs=1e-12)
    assert half.load == pytest.approx(12.0 * POUND_FORCE, rel=1e-12)
    assert half.sd < 0.7 * sd  # four readings that agree
    assert tip.sd > 1.4 * half.sd  # and four that do not


def test_two_hands() -> None:
    plain, other = _read("""
        [[readings.hands]]
        blade = "b"
        sinks = [38]
        [[readings.hands]]
        blade = "a"
        load = "15 lb"
        hung_at = "3/4"
        span = "480 mm"
        read_at = ["tip"]
        sinks = [31.5]
        repeats = [[31.7]]
    """)
    assert isinstance(plain, HandsReading)
    assert plain == HandsReading("b", 0.038, name=plain.name)
    assert isinstance(other, HandsReading)
    assert (other.side, other.half_span, other.read_x) == ("a", 0.24, HALF.tip)
    assert other.load_x == pytest.approx(HALF.at_fraction(0.75), abs=1e-12)
    assert other.scatter > 0.0


def test_tones_balance_and_remarks() -> None:
    design = _design("""
        [readings]
        balance = "-1/8"
        remarks = ["stiff in the hands", "looks flat at 3/4"]
        [[readings.tap]]
        frequency = "27.5 Hz"
        blade = "b"
        clamp_at = "shoulder"
        recorder = "tuner"
        [[readings.tap]]
        frequency = 29
    """)
    clamped, free, balance = design.readings
    assert clamped == TapReading("b", 27.5, HALF.loom.half_length, RECORDERS["tuner"])
    assert isinstance(free, TapReading)
    assert (free.side, free.frequency, free.sd) == (None, 29.0, RECORDERS["phone recording"])
    assert balance == BalanceReading(-0.003175)
    assert design.remarks == ("stiff in the hands", "looks flat at 3/4")


def test_remarks_move_no_number() -> None:
    assert _read('[readings]\nremarks = ["bends like 40 mm at the tip"]') == ()


TRACE = """
    [[readings.trace]]
    blade = "a"
    at = "1/2"
    face = "{face}"
    across = [{across}]
    high = [{high}]
"""


def _traced(face: str) -> str:
    section = HALF.section(HALF.stations[2].x)
    if face == "both":
        points = [(1e3 * i, 1e3 * section.thickness_at(i)) for i in (0.004, 0.01, 0.016, 0.022,
                                                                     0.03)]
    else:
        outline = section.outline(6)
        points = [(1e3 * y, 1e3 * z) for y, z in outline if z >= 0.0]
    across, high = (", ".join(f"{p[i]:.3f}" for p in points) for i in (0, 1))
    return TRACE.format(face=face, across=across, high=high)


def test_a_gauge_trace_is_kept_and_weighed() -> None:
    design = _design(_traced("upper"))
    assert [(t.side, t.face, t.name, t.sd) for t in design.traces] == [
        ("a", "upper", "1/2", INSTRUMENTS["profile gauge"])]
    assert len(design.traces[0].points) == 13
    assert design.readings
    for reading in design.readings:
        assert isinstance(reading, FullnessReading)
        assert reading.label == "blade A, upper face, trace at 1/2"
        planned = HALF.stations[2].ridge, HALF.section(HALF.stations[2].x).edge
        expected = reading.ridge * planned[0] + reading.edge * planned[1]
        assert abs(reading.value - expected) < reading.sd


def test_a_trace_by_calipers_is_thickness() -> None:
    design = _design(_traced("both"))
    assert design.traces[0].sd == INSTRUMENTS["vernier caliper"]
    assert [r.inset for r in design.readings if isinstance(r, ThicknessReading)] == [
        0.004, 0.01, 0.016, 0.022, 0.03]


BENCH = '[[readings.bench]]\nblade = "a"\nread_at = ["tip", "1/2"]\n'


@pytest.mark.parametrize(("text", "field", "words"), [
    (BENCH + "sinks = [-28, 6]", "readings.bench[1].sinks[1]", "is the sign wrong?"),
    (BENCH + "sinks = [28, 6]\nunloading = [28]", "readings.bench[1].unloading", "2 entries"),
    (BENCH + "sinks = [28, 6]\nrepeats = [[28, 6], [28]]", "readings.bench[1].repeats[2]",
     "2 entries"),
    (BENCH + 'sinks = [28, 6]\nrepeats = [[28, "x"]]', "readings.bench[1].repeats[1][2]", "number"),
    ('[[readings.hands]]\nblade = "a"\nsinks = [-3]', "readings.hands[1].sinks[1]",
     "is the sign wrong?"),
    ('[[readings.hands]]\nblade = "a"\nsinks = [3]\nspan = 600', "readings.hands[1].span",
     "wider than the loom"),
    ('[[readings.hands]]\nblade = "a"\nsinks = [3]\nhung_at = "shoulder"',
     "readings.hands[1].hung_at", "out of range"),
    ('[[readings.hands]]\nblade = "a"\nsinks = [3, 4]', "readings.hands[1].sinks", "1 entries"),
    ("[[readings.tap]]\nfrequency = 4000", "readings.tap[1].frequency", "500 Hz"),
    ('[[readings.tap]]\nfrequency = 27\nblade = "a"\nrecorder = "ear"', "readings.tap[1].recorder",
     "phone recording"),
    ('[readings]\nbalance = "2 m"', "readings.balance", "500 mm"),
    ('[[readings.width]]\nblade = "a"\nat = ["tip"]\nwidth = [40]', "readings.width[1].width[1]",
     "a width can't be read in the rounded tip"),
    ('[[readings.width]]\nblade = "a"\nat = ["1/2"]\nwidth = ["-"]', "readings.width[1]",
     "has no readings"),
    ('[[readings.width]]\nblade = "a"\nat = ["1/2"]\nwidth = [400]', "readings.width[1].width[1]",
     "300 mm"),
    ('[[readings.blade_length]]\nblade = "a"\nlength = "3 m"', "readings.blade_length[1].length",
     "2500 mm"),
    ('[[readings.caliper]]\nblade = "a"\nat = ["1/2"]\ninset = 12', "readings.caliper[1].thickness",
     "both go together"),
    ('[[readings.caliper]]\nblade = "a"\nat = ["1/2"]\nthickness = [12]',
     "readings.caliper[1].inset", "both go together"),
    ('[[readings.caliper]]\nblade = "a"\nat = ["1/2"]\ninset = 60\nthickness = [12]',
     "readings.caliper[1].inset", "36.5 mm"),
    ('[[readings.caliper]]\nblade = "a"\nat = ["tip"]\ninset = 6\nthickness = [12]',
     "readings.caliper[1].thickness[1]", "rounded tip"),
    ('[[readings.caliper]]\nblade = "a"\nat = ["1/2"]\ncrown = [9]\nface = "top"',
     "readings.caliper[1].face", "'upper'"),
    (TRACE.format(face="upper", across="0, 1", high="0, 1"), "readings.trace[1].across",
     "at least 5 points"),
    (TRACE.format(face="upper", across="0, 1, 2, 3, 4", high="0, 1"), "readings.trace[1].high",
     "5 entries"),
    (TRACE.format(face="upper", across="0, 9, 20, 30, 40", high="0, -1, -1, -1, -1"),
     "readings.trace[1].high", "rises nowhere"),
    (TRACE.format(face="both", across="0, 9, 20, 30, 40", high="6, 9, 10, 11, 12"),
     "readings.trace[1].across", "more than 0"),
    (_traced("upper").replace('"1/2"', '"tip"'), "readings.trace[1].at", "rounded tip"),
])
def test_slips_are_told_by_their_key(text: str, field: str, words: str) -> None:
    with pytest.raises(SpringloomError) as caught:
        _design(text)
    assert caught.value.field == field
    assert words in str(caught.value)


def test_everything_is_read_together() -> None:
    found = design_from(check_layout(tomllib.loads(EXAMPLE))).readings
    assert {type(reading) for reading in found} >= {
        ThicknessReading, WidthReading, LengthReading, FullnessReading, BenchReading,
        HandsReading, TapReading, BalanceReading}


@settings(max_examples=60)
@given(st.sampled_from(NUMBERS), st.floats(-2.0, 2.0))
def test_no_number_can_bring_about_a_fault(span: tuple[int, int], power: float) -> None:
    """Any reading, made up to a hundred times larger or smaller."""
    start, end = span
    text = f"{EXAMPLE[:start]}{float(EXAMPLE[start:end]) * 10.0**power:.6g}{EXAMPLE[end:]}"
    out, err = io.StringIO(), io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "design.toml")
        path.write_text(text, encoding="utf-8")
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main(["tune", str(path)])
    assert code in {0, 2, 3}, err.getvalue()
    assert err.getvalue().count("\n") == (0 if code == 0 else 1)
