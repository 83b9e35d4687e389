"""Put an example on the bench."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from springloom.records.examples import example_layout
from springloom.store.layout import take_in
from springloom.web.bench import store_of, writer_of
from springloom.web.forms import Form
from springloom.web.pages.start import EXAMPLES
from springloom.web.render import onward
from springloom.web.routing import post


def open_example(request: Request, form: Form) -> Response:
    """Put an example on the bench."""
    name = form.text("example")
    chosen = name if name in EXAMPLES else next(iter(EXAMPLES))
    with store_of(request).write(writer_of(request).name) as pen:
        made = take_in(pen, form.uid, example_layout(chosen))
    return onward(request, f"/paddles/{made.id}/tune", form.uid)


ROUTES = [post("/examples", open_example)]
