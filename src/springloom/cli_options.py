"""What each command understands beside its name: its file, its store, its options."""

from __future__ import annotations

import argparse
import os
from pathlib import Path


def common(parser: argparse.ArgumentParser) -> None:
    """What every command understands."""
    parser.add_argument("--json", action="store_true",
                        help="data instead of a page; keys end in their SI unit")
    parser.add_argument("--units", choices=("mm", "in"), help="print in these (the file's own)")


def design_file(parser: argparse.ArgumentParser) -> None:
    """A design file, or a paddle of the store."""
    parser.add_argument("file", nargs="?", type=Path,
                        help="a design file (TOML); with --store the name or the number of a "
                        "paddle kept there")
    stored(parser)


def stored(parser: argparse.ArgumentParser) -> None:
    """Where stored paddles are."""
    parser.add_argument("--store", nargs="?", const="", metavar="PLACE",
                        help="take the paddle from the store: a file or the URL of a database "
                        "(the usual one)")


def shape_to_bend(parser: argparse.ArgumentParser) -> None:
    """The target, and where the new crowns go."""
    parser.add_argument("--sinks", metavar="LENGTH",
                        help='how far the tip should sink, e.g. "33 mm"')
    parser.add_argument("--under", metavar="WEIGHT", help='under which weight, e.g. "10 lb"')
    parser.add_argument("--write", type=Path, metavar="OUT.toml",
                        help="write the design file again with the new crowns and target, "
                        "comments kept")


def sheet(parser: argparse.ArgumentParser) -> None:
    """Where the sheet goes."""
    parser.add_argument("--out", type=Path, default=Path(), metavar="FOLDER",
                        help="folder for the sheet (the one you are in)")


def plans(parser: argparse.ArgumentParser) -> None:
    """Where the plans go, and of what kind they are."""
    parser.add_argument("--out", type=Path, required=True, metavar="DIR",
                        help="folder for what it writes")
    _page(parser)
    parser.add_argument("--format", action="append", default=[], metavar="FORMAT",
                        help="pdf (the usual), svg, dxf, step, stl, 3mf, glb or all; may be given "
                        "again")


def class_pack(parser: argparse.ArgumentParser) -> None:
    """The students, and what serves for all."""
    parser.add_argument("file", type=Path, metavar="FILE.csv",
                        help="one student a line; columns as in [paddler], and the wood's")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR",
                        help="folder for class.pdf and a folder for each student")
    parser.add_argument("--design", type=Path, metavar="BASE.toml",
                        help="a design file whose wood, target and limits serve for all; with "
                        "--store a paddle kept there")
    stored(parser)
    _page(parser)


def tune(parser: argparse.ArgumentParser) -> None:
    """How much is shown."""
    parser.add_argument("--more", action="store_true", help="what the round rests on, too")
    parser.add_argument("--plots", type=Path, metavar="DIR",
                        help="folder for charts of line, curvature and thickness, SVG")


def simulate(parser: argparse.ArgumentParser) -> None:
    """How many virtual paddles, and which."""
    parser.add_argument("--paddles", type=int, default=100, metavar="N",
                        help="how many; 1000 take some minutes (100)")
    parser.add_argument("--seed", type=int, default=7, metavar="N",
                        help="the same seed gives the same paddles (7)")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, metavar="N",
                        help="how many paddles are worked on at once (one a core); changes no "
                        "result")


def demo(parser: argparse.ArgumentParser) -> None:
    """Where the demonstration goes, and where it ends."""
    parser.add_argument("--out", type=Path, default=Path("out/demo"), metavar="FOLDER",
                        help="folder for what it writes (out/demo)")
    parser.add_argument("--report", action="store_true",
                        help="end after the report; else the bench is served with the demo on it")


def _page(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--page", choices=("a4", "letter"), default="a4",
                        help="size of the small sheets (a4)")
