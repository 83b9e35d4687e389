"""The command line: one command for each step of the job.

Imports stay inside the commands, so that ``springloom --help`` answers at once.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, cast

from springloom import __version__
from springloom.errors import InputError, SpringloomError

if TYPE_CHECKING:
    from springloom.records.design import Design
    from springloom.report.words import Words

EXIT_CODES = """exit codes:
  0  done
  1  a fault in Springloom itself: please report it
  2  something typed can be mended: a value, a key, a file
  3  readings contradict each other or the stated wood
  4  the target can't be reached in this wood inside these limits
  5  a result can't be written
"""

Step = tuple[str, Callable[[], None]]


class _Parser(argparse.ArgumentParser):
    """Complains in one line, like every other error."""

    def error(self, message: str) -> NoReturn:
        _complain(InputError(message, field="command line", allowed="see --help"))
        raise SystemExit(InputError.exit_code)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never a traceback.

    Set SPRINGLOOM_DEBUG to any text to see where an error came from.
    """
    chosen = _parser().parse_args(arguments)
    try:
        chosen.run(chosen)
    except SpringloomError as error:
        if os.environ.get("SPRINGLOOM_DEBUG"):
            raise
        _complain(error)
        return error.exit_code
    except BrokenPipeError:
        return _closed_pipe()
    except KeyboardInterrupt:
        print("springloom: stopped", file=sys.stderr)
        return 1
    except Exception as error:  # the last line of defence: a fault of ours, told in one line
        if os.environ.get("SPRINGLOOM_DEBUG"):
            raise
        told = f"{type(error).__name__}: {error}".replace("\n", " ")
        print(f"springloom: a fault in Springloom, please report it: {told}", file=sys.stderr)
        return 1
    return 0


def _complain(error: SpringloomError) -> None:
    print(f"springloom: {' '.join(str(error).split())}", file=sys.stderr)


def _closed_pipe() -> int:
    """The reader went away (``| head``): nothing is wrong, and nothing more is to be said."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="springloom",
        description="Fit, plan, carve and tune a narrow-bladed wooden kayak paddle.",
        epilog=EXIT_CODES, formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"springloom {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    _file_command(commands, "fit", _fit, "dimensions for a body and a boat")
    _file_command(commands, "board", _board, "how stiff, strong and sound a board is")
    _file_command(commands, "forecast", _forecast, "what a design will do: bend, weight, margins")
    bend = _file_command(commands, "shape-to-bend", _shape_to_bend,
                         "the thickness schedule for a wanted bend")
    bend.add_argument("--sinks", help='how far the tip should sink, e.g. "33 mm"')
    bend.add_argument("--under", help='under which weight, e.g. "10 lb"')
    bend.add_argument("--write", type=Path, metavar="OUT.toml",
                      help="write the design file again with the new crowns, comments kept")
    _file_command(commands, "tune", _tune, "from readings to what to plane off, and when to stop")
    sheet = _file_command(commands, "sheet", _sheet, "a true-scale plan sheet, SVG and PDF")
    sheet.add_argument("--out", type=Path, default=Path(), help="folder for the sheet")
    _demo_command(commands)
    schema = commands.add_parser("schema", help="the JSON Schema of a design file")
    schema.set_defaults(run=_schema)
    species = commands.add_parser("species", help="the woods that are known")
    _common(species)
    species.set_defaults(run=_species)
    return parser


def _file_command(
    commands: Any, name: str, run: Callable[[argparse.Namespace], None], says: str
) -> argparse.ArgumentParser:
    parser = cast(argparse.ArgumentParser, commands.add_parser(name, help=says, description=says))
    parser.add_argument("file", type=Path, help="a design file (TOML)")
    _common(parser)
    parser.set_defaults(run=run)
    return parser


def _demo_command(commands: Any) -> None:
    says = "the whole job on an invented paddle"
    parser = commands.add_parser("demo", help=says, description=says)
    parser.add_argument("--out", type=Path, default=Path("out/demo"),
                        help="folder for what it writes (out/demo)")
    _common(parser)
    parser.set_defaults(run=_demo)


def _common(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true",
                        help="data instead of a page; keys end in their SI unit")
    parser.add_argument("--units", choices=("mm", "in"), help="print in these (the file's own)")


def _opened(chosen: argparse.Namespace) -> tuple[Design, Words]:
    from springloom.records.design import load_design
    from springloom.report.words import Words

    design = load_design(chosen.file)
    return design, Words(chosen.units or design.units)


def _say(chosen: argparse.Namespace, text: Callable[[], str], data: Callable[[], Any]) -> None:
    if chosen.json:
        print(json.dumps(data(), indent=1, allow_nan=False))
    else:
        print(text())


def _fit(chosen: argparse.Namespace) -> None:
    from springloom.fit.dimensions import fit
    from springloom.report.data import fit_data
    from springloom.report.design_text import fit_text

    design, words = _opened(chosen)
    if design.body is None:
        raise InputError("is missing: a fit needs a body", field="paddler",
                         allowed="a [paddler] table with at least a height")
    result = fit(design.body, design.boat, design.use)
    _say(chosen, lambda: fit_text(result, words), lambda: fit_data(result))


def _board(chosen: argparse.Namespace) -> None:
    from springloom.report.data import board_data
    from springloom.report.design_text import board_text

    design, words = _opened(chosen)
    _say(chosen, lambda: board_text(design, words), lambda: board_data(design))


def _forecast(chosen: argparse.Namespace) -> None:
    from springloom.mechanics.analysis import analyse
    from springloom.mechanics.stiffness import spread_of
    from springloom.report.data import forecast_data
    from springloom.report.design_text import forecast_text

    design, words = _opened(chosen)
    wanted = design.target.progression if design.target else None
    result, spread = analyse(design.paddle, design.build, None, wanted), spread_of(design.build)
    _say(chosen, lambda: forecast_text(design, result, spread, words),
         lambda: forecast_data(design, result, spread))


def _shape_to_bend(chosen: argparse.Namespace) -> None:
    from springloom.fit.bend import design_for_bend
    from springloom.records.rewrite import read_text, with_crowns
    from springloom.report.data import bend_data
    from springloom.report.design_text import bend_text
    from springloom.report.files import write_all

    design, words = _opened(chosen)
    design = design.aiming(chosen.sinks, chosen.under)
    made = design_for_bend(design.paddle.a, design.build, design.wanted(), design.limits)
    if chosen.write is not None:
        text = with_crowns(read_text(chosen.file), made.half, design.units)
        write_all({chosen.write: text.encode()})
    _say(chosen, lambda: bend_text(design, made, words), lambda: bend_data(made))
    if chosen.write is not None:
        print(f"wrote {chosen.write}", file=sys.stderr)


def _tune(chosen: argparse.Namespace) -> None:
    from springloom.report.data import tune_data
    from springloom.report.tune_text import tune_text
    from springloom.tune.advice import advise
    from springloom.tune.estimate import estimate

    design, words = _opened(chosen)
    if not design.readings:
        raise InputError("are missing: tuning starts from what was measured", field="readings",
                         allowed="a [readings] table with caliper or bench readings")
    target = design.wanted()
    known = estimate(design.paddle, design.build, design.readings)
    advice = advise(known, target, design.limits, design.rules)
    _say(chosen, lambda: tune_text(design.name, known, advice, target, words),
         lambda: tune_data(known, advice))


def _sheet(chosen: argparse.Namespace) -> None:
    from springloom.report.sheets import write_sheets

    design, words = _opened(chosen)
    paths = write_sheets(design, words, chosen.out)
    _say(chosen, lambda: "\n".join(str(path) for path in paths),
         lambda: {"paths": [str(path) for path in paths]})


def _demo(chosen: argparse.Namespace) -> None:
    from springloom.demo import demo_data, run_demo

    done = run_demo(chosen.out, chosen.units)
    _say(chosen, lambda: done.page, lambda: demo_data(done))


def _schema(chosen: argparse.Namespace) -> None:
    from springloom.records.layout import json_schema

    del chosen
    print(json.dumps(json_schema(), indent=1))


def _species(chosen: argparse.Namespace) -> None:
    from springloom.report.species_text import species_data, species_text
    from springloom.report.words import Words

    words = Words(chosen.units or "mm")
    _say(chosen, lambda: species_text(words), species_data)


if __name__ == "__main__":
    sys.exit(main())
