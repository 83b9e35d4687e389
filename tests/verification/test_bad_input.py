"""Bad input: one clear line each, the right exit code, and nothing written."""

from __future__ import annotations

import contextlib
import io
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.cli import main
from tests.verification.command import MARSH_TERN, Ran, command

GOOD = MARSH_TERN.read_text(encoding="utf-8")

PLACES = '["root", "1/4", "1/2", "3/4", "75 mm from tip", "tip"]\nwidth'
WIDTH = '[39, 60, 73, 82, 83, "round"]'
CROWN = "[34, 24.5, 17.5, 13, 10, 7.5]"
EDGE = "[18, 9, 7, 6, 5, 4.5]"
RIDGE = "[0.40, 0.45, 0.50, 0.54, 0.55, 0.55]"
HEIGHT = 'height = "176 cm"'
READ_CROWN = "[35.2, 26.1, 18.8, 14.1, 10.9, 8.0]"
READ_EDGE = '[18.6, 9.6, 7.4, 6.4, 5.4, "-"]'
SUNK = "[28.4, 14.8, 5.8]"
LONG = "x" * 121

# What stands in the good file, what is typed instead, the key the error has to name and a part
# of what it has to say. The exit code is 2 for all of these.
MISTYPED = [
    # negative, zero, not finite, huge, tiny
    (HEIGHT, 'height = "-176 cm"', "paddler.height", "zero or more"),
    (HEIGHT, "height = 0", "paddler.height", "1200 to 2300 mm"),
    (HEIGHT, "height = nan", "paddler.height", "a finite number"),
    (HEIGHT, "height = inf", "paddler.height", "a finite number"),
    (HEIGHT, "height = -inf", "paddler.height", "a finite number"),
    (HEIGHT, "height = 1e400", "paddler.height", "a finite number"),
    (HEIGHT, 'height = "nan"', "paddler.height", "is not a finite number"),
    (HEIGHT, "height = 1e300", "paddler.height", "1200 to 2300 mm"),
    (HEIGHT, f"height = {10**26}", "paddler.height", "1200 to 2300 mm"),
    (HEIGHT, f"height = {10**4000}", "paddler.height", "below 1e308"),
    (HEIGHT, "height = 1e-300", "paddler.height", "1200 to 2300 mm"),
    (HEIGHT, 'height = "17.6 cm"', "paddler.height", "given '17.6 cm'"),
    ('boat_beam = "54 cm"', 'boat_beam = "5.4 m"', "paddler.boat_beam", "380 to 1000 mm"),
    ("length = 2440", "length = 0", "board.length", "150 to 6000 mm"),
    ("length = 2440", "length = 24400", "board.length", "given 24400 mm"),
    ("width = 89", "width = 890", "board.width", "5 to 600 mm"),
    ("thickness = 40", "thickness = -40", "board.thickness", "zero or more"),
    ("thickness = 40", "thickness = 400", "board.thickness", "3 to 200 mm"),
    ('weight = "3.23 kg"', 'weight = "323 kg"', "board.weight", "0.005 to 200 kg"),
    ('moisture = "11 %"', "moisture = -3", "board.moisture", "zero or more"),
    ('moisture = "11 %"', 'moisture = "1100 %"', "board.moisture", "%"),
    ("sinks = 1.7", "sinks = 0", "board.bending[1].sinks", "more than 0"),
    ("sinks = 1.7", "sinks = -1.7", "board.bending[1].sinks", "zero or more"),
    ("sinks = 1.7", "sinks = 170", "board.bending[1].sinks", "at most 100 mm"),
    ('frequency = "34 Hz"', "frequency = 0", "board.tap[1].frequency", "1 to 20000 Hz"),
    ("length = 2240", "length = nan", "paddle.length", "a finite number"),
    ("length = 2240", "length = 22400", "paddle.length", "1000 to 3200 mm"),
    ("length = 2240", "length = 224", "paddle.length", "1000 to 3200 mm"),
    ("length = 520", "length = 0", "loom.length", "100 to 1000 mm"),
    ("length = 520", "length = 2300", "loom.length", "100 to 1000 mm"),
    ("width = 32", "width = 320", "loom.width", "15 to 80 mm"),
    ("thickness = 38\n", "thickness = 3\n", "loom.thickness", "15 to 80 mm"),
    ("thickness = 38\n", "thickness = 38\nblend = -5\n", "loom.blend", "zero or more"),
    ("thickness = 38\n", "thickness = 38\nblend = 500\n", "loom.blend", "5 to 300 mm"),
    (WIDTH, '[39, 60, 730, 82, 83, "round"]', "blade.width[3]", "0 to 300 mm"),
    (WIDTH, '[39, 60, -73, 82, 83, "round"]', "blade.width[3]", "zero or more"),
    (WIDTH, '[39, 60, nan, 82, 83, "round"]', "blade.width[3]", "a finite number"),
    (CROWN, "[34, 24.5, 17.5, 130, 10, 7.5]", "blade.crown[4]", "0.5 to 100 mm"),
    (CROWN, "[34, 24.5, 17.5, 0, 10, 7.5]", "blade.crown[4]", "0.5 to 100 mm"),
    (CROWN, "[34, 24.5, 17.5, 13, 10, inf]", "blade.crown[6]", "a finite number"),
    (EDGE, "[18, 9, 7, 0, 5, 4.5]", "blade.edge[4]", "more than 0 and at most 13 mm"),
    (RIDGE, "[0.40, 0.45, 0.50, 0.54, 0.55, 1.5]", "blade.ridge[6]", "0 to 1"),
    (RIDGE, "[0.40, 0.45, 0.50, 0.54, 0.55, -0.1]", "blade.ridge[6]", "0 to 1"),
    (RIDGE, "[0.40, 0.45, 0.50, 0.54, 0.55, nan]", "blade.ridge[6]", "0 to 1"),
    (RIDGE, f"{RIDGE}\nface_share = [1, 1, 1, 1, 1, 2]", "blade.face_share[6]", "at most 1"),
    ("sinks = 33", "sinks = 330", "target.sinks", "2 to 300 mm"),
    ("sinks = 33", "sinks = 0", "target.sinks", "2 to 300 mm"),
    ('under = "10 lb"\nwithin', 'under = "1000 lb"\nwithin', "target.under", "1 to 300 N"),
    ("within = 1.5", "within = 0", "target.within", "0.2 to 50 mm"),
    ("progression = 1.9", "progression = 19", "target.progression", "0 to 6"),
    ("progression = 1.9", "progression = nan", "target.progression", "0 to 6"),
    ("least_crown_mid = 13", "least_crown_mid = 130", "limits.least_crown_mid", "1 to 40 mm"),
    ("least_crown_mid = 13", "least_crown_mid = 0", "limits.least_crown_mid", "1 to 40 mm"),
    ("least_edge = 3", "least_edge = 30", "limits.least_edge", "0.5 to 20 mm"),
    ("least_edge = 3", "least_edge = 3\nmargin = 0", "limits.margin", "0.2 to 10"),
    ('plane_pass = "1/128"', "plane_pass = 0", "care.plane_pass", "0.02 to 1 mm"),
    ('plane_pass = "1/128"', 'plane_pass = "1/2"', "care.plane_pass", "given '1/2'"),
    ('plane_pass = "1/128"', 'target_risk = "500 %"', "care.target_risk", "0.05 to 50 %"),
    ('plane_pass = "1/128"', "limit_risk = -1", "care.limit_risk", "zero or more"),
    ('plane_pass = "1/128"', "most_per_round = 0", "care.most_per_round", "10 mm"),
    ('weight = "788 g"', 'weight = "788 kg"', "readings.weight", "0.1 to 5 kg"),
    (READ_CROWN, "[35.2, 26.1, 18.8, 141, 10.9, 8.0]", "readings.caliper[1].crown[4]", "100 mm"),
    (SUNK, "[2840, 14.8, 5.8]", "readings.bench[1].sinks[1]", "at most 500 mm"),
    (SUNK, "[-28.4, 14.8, 5.8]", "readings.bench[1].sinks[1]", "500 mm"),
    # another unit, or none
    (HEIGHT, 'height = "176 kg"', "paddler.height", "is a mass (kg), not a length"),
    (HEIGHT, 'height = "10 lb"', "paddler.height", "is a mass (lb), not a length"),
    (HEIGHT, 'height = "176 furlong"', "paddler.height", "unknown unit 'furlong'"),
    (HEIGHT, 'height = "1,76 m"', "paddler.height", "has a comma"),
    (HEIGHT, 'height = "1e3 mm"', "paddler.height", "has an exponent"),
    (HEIGHT, 'height = "5 ft 13 in"', "paddler.height", "12 in or more"),
    ('weight = "3.23 kg"', 'weight = "3.23 mm"', "board.weight", "is a length (mm), not a mass"),
    ('weight = "3.23 kg"', "weight = 3.23", "board.weight", "needs a unit"),
    ('moisture = "11 %"', 'moisture = "11 mm"', "board.moisture", "percent"),
    ('grain_slope = "1 in 24"', 'grain_slope = "24 in 1"', "board.grain_slope", "upside down"),
    ('grain_slope = "1 in 24"', "grain_slope = 24", "board.grain_slope", "needs a unit"),
    ('grain_slope = "1 in 24"', 'grain_slope = "1 in 0"', "board.grain_slope", "divides by zero"),
    ('load = "10 lb"\nsinks = 1.7', "load = 10\nsinks = 1.7", "board.bending[1].load", "lbf"),
    ('load = "10 lb"\nsinks = 1.7', 'load = "9 mm"\nsinks = 1.7', "board.bending[1].load",
     "is a length (mm), not a force"),
    ("span = 2000", 'span = "2000 lb"', "board.bending[1].span", "not a length"),
    ('frequency = "34 Hz"', 'frequency = "34 mm"', "board.tap[1].frequency", "not a frequency"),
    (CROWN, '[34, 24.5, 17.5, "13 lb", 10, 7.5]', "blade.crown[4]", "not a length"),
    (CROWN, '[34, 24.5, 17.5, "1/2 mm", 10, 7.5]', "blade.crown[4]", "a fraction of mm"),
    ("sinks = 33", 'sinks = "33 kg"', "target.sinks", "not a length"),
    ('under = "10 lb"\nwithin', 'under = "10 m"\nwithin', "target.under", "not a force"),
    ('under = "10 lb"\nwithin', "under = 10\nwithin", "target.under", "needs a unit"),
    ('plane_pass = "1/128"', 'plane_pass = "1/128 mm"', "care.plane_pass", "a fraction of mm"),
    ('weight = "788 g"', "weight = 788", "readings.weight", "needs a unit"),
    # text, truth, dates, lists and tables where something else is wanted
    (HEIGHT, 'height = "tall"', "paddler.height", "does not begin with a number"),
    (HEIGHT, 'height = ""', "paddler.height", "is empty"),
    (HEIGHT, f'height = "{"9" * 65}"', "paddler.height", "longer than 64 characters"),
    (HEIGHT, "height = true", "paddler.height", "given true"),
    (HEIGHT, "height = 1979-05-27", "paddler.height", "given 1979-05-27"),
    (HEIGHT, "height = [176]", "paddler.height", "given a list of 1"),
    (HEIGHT, "height = {mm = 1760}", "paddler.height", "given a table"),
    ("[paddler]", "[[paddler]]", "paddler", "a table"),
    ("[board]", "[board.more]", "board.more", "is unknown"),
    ("[[board.tap]]", "[board.tap]", "board.tap", "a list"),
    ("format = 1", 'format = "1"', "format", "allowed: 1"),
    ("format = 1", "format = true", "format", "given true"),
    ("format = 1", "format = 1.0", "format", "given 1.0"),
    ("format = 1", "format = 2", "format", "allowed: 1"),
    ('name = "Marsh Tern"', "name = 5", "name", "a text in quotes"),
    ('name = "Marsh Tern"', 'name = ""', "name", "is empty"),
    ('name = "Marsh Tern"', f'name = "{LONG}"', "name", "at most 120"),
    ('units = "mm"', 'units = "cm"', "units", "'mm' or 'in'"),
    ('species = "western_redcedar"', "species = 7", "board.species", "a text in quotes"),
    ('frequency = "34 Hz"', 'frequency = 34\nedgewise = "no"', "board.tap[1].edgewise", "true or"),
    (PLACES, '"root"\nwidth', "blade.stations", "a list"),
    (PLACES, "[]\nwidth", "blade.stations", "too few entries"),
    (PLACES, PLACES.replace('"1/2"', "true"), "blade.stations[3]", "given true"),
    (WIDTH, '[39, 60, "wide", 82, 83, "round"]', "blade.width[3]", "given 'wide'"),
    (RIDGE, RIDGE.replace("0.40", '"oval"'), "blade.ridge[1]", "a number"),
    ("progression = 1.9", 'progression = "1.9"', "target.progression", "a number"),
    # missing
    (HEIGHT, "", "paddler.height", "standing height"),
    ("format = 1", "", "format", "such as 1"),
    ('name = "Marsh Tern"', "", "name", "what the paddle is called"),
    ('species = "western_redcedar"', "", "board.species", "such as 'western_redcedar'"),
    ("thickness = 40\n", "", "board.thickness", "the smaller size"),
    ("span = 2000", "", "board.bending[1].span", "from support to support"),
    (f"width    = {WIDTH}", "", "blade.width", "at each station"),
    ("sinks = 33", "", "target.sinks", "how far the tip sinks"),
    ('blade = "a"\nat ', "at ", "readings.caliper[1].blade", "which blade"),
    # unknown keys and names, with a suggestion where one is near
    ('name = "Marsh Tern"', 'nane = "Marsh Tern"', "nane", "did you mean 'name'?"),
    ("[paddle]", "[padle]", "padle", "did you mean 'paddle'?"),
    ("[target]", "[zzz]", "zzz", "is unknown (given"),
    ('name = "Marsh Tern"', 'name = "Marsh Tern"\nstr = 1', "str", "is unknown"),
    ('name = "Marsh Tern"', 'name = "Marsh Tern"\n"日本" = 1', "日本", "is unknown"),
    (HEIGHT, 'hieght = "176 cm"', "paddler.hieght", "did you mean 'height'?"),
    ("span = 2000", "spam = 2000", "board.bending[1].spam", "did you mean 'span'?"),
    ("length = 2240", "lenght = 2240", "paddle.lenght", "did you mean 'length'?"),
    ("least_edge = 3", "least_egde = 3", "limits.least_egde", "did you mean 'least_edge'?"),
    ('read_at = ["tip", "3/4", "1/2"]\nsinks   = [28.4', 'reads_at = ["tip"]\nsinks = [28.4',
     "readings.bench[1].reads_at", "did you mean 'read_at'?"),
    ('species = "western_redcedar"', 'species = "western_red_cedar"', "board.species",
     "did you mean 'western_redcedar'?"),
    ('species = "western_redcedar"', 'species = "unobtainium"', "board.species", "34 in all"),
    ('use = "touring"', 'use = "racing"', "paddler.use", "'touring', 'rolling' or 'storm'"),
    ('rings = "flat"', 'rings = "wavy"', "board.rings", "'flat', 'quarter' or 'mixed'"),
    ('scale = "kitchen scale"', 'scale = "kitchn scale"', "readings.scale", "'kitchen scale'?"),
    ('blade = "a"\nat ', 'blade = "c"\nat ', "readings.caliper[1].blade", "'a' or 'b'"),
    ('blade = "a"\nat ', 'instrument = "dial calliper"\nblade = "a"\nat ',
     "readings.caliper[1].instrument", "'dial caliper'?"),
    # lists of unlike length, stations out of order, places off the paddle
    (WIDTH, "[39, 60, 73, 82, 83]", "blade.width", "'5 entries'); allowed: 6 entries"),
    (EDGE, "[18, 9, 7, 6, 5]", "blade.edge", "one entry for each station"),
    (RIDGE, "[0.40]", "blade.ridge", "one entry for each station"),
    (CROWN, f"[{', '.join('9' * 41)}]", "blade.crown", "at most 40"),
    (READ_CROWN, "[35.2, 26.1]", "readings.caliper[1].crown", "one entry for each place"),
    (SUNK, "[28.4, 14.8]", "readings.bench[1].sinks", "one entry for each place"),
    (PLACES, PLACES.replace('"root", "1/4"', '"1/4", "root"'), "blade.stations[2]", "outward"),
    (PLACES, PLACES.replace('"1/4", "1/2"', '"1/2", "1/4"'), "blade.stations[3]", "outward"),
    (PLACES, PLACES.replace('"1/2"', '"1/4"'), "blade.stations[3]", "at least 5 mm apart"),
    (PLACES, PLACES.replace("75 mm from tip", "75 mm from root"), "blade.stations[5]", "outward"),
    (PLACES, PLACES.replace('"tip"', '"9 mm from tip"'), "blade.stations[6]", "is not the tip"),
    (PLACES, PLACES.replace('"root"', '"shoulder"'), "blade.stations", "285 mm"),
    (PLACES, PLACES.replace('"tip"', '"1200 mm from centre"'), "blade.stations[6]", "1120.0 mm"),
    (PLACES, PLACES.replace("75 mm from tip", "75 mm from nose"), "blade.stations[5]", "no place"),
    (PLACES, PLACES.replace("75 mm", "75 kg"), "blade.stations[5]", "not a length"),
    (PLACES, PLACES.replace("3/4", "7/4"), "blade.stations[4]", "no share of the blade"),
    (PLACES, PLACES.replace("3/4", "3/0"), "blade.stations[4]", "no share of the blade"),
    (PLACES, PLACES.replace('"1/2"', "690"), "blade.stations[3]", "no place"),
    ('hung_at = "tip"\nclamp_at = "root"\nread_at = ["tip", "3/4", "1/2"]\nsinks   = [28.4',
     'hung_at = "root"\nread_at = ["tip", "3/4", "1/2"]\nsinks   = [28.4',
     "readings.bench[1].hung_at", "given 'root'"),
    # shapes that can't be
    (CROWN, "[70, 24.5, 17.5, 13, 10, 7.5]", "blade.crown[1]", "at most 62.4 mm at this width"),
    (EDGE, "[18, 9, 7, 14, 5, 4.5]", "blade.edge[4]", "at most 13 mm"),
    (EDGE, "[18, 9, 7, 0.01, 5, 4.5]", "blade.edge[4]", "2.99 to 8.75 mm"),
    (EDGE, "[1, 9, 7, 6, 5, 4.5]", "blade.edge[1]", "no convex section"),
    (WIDTH, "[39, 60, 73, 82, 83, 40]", "blade.width[6]", 'allowed: "round"'),
    (WIDTH, '[39, 60, "round", 82, 83, "round"]', "blade.width[3]", "only the tip"),
    (WIDTH, '[39, 60, 0, 82, 83, "round"]', "blade.width[3]", "only the tip"),
    # things that contradict one another
    ('arm_span = "178 cm"', 'arm_span = "140 cm"', "paddler.arm_span", "1496 to 2112 mm"),
    ("width = 89", "width = 30", "board.thickness", "at most 30 mm"),
    ("span = 2000", "span = 3000", "board.bending[1].span", "at most 2440 mm"),
    ("span = 2000", "span = 200", "board.bending[1]", "10 times"),
    ("length = 2240\n\n[loom]\nlength = 520", "length = 1100\n[loom]\nlength = 900",
     "paddle.length", "1150 to 3200 mm"),
    ("least_crown_tip = 6", "least_crown_tip = 20", "limits.least_crown_tip", "1 to 13 mm"),
    ("least_edge = 3", "least_edge = 3\nblank = 10", "limits.blank", "13 to 100 mm"),
    (READ_EDGE, '[18.6, 9.6, 7.4, 15, 5.4, "-"]', "readings.caliper[1].edge[4]", "at most 14.1"),
    (READ_EDGE, "[18.6, 9.6, 7.4, 6.4, 5.4, 4]", "readings.caliper[1].edge[6]", "rounded tip"),
    (f"crown = {READ_CROWN}\nedge  = {READ_EDGE}", "", "readings.caliper[1]", "a crown or an edge"),
]

STRIPS = '[[strip]]\nspecies = "sitka_spruce"\n'
STRIPPED = [
    (f"{STRIPS}right = 0\n{STRIPS}left = -1\n", "strip[2]", "overlaps strip[1]"),
    (f"{STRIPS}right = 0\n", "strip", "without wood"),
    (f"{STRIPS}left = 5\nright = 5\n", "strip[1].right", "more than 5 mm"),
    (f"{STRIPS}left = -900\n", "strip[1].left", "-250 to 250 mm"),
    (f"{STRIPS}rigth = 0\n", "strip[1].rigth", "did you mean 'right'?"),
    (STRIPS.replace("spruce", "sprcue"), "strip[1].species", "did you mean 'sitka_spruce'?"),
]


def bad_file(folder: Path, old: str, new: str) -> Path:
    """Write the good file with one thing changed."""
    assert GOOD.count(old) >= 1, old
    path = folder / "design.toml"
    path.write_text(GOOD.replace(old, new, 1), encoding="utf-8")
    return path


def assert_refused(ran: Ran, code: int, *parts: str) -> None:
    assert ran.out == ""
    assert ran.err.endswith("\n")
    assert ran.err.count("\n") == 1, "one line"
    assert "Traceback" not in ran.err
    assert "fault in Springloom" not in ran.err
    assert [part for part in parts if part not in ran.err] == [], ran.err
    assert ran.code == code, ran.err


@pytest.mark.parametrize(("old", "new", "field", "says"), MISTYPED)
def test_a_mistake_in_a_design_file_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, old: str, new: str, field: str, says: str
) -> None:
    path, out = bad_file(tmp_path, old, new), tmp_path / "out"
    ran = command(capsys, "shape-to-bend", path, "--write", out / "new.toml")
    assert_refused(ran, 2, f"springloom: {field}: ", "; allowed: ", says)
    assert not out.exists()


@pytest.mark.parametrize(("strips", "field", "says"), STRIPPED)
def test_a_mistake_in_the_strips_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, strips: str, field: str, says: str
) -> None:
    path, out = bad_file(tmp_path, "[paddle]", f"{strips}\n[paddle]"), tmp_path / "out"
    ran = command(capsys, "sheet", path, "--out", out)
    assert_refused(ran, 2, f"springloom: {field}: ", "; allowed: ", says)
    assert not out.exists()


@pytest.mark.parametrize("words", [
    ["fit"], ["board"], ["forecast"], ["shape-to-bend"], ["tune"], ["sheet", "--out", "out"],
    ["fit", "--json"], ["tune", "--json"],
])
def test_every_command_refuses_a_bad_file_alike(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    words: list[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    bad_file(tmp_path, "least_edge = 3", "least_egde = 3")
    ran = command(capsys, *words, "design.toml")
    assert_refused(ran, 2, "limits.least_egde", "did you mean 'least_edge'?")
    assert [path.name for path in tmp_path.iterdir()] == ["design.toml"]


# The other exit codes: 3 readings that contradict the wood, 4 out of reach.
@pytest.mark.parametrize(("old", "new", "code", "field", "says"), [
    ('weight = "3.23 kg"', 'weight = "32.3 kg"', 3, "board.weight", "western redcedar"),
    ('weight = "3.23 kg"', 'weight = "32.3 g"', 3, "board.weight", "given 0.0323 kg"),
    ("sinks = 1.7", "sinks = 17", 3, "board.bending[1].sinks", "given 17 mm"),
    ('frequency = "34 Hz"', 'frequency = "340 Hz"', 3, "board.tap[1].frequency", "given 340 Hz"),
    ("sinks = 33", "sinks = 200", 4, "target.sinks", "the nearest possible is"),
    ("sinks = 33", "sinks = 3", 4, "target.sinks", "the nearest possible is"),
    ("least_crown_mid = 13", "least_crown_mid = 35", 4, "target.sinks", "more flexible"),
])
def test_readings_and_targets_that_cannot_be_have_their_own_exit_codes(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, old: str, new: str, code: int, field: str,
    says: str
) -> None:
    path, out = bad_file(tmp_path, old, new), tmp_path / "out"
    ran = command(capsys, "shape-to-bend", path, "--write", out / "new.toml")
    assert_refused(ran, code, f"springloom: {field}: ", "; allowed: ", says)
    assert not out.exists()


@pytest.mark.parametrize(("content", "says"), [
    (b"", "format: is missing"),
    (b"\n\n# only a comment\n", "format: is missing"),
    (b"x" * 50_000_000, "is too large for a design file"),
    (bytes(range(256)) * 16, "is not text"),
    (b"\x00" * 100, "is not valid TOML"),
    (b"\x89PNG\r\n\x1a\n" + b"\x00\xff" * 40, "is not text"),
    ("height = 1\n".encode("utf-16"), "is not text"),
    (b"a = " + b"[" * 5000 + b"]" * 5000, "is nested too deeply"),
    (b"a = " + b"{a=" * 5000 + b"1" + b"}" * 5000, "is nested too deeply"),
    (b"format = 1\nname = 'x'\n" + b"[" + b".".join([b"a"] * 3000) + b"]", "a: is unknown"),
    (b"name = 'Marsh Tern'\nname = 'Common Tern'\n", "is not valid TOML"),
    (b"[paddler\n", "at line 1"),
    (b"{\"format\": 1}", "is not valid TOML"),
    (b"<html>", "is not valid TOML"),
    (b"format = 1\nname = \"Marsh\n", "at line 2"),
    ("format = 1\nname = “Marsh Tern”\n".encode(), "at line 2"),
    (b"format = 9223372036854775808\nname = 'x'\n", "format: is not one of the choices"),
    (b"format = 1" + b"0" * 5000 + b"\nname = 'x'\n", "is not valid TOML"),
])
def test_a_file_that_is_no_design_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, content: bytes, says: str
) -> None:
    path, out = tmp_path / "design.toml", tmp_path / "out"
    path.write_bytes(content)
    assert_refused(command(capsys, "sheet", path, "--out", out), 2, says, "; allowed: ")
    assert not out.exists()


def test_a_name_in_any_script_is_taken(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = bad_file(tmp_path, "Marsh Tern", "Räuber­möwe 賊鷗 🛶")
    ran = command(capsys, "forecast", path)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Räuber­möwe 賊鷗 🛶")


def test_a_byte_order_mark_and_windows_line_ends_are_taken(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path, new = tmp_path / "design.toml", tmp_path / "new.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert command(capsys, "shape-to-bend", path, "--write", new).code == 0
    assert new.read_bytes().count(b"\r\n") == GOOD.count("\n")
    assert command(capsys, "forecast", new).code == 0


def test_a_file_that_is_not_there_or_no_file_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    loop = tmp_path / "loop.toml"
    loop.symlink_to(loop)
    places = {
        tmp_path / "none.toml": "does not exist",
        tmp_path: "can't be read",
        loop: "can't be read",
        tmp_path / ("n" * 300): "can't be read",
        MARSH_TERN / "below.toml": "can't be read",
    }
    for path, says in places.items():
        assert_refused(command(capsys, "forecast", path), 2, says, "; allowed: a design file")
    assert_refused(command(capsys, "forecast", "a\0b"), 2, "can't be a file's name")


class Endless(io.RawIOBase):
    """A device that never says stop."""

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        buffer[:] = bytes(len(buffer))
        return len(buffer)


def test_a_file_without_an_end_is_not_read_to_its_end(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Path, "open", lambda *_: Endless())
    assert_refused(command(capsys, "forecast", "zero.toml"), 2, "is too large")


def test_a_file_that_may_not_be_read_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    path = bad_file(tmp_path, HEIGHT, HEIGHT)
    monkeypatch.setattr(Path, "open", refuse)  # root, who may read everything, runs CI at times
    assert_refused(command(capsys, "forecast", path), 2, "can't be read: Permission denied")


@pytest.mark.parametrize(("command_name", "old", "field"), [
    ("fit", GOOD[GOOD.index("[paddler]"):GOOD.index("[board]")], "paddler"),
    ("forecast", GOOD[GOOD.index("[board]"):GOOD.index("[paddle]")], "board"),
    ("shape-to-bend", GOOD[GOOD.index("[target]"):GOOD.index("[limits]")], "target"),
    ("tune", GOOD[GOOD.index("[readings]"):], "readings"),
])
def test_a_command_asks_for_the_table_it_needs(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, command_name: str, old: str, field: str
) -> None:
    path = bad_file(tmp_path, old, "")
    ran = command(capsys, command_name, path)
    assert_refused(ran, 2, f"springloom: {field}: ", f"allowed: a [{field}] table")


@pytest.mark.parametrize(("words", "says"), [
    ([], "required: COMMAND"),
    (["forcast"], "did you mean 'forecast'?"),
    (["qqqqqq"], "command: is unknown (given 'qqqqqq'); allowed: board, class, demo, fit"),
    (["fit"], "required: file"),
    (["fit", "FILE", "more"], "unrecognized arguments: more"),
    (["fit", "FILE", "--jsn"], "unrecognized arguments: --jsn"),
    (["fit", "FILE", "--js"], "unrecognized arguments: --js"),
    (["fit", "FILE", "--units", "cm"], "invalid choice: 'cm'"),
    (["fit", "FILE", "--units"], "--units: expected one argument"),
    (["sheet", "FILE", "--out"], "--out: expected one argument"),
    (["shape-to-bend", "FILE", "--sinks", "far"], "--sinks: does not begin with a number"),
    (["shape-to-bend", "FILE", "--sinks", "nan"], "--sinks: is not a finite number"),
    (["shape-to-bend", "FILE", "--sinks=-3"], "--sinks: must not be negative"),
    (["shape-to-bend", "FILE", "--sinks", "3 kg"], "--sinks: is a mass (kg), not a length"),
    (["shape-to-bend", "FILE", "--sinks", "500"], "--sinks: is out of range (given '500'); "
     "allowed: 2 to 300 mm"),
    (["shape-to-bend", "FILE", "--under", "10"], "--under: needs a unit"),
    (["shape-to-bend", "FILE", "--under", "500 kg"], "--under: is out of range"),
    (["shape-to-bend", "FILE", "--under", "10 mm"], "--under: is a length (mm), not a force"),
])
def test_a_mistake_on_the_command_line_is_told_in_one_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: list[str], says: str
) -> None:
    path = bad_file(tmp_path, HEIGHT, HEIGHT)
    ran = command(capsys, *(str(path) if word == "FILE" else word for word in words))
    assert_refused(ran, 2, says, "; allowed: ")


@pytest.mark.parametrize("words", [
    ["sheet", "FILE", "--out", "FILE"],
    ["sheet", "FILE", "--out", "FILE/below"],
    ["demo", "--out", "FILE"],
    ["demo", "--out", "FILE/below/and/below"],
    ["shape-to-bend", "FILE", "--write", "FOLDER"],
    ["shape-to-bend", "FILE", "--write", "FILE/new.toml"],
    ["shape-to-bend", "FILE", "--write", "a\0b"],
])
def test_a_place_that_cannot_be_written_is_told_and_left_as_it_was(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: list[str]
) -> None:
    path, folder = bad_file(tmp_path, HEIGHT, HEIGHT), tmp_path / "folder"
    folder.mkdir()
    said = [w.replace("FILE", str(path)).replace("FOLDER", str(folder)) for w in words]
    assert_refused(command(capsys, *said), 5, "can't be written", "; allowed: ")
    assert path.read_text(encoding="utf-8") == GOOD
    assert sorted(tmp_path.rglob("*")) == [path, folder]


def run_program(*words: str | Path, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "springloom.cli", *map(str, words)], capture_output=True, text=True,
        check=False, env={**os.environ, **environment}, encoding="utf-8",
    )


def test_the_program_itself_answers_as_the_function_does(tmp_path: Path) -> None:
    cases = [
        (("forecast", bad_file(tmp_path, "sinks = 33", "sinks = nan")), 2, "target.sinks"),
        (("forecast", tmp_path / "none.toml"), 2, "does not exist"),
        (("forcast",), 2, "did you mean 'forecast'?"),
    ]
    for words, code, says in cases:
        done = run_program(*words)
        assert_refused(Ran(done.returncode, done.stdout, done.stderr), code, says)


def test_a_fault_of_ours_is_one_line_and_its_traceback_is_shown_when_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object) -> None:
        raise ZeroDivisionError("two\nlines")

    monkeypatch.setattr("springloom.records.design.load_design", fail)
    ran = command(capsys, "forecast", MARSH_TERN)
    assert ran == Ran(1, "", "springloom: a fault in Springloom, please report it: "
                             "ZeroDivisionError: two lines\n")
    monkeypatch.setenv("SPRINGLOOM_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        command(capsys, "forecast", MARSH_TERN)


NUMBER = re.compile(r"(?<![\w.\"/'])\d+(?:\.\d+)?(?![\w.])")
SPANS = [match.span() for match in NUMBER.finditer(GOOD) if "#" not in
         GOOD[GOOD.rfind("\n", 0, match.start()):match.start()]]


@given(st.sampled_from(SPANS), st.floats(-2.0, 2.0), st.sampled_from(["forecast", "tune"]))
def test_no_number_in_the_file_can_bring_about_a_fault(
    span: tuple[int, int], power: float, name: str
) -> None:
    """Any bare number, made up to a hundred times larger or smaller."""
    start, end = span
    text = f"{GOOD[:start]}{float(GOOD[start:end]) * 10.0**power:.6g}{GOOD[end:]}"
    out, err = io.StringIO(), io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "design.toml")
        path.write_text(text, encoding="utf-8")
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main([name, str(path)])
    assert code in {0, 2, 3, 4}, err.getvalue()
    assert err.getvalue().count("\n") == (0 if code == 0 else 1)
    assert (out.getvalue() != "") == (code == 0)


def test_the_file_has_numbers_to_change() -> None:
    assert len(SPANS) > 60
    assert {GOOD[start:end] for start, end in SPANS} >= {"2440", "0.45", "28.4", "1.9"}
