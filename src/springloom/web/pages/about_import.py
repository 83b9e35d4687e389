"""An archive taken in: first what it would add is told, then it is added.

Between the two steps the file waits in this machine's folder for temporary files, under a name
nobody can guess.
"""

from __future__ import annotations

import json
import os
import tempfile
import time
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import FileError, InputError, OutputError, SpringloomError
from springloom.store.archive import new_entries, restore
from springloom.web.bench import store_of
from springloom.web.forms import Form, problem_of
from springloom.web.local import refuse_from_afar
from springloom.web.render import onward, page

_DAY_S = 24 * 60 * 60
_PREFIX = "springloom-import-"

PARTS = {
    "people": "people", "bodies": "sets of measures", "boards": "boards",
    "board_sheets": "descriptions of boards", "board_tests": "tests of boards",
    "classes": "classes", "paddles": "paddles", "designs": "versions of designs",
    "rounds": "rounds of tuning", "closings": "ends of rounds", "readings": "readings",
    "marks": "ticks of carving", "notes": "notes", "attachments": "photos and papers",
    "changes": "changes of name or place",
}


def import_file(request: Request, form: Form, again: Callable[..., Response]) -> Response:
    """Look into an archive and say what it would add; ``again`` shows the page with a problem.

    Raises:
        ForbiddenError: asked from another machine.
    """
    refuse_from_afar(request)
    chosen = form.file("archive")
    try:
        if chosen is None:
            raise InputError("is missing: choose it first", field="archive",
                             allowed="a file that was downloaded here as the archive")
        data = _parsed(chosen.content)
        with store_of(request).read() as connection:
            found = new_entries(connection, data)
        held = _hold(chosen.content)
    except SpringloomError as error:
        return again(request, 422, problem=problem_of(error, ("archive",)))
    rows = [(PARTS.get(part, part), str(new), str(whole - new))
            for part, (new, whole) in found.items() if whole]
    return page(request, "about/import.html", rows=rows, held=held, name=chosen.name,
                new=sum(new for new, _ in found.values()))


def _parsed(content: bytes) -> Any:
    try:
        return json.loads(content)
    except (ValueError, RecursionError):
        raise FileError("is no JSON file", field="archive",
                        allowed="a file that was downloaded here as the archive") from None


def confirm(request: Request, form: Form) -> Response:
    """Take the archive in.

    Raises:
        ForbiddenError: asked from another machine.
        FileError: it waits no longer.
    """
    refuse_from_afar(request)
    place = _place(form.text("held"))
    try:
        content = place.read_bytes()
    except OSError:
        raise FileError("waits no longer: choose the file again", field="archive",
                        allowed="a file that was downloaded here as the archive") from None
    count = restore(store_of(request), _parsed(content))
    place.unlink(missing_ok=True)
    return onward(request, "/about#keep", form.uid,
                  f"{count} {'entry' if count == 1 else 'entries'} taken in.")


def _hold(content: bytes) -> str:
    """Keep an archive until it is confirmed; what has waited for a day goes."""
    folder = Path(tempfile.gettempdir())
    for old in folder.glob(f"{_PREFIX}*.json"):
        _let_go(old)
    mark = str(uuid.uuid4())
    place = _place(mark)
    try:
        with os.fdopen(os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
    except OSError as error:
        place.unlink(missing_ok=True)
        raise OutputError(f"can't wait here: {error.strerror}", field=str(place.parent),
                          allowed="a folder for temporary files with room") from error
    return mark


def _let_go(old: Path) -> None:
    try:
        if time.time() - old.stat().st_mtime > _DAY_S:
            old.unlink()
    except OSError:
        pass  # another's, or gone meanwhile


def _place(mark: str) -> Path:
    try:
        name = str(uuid.UUID(mark))
    except ValueError:
        raise InputError("is no mark of a file that waits", field="held") from None
    return Path(tempfile.gettempdir()) / f"{_PREFIX}{name}.json"
