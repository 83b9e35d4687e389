"""Notes and photos of a paddle: added, corrected, taken away, sent."""

from __future__ import annotations

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import InputError, SpringloomError
from springloom.store.attachments import MOST_BYTES, attach, attachment, content
from springloom.store.notes import add_note, notes, withdraw_note
from springloom.store.paddles import set_aside
from springloom.web.bench import store_of, writer_of
from springloom.web.files import sent
from springloom.web.forms import Form, problem_of
from springloom.web.frame import paddle_id_of
from springloom.web.media import ALLOWED, IMAGES, KEPT, media_type_of, served_name
from springloom.web.pages.story_page import story
from springloom.web.render import onward

_FIELDS = ("text", "file")


def write_note(request: Request, form: Form) -> Response:
    """Keep a note, or one in place of another."""
    number = paddle_id_of(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            add_note(pen, form.uid, "paddle", number, form.text("text"),
                     form.whole("replaces") if form.text("replaces") else None)
    except SpringloomError as error:
        return _again(request, form, error)
    return onward(request, f"/paddles/{number}/story#notes", form.uid, "The note is kept.")


def take_note_away(request: Request, form: Form) -> Response:
    """Withdraw a note of this paddle."""
    number, note = paddle_id_of(request), int(request.path_params["note"])
    with store_of(request).write(writer_of(request).name) as pen:
        if note in {one.id for one in notes(pen.connection, "paddle", number)}:
            withdraw_note(pen, form.uid, note)
    return onward(request, f"/paddles/{number}/story#notes", form.uid, "The note is withdrawn.")


def write_file(request: Request, form: Form) -> Response:
    """Keep a photo or a PDF."""
    number, chosen = paddle_id_of(request), form.file("file")
    try:
        if chosen is None:
            raise InputError("is missing: choose one first", field="file", allowed=ALLOWED)
        if len(chosen.content) > MOST_BYTES:
            raise InputError("is too large", field="file", allowed=ALLOWED)
        kind = media_type_of(chosen.content)
        with store_of(request).write(writer_of(request).name) as pen:
            attach(pen, form.uid, "paddle", number, form.text("caption") or chosen.name, kind,
                   chosen.content)
    except SpringloomError as error:
        return _again(request, form, error)
    return onward(request, f"/paddles/{number}/story#photos", form.uid, "The file is kept.")


def send_file(request: Request) -> Response:
    """Send a file of this paddle: a photo to look at, anything else to keep."""
    number, wanted = paddle_id_of(request), int(request.path_params["file"])
    with store_of(request).read() as connection:
        found = attachment(connection, wanted)
        if (found.about, found.about_id) != ("paddle", number):
            raise HTTPException(404)
        held = content(connection, wanted)
    # What came in with an archive may claim to be anything.
    kind = found.media_type if found.media_type in KEPT else "application/octet-stream"
    return sent(held, served_name(found.name, kind), kind, inline=kind in IMAGES)


def put_aside(request: Request, form: Form) -> Response:
    """Put the paddle out of the way, or take it up again."""
    number, aside = paddle_id_of(request), form.text("aside") == "1"
    with store_of(request).write(writer_of(request).name) as pen:
        set_aside(pen, form.uid, number, aside)
    say = "It is set aside; the logbook still has it." if aside else "It is on the bench again."
    return onward(request, f"/paddles/{number}/story", form.uid, say)


def _again(request: Request, form: Form, error: SpringloomError) -> Response:
    return story(request, 422, form=form, problem=problem_of(error, _FIELDS))
