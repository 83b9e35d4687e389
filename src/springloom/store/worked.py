"""What a paddle's readings come to, worked out once for each state of it.

It takes some hundredths of a second, and several pages ask for it: the last few are kept in
memory, under the key that changes whenever anything of the paddle does.
"""

from __future__ import annotations

from dataclasses import dataclass

from springloom.records.design import Design
from springloom.store.kept import Kept
from springloom.tune.counsel import Counsel, counsel
from springloom.tune.estimate import Estimate

_MOST = 24


@dataclass(frozen=True)
class Worked:
    """What is known after all rounds and the readings at hand, and what to do."""

    known: Estimate
    told: Counsel


_kept: Kept[Worked] = Kept(_MOST)


def worked_out(key: str, design: Design) -> Worked:
    """Work a design's readings out, or remember it.

    Args:
        key: :func:`springloom.store.summaries.state_key` of what the design was made of.
        design: with a target and readings.

    Raises:
        InputError: there is no target or no reading.
        EvidenceError: the readings fit no such paddle, or not its wood.
    """
    return _kept.get(key, lambda: _worked(design))


def _worked(design: Design) -> Worked:
    course = design.tuned()
    known = course.now()
    return Worked(known, counsel(known, design.wanted(), design.limits,
                                 course.rules(design.rules)))
