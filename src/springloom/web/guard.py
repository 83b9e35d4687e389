"""What stands before every page: who may ask, in whose name, and what a browser may do with it."""

from __future__ import annotations

import re
from urllib.parse import unquote

import anyio
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from springloom.errors import NotStoredError, StoreError
from springloom.store.writers import Writer, writer
from springloom.web.bench import Bench
from springloom.web.local import local_writer
from springloom.web.tokens import SESSION_DAYS, Session, opened, sealed, session_cookie

MOST_BYTES = 12 * 1024 * 1024
"""Most that one request may carry."""
LONGEST_ADDRESS = 4000
"""Most letters of a path and its query: a number in it stays one that Python reads (4300)."""
SLOWEST_S = 30.0
"""How long the next piece of a request's body may take."""
_NOBODY = 0
_SAFE = {"GET", "HEAD", "OPTIONS"}
_ANYBODYS = ("/static/", "/figures/", "/health")
"""What says nothing of anybody: nobody is looked up for it."""
_OPEN = (*_ANYBODYS, "/join")
"""What a stranger may see."""
_HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9._-]+)(:[0-9]{1,5})?", re.ASCII)

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
        "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}


class Guard:
    """Wraps the application; refuses what it must not see."""

    def __init__(self, app: ASGIApp, bench: Bench) -> None:
        """Guard ``app`` of ``bench``."""
        self.app, self.bench = app, bench

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope, receive)
        answer = self._refusal(request) or await self._met(request)
        sender = _Sender(send, request)
        try:
            await (answer or self.app)(scope, _Bounded(receive), sender)
        except _TooLargeError:
            await _too_large()(scope, receive, sender)
        except _TooSlowError:
            await PlainTextResponse("That came too slowly.", 408)(scope, receive, sender)

    def _refusal(self, request: Request) -> Response | None:
        """Refuse other hosts' names, other sites' forms and what is too large."""
        if _host_of(request.headers) not in self.bench.hosts:
            return PlainTextResponse("This bench doesn't go by that name.", 421)
        if request.method not in _SAFE and not _from_here(request.headers):
            return PlainTextResponse("This was sent by another site's page.", 403)
        if len(request.scope["path"]) + len(request.scope["query_string"]) > LONGEST_ADDRESS:
            return PlainTextResponse("That address is too long.", 414)
        length = request.headers.get("content-length", "0")
        if not _is_whole(length) or int(length) > MOST_BYTES:
            return _too_large()
        return None

    async def _met(self, request: Request) -> Response | None:
        """Find out who asks, beside the other requests: the store may have to be waited for."""
        try:
            return await run_in_threadpool(self._welcome, request)
        except StoreError as error:
            return PlainTextResponse(f"{error}.", 503)

    def _welcome(self, request: Request) -> Response | None:
        """Find out who asks; strangers from elsewhere go to the join page."""
        state = request.state
        state.local = _is_local(request)
        state.said = unquote(request.cookies.get("springloom_said", ""))[:200]
        state.cookie = session_cookie(self.bench.key)
        session = opened(self.bench.key, request.cookies.get(state.cookie, ""))
        path: str = request.scope["path"]  # what is routed; a URL would be made with Host
        found = None if path.startswith(_ANYBODYS) else self._writer(session)
        if found is None and path.startswith(_OPEN):
            state.session, state.writer = session or self._unnamed(request), None
            return None
        if found is None and not state.local:
            return _join_first(path)
        if found is None:
            found = local_writer(self.bench.store)
            session = Session.new(found.id)
            state.new_session = sealed(self.bench.key, session)
        state.session, state.writer = session, found
        return None

    def _unnamed(self, request: Request) -> Session:
        """Begin a session in nobody's name: the join page's form needs one."""
        session = Session.new(_NOBODY)
        if request.scope["path"] == "/join":
            request.state.new_session = sealed(self.bench.key, session)
        return session

    def _writer(self, session: Session | None) -> Writer | None:
        if session is None or session.writer_id == _NOBODY:
            return None
        try:
            with self.bench.store.read() as connection:
                found = writer(connection, session.writer_id)
        except NotStoredError:
            return None  # the cookie is of another store
        return found if found.may_write else None


def _host_of(headers: Headers) -> str:
    """Return the name a request goes to, without its port; "" where that is none."""
    found = _HOST.fullmatch(headers.get("host", "").lower())
    return found[1] if found else ""


def _from_here(headers: Headers) -> bool:
    """Whether a write comes from a page of this bench, as far as the browser tells."""
    site = headers.get("sec-fetch-site")
    if site is not None and site not in {"same-origin", "none"}:
        return False
    origin, host = headers.get("origin"), headers.get("host", "").lower()
    return origin is None or origin.lower() in {f"http://{host}", f"https://{host}"}


def _is_whole(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 19


def _join_first(path: str) -> Response:
    """Send a stranger to the join page; a program is told instead."""
    if path.startswith("/api/"):
        return JSONResponse({"field": "session", "message": "has not joined this bench",
                             "given": None, "allowed": "whoever has joined at /join"}, 401)
    return RedirectResponse("/join", 303)


def _is_local(request: HTTPConnection) -> bool:
    client = request.client
    return client is not None and client.host in {"127.0.0.1", "::1", "testclient"}


def sign_in(answer: Response, request: Request, who: Writer) -> Response:
    """Begin a session for ``who`` with this answer."""
    request.state.new_session = sealed(request.app.state.bench.key, Session.new(who.id))
    return answer


class _TooLargeError(Exception):
    """A body that went on past the most it may have."""


class _TooSlowError(Exception):
    """A body of which nothing came for too long."""


def _too_large() -> Response:
    return PlainTextResponse("That is too large: 12 MB at most.", 413)


class _Bounded:
    """Passes a body on, up to the most it may have and no slower than it may come."""

    def __init__(self, receive: Receive) -> None:
        self.receive, self.seen, self.whole = receive, 0, False

    async def __call__(self) -> Message:
        if self.whole:  # whoever asks now waits for the browser to go away
            return await self.receive()
        try:
            with anyio.fail_after(SLOWEST_S):
                message = await self.receive()
        except TimeoutError:
            raise _TooSlowError from None
        self.seen += len(message.get("body", b""))
        self.whole = not message.get("more_body", False)
        if self.seen > MOST_BYTES:
            raise _TooLargeError
        return message


class _Sender:
    """Puts our headers and a new session's cookie on an answer."""

    def __init__(self, send: Send, request: Request) -> None:
        self.send, self.request = send, request

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", "no-store")
            self._cookies(headers)
        await self.send(message)

    def _cookies(self, headers: MutableHeaders) -> None:
        made = Response()
        new = getattr(self.request.state, "new_session", None)
        if new:
            made.set_cookie(self.request.state.cookie, new, httponly=True, samesite="strict",
                            max_age=SESSION_DAYS * 24 * 60 * 60)
        shown = headers.get("content-type", "").startswith("text/html")
        for name in ("springloom_said", "springloom_kept"):
            if shown and name in self.request.cookies:
                made.delete_cookie(name, httponly=True, samesite="strict")
        for cookie in made.headers.getlist("set-cookie"):
            headers.append("set-cookie", cookie)
