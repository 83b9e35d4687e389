"""Which board for this paddle: the order, its reason, and numbers as each board's own page has."""

from __future__ import annotations

from dataclasses import replace

import pytest

from springloom.fit.bend import Limits, Target, design_blades_for_bend
from springloom.fit.choice import GROUNDS, Suitability, in_order, promise, suitability
from springloom.mechanics.mass import mass_properties
from springloom.mechanics.setups import tip_deflection
from springloom.report.choice_words import choice_words
from springloom.report.words import Words
from springloom.shape.paddle import Paddle, default_paddle
from springloom.wood.assess import assess
from springloom.wood.board import Board
from springloom.wood.material import material_from

CEDAR = Board("western_redcedar", 2.44, 0.089, 0.040, mass_kg=3.2, grain_slope=0.03,
              moisture_percent=11.0)
TARGET = Target(0.033)


def looked_at(board: Board, target: Target | None = TARGET,
              limits: Limits | None = None) -> Suitability:
    return suitability(default_paddle(), assess(board), target, limits or Limits())


def test_numbers_are_those_of_the_board_s_own_design() -> None:
    paddle, build = default_paddle(), material_from(assess(CEDAR))
    found = looked_at(CEDAR)
    made = design_blades_for_bend(paddle, build, TARGET)
    carved = Paddle.mirrored(made[0].half)
    assert found.made is not None
    assert found.made[0].half == made[0].half
    assert found.mass_kg == mass_properties(carved, build).mass_kg
    assert found.tip_m == tip_deflection(paddle.a, build)
    assert found.fits


CASES = {
    "size": replace(CEDAR, length_m=2.0, mass_kg=None),
    "verdict": replace(CEDAR, grain_slope=1.0 / 9.0),
    "weight": replace(CEDAR, mass_kg=3.5),
}


@pytest.mark.parametrize("ground", CASES)
def test_each_ground_puts_a_board_behind(ground: str) -> None:
    good, worse = looked_at(CEDAR), looked_at(CASES[ground])
    assert in_order([worse, good]) == [1, 0]
    assert worse.behind(good) == ground
    assert good.behind(worse) is None


def test_a_bend_that_cannot_be_had_is_told_and_comes_after_one_that_can() -> None:
    stiff = Limits(least_crown_mid=0.022, least_crown_tip=0.018)
    found = looked_at(CEDAR, Target(0.09), stiff)
    assert found.made is None
    assert found.refused is not None
    good = looked_at(CEDAR)
    assert found.behind(good) == "bend"
    words = choice_words(default_paddle(), [good, found], Words("mm"))[1]
    assert words.wanted.startswith("can't be had")
    assert words.schedules == ()


def test_a_weak_board_is_behind_for_its_strength() -> None:
    thin = Paddle.mirrored(default_paddle().a.with_crowns(
        [0.6 * s.crown for s in default_paddle().a.stations]))
    weak = suitability(thin, assess(CEDAR), None, Limits())
    assert weak.behind(looked_at(CEDAR, None)) == "strength"
    assert "WARNING" in choice_words(thin, [weak], Words("mm"))[0].warning


def test_as_good_ones_stay_in_their_order() -> None:
    one = looked_at(CEDAR)
    assert in_order([one, one, one]) == [0, 1, 2]
    said = choice_words(default_paddle(), [one, one], Words("in"))
    assert said[1].why == "As good as the one before it"


def test_the_first_is_told_its_merits_and_the_next_what_is_against_it() -> None:
    found = [looked_at(CEDAR), *(looked_at(board) for board in CASES.values())]
    ordered = [found[i] for i in in_order(found)]
    said = choice_words(default_paddle(), ordered, Words("mm"))
    assert said[0].why.startswith("The board will do; verdict use")
    assert all(words.why.startswith("Behind the one before it") for words in said[1:])
    assert any("Too short by" in lack for words in said for lack in words.lacks)


def test_grounds_are_in_the_order_they_are_looked_at() -> None:
    assert len(looked_at(CEDAR, None).order) == len(GROUNDS)


def test_what_promises_most_is_reckoned_first() -> None:
    paddle = default_paddle()
    kept = promise(paddle, assess(CEDAR))
    assert all(kept < promise(paddle, assess(board)) for board in CASES.values())
