"""From a species and the readings on one board to that board's stiffness, density and strength.

Everything is a logarithm and every logarithm is normal, so that readings are taken in exactly, by
Gaussian conditioning. The state holds the six quantities of :mod:`springloom.wood.variability`
at the board's own moisture and grain, then what the readings share: the errors of length, width
and thickness, of the species' E/G, and of each method itself. Thickness enters a bending test
with its third power; because the state carries its error, two tests of one board are not taken
for twice the evidence.

Before any reading: the species' averages (E_L = 1.10 x tabulated modulus), moved to the board's
moisture (eq 5-3, eq 4-14) and sloping grain (Hankinson, Table 5-12), with the spread between
boards and the doubt about moisture and grain. Moisture and grain move only this starting point: a
bending test or a tap tone meets the board as it is.

Readings that contradict each other are named, not weighed against each other: what is believed
after them is then worth no more than the worse of the two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from springloom.wood import readings
from springloom.wood.board import Board, CentralLoadTest, TapTone
from springloom.wood.elastic import elastic_constants, elastic_ratios, ratio_sd_ln
from springloom.wood.estimates import E_L_OVER_MOE, ESTIMATE_SD_LN, Basis, value_at_12
from springloom.wood.grain import STEEPEST_SLOPE, remaining_percent, stiffness_factor
from springloom.wood.lognormal import LogNormal
from springloom.wood.moisture import density_at, property_at
from springloom.wood.species import PropertyName, Species
from springloom.wood.variability import QUANTITIES, Quantity, covariance

Array = NDArray[np.float64]
Kind = Literal["weighing", "bending test", "tap tone"]

BENDING_METHOD_SD_LN = 0.01
"""What a bending test gets wrong as a method (seating, dents): common practice, no source."""

TAP_METHOD_SD_LN = 0.03
"""What a tap tone gets wrong as a method: wood answers a few percent stiffer to a fast load than
to a slow one (from memory), and stiffness differs along the board."""

CONTRADICTION_SIGMA = 3.0
"""Two readings of stiffness further apart than this many standard deviations contradict."""

_SHARED = ("length", "width", "thickness", "e_over_g", "bending method", "tap method")
_AT = {name: i for i, name in enumerate((*QUANTITIES, *_SHARED))}

_PROPERTY: dict[Quantity, PropertyName] = {
    "e": "moe_pa", "mor": "mor_pa", "comp": "comp_par_pa", "shear": "shear_pa",
    "tperp": "tperp_pa",
}


@dataclass(frozen=True, slots=True)
class BoardProperties:
    """A board's six properties as distributions; E along the board, strengths of clear wood."""

    density_kg_m3: LogNormal
    e_pa: LogNormal
    mor_pa: LogNormal
    comp_pa: LogNormal
    shear_pa: LogNormal
    tperp_pa: LogNormal


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reading and what it did.

    ``observed`` is what it says by itself: a density in kg/m3 (weighing), a modulus in Pa
    (bending test), a modulus over density in m2/s2 (tap tone); ``expected`` is the species'
    median of the same, ``sigma`` how far apart they lie in standard deviations of both.
    """

    kind: Kind
    observed: float
    expected: float
    sigma: float
    sd_ln_e_before: float
    sd_ln_e_after: float


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Two readings of stiffness that can't both be right: ``ratio`` is the first over the second.

    The numbers ``first`` and ``second`` point into the assessment's evidence.
    """

    first: int
    second: int
    ratio: float
    sigma: float


@dataclass(frozen=True, slots=True)
class BoardAssessment:
    """What is believed of a board before its readings and after them.

    ``log_mean`` and ``log_covariance`` describe the six logarithms together, after the readings,
    in the order of :data:`springloom.wood.variability.QUANTITIES` (kg/m3 and Pa).
    """

    board: Board
    before: BoardProperties
    after: BoardProperties
    evidence: tuple[Evidence, ...]
    contradictions: tuple[Contradiction, ...]
    log_mean: tuple[float, ...]
    log_covariance: tuple[tuple[float, ...], ...]
    assumptions: tuple[str, ...]

    @property
    def wood(self) -> Species:
        """The species row the board belongs to."""
        return self.board.wood

    def basis(self, quantity: Quantity) -> Basis:
        """Tell whether the species' figure is tabulated, from memory, or estimated."""
        if quantity == "density":
            return "memory" if self.wood.from_memory("sg_12") else "table"
        return value_at_12(self.wood, _PROPERTY[quantity]).basis


@dataclass(frozen=True, slots=True)
class _Reading:
    """A reading as a linear equation in the state: value = row . state + noise."""

    kind: Kind
    value: float
    row: Array
    noise_variance: float


@dataclass(frozen=True, slots=True)
class _State:
    mean: Array
    covariance: Array

    def predict(self, reading: _Reading) -> tuple[float, float]:
        """Return mean and standard deviation of what a reading should be."""
        spread = self.covariance @ reading.row
        variance = float(reading.row @ spread) + reading.noise_variance
        return float(reading.row @ self.mean), math.sqrt(variance)

    def given(self, reading: _Reading) -> _State:
        """Return the state after a reading: exact Gaussian conditioning."""
        spread = self.covariance @ reading.row
        expected, sd = self.predict(reading)
        gain = spread / sd**2
        kept = self.covariance - np.outer(gain, spread)
        return _State(self.mean + gain * (reading.value - expected), 0.5 * (kept + kept.T))

    def sd(self, name: str) -> float:
        """Return the standard deviation of one entry."""
        return math.sqrt(float(self.covariance[_AT[name], _AT[name]]))

    def properties(self) -> BoardProperties:
        """Return the six quantities as distributions."""
        values = [LogNormal(math.exp(self.mean[_AT[q]]), self.sd(q)) for q in QUANTITIES]
        return BoardProperties(*values)


def assess(board: Board) -> BoardAssessment:
    """Return what is believed of a board: before its readings, after them, and how it came about.

    Source of the starting point: :mod:`springloom.wood.species` and
    :mod:`springloom.wood.variability`; of the readings: :mod:`springloom.wood.readings`.
    """
    start = _starting_state(board)
    taken = _readings(board)
    state, steps = start, []
    for reading in taken:
        after = state.given(reading)
        steps.append(_evidence(reading, start, state.sd("e"), after.sd("e")))
        state = after
    six = len(QUANTITIES)
    return BoardAssessment(
        board=board,
        before=start.properties(),
        after=state.properties(),
        evidence=tuple(steps),
        contradictions=_contradictions(start, taken),
        log_mean=tuple(float(x) for x in state.mean[:six]),
        log_covariance=tuple(tuple(float(x) for x in r) for r in state.covariance[:six, :six]),
        assumptions=_assumptions(board),
    )


def _evidence(reading: _Reading, start: _State, before: float, after: float) -> Evidence:
    expected, sd = start.predict(reading)
    sigma = (reading.value - expected) / sd
    return Evidence(reading.kind, math.exp(reading.value), math.exp(expected), sigma, before,
                    after)


def _contradictions(start: _State, taken: list[_Reading]) -> tuple[Contradiction, ...]:
    """Compare every two readings of stiffness: their difference is free of E itself."""
    state = start
    for reading in taken:
        state = state.given(reading) if reading.kind == "weighing" else state
    found = []
    stiff = [(i, r) for i, r in enumerate(taken) if r.kind != "weighing"]
    for at, (i, one) in enumerate(stiff):
        for j, other in stiff[at + 1:]:
            noise = one.noise_variance + other.noise_variance
            gap = _Reading(one.kind, one.value - other.value, one.row - other.row, noise)
            expected, sd = state.predict(gap)
            excess = gap.value - expected
            if abs(excess) > CONTRADICTION_SIGMA * sd:
                found.append(Contradiction(i, j, math.exp(excess), excess / sd))
    return tuple(found)


def _assumptions(board: Board) -> tuple[str, ...]:
    said = []
    if board.moisture_percent is None:
        said.append("moisture was not read: taken as {:g} ± {:g} %".format(*board.moisture))
    if board.grain_slope is None:
        slope, sd = board.grain
        said.append(f"slope of grain was not read: taken as 1 in {1 / slope:.0f}, "
                    f"give or take {sd:g}")
    if board.ring == "mixed":
        said.append("lie of the growth rings was not given: taken as mixed")
    return tuple(said)


# ---- the starting point --------------------------------------------------------------------


def _starting_state(board: Board) -> _State:
    wood, n = board.wood, len(QUANTITIES)
    at_12, cov_12 = _species_logs(wood)
    wet, cov_wet = _moisture_effect(wood, *board.moisture)
    slope, cov_slope = _grain_effect(wood, *board.grain)
    mean, spread = np.zeros(len(_AT)), np.zeros((len(_AT), len(_AT)))
    mean[:n] = at_12 + wet + slope
    spread[:n, :n] = cov_12 + cov_wet + cov_slope
    shared = (board.length_sd_m / board.length_m, board.width_sd_m / board.width_m,
              board.thickness_sd_m / board.thickness_m, ratio_sd_ln(wood),
              BENDING_METHOD_SD_LN, TAP_METHOD_SD_LN)
    spread[range(n, len(_AT)), range(n, len(_AT))] = np.square(shared)
    return _State(mean, spread)


def _species_logs(wood: Species) -> tuple[Array, Array]:
    """Return mean and covariance of the six logarithms at 12 % moisture, straight grain.

    The lognormals keep the table's averages as their means: mu = ln(mean) - sigma^2 / 2.
    """
    spread = covariance(wood.group)
    mean = np.log(_averages(wood, 12.0)) - 0.5 * np.diag(spread)
    for i, quantity in enumerate(QUANTITIES):
        if quantity != "density" and value_at_12(wood, _PROPERTY[quantity]).basis == "estimated":
            spread[i, i] += ESTIMATE_SD_LN**2
    return mean, spread


def _averages(wood: Species, moisture_percent: float) -> Array:
    values = {q: property_at(wood, name, moisture_percent) for q, name in _PROPERTY.items()}
    values["density"] = density_at(wood, moisture_percent)
    values["e"] *= E_L_OVER_MOE
    return np.array([values[quantity] for quantity in QUANTITIES])


def _moisture_effect(wood: Species, percent: float, sd: float) -> tuple[Array, Array]:
    """Return mean and covariance of ln(property at M / property at 12 %) over the doubt in M."""
    at_12 = _averages(wood, 12.0)
    nodes, _ = _gauss_nodes()
    rows = [np.log(_averages(wood, max(0.0, percent + sd * node)) / at_12) for node in nodes]
    return _moments(np.array(rows))


def _grain_effect(wood: Species, slope: float, sd: float) -> tuple[Array, Array]:
    """Return mean and covariance of ln(property in this grain / straight) over the doubt in it.

    Beyond 1 in 5, where the table ends, the loss at 1 in 5 is taken, which is too little.
    """
    et = elastic_ratios(wood).et
    nodes, _ = _gauss_nodes()
    rows = np.zeros((len(nodes), len(QUANTITIES)))
    for row, node in zip(rows, nodes, strict=True):
        s = min(abs(slope + sd * node), STEEPEST_SLOPE)
        row[_AT["e"]] = math.log(stiffness_factor(s, et))
        row[_AT["mor"]] = math.log(remaining_percent(s, "mor") / 100.0)
        row[_AT["comp"]] = math.log(remaining_percent(s, "comp_par") / 100.0)
    return _moments(rows)


def _moments(rows: Array) -> tuple[Array, Array]:
    _, weights = _gauss_nodes()
    mean: Array = weights @ rows
    off = rows - mean
    spread: Array = (off.T * weights) @ off
    return mean, spread


@cache
def _gauss_nodes() -> tuple[Array, Array]:
    """Nine Gauss-Hermite nodes of a standard normal, and their weights."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(9)
    return np.asarray(nodes), np.asarray(weights / weights.sum())


# ---- readings as equations -----------------------------------------------------------------


def _readings(board: Board) -> list[_Reading]:
    taken = [] if board.mass_kg is None else [_weighing(board, board.mass_kg)]
    taken += [_bending(board, test) for test in board.bending_tests]
    taken += [_tap(board, tap) for tap in board.tap_tones]
    return taken


def _row(**entries: float) -> Array:
    row = np.zeros(len(_AT))
    for name, value in entries.items():
        row[_AT[name.replace("_method", " method")]] = value
    return row


def _weighing(board: Board, mass_kg: float) -> _Reading:
    """ln(m / (L b t)) = ln density - errors of L, b and t."""
    density = mass_kg / (board.length_m * board.width_m * board.thickness_m)
    row = _row(density=1.0, length=-1.0, width=-1.0, thickness=-1.0)
    return _Reading("weighing", math.log(density), row, (board.mass_sd_kg / mass_kg) ** 2)


def _bending(board: Board, test: CentralLoadTest) -> _Reading:
    """ln E_obs = ln E - error of width - (3 - 2 share) error of depth + share * error of E/G."""
    width, depth = board.section(edgewise=test.edgewise)
    e_over_g = _e_over_g(board, edgewise=test.edgewise)
    value = readings.central_load_modulus(
        load_n=test.load_n, span_m=test.span_m, width_m=width, depth_m=depth,
        deflection_m=test.deflection_m, e_over_g=e_over_g)
    ratio = readings.shear_share(e_over_g, depth, test.span_m)
    share = ratio / (1.0 + ratio)
    sizes = _sizes(edgewise=test.edgewise, width=-1.0, depth=-(3.0 - 2.0 * share))
    noise = (test.load_sd_n / test.load_n, test.deflection_sd_m / test.deflection_m,
             (3.0 - 2.0 * share) * test.span_sd_m / test.span_m)
    row = _row(e=1.0, e_over_g=share, bending_method=1.0, **sizes)
    return _Reading("bending test", math.log(value), row, sum(part**2 for part in noise))


def _tap(board: Board, tap: TapTone) -> _Reading:
    """ln(E/density)_obs = ln E - ln density + sizes, E/G and method, by their derivatives."""
    _, depth = board.section(edgewise=tap.edgewise)
    e_over_g = _e_over_g(board, edgewise=tap.edgewise)

    def log_specific(length: float, deep: float, ratio: float) -> float:
        value = readings.specific_modulus(tap.frequency_hz, board.length_m * math.exp(length),
                                          depth * math.exp(deep), e_over_g * math.exp(ratio))
        return math.log(value)

    step = 1e-4
    by_length, by_depth, by_ratio = (
        (log_specific(*(step * unit)) - log_specific(*(-step * unit))) / (2.0 * step)
        for unit in np.eye(3))
    sizes = _sizes(edgewise=tap.edgewise, width=0.0, depth=by_depth)
    row = _row(e=1.0, density=-1.0, length=by_length, e_over_g=by_ratio, tap_method=1.0, **sizes)
    noise = (2.0 * tap.sd_hz / tap.frequency_hz) ** 2
    return _Reading("tap tone", log_specific(0.0, 0.0, 0.0), row, noise)


def _sizes(*, edgewise: bool, width: float, depth: float) -> dict[str, float]:
    """Name the errors of the bent section by the board's own sizes."""
    if edgewise:
        return {"thickness": width, "width": depth}
    return {"width": width, "thickness": depth}


def _e_over_g(board: Board, *, edgewise: bool) -> float:
    unit = elastic_constants(board.wood, 1.0)
    pick = unit.width_shear_modulus if edgewise else unit.shear_modulus
    return 1.0 / pick(board.ring)
