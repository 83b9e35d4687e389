"""How the bench holds up: 50 open pages and a class of twelve typing at once, on this machine.

    python -m benchmarks.load            half a minute each with one process and with two

An open page asks every six seconds whether somebody changed its paddle. A student types the
readings of a round one after another, as the page asks for them, sends each, is shown the next,
and needs two seconds for it. Times are what the browser waits, from asking to the whole answer,
after a warm-up.
"""

from __future__ import annotations

import asyncio
import random
import re
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

from springloom.records.design import load_design
from springloom.tune.walk import walk

PAGES, STUDENTS = 50, 12
EVERY_S, TYPING_S = 6.0, 2.0
LASTS_S, WARM_S = 30.0, 5.0
EXAMPLE = "marsh_tern.toml"

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
    """Type a reading, be shown the next page, think."""
    await asyncio.sleep(random.uniform(0.0, TYPING_S))
    shown = await meter.ask("open a paddle's page", f"/paddles/{paddle}/tune")
    while time.perf_counter() < until:
        sent = {name: hidden(shown.text, name) for name in ("csrf", "uid")}
        step = CHOSEN.search(shown.text)
        assert step is not None, "the walk is at its end: make it last longer"
        shown = await meter.ask("send a reading, get the page", f"/paddles/{paddle}/tune/readings",
                                data={**sent, "step": step[1], "value": READS[step[1]]})
        await asyncio.sleep(TYPING_S)


def hidden(page: str, name: str) -> str:
    """A hidden field of the reading's form."""
    form = page[page.index('class="step"'):]
    found = re.search(rf'name="{name}" value="([^"]+)"', form)
    assert found is not None
    return found[1]


def reads() -> dict[str, str]:
    """What the example's readings are, step by step; half a millimetre more than planned."""
    design = load_design(Path(str(resources.files("springloom.examples") / EXAMPLE)))
    bench = {"bench-0": "28.4", "bench-1": "14.9", "bench-2": "5.9"}
    known = {f"{side}-{step}": value for side in "ab" for step, value in bench.items()}
    return {step.key: f"{1e3 * step.planned_m + 0.5:.1f}" for step in walk(design.paddle)
            if step.planned_m is not None} | known | {"weight": "788 g"}


CHOSEN = re.compile(r'<option value="([^"]+)" selected\b')
READS = reads()


async def loaded(address: str) -> Times:
    """Let everybody at it."""
    text = (resources.files("springloom.examples") / EXAMPLE).read_text(encoding="utf-8")
    limits = httpx2.Limits(max_connections=PAGES + STUDENTS)
    async with httpx2.AsyncClient(base_url=address, limits=limits, timeout=60.0,
                                   follow_redirects=True) as client:
        await client.get("/")
        design = {key: table for key, table in tomllib.loads(text).items() if key != "readings"}
        made = [(await client.post("/api/paddles", json=design)).json()["id"]
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
