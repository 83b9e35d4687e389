"""Tests of a board: kept, corrected, withdrawn; the old ones stay readable."""

from __future__ import annotations

import re
from typing import Any, cast

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import ConflictError, InputError, SpringloomError, known
from springloom.store.boards import KINDS, TestKind, add_board_test, withdraw_board_test
from springloom.web.bench import store_of, system_of, writer_of
from springloom.web.forms import Form
from springloom.web.pages.boards_page import asked, board_page
from springloom.web.render import onward
from springloom.web.routing import post

_FIELD = re.compile(r"^board\.(bending|tap)(?:\[\d+\])?\.?(\w*)$")


def test(request: Request, form: Form) -> Response:
    """Keep a test, or one in place of another."""
    stored, kind = asked(request), cast(TestKind, known(form.text("kind"), KINDS, "kind"))
    replaces = form.whole("replaces") if form.text("replaces") else None
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            add_board_test(pen, form.uid, stored.id, kind, _table(form, kind), replaces,
                           units=system_of(request))
    except (ConflictError, InputError) as error:
        opened = kind if replaces is None else str(replaces)
        return board_page(request, form, _here(error), opened=opened)
    return onward(request, f"/boards/{stored.id}#{kind}", form.uid, "The test is kept")


def withdraw(request: Request, form: Form) -> Response:
    """Let a test no longer count."""
    stored = asked(request)
    try:
        with store_of(request).write(writer_of(request).name) as pen:
            withdraw_board_test(pen, form.uid, int(request.path_params["test"]))
    except (ConflictError, InputError) as error:
        return board_page(request, form, error)
    return onward(request, f"/boards/{stored.id}", form.uid, "The test no longer counts")


def _table(form: Form, kind: TestKind) -> dict[str, Any]:
    table: dict[str, Any] = form.given(kind)
    return table | ({"edgewise": True} if table.get("edgewise") else {})


def _here(error: SpringloomError) -> SpringloomError:
    """Return an error about the field that the page has for it."""
    found = _FIELD.match(error.field)
    return error if found is None else error.about(".".join(filter(None, found.groups())))


ROUTES = [post("/boards/{board:int}/tests", test),
          post("/boards/{board:int}/tests/{test:int}/withdraw", withdraw)]
