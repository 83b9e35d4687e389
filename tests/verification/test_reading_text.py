"""Every kind of reading as a line of a log: the maker's figures, each with its unit."""

from __future__ import annotations

import pytest

from springloom.records.readings_layout import ReadingsTable
from springloom.report.reading_text import reading_label, reading_text, typed_text
from springloom.store.rounds import KINDS

CASES = [
    ("weight", {"weight": "788 g", "scale": "kitchen scale"}, "788 g; kitchen scale"),
    ("balance", {"balance": -4}, "4 mm towards blade B"),
    ("balance", {"balance": "1/4 in"}, "1/4 in towards blade A"),
    ("caliper", {"blade": "a", "at": ["root", "tip"], "crown": [35.2, 8], "edge": ["3/4", "-"]},
     "crown root: 35.2 mm, tip: 8 mm; edge root: 3/4"),
    ("caliper", {"blade": "a", "at": ["1/2"], "inset": 12, "thickness": [9], "face": "upper"},
     "12 mm in 1/2: 9 mm; upper face"),
    ("width", {"blade": "b", "at": ["1/2"], "width": ["73 mm"]}, "1/2: 73 mm"),
    ("blade_length", {"blade": "b", "length": 860}, "860 mm from the shoulder to the tip"),
    ("trace", {"blade": "a", "at": "1/2", "across": [0, 5], "high": [0, 3.4]},
     "at 1/2, upper face: 0 mm across 0 mm, 5 mm across 3.4 mm"),
    ("bench", {"blade": "a", "load": "10 lb", "read_at": ["tip"], "sinks": [28.4],
               "repeats": [[28.3]], "unloading": [28.9]},
     "10 lb hung at tip, clamped at root: sinks tip: 28.4 mm; again tip: 28.3 mm; unloading "
     "tip: 28.9 mm"),
    ("hands", {"blade": "a", "sinks": [38]},
     "89 N hung at 889 mm from centre, supports 508 mm apart: sinks 889 mm from centre: 38 mm"),
    ("tap", {"frequency": 27, "blade": "a"}, "27 Hz, clamped at root"),
    ("tap", {"frequency": "27 Hz"}, "27 Hz, hung free"),
    ("remark", {"text": "soft"}, "“soft”"),
    ("bending", {"span": 2000, "load": "10 lb", "sinks": 1.7, "edgewise": True},
     "10 lb in the middle of 2000 mm: sinks 1.7 mm, on edge"),
    ("board tap", {"frequency": "34 Hz", "sd": 0.5}, "34 Hz ± 0.5 Hz"),
]


@pytest.mark.parametrize(("kind", "table", "said"), CASES)
def test_a_reading_is_told_in_the_makers_figures(kind: str, table: dict[str, object],
                                                 said: str) -> None:
    assert reading_text(kind, table, "mm") == said


def test_every_kind_the_store_keeps_has_words() -> None:
    assert set(KINDS) <= {kind for kind, _, _ in CASES}
    assert set(KINDS) - {"remark"} <= set(ReadingsTable.model_fields)


def test_a_bare_number_is_named_in_the_unit_of_its_day() -> None:
    assert (typed_text(3.25, "in"), typed_text("3 1/4", "mm"), typed_text(" 82 ", "mm")) == (
        "3.25 in", "3 1/4", "82 mm")
    assert reading_label("caliper", {"blade": "b"}) == "Thickness, blade B"
