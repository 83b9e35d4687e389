"""Estimates from height against people who were measured, and against another country's survey."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import pytest

from springloom.fit.body import Body
from springloom.fit.dimensions import fit
from springloom.fit.rules import FINGER_JOINT, Rule

# The first 29 men of the public file of the 2012 survey of U.S. Army personnel (ANSUR II,
# Gordon et al., NATICK/TR-15/007), mm: stature, span, forearm-hand length, biacromial breadth,
# hand length, overhead fingertip reach sitting, sitting height. The scatter about a share of
# height and the constant of the overhead reach were taken from these men too; the shares of
# height were not, nor anything that compares one rule with another.
ANSUR_II = np.array(
    [
        (1776, 1782, 477, 401, 193, 1447, 928), (1702, 1745, 476, 394, 195, 1380, 884),
        (1735, 1867, 491, 427, 203, 1447, 917), (1655, 1708, 467, 401, 194, 1357, 903),
        (1914, 2035, 550, 435, 218, 1572, 919), (1720, 1817, 470, 404, 190, 1445, 898),
        (1810, 1965, 536, 453, 220, 1572, 957), (1850, 1939, 499, 425, 198, 1576, 952),
        (1777, 1812, 475, 415, 197, 1483, 922), (1811, 1918, 508, 406, 200, 1509, 932),
        (1780, 1840, 488, 412, 200, 1487, 969), (1733, 1823, 484, 408, 194, 1427, 871),
        (1814, 1995, 505, 453, 210, 1543, 906), (1861, 1956, 507, 466, 194, 1558, 966),
        (1709, 1726, 447, 414, 184, 1406, 918), (1740, 1883, 506, 413, 203, 1461, 864),
        (1694, 1739, 459, 398, 188, 1397, 899), (1766, 1828, 482, 385, 203, 1484, 929),
        (1748, 1749, 458, 394, 179, 1410, 915), (1794, 1850, 489, 399, 198, 1546, 969),
        (1780, 1846, 488, 420, 195, 1447, 949), (1680, 1695, 450, 395, 185, 1399, 914),
        (1653, 1706, 450, 398, 180, 1348, 867), (1959, 2072, 559, 440, 227, 1651, 959),
        (1755, 1809, 476, 410, 194, 1455, 945), (1630, 1655, 440, 375, 181, 1339, 874),
        (1825, 1876, 478, 442, 199, 1536, 961), (1795, 1828, 470, 402, 192, 1507, 958),
        (1745, 1803, 476, 403, 193, 1415, 906),
    ],
    dtype=float,
)
COLUMNS = {"arm_span_m": 1, "cubit_m": 2, "shoulder_breadth_m": 3, "hand_length_m": 4}


def deviations(field: str) -> npt.NDArray[np.float64]:
    """How far each man is from his estimate, in its standard deviations."""
    found = []
    for row in 1e-3 * ANSUR_II:
        figure = Body(float(row[0])).figures()[field]
        found.append((row[COLUMNS[field]] - figure.value_m) / figure.sd_m)
    return np.array(found)


@pytest.mark.parametrize("field", COLUMNS)
def test_estimates_cover_men_who_were_measured(field: str) -> None:
    z = deviations(field)
    # Men are longer in arm and broader than the mean of both sexes, so z is not centred: half a
    # standard deviation from that, as much again because soldiers of 2012 are no Britons of 1981.
    assert abs(z.mean()) < 1.2
    assert np.mean(np.abs(z) < 2.0) >= 0.8
    # And the standard deviation is no mere excuse: the men scatter at least half as much.
    assert z.std() > 0.5


def test_all_these_men_are_let_in_and_get_a_paddle_people_carve() -> None:
    for height, span, cubit, shoulders, hand, _, _ in 1e-3 * ANSUR_II:
        body = Body(float(height), float(span), float(cubit), float(shoulders), float(hand))
        length = fit(body).value_m("length")
        # span + cubit of grown men, the tallest 1.96 m: 2.0 to 2.7 m
        assert 2.0 < length < 2.7


@pytest.mark.parametrize("height", [1.5, 1.6, 1.7, 1.8])
def test_arm_span_against_a_chinese_survey(height: float) -> None:
    # GB/T 10000-2023, span over height, as a secondary page quotes it (mm): men
    # 87.363 + 0.955 h, women 72.468 + 0.946 h.
    men, women = 0.087363 + 0.955 * height, 0.072468 + 0.946 * height
    span = Body(height).figures()["arm_span_m"]
    # Another population: within one standard deviation of the estimate, either sex.
    assert abs(span.value_m - men) < span.sd_m
    assert abs(span.value_m - women) < span.sd_m


def said(body: Body, rule_id: str) -> Rule:
    return next(r for r in fit(body).dimension("length").rules if r.rule_id == rule_id)


def test_overhead_reach_against_men_who_were_measured() -> None:
    inside = []
    for height, span, _, _, hand, sitting_reach, sitting_height in 1e-3 * ANSUR_II:
        fingertips = sitting_reach + height - sitting_height
        rule = said(Body(float(height), float(span), hand_length_m=float(hand)), "length-reach")
        inside.append(rule.low_m <= fingertips - FINGER_JOINT * hand <= rule.high_m)
    # Its range is two standard deviations of the residual either way: 95 % of men, 26 of 29 to
    # allow for the luck of a small sample.
    assert sum(inside) >= 26


def test_two_rules_makers_take_for_one_agree_on_men_who_were_measured() -> None:
    # common practice, no source: arm span plus cubit is where the fingers curl over the tip.
    apart = []
    for height, span, cubit, _, hand, sitting_reach, sitting_height in 1e-3 * ANSUR_II:
        fingertips = sitting_reach + height - sitting_height
        apart.append((span + cubit) / (fingertips - FINGER_JOINT * hand) - 1.0)
    # The length's own slack is 2 % either side.
    assert abs(np.mean(apart)) < 0.02
    assert np.std(apart) < 0.02


@pytest.mark.parametrize(
    ("stature", "reach", "hand"), [(1.740, 2.060, 0.190), (1.610, 1.905, 0.175)]
)
def test_overhead_reach_against_tabulated_easy_reaches(
    stature: float, reach: float, hand: float
) -> None:
    # Pheasant, Bodyspace (1996), Table 10.1: vertical grip reach of British men and women (from
    # memory); ch. 2, dimension 34: an easy reach without stretch, fingertips 60 % of a hand above
    # the gripped rod. Stretching adds to that, and no more than the shoulder's lift, 5 %.
    tip = said(Body(stature, hand_length_m=hand), "length-reach").value_m + FINGER_JOINT * hand
    easy = reach + 0.6 * hand
    assert easy < tip < 1.05 * easy


@pytest.mark.parametrize("hand", [0.17, 0.19, 0.21])
def test_loom_girth_against_rated_handle_diameters(hand: float) -> None:
    # Kong & Lowe, Int. J. Industrial Ergonomics 35 (2005) 495: 24 people rated round handles of
    # 30, 35 and 40 mm the most comfortable, best at 19.7 % of hand length. The grip rule, which
    # knows nothing of that, has to come out within those handles.
    girth = fit(Body(1.75, hand_length_m=hand)).value_m("loom_girth")
    assert 0.030 < girth / math.pi < 0.040
    assert girth / math.pi == pytest.approx(0.197 * hand, rel=1.0 / 7.0)
