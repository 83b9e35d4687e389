"""Bad input and bad luck, planted one by one: each is named in plain words, clean sets are not."""

from __future__ import annotations

import functools
import math
from dataclasses import replace

import numpy as np
import pytest

from springloom.mechanics.setups import POUND_FORCE
from springloom.shape.paddle import default_paddle
from springloom.tune.doubts import KILOGRAM_FORCE, ONE_IN_A_THOUSAND, Code
from springloom.tune.estimate import Estimate, estimate
from springloom.tune.evidence import SIDES, BalanceReading, BenchReading, Reading, WeightReading
from springloom.tune.model import Model
from springloom.tune.prior import CLAMP_SD
from springloom.wood.layup import HALF_BLANK_M, Layup, Strip
from springloom.wood.material import Material, species_material
from tests.verification.tune_bench import Floats, cedar, drawn, everywhere, exact, read

KG_IN_LB = KILOGRAM_FORCE / POUND_FORCE
SPREADS = (0.05, 0.1, 0.22)
"""sd of ln E: of a board well tested, tested, and only named."""


@functools.cache
def _model(sd_ln_e: float) -> Model:
    return Model(default_paddle(), cedar(sd_ln_e))


def _places(model: Model) -> list[Reading]:
    """A careful maker's readings, the blade read at its middle as well."""
    half = model.bench("a").half
    middle: list[Reading] = [BenchReading(side, 0.01, half.at_fraction(0.5), half.tip,
                                          half.loom.root, name="1/2") for side in SIDES]
    return [*everywhere(model.paddle), *middle]


def _known(model: Model, readings: list[Reading]) -> Estimate:
    return estimate(model.paddle, model.build, readings)


def _codes(known: Estimate) -> list[Code]:
    return [doubt.code for doubt in known.doubts]


def _plain(model: Model, seed: int) -> tuple[Floats, np.random.Generator]:
    """A hidden truth of ordinary wood in an ordinary clamp."""
    random = np.random.default_rng(seed)
    truth = drawn(model, random)
    truth[:2] = np.clip(truth[:2], -0.1, 0.1)
    truth[3:5] = np.clip(truth[3:5], -CLAMP_SD, CLAMP_SD)
    return truth, random


def _as_typed(readings: list[Reading], factor: float) -> list[Reading]:
    return [replace(r, load=r.load * factor) if isinstance(r, BenchReading) else r
            for r in readings]


@pytest.mark.parametrize("sd_ln_e", SPREADS)
def test_ordinary_readings_raise_no_doubt(sd_ln_e: float) -> None:
    model = _model(sd_ln_e)
    for seed in range(12):
        truth, random = _plain(model, seed)
        assert _known(model, read(model, truth, _places(model), random)).doubts == ()


@pytest.mark.parametrize("sd_ln_e", SPREADS)
@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("hung", "typed", "words"), [
    (1.0, KG_IN_LB, "as if 10 lb had been hung, not kg"),
    (KG_IN_LB, 1.0, "as if 10 kg had been hung, not lb"),
])
def test_a_load_in_the_wrong_unit_is_asked_about(
    sd_ln_e: float, seed: int, hung: float, typed: float, words: str
) -> None:
    """Ten pounds were hung and ten kilograms typed, or the other way round."""
    model = _model(sd_ln_e)
    truth, random = _plain(model, seed)
    readings = read(model, truth, _as_typed(_places(model), hung), random)
    known = _known(model, _as_typed(readings, typed / hung))
    first = known.doubts[0]
    assert first.code == "load unit"
    assert first.blocks
    assert words in first.sentence
    assert first.better is not None
    assert first.better > 20.0
    times = "a million" if first.better > 1e6 else f"{float(f'{first.better:.2g}'):,.0f} times"
    assert f"(that fits {times}" in first.sentence


def test_only_the_load_that_is_wrong_is_asked_about() -> None:
    """Two weights were hung; one of them was typed in the wrong unit."""
    model = _model(0.1)
    half = model.bench("a").half
    lighter: list[Reading] = [BenchReading(side, 0.01, half.tip, half.tip, half.loom.root,
                                           6.0 * POUND_FORCE) for side in SIDES]
    truth, random = _plain(model, 1)
    readings = read(model, truth, [*_places(model), *lighter], random)
    typed = [replace(r, load=r.load * KG_IN_LB) if isinstance(r, BenchReading)
             and r.load < 30.0 else r for r in readings]
    first = _known(model, typed).doubts[0]
    assert first.code == "load unit"
    assert "as if 6 lb had been hung, not kg" in first.sentence


@pytest.mark.parametrize("sd_ln_e", SPREADS)
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("seed", range(3))
def test_a_clamp_that_slipped_is_named(sd_ln_e: float, side: str, seed: int) -> None:
    """Seven times as far as clamps turn: the tip sinks 9 mm further than the blade bends."""
    model = _model(sd_ln_e)
    truth, random = _plain(model, seed)
    truth[3 + "ab".index(side)] = 7.0 * CLAMP_SD
    known = _known(model, read(model, truth, _places(model), random))
    slipped = [doubt for doubt in known.doubts if doubt.code == "clamp slipped"]
    assert [doubt.blocks for doubt in slipped] == [True]
    assert slipped[0].sentence.startswith(f"blade {side.upper()}'s clamp seems to have slipped")


def _of(model: Model, species: str, seed: int) -> list[Reading]:
    """A paddle really made of another wood than the model's."""
    wood, stated = species_material(species), model.build
    assert isinstance(stated, Material)
    truth, random = _plain(model, seed)
    truth[:2] += math.log(wood.e_pa / stated.e_pa) - np.mean(truth[:2])
    truth[2] = math.log(wood.density_kg_m3 / stated.density_kg_m3)
    return read(model, truth, _places(model), random)


@pytest.mark.parametrize(("species", "odd"), [
    ("balsa", "the paddle is softer than 999 of 1,000 boards"),
    ("sitka_spruce", "western redcedar like this one"),  # just at one in a thousand
    ("white_ash", "the paddle is stiffer than 999 of 1,000 boards"),
])
@pytest.mark.parametrize("seed", range(3))
def test_another_wood_is_named_and_guessed(species: str, odd: str, seed: int) -> None:
    """Stated is a board of redcedar, tested to 10 %; stiffness and weight say otherwise."""
    first = _known(_model(0.1), _of(_model(0.1), species, seed)).doubts[0]
    assert first.code == "other wood"
    assert first.blocks
    assert odd in first.sentence
    assert species_material(species).name in first.sentence


def test_another_wood_shows_in_its_weight_alone() -> None:
    """Of a board only named, ash's stiffness is within reach of redcedar; its weight is not."""
    known = _known(_model(0.22), _of(_model(0.22), "white_ash", 3))
    assert _codes(known) == ["other wood"]
    assert known.doubts[0].sentence.startswith("the paddle's weight does not go with")
    assert species_material("white_ash").name in known.doubts[0].sentence


def test_no_wood_explains_a_bend_alone() -> None:
    """Four fifths stiffer at the same weight: no wood is so, half the load would be."""
    truth, random = _plain(_model(0.1), 2)
    truth[:2] += 0.6
    known = _known(_model(0.1), read(_model(0.1), truth, _places(_model(0.1)), random))
    assert _codes(known) == ["load unit"]


def test_it_takes_one_in_a_thousand() -> None:
    """Stiffness just inside the range of 999 in 1,000 boards is only stiff."""
    model = _model(0.1)
    for share, named in ((0.8, False), (1.25, True)):
        truth = model.start()
        truth[:2] = share * ONE_IN_A_THOUSAND * math.hypot(0.1, 0.04)
        known = _known(model, exact(model, truth, _places(model)))
        assert ("other wood" in _codes(known)) is named


def test_a_layup_has_no_other_wood_to_offer() -> None:
    far = HALF_BLANK_M
    soft, hard = cedar(0.05), species_material("white_ash")
    strips = (Strip(soft, -far, -0.004, -far, far), Strip(hard, -0.004, 0.004, -far, far),
              Strip(soft, 0.004, far, -far, far))
    model = Model(default_paddle(), Layup(strips))
    truth = model.start()
    truth[:2] = 1.5
    known = _known(model, exact(model, truth, _places(model)))
    said = next(doubt.sentence for doubt in known.doubts if doubt.code == "other wood")
    assert "layups like this one" in said
    assert "go with" not in said


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_a_balance_point_on_the_wrong_side(sign: float) -> None:
    """Blade A is far heavier; whoever takes A for B finds the balance on the other side."""
    model = _model(0.1)
    truth, at = model.start(), model.layout
    truth[at.crowns("a")] += 0.003
    truth[at.edges("a")] += 0.0015
    balance = BalanceReading(0.0)
    offset = model.predict(balance, truth)[0]
    assert offset > 0.01
    readings = [*exact(model, truth, _places(model)), replace(balance, offset=sign * offset)]
    known = _known(model, readings)
    assert _codes(known) == (["wrong sign"] if sign < 0.0 else [])
    if sign < 0.0:
        assert "which blade is A?" in known.doubts[0].sentence


def test_unsteady_readings_are_told_and_block_nothing() -> None:
    model = _model(0.1)
    readings = exact(model, model.start(), _places(model))
    shaky = [replace(r, hysteresis=0.0021, scatter=0.0012, sd=0.0012)
             if isinstance(r, BenchReading) and r.name == "tip" and r.side == "b" else r
             for r in readings]
    known = _known(model, shaky)
    assert [(d.code, d.blocks) for d in known.doubts] == [("hysteresis", False),
                                                          ("scatter", False)]
    assert "loading and unloading differ by 2.1 mm" in known.doubts[0].sentence
    assert "repeats scatter by 1.2 mm" in known.doubts[1].sentence
    mild = [replace(r, hysteresis=0.0004, scatter=0.0003)
            if isinstance(r, BenchReading) else r for r in readings]
    assert _known(model, mild).doubts == ()


def test_doubts_that_block_come_first() -> None:
    model = _model(0.1)
    truth, random = _plain(model, 0)
    readings = _as_typed(read(model, truth, _places(model), random), KG_IN_LB)
    shaky = [replace(r, hysteresis=0.004) if isinstance(r, BenchReading) else r for r in readings]
    blocks = [doubt.blocks for doubt in _known(model, shaky).doubts]
    assert blocks == sorted(blocks, reverse=True)
    assert set(blocks) == {True, False}


def test_a_slip_of_the_scale_is_a_misfit() -> None:
    model = _model(0.1)
    truth, random = _plain(model, 5)
    readings = [replace(r, mass=1.4) if isinstance(r, WeightReading) else r
                for r in read(model, truth, _places(model), random)]
    known = _known(model, readings)
    assert [misfit.label for misfit in known.misfits] == ["paddle weight"]
    assert [d.sentence.partition(":")[2][:51] for d in known.doubts] == [
        " is it another wood, or is the scale wrong? It woul"]
