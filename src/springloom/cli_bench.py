"""The commands that serve the bench in the browser: ``serve``, and ``demo`` at its end."""

from __future__ import annotations

import argparse
import uuid
from typing import TYPE_CHECKING

from springloom.errors import InputError

if TYPE_CHECKING:
    from springloom.store.opening import Store

EXAMPLES = ("marsh_tern", "low_skerry")


def add_serve(serve: argparse.ArgumentParser) -> None:
    """Say what ``serve`` understands."""
    add_port(serve)
    serve.add_argument("--store", metavar="PLACE",
                       help="a file or the URL of a database (the file in your data folder)")
    serve.add_argument("--share", action="store_true",
                       help="let a phone or a class in, with a join code")
    serve.add_argument("--workers", type=int, default=1, metavar="N",
                       help="how many processes answer (1)")


def add_port(command: argparse.ArgumentParser) -> None:
    """Say what serving needs in any case."""
    command.add_argument("--port", type=int, default=None, metavar="N",
                         help="where to serve; 0 takes any that is free (8431)")
    command.add_argument("--open", action="store_true", help="open a browser on it")


def serve_bench(chosen: argparse.Namespace) -> None:
    """Serve a store until stopped."""
    from springloom.store.opening import open_store
    from springloom.web.serve import PORT, Serving, serve

    port = PORT if chosen.port is None else chosen.port
    how = Serving(port, chosen.share, chosen.workers, chosen.open)
    serve(open_store(chosen.store), how)


def serve_demo(chosen: argparse.Namespace) -> None:
    """Serve a bench of its own with the examples on it until stopped."""
    from springloom.store.opening import open_store
    from springloom.web.serve import PORT, Serving, serve

    store = open_store(chosen.out / "bench.db")
    lay_out_examples(store)
    try:
        serve(store, Serving(PORT if chosen.port is None else chosen.port, browser=chosen.open))
    except InputError:
        if chosen.port is not None:
            raise
        serve(store, Serving(0, browser=chosen.open))  # the usual port is taken: any other will do


def lay_out_examples(store: Store) -> None:
    """Put the examples on a bench, once."""
    from springloom.records.examples import example_layout
    from springloom.store.layout import take_in

    for name in EXAMPLES:
        mark = uuid.uuid5(uuid.NAMESPACE_URL, f"springloom:example:{name}.toml")
        with store.write("the demonstration") as pen:
            take_in(pen, str(mark), example_layout(name))

