"""How the paddle should bend: typed, like another paddle, or as light as is safe."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import InputError, SpringloomError
from springloom.records.design import Design
from springloom.report.tune_words import target_words
from springloom.report.words import Words
from springloom.store.layout import design_of
from springloom.store.opening import Store
from springloom.store.paddles import Paddle, paddle, paddles, save_design
from springloom.tune.targets import Carried, planned, recorded, target_like
from springloom.units import System, parse_force, parse_length
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.forms import Form, Problem, problem_of
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.render import onward
from springloom.web.routing import get, post

_USUAL = {"sinks": "", "under": "10 lb", "within": "1.5 mm", "progression": "1.9"}
WAYS = (("sinks", "The tip sinks so far"), ("like", "Like another paddle"),
        ("light", "As light as is safe"))


def target_page(request: Request) -> Response:
    """Show the wanted bend, to be changed."""
    return _page(request)


def _page(request: Request, status: int = 200, form: Form | None = None,
          problem: Problem | None = None) -> Response:
    store, number = store_of(request), paddle_id_of(request)
    with store.read() as connection:
        found, others = paddle(connection, number), paddles(connection)
        others += paddles(connection, aside=True)
    typed = {ask: form.text(ask) for ask in (*_USUAL, "way", "like")} if form else (
        _standing(found, system_of(request)))
    choices = [(one.id, one.name) for one in others if one.id != number]
    return paddle_page(request, "tune/target.html", "tune", status, typed=typed, ways=WAYS,
                       others=choices, seen=found.number,
                       why=found.why, problem=problem,
                       **({"form": form} if form else {}))


def _standing(found: Paddle, system: System) -> dict[str, str]:
    """The target as it is, ready to be typed over."""
    table, units = found.design.get("target") or {}, found.design.get("units", "mm")
    typed = {key: str(table.get(key, usual)) for key, usual in _USUAL.items()}
    for key in ("sinks", "within"):
        typed[key] = _named(typed[key], units) if units != system else typed[key]
    way = "light" if table.get("as_light_as_safe") else "sinks"
    return {**typed, "way": way, "like": ""}


def _named(text: str, units: System) -> str:
    """A bare number with its unit's name."""
    return f"{text} {units}" if text.replace(".", "", 1).isdigit() else text


def save_target(request: Request, form: Form) -> Response:
    """Keep the wanted bend as a new version of the design."""
    store, number = store_of(request), paddle_id_of(request)
    try:
        with store.read() as connection:
            found = paddle(connection, number)
        target, why = _target(store, found, form, words_of(request))
        with store.write(writer_of(request).name) as pen:
            save_design(pen, form.uid, number, {**found.design, "target": target}, why,
                        form.whole("seen"))
    except SpringloomError as error:
        known = problem_of(error.about(error.field.removeprefix("target.")),
                           (*_USUAL, "like", "way"))
        return _page(request, 422, form, known)
    return onward(request, f"/paddles/{number}/tune", form.uid, "The wanted bend is kept.")


def _target(
    store: Store, found: Paddle, form: Form, words: Words
) -> tuple[dict[str, Any], str]:
    """The [target] table, and why."""
    units, way = found.design.get("units", "mm"), form.text("way")
    typed = {key: form.text(key) for key in _USUAL if form.text(key)}
    for key in ("sinks", "within"):
        if key in typed and words.system != units:
            typed[key] = _named(typed[key], words.system)
    table: dict[str, Any] = dict(typed)
    if "progression" in table:
        table["progression"] = _number(typed["progression"])
    if way == "light":
        return {**table, "as_light_as_safe": True}, "as light as is safe"
    if way == "like":
        return _like(store, found, form, typed, words)
    if "sinks" not in table:
        raise InputError("is missing", field="target.sinks", allowed="how far the tip sinks, such "
                         "as 33 mm")
    return table, f"the tip is to sink {typed['sinks']}"


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise InputError("needs a number", field="target.progression", given=text,
                         allowed="0 an even arc, 2 strongly outward") from None


def _like(
    store: Store, found: Paddle, form: Form, typed: dict[str, str], words: Words
) -> tuple[dict[str, Any], str]:
    """Another stored paddle's bend carried over, as it is known today.

    It is kept as a deflection: the target stays where it is while the wood comes off, whatever is
    read on the other paddle meanwhile.
    """
    with store.read() as connection:
        other = design_of(connection, form.whole("like"))
        mine = design_of(connection, found.id)
    carried = _carried(other, mine, typed)
    target = carried.target
    table = {
        "sinks": f"{1e3 * target.deflection_m:.3f} mm", "under": typed.get("under", "10 lb"),
        "within": typed.get("within", "1.5 mm"), "progression": round(target.progression, 4),
    }
    return table, f"like {other.name}. {target_words(found.name, target, carried, words)}"


def _carried(other: Design, mine: Design, typed: dict[str, str]) -> Carried:
    blades, sd_ln = recorded(other.tuned().now()) if other.readings else (
        planned(other.paddle, other.build))
    load = parse_force(typed.get("under", "10 lb"), field="target.under")
    near = parse_length(typed.get("within", "1.5 mm"), default=mine.units, field="target.within")
    return target_like(blades, mine.paddle.a, load, near, sd_ln)


ROUTES = [get("/paddles/{paddle:int}/tune/target", target_page),
          post("/paddles/{paddle:int}/tune/target", save_target)]
