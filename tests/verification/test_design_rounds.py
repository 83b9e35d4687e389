"""Rounds of tuning in a design file: each with its readings and what was then taken off."""

from __future__ import annotations

import tomllib
from typing import Any

import numpy as np
import pytest

from springloom.errors import SpringloomError
from springloom.records.design import Design, design_from
from springloom.records.reading import check_layout
from springloom.tune.advice import Rules
from springloom.tune.rounds import followed

FILE = """
format = 1
name = "Sandpiper"
board = {species = "western_redcedar", length = 2440, width = 89, thickness = 40, weight = "3.1 kg"}
target = {sinks = 38}

[[round]]
[[round.readings.caliper]]
blade = "a"
at = ["root", "1/4", "1/2", "3/4", "75 mm from tip", "tip"]
crown = [35.5, 26, 19, 14.5, 11.5, 9]
[[round.readings.bench]]
blade = "a"
sinks = [29]
[[round.planed]]
blade = "a"
at = ["1/2", "3/4"]
per_face = [0.4, "1/64"]

[readings]
[[readings.bench]]
blade = "a"
sinks = [33]
"""


def _design(text: str = FILE) -> Design:
    data: dict[str, Any] = tomllib.loads(text)
    return design_from(check_layout(data))


def test_a_round_is_its_readings_and_its_removal() -> None:
    design = _design()
    (one,) = design.rounds
    assert len(one.readings) == 7
    assert one.removals["a"] == pytest.approx([0, 0, 0.4e-3, 0.0254 / 64, 0, 0])
    assert len(design.readings) == 1


def test_all_rounds_are_used_in_their_order() -> None:
    design = _design()
    course = design.tuned()
    expected = followed(design.paddle, design.build, design.rounds, design.readings,
                        design.wanted(), design.limits, design.rules)
    assert course.rounds == 1
    assert course.now().theta == pytest.approx(expected.now().theta)
    alone = _design(FILE.replace("[[round]]\n", "").replace("round.readings", "readings").replace(
        '[[round.planed]]\nblade = "a"\nat = ["1/2", "3/4"]\nper_face = [0.4, "1/64"]', "").replace(
        "\n[readings]\n", "")).tuned().now()
    at = course.now().model.layout.crowns("a")
    thinner = alone.theta[at] - course.now().theta[at]
    # one caliper reading of 0.1 mm each, a hand of 0.07 mm, and what 33 mm say of the wood
    assert thinner[[2, 3]] == pytest.approx([0.8e-3, 2 * 0.0254 / 64], abs=0.15e-3)
    assert np.max(np.abs(thinner[[0, 1, 4]])) < 0.15e-3


def test_without_rounds_it_is_one_estimate() -> None:
    text = FILE[: FILE.index("[[round]]")] + FILE[FILE.index("[readings]"):]
    assert _design(text).rounds == ()
    assert _design(text).tuned().rounds == 0


def test_the_whole_tunings_risk_can_be_set() -> None:
    assert _design().rules == Rules()
    assert _design(FILE + '\n[care]\ntuning_risk = "2 %"\n').rules.tuning_risk == 0.02


@pytest.mark.parametrize(("old", "new", "field"), [
    ('at = ["1/2", "3/4"]', 'at = ["1/2", "2/3"]', "round[1].planed[1].at[2]"),
    ('at = ["1/2", "3/4"]', 'at = ["1/2", "1/2"]', "round[1].planed[1].at[2]"),
    ('per_face = [0.4, "1/64"]', "per_face = [0.4]", "round[1].planed[1].per_face"),
    ('per_face = [0.4, "1/64"]', "per_face = [40, 0.4]", "round[1].planed[1].per_face[1]"),
    ('per_face = [0.4, "1/64"]', 'per_face = ["much", 0.4]', "round[1].planed[1].per_face[1]"),
    ("sinks = [29]", "sinks = [-29]", "round[1].readings.bench[1].sinks"),
    ('[[round.planed]]', '[[round.planed]]\nblade = "a"\nat = ["1/4"]\nper_face = [0.1]\n'
     '[[round.planed]]', "round[1].planed[2].blade"),
])
def test_errors_name_the_round_and_the_key(old: str, new: str, field: str) -> None:
    with pytest.raises(SpringloomError) as caught:
        _design(FILE.replace(old, new, 1)).tuned()
    assert caught.value.field.startswith(field)
