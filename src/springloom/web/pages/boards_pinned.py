"""What is pinned to a board: photographs and notes."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import ConflictError, InputError, NotStoredError
from springloom.store.attachments import MOST_BYTES, attach, attachment, content
from springloom.store.notes import add_note, withdraw_note
from springloom.web.bench import store_of, writer_of
from springloom.web.forms import Form
from springloom.web.media import IMAGES, found_type
from springloom.web.pages.boards_page import asked, board_page
from springloom.web.render import onward
from springloom.web.routing import get, post

_MOST_WORDS = f"a JPEG, PNG or WebP picture of at most {MOST_BYTES // 1_000_000} MB"


def pin(request: Request, form: Form) -> Response:
    """Keep a photograph."""
    stored = asked(request)
    try:
        name, media_type, data = _picture(form)
        with store_of(request).write(writer_of(request).name) as pen:
            attach(pen, form.uid, "board", stored.id, name, media_type, data)
    except InputError as error:
        return board_page(request, form, error.about("photo"), opened="photo")
    return onward(request, f"/boards/{stored.id}#pinned", form.uid, "The photo is kept")


def _picture(form: Form) -> tuple[str, str, bytes]:
    """Return name, media type and content of what was chosen.

    Raises:
        InputError: nothing, or no picture.
    """
    chosen = form.file("photo")
    if chosen is None:
        raise InputError("none was chosen", field="photo", allowed=_MOST_WORDS)
    media_type = found_type(chosen.content)
    if media_type not in IMAGES:
        raise InputError("is no picture that every browser shows", field="photo",
                         given=chosen.name, allowed=_MOST_WORDS)
    return chosen.name[-200:], media_type, chosen.content


def photo(request: Request) -> Response:
    """Send a photograph of the board, never as anything else than a picture."""
    stored, number = asked(request), int(request.path_params["photo"])
    with store_of(request).read() as connection:
        found = attachment(connection, number)
        if (found.about, found.about_id) != ("board", stored.id) or not (
                found.media_type.startswith("image/")):
            raise NotStoredError("is not of this board", field="photo", given=number)
        data = content(connection, number)
    found_as = found_type(data)
    media_type = found_as if found_as in IMAGES else "application/octet-stream"
    return Response(data, media_type=media_type, headers={
        "Cache-Control": "private, max-age=86400", "Content-Disposition": "inline"})


def note(request: Request, form: Form) -> Response:
    """Keep a note."""
    stored = asked(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            add_note(pen, form.uid, "board", stored.id, form.text("text"))
    except InputError as error:
        return board_page(request, form, error, opened="note")
    return onward(request, f"/boards/{stored.id}#pinned", form.uid)


def take_note_away(request: Request, form: Form) -> Response:
    """Withdraw a note."""
    stored = asked(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            withdraw_note(pen, form.uid, int(request.path_params["note"]))
    except (ConflictError, InputError) as error:
        return board_page(request, form, error)
    return onward(request, f"/boards/{stored.id}#pinned", form.uid)


ROUTES = [
    post("/boards/{board:int}/photos", pin), get("/boards/{board:int}/photos/{photo:int}", photo),
    post("/boards/{board:int}/notes", note),
    post("/boards/{board:int}/notes/{note:int}/withdraw", take_note_away),
]
