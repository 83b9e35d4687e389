"""What a forecast says, sentence by sentence: for a terminal's page and for the browser's."""

from __future__ import annotations

import math
from collections.abc import Callable

from springloom.fit.bend import BendDesign, Limits
from springloom.mechanics.analysis import Analysis
from springloom.mechanics.setups import HANDS_LOAD
from springloom.mechanics.strength import SAFE_MARGIN, Margin, SplittingScreen
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle
from springloom.tune.estimate import NORMAL_90

MARGINS_SAY = ("margins compare with the strength that 95 % of such boards exceed; what each case "
               "assumes is common practice, no source")

SCHEDULE_HEADS = ("station", "from centre", "crown now", "crown wanted", "edge")


def band(median: float, sd_ln: float) -> tuple[float, float]:
    """Return the ends between which a lognormal lies 90 times in 100."""
    factor = math.exp(NORMAL_90 * sd_ln)
    return median / factor, median * factor


def sure_of(median: float, sd_ln: float, show: Callable[[float], str]) -> str:
    """``90 % sure of 690 g to 750 g``."""
    low, high = band(median, sd_ln)
    return f"90 % sure of {show(low)} to {show(high)}"


def gives_first(margin: Margin, words: Words) -> str:
    """What gives first in a case, and where."""
    return f"{margin.kind} at {words.length(abs(margin.at_m))}"


def stress_words(margin: Margin, words: Words) -> str:
    """Stress and strength of a case."""
    return f"{words.bare_stress(margin.stress_pa)} of {words.stress(margin.strength_pa)}"


def margin_warning(margin: Margin) -> str:
    """Say that a case is not borne."""
    return (f"WARNING: {margin.case}: margin {margin.margin:.2f} is below {SAFE_MARGIN:g}; one "
            f"board in twenty would break ({margin.assumption})")


def splitting_words(screen: SplittingScreen, words: Words) -> str:
    """Say how thin the thinnest edge is beside the default blade's."""
    return (f"splitting screen {screen.index:.2f} (1 is the default redcedar blade), thinnest edge "
            f"{words.length(screen.edge_thickness_m)} at {words.length(screen.at_m)}: a screening "
            "only" + ("; edges this thin split at a knock, leave more wood" if screen.caution
                      else ""))


def weighs_words(result: Analysis, sd_density: float, words: Words) -> str:
    """Weight with its band, and the wood's volume."""
    mass = result.mass
    return (f"weighs {words.mass(mass.mass_kg)} bare "
            f"({sure_of(mass.mass_kg, sd_density, words.mass)}); "
            f"{words.volume(mass.volume_m3)} of wood")


def swing_words(result: Analysis, words: Words) -> str:
    """Balance, swing and buoyancy."""
    mass = result.mass
    return (f"balances {words.length(abs(mass.balance_m))} from the centre; swing inertia "
            f"{mass.swing_inertia_kg_m2:.3f} kg·m²; floats with {words.force(mass.buoyancy_n)} to "
            "spare")


def hands_words(result: Analysis, words: Words) -> str | None:
    """What it gives in two hands; None for a paddle too short for that set-up."""
    if result.hands_m is None:
        return None
    return (f"held in two hands with {words.hung(HANDS_LOAD)} on one blade it gives "
            f"{words.both(result.hands_m)}")


def tone_words(result: Analysis) -> str:
    """Its tones."""
    tones = ", ".join(f"{f:.0f} Hz" for f in result.free_hz)
    clamped = ", ".join(f"{f:.0f} Hz" for f in result.a.clamped_hz)
    return f"tones: hung free {tones}; clamped at the root {clamped}"


def binding_words(made: BendDesign, words: Words) -> tuple[str, ...]:
    """Which limit holds which crown, and what they cost together; empty where none does."""
    held = tuple(
        f"{b.station}: {b.limit} keeps {words.length(b.crown_m)} where the bend asks for "
        f"{words.length(b.wanted_m)}"
        for b in made.binding
    )
    if not held:
        return ()
    cost = 1e3 * made.cost_kg
    said = f"together they cost {cost:.0f} g" if cost >= 0.5 else "they cost no weight"
    return (*held, said)


def past_limits(half: HalfPaddle, limits: Limits, words: Words) -> tuple[str, ...]:
    """Say which crowns and edges of a blade are past the limits that were set for it."""
    said = []
    for station, least in zip(half.stations, limits.least_crowns(half).tolist(), strict=True):
        if station.crown < least * (1.0 - 1e-9):
            said.append(f"{station.name}: a crown of {words.length(station.crown)} is below the "
                        f"least of {words.length(least)}")
        if station.crown > limits.blank * (1.0 + 1e-9):
            said.append(f"{station.name}: a crown of {words.length(station.crown)} is more than "
                        f"the blank's {words.length(limits.blank)}")
        if station.edge is not None and station.edge < limits.least_edge * (1.0 - 1e-9):
            said.append(f"{station.name}: an edge of {words.length(station.edge)} is below the "
                        f"least of {words.length(limits.least_edge)}")
    return tuple(said)


def schedule_rows(before: HalfPaddle, after: HalfPaddle,
                  words: Words) -> tuple[tuple[str, ...], ...]:
    """Rows of a thickness schedule, the present crown beside the wanted one."""
    return tuple(
        (new.name, words.length(new.x), words.length(old.crown), words.both(new.crown),
         "-" if new.edge is None else words.length(new.edge))
        for old, new in zip(before.stations, after.stations, strict=True)
    )
