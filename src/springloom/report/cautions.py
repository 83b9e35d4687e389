"""The usual cautions, each shown where its work is done."""

from __future__ import annotations

DUST = (
    "Wood dust harms lungs and skin, redcedar's above all: wear a fitted dust mask, collect the "
    "dust, and stop if you cough or itch."
)
BLADES = (
    "Edge tools: clamp the work, keep both hands behind the edge, cut away from yourself, keep "
    "the edge sharp."
)
GLUE = "Adhesives and finishes: follow the maker's safety sheet; gloves, eye protection, fresh air."
RAGS = (
    "Oily rags can catch fire by themselves: dry them flat outdoors or keep them under water in a "
    "closed metal can."
)
AT_SEA = (
    "A wooden paddle can break without warning. Load it gently ashore first, carry a spare, and "
    "don't stake your life on one paddle or on these numbers."
)
BENCH_TEST = (
    "On the bench: stand clear of the loaded blade, lower the weight by hand, and never hang more "
    "than the test asks for."
)
DEFER = "Local codes and licensed practice come before anything said here."

CARVING = (DUST, BLADES, DEFER)
TUNING = (BENCH_TEST, DUST, BLADES, DEFER)
USING = (AT_SEA, DEFER)
EVERY = (DUST, BLADES, GLUE, RAGS, BENCH_TEST, AT_SEA, DEFER)
