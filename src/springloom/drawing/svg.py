"""Drawings as SVG: real size, one group per layer, text as text.

A viewer sees the same letters as in the PDF, because the few it needs are embedded. On
``ground="screen"`` the page follows the reader's light or dark scheme, and still prints as ink
on white; ``ground="print"`` is ink on white everywhere.
"""

from __future__ import annotations

import base64
from typing import Literal, TypeAlias
from xml.sax.saxutils import escape, quoteattr

from springloom.drawing.fonts import FAMILY, em_mm, woff
from springloom.drawing.lettering import Setting, characters, set_text
from springloom.drawing.model import Array, Drawing, Item, Path, Pen, Point, Text, Weight
from springloom.errors import InputError, known

Ground: TypeAlias = Literal["print", "screen"]

LIGHT = {"ink": "#000", "wash": "#e4e4e4", "ground": "#fff"}
SCREEN_LIGHT = {"ink": "#1d1b18", "wash": "#e6e1d8", "ground": "#fff"}
SCREEN_DARK = {"ink": "#ece7de", "wash": "#45413b", "ground": "#1c1a17"}

# Three decimals are 0.5 µm at most from the model.
_DECIMALS = 3
_FALLBACK = f"'{FAMILY}','Bitstream Vera Sans','DejaVu Sans',Verdana,sans-serif"


def write_svg(drawing: Drawing, *, ground: Ground = "print", embed_font: bool = True,
              embed_style: bool = True, id_prefix: str = "") -> str:
    """Write one page as an SVG document, sized in mm, one user unit to the mm.

    Args:
        drawing: the page.
        ground: ``print`` for ink on white, ``screen`` to follow the reader's colour scheme.
        embed_font: False when the page around it already carries ``font_css()``.
        embed_style: False when the page around it already carries ``style_css(ground)``.
        id_prefix: put before every id, to keep them apart when several share one HTML page.

    Raises:
        InputError: a ground nobody knows.
    """
    known(ground, ("print", "screen"), "svg.ground")
    if id_prefix and not id_prefix.replace("-", "").replace("_", "").isalnum():
        raise InputError("is no prefix for an id", field="svg.id_prefix", given=id_prefix,
                         allowed="letters, digits, '-' and '_'")
    texts = [item for item in drawing.items if isinstance(item, Text)]
    fonts = _font_faces(characters(texts)) if embed_font else ""
    layers = "".join(_layer(drawing, name, id_prefix) for name in drawing.layers)
    rules = _style(ground) if embed_style else ""
    style = f"<style>{fonts}{rules}</style>\n" if fonts or rules else ""
    return _head(drawing, ground, id_prefix) + (
        f"{style}"
        f'<rect class="page" width="{_num(drawing.width_mm)}" '
        f'height="{_num(drawing.height_mm)}"/>\n{layers}</svg>\n'
    )


def font_css() -> str:
    """Return ``@font-face`` rules with the whole face, for a page that shows many drawings."""
    return _font_faces(dict.fromkeys(Weight))


def style_css(ground: Ground) -> str:
    """Return the rules for pens, fills and lettering, for a page that shows many drawings.

    Raises:
        InputError: a ground nobody knows.
    """
    known(ground, ("print", "screen"), "svg.ground")
    return _style(ground)


def _head(drawing: Drawing, ground: str, prefix: str) -> str:
    width, height = _num(drawing.width_mm), _num(drawing.height_mm)
    title_id, desc_id = f"{prefix}page-title", f"{prefix}page-desc"
    about = title_id + (f" {desc_id}" if drawing.description else "")
    desc = (f'<desc id="{desc_id}">{escape(drawing.description)}</desc>\n'
            if drawing.description else "")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" xml:space="preserve" role="img" aria-labelledby="{about}" '
        f'class="springloom {ground}">\n<title id="{title_id}">{escape(drawing.title)}</title>\n'
        f"{desc}"
    )


def _style(ground: str) -> str:
    """Rules for fills, pens and lettering, all under the root's own class."""
    root = f".springloom.{ground}"
    ink, wash, bare = (_colour(ground, name) for name in ("ink", "wash", "ground"))
    rules = [
        *(_scheme(root) if ground == "screen" else ()),
        f"{root} .page,{root} .on-ground{{fill:{bare}}}",
        f"{root} .on-ink,{root} text{{fill:{ink}}}",
        f"{root} .on-wash{{fill:{wash}}}",
        f"{root} path{{fill-rule:evenodd;stroke-linejoin:round}}",
        f"{root} .open{{fill:none}}",
        *(f"{root} .{pen.value}{{stroke:{ink};{_pen(pen)}}}" for pen in Pen),
        f"{root} text{{font-family:{_FALLBACK};font-kerning:none;"
        "font-variant-ligatures:none;white-space:pre}",
        f"{root} .bold{{font-weight:bold}}",
        f"{root} .unseen{{fill:none;pointer-events:all}}",
    ]
    return "\n".join(("", *rules, ""))


def _scheme(root: str) -> tuple[str, ...]:
    return (
        f"{root}{{{_variables(SCREEN_LIGHT)}}}",
        f"@media (prefers-color-scheme:dark){{{root}{{{_variables(SCREEN_DARK)}}}}}",
        f"@media print{{{root}{{{_variables(LIGHT)}}}}}",
    )


def _variables(colours: dict[str, str]) -> str:
    return ";".join(f"--springloom-{name}:{value}" for name, value in colours.items())


def _colour(ground: str, name: str) -> str:
    return LIGHT[name] if ground == "print" else f"var(--springloom-{name})"


def _pen(pen: Pen) -> str:
    dash = " ".join(_num(length) for length in pen.dash_mm)
    return f"stroke-width:{_num(pen.width_mm)}" + (f";stroke-dasharray:{dash}" if dash else "")


def _font_faces(used: dict[Weight, str] | dict[Weight, None]) -> str:
    rules = []
    for weight, chars in used.items():
        data = base64.b64encode(woff(weight, chars)).decode("ascii")
        css = "bold" if weight is Weight.BOLD else "normal"
        rules.append(f"\n@font-face{{font-family:'{FAMILY}';font-weight:{css};"
                     f"src:url(data:font/woff;base64,{data}) format('woff')}}")
    return "".join(rules)


def _layer(drawing: Drawing, name: str, prefix: str) -> str:
    items = "".join(_item(item, drawing.height_mm) for item in drawing.on_layer(name))
    return f"<g id={quoteattr(prefix + name)}>\n{items}</g>\n"


def _item(item: Item, height: float) -> str:
    return _path(item, height) if isinstance(item, Path) else _text(item, height)


def _path(path: Path, height: float) -> str:
    pen = path.pen.value if path.pen else ""
    fill = f"on-{path.fill.value}" if path.fill else "open"
    return f'<path class="{f"{pen} {fill}".strip()}" d="{path_data(path, height)}"/>\n'


def path_data(path: Path, height: float) -> str:
    """Return the ``d`` of a path, y counted down from ``height``: M, L, C and Z, absolute."""
    straight, parts, done = path.straight(), [], 0
    for run in path.runs():
        parts.append(_run_data(run, straight[done:done + len(run)].tolist(), height))
        done += len(run)
    end = "Z" if path.closed else ""
    return "".join(part + end for part in parts)


def _run_data(run: Array, straight: list[bool], height: float) -> str:
    flipped = (run * (1.0, -1.0) + (0.0, height)).tolist()
    out = [f"M{_pair(flipped[0][0])}"]
    for (_, b, c, d), flat in zip(flipped, straight, strict=True):
        out.append(f"L{_pair(d)}" if flat else f"C{_pair(b)} {_pair(c)} {_pair(d)}")
    return "".join(out)


def _text(text: Text, height: float) -> str:
    setting = set_text(text)
    x, y = text.x, height - text.y
    kind = ' class="bold"' if text.weight is Weight.BOLD else ""
    turn = (f' transform="rotate({_num(-text.rotation_deg)} {_num(x)} {_num(y)})"'
            if text.rotation_deg else "")
    runs = "".join(_spans(setting, text, (x, y)))
    return f"<text{kind}{turn}{runs}</text>\n{_bars(setting, (x, y), turn)}"


def _spans(setting: Setting, text: Text, at: Point) -> list[str]:
    """Attributes and content of a text element; a line without fraction needs no spans."""
    places = [
        f'x="{_num(at[0] + run.x)}" y="{_num(at[1] - run.y)}" '
        f'font-size="{_num(em_mm(run.size_mm, text.weight))}"'
        for run in setting.runs
    ]
    if len(places) == 1:
        return [f" {places[0]}>{escape(setting.runs[0].string)}"]
    spans = [">"]
    for place, run in zip(places, setting.runs, strict=True):
        unseen = "" if run.visible else ' class="unseen"'
        spans.append(f"<tspan{unseen} {place}>{escape(run.string)}</tspan>")
    return spans


def _bars(setting: Setting, at: Point, turn: str) -> str:
    return "".join(
        f'<rect class="on-ink bar" x="{_num(at[0] + bar.x0)}" y="{_num(at[1] - bar.y1)}" '
        f'width="{_num(bar.width)}" height="{_num(bar.height)}"{turn}/>\n'
        for bar in setting.bars
    )


def _pair(point: list[float]) -> str:
    return f"{_num(point[0])} {_num(point[1])}"


def _num(value: float) -> str:
    """Fixed decimals without trailing zeros, never an exponent, never a negative zero."""
    text = f"{value:.{_DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
