"""Signed tokens: who a session is, and that a form was shown to it."""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass

from itsdangerous import BadData, URLSafeTimedSerializer
from starlette.requests import Request

from springloom.errors import ForbiddenError

COOKIE = "springloom_session"
SESSION_DAYS = 60
_SECONDS = 24 * 60 * 60


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that writes in somebody's name."""

    writer_id: int
    mark: str

    @classmethod
    def new(cls, writer_id: int) -> Session:
        """Begin one."""
        return cls(writer_id, secrets.token_urlsafe(12))


def session_cookie(key: bytes) -> str:
    """Return the name of a store's session cookie.

    Browsers keep one set of cookies for all ports of a machine: two benches served there, as the
    demonstration beside one's own, would end each other's sessions under one name.
    """
    return f"{COOKIE}_{store_mark(key)}"


def sealed(key: bytes, session: Session) -> str:
    """Return a session as its cookie's text."""
    return _sealer(key, "session").dumps([session.writer_id, session.mark])


def opened(key: bytes, text: str) -> Session | None:
    """Return the session of a cookie, or None if it isn't ours or is too old."""
    try:
        writer_id, mark = _sealer(key, "session").loads(text, max_age=SESSION_DAYS * _SECONDS)
        return Session(int(writer_id), str(mark))
    except (BadData, TypeError, ValueError):
        return None


def form_token(key: bytes, session: Session) -> str:
    """Return the token for a session's forms."""
    return _sealer(key, "form").dumps(session.mark)


def check_token(request: Request, token: str) -> None:
    """Refuse a form that was not shown to this session.

    Raises:
        ForbiddenError: the token is missing, another's or too old.
    """
    try:
        mark = _sealer(request.app.state.bench.key, "form").loads(
            token, max_age=SESSION_DAYS * _SECONDS)
    except BadData:
        mark = None
    if mark != request.state.session.mark:
        raise ForbiddenError("doesn't belong to this browser's session: open the page again; "
                             "what was typed is kept", field="form")


def store_mark(key: bytes) -> str:
    """Return what tells a store from others served at the same address; no secret."""
    return hmac.new(key, b"springloom-store", "sha256").hexdigest()[:16]


def _sealer(key: bytes, purpose: str) -> URLSafeTimedSerializer:
    return URLSafeTimedSerializer(key, salt=f"springloom-{purpose}")
