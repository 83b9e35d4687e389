"""A layout written as a design file is the same layout when it is read back."""

from __future__ import annotations

import tomllib
from importlib import resources
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.records.design import design_from
from springloom.records.layout import DesignFile
from springloom.records.reading import check_layout
from springloom.records.to_toml import layout_text

EXAMPLES = ("marsh_tern", "low_skerry")


def example(name: str) -> dict[str, Any]:
    text = (resources.files("springloom.examples") / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def read_back(layout: DesignFile) -> DesignFile:
    return check_layout(tomllib.loads(layout_text(layout)))


@pytest.mark.parametrize("name", EXAMPLES)
def test_an_example_comes_back_and_makes_the_same_design(name: str) -> None:
    layout = check_layout(example(name))
    again = read_back(layout)
    assert again == layout
    assert design_from(again).paddle == design_from(layout).paddle


@pytest.mark.parametrize("name", EXAMPLES)
def test_rounds_and_every_default_written_out_come_back(name: str) -> None:
    data = example(name)
    planed = [{"blade": "a", "at": ["1/2", "3/4"], "per_face": ["1/64", 0.2]},
              {"blade": "b", "at": ["1/2"], "per_face": ["1/128"]}]
    data["round"] = [{"readings": data["readings"], "planed": planed}] * 2
    data["care"] = {"keep": ["root", "1/4"], "plane_pass": "1/128"}
    data["readings"] = data["readings"] | {"remarks": ["soft near the tip"]}
    whole = check_layout(check_layout(data).model_dump(exclude_none=True))
    assert read_back(whole) == whole


def test_a_file_says_no_more_than_was_typed() -> None:
    text = layout_text(check_layout({"format": 1, "name": "Plain"}))
    assert text == 'format = 1\nname = "Plain"\n'


@given(name=st.text(min_size=1, max_size=40).filter(lambda t: "\r" not in t),
       typed=st.one_of(st.integers(-10**6, 10**6), st.text(max_size=12),
                       st.floats(allow_nan=False, allow_infinity=False)),
       remarks=st.lists(st.text(max_size=30), max_size=4))
def test_any_text_and_number_comes_back(name: str, typed: str | float,
                                        remarks: list[str]) -> None:
    layout = check_layout({"format": 1, "name": name, "paddler": {"height": typed},
                           "readings": {"remarks": remarks, "weight": typed}})
    assert read_back(layout) == layout
