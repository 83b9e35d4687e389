"""Random jobs for the virtual maker: a body, a board, a plan, and a blank carved near it."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from springloom.errors import UnreachableError
from springloom.fit.bend import Limits, Target, design_for_bend
from springloom.fit.body import USES, Body
from springloom.fit.dimensions import fit, paddle_from_fit
from springloom.mechanics.setups import STANDARD_LOAD, tip_deflection
from springloom.shape.blade import HalfPaddle, Station
from springloom.shape.paddle import Paddle
from springloom.tune.estimate import WITHIN_BOARD
from springloom.tune.virtual import Random, Virtual
from springloom.wood.assess import BoardAssessment, assess
from springloom.wood.board import Board, CentralLoadTest
from springloom.wood.elastic import elastic_constants
from springloom.wood.material import Material, material_from, species_material
from springloom.wood.readings import central_load_deflection

Floats = npt.NDArray[np.float64]

SPECIES = ("western_redcedar", "yellow_cedar", "sitka_spruce", "eastern_white_pine",
           "douglas_fir_coast", "white_ash")
"""Three that are light, one common, two that are heavy and stiff."""

PROUD = (0.0010, 0.0028)
"""Wood left on all over a carved blade, m: about 1/16 in and up to twice that."""

UNEVEN, TILT, BETWEEN, WIDTH_SD = 0.00025, 0.0003, 0.0001, 0.0003
"""Standard deviations, m: of the crowns (edges half of it) at the stations, of what more is left
at the root than at the tip, of the crown between stations, of the width."""

SPARE = (0.95, 1.15)
"""The wanted deflection, over that of the fitted paddle in its species' middling wood."""

TESTED = 0.5
"""Share of makers who bend their board before they carve it; all weigh it."""

_SMALL = 1e-9


@dataclass(frozen=True, slots=True)
class Job:
    """What the maker knows and wants, and what is true.

    Attributes:
        species: the wood.
        plan, build, target, limits: what the maker knows.
        carved: the truth before tuning.
    """

    species: str
    plan: Paddle
    build: Material
    target: Target
    limits: Limits
    carved: Virtual


def random_job(random: Random) -> Job:
    """Draw a body, a board of one of the six species, a plan for it, and the carved paddle."""
    species = str(random.choice(SPECIES))
    while True:
        first = _fitted(random)
        board, wood = random_board(random, species)
        usual = species_material(species)
        wanted = tip_deflection(first.a, usual) * random.uniform(*SPARE)
        target, limits = Target(round(wanted, 3)), Limits()
        build = material_from(board)
        try:
            half = design_for_bend(first.a, build, target, limits).half
        except UnreachableError:
            continue  # the tool says so before any wood is cut
        plan = Paddle.mirrored(half)
        return Job(species, plan, build, target, limits, _carved(random, half, wood))


def _fitted(random: Random) -> Paddle:
    height = float(np.clip(random.normal(1.73, 0.09), 1.5, 1.98))
    return paddle_from_fit(fit(Body(height), use=random.choice(USES)))


def random_board(random: Random, species: str) -> tuple[BoardAssessment, Material]:
    """A board as assessed, and its true wood, drawn from what boards of the species are."""
    unread = Board(species, 2.4, 0.09, 0.04, moisture_percent=12.0, grain_slope=0.0)
    before = assess(unread)
    logs = random.multivariate_normal(before.log_mean, before.log_covariance)
    density, e = math.exp(logs[0]), math.exp(logs[1])
    mass = density * 2.4 * 0.09 * 0.04 + unread.mass_sd_kg * random.standard_normal()
    elastic = elastic_constants(before.wood, e)
    tests: tuple[CentralLoadTest, ...] = ()
    if random.random() < TESTED:
        sunk = central_load_deflection(
            e_pa=e * math.exp(0.03 * random.standard_normal()), load_n=STANDARD_LOAD, span_m=2.0,
            width_m=0.09, depth_m=0.04, e_over_g=e / elastic.shear_modulus("mixed"))
        tests = (CentralLoadTest(2.0, STANDARD_LOAD, sunk + 1e-4 * random.standard_normal()),)
    board = assess(replace(unread, mass_kg=mass, bending_tests=tests))
    usual = material_from(board)
    true = replace(usual, e_pa=e, g_pa=elastic.shear_modulus("mixed"),
                   g_width_pa=elastic.width_shear_modulus("mixed"), density_kg_m3=density)
    return board, true


def _carved(random: Random, plan: HalfPaddle, wood: Material) -> Virtual:
    halves, woods = [], []
    for _ in range(2):
        halves.append(_rough(random, plan))
        stiffer = math.exp(WITHIN_BOARD * random.standard_normal())
        woods.append(replace(wood, e_pa=wood.e_pa * stiffer, g_pa=wood.g_pa * stiffer,
                             g_width_pa=wood.g_width_pa * stiffer))
    return Virtual((halves[0], halves[1]), (woods[0], woods[1]))


def _rough(random: Random, plan: HalfPaddle) -> HalfPaddle:
    """Carve the plan: proud all over, uneven, and uneven between the stations too."""
    proud, tilt = random.uniform(*PROUD), TILT * random.standard_normal()
    own = [s.x for s in plan.stations]
    middles = [0.5 * (a + b) for a, b in itertools.pairwise(own[:-1])]
    places = np.array(sorted([*own, *middles]))
    share = (places - own[0]) / (own[-1] - own[0])
    uneven = np.interp(places, own, UNEVEN * random.standard_normal(len(own)))
    uneven += BETWEEN * random.standard_normal(len(places)) * np.isin(places, middles)
    over = np.maximum(proud + tilt * (1.0 - 2.0 * share) + uneven, 0.0)
    edge = np.interp(places, own, 0.5 * UNEVEN * random.standard_normal(len(own)))
    stations = [_cut(plan, float(x), float(o), float(e), float(random.normal(0.0, WIDTH_SD)))
                for x, o, e in zip(places, over, edge, strict=True)]
    return replace(plan, stations=tuple(stations))


def _cut(plan: HalfPaddle, x: float, over: float, edge: float, wider: float) -> Station:
    """One station of the carved blade."""
    named = next((s for s in plan.stations if abs(s.x - x) < _SMALL), None)
    if named is None:
        w, crown, ridge, *_ = (float(v) for v in plan.values(plan.parameter(x)))
        named = Station(x, 2.0 * w, crown, plan.section(x).thickness_at(0.005), ridge)
    wide = named.width + wider if named.width else 0.0
    crown = named.crown + over
    thick = None if named.edge is None else min(named.edge + 0.5 * over + edge, 0.95 * crown)
    return replace(named, width=wide, crown=crown, edge=thick)
