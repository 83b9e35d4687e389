"""Results as plain data for JSON; every key that carries a quantity ends in its SI unit."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np

from springloom.fit.bend import BendDesign
from springloom.fit.dimensions import FitResult
from springloom.mechanics.analysis import Analysis
from springloom.records.design import Design
from springloom.shape.blade import HalfPaddle
from springloom.tune.estimate import NORMAL_90, Estimate, Known
from springloom.tune.evidence import SIDES
from springloom.wood.lognormal import LogNormal
from springloom.wood.verdict import judge

Data = dict[str, Any]


def plain(value: Any) -> Any:
    """Convert results to what JSON knows: numbers, texts, lists and tables.

    A lognormal becomes its median and 90 % interval, without unit in its own keys because the
    key above it carries one.
    """
    if isinstance(value, LogNormal):
        low, high = value.interval(0.9)
        return {"median": value.median, "low_90": low, "high_90": high, "sd_ln": value.sd_ln}
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = dataclasses.fields(value)
        return {_NAMES.get(f.name, f.name): plain(getattr(value, f.name)) for f in fields}
    if isinstance(value, np.ndarray | np.generic):
        return plain(value.tolist())
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value


_NAMES = {"percentile": "strength_quantile"}  # 0.05, which no percentile is


def fit_data(result: FitResult) -> Data:
    """Dimensions with their rules."""
    return {
        "use": result.use,
        "dimensions": plain(result.dimensions),
        "estimated": plain(result.estimated),
        "cautions": list(result.cautions),
    }


def board_data(design: Design) -> Data:
    """Board before and after its evidence, and the verdict."""
    found = design.assessment
    verdict = judge(found)
    return {
        "species": found.board.species,
        "verdict": verdict.grade,
        "reasons": [
            {"code": r.code, "grade": r.grade, "sentence": r.sentence} for r in verdict.reasons
        ],
        "before": plain(found.before),
        "after": plain(found.after),
        "evidence": [
            {"kind": e.kind, f"observed_{_TOLD[e.kind]}": e.observed,
             f"expected_{_TOLD[e.kind]}": e.expected, "sigma": e.sigma,
             "sd_ln_e_before": e.sd_ln_e_before, "sd_ln_e_after": e.sd_ln_e_after}
            for e in found.evidence
        ],
        "contradictions": plain(found.contradictions),
        "assumptions": list(found.assumptions),
    }


_TOLD = {"weighing": "density_kg_m3", "bending test": "e_pa",
         "tap tone": "e_over_density_m2_per_s2"}
"""What each kind of reading tells, with its unit."""


def stations_data(half: HalfPaddle) -> list[Data]:
    """Station values of one blade."""
    return [
        {"name": s.name, "x_m": s.x, "width_m": s.width, "crown_m": s.crown, "edge_m": s.edge,
         "ridge": s.ridge, "ridge_below": s.ridge if s.ridge_bottom is None else s.ridge_bottom,
         "face_share": s.share}
        for s in half.stations
    ]


def forecast_data(design: Design, result: Analysis, spread: tuple[float, float]) -> Data:
    """Analysis of a design; ``spread`` is the sd of ln E and of ln density."""
    sd_e, sd_density = spread
    tip, mass = result.a.line.tip_deflection_m, result.mass.mass_kg
    return {
        "name": design.name,
        "length_m": design.paddle.length,
        "blade_a": stations_data(design.paddle.a),
        "blade_b": stations_data(design.paddle.b),
        "tip_deflection_90_m": _band(tip, sd_e),
        "mass_90_kg": _band(mass, sd_density),
        "result": plain(result),
    }


def _band(median: float, sd_ln: float) -> list[float]:
    spread = math.exp(NORMAL_90 * sd_ln)
    return [median / spread, median * spread]


def bend_data(design: Design, made: tuple[BendDesign, BendDesign]) -> Data:
    """Both blades' thickness schedules for a wanted bend; alike where the design's are."""
    target = design.wanted()
    return {
        "name": design.name,
        "target": plain(target),
        "blade_a": _schedule(made[0]),
        "blade_b": _schedule(made[1]),
    }


def _schedule(made: BendDesign) -> Data:
    return {
        "stations": stations_data(made.half),
        "deflection_m": made.deflection_m,
        "mass_of_two_kg": made.mass_kg,
        "unlimited_mass_of_two_kg": made.unlimited_mass_kg,
        "cost_of_limits_kg": made.cost_kg,
        "binding": plain(made.binding),
        "character": plain(made.character),
    }


def estimate_data(known: Estimate) -> Data:
    """What the readings say of every unknown, before and after, and which of them moved it."""
    return {
        "modulus_pa": {side: _known(known.modulus(side), log=True) for side in SIDES},
        "density_kg_m3": _known(known.density(), log=True),
        "clamp_turning_rad_per_n_m": {side: _known(known.clamp_turning(side)) for side in SIDES},
        "crowns_m": {side: [_known(k) for k in known.crowns(side)] for side in SIDES},
        "edges_m": {side: [_known(k) for k in known.edges(side)] for side in SIDES},
        "widths_m": {side: [_known(k) for k in known.widths(side)] for side in SIDES},
        "beyond_the_plans_ridge_fullness": {
            side: [_known(k) for k in known.ridges(side)] for side in SIDES
        },
        "longer_m": {side: _known(known.longer(side)) for side in SIDES},
        "misfits": plain(known.misfits),
    }


def _known(item: Known, *, log: bool = False) -> Data:
    """One unknown; what moved it in sd of what was believed before (``log``: of its logarithm)."""
    usual = item.before_sd / item.before if log else item.before_sd
    return {
        "name": item.name, "before": item.before, "before_sd": item.before_sd,
        "value": item.value, "sd": item.sd, "low_90": item.low, "high_90": item.high,
        "stays_wide": bool(item.wide),
        "moved_by": [{"evidence": m.evidence, "shift_in_sd": m.shift / usual}
                     for m in item.moved_by],
    }
