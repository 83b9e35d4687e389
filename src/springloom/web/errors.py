"""Which answer an error is over the web."""

from __future__ import annotations

from springloom.errors import (
    ConflictError,
    EvidenceError,
    ForbiddenError,
    InputError,
    NotStoredError,
    OutputError,
    RateError,
    SpringloomError,
    StoreError,
    UnreachableError,
)

_STATUS: tuple[tuple[type[SpringloomError], int], ...] = (
    (ForbiddenError, 403),
    (NotStoredError, 404),
    (ConflictError, 409),
    (RateError, 429),
    (InputError, 422),
    (EvidenceError, 422),
    (UnreachableError, 422),
    (OutputError, 507),
    (StoreError, 503),
)


def status_of(error: SpringloomError) -> int:
    """Return the status for an error; what was asked may be wrong, the bench is not."""
    return next((status for kind, status in _STATUS if isinstance(error, kind)), 500)
