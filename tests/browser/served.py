"""The bench as a user starts it: a process of its own that says where it is."""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from tests.browser.browse import springloom_program

SAYS = re.compile(r"^Springloom is at (http://127\.0\.0\.1:\d+)/?\s*$")
PATIENCE_S = 60.0


@dataclass(frozen=True, slots=True)
class Served:
    """A bench that is being served.

    Attributes:
        address: without a slash at its end.
        store: the file or address of its store.
        process: what serves it; end it and serve the store again to try an outage.
    """

    address: str
    store: str
    process: subprocess.Popen[str]


@contextmanager
def served(store: Path | str, *options: str, port: int = 0) -> Iterator[Served]:
    """Serve a store until the block ends; ``options`` go to ``springloom serve``."""
    command = [springloom_program(), "serve", "--port", str(port), "--store", str(store), *options]
    kept = {key: value for key, value in os.environ.items() if key != "SPRINGLOOM_STORE"}
    env = {**kept, "PYTHONUNBUFFERED": "1", "PYTHONUTF8": "1"}
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True,
                          encoding="utf-8") as process:
        try:
            yield Served(address_said(process), str(store), process)
        finally:
            process.terminate()
            process.communicate(timeout=PATIENCE_S)


def address_said(process: subprocess.Popen[str]) -> str:
    """Read where the bench is from the first line that it prints."""
    assert process.stdout is not None
    with ThreadPoolExecutor(1) as reader:
        first = reader.submit(process.stdout.readline)
        try:
            line = first.result(timeout=PATIENCE_S)
        except TimeoutError:
            process.kill()  # which ends the line that is waited for
            raise
    found = SAYS.match(line)
    assert found, f"springloom serve said {line!r}"
    return found[1]
