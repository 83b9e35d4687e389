"""The command line: one command for each step of the job.

Imports stay inside the commands, so that ``springloom --help`` answers at once.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Callable, Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, cast

from springloom import __version__
from springloom.cli_bench import add_port, add_serve
from springloom.errors import (
    EvidenceError,
    InputError,
    OutputError,
    SpringloomError,
    UnreachableError,
    known,
)

if TYPE_CHECKING:
    from springloom.records.design import Design
    from springloom.report.words import Words

EXIT_CODES = f"""exit codes:
  0    done
  {SpringloomError.exit_code}    a fault in Springloom itself: please report it
  {InputError.exit_code}    something typed can be mended: a value, a key, a file
  {EvidenceError.exit_code}    readings contradict each other or the stated wood
  {UnreachableError.exit_code}    the target can't be reached in this wood inside these limits
  {OutputError.exit_code}    a result can't be written
  130  stopped by Ctrl-C
"""

COMMANDS = {
    "fit": "dimensions for a body and a boat",
    "board": "how stiff, strong and sound a board is",
    "forecast": "what a design will do: bend, weight, margins",
    "shape-to-bend": "the thickness schedule for a wanted bend",
    "sheet": "a true-scale plan sheet, SVG and PDF",
    "plans": "every sheet and template of a design, and solids, for print and machine",
    "class": "plans for a whole class from one CSV of its measures",
    "tune": "from readings to what to plane off, and when to stop",
    "simulate": "how the advice fares on virtual paddles, against two plain habits",
    "serve": "the bench in the browser, on this machine",
    "demo": "the whole job on an invented paddle",
    "species": "the woods that are known",
    "schema": "the JSON Schema of a design file",
}
"""In the order of the job; all but class and the last four work on a design file."""
_UNKNOWN = re.compile(r"invalid choice: '([^']*)'")


class _Parser(argparse.ArgumentParser):
    """Complains in one line, like every other error."""

    def error(self, message: str) -> NoReturn:
        unknown = _UNKNOWN.search(message)
        if unknown and "COMMAND" in message:
            known(unknown[1], COMMANDS, "command")
        raise InputError(message, field="command line", allowed=f"see {self.prog} --help")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never a traceback.

    Set SPRINGLOOM_DEBUG to any text to see where an error came from.
    """
    try:
        return _run(arguments)
    except BrokenPipeError:
        _drop_output()
        return 0  # the reader went away (``| head``): nothing is wrong
    except SpringloomError as error:
        _reraise_when_asked(error)
        _complain(str(error))
        return error.exit_code
    except KeyboardInterrupt:
        _complain("stopped")
        return 130
    except Exception as error:  # the last line of defence: a fault of ours, told in one line
        _reraise_when_asked(error)
        _complain(f"a fault in Springloom, please report it: {type(error).__name__}: {error}")
        return SpringloomError.exit_code


def _run(arguments: Sequence[str] | None) -> int:
    if isinstance(sys.stdout, TextIOWrapper):
        sys.stdout.reconfigure(errors="replace")  # a terminal without ± shows a question mark
    try:
        chosen = _parser().parse_args(arguments)
    except SystemExit:  # --help and --version end so
        sys.stdout.flush()
        raise
    chosen.run(chosen)
    return 0


def _reraise_when_asked(error: Exception) -> None:
    if os.environ.get("SPRINGLOOM_DEBUG"):
        raise error


def _complain(text: str) -> None:
    print(f"springloom: {' '.join(text.split())}", file=sys.stderr)


def _say(chosen: argparse.Namespace, text: Callable[[], str], data: Callable[[], Any]) -> None:
    _print(_made(chosen, text, data))


def _made(chosen: argparse.Namespace, text: Callable[[], str], data: Callable[[], Any]) -> str:
    return json.dumps(data(), indent=1, allow_nan=False) if chosen.json else text()


def _print(made: str) -> None:
    try:
        print(made, flush=True)
    except BrokenPipeError:
        raise
    except OSError as error:
        _drop_output()
        raise OutputError(f"can't be written: {error.strerror}", field="standard output",
                          allowed="a place with room") from None


def _drop_output() -> None:
    """Send what is still held back to nowhere, or Python complains of it at its end."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _parser() -> argparse.ArgumentParser:
    listed = "\n".join(f"  {name:<15}{says}" for name, says in COMMANDS.items())
    parser = _Parser(
        prog="springloom",
        description="Fit, plan, carve and tune a narrow-bladed wooden kayak paddle.",
        epilog=f"commands:\n{listed}\n\n{EXIT_CODES}",
        formatter_class=argparse.RawDescriptionHelpFormatter, allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"springloom {__version__}")
    commands = parser.add_subparsers(metavar="COMMAND", required=True,
                                     help="one of those below; each has its own --help")
    for name, run in (("fit", _fit), ("board", _board), ("forecast", _forecast)):
        _file_command(commands, name, run)
    bend = _file_command(commands, "shape-to-bend", _shape_to_bend)
    bend.add_argument("--sinks", metavar="LENGTH",
                      help='how far the tip should sink, e.g. "33 mm"')
    bend.add_argument("--under", metavar="WEIGHT", help='under which weight, e.g. "10 lb"')
    bend.add_argument("--write", type=Path, metavar="OUT.toml",
                      help="write the design file again with the new crowns and target, comments "
                      "kept")
    sheet = _file_command(commands, "sheet", _sheet)
    sheet.add_argument("--out", type=Path, default=Path(), metavar="FOLDER",
                       help="folder for the sheet (the one you are in)")
    _plans_command(commands)
    _class_command(commands)
    tune = _file_command(commands, "tune", _tune)
    tune.add_argument("--more", action="store_true", help="what the round rests on, too")
    tune.add_argument("--plots", type=Path, metavar="DIR",
                      help="folder for charts of line, curvature and thickness, SVG")
    _simulate_command(commands)
    add_serve(_command(commands, "serve", _serve))
    demo = _command(commands, "demo", _demo)
    demo.add_argument("--out", type=Path, default=Path("out/demo"), metavar="FOLDER",
                      help="folder for what it writes (out/demo)")
    demo.add_argument("--report", action="store_true",
                      help="end after the report; else the bench is served with the demo on it")
    add_port(demo)
    _command(commands, "species", _species)
    _command(commands, "schema", _schema)
    return parser


def _simulate_command(commands: Any) -> None:
    simulate = _command(commands, "simulate", _simulate)
    simulate.add_argument("--paddles", type=int, default=100, metavar="N",
                          help="how many; 1000 take some minutes (100)")
    simulate.add_argument("--seed", type=int, default=7, metavar="N",
                          help="the same seed gives the same paddles (7)")
    simulate.add_argument("--workers", type=int, default=os.cpu_count() or 1, metavar="N",
                          help="how many paddles are worked on at once (one a core); changes no "
                          "result")


def _plans_command(commands: Any) -> None:
    plans = _file_command(commands, "plans", _plans)
    plans.add_argument("--out", type=Path, required=True, metavar="DIR",
                       help="folder for what it writes")
    _page_option(plans)
    plans.add_argument("--format", action="append", default=[], metavar="FORMAT",
                       help="pdf (the usual), svg, dxf, step, stl, 3mf, glb or all; may be given "
                       "again")


def _class_command(commands: Any) -> None:
    pack = _command(commands, "class", _class)
    pack.add_argument("file", type=Path, metavar="FILE.csv",
                      help="one student a line; columns as in [paddler], and the wood's")
    pack.add_argument("--out", type=Path, required=True, metavar="DIR",
                      help="folder for class.pdf and a folder for each student")
    pack.add_argument("--design", type=Path, metavar="BASE.toml",
                      help="a design file whose wood, target and limits serve for all")
    _page_option(pack)


def _page_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--page", choices=("a4", "letter"), default="a4",
                        help="size of the small sheets (a4)")


def _command(
    commands: Any, name: str, run: Callable[[argparse.Namespace], None]
) -> argparse.ArgumentParser:
    says = COMMANDS[name]
    parser = cast(argparse.ArgumentParser, commands.add_parser(
        name, description=f"{says[0].upper()}{says[1:]}.", allow_abbrev=False))
    parser.set_defaults(run=run)
    _common(parser)
    return parser


def _file_command(
    commands: Any, name: str, run: Callable[[argparse.Namespace], None]
) -> argparse.ArgumentParser:
    parser = _command(commands, name, run)
    parser.add_argument("file", type=Path, help="a design file (TOML)")
    return parser


def _common(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true",
                        help="data instead of a page; keys end in their SI unit")
    parser.add_argument("--units", choices=("mm", "in"), help="print in these (the file's own)")


def _opened(chosen: argparse.Namespace) -> tuple[Design, Words]:
    from springloom.records.design import load_design
    from springloom.report.words import Words

    design = load_design(chosen.file)
    return design, Words(chosen.units or design.units)


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
    from springloom.fit.bend import design_blades_for_bend
    from springloom.records.reading import read_text
    from springloom.records.rewrite import rewritten
    from springloom.report.data import bend_data
    from springloom.report.design_text import bend_text
    from springloom.report.files import write_all

    design, words = _opened(chosen)
    design = design.aiming(chosen.sinks, chosen.under)
    made = design_blades_for_bend(design.paddle, design.build, design.wanted(), design.limits)
    shown = _made(chosen, lambda: bend_text(design, made, words), lambda: bend_data(design, made))
    if chosen.write is not None:
        names = ("blade", "blade_b")[: 1 if design.paddle.is_symmetric else 2]
        halves = {name: one.half for name, one in zip(names, made, strict=False)}
        text = rewritten(read_text(chosen.file), design.units, halves, _typed_target(chosen))
        write_all({chosen.write: text.encode()})
        print(f"wrote {chosen.write}", file=sys.stderr)
    _print(shown)


def _typed_target(chosen: argparse.Namespace) -> dict[str, str]:
    typed = {"sinks": chosen.sinks, "under": chosen.under}
    return {key: value for key, value in typed.items() if value is not None}


def _tune(chosen: argparse.Namespace) -> None:
    from springloom.report.tune_asides import Asides
    from springloom.report.tune_data import tune_data
    from springloom.report.tune_plots import write_tune_plots
    from springloom.report.tune_text import tune_text
    from springloom.tune.counsel import counsel

    design, words = _opened(chosen)
    course, target = design.tuned(), design.wanted()
    known = course.now()
    told = counsel(known, target, design.limits, course.rules(design.rules))
    beside = Asides.of(design)
    shown = _made(chosen, lambda: tune_text(design.name, known, told, target, words, beside,
                                            more=chosen.more),
                  lambda: tune_data(known, told, target, beside))
    if chosen.plots is not None:
        for path in write_tune_plots(design.name, told, words, chosen.plots):
            print(f"wrote {path}", file=sys.stderr)
    _print(shown)


def _sheet(chosen: argparse.Namespace) -> None:
    from springloom.report.sheets import write_sheets

    design, words = _opened(chosen)
    paths = write_sheets(design, words, chosen.out)
    _say(chosen, lambda: "\n".join(str(path) for path in paths),
         lambda: {"paths": [str(path) for path in paths]})


def _simulate(chosen: argparse.Namespace) -> None:
    from springloom.errors import in_range
    from springloom.report.files import progress
    from springloom.report.simulation_text import simulation_data, simulation_text
    from springloom.tune.simulate import trials

    count = int(in_range(chosen.paddles, "--paddles", 1, 100000))
    seed = int(in_range(chosen.seed, "--seed", 0, 2**63 - 1))
    workers = int(in_range(chosen.workers, "--workers", 1, 256))
    done = list(progress(trials(count, seed, workers), "paddles", count))
    _say(chosen, lambda: simulation_text(done, seed), lambda: simulation_data(done, seed))


def _plans(chosen: argparse.Namespace) -> None:
    from springloom.report.all_sheets import write_plans

    design, words = _opened(chosen)
    paths = write_plans(design, words, chosen.out, chosen.page, chosen.format)
    _say(chosen, lambda: "\n".join(str(path) for path in paths),
         lambda: {"paths": [str(path) for path in paths]})


def _class(chosen: argparse.Namespace) -> None:
    from springloom.records.design import load_design
    from springloom.report.class_pack import class_pack
    from springloom.report.class_words import class_data, class_page
    from springloom.report.words import Words

    base = None if chosen.design is None else load_design(chosen.design)
    units = chosen.units or (base.units if base else "mm")
    words = Words(units)
    pack = class_pack(chosen.file, chosen.out, words, base, chosen.page)
    _say(chosen, lambda: class_page(pack.title, pack.room, words, str(chosen.out),
                                    len(pack.paths)),
         lambda: class_data(pack.room, [str(path) for path in pack.paths]))
    bad = pack.room.bad
    if bad:
        raise InputError(f"{len(bad)} of {len(bad) + len(pack.room.students)} lines could not be "
                         f"used, the rest is done; the first is {bad[0]}", field=str(chosen.file))


def _serve(chosen: argparse.Namespace) -> None:
    from springloom.cli_bench import serve_bench

    serve_bench(chosen)


def _demo(chosen: argparse.Namespace) -> None:
    from springloom.cli_bench import serve_demo
    from springloom.demo import demo_data, run_demo

    done = run_demo(chosen.out, chosen.units)
    _say(chosen, lambda: done.page, lambda: demo_data(done))
    if not (chosen.report or chosen.json):
        serve_demo(chosen)


def _schema(chosen: argparse.Namespace) -> None:
    from springloom.records.layout import json_schema

    _say(chosen, lambda: json.dumps(json_schema(), indent=1), json_schema)


def _species(chosen: argparse.Namespace) -> None:
    from springloom.report.species_text import species_data, species_text
    from springloom.report.words import Words

    words = Words(chosen.units or "mm")
    _say(chosen, lambda: species_text(words), species_data)


if __name__ == "__main__":
    sys.exit(main())
