"""What Springloom is, where everything is kept, and how to take it elsewhere."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from springloom.report.cautions import EVERY
from springloom.report.moments import when
from springloom.report.terms import IS, IS_NOT, TERMS
from springloom.store.archive import archive, readings_csv
from springloom.store.backup import backups_of
from springloom.store.opening import back_up
from springloom.web.bench import store_of
from springloom.web.built import STATIC
from springloom.web.files import sent
from springloom.web.forms import Form
from springloom.web.local import refuse_from_afar
from springloom.web.pages.about_import import confirm, import_file
from springloom.web.render import onward, page
from springloom.web.routing import get, post

_LATEST = 5


def about(request: Request, status: int = 200, **values: Any) -> Response:
    """Show the page."""
    store = store_of(request)
    copies = [] if store.path is None else backups_of(store.path)
    return page(request, "about/about.html", status, kept_in=store.url,
                has_file=store.path is not None, copies=[_copy(one) for one in copies[-_LATEST:]],
                count=len(copies), IS=IS, IS_NOT=IS_NOT, terms=TERMS, every=EVERY,
                licence=_licence(), bundled=_bundled(), **values)


def _copy(path: Path) -> tuple[str, str, str]:
    """A backup's name, when it was made, and how large it is."""
    found = path.stat()
    made = datetime.fromtimestamp(found.st_mtime, UTC)
    return path.name, when(made), f"{found.st_size / 1e6:.1f} MB"


def _licence() -> str:
    """Return the licence's text as installed, "" where it can't be found."""
    try:
        found = metadata.distribution("springloom")
    except metadata.PackageNotFoundError:
        return ""
    return found.read_text("licenses/LICENSE") or ""


def _bundled() -> str:
    """Return the licences of what the build bundled, "" where nothing was."""
    place = STATIC / "built" / "LICENSES.txt"
    return place.read_text(encoding="utf-8") if place.is_file() else ""


def copy_now(request: Request, form: Form) -> Response:
    """Put a dated copy beside the store.

    Raises:
        ForbiddenError: asked from another machine.
        StoreError: it is kept by a database server, or the copy can't be written.
    """
    refuse_from_afar(request)
    made = back_up(store_of(request))
    return onward(request, "/about#keep", form.uid, f"Copied to {made.name}.")


def send_archive(request: Request) -> Response:
    """Send everything as one JSON file."""
    with store_of(request).read() as connection:
        found = archive(connection)
    text = json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False)
    return sent(text.encode(), f"springloom-{_today()}.json", "application/json")


def send_readings(request: Request) -> Response:
    """Send every reading as a table for a spreadsheet."""
    with store_of(request).read() as connection:
        text = readings_csv(connection)
    # With a mark of its encoding, so that a spreadsheet reads every letter.
    return sent(text.encode("utf-8-sig"), f"springloom-readings-{_today()}.csv",
                "text/csv; charset=utf-8")


def _today() -> str:
    return datetime.now().astimezone().date().isoformat()


def take_file(request: Request, form: Form) -> Response:
    """Look into an archive and say what it would add."""
    return import_file(request, form, about)


ROUTES = [
    get("/about", about), post("/about/backup", copy_now),
    get("/about/archive.json", send_archive), get("/about/readings.csv", send_readings),
    post("/about/import", take_file), post("/about/import/confirm", confirm),
]
