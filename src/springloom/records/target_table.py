"""The [target] table: a deflection, another paddle's bend, or as light as is safe."""

from __future__ import annotations

from collections.abc import Callable

from pydantic import BaseModel

from springloom.errors import InputError
from springloom.fit.bend import Target
from springloom.records.layout import DesignFile, TargetTable
from springloom.records.told import optional_length, told
from springloom.shape.paddle import Paddle
from springloom.tune.targets import Blade, Carried, lightest_target, target_like
from springloom.units import System, parse_force, parse_length

Other = tuple[tuple[Blade, Blade], float]
"""Another paddle's blades, and how well their bend is known."""

_INSTEAD = ("sinks", "progression", "as_light_as_safe")


def target_from(
    layout: DesignFile, paddle: Paddle, other: Callable[[str], Other]
) -> tuple[Target | None, Carried | None]:
    """Return the target, and where it was carried over from if it was.

    Args:
        layout: what was typed.
        paddle: the plan.
        other: reads the paddle that a file's name stands for.

    Raises:
        InputError: too much or too little is said, or what no blade does.
    """
    table, units = layout.target, layout.units
    if table is None:
        return None, None
    with told(table, "target", units, **keys_of("target", TargetTable)):
        if table.like is not None:
            carried = _like(table, table.like, units, paddle, other)
            return carried.target, carried
        return _stated(table, units, paddle), None


def _stated(table: TargetTable, units: System, paddle: Paddle) -> Target:
    sinks = optional_length(table.sinks, units, "target.sinks")
    load, near = _load(table), _tolerance(table, units)
    if table.as_light_as_safe:
        return lightest_target(paddle.a, sinks, load, float(table.progression), near)
    if sinks is None:
        raise InputError("is missing", field="target.sinks", allowed="how far the tip sinks, such "
                         "as '33 mm'; or like = another design file, or as_light_as_safe = true")
    return Target(sinks, load, float(table.progression), near)


def _like(
    table: TargetTable, name: str, units: System, paddle: Paddle, other: Callable[[str], Other]
) -> Carried:
    for key in _INSTEAD:
        if key in table.model_fields_set:
            raise InputError("can't stand beside like, which says it already",
                             field=f"target.{key}", given=getattr(table, key),
                             allowed="one of the two")
    blades, sd_ln = other(name)
    return target_like(blades, paddle.a, _load(table), _tolerance(table, units), sd_ln)


def _load(table: TargetTable) -> float:
    return parse_force(table.under, field="target.under")


def _tolerance(table: TargetTable, units: System) -> float:
    return parse_length(table.within, default=units, field="target.within")


def keys_of(where: str, table: type[BaseModel]) -> dict[str, str]:
    """Keys for errors whose field already is a path into the file."""
    return {f"{where}.{key}": key for key in table.model_fields}
