"""Two designs beside one another: stations, outlines, bend, weight and margins."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup
from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import Response

from springloom.drawing.screen_bend import BentLine, screen_bend
from springloom.drawing.screen_views import screen_views
from springloom.errors import InputError
from springloom.report.words import Words
from springloom.shape.blade import HalfPaddle, Station
from springloom.store.paddles import design_version, design_versions, paddles
from springloom.web.bench import store_of, words_of
from springloom.web.figures import figure
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.pages.design_work import (
    STRETCH,
    Worked,
    bent_lines,
    board_of,
    design_typed,
    worked,
)
from springloom.web.routing import get

Row = tuple[str, str, str, str]
NONE = "\N{EN DASH}"


@dataclass(frozen=True)
class Side:
    """One of the two: its choice in the form, its name, and itself."""

    key: str
    name: str
    work: Worked


def others(request: Request) -> list[tuple[str, str]]:
    """List what a design can be compared with: this paddle's versions, other paddles."""
    with store_of(request).read() as connection:
        number = paddle_id_of(request)
        versions = [(f"v{one.number}", f"version {one.number}{f', {one.why}' if one.why else ''}"
                     [:60]) for one in design_versions(connection, number)][::-1]
        rest = [(f"p{one.id}", one.name) for one in paddles(connection) if one.id != number]
    return versions + rest


def compare(request: Request) -> Response:
    """Show two designs side by side."""
    known = others(request)
    first = _chosen(request, "one", known, 0)
    second = _chosen(request, "other", known, min(1, len(known) - 1))
    words = words_of(request)
    with store_of(request).read() as connection:
        one, two = (_side(connection, paddle_id_of(request), key, dict(known))
                    for key in (first, second))
    return paddle_page(request, "design/compare.html", "design", known=known, one=one, two=two,
                       stretch=STRETCH, stations=stations(one, two, words),
                       totals=totals(one, two, words), outlines=outlines(one, two, words),
                       bend=bend_of(one, two, words))


def _chosen(request: Request, name: str, known: list[tuple[str, str]], usual: int) -> str:
    key = request.query_params.get(name, known[usual][0])
    if key not in dict(known):
        raise InputError("is no design on this bench", field=name, given=key)
    return key


def _side(connection: Connection, paddle_id: int, key: str, names: dict[str, str]) -> Side:
    number = int(key[1:])
    if key.startswith("p"):
        paddle_id, version = number, None
    else:
        version = number
    found = design_version(connection, paddle_id, version)
    return Side(key, names[key],
                worked(design_typed(found.design, board_of(connection, found))))


def stations(one: Side, two: Side, words: Words) -> list[dict[str, Any]]:
    """Tables of stations, blade by blade, with the second's difference from the first."""
    apart = not (one.work.design.paddle.is_symmetric and two.work.design.paddle.is_symmetric)
    made = []
    for blade in ("A", "B") if apart else ("A",):
        rows = _station_rows(_half(one, blade), _half(two, blade), words)
        made.append({"blade": blade if apart else "", "rows": rows})
    return made


def _half(side: Side, blade: str) -> HalfPaddle:
    paddle = side.work.design.paddle
    return paddle.b if blade == "B" else paddle.a


def _station_rows(first: HalfPaddle, second: HalfPaddle, words: Words) -> list[Row]:
    names = dict.fromkeys(s.name for half in (first, second) for s in half.stations)
    ours, theirs = ({s.name: s for s in half.stations} for half in (first, second))
    placed = sorted(names, key=lambda name: (ours.get(name) or theirs[name]).x)
    what: tuple[tuple[str, Callable[[Station], float | None]], ...] = (
        ("width", lambda s: s.width), ("crown", lambda s: s.crown), ("edge", lambda s: s.edge))
    return [_row(f"{name}, {kind}", (_at(ours, name, value), _at(theirs, name, value)),
                 words.length)
            for name in placed for kind, value in what
            if not (kind == "width" and name == "tip")]


def _at(stations: dict[str, Station], name: str,
        value: Callable[[Station], float | None]) -> float | None:
    return value(stations[name]) if name in stations else None


def _row(name: str, pair: tuple[float | None, float | None], show: Callable[[float], str]) -> Row:
    first, second = pair
    said = [NONE if value is None else show(value) for value in pair]
    if first is None or second is None:
        return name, said[0], said[1], NONE
    if said[0] == said[1]:
        return name, said[0], said[1], "alike"
    gap = second - first
    apart = show(abs(gap))
    if apart == show(0.0):  # they differ by less than is shown, and were rounded apart
        return name, said[0], said[1], "hardly"
    return name, said[0], said[1], f"{'+' if gap > 0 else '−'}{apart}"


def totals(one: Side, two: Side, words: Words) -> list[Row]:
    """Lengths, weight, bend and margins side by side."""
    pair = one.work, two.work

    def row(name: str, value: Callable[[Worked], float | None],
            show: Callable[[float], str]) -> Row:
        return _row(name, (value(pair[0]), value(pair[1])), show)

    under = _loads(pair, words)
    rows = [
        row("overall length", lambda w: w.design.paddle.length, words.length),
        row("loom, between the shoulders",
            lambda w: 2.0 * w.design.paddle.a.loom.half_length, words.length),
        row("weight, bare wood", lambda w: w.result.mass.mass_kg if w.result else None,
            words.mass),
        row("swing inertia",
            lambda w: w.result.mass.swing_inertia_kg_m2 if w.result else None,
            lambda value: f"{value:.3f} kg·m²"),
        row(f"tip of blade A sinks, {under}", lambda w: _tip(w, "A"), words.length),
        row(f"tip of blade B sinks, {under}", lambda w: _tip(w, "B"), words.length),
    ]
    cases = dict.fromkeys(m.case for w in pair for _, b in w.blades for m in b.margins)
    return rows + [_row(f"margin: {case}", (_margin(pair[0], case), _margin(pair[1], case)),
                        lambda value: f"{value:.2f}") for case in cases]


def _loads(pair: tuple[Worked, Worked], words: Words) -> str:
    loads = dict.fromkeys(words.hung(w.load_n) for w in pair)
    return f"under {' and '.join(loads)}"


def _tip(work: Worked, blade: str) -> float | None:
    if work.result is None:
        return None
    return (work.result.b if blade == "B" else work.result.a).line.tip_deflection_m


def _margin(work: Worked, case: str) -> float | None:
    return min((m.margin for _, b in work.blades for m in b.margins if m.case == case),
               default=None)


def outlines(one: Side, two: Side, words: Words) -> Markup:
    """Both outlines over one another, the second one dashed."""
    paddle = one.work.design.paddle
    return figure(screen_views(paddle.a, paddle.b, words.system,
                               over=two.work.design.paddle.a), "outlines-")


def bend_of(one: Side, two: Side, words: Words) -> Markup:
    """Both bent lines, the second one dashed as its outline is."""
    named = [BentLine(name, line.x, line.fall, dashed=side is two)
             for side, name in ((one, "first"), (two, "second"))
             for line in bent_lines(side.work)[:1]]
    if not named:
        return Markup()
    load = " and ".join(dict.fromkeys(words.hung(side.work.load_n) for side in (one, two)))
    return figure(screen_bend(named, None, load, words.system), "bends-")


ROUTES = [get("/paddles/{paddle:int}/design/compare", compare)]
