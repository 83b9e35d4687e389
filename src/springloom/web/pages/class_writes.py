"""Students taken into a class, by a file or one at a time, and its plans asked for."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from springloom.errors import FileError, InputError, SpringloomError, known
from springloom.records.classfile import COLUMNS, ClassFile, class_row, parse_class
from springloom.report.classroom import classroom
from springloom.store.class_rows import Taken, class_base, class_units, take_student, take_students
from springloom.store.classes import klass
from springloom.store.jobs import ask
from springloom.web.bench import store_of, system_of, writer_of
from springloom.web.forms import Form, problem_of
from springloom.web.jobs import wake
from springloom.web.pages.class_page import class_id_of, show
from springloom.web.render import onward

PAPERS = ("a4", "letter")
_MOST_BYTES = 1_000_000


def add_one(request: Request, form: Form) -> Response:
    """Take in one student."""
    number, store = class_id_of(request), store_of(request)
    typed = {name: form.text(name) for name in COLUMNS if form.text(name)}
    try:
        with store.read() as connection:
            units, base = class_units(klass(connection, number)), class_base(connection, number)
        row = class_row(1, typed, units)
        room = classroom(ClassFile((row,), ()), base, units)
        if room.bad:
            raise room.bad[0].error
        with store.write(writer_of(request).name) as pen:
            take_student(pen, form.uid, number, room.students[0])
    except SpringloomError as error:
        return show(request, 422, form=form, problem=problem_of(error, COLUMNS))
    return onward(request, f"/classes/{number}", form.uid, f"{row.name} is in the class.")


def add_file(request: Request, form: Form) -> Response:
    """Take in what a spreadsheet saved; say which lines could not be used."""
    number, store = class_id_of(request), store_of(request)
    try:
        with store.read() as connection:
            units = class_units(klass(connection, number))
        chosen = form.file("file")
        if chosen is None:
            raise InputError("is missing: choose it first", field="file", allowed="a CSV file")
        read = parse_class(_text(chosen.content), units, chosen.name)
        taken = take_students(store, writer_of(request).name, number, read)
    except SpringloomError as error:
        return show(request, 422, problem=problem_of(error, ("file",)))
    if taken.bad:
        return show(request, 422, taken=taken, taken_words=_words(taken))
    return onward(request, f"/classes/{number}", form.uid, _words(taken))


def _text(content: bytes) -> str:
    if len(content) > _MOST_BYTES:
        raise FileError("is too large for a class", field="file", allowed="at most 1 MB")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FileError("is no text in UTF-8", field="file",
                        allowed="CSV (UTF-8), as a spreadsheet saves it") from None


def _words(taken: Taken) -> str:
    came = len(taken.new)
    said = f"{came} student{'' if came == 1 else 's'} taken in"
    if taken.known:
        said += f", {taken.known} {'was' if taken.known == 1 else 'were'} in the class already"
    if taken.bad:
        count = len(taken.bad)
        said += f", {count} line{'' if count == 1 else 's'} could not be used"
    return f"{said}."


def ask_pack(request: Request, form: Form) -> Response:
    """Ask for everybody's plans as one file."""
    number, paper = class_id_of(request), form.text("page")
    known(paper, PAPERS, "page")
    with store_of(request).write(writer_of(request).name) as pen:
        klass(pen.connection, number)
        made = ask(pen, form.uid, "class", pack_wanted(number, system_of(request), paper))
    wake(request)
    return onward(request, f"/jobs/{made.id}", form.uid)


def pack_wanted(class_id: int, units: str, page: str) -> dict[str, str | int]:
    """Return the arguments of a class's work."""
    return {"class": class_id, "units": units, "page": page}

