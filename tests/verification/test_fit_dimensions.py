"""Rules, their disagreements, the proposal, and the paddle that follows from it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from springloom.errors import UnknownNameError
from springloom.fit.body import (
    BEAM_RANGE,
    DEFAULT_BOAT,
    DEFAULT_BODY,
    HEIGHT_RANGE,
    MEASURES,
    TRADE,
    USES,
    Boat,
    Body,
    Use,
)
from springloom.fit.dimensions import (
    CHILD_HEIGHT,
    SLENDER_LOOM,
    WIDE_BEAM,
    FitResult,
    fit,
    paddle_from_fit,
)
from springloom.fit.rules import (
    DIMENSIONS,
    FOLLOWED,
    KONG_LOWE,
    REFERENCE_BEAM,
    RULES,
    DimensionName,
    Rule,
    oval_girth,
)
from springloom.shape.paddle import default_paddle

MEASURED = Body(1.75, 1.78, 0.475, 0.395, 0.191, 0.141)


@st.composite
def bodies(draw: st.DrawFn) -> Body:
    """Any body that is let in: each measure missing, or anywhere in its range."""
    height = draw(st.floats(*HEIGHT_RANGE))
    given_m: dict[str, float] = {}
    for measure in MEASURES:
        low = max(measure.low_m, measure.low_share * height)
        high = min(measure.high_m, measure.high_share * height)
        value = draw(st.none() | st.floats(low, high))
        if value is not None:
            given_m[measure.field] = value
    return Body(height, **given_m)


boats = st.builds(Boat, st.none() | st.floats(*BEAM_RANGE))
uses: st.SearchStrategy[Use] = st.sampled_from(USES)


def rule(result: FitResult, name: DimensionName, rule_id: str) -> Rule:
    (found,) = (r for r in result.dimension(name).rules if r.rule_id == rule_id)
    return found


@given(bodies(), boats, uses)
def test_any_body_boat_and_use_give_a_valid_paddle(body: Body, boat: Boat, use: Use) -> None:
    result = fit(body, boat, use)
    paddle = paddle_from_fit(result)
    half = paddle.a
    assert paddle.is_symmetric
    assert paddle.length == pytest.approx(result.value_m("length"), rel=1e-12)
    assert 2.0 * half.loom.half_length == pytest.approx(result.value_m("loom_length"), rel=1e-12)
    assert half.loom.width == result.value_m("loom_width")
    assert half.loom.thickness == result.value_m("loom_thickness")
    assert half.stations[0].width == pytest.approx(result.value_m("root_width"), rel=1e-12)
    assert half.stations[-2].width == pytest.approx(result.value_m("blade_width"), rel=1e-12)
    default = default_paddle().a
    for own, model in zip(half.station_values, default.station_values, strict=True):
        # Fullness of ridge and edge is the default's; the caliper reading is inverted by Newton.
        assert own[2:] == pytest.approx(model[2:], abs=1e-9)
    # The curves exist and every section along the half has a size: what "valid" means.
    values = half.values(np.linspace(0.0, half.knots[-1], 60))
    assert np.all(np.isfinite(values))
    assert np.all(values[0, :-1] > 0.0)
    assert np.all(values[1] > 0.0)


@given(bodies(), boats, uses)
def test_every_dimension_has_a_range_a_rule_and_a_reason(
    body: Body, boat: Boat, use: Use
) -> None:
    result = fit(body, boat, use)
    assert tuple(d.name for d in result.dimensions) == DIMENSIONS
    for dimension in result.dimensions:
        followed = rule(result, dimension.name, dimension.follows)
        assert dimension.value_m == followed.value_m, "the proposal is a rule's, no average"
        assert (dimension.low_m, dimension.high_m) == (followed.low_m, followed.high_m)
        assert 0.0 < dimension.low_m <= dimension.value_m <= dimension.high_m
        assert dimension.why
        for each in dimension.rules:
            assert each.low_m <= each.value_m <= each.high_m
            assert each.basis in {TRADE, KONG_LOWE}


@given(bodies(), boats, uses)
def test_a_conflict_is_a_gap_between_two_ranges(body: Body, boat: Boat, use: Use) -> None:
    for dimension in fit(body, boat, use).dimensions:
        lows = [r.low_m for r in dimension.rules]
        highs = [r.high_m for r in dimension.rules]
        # Ranges on a line all overlap pairwise exactly if the highest low is under the lowest high.
        gap = max(lows) - min(highs)
        assert (dimension.conflict is not None) == (gap > 0.0)
        gaps = [each.gap_m for each in dimension.disagreements]
        assert gaps == sorted(gaps, reverse=True)
        assert all(each > 0.0 for each in gaps)
        assert gaps[:1] == ([gap] if gap > 0.0 else [])


@pytest.mark.parametrize(
    ("field", "step", "use", "name"),
    [
        ("arm_span_m", 0.05, "touring", "length"),
        ("arm_span_m", 0.05, "rolling", "length"),
        ("arm_span_m", 0.05, "storm", "length"),
        ("cubit_m", 0.02, "touring", "length"),
        ("height_m", 0.05, "rolling", "length"),
        ("shoulder_breadth_m", 0.02, "touring", "loom_length"),
        ("hand_length_m", 0.01, "touring", "loom_length"),
        ("hand_length_m", 0.01, "storm", "loom_length"),
        ("hand_length_m", 0.01, "touring", "blade_width"),
        ("grip_circumference_m", 0.01, "touring", "loom_girth"),
        ("grip_circumference_m", 0.01, "touring", "loom_width"),
        ("grip_circumference_m", 0.01, "touring", "loom_thickness"),
        ("grip_circumference_m", 0.01, "touring", "root_width"),
    ],
)
def test_a_bigger_measure_gives_a_bigger_dimension(
    field: str, step: float, use: Use, name: DimensionName
) -> None:
    bigger = replace(MEASURED, **{field: getattr(MEASURED, field) + step})
    assert fit(bigger, DEFAULT_BOAT, use).value_m(name) > fit(
        MEASURED, DEFAULT_BOAT, use
    ).value_m(name)


@given(st.floats(1.2, 2.25), uses, st.sampled_from(DIMENSIONS))
def test_a_taller_body_gives_no_smaller_dimension(
    height: float, use: Use, name: DimensionName
) -> None:
    small, tall = (fit(Body(h), DEFAULT_BOAT, use).value_m(name) for h in (height, height + 0.05))
    assert tall > small


def test_arm_span_plus_cubit_is_their_sum() -> None:
    # common practice, no source
    assert MEASURED.arm_span_m is not None
    assert MEASURED.cubit_m is not None
    said = rule(fit(MEASURED), "length", "length-span-cubit")
    assert said.value_m == MEASURED.arm_span_m + MEASURED.cubit_m
    assert said.measures == ("arm span", "cubit")
    assert not said.estimated


def test_the_other_simple_rules_are_what_they_say() -> None:
    # common practice, no source
    rolling, storm = fit(MEASURED, use="rolling"), fit(MEASURED, use="storm")
    span, cubit, hand = 1.78, 0.475, 0.191
    # Sums of three: rounding only.
    assert rule(rolling, "length", "length-span-wrist").value_m == pytest.approx(
        span + cubit - hand, rel=1e-12)
    assert storm.value_m("length") == span
    assert rule(storm, "length", "length-height").value_m == 1.75
    assert storm.value_m("loom_length") == 3 * 0.5 * hand


def test_a_wider_boat_lengthens_a_touring_paddle_by_as_much() -> None:
    narrow, wide = (fit(MEASURED, Boat(beam)) for beam in (0.50, 0.60))
    assert narrow.dimension("length").follows == "length-beam"
    assert wide.value_m("length") - narrow.value_m("length") == pytest.approx(0.10, abs=1e-12)
    at_reference = fit(MEASURED, Boat(REFERENCE_BEAM))
    assert at_reference.value_m("length") == pytest.approx(1.78 + 0.475, rel=1e-12)


def test_without_a_beam_its_rules_are_left_out() -> None:
    result = fit(MEASURED)
    assert result.dimension("length").follows == "length-span-cubit"
    used = {measure for d in result.dimensions for r in d.rules for measure in r.measures}
    assert "boat's beam" not in used


def test_longer_arms_reach_higher_by_half_their_gain_in_span() -> None:
    longer = replace(MEASURED, arm_span_m=1.84)
    gain = fit(longer, use="rolling").value_m("length") - fit(
        MEASURED, use="rolling").value_m("length")
    assert gain == pytest.approx(0.5 * (1.84 - 1.78), abs=1e-12)


def test_rules_that_disagree_are_shown_and_one_is_followed() -> None:
    apart = Body(1.70, 1.95, 0.52, 0.38, 0.19, 0.14)
    length = fit(apart, DEFAULT_BOAT).dimension("length")
    assert length.conflict is not None
    pairs = {(each.lower, each.higher) for each in length.disagreements}
    assert ("length-reach", "length-span-cubit") in pairs
    assert ("length-usual", "length-span-cubit") in pairs
    for each in length.disagreements:
        low, high = (rule(fit(apart, DEFAULT_BOAT), "length", r)
                     for r in (each.lower, each.higher))
        assert each.gap_m == high.low_m - low.high_m
        assert f"{each.lower} allows up to {1e3 * low.high_m:.1f} mm" in length.conflict
        assert f"{each.higher} asks for {1e3 * high.low_m:.1f} mm" in length.conflict
        assert f"{1e3 * each.gap_m:.1f} mm apart" in length.conflict
    assert f"follows {length.follows}" in length.conflict
    # The two values differ; the proposal is not their mean.
    assert length.value_m == pytest.approx(1.95 + 0.52, rel=1e-12)
    assert length in fit(apart, DEFAULT_BOAT).conflicts


def test_measures_that_go_together_raise_no_conflict() -> None:
    for use in ("touring", "storm"):
        assert fit(MEASURED, DEFAULT_BOAT, use).conflicts == ()


def test_an_estimate_widens_the_range_by_its_standard_deviation() -> None:
    figures = DEFAULT_BODY.figures()
    measured = replace(DEFAULT_BODY, hand_length_m=figures["hand_length_m"].value_m)
    guess = fit(DEFAULT_BODY).dimension("blade_width")
    known = fit(measured).dimension("blade_width")
    assert guess.value_m == known.value_m
    doubt = rule(fit(DEFAULT_BODY), "blade_width", "blade-knuckles")
    assert doubt.estimated
    share = guess.value_m / figures["hand_length_m"].value_m
    assert known.low_m - guess.low_m == pytest.approx(share * figures["hand_length_m"].sd_m)
    assert guess.high_m - known.high_m == pytest.approx(share * figures["hand_length_m"].sd_m)


def test_estimated_lists_what_a_rule_used_and_nobody_measured() -> None:
    fields = {figure.field for figure in fit(DEFAULT_BODY).estimated}
    assert fields == {measure.field for measure in MEASURES}
    assert fit(MEASURED).estimated == ()
    storm = {figure.field for figure in fit(DEFAULT_BODY, use="storm").estimated}
    assert storm == {"arm_span_m", "hand_length_m", "grip_circumference_m"}


def test_doubt_passes_on_to_what_follows_from_a_dimension() -> None:
    result = fit(DEFAULT_BODY)
    girth, width = result.dimension("loom_girth"), result.dimension("loom_width")
    assert rule(result, "loom_width", "loom-oval-width").estimated
    assert (width.high_m - width.low_m) / width.value_m == pytest.approx(
        (girth.high_m - girth.low_m) / girth.value_m)


def test_the_oval_has_the_girth_it_was_made_from() -> None:
    result = fit(MEASURED)
    girth = oval_girth(result.value_m("loom_width"), result.value_m("loom_thickness"))
    assert girth == pytest.approx(result.value_m("loom_girth"), rel=1e-12)


@pytest.mark.parametrize("ratio", [1.0, 0.9, 32.0 / 38.0, 0.5])
def test_oval_girth_against_the_elliptic_integral(ratio: float) -> None:
    # Perimeter of an ellipse is 4 a E(1 − b²/a²); here by a fine trapezoid rule, which converges
    # faster than any power for a periodic integrand.
    a, b = 0.5 * 0.04, 0.5 * 0.04 * ratio
    t = np.linspace(0.0, 2.0 * math.pi, 4096, endpoint=False)
    exact = float(np.mean(np.hypot(a * np.sin(t), b * np.cos(t)))) * 2.0 * math.pi
    # Ramanujan's second formula is good to 3e-9 at a ratio of 1 : 2.
    assert oval_girth(2.0 * a, 2.0 * b) == pytest.approx(exact, rel=1e-8)


def test_the_root_runs_into_the_loom_and_the_near_tip_keeps_its_crown() -> None:
    model = default_paddle().a
    half = paddle_from_fit(fit(replace(MEASURED, grip_circumference_m=0.12))).a
    for index, scale in ((0, half.loom.thickness / model.loom.thickness), (-2, 1.0), (-1, 1.0)):
        assert half.stations[index].crown == pytest.approx(scale * model.stations[index].crown)
    crowns = [station.crown for station in half.stations]
    assert crowns == sorted(crowns, reverse=True)


def test_every_table_row_is_reachable_and_every_followed_rule_exists() -> None:
    ids = [line.rule_id for line in RULES]
    assert len(ids) == len(set(ids))
    seen = {r.rule_id for use in USES for d in fit(MEASURED, DEFAULT_BOAT, use).dimensions
            for r in d.rules}
    assert seen == set(ids)
    followed = {rule_id for by_use in FOLLOWED.values() for chosen in by_use.values()
                for rule_id in chosen}
    assert followed <= set(ids)
    assert all(line.because for line in RULES if line.rule_id in followed)


def test_unknown_names_are_refused() -> None:
    with pytest.raises(UnknownNameError, match="touring"):
        fit(DEFAULT_BODY, use="tourng")  # type: ignore[arg-type]  # what a user may type
    with pytest.raises(UnknownNameError, match="loom_length"):
        fit(DEFAULT_BODY).dimension("loom_lenght")


@pytest.mark.parametrize(
    ("body", "boat", "use", "words"),
    [
        (MEASURED, DEFAULT_BOAT, "storm", "storm paddle is a spare"),
        (MEASURED, Boat(WIDE_BEAM + 0.01), "touring", "boat this wide"),
        (replace(MEASURED, grip_circumference_m=0.12), DEFAULT_BOAT, "touring", "slender"),
        (Body(CHILD_HEIGHT - 0.01), DEFAULT_BOAT, "touring", "For a child"),
        (DEFAULT_BODY, DEFAULT_BOAT, "touring", "estimated arm span and cubit"),
        (replace(MEASURED, arm_span_m=2.0), DEFAULT_BOAT, "touring", "measure again"),
    ],
)
def test_each_caution_fires_and_only_where_it_should(
    body: Body, boat: Boat, use: Use, words: str
) -> None:
    assert any(words in caution for caution in fit(body, boat, use).cautions)
    assert fit(MEASURED, DEFAULT_BOAT).cautions == ()


def test_the_slender_loom_caution_is_about_the_loom() -> None:
    result = fit(replace(MEASURED, grip_circumference_m=0.12))
    assert result.value_m("loom_thickness") < SLENDER_LOOM
