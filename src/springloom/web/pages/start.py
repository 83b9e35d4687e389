"""What is on the bench now, each with its stage and the one next thing to do."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources

from starlette.requests import Request
from starlette.responses import Response

from springloom.records.reading import check_layout
from springloom.store.layout import take_in
from springloom.store.paddles import Paddle, paddles
from springloom.store.people import people
from springloom.store.progress import Progress, progress_of
from springloom.web.bench import store_of, writer_of
from springloom.web.forms import Form
from springloom.web.render import onward, page
from springloom.web.routing import get, post

EXAMPLES = {"marsh_tern": "Marsh Tern, a redcedar touring paddle in millimetres",
            "low_skerry": "Low Skerry, a laminated storm paddle in inches"}


@dataclass(frozen=True, slots=True)
class OnBench:
    """One paddle of the list."""

    paddle: Paddle
    whose: str
    progress: Progress


def start(request: Request) -> Response:
    """Show the bench."""
    return page(request, "start.html", on_bench=_on_bench(request), examples=EXAMPLES)


def _on_bench(request: Request) -> list[OnBench]:
    store = store_of(request)
    with store.read() as connection:
        lying, names = paddles(connection), {one.id: one.name for one in people(connection)}
    return [OnBench(one, names.get(one.person_id or 0, ""), progress_of(store, one.id))
            for one in lying]


def open_example(request: Request, form: Form) -> Response:
    """Put an example on the bench."""
    name = form.text("example")
    chosen = name if name in EXAMPLES else next(iter(EXAMPLES))
    text = (resources.files("springloom.examples") / f"{chosen}.toml").read_text(encoding="utf-8")
    with store_of(request).write(writer_of(request).name) as pen:
        made = take_in(pen, form.uid, check_layout(tomllib.loads(text)))
    return onward(request, f"/paddles/{made.id}/tune", form.uid)


ROUTES = [get("/", start), post("/examples", open_example)]
