"""Words of the layout sheet: the order, how near to work to a line, what guides itself."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from springloom.drawing.layout_sheet import LayoutText, layout_sheets
from springloom.drawing.model import Drawing
from springloom.drawing.offsets import offsets
from springloom.records.design import Design
from springloom.report.cautions import BLADES, DEFER, DUST
from springloom.report.words import Words
from springloom.shape.paddle import Paddle
from springloom.shape.stages import STAGES, Carving, Stage, carvings, stages

SAW_OUT = 0.0015
"""How far outside a line to saw, m (common practice, no source)."""
MEET = 0.001
"""Two flats with less than this between them meet: nothing is left to see, m."""


def layout_drawings(design: Design, words: Words) -> tuple[Drawing, ...]:
    """Return the layout sheets of a design."""
    return layout_sheets(design.paddle, layout_text(design, words), words.system)


def layout_text(design: Design, words: Words) -> LayoutText:
    """Return what the layout sheet says of a design."""
    paddle = design.paddle
    return LayoutText(
        title=design.name,
        subtitle=f"{words.length(paddle.length)} paddle",
        order=ORDER,
        close=(
            f"Saw {words.length(SAW_OUT)} outside the outline and the taper, then plane until the "
            "line is just gone.",
            "Plane each flat until half of the line's breadth is left along both its lines: the "
            "lines are where a flat ends.",
        ),
        guides=(*guides(paddle, words), left_said(paddle, words)),
        cautions=(DUST, BLADES, DEFER),
    )


ORDER = (
    "Square the blank. Draw the centre line on all four sides and the places square across.",
    "Draw the outline on the face, saw and plane it square. Draw the taper on both edges, saw and "
    "plane it.",
    "Draw a and c on both faces, b and e on both edges. Plane flat 1 from a to b.",
    "Draw d and f on flat 1. Plane flat 2 from c to d and flat 3 from e to f.",
    "Take off each arris once more by eye, then round.",
)


def guides(paddle: Paddle, words: Words) -> tuple[str, ...]:
    """Say which flats guide themselves, and how wide the bands are that guide the others."""
    bands = [_bands(carving) for carving in dict.fromkeys(carvings(paddle))]
    after_first, after_all = (bands[0][n] if len(bands) == 1 else _joined([b[n] for b in bands])
                              for n in (0, 1))
    said = [_met("Flats 1", after_first), _met("Flats 2 and 3", after_all)]
    if not any(said):
        said = ["No two flats meet, so each ends at two lines of its own."]
    said.append(
        f"Between both lines b stays the edge band, {_range(after_first.edge, words)} wide: keep "
        "it square until flats 3 are planed."
    )
    said.append("Flats 2 and 3 each start from an arris that runs their whole length: planed "
                "evenly along it they keep to their own slope; d and f only say when to stop.")
    return tuple(sentence for sentence in said if sentence)


@dataclass(frozen=True, slots=True)
class _Bands:
    """Least and greatest width of what stays of face and edge between the flats, m."""

    ridge: tuple[float, float]
    edge: tuple[float, float]


def _bands(carving: Carving) -> tuple[_Bands, _Bands]:
    """Return what stays after the first flats and after all, root to the last full station."""
    half = carving.half
    u = np.linspace(0.0, half.stations[-2].x, 400)
    found = []
    for name in ("first flats", "second flats"):
        top, low = carving.faces(u, STAGES.index(name))
        ridge = 2.0 * top[:, -2, 0]
        edge = top[:, 1, 1] + low[:, 1, 1]
        found.append(_Bands((float(ridge.min()), float(ridge.max())),
                            (float(edge.min()), float(edge.max()))))
    return found[0], found[1]


def _joined(bands: list[_Bands]) -> _Bands:
    def both(pairs: list[tuple[float, float]]) -> tuple[float, float]:
        return min(p[0] for p in pairs), max(p[1] for p in pairs)

    return _Bands(both([b.ridge for b in bands]), both([b.edge for b in bands]))


def _met(name: str, bands: _Bands) -> str:
    where = [place for place, (least, _) in (("the centre line", bands.ridge),
                                             ("the middle of the edge", bands.edge))
             if least < MEET]
    if not where:
        return ""
    always = bands.ridge[1] < MEET or bands.edge[1] < MEET
    return (f"{name} {'meet' if always else 'come together in places'} at "
            f"{' and at '.join(where)}: there {'they' if always else 'the flats'} guide "
            "themselves; stop when they touch.")


def left_said(paddle: Paddle, words: Words) -> str:
    """Say how much wood stands outside the surface after each round of flats."""
    found = {stage.name: stage for stage in stages(paddle)}
    first, second = found["first flats"], found["second flats"]
    where = left_place(paddle, first, words)
    return (f"At most {_thin(first, words)} of wood is left outside the wanted surface after flat "
            f"1 ({where}), {_thin(second, words)} after flats 2 and 3. Along its middle every flat "
            "already touches that surface.")


def left_place(paddle: Paddle, stage: Stage, words: Words) -> str:
    """Return the name of the place where most is left."""
    at = stage.left_at_m or 0.0
    half = paddle.a if at >= 0.0 else paddle.b
    blade = "" if paddle.is_symmetric else f", blade {'A' if at >= 0.0 else 'B'}"
    if abs(at) < ON_LOOM * half.loom.half_length:
        return "on the loom"
    row = min(offsets(half, words.system)[1:], key=lambda row: abs(row.x - abs(at)))
    article = "the " if row.name in _ARTICLE else ""
    return f"at {article}{row.name}{blade}"


ON_LOOM = 0.97  # of half its length; further out is "at the shoulder"
_ARTICLE = ("shoulder", "root", "tip")


def _thin(stage: Stage, words: Words) -> str:
    return words.length(stage.left_m or 0.0)


def _range(pair: tuple[float, float], words: Words) -> str:
    return words.range(*pair)
