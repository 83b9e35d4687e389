"""How the bench holds up: 50 open pages and a class of twelve typing at once, on this machine.

    python -m benchmarks.load            half a minute each with one process and with two

An open page asks every six seconds whether somebody changed its paddle. A student keeps a
reading, looks at what to plane, and needs two seconds for the next. Times are what the browser
waits, from asking to the whole answer, after a warm-up.
"""

from __future__ import annotations

import asyncio
import itertools
import random
import statistics
import subprocess
import sys
import tempfile
import time
import tomllib
from collections import defaultdict
from collections.abc import Awaitable, Callable
from importlib import resources
from pathlib import Path
from typing import Any

import httpx2
from tabulate import tabulate

PAGES, STUDENTS = 50, 12
EVERY_S, TYPING_S = 6.0, 2.0
LASTS_S, WARM_S = 30.0, 5.0
EXAMPLE = "marsh_tern.toml"
PLACES = ("1/4", "1/2", "3/4")

Times = dict[str, list[float]]


class Bench:
    """A served bench in processes of its own."""

    def __init__(self, folder: Path, workers: int) -> None:
        self.process = subprocess.Popen(
            [str(Path(sys.executable).with_name("springloom")), "serve", "--port", "0",
             "--store", str(folder / f"{workers}.db"), "--workers", str(workers)],
            stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.address = self.process.stdout.readline().split()[-1].rstrip("/")

    def stop(self) -> None:
        """End it."""
        self.process.terminate()
        self.process.wait(timeout=20)


class Meter:
    """Waits of each kind, once the warm-up is over."""

    def __init__(self, client: httpx2.AsyncClient) -> None:
        self.client, self.times = client, defaultdict[str, list[float]](list)
        self.from_s = time.perf_counter() + WARM_S

    async def ask(self, kind: str, path: str, **sent: Any) -> httpx2.Response:
        """Ask once; any answer but a good one ends the run."""
        start = time.perf_counter()
        method = "POST" if sent else "GET"
        answer = await self.client.request(method, path, **sent)
        if start > self.from_s:
            self.times[kind].append(time.perf_counter() - start)
        answer.raise_for_status()
        return answer


async def open_page(meter: Meter, paddle: int, until: float) -> None:
    """Stay on a page and ask whether something changed."""
    await asyncio.sleep(random.uniform(0.0, EVERY_S))
    await meter.ask("open a paddle's page", f"/paddles/{paddle}/tune")
    while time.perf_counter() < until:
        await meter.ask("has it changed?", f"/paddles/{paddle}/changed?since=x")
        await asyncio.sleep(EVERY_S)


async def student(meter: Meter, paddle: int, until: float) -> None:
    """Keep a reading, look at the advice, think."""
    await asyncio.sleep(random.uniform(0.0, TYPING_S))
    for place in itertools.cycle(PLACES):
        if time.perf_counter() > until:
            return
        reading = {"kind": "width", "table": {"blade": random.choice("ab"), "at": [place],
                                              "width": [WIDTHS[place]]}}
        await meter.ask("keep a reading", f"/api/paddles/{paddle}/readings", json=reading)
        await meter.ask("what to plane now", f"/paddles/{paddle}/tune")
        await asyncio.sleep(TYPING_S)


WIDTHS = {"1/4": "60 mm", "1/2": "73 mm", "3/4": "82 mm"}
"""As planned: what is timed is the work, not a quarrel about the readings."""


async def loaded(address: str) -> Times:
    """Let everybody at it."""
    text = (resources.files("springloom.examples") / EXAMPLE).read_text(encoding="utf-8")
    limits = httpx2.Limits(max_connections=PAGES + STUDENTS)
    async with httpx2.AsyncClient(base_url=address, limits=limits, timeout=60.0) as client:
        await client.get("/")
        made = [(await client.post("/api/paddles", json=tomllib.loads(text))).json()["id"]
                for _ in range(STUDENTS)]
        meter = Meter(client)
        until = meter.from_s + LASTS_S
        jobs: list[Awaitable[None]] = [student(meter, paddle, until) for paddle in made]
        jobs += [open_page(meter, made[i % STUDENTS], until) for i in range(PAGES)]
        await asyncio.gather(*jobs)
        return meter.times


def rows(times: Times, workers: int) -> list[tuple[str, ...]]:
    """Median and 95th percentile of each kind."""
    show: Callable[[float], str] = lambda seconds: f"{1e3 * seconds:.0f} ms"  # noqa: E731 - a column's format
    return [(kind, str(workers), str(len(found)), show(statistics.median(found)),
             show(statistics.quantiles(found, n=20)[-1]), show(max(found)))
            for kind, found in sorted(times.items()) if len(found) > 1]


def main() -> None:
    """Run with one process and with two."""
    found: list[tuple[str, ...]] = []
    with tempfile.TemporaryDirectory() as folder:
        for workers in (1, 2):
            bench = Bench(Path(folder), workers)
            try:
                found += rows(asyncio.run(loaded(bench.address)), workers)
            finally:
                bench.stop()
    print(f"{PAGES} open pages, {STUDENTS} students typing, {LASTS_S:.0f} s")
    print(tabulate(found, headers=["what", "processes", "times", "median", "95 %", "longest"]))


if __name__ == "__main__":
    main()
