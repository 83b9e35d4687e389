"""What a maker can read at the bench, each reading with its own uncertainty.

Every reading says what was read (``value``), the standard deviation of its own error (``own_sd``)
and what its error has in common with other readings' (``shared``: a weight's own error, say, which
all readings under that weight carry).
"""

from __future__ import annotations

from springloom.tune.evidence_load import (
    BalanceReading,
    BenchReading,
    HandsReading,
    TapReading,
    WeightReading,
)
from springloom.tune.evidence_shape import (
    FullnessReading,
    LengthReading,
    ThicknessReading,
    WidthReading,
)
from springloom.tune.instruments import (
    DEFAULT_BENCH,
    DEFAULT_CALIPER,
    DEFAULT_GAUGE,
    DEFAULT_LENGTH,
    DEFAULT_RECORDER,
    DEFAULT_SCALE,
    FACES,
    INSTRUMENTS,
    RECORDERS,
    SCALES,
    SIDES,
    Face,
    Repeated,
    Side,
    repeated,
)

Reading = (ThicknessReading | FullnessReading | WidthReading | LengthReading | BenchReading
           | HandsReading | TapReading | WeightReading | BalanceReading)

__all__ = [
    "DEFAULT_BENCH", "DEFAULT_CALIPER", "DEFAULT_GAUGE", "DEFAULT_LENGTH", "DEFAULT_RECORDER",
    "DEFAULT_SCALE", "FACES", "INSTRUMENTS", "RECORDERS", "SCALES", "SIDES", "BalanceReading",
    "BenchReading", "Face", "FullnessReading", "HandsReading", "LengthReading", "Reading",
    "Repeated", "Side", "TapReading", "ThicknessReading", "WeightReading", "WidthReading",
    "repeated",
]
