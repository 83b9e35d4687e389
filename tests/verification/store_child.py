"""Programs of their own for the tests of the store, to be killed, starved and locked out.

    python -m tests.verification.store_child COMMAND PLACE ...
"""

from __future__ import annotations

import os
import resource
import sys
import tempfile
import time
import uuid
from collections.abc import Callable
from pathlib import Path

from springloom.errors import StoreError
from springloom.store import Store, open_store
from springloom.store.attachments import attach
from springloom.store.layout import take_in
from springloom.store.rounds import add_reading
from tests.verification.store_entries import BENCH, LAYOUTS, new_paddle

NOBODY = 65534


def say(*words: object) -> None:
    print(*words, flush=True)


def write(place: str, paddle: str, count: str) -> None:
    """Write readings; say the uid of each as soon as it is confirmed."""
    store = open_store(place)
    say("ready")
    for _ in range(int(count)):
        mark = str(uuid.uuid4())
        with store.write("child") as pen:
            add_reading(pen, mark, int(paddle), "bench", BENCH)
        say(mark)


def take(place: str) -> None:
    """Take in one file after another: some forty rows each."""
    store = open_store(place)
    say("ready")
    while True:
        mark = str(uuid.uuid4())
        with store.write("child") as pen:
            take_in(pen, mark, LAYOUTS["marsh_tern with rounds"])
        say(mark)


def open_it(place: str) -> None:
    """Open a store at the moment that the parent names."""
    say("ready")
    time.sleep(max(0.0, float(sys.stdin.readline()) - time.time()))
    store = open_store(place)
    say(new_paddle(store).uid)


def hold(place: str) -> None:
    """Begin a write and never end it."""
    store = open_store(place)
    with store.write("child"):
        say("ready")
        sys.stdin.readline()


def fill(place: str, most: str) -> None:
    """Attach files until the system lets none of this process's files grow."""
    store = open_store(place)
    paddle = new_paddle(store).id
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(most), int(most)))
    say("ready")
    while True:
        mark = str(uuid.uuid4())
        with store.write("child") as pen:
            attach(pen, mark, "paddle", paddle, "x", "image/jpeg", bytes(100_000))
        say(mark)


def try_it(place: str) -> None:
    """Open a store and write to it as a user who owns nothing."""
    with tempfile.TemporaryDirectory() as folder:  # so that nothing is imported later
        new_paddle(open_store(Path(folder) / "first.db"))
    if os.geteuid() == 0:
        os.setgroups([])
        os.setresgid(NOBODY, NOBODY, NOBODY)
        os.setresuid(NOBODY, NOBODY, NOBODY)
    say("ready")
    store: Store = open_store(place)
    say("opened")
    new_paddle(store)
    say("written")


COMMANDS: dict[str, Callable[..., None]] = {
    "write": write, "take": take, "open": open_it, "hold": hold, "fill": fill, "try": try_it,
}

if __name__ == "__main__":
    try:
        COMMANDS[sys.argv[1]](*sys.argv[2:])
    except StoreError as error:
        say(f"StoreError: {error}")
