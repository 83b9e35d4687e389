"""What every request needs: the store, the key that signs, and where the bench is served."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request

from springloom.report.words import Words
from springloom.store.opening import Store
from springloom.store.writers import Writer
from springloom.units import System

LOCAL_HOSTS = frozenset({"localhost", "127.0.0.1", "[::1]"})
UNITS_COOKIE = "springloom_units"


@dataclass(frozen=True)
class Bench:
    """One served bench.

    Attributes:
        store: where everything is kept.
        key: signs sessions and forms; lives in the store, so every worker has the same.
        shared: whether others than this machine may come, with a join code.
        hosts: names and addresses it answers to, without a port.
    """

    store: Store
    key: bytes
    shared: bool = False
    hosts: frozenset[str] = LOCAL_HOSTS


def bench_of(request: Request) -> Bench:
    """Return the bench that was asked."""
    bench: Bench = request.app.state.bench
    return bench


def store_of(request: Request) -> Store:
    """Return its store."""
    return bench_of(request).store


def writer_of(request: Request) -> Writer:
    """Return who asks."""
    writer: Writer = request.state.writer
    return writer


def system_of(request: Request) -> System:
    """Return the units this visitor reads in; millimetres until another is chosen."""
    return "in" if request.cookies.get(UNITS_COOKIE) == "in" else "mm"


def words_of(request: Request) -> Words:
    """Return what writes quantities for this visitor."""
    return Words(system_of(request))
