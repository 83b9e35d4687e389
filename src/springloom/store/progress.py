"""How far a paddle is, and the one next thing to do: the same words on every page.

Working out a round of tuning takes a few hundredths of a second, so what was found is kept in
the store beside the state of the paddle that it was found for.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass

from springloom.errors import SpringloomError
from springloom.records.design import Design, design_from
from springloom.report.tune_words import headline
from springloom.shape.stages import STAGES
from springloom.store.layout import layout_of
from springloom.store.marks import marks
from springloom.store.opening import Store
from springloom.store.paddles import Paddle, paddle
from springloom.store.rounds import rounds
from springloom.store.summaries import keep_summary, state_key, summary
from springloom.tune.counsel import counsel


@dataclass(frozen=True, slots=True)
class Progress:
    """One paddle's place in the job.

    Attributes:
        stage: in a word: fit, wood, design, carve, tune or done.
        tab: the page where the next thing is done.
        say: the next thing to do, a sentence.
    """

    stage: str
    tab: str
    say: str


def progress_of(store: Store, paddle_id: int) -> Progress:
    """Return how far a paddle is; worked out once for each state of it."""
    with store.read() as connection:
        key, kept = state_key(connection, paddle_id), summary(connection, paddle_id)
    if kept is not None and kept[0] == key:
        return Progress(**kept[1])
    found = _found(store, paddle_id)
    keep_summary(store, paddle_id, key, asdict(found))
    return found
