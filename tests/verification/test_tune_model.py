"""What readings should be: exact gradients, and the mechanics' own numbers for the plan."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from springloom.errors import EvidenceError
from springloom.mechanics.beam import Load
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import (
    POUND_FORCE,
    Clamped,
    TwoHands,
    clamped_line,
    hands_line,
    tip_deflection,
)
from springloom.mechanics.stiffness import Build
from springloom.mechanics.vibration import clamped_frequencies, free_frequencies
from springloom.shape.blade import CHANNELS, EDGE_INSET, HalfPaddle
from springloom.shape.paddle import Paddle, default_paddle
from springloom.tune.estimate import prior_of
from springloom.tune.evidence import (
    SIDES,
    BalanceReading,
    BenchReading,
    FullnessReading,
    HandsReading,
    LengthReading,
    Reading,
    Side,
    TapReading,
    ThicknessReading,
    WeightReading,
    WidthReading,
)
from springloom.tune.foretell_shape import Places
from springloom.tune.line import Line
from springloom.tune.model import Model
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import Material, species_material
from tests.verification.tune_bench import Floats, cedar

FAR = HALF_BLANK_M


def _strips(y: tuple[float, float], z: tuple[float, float]) -> Layup:
    """Cedar with a stripe of ash: between two heights, or between two places across."""
    soft, hard = species_material("western_redcedar"), species_material("white_ash")
    if math.isinf(y[0]) or y[0] == -FAR:
        return Layup((Strip(soft, -FAR, FAR, -FAR, z[0]), Strip(hard, -FAR, FAR, *z),
                      Strip(soft, -FAR, FAR, z[1], FAR)))
    return Layup((Strip(soft, -FAR, y[0], -FAR, FAR), Strip(hard, *y, -FAR, FAR),
                  Strip(soft, y[1], FAR, -FAR, FAR)))


def _unlike() -> Paddle:
    """Blades whose upper face is higher and fuller than the lower, with oval edges."""
    half = default_paddle().a
    stations = tuple(replace(s, share=0.7, ridge_bottom=0.8 * s.ridge, edge=None)
                     for s in half.stations)
    return Paddle.mirrored(HalfPaddle(half.loom, stations))


def _two_lengths() -> Paddle:
    """Blades that differ in their number of stations."""
    half = default_paddle().a
    return Paddle(half, HalfPaddle(half.loom, (*half.stations[:3], *half.stations[4:])))


MODELS: dict[str, tuple[Paddle, Build]] = {
    "solid": (default_paddle(), cedar()),
    "stripe across": (default_paddle(), _strips((-0.004, 0.004), (-FAR, FAR))),
    "core": (default_paddle(), _strips((-FAR, FAR), (-0.0015, 0.0015))),
    "unlike faces": (_unlike(), cedar()),
    "unlike blades": (_two_lengths(), cedar()),
}


def _readings(side: Side, half: HalfPaddle) -> list[Reading]:
    """One of each kind, at stations, between them, in the blend and in the loom."""
    tip, root, at = half.tip, half.loom.root, half.at_fraction
    return [
        ThicknessReading(side, half.stations[1].x, 0.01),
        ThicknessReading(side, at(0.62), 0.01),  # between stations
        ThicknessReading(side, half.loom.root - 0.01, 0.01),  # in the blend
        ThicknessReading(side, at(0.62), 0.01, face="lower"),
        ThicknessReading(side, half.stations[2].x, 0.01, "edge"),
        ThicknessReading(side, at(0.4), 0.01, "edge"),
        ThicknessReading(side, at(0.4), 0.01, "edge", face="upper"),
        ThicknessReading(side, at(0.6), 0.01, "inset", inset=0.015),
        ThicknessReading(side, at(0.6), 0.01, "inset", inset=0.012, face="lower"),
        ThicknessReading(side, at(0.6), 0.01, "inset", inset=0.001, face="upper"),
        WidthReading(side, half.stations[3].x, 0.08),
        WidthReading(side, at(0.7), 0.08),
        LengthReading(side, 0.85),
        FullnessReading(side, half.stations[1].x, 1.0, 0.0, 0.5, 0.02),
        FullnessReading(side, at(0.7), 0.8, 0.6, 0.9, 0.02, "upper"),
        FullnessReading(side, at(0.7), 0.8, -0.6, 0.1, 0.02, "lower"),
        BenchReading(side, 0.01, tip, tip, root),
        BenchReading(side, 0.01, at(0.5), tip, root),
        BenchReading(side, 0.01, tip, at(0.8), half.loom.half_length),
        BenchReading(side, 0.01, tip, at(0.8), at(0.3)),
        HandsReading(side, 0.03),
        HandsReading(side, 0.03, read_x=tip, load_x=0.6, half_span=0.2),
        TapReading(side, 27.0, root),
        TapReading(side, 27.0, 0.2),
        TapReading(None, 28.0),
        WeightReading(0.8),
        BalanceReading(0.01),
    ]


KINDS = len(_readings("a", default_paddle().a))


def _scattered(model: Model, seed: int) -> Floats:
    """Unknowns anywhere within one prior sd of the plan."""
    mean, spread = prior_of(model)
    share = np.random.default_rng(seed).uniform(-1.0, 1.0, len(mean))
    return np.asarray(mean + share * np.sqrt(np.diag(spread)))


@pytest.mark.parametrize("name", MODELS)
@pytest.mark.parametrize("which", range(KINDS))
@settings(max_examples=3)
@given(seed=st.integers(0, 2**32 - 1))
def test_gradients_are_exact(name: str, which: int, seed: int) -> None:
    """Against central differences, every unknown measured in its prior sd."""
    model = Model(*MODELS[name])
    theta, scale = _scattered(model, seed), np.sqrt(np.diag(prior_of(model)[1]))
    for side in SIDES:
        reading = _readings(side, model.bench(side).half)[which]
        value, gradient = model.predict(reading, theta)
        numeric, tone = np.zeros_like(theta), isinstance(reading, TapReading)
        # the eigenvalues of short stiff spans beside long soft ones come to some 1e-9 only
        for j, step in enumerate((3e-3 if tone else 1e-4) * scale):
            up, down = theta.copy(), theta.copy()
            up[j] += step
            down[j] -= step
            rise = model.predict(reading, up)[0] - model.predict(reading, down)[0]
            numeric[j] = rise / (2.0 * step)
        # A difference over 1e-4 sd errs by some 1e-8 of the value; a wrong term by 1e-3 or more.
        # A tone's elements hold their shear parameter, as mechanics.modes says: some 1e-6.
        share = 1e-5 if tone else 1e-7
        assert gradient * scale == pytest.approx(numeric * scale, abs=share * abs(value))


@pytest.mark.parametrize("name", MODELS)
def test_together_is_one_by_one(name: str) -> None:
    """Readings foretold in groups are what each is by itself, in the order given."""
    model = Model(*MODELS[name])
    theta = _scattered(model, 4)
    readings = [r for side in SIDES for r in _readings(side, model.bench(side).half)]
    random = np.random.default_rng(1)
    mixed = [readings[i] for i in random.permutation(len(readings))]
    mixed.append(replace(mixed[0]))  # read twice
    values, gradients = model.foretelling(mixed).at(theta)
    for reading, value, gradient in zip(mixed, values, gradients, strict=True):
        alone, slopes = model.predict(reading, theta)
        # cut at other places too, an axis integrates the same to 1e-9
        assert value == pytest.approx(alone, rel=1e-8)
        assert gradient == pytest.approx(slopes, rel=1e-6, abs=1e-8 * np.max(np.abs(slopes)))


@pytest.mark.parametrize("name", MODELS)
@pytest.mark.parametrize("side", SIDES)
def test_bench_reading_of_the_plan_is_the_beams(name: str, side: Side) -> None:
    """δ by the unit-load theorem equals the running integrals of κ and γ, wherever read."""
    paddle, build = MODELS[name]
    model = Model(paddle, build)
    half = model.bench(side).half
    for reading in _readings(side, half):
        if not isinstance(reading, BenchReading):
            continue
        setup = Clamped(reading.clamp_x, (Load(reading.load_x, reading.load),), (reading.read_x,))
        line = clamped_line(half, build, setup, large=False)
        # both integrate the same Gauss points; only rounding may differ
        assert model.predict(reading, model.start())[0] == pytest.approx(
            line.at(reading.read_x), rel=1e-9
        )


def test_tip_reading_of_the_plan_is_the_tip_deflection() -> None:
    model = Model(*MODELS["solid"])
    half = model.bench("a").half
    reading = BenchReading("a", 0.01, half.tip, half.tip, half.loom.root)
    expected = tip_deflection(half, model.build)
    assert model.predict(reading, model.start())[0] == pytest.approx(expected, rel=1e-12)


def test_a_turning_clamp_adds_its_slope() -> None:
    """Turning c per moment: δ grows by c·P·(load − clamp)·(read − clamp)."""
    model = Model(*MODELS["solid"])
    half = model.bench("b").half
    reading = BenchReading("b", 0.01, half.at_fraction(0.7), half.tip, half.loom.root, load=60.0)
    turning, arm = 5e-5, half.tip - half.loom.root
    theta = model.start()
    theta[model.layout.clamp("b")] = turning
    setup = Clamped(half.loom.root, (Load(half.tip, 60.0),), (reading.read_x,),
                    rotation=turning * 60.0 * arm)
    line = clamped_line(half, model.build, setup, large=False)
    assert model.predict(reading, theta)[0] == pytest.approx(line.at(reading.read_x), rel=1e-9)


@pytest.mark.parametrize("name", MODELS)
def test_weight_of_the_plan_is_the_mass_properties(name: str) -> None:
    paddle, build = MODELS[name]
    model = Model(paddle, build)
    # spans join at other places in the two, each exact to some 1e-9
    assert model.weight(model.start())[0] == pytest.approx(
        mass_properties(paddle, build).mass_kg, rel=1e-7
    )


@pytest.mark.parametrize("share", [0.1, 0.25, 0.4, 0.66, 0.75, 0.88])
def test_thickness_of_the_plan_is_the_sections(share: float) -> None:
    """Like faces: one r places the caliper on both, as ``thickness_at`` does face by face."""
    model = Model(*MODELS["solid"])
    half = model.bench("a").half
    x = half.at_fraction(share)
    section = half.section(x)
    crown, _ = model.predict(ThicknessReading("a", x, 0.01), model.start())
    edge, _ = model.predict(ThicknessReading("a", x, 0.01, "edge"), model.start())
    assert crown == pytest.approx(section.top + section.bottom, rel=1e-12)
    assert edge == pytest.approx(section.thickness_at(EDGE_INSET), rel=1e-12)


@pytest.mark.parametrize("name", ["solid", "unlike faces"])
def test_readings_at_a_station_are_its_unknowns(name: str) -> None:
    """At a station a caliper reads the unknown itself, whatever the other unknowns are."""
    model = Model(*MODELS[name])
    theta, at = _scattered(model, 3), model.layout
    for i, station in enumerate(model.bench("a").half.stations[:-1]):
        for reading, where in ((ThicknessReading("a", station.x, 0.01), at.crowns("a")),
                               (ThicknessReading("a", station.x, 0.01, "edge"), at.edges("a")),
                               (WidthReading("a", station.x, 0.08), at.widths("a"))):
            assert model.predict(reading, theta)[0] == theta[where][i]
            # and the way that takes any place gives the same
            group = Places("a", [reading], Line.at(model.bench("a"), np.array([reading.x])))
            values, gradient = group(model.unknowns(theta))
            assert values[0] == pytest.approx(theta[where][i], rel=1e-12)
            assert gradient[0] == pytest.approx(np.eye(at.size)[where.start + i], abs=1e-9)


@pytest.mark.parametrize("name", ["solid", "unlike faces"])
@pytest.mark.parametrize("number", [1, 2, 4])
def test_any_reading_at_a_station_is_the_drawn_sections(name: str, number: int) -> None:
    """Whatever the unknowns are: faces, insets, width and fullness of the blade as drawn.

    Between stations the drawn curves may follow another rule of fairness than the plan's.
    """
    model = Model(*MODELS[name])
    theta, half = _scattered(model, 5), model.bench("a").half
    other = model.shaped("a", theta)
    x = half.stations[number].x
    section = other.section(half.loom.root + (x - half.loom.root) * _stretch(model, theta))
    upper = replace(section, bottom=0.0)
    expected: list[tuple[Reading, float]] = [
        (ThicknessReading("a", x, 0.01), section.top + section.bottom),
        (ThicknessReading("a", x, 0.01, face="upper"), section.top),
        (ThicknessReading("a", x, 0.01, "inset", inset=0.01), section.thickness_at(0.01)),
        (ThicknessReading("a", x, 0.01, "inset", inset=0.01, face="upper"),
         upper.thickness_at(0.01)),
        (ThicknessReading("a", x, 0.01, "inset", inset=0.02, face="upper"),
         upper.thickness_at(0.02)),
        (WidthReading("a", x, 0.08), 2.0 * section.half_width),
        (FullnessReading("a", x, 1.0, 0.0, 0.5, 0.1, "lower"), section.ridge_bottom),
        (FullnessReading("a", x, 0.0, 1.0, 0.5, 0.1, "upper"), section.edge),
    ]
    for reading, value in expected:
        assert model.predict(reading, theta)[0] == pytest.approx(value, rel=1e-9), reading


def _stretch(model: Model, theta: Floats) -> float:
    return float(1.0 + theta[model.layout.longer("a")] / model.bench("a").length)


@pytest.mark.parametrize("channel", [CHANNELS.index("crown"), CHANNELS.index("edge")])
def test_cardinal_functions(channel: int) -> None:
    """They share out the blade, are their own station's only, and leave the loom alone."""
    bench = Model(*MODELS["solid"]).bench("a")
    half = bench.half
    stations = np.array([s.x for s in half.stations])
    on_blade = np.linspace(half.loom.root, half.tip, 200)
    in_loom = np.linspace(0.0, half.loom.half_length, 20)
    assert bench.cardinal(stations, channel) == pytest.approx(np.eye(len(stations)), abs=1e-12)
    assert bench.cardinal(on_blade, channel).sum(axis=1) == pytest.approx(1.0, abs=1e-12)
    assert np.all(bench.cardinal(in_loom, channel) == 0.0)
    # A change at one station must not be a greater one elsewhere; a batten gives 5 % beyond.
    everywhere = np.linspace(0.0, half.tip, 500)
    assert np.max(np.abs(bench.cardinal(everywhere, channel))) < 1.05


@pytest.mark.parametrize("name", ["solid", "stripe across", "unlike faces"])
@settings(max_examples=25)
@given(proud=st.floats(-0.002, 0.003), tilt=st.floats(-0.0015, 0.0015))
def test_another_blade_sinks_as_the_mechanics_say(name: str, proud: float, tilt: float) -> None:
    """Crowns changed evenly and by a tilt, edges in proportion: not the plan's shape any more."""
    model = Model(*MODELS[name])
    theta, at, half = model.start(), model.layout, model.bench("a").half
    before = theta[at.crowns("a")].copy()
    after = before + proud + tilt * np.linspace(-1.0, 1.0, len(before))
    theta[at.crowns("a")] = after
    theta[at.edges("a")] *= after / before
    other = model.shaped("a", theta)
    rules = [curve.fairness for curve in half.blade_curves]
    assume([curve.fairness for curve in other.blade_curves] == rules)
    reading = BenchReading("a", 0.01, half.tip, half.tip, half.loom.root)
    # same splines, same points: rounding only
    assert model.predict(reading, theta)[0] == pytest.approx(
        tip_deflection(other, model.build), rel=1e-9
    )


def test_a_core_in_the_middle_is_within_its_stated_error() -> None:
    """A flat core keeps its thickness when the faces are planed; E·I by shape errs under 1 %."""
    model = Model(*MODELS["core"])
    theta, at, half = model.start(), model.layout, model.bench("a").half
    before = theta[at.crowns("a")].copy()
    theta[at.crowns("a")] = before - 0.002
    theta[at.edges("a")] *= (before - 0.002) / before
    reading = BenchReading("a", 0.01, half.tip, half.tip, half.loom.root)
    found = model.predict(reading, theta)[0]
    assert found == pytest.approx(tip_deflection(model.shaped("a", theta), model.build), rel=0.01)


def test_a_drawn_blade_is_held_to_what_a_section_can_have() -> None:
    """Ridges and edges that no convex section has come out at their limits."""
    model = Model(*MODELS["unlike faces"])
    theta, at = model.start(), model.layout
    theta[at.ridges("a")] += [-0.9, -0.3, 0.0, 0.3, 0.9, 0.0]
    theta[at.edges("a").start + 1] *= 3.0
    theta[at.edges("a").start + 2] *= 0.2
    drawn = model.shaped("a", theta).checked()
    assert (drawn.stations[0].ridge, drawn.stations[0].low_ridge) == (0.0, 0.0)
    assert (drawn.stations[4].ridge, drawn.stations[4].low_ridge) == (1.0, 1.0)
    fullness = drawn.station_values[:, CHANNELS.index("edge")]
    assert fullness[1] == pytest.approx(1.0, abs=1e-6)
    assert fullness[2] == pytest.approx(0.0, abs=1e-6)
    assert [s.crown for s in drawn.stations] == pytest.approx(list(model.bench("a").crowns))


@pytest.mark.parametrize("name", ["solid", "stripe across", "unlike faces"])
@pytest.mark.parametrize("longer", [-0.01, 0.02])
def test_a_longer_blade_is_the_stretched_one(name: str, longer: float) -> None:
    """Sinks, sounds, weighs and balances as a blade drawn with its stations further out."""
    model = Model(*MODELS[name])
    theta = model.start()
    theta[model.layout.longer("a")] = longer
    half, other = model.bench("a").half, model.shaped("a", theta)
    assert other.blade_length == pytest.approx(half.blade_length + longer, rel=1e-12)
    paddle, root = Paddle(other, model.bench("b").half), half.loom.root
    mass = mass_properties(paddle, model.build)
    tip = half.tip
    expected: list[tuple[Reading, float]] = [
        (LengthReading("a", 0.8), other.blade_length),
        (BenchReading("a", 0.01, tip, tip, root), tip_deflection(other, model.build)),
        (BenchReading("a", 0.01, tip, tip, 0.2),
         tip_deflection(other, model.build, Clamped(0.2))),
        (HandsReading("a", 0.03, tip, tip),
         hands_line(paddle, model.build, TwoHands(load_at=other.tip)).deflection_ends[-1]),
        (TapReading("a", 27.0, root), clamped_frequencies(other, model.build)[0]),
        (TapReading(None, 27.0), free_frequencies(paddle, model.build)[0]),
        (WeightReading(0.8), mass.mass_kg),
        (BalanceReading(0.0), mass.balance_m),
    ]
    for reading, value in expected:
        # the blend's slope at the root changes with the blade's length, which the model leaves
        assert model.predict(reading, theta)[0] == pytest.approx(value, rel=2e-4, abs=2e-5)


@pytest.mark.parametrize("name", MODELS)
def test_two_hands_reading_of_the_plan_is_the_mechanics(name: str) -> None:
    paddle, build = MODELS[name]
    model = Model(paddle, build)
    turned = Paddle(paddle.b, paddle.a)
    for side, held in (("a", paddle), ("b", turned)):
        setup = TwoHands(0.22, 0.8, 60.0)
        line = hands_line(held, build, setup)
        reading = HandsReading("a" if side == "a" else "b", 0.03, 0.8, 0.8, 0.22, 60.0)
        # both integrate the same Gauss points; only rounding may differ
        assert model.predict(reading, model.start())[0] == pytest.approx(line.at(0.8), rel=1e-9)
        away = replace(reading, read_x=held.a.tip)
        assert model.predict(away, model.start())[0] == pytest.approx(
            line.deflection_ends[-1], rel=1e-9)


def test_in_two_hands_each_end_bends_by_its_own_stiffness() -> None:
    """A softer B sinks A's tip by B's share of the span between the hands, and no more."""
    model = Model(*MODELS["solid"])
    theta, plain = model.start(), model.start()
    theta[model.layout.ln_e("b")] = math.log(0.5)
    stiff, soft = (model.predict(HandsReading("a", 0.03), t)[0] for t in (plain, theta))
    both = plain.copy()
    both[:2] = math.log(0.5)
    all_soft = model.predict(HandsReading("a", 0.03), both)[0]
    assert all_soft == pytest.approx(2.0 * stiff, rel=1e-12)
    assert 0.0 < soft - stiff < 0.2 * (all_soft - stiff)


@pytest.mark.parametrize("name", MODELS)
def test_tones_of_the_plan_are_the_mechanics(name: str) -> None:
    paddle, build = MODELS[name]
    model = Model(paddle, build)
    for side, half in zip(SIDES, (paddle.a, paddle.b), strict=True):
        found = model.predict(TapReading(side, 27.0, half.loom.root), model.start())[0]
        assert found == pytest.approx(clamped_frequencies(half, build)[0], rel=1e-9)
    found = model.predict(TapReading(None, 27.0), model.start())[0]
    assert found == pytest.approx(free_frequencies(paddle, build)[0], rel=1e-9)


def test_a_turning_clamp_lowers_the_tone() -> None:
    """By half of what it adds to the sinking of a weight where the mass is, roughly the tip."""
    model = Model(*MODELS["solid"])
    theta, tap = model.start(), TapReading("a", 27.0, model.bench("a").half.loom.root)
    theta[model.layout.clamp("a")] = 4e-5
    ratio = model.predict(tap, theta)[0] / model.predict(tap, model.start())[0]
    assert 0.96 < ratio < 0.99


def test_balance_of_the_plan_is_the_mass_properties() -> None:
    """Unlike blades balance off the middle."""
    paddle, build = MODELS["unlike blades"]
    model = Model(paddle, build)
    found = model.predict(BalanceReading(0.0), model.start())[0]
    expected = mass_properties(paddle, build).balance_m
    assert abs(expected) > 1e-4
    assert found == pytest.approx(expected, rel=1e-5)  # spans join at other places


class TestDeepReadings:
    """A heavy weight bends a blade so far that it sinks less than in proportion."""

    model = Model(*MODELS["solid"])

    def _deep(self, pounds: float, read_at: float, stiffer: float) -> tuple[BenchReading, float]:
        """What is read of a blade ``stiffer`` times the plan's, and in proportion."""
        half, build = self.model.bench("a").half, self.model.build
        assert isinstance(build, Material)
        wood = replace(build, e_pa=build.e_pa * stiffer, g_pa=build.g_pa * stiffer)
        x, load = half.at_fraction(read_at), pounds * POUND_FORCE
        setup = Clamped(half.loom.root, (Load(half.tip, load),), (x,))
        reading = BenchReading("a", clamped_line(half, wood, setup, large=True).at(x), x,
                               half.tip, half.loom.root, load)
        return reading, clamped_line(half, wood, setup, large=False).at(x)

    @pytest.mark.parametrize("pounds", [20.0, 30.0])
    @pytest.mark.parametrize("read_at", [0.75, 1.0])
    @pytest.mark.parametrize("stiffer", [0.85, 1.0, 1.25])
    def test_they_are_straightened(self, pounds: float, read_at: float, stiffer: float) -> None:
        reading, in_proportion = self._deep(pounds, read_at, stiffer)
        # The ratio, 4 % at most here, is taken at a depth off by itself, and goes with the
        # depth's square: 2 × 4 % of 4 %.
        assert self.model.straightened(reading) == pytest.approx(in_proportion, rel=2 * 0.04**2)

    def test_this_is_not_idle(self) -> None:
        reading, in_proportion = self._deep(30.0, 1.0, 0.85)
        assert in_proportion / reading.deflection > 1.02

    def test_shallow_ones_are_left_alone(self) -> None:
        reading, _ = self._deep(10.0, 1.0, 1.0)
        assert self.model.straightened(reading) == reading.deflection

    @pytest.mark.parametrize(("deflection", "share"), [(0.5, 1.0), (0.3, 0.1)])
    def test_no_blade_bends_so_far(self, deflection: float, share: float) -> None:
        half = self.model.bench("a").half
        reading = BenchReading("a", deflection, half.at_fraction(share), half.tip, half.loom.root)
        with pytest.raises(EvidenceError, match="bends so far"):
            self.model.straightened(reading)
