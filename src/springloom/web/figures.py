"""Drawings inside a page: one style sheet and one face for all of them."""

from __future__ import annotations

import functools

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from springloom.drawing.fonts import woff
from springloom.drawing.model import Drawing, Weight
from springloom.drawing.svg import style_css, write_svg

_DAY = 24 * 60 * 60
_WEIGHTS = {"regular": Weight.REGULAR, "bold": Weight.BOLD}


def figure(drawing: Drawing, prefix: str) -> Markup:
    """Return a drawing to stand in a page; ``prefix`` keeps its ids apart from others'."""
    return Markup(write_svg(drawing, ground="screen", embed_font=False, embed_style=False,
                            id_prefix=prefix))


@functools.cache
def _css() -> str:
    faces = "".join(
        f"@font-face{{font-family:'Springloom Lettering';"
        f"font-weight:{'bold' if name == 'bold' else 'normal'};font-display:swap;"
        f"src:url(/figures/lettering-{name}.woff) format('woff')}}\n" for name in _WEIGHTS)
    return faces + style_css("screen") + "svg.springloom{width:100%;height:auto;display:block}\n"


def figures_css(request: Request) -> Response:
    """Serve the style sheet of all drawings."""
    del request
    return Response(_css(), media_type="text/css", headers=_kept())


def lettering(request: Request) -> Response:
    """Serve the face that drawings and pages are lettered in."""
    weight = _WEIGHTS.get(request.path_params["weight"])
    if weight is None:
        return Response("no such face", 404)
    return Response(woff(weight), media_type="font/woff", headers=_kept())


def _kept() -> dict[str, str]:
    return {"Cache-Control": f"public, max-age={_DAY}"}


ROUTES = [Route("/figures.css", figures_css), Route("/lettering-{weight}.woff", lettering)]
