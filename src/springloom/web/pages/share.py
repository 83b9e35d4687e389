"""Let a phone or a class in: a code to join with, what that opens, and who is in."""

from __future__ import annotations

from dataclasses import dataclass

import segno
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from springloom.errors import InputError, SpringloomError
from springloom.store.shares import close_share, open_share, share_now, try_join
from springloom.store.writers import revoke, writers
from springloom.web.bench import bench_of, store_of, writer_of
from springloom.web.errors import status_of
from springloom.web.forms import Form, problem_of
from springloom.web.guard import sign_in
from springloom.web.jobs import NAME as WORKER_NAME
from springloom.web.local import NAME as LOCAL_NAME
from springloom.web.network import lan_addresses
from springloom.web.render import onward, page
from springloom.web.routing import get, post

MINUTES = {"30": "half an hour", "180": "three hours", "720": "a day in the shop"}


@dataclass(frozen=True, slots=True)
class Invitation:
    """An address to go to, and its code as a picture."""

    address: str
    picture: Markup


def _share(request: Request, status: int = 200, **values: object) -> Response:
    bench = bench_of(request)
    with bench.store.read() as connection:
        now, known = share_now(connection), writers(connection)
    until = now.until.astimezone().strftime("%H:%M on %d %B") if now else ""
    return page(request, "share/share.html", status, now=now, until=until, writers=known,
                minutes=MINUTES, invitations=_invitations(request) if now else [], **values)


def _invitations(request: Request) -> list[Invitation]:
    port = request.url.port or 80
    return [_invitation(f"http://{host}:{port}/join") for host in sorted(lan_addresses())]


def _invitation(address: str) -> Invitation:
    code = segno.make(address, error="m")
    drawn = code.svg_inline(scale=8, border=4, dark="#000", light="#fff", svgclass="code",
                            lineclass=None, title=f"Code for {address}")
    return Invitation(address, Markup(drawn))


def share(request: Request) -> Response:
    """Show whether others may come, and how."""
    return _share(request)


def begin(request: Request, form: Form) -> Response:
    """Make a join code; only from this machine."""
    _only_here(request)
    minutes = form.text("minutes")
    if minutes not in MINUTES:
        raise InputError("is no such time", field="minutes", given=minutes,
                         allowed=", ".join(MINUTES))
    with store_of(request).write(writer_of(request).name) as pen:
        open_share(pen, int(minutes))
    return onward(request, "/share", form.uid)


def end(request: Request, form: Form) -> Response:
    """Take the code back; who is in stays in until sent out."""
    _only_here(request)
    with store_of(request).write(writer_of(request).name) as pen:
        close_share(pen)
    return onward(request, "/share", form.uid, "Nobody else can join now.")


def send_out(request: Request, form: Form) -> Response:
    """End one writer's session, and the code: they know it and could come again at once."""
    _only_here(request)
    with store_of(request).write(writer_of(request).name) as pen:
        revoke(pen, form.whole("writer"))
        close_share(pen)
    return onward(request, "/share", form.uid,
                  "That session has ended, and so has the code: make a new one for the others.")


def _only_here(request: Request) -> None:
    if not request.state.local:
        raise InputError("can be changed only at the machine that serves the bench",
                         field="sharing")


def join_page(request: Request) -> Response:
    """Ask for the code and a name."""
    return page(request, "share/join.html")


def join(request: Request, form: Form) -> Response:
    """Let somebody in who has the code."""
    client = request.client.host if request.client else "unknown"
    try:
        _refuse_our_names(form.text("name"))
        made = try_join(store_of(request), form.text("code"), form.text("name"), client)
    except SpringloomError as error:
        return page(request, "share/join.html", status_of(error), form=form,
                    problem=problem_of(error))
    return sign_in(onward(request, "/", form.uid), request, made)


def _refuse_our_names(name: str) -> None:
    """Let nobody write in the name of this machine, or of the program."""
    if name.casefold() in {LOCAL_NAME.casefold(), WORKER_NAME.casefold()}:
        raise InputError("is what this machine writes under", field="name", given=name,
                         allowed="your own name")


ROUTES: list[Route] = [
    get("/share", share), post("/share", begin), post("/share/end", end),
    post("/share/out", send_out), get("/join", join_page), post("/join", join),
]
