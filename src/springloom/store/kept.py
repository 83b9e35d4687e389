"""What was worked out, kept in memory: each thing once, the oldest let go of."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from typing import Generic, TypeVar

T = TypeVar("T")


class Kept(Generic[T]):
    """Holds up to ``most`` things by key; whoever asks for one in the making waits for it."""

    def __init__(self, most: int) -> None:
        """Hold nothing yet."""
        self._most, self._lock = most, threading.Lock()
        self._things: OrderedDict[Hashable, Future[T]] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what is kept under ``key``, made now if it isn't there.

        Raises:
            Exception: what ``make`` raises; then nothing is kept, and the next one tries again.
        """
        with self._lock:
            thing = self._things.get(key)
            mine = thing is None
            if thing is None:
                thing = self._things[key] = Future()
            self._things.move_to_end(key)
            while len(self._things) > self._most:
                self._things.popitem(last=False)
        if mine:
            self._fill(key, thing, make)
        return thing.result()

    def _fill(self, key: Hashable, thing: Future[T], make: Callable[[], T]) -> None:
        try:
            thing.set_result(make())
        except BaseException as error:
            with self._lock:
                if self._things.get(key) is thing:
                    del self._things[key]
            thing.set_exception(error)
