"""What a paddle's readings come to, worked out once for each state of it.

It takes some hundredths of a second, and several pages ask for it: the last few are kept in
memory, under the key that changes whenever anything of the paddle does.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass

from springloom.records.design import Design
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import Estimate

_MOST = 24


@dataclass(frozen=True)
class Worked:
    """What is known after all rounds and the readings at hand, and what to do."""

    known: Estimate
    told: Counsel


_kept: OrderedDict[str, Worked] = OrderedDict()
_lock = threading.Lock()


def worked_out(key: str, design: Design) -> Worked:
    """Work a design's readings out, or remember it.

    Args:
        key: :func:`springloom.store.summaries.state_key` of what the design was made of.
        design: with a target and readings.

    Raises:
        InputError: there is no target or no reading.
        EvidenceError: the readings fit no such paddle, or not its wood.
    """
    with _lock:
        found = _kept.get(key)
    if found is None:
        course = design.tuned()
        known = course.now()
        found = Worked(known, counsel(known, design.wanted(), design.limits,
                                      course.rules(design.rules)))
    with _lock:
        _kept[key] = found
        _kept.move_to_end(key)
        while len(_kept) > _MOST:
            _kept.popitem(last=False)
    return found
