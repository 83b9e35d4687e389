"""Reading drawings back from what the writers wrote, for the drawing tests."""

from __future__ import annotations

import io
import re
import subprocess
from dataclasses import dataclass
from pathlib import Path as FilePath
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pypdf
from pypdf.generic import ContentStream

from springloom.drawing.dimension import (
    Along,
    check_bar_inch,
    check_bar_mm,
    dimension,
    leader,
)
from springloom.drawing.model import (
    Array,
    Drawing,
    Fill,
    Path,
    Pen,
    Text,
    Weight,
)
from springloom.drawing.paths import bezier_from_points, circle, lines, polyline, rect
from springloom.drawing.tables import Align, Column, table

SVG = "{http://www.w3.org/2000/svg}"
POINT_MM = 25.4 / 72.0


@dataclass(frozen=True)
class Letters:
    """Characters found on a page and the place, mm from the lower left, of the first one."""

    string: str
    x: float
    y: float
    em_mm: float


def sample() -> Drawing:
    """Return a page with a bit of everything, whose sides are no round number of points."""
    items = (
        rect(5.0, 5.0, 200.0, 140.0, Pen.VISIBLE, layer="border"),
        bezier_from_points([(20, 100), (60, 112), (120, 109.123), (180, 118)], pen=Pen.OUTLINE,
                           layer="outline"),
        circle(40.0, 60.0, 12.3456, Pen.HIDDEN, fill=Fill.WASH, layer="section"),
        polyline([(70, 50), (80, 65), (95, 52)], Pen.CONSTRUCTION, closed=True),
        lines([((100, 50), (110, 50)), ((100, 55), (110, 55.5))], Pen.CENTRE),
        Text(20, 130, "Blade width 3 1/4 in, crown 15/16 & <edge> 7/8", 3.5),
        Text(150, 60, "1/2 turned", 2.5, rotation_deg=30.0, weight=Weight.BOLD),
        *check_bar_mm(20.0, 25.0).items,
        *check_bar_inch(20.0, 10.0).items,
        *dimension((20, 100), (180, 118), "160 mm", 8.0, along=Along.HORIZONTAL).items,
        *leader((60, 112), (70, 122), "fair here").items,
        *table([Column("Station", align=Align.LEFT), Column("Width", "mm")],
               [["root", "39"], ["1/4", "60.5"]], 130, 50).items,
    )
    return Drawing(210.3, 150.7, "Trial <sheet> & more", items, layers=("border",),
                   description="One of everything")


def path_segments(data: str, height: float) -> tuple[Array, int]:
    """Turn ``d`` back into cubics, shape (n, 4, 2), y up; also count how often it closes."""
    made: list[Array] = []
    here = np.zeros(2)
    for command, rest in re.findall(r"([MLCZ])([^MLCZ]*)", data):
        points = np.array([float(n) for n in rest.split()]).reshape(-1, 2)
        if command == "L":
            end = points[0]
            made.append(np.array([here, (2 * here + end) / 3, (here + 2 * end) / 3, end]))
        elif command == "C":
            made.append(np.vstack((here, points)))
        here = points[-1] if len(points) else here
    return np.array(made) * (1.0, -1.0) + (0.0, height), data.count("Z")


def svg_root(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def svg_letters(svg: str, height: float) -> list[Letters]:
    """Return every text element or span that has a place."""
    found = []
    for text in svg_root(svg).iter(f"{SVG}text"):
        parts = text.findall(f"{SVG}tspan") or [text]
        found += [Letters(part.text or "", float(part.attrib["x"]),
                          height - float(part.attrib["y"]), float(part.attrib["font-size"]))
                  for part in parts]
    return found


def pdf_operations(pdf: bytes, page: int = 0) -> list[tuple[list[Any], bytes]]:
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    contents = reader.pages[page].get_contents()
    assert contents is not None
    return list(ContentStream(contents, reader).operations)


def pdf_paths(pdf: bytes) -> list[Array]:
    """Return the cubics of each painted path, shape (n, 4, 2), mm."""
    paths: list[Array] = []
    made: list[Array] = []
    here = np.zeros(2)
    for operands, operator in pdf_operations(pdf):
        points = np.array([float(n) for n in operands]) if operator in (b"m", b"l", b"c") else None
        if points is not None:
            points = points.reshape(-1, 2) * POINT_MM
            if operator == b"l":
                end = points[0]
                made.append(np.array([here, (2 * here + end) / 3, (here + 2 * end) / 3, end]))
            elif operator == b"c":
                made.append(np.vstack((here, points)))
            here = points[-1]
        elif operator in (b"S", b"f*", b"B*") and made:
            paths.append(np.array(made))
            made = []
    return paths


def pdf_text(pdf: bytes, page: int = 0) -> str:
    return pypdf.PdfReader(io.BytesIO(pdf)).pages[page].extract_text()


def grey_pixels(pdf: bytes, dpi: int, folder: FilePath) -> Array:
    """Render the first page with poppler; rows from the top, 0 black to 255 white."""
    source = folder / "page.pdf"
    source.write_bytes(pdf)
    made = subprocess.run(
        ["pdftoppm", "-r", str(dpi), "-gray", "-singlefile", str(source)],
        check=True, capture_output=True, timeout=60,
    ).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", made)
    assert head
    width, height = int(head[1]), int(head[2])
    pixels = np.frombuffer(made[head.end():], dtype=np.uint8).reshape(height, width)
    return pixels.astype(np.float64)


def paths_of(drawing: Drawing) -> list[Path]:
    """Return the paths in the order the writers paint them."""
    return [item for layer in drawing.layers for item in drawing.on_layer(layer)
            if isinstance(item, Path)]


def texts_of(drawing: Drawing) -> list[Text]:
    """Return the texts in the order the writers set them."""
    return [item for layer in drawing.layers for item in drawing.on_layer(layer)
            if isinstance(item, Text)]
