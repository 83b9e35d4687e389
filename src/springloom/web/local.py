"""Who writes at this machine before anybody has said a name."""

from __future__ import annotations

import functools
import uuid

from starlette.requests import Request

from springloom.errors import ForbiddenError
from springloom.store.opening import Store
from springloom.store.writers import Writer, welcome

NAME = "The bench"
_MARK = str(uuid.uuid5(uuid.NAMESPACE_URL, "springloom:writer:the-bench"))


@functools.lru_cache(maxsize=8)
def local_writer(store: Store) -> Writer:
    """Return the writer of this machine; the same mark, so there is ever but one."""
    with store.write(NAME) as pen:
        return welcome(pen, _MARK, NAME, "this machine")


def refuse_from_afar(request: Request) -> None:
    """Let only this machine do what touches its files.

    Raises:
        ForbiddenError: another machine asks.
    """
    if not request.state.local:
        raise ForbiddenError("is done at the machine that serves the bench", field="this",
                             allowed="the browser there")
