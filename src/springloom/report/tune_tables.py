"""The tables of a round of tuning, the same on a terminal page and in the browser."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from springloom.report.words import Words
from springloom.tune.advice import Advice, Removal
from springloom.tune.counsel import Counsel
from springloom.tune.estimate import Estimate, Known
from springloom.tune.evidence import SIDES, Side
from springloom.tune.prediction import Between, BladePrediction, Prediction

Row = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table: what it shows, and cells of text; ``align`` as :func:`.words.grid` takes it."""

    title: str
    headers: Row
    rows: tuple[Row, ...]
    align: str = ""


def removal_grid(advice: Advice, words: Words) -> Grid:
    """Passes station by station, and what calipers should then read."""
    a, b = ({removal.station: removal for removal in blade.removals} for blade in advice.blades)
    both = sorted({one.x_m: one.station for one in (*b.values(), *a.values())}.items())
    names = dict.fromkeys(name for _, name in both)
    rows = [(name, *_cells(a.get(name), words), *_cells(b.get(name), words)) for name in names]
    headers = ("station", "A: passes", "crown", "edge", "B: passes", "crown", "edge")
    unlike = any(r.upper_passes != r.lower_passes for r in (*a.values(), *b.values()))
    each = "each face (upper + lower)" if unlike else "each face"
    title = f"Passes off {each}, and what calipers should then read ({words.system})"
    return Grid(title, headers, tuple(rows))


def _cells(removal: Removal | None, words: Words) -> Row:
    if removal is None:
        return "", "", ""
    upper, lower = removal.upper_passes, removal.lower_passes
    passes = "-" if not upper + lower else str(upper) if upper == lower else f"{upper} + {lower}"
    return passes, words.bare(removal.crown_after_m), words.bare(removal.edge_after_m)


def planes(advice: Advice) -> bool:
    """Whether anything comes off."""
    return any(blade.call == "plane" for blade in advice.blades)


def outcome_grid(advice: Advice, predicted: Prediction, words: Words) -> Grid:
    """How far both blades sink now and after planing, the chance of too far, margins."""
    planed, rows = planes(advice), []
    for b, then in zip(advice.blades, (predicted.a, predicted.b), strict=True):
        row = (f"blade {b.side.upper()}", words.bare(b.deflection_m), words.bare(b.predicted_m),
               _range(then.tip_then_m, words), f"{100 * b.overshoot_chance:.1f} %",
               f"{then.weakest.then_ratio.value:.2f}", words.mass(b.mass_saved_kg))
        rows.append(row if planed else (row[0], row[1], row[3], row[5]))
    headers = ("", "sinks", "then", "90 % sure of", "too far", "margin", "saves")
    when = "What it does now, and should then" if planed else "What it does now"
    return Grid(f"{when} ({words.system})",
                headers if planed else (headers[0], headers[1], headers[3], headers[5]),
                tuple(rows))


def _range(between: Between, words: Words) -> str:
    return f"{words.bare(between.low_90)} to {words.bare(between.high_90)}"


def places_grid(blade: BladePrediction, words: Words) -> Grid:
    """The bent line place by place, and crowns."""
    rows = [
        (name, words.bare(now.value), words.bare(then.value), words.bare(wanted),
         words.bare(crown.value), _range(crown, words))
        for name, now, then, wanted, crown in zip(
            blade.stations, blade.line_now_m, blade.line_then_m, blade.line_wanted_m,
            blade.crowns_then_m, strict=True)
    ]
    title = f"Blade {blade.side.upper()} under the weight, place by place ({words.system})"
    headers = ("station", "sinks", "then", "wanted", "crown then", "90 % sure of")
    return Grid(title, headers, tuple(rows))


def margins_grid(blade: BladePrediction) -> Grid:
    """Strength margins, load case by load case."""
    rows = tuple((m.case, m.kind, f"{m.now_ratio:.2f}", f"{m.then_ratio.value:.2f}",
                  f"{m.then_ratio.low_90:.2f} to {m.then_ratio.high_90:.2f}")
                 for m in blade.margins)
    headers = ("case", "gives by", "now", "then", "90 % sure of")
    return Grid(f"Blade {blade.side.upper()}: strength margins", headers, rows, "llrrr")


def detail_grids(told: Counsel, words: Words) -> list[Grid]:
    """What a round rests on: lines and margins of both blades; none while in doubt."""
    if told.prediction is None:
        return []
    return [grid for blade in (told.prediction.a, told.prediction.b)
            for grid in (places_grid(blade, words), margins_grid(blade))]


def unknown_grids(known: Estimate, words: Words) -> list[Grid]:
    """Every unknown: what is believed now, its 90 % interval, what was before, what moved it."""
    wood = [_unknown(known.modulus(side), words.modulus) for side in SIDES]
    wood.append(_unknown(known.density(), words.density))
    wood += [_unknown(known.clamp_turning(side), _turning) for side in SIDES]
    return [_unknowns("Wood and clamp", wood), *(_blade(known, side, words) for side in SIDES)]


def _blade(known: Estimate, side: Side, words: Words) -> Grid:
    lengths = [*known.crowns(side), *known.edges(side), *known.widths(side), known.longer(side)]
    rows = [_unknown(one, words.length) for one in lengths]
    rows += [_unknown(one, _share) for one in known.ridges(side)]
    return _unknowns(f"Shape of blade {side.upper()}", rows)


def _unknowns(title: str, rows: Sequence[Row]) -> Grid:
    return Grid(title, ("", "now", "90 % sure of", "before", "moved most by"), tuple(rows), "lrrrl")


def _unknown(item: Known, write: Callable[[float], str]) -> Row:
    moved = item.moved_by[0].evidence if item.moved_by else "nothing yet"
    if item.wide:
        moved += "; still wide"
    return (item.name, write(item.value), f"{write(item.low)} to {write(item.high)}",
            f"{write(item.before)} ± {write(item.before_sd)}", moved)


def _turning(rad_per_n_m: float) -> str:
    return f"{round(1e3 * rad_per_n_m, 2) + 0.0:.2f} mrad per N·m"  # never -0.00


def _share(ratio: float) -> str:
    return f"{round(ratio, 2) + 0.0:.2f}"
