"""A paddle's story: the page, its design file, and what is written on it."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from springloom.records.to_toml import layout_text
from springloom.report.files import file_stem
from springloom.store.layout import layout_of
from springloom.web.bench import store_of
from springloom.web.files import sent
from springloom.web.frame import paddle_id_of
from springloom.web.pages.story_page import story
from springloom.web.pages.story_writes import (
    put_aside,
    send_file,
    take_note_away,
    write_file,
    write_note,
)
from springloom.web.routing import get, post


def design_file(request: Request) -> Response:
    """Send the paddle as a design file."""
    with store_of(request).read() as connection:
        layout = layout_of(connection, paddle_id_of(request))
    return sent(layout_text(layout).encode(), f"{file_stem(layout.name)}.toml",
                "application/toml")


ROUTES = [
    get("/paddles/{paddle:int}/story", story),
    get("/paddles/{paddle:int}/design.toml", design_file),
    post("/paddles/{paddle:int}/story/notes", write_note),
    post("/paddles/{paddle:int}/story/notes/{note:int}/withdraw", take_note_away),
    post("/paddles/{paddle:int}/story/files", write_file),
    post("/paddles/{paddle:int}/story/aside", put_aside),
    get("/paddles/{paddle:int}/files/{file:int}", send_file),
]
