"""Lines to set off on the wood: one place at a time, large, or the whole table; and the loom."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from springloom.drawing.layout_key import letters_drawing, order_drawings
from springloom.report.layout_words import ORDER, guides
from springloom.report.set_off_words import WORK, Face, Place, set_off
from springloom.shape.stages import Carving, carvings
from springloom.store.kept import Kept
from springloom.units import System
from springloom.web.bench import system_of, words_of
from springloom.web.drawn import Planned, planned_of
from springloom.web.figures import figure
from springloom.web.frame import paddle_id_of, paddle_page
from springloom.web.render import fragment, is_live
from springloom.web.routing import get

_FACES: Kept[tuple[Face, ...]] = Kept(64)
_GUIDES: Kept[tuple[str, ...]] = Kept(64)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one is: on which face, at which of its places, for which work."""

    face: Face
    at: int
    work: str

    @property
    def place(self) -> Place:
        """The place."""
        return self.face.places[self.at]

    @property
    def steps(self) -> tuple[tuple[str, str, int], ...]:
        """The neighbouring places: a key, words, number."""
        around = (("previous", "Back to", self.at - 1), ("next", "On to", self.at + 1))
        return tuple((key, f"{say} {self.face.places[n].name}", n) for key, say, n in around
                     if 0 <= n < len(self.face.places))


def faces_of(plan: Planned, system: System) -> tuple[Face, ...]:
    """Return the figures of every face, worked out once."""
    return _FACES.get((plan.mark, system), lambda: set_off(plan.design, system))


def lines(request: Request) -> Response:
    """Show one place."""
    plan = planned_of(request)
    faces = faces_of(plan, system_of(request))
    spot = _spot(request, faces)
    carving = _carving(plan, spot.face)
    values = {"spot": spot, "faces": faces, "work": WORK, "paddle_id": paddle_id_of(request),
              "figures": _figures(carving, spot.place.x_m, f"at {spot.place.name}")}
    if is_live(request):
        return fragment(request, "carve/place.html", 200, **values)
    return paddle_page(request, "carve/lines.html", "carve", 200, **values)


def _spot(request: Request, faces: tuple[Face, ...]) -> Spot:
    asked = request.query_params
    face = next((one for one in faces if one.key == asked.get("face", faces[0].key)), None)
    at = asked.get("at", "0")
    if face is None or not (at.isascii() and at.isdigit() and len(at) < 4
                            and int(at) < len(face.places)):
        raise HTTPException(404)
    work = asked.get("work", "")
    return Spot(face, int(at), work if work in dict(WORK) else "")


def _carving(plan: Planned, face: Face) -> Carving:
    a, b = carvings(plan.design.paddle)
    return b if face.blade == "B" else a


def _figures(carving: Carving, x_m: float, place: str) -> list[tuple[str, Markup]]:
    """Draw the section after each stage that has a figure; at the tip there is none."""
    if x_m >= carving.half.tip:
        return []
    return [(caption, figure(drawing, f"order-{n}-"))
            for n, (caption, drawing) in enumerate(order_drawings(carving, x_m, place))]


def table(request: Request) -> Response:
    """Show all places of every face."""
    faces = faces_of(planned_of(request), system_of(request))
    return paddle_page(request, "carve/table.html", "carve", faces=faces)


def loom(request: Request) -> Response:
    """Show the loom to 8 and to 16 sides, and what the letters measure."""
    plan = planned_of(request)
    faces = faces_of(plan, system_of(request))
    paddle, words = plan.design.paddle, words_of(request)
    carving = carvings(paddle)[0]
    said = _GUIDES.get((plan.mark, words.system), lambda: guides(paddle, words))
    return paddle_page(
        request, "carve/loom.html", "carve", face=faces[0], order=ORDER,
        guides=said,
        letters=figure(letters_drawing(carving), "letters-"),
        figures=_figures(carving, 0.0, "on the loom"))


_AT = "/paddles/{paddle:int}/carve"
ROUTES = [
    get(f"{_AT}/lines", lines),
    get(f"{_AT}/lines/all", table),
    get(f"{_AT}/loom", loom),
]
