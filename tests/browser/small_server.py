"""A server small enough to go away and come back, with a form of each kind the bench has."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import ClassVar
from urllib.parse import parse_qsl, urlsplit
from uuid import uuid4

from tests.browser.browse import BUILT

POLICY = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
          "connect-src 'self'; form-action 'self'; base-uri 'none'")
TOKEN = "fresh-token"
TYPES = {"js": "text/javascript", "txt": "text/plain", "glb": "model/gltf-binary"}


@dataclass
class SmallServer:
    """Keeps what is posted, by uid.

    Attributes:
        kept: fields by uid, each stored once, in order.
        posted: the uids of all posts that arrived.
        tokens: the tokens they came with, of the field and of the header.
        version: of the sheet, counted up by each correction.
        answer: a status to give to posts instead; 303 leads to a page that confirms nothing.
        slow_s: how long a post takes.
        mute: whether posts are stored and their answer is lost on its way.
        files: further files by path.
    """

    kept: dict[str, dict[str, str]] = field(default_factory=dict)
    posted: list[str] = field(default_factory=list)
    tokens: set[tuple[str, str]] = field(default_factory=set)
    version: int = 1
    answer: int | None = None
    slow_s: float = 0.0
    mute: bool = False
    files: dict[str, bytes] = field(default_factory=dict)
    port: int = 0
    _server: ThreadingHTTPServer | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def come(self) -> None:
        """Begin to answer, at the same address as before."""
        owner = self

        class OwnHandler(Handler):
            small = owner

        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), OwnHandler)
        self.port = self._server.server_address[1]
        Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def go(self) -> None:
        """Stop listening: whoever asks is refused."""
        if self._server is not None:
            self._server.shutdown()
            self._server.server_close()
            self._server = None

    def weights(self) -> list[str]:
        """List the readings' weights in the order in which they were stored."""
        return [fields["weight"] for fields in self.kept.values() if "weight" in fields]


@contextmanager
def small_server() -> Iterator[SmallServer]:
    """Serve until the block ends."""
    server = SmallServer()
    server.come()
    try:
        yield server
    finally:
        server.go()


class Handler(BaseHTTPRequestHandler):
    """Answers one request."""

    small: ClassVar[SmallServer]

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the base's name
        """Say nothing."""

    def do_GET(self) -> None:
        url = urlsplit(self.path)
        asked = dict(parse_qsl(url.query))
        built = BUILT / url.path.removeprefix("/built/")
        if url.path.startswith("/built/") and built.parent == BUILT and built.is_file():
            self.reply(200, built.read_bytes(), TYPES[built.suffix[1:]])
        elif url.path in self.small.files:
            self.reply(200, self.small.files[url.path], TYPES[url.path.rsplit(".", 1)[-1]])
        elif url.path in PAGES:
            self.show(200, PAGES[url.path](self.small, asked), asked.get("kept", ""))
        else:
            self.show(404, "<h1>Nothing is here</h1>")

    def do_POST(self) -> None:
        small = self.small
        body = self.rfile.read(int(self.headers["Content-Length"])).decode()
        fields = dict(parse_qsl(body, keep_blank_values=True))
        small.posted.append(fields["uid"])
        small.tokens.add((fields["csrf"], self.headers["X-CSRF"] or ""))
        time.sleep(small.slow_s)
        if small.answer == 303:
            self.lead("/log-in")
        elif small.answer is not None:
            self.show(small.answer, '<h1>No</h1><p role="alert">The paddle is gone.</p>')
        elif self.path == "/sheet":
            self.take_sheet(fields)
        else:
            self.take_reading(fields)

    def take_reading(self, fields: dict[str, str]) -> None:
        if not fields["weight"][:1].isdigit():
            self.show(422, readings(self.small, {}, fields, "Weight: is no number"))
            return
        self.small.kept.setdefault(fields["uid"], fields)
        self.lead(f"/readings?kept={fields['uid']}")

    def take_sheet(self, fields: dict[str, str]) -> None:
        small = self.small
        if fields["uid"] not in small.kept and int(fields["seen"]) != small.version:
            self.show(409, sheet(small, {}, "The sheet was changed meanwhile"))
            return
        small.version += fields["uid"] not in small.kept
        small.kept.setdefault(fields["uid"], fields)
        self.lead(f"/sheet?kept={fields['uid']}")

    def lead(self, place: str) -> None:
        if self.small.mute:
            return
        self.send_response(303)
        self.send_header("Location", place)
        self.end_headers()

    def show(self, status: int, main: str, kept: str = "") -> None:
        confirmed = f'<meta name="kept" content="{escape(kept)}">' if kept else ""
        page = (f'<!doctype html><html lang="en"><head><title>Bench</title>'
                f'<meta name="viewport" content="width=device-width, initial-scale=1">'
                f'<meta name="csrf" content="{TOKEN}">{confirmed}'
                '<script type="module" src="/built/bench.js?v=1"></script></head>'
                f'<body><div id="offline" role="status" hidden></div><main>{main}</main></body>')
        self.reply(status, page.encode(), "text/html; charset=utf-8")

    def reply(self, status: int, content: bytes, media_type: str) -> None:
        self.send_response(status)
        self.send_header("Content-Type", media_type)
        self.send_header("Content-Length", str(len(content)))
        self.send_header("Content-Security-Policy", POLICY)
        self.end_headers()
        self.wfile.write(content)


def hidden(**fields: object) -> str:
    """Give the hidden fields of a form, with a token that has aged."""
    fields = {"uid": uuid4(), "csrf": "aged-token", **fields}
    return "".join(f'<input type="hidden" name="{name}" value="{value}">'
                   for name, value in fields.items())


def readings(
    small: SmallServer, _asked: dict[str, str], given: dict[str, str] | None = None,
    problem: str = "",
) -> str:
    """Give the page with the form that adds a reading, as typed if there is a problem."""
    given = given or {}
    told = f'<p role="alert">{problem}</p>' if problem else ""
    listed = "".join(f"<li>{escape(weight)}</li>" for weight in small.weights())
    mark = {"uid": given["uid"]} if given else {}
    return (
        f'<h1>Readings</h1>{told}<ol id="stored">{listed}</ol>'
        f'<form method="post" action="/reading" data-keep="reading" '
        f'data-keep-what="reading readings">{hidden(**mark)}'
        f'<label>Weight <input id="weight" name="weight" value="{escape(given.get("weight", ""))}"'
        f'{" aria-invalid=true" if problem else ""}></label>'
        '<label>Remark <textarea name="remark"></textarea></label>'
        '<label>Scale <select name="scale"><option>kitchen<option>hook</select></label>'
        '<label><input type="checkbox" name="dry" value="yes"> Dry</label>'
        '<button>Store</button></form>')


def sheet(small: SmallServer, _asked: dict[str, str], problem: str = "") -> str:
    """Give the page with the form that corrects a sheet."""
    told = f'<p role="alert">{problem}</p>' if problem else ""
    return (
        f'<h1>Sheet</h1>{told}<p id="version">Version {small.version}</p>'
        f'<form method="post" action="/sheet" data-keep="sheet" data-keep-what="sheet|sheets" '
        f'data-keep-seen="{small.version}">{hidden(seen=small.version)}'
        f'<label>Length <input id="length" name="length" value="22{small.version:02d}"></label>'
        '<button>Store</button></form>')


def log_in(_small: SmallServer, _asked: dict[str, str]) -> str:
    """Give a page that is shown to whoever may not write."""
    return "<h1>Who are you?</h1>"


def keypad(_small: SmallServer, _asked: dict[str, str]) -> str:
    """Give two inputs and the keys to type into them."""
    keys = [*"1234567890", ".", "/", "1/4", "1/2", "back", "clear", "next"]
    buttons = "".join(f'<button type="button" data-key="{key}">{key}</button>' for key in keys)
    return (
        '<h1>Keys</h1><form method="post" action="/reading">'
        '<label>Crown <input id="crown" name="crown" inputmode="decimal"></label>'
        '<label>Edge <input id="edge" name="edge" inputmode="decimal"></label>'
        '<div data-keypad data-for="crown edge" role="group" aria-label="Keys" hidden>'
        f'{buttons}</div><button id="store">Store</button></form>')


def drawing(_small: SmallServer, asked: dict[str, str]) -> str:
    """Give a drawing at half size (1 unit = 2 mm) with a handle for each way and unit."""
    unit = asked.get("unit", "mm")
    values = {"mm": ("40", "20"), "in": ("1 1/2", "3/4")}[unit]
    at = {"mm": ("40", "20"), "in": ("1.5", "0.75")}[unit]
    bounds = {"mm": ("30", "60"), "in": ("1", "2")}[unit]
    return (
        '<h1>Drawing</h1>'
        f'<label for="width">Width</label><input id="width" value="{values[0]}">'
        f'<label for="crown">Crown</label><input id="crown" value="{values[1]}">'
        '<svg width="400" height="400" viewBox="0 0 200 200">'
        f'<circle data-drag="width" data-axis="x" data-mm="2" data-unit="{unit}" '
        f'data-value="{at[0]}" data-min="{bounds[0]}" data-max="{bounds[1]}" '
        'cx="50" cy="50" r="12"/>'
        f'<circle data-drag="crown" data-axis="y" data-mm="-2" data-unit="{unit}" '
        f'data-value="{at[1]}" cx="150" cy="120" r="12"/></svg>'
        '<p id="heard"></p>')


def solid(_small: SmallServer, asked: dict[str, str]) -> str:
    """Give a canvas with a solid on it."""
    return (f'<h1>Solid</h1><canvas data-solid="/{asked["file"]}" width="600" height="300" '
            'aria-label="The paddle as a solid">A paddle</canvas>')


PAGES: dict[str, Callable[[SmallServer, dict[str, str]], str]] = {
    "/readings": readings, "/sheet": sheet, "/log-in": log_in, "/keypad": keypad,
    "/drawing": drawing, "/solid": solid,
}
