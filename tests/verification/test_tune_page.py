"""The tuning page, its data and its charts: what to do comes first, and all of it fits a page."""

from __future__ import annotations

import functools
import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import pytest

from springloom.drawing.pdf import write_pdf
from springloom.errors import OutputError
from springloom.fit.bend import Limits, Target
from springloom.records.design import load_design
from springloom.report.tune_data import tune_data
from springloom.report.tune_plots import tune_drawings, write_tune_plots
from springloom.report.tune_tables import removal_grid
from springloom.report.tune_text import tune_text
from springloom.report.tune_words import (
    below_words,
    headline,
    next_words,
    reading_words,
    removal_words,
    saving_words,
    target_words,
    unreachable_words,
)
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle
from springloom.tune.advice import Advice, Below, Call, Removal, advise
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import (
    SIDES,
    BalanceReading,
    BenchReading,
    HandsReading,
    LengthReading,
    Reading,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.model import Model
from springloom.tune.rules import FINE_PASS
from springloom.tune.saving import Saving
from springloom.tune.targets import lightest_target, target_like
from tests.verification.command import EXAMPLES, MARSH_TERN, command
from tests.verification.tune_bench import everywhere, exact, model, valued

MM, INCHES = Words("mm"), Words("in")
HALF = model().bench("a").half
PAGE = 60
"""Lines of a terminal page."""


def _readings(proud_mm: tuple[float, float] = (1.5, 1.5)) -> list[Reading]:
    truth, at = model().start(), model().layout
    for side, proud in zip(SIDES, proud_mm, strict=True):
        truth[at.crowns(side)] += 1e-3 * proud
        truth[at.edges(side)] += 0.5e-3 * proud
    return exact(model(), truth, everywhere(model().paddle))


@functools.cache
def _known(proud_mm: tuple[float, float] = (1.5, 1.5)) -> Estimate:
    return estimate(model().paddle, model().build, _readings(proud_mm))


def _spoilt() -> Estimate:
    readings = _readings()
    i = next(i for i, r in enumerate(readings) if isinstance(r, BenchReading))
    readings[i] = valued(readings[i], 0.010)
    return estimate(model().paddle, model().build, readings)


def _page(known: Estimate, target: Target, words: Words = MM, *, more: bool = False,
          limits: Limits | None = None) -> str:
    told = counsel(known, target, limits)
    return tune_text("Test", known, told, target, words, more=more)


TARGETS = {
    "plane": Target(0.038), "on target": Target(0.0267), "past": Target(0.022),
    "lightest": lightest_target(HALF), "far": Target(0.100),
}


class TestPage:
    """One page of an 80-column terminal, whatever it says."""

    @pytest.mark.parametrize("words", [MM, INCHES], ids=["mm", "in"])
    @pytest.mark.parametrize("target", TARGETS.values(), ids=TARGETS)
    def test_it_fits(self, target: Target, words: Words) -> None:
        for known in (_known(), _known((1.5, 0.2))):
            lines = _page(known, target, words).splitlines()
            assert len(lines) <= PAGE
            assert max(len(line) for line in lines) <= 80

    @pytest.mark.parametrize("words", [MM, INCHES], ids=["mm", "in"])
    def test_more_is_as_wide_but_longer(self, words: Words) -> None:
        page, more = (_page(_known(), TARGETS["plane"], words, more=m) for m in (False, True))
        assert len(more.splitlines()) > len(page.splitlines())
        assert max(len(line) for line in more.splitlines()) <= 80
        assert more.startswith(page[:page.index("Wood dust")].rstrip())
        for said in ("strength margins", "What the readings say", "could be read next",
                     "place by place", "How it bends now"):
            assert said in more
            assert said not in page

    @pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
    def test_the_examples_fit(
        self, capsys: pytest.CaptureFixture[str], example: Path
    ) -> None:
        for units in ("mm", "in"):
            lines = command(capsys, "tune", example, "--units", units).out.splitlines()
            assert len(lines) <= PAGE
            more = command(capsys, "tune", example, "--units", units, "--more").out.splitlines()
            assert max(len(line) for line in [*lines, *more]) <= 80

    def test_a_doubt_leaves_no_number_that_would_be_wrong(self) -> None:
        """No deflection, no thickness, no weight: only what does not fit."""
        known = _spoilt()
        page = _page(known, TARGETS["plane"])
        assert page.startswith("Plane nothing yet: first clear up the readings named below.\n")
        assert "Readings that don't fit" in page
        assert "blade A, bench reading at tip doesn't go with the rest" in page
        assert "measure it again" in page
        for said in ("should then", "saves", "margin", "passes", "most telling"):
            assert said not in page
        assert "Local codes" in page

    def test_a_doubt_that_does_not_block_is_said(self) -> None:
        known = _known()
        bench = next(r for r in known.readings if isinstance(r, BenchReading))
        readings = [replace(r, hysteresis=0.004) if r is bench else r for r in known.readings]
        sticking = estimate(model().paddle, model().build, readings)
        assert [doubt.blocks for doubt in sticking.doubts] == [False]
        page = " ".join(_page(sticking, TARGETS["plane"]).split())
        assert "Look at this: blade A, bench reading at" in page
        assert "loading and unloading differ by 4.0 mm" in page
        assert "Look at this" not in _page(known, TARGETS["plane"])

    def test_a_target_out_of_reach_is_said_early_with_the_nearest(self) -> None:
        target, limits = TARGETS["far"], Limits()
        told = counsel(_known(), target, limits).advice.a
        assert told.nearest_m < target.deflection_m - target.tolerance_m
        page = _page(_known(), target, limits=limits)
        said = f"inside the limits the nearest is {MM.length(told.nearest_m)}."
        assert said in " ".join(page.split())
        assert "Blade A and B can't reach" in page
        assert page.index("can't reach 100.0 mm safely") < page.index("Passes off each face")
        assert unreachable_words([told], TARGETS["lightest"], MM) == ""
        near = counsel(_known(), TARGETS["plane"]).advice.a
        assert near.nearest_m == near.goal_m
        assert unreachable_words([near], TARGETS["plane"], MM) == ""
        assert unreachable_words([near, replace(told, side="b")], target, MM).startswith(
            "Blade B can't reach")

    def test_a_blade_that_is_too_thin_already_is_said(self) -> None:
        page = " ".join(_page(_known((0.0, 0.0)), Target(0.045),
                              limits=Limits(least_crown_mid=0.018, least_edge=0.0055)).split())
        assert "Blade A is thinner than its least already, nothing comes off there" in page
        assert "crown at 1/2 17.5 mm (least 18.0 mm)" in page
        assert "edge at 75 mm from the tip 5.0 mm (least 5.5 mm)" in page
        assert below_words("a", (), MM) == ""
        many = tuple(Below(str(i), "crown", 0.01, 0.02, 0.9) for i in range(7))
        assert below_words("a", many, MM).endswith("and at 4 more.")
        one = Below("root", "crown", 0.030, 0.031, 0.9)
        assert below_words("b", (one,), MM).endswith("crown at the root 30.0 mm (least 31.0 mm).")

    def test_blades_with_stations_of_their_own_keep_them(self) -> None:
        """B has none at 1/2: its other figures stay in their own rows."""
        short = HalfPaddle(HALF.loom, (*HALF.stations[:2], *HALF.stations[3:]))
        other = Model(Paddle(HALF, short), model().build)
        readings = exact(other, other.start(), everywhere(other.paddle))
        page = _page(estimate(other.paddle, other.build, readings), Target(0.044))
        rows = {line[:14].strip(): line.split() for line in page.splitlines()
                if line[:3] in {"1/2", "3/4"}}
        assert len(rows["1/2"]) == 4  # place, passes, crown and edge of A alone
        assert len(rows["3/4"]) == 7
        assert page.index("\n1/4 ") < page.index("\n1/2 ") < page.index("\n3/4 ")

    def test_where_the_target_comes_from(self) -> None:
        carried = target_like([(HALF, model().build)], HALF, sd_ln=0.03)
        said = target_words("New", carried.target, carried, MM)
        assert "like the other paddle, which sinks 37.2 mm, known to 3 %" in said
        assert "same 4.5 % of the length from root to tip" in said
        assert "may sink 49.5 mm at most" in target_words("New", TARGETS["lightest"], None, MM)
        assert target_words("New", Target(0.03), None, MM) == (
            "New: the tip is to sink 30.0 mm ± 1.5 mm under 10 lb (44.5 N) at the tip, root "
            "clamped.")


def _advice(a: Call, b: Call, blocked: tuple[str, ...] = ()) -> Advice:
    real = advise(_known(), TARGETS["plane"])
    return replace(real, a=replace(real.a, call=a), b=replace(real.b, call=b), blocked=blocked)


class TestFirstLine:
    """What to do now."""

    @pytest.mark.parametrize(("a", "b", "says"), [
        ("plane", "plane", "Plane both blades as below, then measure again."),
        ("plane", "stop: on target", "Plane blade A as below and leave blade B alone."),
        ("stop: past target", "plane", "Plane blade B as below and leave blade A alone."),
        ("measure again", "plane",
         "Plane blade B as below and measure blade A again before planing it."),
        ("measure again", "measure again", "Measure again before planing anything."),
        ("measure again", "stop: on target",
         "Measure blade A again before planing it; leave blade B alone."),
        ("stop: on target", "stop: on target", "Stop: both blades are on target."),
        ("stop: past target", "stop: past target",
         "Stop: both blades bend further than wanted, take nothing off."),
        ("stop: a limit is reached", "stop: a limit is reached",
         "Stop: a limit is reached on both blades."),
        ("stop: the readings can't tell", "stop: the readings can't tell",
         "Stop: what is left to take is less than the readings can tell."),
        ("stop: the plane is too coarse", "stop: the plane is too coarse",
         "Stop: set the plane finer, one pass would be too much."),
        ("stop: on target", "stop: past target", "Stop: blade A is on target, blade B is past it."),
        ("stop: a limit is reached", "stop: the readings can't tell",
         "Stop: blade A has reached a limit, blade B is as near as the readings can tell."),
        ("stop: the plane is too coarse", "stop: on target",
         "Stop: blade A needs a finer plane, blade B is on target."),
    ])
    def test_by_the_calls(self, a: Call, b: Call, says: str) -> None:
        said = headline(_advice(a, b))
        assert said == says
        assert len(said) <= 80

    def test_a_doubt_comes_before_all_else(self) -> None:
        assert headline(_advice("plane", "plane", ("x",))).startswith("Plane nothing yet")

    def test_it_is_the_pages_first(self) -> None:
        assert _page(_known(), TARGETS["plane"]).splitlines()[0] == headline(
            advise(_known(), TARGETS["plane"]))


def _removal(station: str, upper: int, lower: int | None = None) -> Removal:
    low = upper if lower is None else lower
    off = 0.5 * (upper + low) * FINE_PASS
    return Removal(station, 0.5, off, round(off / FINE_PASS), upper, low, 0.02, 0.02 - 2 * off,
                   0.006, 0.006, 0.01)


class TestRemovalWords:
    """As one maker would tell another."""

    @pytest.mark.parametrize(("removals", "words", "says"), [
        ([("root", 0), ("1/4", 0), ("1/2", 2), ("3/4", 2)], INCHES,
         "two fine passes, about 1/64 in off each face, between 1/2 and 3/4; none at the root "
         "and 1/4."),
        ([("root", 0), ("1/4", 1), ("1/2", 3), ("3/4", 3), ("75 mm from tip", 1), ("tip", 0)], MM,
         "one fine pass, about 0.2 mm off each face, at 1/4; three, about 0.6 mm, between 1/2 and "
         "3/4; one, about 0.2 mm, at 75 mm from the tip; none at the root and the tip."),
        ([("root", 1), ("1/4", 1)], MM,
         "one fine pass, about 0.2 mm off each face, between the root and 1/4."),
        ([("1/2", 12)], MM, "12 fine passes, about 2.4 mm off each face, at 1/2."),
        ([("1/2", 4, 0), ("3/4", 0, 0)], MM,
         "four fine passes off the upper face at 1/2; none at 3/4."),
        ([("1/2", 3, 1)], MM,
         "three fine passes off the upper face and one fine pass off the lower face at 1/2."),
    ])
    def test_stretches(
        self, removals: list[tuple[str, int]], words: Words, says: str
    ) -> None:
        assert removal_words([_removal(*one) for one in removals], FINE_PASS, words) == says

    @pytest.mark.parametrize(("lower", "says"), [(2, False), (1, True)])
    def test_two_numbers_of_passes_are_explained(self, lower: int, says: bool) -> None:
        told = _advice("plane", "plane")
        told = replace(told, a=replace(told.a, removals=(_removal("1/2", 2, lower),)),
                       b=replace(told.b, removals=()))
        table = removal_grid(told, MM)
        assert [row[1] for row in table.rows] == ["2 + 1" if says else "2"]
        assert ("upper + lower" in table.title) is says

    def test_a_coarse_pass_is_no_fine_one(self) -> None:
        said = removal_words([_removal("1/2", 2)], 2.0 * FINE_PASS, MM)
        assert said == "two passes, about 0.8 mm off each face, at 1/2."
        thin = removal_words([_removal("1/2", 1)], 0.00005, MM)
        assert thin == "one fine pass, about 0.05 mm off each face, at 1/2."


READINGS: tuple[tuple[Reading, str], ...] = (
    (ThicknessReading("a", 0.5, 0.02, name="1/2"), "caliper blade A's crown at 1/2"),
    (ThicknessReading("b", 0.5, 0.02, "edge", name="root"),
     "caliper blade B's edge (5.0 mm in) at the root"),
    (WidthReading("a", 0.5, 0.07, name="1/2"), "measure blade A's width at 1/2"),
    (BenchReading("a", 0.03, 1.1, 1.1, 0.28, name="tip"),
     "clamp blade A at the root, hang 10 lb (44.5 N) from the tip and read how far the tip sinks"),
    (HandsReading("b", 0.03, name="75 mm from tip"),
     "lay the paddle on two supports, hang the weight from blade B and read 75 mm from the tip"),
    (TapReading("a", 10.0), "tap blade A, clamped at the root, and record the tone"),
    (TapReading(None, 10.0), "tap the paddle, hung free, and record the tone"),
    (LengthReading("a", 0.85), "measure blade A from shoulder to tip"),
    (WeightReading(0.7), "weigh the paddle"),
    (BalanceReading(0.0), "find the paddle's balance point"),
)


@pytest.mark.parametrize(("reading", "says"), READINGS, ids=[says for _, says in READINGS])
def test_every_reading_can_be_asked_for(reading: Reading, says: str) -> None:
    assert reading_words(reading, MM) == says


def test_the_next_reading_says_what_it_brings() -> None:
    best = counsel(_known(), TARGETS["plane"]).readings[0]
    said = next_words(best, MM, planed=True)
    assert said.startswith("after planing, the reading that tells most: ")
    assert f"by {100 * best.reduction:.0f} %" in said
    assert f"± {100 * best.bend_sd_ln_after:.1f} %" in said
    poor = replace(best, removal_sd_after_m=0.99 * best.removal_sd_before_m)
    assert next_words(poor, MM, planed=False) == (
        f"next, the reading that tells most: {reading_words(best.reading, MM)}; it narrows what "
        "is to come off by 1 % only, and no other tells more")


def test_a_saving_says_what_it_risks() -> None:
    saving = Saving("a", "thinner edges", True, (), 0.006, 0.0, 1.5, 1.4, 1.3, 1.1, "it splits")
    assert saving_words(saving, MM) == (
        "blade A: thinner edges save 6 g at the same bend; it splits (splitting screen 1.30, then "
        "1.10)")
    ridge = replace(saving, kind="sharper ridge", now=False, risk="it dents")
    assert saving_words(ridge, MM) == (
        "blade A: on the next blade a sharper ridge at the root saves 6 g at the same bend; it "
        "dents (least margin 1.50, then 1.40)")


class TestData:
    """All of it, in SI, and none of it in doubt."""

    def _data(self, known: Estimate, target: Target) -> tuple[Counsel, dict[str, Any]]:
        told = counsel(known, target)
        made = tune_data(known, told, target)
        return told, cast(dict[str, Any], json.loads(json.dumps(made, allow_nan=False)))

    def test_it_is_complete(self) -> None:
        told, data = self._data(_known(), TARGETS["plane"])
        assert data["do_now"] == headline(told.advice)
        assert data["blocked"] == []
        assert data["target"]["deflection_m"] == 0.038
        assert data["target_like"] is None
        assert data["advice"]["a"]["say"].startswith("Blade A: ")
        assert data["advice"]["a"]["predicted_m"] == told.advice.a.predicted_m
        assert len(data["prediction"]["a"]["line_then_m"]) == 6
        assert data["prediction"]["mass_then_kg"]["low_90"] > 0.5
        assert len(data["next_readings"]) == len(told.readings)
        assert data["next_readings"][0]["reduction_ratio"] == told.readings[0].reduction
        assert len(data["savings"]) == len(told.savings)
        assert data["match"]["balance_shift_m"] == pytest.approx(0.0, abs=1e-4)

    def test_every_unknown_is_told_before_and_after(self) -> None:
        """With what moved it: parts add up to the whole shift."""
        known = _known()
        _, data = self._data(known, TARGETS["plane"])
        crown, at = data["crowns_m"]["a"][2], model().layout
        assert (crown["name"], crown["stays_wide"]) == ("crown at 1/2", False)
        assert crown["low_90"] < crown["value"] < crown["high_90"]
        shift = sum(part["shift_in_sd"] for part in crown["moved_by"])
        i = at.crowns("a").start + 2
        assert shift == pytest.approx(
            (known.theta[i] - known.prior[i]) / known.prior_sd[i], rel=0.01)  # linearised
        assert len(data["widths_m"]["b"]) == 5
        assert len(data["beyond_the_plans_ridge_fullness"]["a"]) == 6
        assert data["longer_m"]["a"]["stays_wide"]

    def test_in_doubt_it_has_calls_and_reasons_only(self) -> None:
        told, data = self._data(_spoilt(), TARGETS["plane"])
        assert data["blocked"]
        assert (data["prediction"], data["match"]) == (None, None)
        assert (data["next_readings"], data["savings"]) == ([], [])
        assert set(data["advice"]) == {"a", "b"}
        for side in SIDES:
            assert set(data["advice"][side]) == {"call", "reason", "say"}
            assert data["advice"][side]["call"] == "measure again"
        assert told.advice.blocked


class TestPlots:
    """Line, curvature and thickness: wanted, measured, after advice."""

    def _drawings(self, target: Target, words: Words = MM) -> dict[str, str]:
        told = counsel(_known(), target)
        made = tune_drawings("Test", told, words)
        assert set(made) == {"a", "b"}
        return {side: " ".join(text.string for text in drawing.items if hasattr(text, "string"))
                for side, drawing in made.items()}

    @pytest.mark.parametrize("words", [MM, INCHES], ids=["mm", "in"])
    def test_every_line_is_named(self, words: Words) -> None:
        for said in self._drawings(TARGETS["plane"], words).values():
            for name in ("How far it sinks under 10 lb", "How it bends", "Thickness", "wanted",
                         "as it is", "after planing", "readings", "crown read", "edge read",
                         "least crown", "90 % sure", f"thickness, {words.system}"):
                assert name in said

    def test_where_nothing_comes_off_there_is_no_after(self) -> None:
        for said in self._drawings(TARGETS["past"]).values():
            assert "after planing" not in said
            assert "wanted" in said

    def test_they_follow_the_readers_colours(self, tmp_path: Path) -> None:
        paths = write_tune_plots("A Test", counsel(_known(), TARGETS["plane"]), MM, tmp_path / "n")
        assert [path.name for path in paths] == ["a-test-tune-a.svg", "a-test-tune-b.svg"]
        for path in paths:
            text = path.read_text(encoding="utf-8")
            assert "prefers-color-scheme:dark" in text
            # colours stand in the three schemes only, light, dark and print
            assert len(re.findall(r"#[0-9a-f]{3,6}\b", text)) == 9

    def test_they_print(self) -> None:
        told = counsel(_known(), TARGETS["plane"])
        drawings = tuple(tune_drawings("Test", told, MM).values())
        assert write_pdf(drawings, title="Test").startswith(b"%PDF")

    def test_none_while_something_is_in_doubt(self, tmp_path: Path) -> None:
        assert write_tune_plots("Test", counsel(_spoilt(), TARGETS["plane"]), MM, tmp_path) == []

    def test_the_command_writes_them(
        self, capsys: pytest.CaptureFixture[str], tmp_path: Path
    ) -> None:
        ran = command(capsys, "tune", MARSH_TERN, "--plots", tmp_path / "plots")
        assert ran.code == 0
        assert ran.err.count("wrote ") == 2
        assert len(list((tmp_path / "plots").iterdir())) == 2
        (tmp_path / "file").write_text("", encoding="utf-8")
        ran = command(capsys, "tune", MARSH_TERN, "--plots", tmp_path / "file")
        assert ran.code == OutputError.exit_code


def test_a_paddle_like_another_on_the_command_line(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    good = MARSH_TERN.read_text(encoding="utf-8")
    (tmp_path / "old.toml").write_text(good, encoding="utf-8")
    aim = good[good.index("[target]"):good.index("[limits]")]
    new = tmp_path / "new.toml"
    new.write_text(good.replace(aim, '[target]\nlike = "old.toml"\n\n'), encoding="utf-8")
    page = " ".join(command(capsys, "tune", new).out.split())
    carried = load_design(new).carried
    assert carried is not None
    assert f"like the other paddle, which sinks {MM.length(carried.other_m)}" in page
    assert page.startswith("Stop: both blades are on target.")
    data = json.loads(command(capsys, "tune", new, "--json").out)
    assert data["target_like"]["share"] == pytest.approx(carried.share)


REMARK = "feels stiffer on the right, looks flat near 3/4"
TRACE = """
[[readings.trace]]
blade = "a"
at = "1/2"
face = "both"
across = [5, 10, 15, 20, 25, 30]
high = [9.4, 12.6, 14.4, 15.9, 17.1, 18.1]
"""


def test_remarks_and_traces_are_shown(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A remark moves no number; a trace that is off is told, point by point in the data."""
    good = MARSH_TERN.read_text(encoding="utf-8")
    plain, said, traced = (tmp_path / f"{name}.toml" for name in ("plain", "said", "traced"))
    plain.write_text(good, encoding="utf-8")
    said.write_text(good.replace("[readings]", f'[readings]\nremarks = ["{REMARK}"]', 1),
                    encoding="utf-8")
    traced.write_text(good + TRACE, encoding="utf-8")
    before, after = (command(capsys, "tune", path).out for path in (plain, said))
    assert f"you said: “{REMARK}”" in after
    assert [line for line in after.splitlines() if "you said" not in line] == before.splitlines()
    data = json.loads(command(capsys, "tune", said, "--json").out)
    assert data["remarks"] == [REMARK]
    told = json.loads(command(capsys, "tune", traced, "--json").out)["traces"]
    assert len(told) == 1
    assert len(told[0]["deviations"]) == 6
    page = " ".join(command(capsys, "tune", traced, "--more").out.split())
    assert " ".join(told[0]["say"].split()) in page


def test_many_and_long_remarks_leave_the_page_a_page(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    good, path = MARSH_TERN.read_text(encoding="utf-8"), tmp_path / "many.toml"
    remarks = json.dumps([f"{i} {'word ' * 200}" for i in range(9)])
    path.write_text(good.replace("[readings]", f"[readings]\nremarks = {remarks}", 1),
                    encoding="utf-8")
    page, more = (command(capsys, "tune", path, *words).out for words in ((), ("--more",)))
    assert len(page.splitlines()) <= PAGE
    assert "6 more of these with --more" in page
    assert more.count("you said") == 9
    assert max(len(line) for line in (page + more).splitlines()) <= 80
