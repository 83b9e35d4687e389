"""Long work behind the pages: a thread in each process takes what was asked for, piece by piece.

The store says what is wanted and who is at it, so it does not matter which process takes it, and
what a killed one leaves behind is taken up by another.
"""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from starlette.requests import Request

from springloom.errors import SpringloomError, StoreError
from springloom.store import jobs
from springloom.store.jobs import Job, Result
from springloom.store.opening import Store

EVERY_S = 1.0
"""How often a worker looks for work that another process was asked for."""

BEAT_S = 15.0
"""How often it says that it still lives, however long a step takes."""

NAME = "Springloom"
_LOG = logging.getLogger("springloom")

Tell = Callable[[float, str], None]
"""Says how much is done, 0 to 1, and what is being made."""

Make = Callable[[Store, Mapping[str, Any], Tell], Result]


@dataclass
class Worker:
    """Does one piece of work at a time, in a thread of its own.

    Attributes:
        store: where work is asked for.
        makers: what makes each kind of work.
        every_s: how often to look.
        beat_s: how often to say that it lives.
    """

    store: Store
    makers: Mapping[str, Make]
    every_s: float = EVERY_S
    beat_s: float = BEAT_S
    _woken: threading.Event = field(default_factory=threading.Event)
    _over: threading.Event = field(default_factory=threading.Event)
    _thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin."""
        self._over.clear()
        self._thread = threading.Thread(target=self._run, name="springloom-jobs", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End after the step at hand; what is not done is done by the next worker."""
        self._over.set()
        self._woken.set()
        if self._thread is not None:
            self._thread.join(timeout=2.0)

    def wake(self) -> None:
        """Look for work now."""
        self._woken.set()

    def once(self) -> bool:
        """Do one piece of work; False where there is none.

        Raises:
            StoreError: the store can't be used now.
        """
        with self.store.write(NAME) as pen:
            taken = jobs.claim(pen)
        if taken is None:
            return False
        with _Beat(self, taken) as beat:
            answer = self._answer(taken, beat.tell)
        if answer is None:  # told to stop: the next worker does it
            return True
        with self.store.write(NAME) as pen:
            if isinstance(answer, Result):
                jobs.finish(pen, taken.id, answer.name, answer.media_type, answer.content)
            else:
                jobs.fail(pen, taken.id, answer)
        return True

    def _answer(self, taken: Job, tell: Tell) -> Result | str | None:
        """Return what was made, or why it can't be; None where it was left."""
        try:
            return self.makers[taken.kind](self.store, taken.arguments, tell)
        except _StoppedError:
            return None
        except SpringloomError as error:
            return str(error)
        except Exception as error:
            _LOG.exception("work %s failed", taken.id)
            return f"A fault in Springloom, please report it: {type(error).__name__}"

    def _run(self) -> None:
        while not self._over.is_set():
            self._woken.clear()
            try:
                if self.once():
                    continue
            except StoreError as error:  # busy or full: it may be better later
                _LOG.warning("work waits: %s", error)
            self._woken.wait(self.every_s)

    @property
    def is_over(self) -> bool:
        """Whether it was told to stop."""
        return self._over.is_set()


class _StoppedError(Exception):
    """The process ends; the work is left for the next worker."""


class _Beat:
    """Says what a worker does, and keeps saying it while a step takes long."""

    def __init__(self, worker: Worker, job: Job) -> None:
        self.worker, self.job = worker, job
        self.last = (0.0, "")
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._keep_on, daemon=True)

    def __enter__(self) -> _Beat:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._done.set()
        self._thread.join()

    def tell(self, share: float, saying: str) -> None:
        """Say how far the work is."""
        if self.worker.is_over:
            raise _StoppedError
        self.last = (share, saying)
        self._say()

    def _say(self) -> None:
        with contextlib.suppress(StoreError), self.worker.store.write(NAME) as pen:
            jobs.report(pen, self.job.id, *self.last)

    def _keep_on(self) -> None:
        while not self._done.wait(self.worker.beat_s):
            self._say()


def each_told(steps: Iterator[tuple[str, Mapping[Any, bytes]]], count: int,
              tell: Tell) -> dict[Any, bytes]:
    """Collect the files of all steps, saying after each which it was and how many there are."""
    files: dict[Any, bytes] = {}
    for n, (title, made) in enumerate(steps, 1):
        files.update(made)
        tell(n / (count + 1), f"{title}: {n} of {count}")
    return files


def wake(request: Request) -> None:
    """Let this process's worker look for work at once."""
    worker: Worker = request.app.state.worker
    worker.wake()
