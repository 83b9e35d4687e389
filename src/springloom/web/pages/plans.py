"""Sheets and solids of a paddle: what each is for, to look at, to keep and to print."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from springloom.drawing.model import Drawing
from springloom.drawing.paper import Page, paper
from springloom.drawing.svg import write_svg
from springloom.errors import SpringloomError, known
from springloom.records.design import Design
from springloom.report.all_sheets import (
    DRAWING_FORMATS,
    SHEETS,
    SOLID_PURPOSES,
    SOLIDS,
    SheetMaker,
    sheet_files,
)
from springloom.report.files import file_stem
from springloom.report.words import Words
from springloom.store.jobs import ask
from springloom.store.kept import Kept
from springloom.store.summaries import state_key
from springloom.web.bench import store_of, system_of, words_of, writer_of
from springloom.web.drawn import drawn, planned_of
from springloom.web.figures import figure
from springloom.web.files import sent
from springloom.web.forms import Form, problem_of
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.jobs import wake
from springloom.web.render import fragment, is_live, onward
from springloom.web.routing import get, post
from springloom.web.work import ZIP, plans_wanted, zipped

PAPERS: tuple[tuple[Page, str], ...] = (("a4", "A4"), ("letter", "Letter"))
MEDIA = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf",
         "step": "model/step", "stl": "model/stl", "3mf": "model/3mf", "glb": "model/gltf-binary"}
BARS = "100 mm and 4 in"
_SVG: Kept[str] = Kept(96)
_WORK = uuid.uuid5(uuid.NAMESPACE_URL, "springloom:plans")
_DAY = 24 * 60 * 60

@dataclass(frozen=True, slots=True)
class Sheet:
    """One page of a kind of sheet, as a page shows it."""

    maker: SheetMaker
    number: int
    drawings: tuple[Drawing, ...]
    page: Page
    words: Words
    mark: str

    @property
    def key(self) -> tuple[str, ...]:
        """Tells it apart from every other page of every design."""
        return (self.mark, self.maker.key, str(self.number), self.words.system, self.page)

    @property
    def drawing(self) -> Drawing:
        """What is on it."""
        return self.drawings[self.number - 1]

    @property
    def size(self) -> str:
        """How large it is."""
        return _size(self.drawing, self.words)

    @property
    def small(self) -> bool:
        """Whether the chosen paper holds every page of this kind at full size."""
        return all(_fits(drawing, self.page) for drawing in self.drawings)

    @property
    def has_bar(self) -> bool:
        """Whether there are bars on any page to check the print's scale by."""
        return any(item.layer == "check" for each in self.drawings for item in each.items)

    @property
    def steps(self) -> tuple[tuple[str, int], ...]:
        """The pages before and after this one, by their words."""
        around = (("Previous sheet", self.number - 1), ("Next sheet", self.number + 1))
        return tuple((say, n) for say, n in around if 0 < n <= len(self.drawings))


def _fits(drawing: Drawing, page: Page) -> bool:
    sheet = paper(page)
    return sorted((drawing.width_mm, drawing.height_mm)) == [sheet.width_mm, sheet.height_mm]


def _size(drawing: Drawing, words: Words) -> str:
    wide, high = (words.length(1e-3 * size) for size in (drawing.width_mm, drawing.height_mm))
    return f"{wide.removesuffix(f' {words.system}')} × {high}"


def page_of(request: Request) -> Page:
    """Return the paper that was asked for; the usual one of the visitor's units otherwise.

    Raises:
        UnknownNameError: no such paper.
    """
    usual = "letter" if system_of(request) == "in" else "a4"
    return _page(request.query_params.get("page", usual))


def _page(asked: str) -> Page:
    known(asked, [name for name, _ in PAPERS], "page")
    return "letter" if asked == "letter" else "a4"


def _maker(request: Request) -> SheetMaker:
    key = request.path_params["sheet"]
    found = next((maker for maker in SHEETS if maker.key == key), None)
    if found is None:
        raise HTTPException(404)
    return found


def _sheet(request: Request) -> Sheet:
    """Return the page of a sheet that was asked for."""
    maker, words, page = _maker(request), words_of(request), page_of(request)
    plan = planned_of(request)
    drawings = drawn(plan, maker, words, page)
    asked = request.query_params.get("n", "1")
    number = int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 6 else 0
    if not 0 < number <= len(drawings):
        raise HTTPException(404)
    return Sheet(maker, number, drawings, page, words, plan.mark)


def plans(request: Request) -> Response:
    """Show what there is."""
    values: dict[str, Any] = {"page": page_of(request), "papers": PAPERS, "sheets": SHEETS,
                              "solids": SOLID_PURPOSES, "missing": None, "mark": ""}
    try:
        plan = planned_of(request)
        values["mark"] = plan.mark
        _ = plan.design.build
    except SpringloomError as error:
        values["missing"] = problem_of(error)
    return paddle_page(request, "plans/list.html", "plans", **values)


def sheet(request: Request) -> Response:
    """Show one kind of sheet, page by page."""
    shown = _sheet(request)
    values: dict[str, Any] = {
        "sheet": shown, "papers": PAPERS, "paddle_id": paddle_id_of(request),
        "figure": Markup(_SVG.get(("in a page", *shown.key),
                                  lambda: figure(shown.drawing, "sheet-")))}
    if is_live(request):
        return fragment(request, "plans/one.html", **values)
    return paddle_page(request, "plans/sheet.html", "plans", **values)


def print_page(request: Request) -> Response:
    """Show all pages of a sheet so that the browser prints them at their true size."""
    shown = _sheet(request)
    figures = [(_place(drawing), figure(drawing, f"sheet-{n}-"))
               for n, drawing in enumerate(shown.drawings, 1)] if shown.small else []
    tiles = next((maker for maker in SHEETS if maker.key == f"{shown.maker.key}-tiles"), None)
    return paddle_page(request, "plans/print.html", "plans", paddle_id=paddle_id_of(request),
                       sheet=shown, papers=PAPERS, figures=figures, tiles=tiles, bars=BARS)


def print_css(request: Request) -> Response:
    """Say to the printer how large each page is."""
    sizes = {_place(each): (each.width_mm, each.height_mm) for each in _sheet(request).drawings}
    rules = "".join(
        f"@page {name}{{size:{wide:g}mm {high:g}mm;margin:0}}\n"
        f"@media print{{.{name}{{page:{name}}}.{name} svg.springloom"
        f"{{width:{wide:g}mm;height:{high:g}mm;min-width:0}}}}\n"
        for name, (wide, high) in sizes.items())
    return Response(rules, media_type="text/css")


def _place(drawing: Drawing) -> str:
    """Return the name of a page's size in a style sheet."""
    return f"sheet-{drawing.width_mm:g}-{drawing.height_mm:g}".replace(".", "_")


def sheet_file(request: Request) -> Response:
    """Send a kind of sheet as a file: all of it, or the page that was asked for."""
    shown, suffix = _sheet(request), request.path_params["suffix"]
    if suffix not in DRAWING_FORMATS:
        raise HTTPException(404)
    design = planned_of(request).design
    if "show" in request.query_params and suffix == "svg":
        return _shown_svg(request, shown)
    base = f"{file_stem(design.name)}-{shown.maker.key}"
    files = sheet_files(shown.drawings, Path(), base, f"{design.name}: {shown.maker.title}",
                        (suffix,))
    if "n" in request.query_params and suffix != "pdf":
        path, content = list(files.items())[shown.number - 1]
    elif len(files) > 1:
        return sent(zipped(files, base), f"{base}-{suffix}.zip", ZIP)
    else:
        path, content = next(iter(files.items()))
    return sent(content, path.name, MEDIA[suffix], inline="show" in request.query_params)


def _shown_svg(request: Request, shown: Sheet) -> Response:
    """Send one page to look at, in the reader's light or dark scheme."""
    made = _SVG.get(("alone", *shown.key), lambda: write_svg(shown.drawing, ground="screen"))
    answer = sent(made.encode(), f"{shown.maker.key}-{shown.number}.svg", MEDIA["svg"],
                  inline=True)
    if "mark" in request.query_params:  # another state of the design has another address
        answer.headers["Cache-Control"] = f"private, max-age={_DAY}"
    return answer


def solid_file(request: Request) -> Response:
    """Send the paddle as a solid."""
    suffix = request.path_params["suffix"]
    if suffix not in SOLIDS:
        raise HTTPException(404)
    design: Design = planned_of(request).design
    return sent(SOLIDS[suffix](design), f"{file_stem(design.name)}.{suffix}", MEDIA[suffix])


def everything(request: Request, form: Form) -> Response:
    """Ask for all of it in one file; the same state of the same paddle is made but once."""
    page, units, number = _page(form.text("page")), system_of(request), paddle_id_of(request)
    wanted = plans_wanted(number, units, page)
    with store_of(request).write(writer_of(request).name) as pen:
        key = state_key(pen.connection, number)
        made = ask(pen, str(uuid.uuid5(_WORK, f"{key} {units} {page}")), "plans", wanted)
    wake(request)
    return onward(request, f"/jobs/{made.id}")


_AT = "/paddles/{paddle:int}/plans"
ROUTES = [
    get(_AT, plans),
    post(f"{_AT}/everything", everything),
    get(f"{_AT}/solids/paddle.{{suffix}}", solid_file),
    get(f"{_AT}/files/{{sheet}}.{{suffix}}", sheet_file),
    get(f"{_AT}/{{sheet}}", sheet),
    get(f"{_AT}/{{sheet}}/print", print_page),
    get(f"{_AT}/{{sheet}}/print.css", print_css),
]
