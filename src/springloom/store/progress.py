"""How far a paddle is, and the one next thing to do: the same words on every page.

Working out a round of tuning takes a few hundredths of a second, so what was found is kept in
the store beside the state of the paddle that it was found for; what works it out is loaded when
it is first needed (:mod:`springloom.store.next_step`).
"""

from __future__ import annotations

from dataclasses import asdict

from springloom.store.figures import Progress
from springloom.store.opening import Store
from springloom.store.summaries import keep_summary, state_key, summary


def progress_of(store: Store, paddle_id: int) -> Progress:
    """Return how far a paddle is; worked out once for each state of it."""
    with store.read() as connection:
        key, kept = state_key(connection, paddle_id), summary(connection, paddle_id)
    if kept is not None and kept[0] == key:
        return Progress.kept(kept[1])
    from springloom.store.next_step import next_step  # noqa: PLC0415 - a list of kept ones is quick

    found = next_step(store, paddle_id, key)
    keep_summary(store, paddle_id, key, asdict(found))
    return found
