"""What the next reading of a round is, and how it is taken."""

from __future__ import annotations

from springloom.report.tune_words import at_words
from springloom.report.words import Words
from springloom.shape.blade import EDGE_INSET
from springloom.tune.walk import Step

SORTS = {"crown": "Crown", "edge": "Edge", "weight": "Weight", "bench": "Bend"}


def step_title(step: Step) -> str:
    """What is read: ``Crown at 1/4, blade A``."""
    if step.side is None:
        return "Weight of the whole paddle"
    where = f"{at_words(step.place)}, blade {step.side.upper()}"
    return f"Sinks at {where}" if step.sort == "bench" else f"{SORTS[step.sort]} at {where}"


def step_how(step: Step, words: Words) -> str:
    """How to take it."""
    if step.sort == "crown":
        return "Calipers square across the ridge, both faces together, the thickest there is."
    if step.sort == "edge":
        return (f"Calipers {words.length(EDGE_INSET)} in from the edge, both faces together; "
                "either edge.")
    if step.sort == "weight":
        return "The whole paddle on the scale, as it is now."
    return (f"Clamp blade {str(step.side).upper()} with the clamp's outer edge at the root. Mark "
            "where it lies unloaded, lower the weight onto the tip by hand, and read how far "
            f"{at_words(step.place)} sinks.")
