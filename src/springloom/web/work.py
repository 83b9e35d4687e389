"""What each kind of long work makes."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from springloom.drawing.paper import Page
from springloom.errors import InputError
from springloom.report.all_sheets import FORMATS, plan_steps, step_count
from springloom.report.class_pack import pack_steps
from springloom.report.class_pack import step_count as pack_count
from springloom.report.files import file_stem
from springloom.report.words import Words
from springloom.store.class_rows import room_of
from springloom.store.classes import klass
from springloom.store.jobs import Job, Result
from springloom.store.opening import Store
from springloom.web.drawn import drawn, planned
from springloom.web.jobs import Make, Tell, each_told

ZIP = "application/zip"


def plans_zip(store: Store, arguments: Mapping[str, Any], tell: Tell) -> Result:
    """Write every sheet and solid of a paddle into one file."""
    plan = planned(store, int(arguments["paddle"]))
    words, page = Words(arguments["units"]), arguments["page"]
    steps = plan_steps(plan.design, Path(), FORMATS[:-1],
                       lambda maker: drawn(plan, maker, words, page))
    files = each_told(steps, step_count(FORMATS[:-1]), tell)
    stem = file_stem(plan.design.name)
    return Result(f"{stem}-plans.zip", ZIP, zipped(files, stem))


def class_pack_zip(store: Store, arguments: Mapping[str, Any], tell: Tell) -> Result:
    """Write every student's plans, as they are designed now, into one file."""
    with store.read() as connection:
        title = klass(connection, int(arguments["class"])).name
        room, _ = room_of(connection, int(arguments["class"]))
    if not room.students:
        raise InputError("has no student whose paddle can be made", field=title,
                         allowed=str(room.bad[0]) if room.bad else "at least one student")
    steps = pack_steps(title, room, Words(arguments["units"]), Path(), arguments["page"])
    files = each_told(steps, pack_count(room), tell)
    stem = file_stem(title)
    return Result(f"{stem}-plans.zip", ZIP, zipped(files, stem))


def zipped(files: Mapping[Path, bytes], folder: str) -> bytes:
    """Return files as one ZIP that unpacks into a folder."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for path, content in files.items():
            archive.writestr(f"{folder}/{path.as_posix()}", content)
    return made.getvalue()


MAKERS: Mapping[str, Make] = MappingProxyType({"plans": plans_zip, "class": class_pack_zip})


def plans_wanted(paddle_id: int, units: str, page: Page) -> dict[str, Any]:
    """Return the arguments of :func:`plans_zip`."""
    return {"paddle": paddle_id, "units": units, "page": page}


def title_of(job: Job) -> str:
    """Return what is being made, as a heading."""
    return _TITLES.get(job.kind, "Work")


_TITLES = {"plans": "All plans as one ZIP", "class": "A class's plans as one ZIP"}


def back_to(job: Job) -> str:
    """Return where the work was asked for."""
    if "class" in job.arguments:
        return f"/classes/{job.arguments['class']}"
    return f"/paddles/{job.arguments['paddle']}/plans" if "paddle" in job.arguments else "/"
