"""Pages from templates: what every template may use, and nothing that calculates."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from springloom import __version__
from springloom.report import cautions
from springloom.web.bench import bench_of, system_of, words_of, writer_of
from springloom.web.built import built_scripts, style_address
from springloom.web.forms import Form, Problem, new_uid
from springloom.web.tokens import form_token, store_mark

_TEMPLATES = Environment(
    loader=PackageLoader("springloom.web", "templates"), autoescape=True,
    undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
)
_TEMPLATES.globals.update(cautions=cautions, new_uid=new_uid, version=__version__,
                          built=built_scripts,
                          style=style_address)


def page(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Render a whole page.

    Templates see ``form`` (what was typed, empty at first) and ``problem`` (None at first)
    besides what is given here.
    """
    return HTMLResponse(_TEMPLATES.get_template(template).render(_common(request) | values),
                        status)


def fragment(request: Request, template: str, status: int = 200, **values: Any) -> Response:
    """Render a part of a page, for a live change."""
    return page(request, template, status, **values)


def onward(request: Request, path: str, uid: str = "", say: str = "") -> Response:
    """Send the browser on after a write; ``uid`` tells it that the entry is kept.

    Args:
        request: the write.
        path: where to, on this bench.
        uid: mark of the entry that is now stored.
        say: a short sentence shown on top of the next page.
    """
    if request.headers.get("hx-request"):
        answer = Response(status_code=204, headers={"HX-Redirect": path})
    else:
        answer = RedirectResponse(path, status_code=303)
    if uid:
        answer.headers["X-Kept"] = uid
    for name, text in (("springloom_kept", uid), ("springloom_said", quote(say))):
        if text:
            answer.set_cookie(name, text, max_age=60, httponly=True, samesite="strict")
    return answer


def is_live(request: Request) -> bool:
    """Whether only a part of the page was asked for."""
    return request.headers.get("hx-request") == "true"


def _common(request: Request) -> dict[str, Any]:
    bench, state = bench_of(request), request.state
    return {
        "request": request, "path": request.url.path, "writer": writer_of(request),
        "shared": bench.shared, "words": words_of(request), "system": system_of(request),
        "csrf": form_token(bench.key, state.session), "store_mark": store_mark(bench.key),
        "form": Form(), "problem": None,
        "kept": request.cookies.get("springloom_kept", ""), "said": state.said,
        "at_this_machine": state.local,
    }


def problem_page(request: Request, status: int, title: str, problem: Problem) -> Response:
    """Render a page that says what went wrong and where to go on."""
    return page(request, "problem.html", status, title=title, problem=problem)
