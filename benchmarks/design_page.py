"""How long the server takes for one change on the design page: drawings, figures and words."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

from starlette.requests import Request

from springloom.store.opening import Store
from springloom.store.paddles import paddle
from springloom.store.settings import signing_key
from springloom.web.app import bench_app
from springloom.web.bench import Bench
from springloom.web.forms import Form
from springloom.web.local import local_writer
from springloom.web.pages.design import live
from springloom.web.pages.design_form import fields_of
from springloom.web.tokens import Session
from tests.verification.web_client import bench_at, put_example

CHANGES = ("16", "16.5", "17", "18")


def live_call(store: Store, number: int = 1) -> tuple[Request, list[Form]]:
    """Return a request for the live parts of a paddle's design, and forms as one types along."""
    app = bench_app(Bench(store, signing_key(store)))
    request = Request({
        "type": "http", "method": "POST", "app": app, "path": f"/paddles/{number}/design/live",
        "path_params": {"paddle": number}, "query_string": b"", "state": {},
        "headers": [(b"hx-request", b"true"), (b"host", b"127.0.0.1")],
    })
    writer = local_writer(store)
    request.state.writer, request.state.session = writer, Session.new(writer.id)
    request.state.said, request.state.local = "", True
    with store.read() as connection:
        fields = fields_of(paddle(connection, number).design)
    forms = [Form({name: (text,) for name, text in
                   (fields | {"blade.crown[3]": crown, "shown_b": "yes"}).items()})
             for crown in CHANGES]
    return request, forms


def seconds(repeats: int = 60) -> list[float]:
    """Wall time of each answer on the demonstration paddle, warm."""
    taken = []
    with tempfile.TemporaryDirectory() as folder:
        store = bench_at(Path(folder))
        put_example(store)
        request, forms = live_call(store)
        for n in range(repeats + 5):
            start = time.perf_counter()
            answer = live(request, forms[n % len(forms)])
            taken.append(time.perf_counter() - start)
            assert answer.status_code == 200
        store.close()
    return taken[5:]
