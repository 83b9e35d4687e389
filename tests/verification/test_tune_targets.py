"""What to aim for: another paddle's bend carried over, and the lightest blade that is safe."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from springloom.errors import FileError, InputError, RangeError, SpringloomError
from springloom.fit.bend import Limits, Target, design_for_bend
from springloom.mechanics.bend import line_shape, wanted_curvature
from springloom.mechanics.setups import STANDARD_LOAD, TwoHands, hands_line, tip_deflection
from springloom.records.design import Design, design_from, load_design
from springloom.records.reading import check_layout
from springloom.records.rewrite import rewritten
from springloom.shape.blade import HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.tune.estimate import estimate
from springloom.tune.targets import (
    MOST_FLEX_SHARE,
    TOLERANCE,
    lightest_target,
    planned,
    recorded,
    target_like,
)
from springloom.wood.material import species_material
from tests.verification.command import MARSH_TERN, command
from tests.verification.tune_bench import everywhere, exact, model

PADDLE = default_paddle()
HALF = PADDLE.a
CEDAR, SPRUCE = species_material("western_redcedar"), species_material("sitka_spruce")
GOOD = MARSH_TERN.read_text(encoding="utf-8")
AIM = GOOD[GOOD.index("[target]"):GOOD.index("[limits]")]


def _free(half: HalfPaddle) -> float:
    return half.tip - half.loom.root


class TestLikeAnotherPaddle:
    """Equal weight, equal shape of the bent line."""

    def test_a_paddle_like_itself_has_its_own_bend(self) -> None:
        carried = target_like([(HALF, CEDAR)], HALF)
        # the same integral, then divided and multiplied by the same length
        assert carried.target.deflection_m == pytest.approx(tip_deflection(HALF, CEDAR), rel=1e-14)
        assert carried.share * _free(HALF) == pytest.approx(carried.other_m, rel=1e-14)
        assert carried.target.load_n == STANDARD_LOAD
        assert carried.target.tolerance_m == TOLERANCE
        assert carried.target.progression == carried.other_progression

    @pytest.mark.parametrize(("sinks", "progression"), [(0.036, 1.9), (0.040, 1.0)])
    def test_a_paddle_made_for_a_target_gives_that_target(
        self, sinks: float, progression: float
    ) -> None:
        made = design_for_bend(HALF, CEDAR, Target(sinks, progression=progression), Limits()).half
        target = target_like([(made, CEDAR)], made).target
        assert target.deflection_m == pytest.approx(sinks, rel=1e-9)  # as the inverse settles
        # κ is as wanted at the stations; between them a batten through six crowns departs from it
        assert target.progression == pytest.approx(progression, abs=0.1)

    @pytest.mark.parametrize("length", [1.83, 2.21, 2.4])
    def test_it_is_carried_over_as_a_share_of_the_length(self, length: float) -> None:
        other = default_paddle(length).a
        carried = target_like([(HALF, CEDAR)], other)
        assert carried.target.deflection_m / _free(other) == pytest.approx(
            tip_deflection(HALF, CEDAR) / _free(HALF), rel=1e-12)

    def test_the_tips_then_turn_alike(self) -> None:
        """Same line but for its scale: slopes are the same number."""
        p, step = 1.3, 1e-6
        slope = (line_shape(np.ones(1), p) - line_shape(np.array([1.0 - step]), p)) / step
        for length in (1.8, 2.2):
            half = default_paddle(length).a
            target = target_like([(HALF, CEDAR)], half).target
            scale = target.deflection_m / line_shape(np.ones(1), p)
            assert scale * slope / _free(half) == pytest.approx(
                tip_deflection(HALF, CEDAR) / _free(HALF) / line_shape(np.ones(1), p) * slope)

    def test_the_wood_of_the_other_does_not_matter_to_the_new_blade(self) -> None:
        """A spruce blade made like a cedar one sinks as far, under the same weight."""
        target = target_like([(HALF, CEDAR)], HALF).target
        made = design_for_bend(HALF, SPRUCE, target, Limits(least_crown_mid=0.008)).half
        assert tip_deflection(made, SPRUCE) == pytest.approx(tip_deflection(HALF, CEDAR), rel=1e-9)

    def test_the_load_is_the_targets(self) -> None:
        light, heavy = (target_like([(HALF, CEDAR)], HALF, load).target for load in (20.0, 60.0))
        assert heavy.deflection_m == pytest.approx(3.0 * light.deflection_m, rel=1e-12)
        assert heavy.progression == pytest.approx(light.progression, rel=1e-9)

    def test_both_blades_count(self) -> None:
        thick = HALF.with_crowns([1.1 * s.crown for s in HALF.stations])
        both = target_like([(HALF, CEDAR), (thick, CEDAR)], HALF)
        alone = [target_like([(one, CEDAR)], HALF).target.deflection_m for one in (HALF, thick)]
        assert both.target.deflection_m == pytest.approx(sum(alone) / 2.0, rel=1e-12)

    def test_a_measured_paddle_is_as_measured(self) -> None:
        truth = model().start()
        truth[:2] = 0.2
        known = estimate(PADDLE, model().build, exact(model(), truth, everywhere(PADDLE)))
        blades, sd_ln = recorded(known)
        carried = target_like(blades, HALF, sd_ln=sd_ln)
        each = [known.sink(side, Target(0.03).setup(HALF)) for side in ("a", "b")]
        assert carried.target.deflection_m == pytest.approx(
            sum(value for value, _ in each) / 2.0, rel=2e-3)  # a thinner blade's own spline
        assert carried.sd_ln == sd_ln
        # the mean of two blades that share most of what is not known is hardly better known
        assert 0.6 * each[0][1] < sd_ln <= each[0][1]
        assert planned(PADDLE, CEDAR)[1] == CEDAR.sd_ln_e

    def test_a_bend_that_no_target_can_ask_for_is_brought_to_the_nearest(self) -> None:
        """Thick outward: the curvature falls from the clamp on."""
        stiff = HALF.with_crowns([0.024, 0.0245, 0.024, 0.024, 0.023, 0.02])
        carried = target_like([(stiff, CEDAR)], HALF)
        assert carried.other_progression < 0.0
        assert carried.target.progression == 0.0


class TestLightest:
    """Down to the limits, no softer than a cap."""

    def test_the_usual_cap_is_what_hands_call_too_soft(self) -> None:
        """Common practice, no source: 45 mm under 89 N between two hands is the most."""
        hands = TwoHands()
        soft = 0.045 / hands_line(PADDLE, CEDAR, hands).at(hands.load_at)
        share = soft * tip_deflection(HALF, CEDAR) / _free(HALF)
        assert share == pytest.approx(MOST_FLEX_SHARE, abs=0.002)  # it is told to one digit

    def test_the_cap_goes_with_length_and_weight(self) -> None:
        target = lightest_target(HALF)
        assert target.lightest
        assert target.deflection_m == pytest.approx(MOST_FLEX_SHARE * _free(HALF), rel=1e-12)
        assert lightest_target(HALF, load_n=2.0 * STANDARD_LOAD).deflection_m == pytest.approx(
            2.0 * target.deflection_m, rel=1e-12)
        assert lightest_target(HALF, 0.041).deflection_m == 0.041

    @pytest.mark.parametrize("cap", [0.04, 0.2])
    def test_the_plan_goes_to_the_cap_or_to_the_limits(self, cap: float) -> None:
        made = design_for_bend(HALF, CEDAR, lightest_target(HALF, cap), Limits())
        if cap == 0.04:
            assert made.deflection_m == pytest.approx(cap, rel=1e-9)
        else:
            assert made.deflection_m < cap
            assert {b.station for b in made.binding} >= {s.name for s in HALF.stations[:-1]}
        plain = replace(lightest_target(HALF, cap), lightest=False)
        if cap == 0.2:
            with pytest.raises(SpringloomError, match="no more flexible blade"):
                design_for_bend(HALF, CEDAR, plain, Limits())


def test_the_line_is_the_curvature_integrated_twice() -> None:
    """Against differences of the closed form."""
    xi, h = np.linspace(0.05, 0.95, 19), 1e-4
    for p in (0.0, 1.9, 5.0):
        found = (line_shape(xi + h, p) - 2.0 * line_shape(xi, p) + line_shape(xi - h, p)) / h**2
        assert found == pytest.approx(wanted_curvature(xi, p), rel=1e-5)  # h² of it
        assert line_shape(np.zeros(1), p) == 0.0


# --- in a design file ---


def _file(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def _with(target: str) -> str:
    return GOOD.replace(AIM, f"[target]\n{target}\n\n")


def _other(folder: Path, target: str) -> Design:
    _file(folder, "other.toml", GOOD)
    return load_design(_file(folder, "new.toml", _with(target)))


def test_a_file_may_name_another(tmp_path: Path) -> None:
    design = _other(tmp_path, 'like = "other.toml"\nwithin = 1')
    other = load_design(tmp_path / "other.toml")
    blades, sd_ln = recorded(other.tuned().now())
    carried = target_like(blades, design.paddle.a, tolerance_m=0.001, sd_ln=sd_ln)
    assert design.carried == carried
    assert design.wanted() == carried.target


def test_the_other_may_be_a_plan_only_and_name_this_one_back(tmp_path: Path) -> None:
    bare = GOOD[:GOOD.index("[readings]")].replace(AIM, '[target]\nlike = "new.toml"\n\n')
    _file(tmp_path, "other.toml", bare)
    design = load_design(_file(tmp_path, "new.toml", _with('like = "other.toml"')))
    other = load_design(tmp_path / "new.toml")
    assert design.wanted().deflection_m == pytest.approx(
        tip_deflection(other.paddle.a, other.build), rel=1e-12)


@pytest.mark.parametrize(("target", "field", "says"), [
    ('like = "none.toml"', "target.like", "does not exist"),
    ('like = "other.toml"\nsinks = 30', "target.sinks", "can't stand beside like"),
    ('like = "other.toml"\nprogression = 1', "target.progression", "can't stand beside like"),
    ('like = "other.toml"\nas_light_as_safe = true', "target.as_light_as_safe", "beside like"),
    ("within = 1", "target.sinks", "is missing"),
    ("as_light_as_safe = 1", "target.as_light_as_safe", "true or false"),
    ("as_light_as_safe = true\nsinks = 330", "target.sinks", "2 to 300 mm"),
])
def test_a_target_says_one_thing(tmp_path: Path, target: str, field: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        _other(tmp_path, target)
    assert caught.value.field.startswith(field)
    assert says in str(caught.value)


def test_a_fault_in_the_other_file_says_where(tmp_path: Path) -> None:
    _file(tmp_path, "other.toml", GOOD.replace("length = 2240", "length = 90000"))
    with pytest.raises(RangeError) as caught:
        load_design(_file(tmp_path, "new.toml", _with('like = "other.toml"')))
    assert caught.value.field.startswith("target.like.")
    _file(tmp_path, "other.toml", "no toml")
    with pytest.raises(FileError):
        load_design(tmp_path / "new.toml")


def test_without_files_there_is_no_other(tmp_path: Path) -> None:
    """A design that comes from a page must not make the program read files."""
    _file(tmp_path, "other.toml", GOOD)
    layout = check_layout({"format": 1, "name": "x",
                           "target": {"like": str(tmp_path / "other.toml")}})
    with pytest.raises(InputError, match="there are none here"):
        design_from(layout)


def test_as_light_as_safe_in_a_file(tmp_path: Path) -> None:
    design = _other(tmp_path, "as_light_as_safe = true")
    assert design.wanted() == lightest_target(
        design.paddle.a, load_n=design.wanted().load_n)
    capped = _other(tmp_path, 'as_light_as_safe = true\nsinks = 36\nunder = "8 lb"').wanted()
    assert (capped.deflection_m, capped.lightest) == (0.036, True)
    assert capped.load_n == pytest.approx(0.8 * STANDARD_LOAD)


def test_another_deflection_takes_the_place_of_another_paddle(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    design = _other(tmp_path, 'like = "other.toml"')
    aimed = design.aiming("30 mm", None)
    assert (aimed.wanted().deflection_m, aimed.carried) == (0.030, None)
    assert aimed.wanted().progression == design.wanted().progression
    text = rewritten(_with('like = "other.toml"'), "mm", {}, {"sinks": "30 mm"})
    assert "like" not in text[text.index("[target]"):text.index("[limits]")]
    out = tmp_path / "out.toml"
    assert command(capsys, "shape-to-bend", tmp_path / "new.toml", "--sinks", "30 mm", "--write",
                   out).code == 0
    assert math.isclose(load_design(out).wanted().deflection_m, 0.030)


def test_the_stations_that_keep_their_crown(tmp_path: Path) -> None:
    care = GOOD.replace("[care]", '[care]\nkeep = ["root", "1/4"]', 1)
    design = load_design(_file(tmp_path, "keep.toml", care))
    half = design.paddle.a
    assert design.rules.keep_m == pytest.approx((half.loom.root, half.at_fraction(0.25)))
    wrong = care.replace('"1/4"]', '"1/3"]')
    with pytest.raises(InputError, match="is no station") as caught:
        load_design(_file(tmp_path, "keep.toml", wrong))
    assert caught.value.field == "care.keep[2]"
    assert "root, 1/4, 1/2" in caught.value.allowed


def test_a_blade_of_its_own_length_is_measured_from_its_own_root() -> None:
    """An unlike pair: each blade's share is of its own length."""
    short = default_paddle(2.0).a
    pair = Paddle(HALF, HalfPaddle(HALF.loom, short.stations[:1] + short.stations[1:]))
    carried = target_like([(pair.a, CEDAR), (pair.b, CEDAR)], HALF)
    shares = [tip_deflection(one, CEDAR) / _free(one) for one in (pair.a, pair.b)]
    assert carried.share == pytest.approx(float(np.mean(shares)), rel=1e-12)
