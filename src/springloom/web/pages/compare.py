"""Two to four paddles side by side."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from springloom.report.compare import MOST, Compared, compare_drawings, compare_rows, load_words
from springloom.store.layout import design_of
from springloom.web.bench import store_of, words_of
from springloom.web.figures import figure
from springloom.web.forms import Problem
from springloom.web.render import page


def compare(request: Request) -> Response | Problem:
    """Show them, or say why it can't be.

    Raises:
        NotStoredError: there is no such paddle.
        InputError, EvidenceError: one of them has no wood, or readings that fit no paddle.
    """
    typed = request.query_params.getlist("paddle")
    numbers = list(dict.fromkeys(int(one) for one in typed
                                 if one.isascii() and one.isdigit() and len(one) < 11))
    if not 2 <= len(numbers) <= MOST:
        return Problem("Tick two to four paddles to compare")
    with store_of(request).read() as connection:
        designs = [design_of(connection, number) for number in numbers]
    words = words_of(request)
    chosen = [Compared.of(design) for design in designs]
    drawn = [figure(drawing, f"c{n}") for n, drawing in enumerate(compare_drawings(chosen, words))]
    heads = [(f"{n} {one.name}", f"/paddles/{number}/story")
             for n, (one, number) in enumerate(zip(chosen, numbers, strict=True), 1)]
    return page(request, "logbook/compare.html", heads=heads, drawn=drawn,
                rows=compare_rows(chosen, words), under=load_words(words))
