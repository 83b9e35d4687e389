"""Serve the bench: which address, who may come, how many workers."""

from __future__ import annotations

import os
import socket
import sys
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass

import uvicorn
from starlette.types import ASGIApp
from uvicorn.supervisors import Multiprocess

from springloom.errors import InputError, in_range
from springloom.store.opening import Store, open_store
from springloom.store.settings import signing_key
from springloom.web.app import bench_app
from springloom.web.bench import LOCAL_HOSTS, Bench
from springloom.web.network import lan_addresses, shared_hosts

PORT = 8431
MOST_HEAD = 16 * 1024
"""Bytes that an address and its headers may have."""
MOST_AT_ONCE = 400
"""Connections to one process: thirty browsers of a class open some six each."""
KEEP_ALIVE_S = 15
"""How long a connection stays that asks nothing more."""
_STORE, _SHARED = "SPRINGLOOM_STORE", "SPRINGLOOM_SHARED"


@dataclass(frozen=True, slots=True)
class Serving:
    """How to serve.

    Attributes:
        port: 0 takes one that is free.
        shared: whether other machines in the network may come, with a join code.
        workers: how many processes answer; all they share is the store.
        browser: whether to open a browser on it.
    """

    port: int = PORT
    shared: bool = False
    workers: int = 1
    browser: bool = False

    def __post_init__(self) -> None:
        """Refuse what no machine has."""
        in_range(self.port, "--port", 0, 65535)
        in_range(self.workers, "--workers", 1, 64)


def serve(store: Store, how: Serving, say: Callable[[str], None] = print) -> None:
    """Serve until stopped; first says where.

    Raises:
        InputError: the port is taken.
    """
    bound = bound_socket(how)
    address = f"http://127.0.0.1:{bound.getsockname()[1]}/"
    os.environ[_STORE] = str(store.path or store.engine.url.render_as_string(hide_password=False))
    os.environ[_SHARED] = "1" if how.shared else ""
    say(f"Springloom is at {address}")
    say(f"Everything is kept in {store.url}")
    say(sharing_words(how.shared, bound.getsockname()[1]))
    say("Ctrl-C stops it.")
    sys.stdout.flush()
    if how.browser:
        webbrowser.open(address)
    _run(store, how, bound)


def _run(store: Store, how: Serving, bound: socket.socket) -> None:
    alone = how.workers == 1
    made: ASGIApp | str = (_app(store, shared=how.shared) if alone
                           else "springloom.web.serve:worker_app")
    config = uvicorn.Config(
        made, factory=not alone, workers=how.workers, log_level="warning", access_log=False,
        server_header=False, timeout_graceful_shutdown=3, proxy_headers=False,
        http="h11", ws="none", h11_max_incomplete_event_size=MOST_HEAD,
        limit_concurrency=MOST_AT_ONCE, timeout_keep_alive=KEEP_ALIVE_S)
    if alone:
        uvicorn.Server(config).run(sockets=[bound])
    else:
        Multiprocess(config, sockets=[bound]).run()


def worker_app() -> ASGIApp:
    """Return the application in a worker process, which knows its store by the environment."""
    return _app(open_store(), shared=bool(os.environ.get(_SHARED)))


def _app(store: Store, *, shared: bool) -> ASGIApp:
    hosts = LOCAL_HOSTS | shared_hosts() if shared else LOCAL_HOSTS
    return bench_app(Bench(store, signing_key(store), shared, frozenset(hosts)))


def bound_socket(how: Serving) -> socket.socket:
    """Take the port: on this machine alone, unless it is shared.

    Raises:
        InputError: another has it.
    """
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if os.name != "nt":  # there it would let two serve on one port
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind(("0.0.0.0" if how.shared else "127.0.0.1", how.port))
    except OSError as error:
        bound.close()
        raise InputError(f"can't be had: {error.strerror}", field="--port", given=how.port,
                         allowed="another port, or 0 for any that is free") from None
    bound.listen(512)
    bound.set_inheritable(True)
    return bound


def sharing_words(shared: bool, port: int) -> str:
    """Say who can come."""
    if not shared:
        return "This machine alone can reach it; --share lets a phone or a class in."
    where = ", ".join(f"http://{host}:{port}/" for host in sorted(lan_addresses()))
    return (f"Shared: whoever is in this network and has the join code can read and write "
            f"everything on this bench. They go to {where or 'this machine'}; the code is on the "
            "page Share.")
