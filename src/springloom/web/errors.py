"""Which answer an error is over the web."""

from __future__ import annotations

from springloom.errors import (
    EvidenceError,
    InputError,
    OutputError,
    SpringloomError,
    StoreError,
    UnreachableError,
)
from springloom.web.tokens import ForbiddenError

_STATUS: tuple[tuple[type[SpringloomError], int], ...] = (
    (ForbiddenError, 403),
    (InputError, 422),
    (EvidenceError, 422),
    (UnreachableError, 422),
    (OutputError, 507),
    (StoreError, 503),
)


def status_of(error: SpringloomError) -> int:
    """Return the status for an error; what was asked may be wrong, the bench is not."""
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 500)
