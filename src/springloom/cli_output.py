"""What a command prints: a page, or data, on a stream that may be full or gone."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable
from typing import Any

from springloom.errors import OutputError


def say(chosen: argparse.Namespace, text: Callable[[], str], data: Callable[[], Any]) -> None:
    """Print the page, or the data if ``--json`` asks for it."""
    show(answer(chosen, text, data))


def answer(chosen: argparse.Namespace, text: Callable[[], str], data: Callable[[], Any]) -> str:
    """The page, or the data if ``--json`` asks for it."""
    return json.dumps(data(), indent=1, allow_nan=False) if chosen.json else text()


def show(text: str) -> None:
    """Print it.

    Raises:
        OutputError: there is no room for it.
    """
    try:
        print(text, flush=True)
    except BrokenPipeError:
        raise
    except OSError as error:
        drop_output()
        raise OutputError(f"can't be written: {error.strerror}", field="standard output",
                          allowed="a place with room") from None


def complain(text: str) -> None:
    """Say what is wrong, in one line."""
    print(f"springloom: {' '.join(text.split())}", file=sys.stderr)


def drop_output() -> None:
    """Send what is still held back to nowhere, or Python complains of it at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
