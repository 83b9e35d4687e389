"""What is on the bench now, each with its stage and the one next thing to do."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from springloom.store.figures import Progress
from springloom.store.names import person_names
from springloom.store.paddles import Paddle, paddles
from springloom.store.progress import progress_of
from springloom.web.bench import store_of, writer_of
from springloom.web.frame import next_address
from springloom.web.render import page
from springloom.web.routing import get

EXAMPLES = {"marsh_tern": "Marsh Tern, a redcedar touring paddle in millimetres",
            "low_skerry": "Low Skerry, a laminated storm paddle in inches"}


@dataclass(frozen=True, slots=True)
class OnBench:
    """One paddle of the list."""

    paddle: Paddle
    whose: str
    is_yours: bool
    progress: Progress


def start(request: Request) -> Response:
    """Show the bench."""
    return page(request, "start.html", on_bench=_on_bench(request), examples=EXAMPLES,
                next_address=next_address)


def _on_bench(request: Request) -> list[OnBench]:
    """What lies there, first what is made for who asks."""
    store, me = store_of(request), writer_of(request).name.casefold()
    with store.read() as connection:
        lying, names = paddles(connection), person_names(connection)
    whose = [(one, names.get(one.person_id or 0, "")) for one in lying]
    found = [OnBench(one, name, name.casefold() == me, progress_of(store, one.id))
             for one, name in whose]
    return sorted(found, key=lambda one: not one.is_yours)


ROUTES = [get("/", start)]
