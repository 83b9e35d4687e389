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

from springloom import __version__, cli_options
from springloom.cli_bench import add_port, add_serve
from springloom.cli_output import answer, complain, drop_output, say, show
from springloom.cli_store import ACTIONS, add_store, asked_for, stored_layout
from springloom.errors import (
    EvidenceError,
    InputError,
    OutputError,
    SpringloomError,
    StoreError,
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
  {StoreError.exit_code}    the store can't be used: damaged, full, busy, changed by somebody else
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
    "store": "the paddles that are kept: list them, take in, archive, back up",
    "serve": "the bench in the browser, on this machine",
    "demo": "the whole job on an invented paddle",
    "species": "the woods that are known",
    "schema": "the JSON Schema of a design file",
}
"""In the order of the job; all before simulate work on a design file or a stored paddle."""
_UNKNOWN = re.compile(r"invalid choice: '([^']*)'")


class _Parser(argparse.ArgumentParser):
    """Complains in one line, like every other error."""

    def error(self, message: str) -> NoReturn:
        unknown = _UNKNOWN.search(message)
        if unknown and "COMMAND" in message:
            known(unknown[1], COMMANDS, "command")
        if unknown and "ACTION" in message:
            known(unknown[1], ACTIONS, "action")
        raise InputError(message, field="command line", allowed=f"see {self.prog} --help")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; never a traceback.

    Set SPRINGLOOM_DEBUG to any text to see where an error came from.
    """
    try:
        return _run(arguments)
    except BrokenPipeError:
        drop_output()
        return 0  # the reader went away (``| head``): nothing is wrong
    except SpringloomError as error:
        _reraise_when_asked(error)
        complain(str(error))
        return error.exit_code
    except KeyboardInterrupt:
        complain("stopped")
        return 130
    except Exception as error:  # the last line of defence: a fault of ours, told in one line
        _reraise_when_asked(error)
        complain(f"a fault in Springloom, please report it: {type(error).__name__}: {error}")
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
    for name in ("fit", "board", "forecast"):
        _design_command(commands, name)
    cli_options.shape_to_bend(_design_command(commands, "shape-to-bend"))
    cli_options.sheet(_design_command(commands, "sheet"))
    cli_options.plans(_design_command(commands, "plans"))
    cli_options.class_pack(_command(commands, "class"))
    cli_options.tune(_design_command(commands, "tune"))
    cli_options.simulate(_command(commands, "simulate"))
    add_store(_bare_command(commands, "store"))
    serve = _bare_command(commands, "serve")
    serve.set_defaults(run=_RUN["serve"], command="serve")
    add_serve(serve)
    demo = _command(commands, "demo")
    cli_options.demo(demo)
    add_port(demo)
    _command(commands, "species")
    _command(commands, "schema")
    return parser


def _bare_command(commands: Any, name: str) -> argparse.ArgumentParser:
    says = COMMANDS[name]
    return cast(argparse.ArgumentParser, commands.add_parser(
        name, description=f"{says[0].upper()}{says[1:]}.", allow_abbrev=False))


def _command(commands: Any, name: str) -> argparse.ArgumentParser:
    parser = _bare_command(commands, name)
    parser.set_defaults(run=_RUN[name], command=name)
    cli_options.common(parser)
    return parser


def _design_command(commands: Any, name: str) -> argparse.ArgumentParser:
    parser = _command(commands, name)
    cli_options.design_file(parser)
    return parser


def _opened(chosen: argparse.Namespace) -> tuple[Design, Words]:
    from springloom.records.design import design_from, load_design
    from springloom.report.words import Words

    if chosen.store is not None:
        design = design_from(stored_layout(*asked_for(chosen.file, chosen.store)))
    else:
        design = load_design(_file(chosen))
    return design, Words(chosen.units or design.units)


def _file(chosen: argparse.Namespace) -> Path:
    if chosen.file is None:
        raise InputError("the following arguments are required: file", field="command line",
                         allowed=f"see springloom {chosen.command} --help")
    return cast(Path, chosen.file)


def _text(chosen: argparse.Namespace) -> str:
    """The design file's text; of a stored paddle as it would be written."""
    from springloom.records.reading import read_text
    from springloom.records.to_toml import layout_text

    if chosen.store is None:
        return read_text(_file(chosen))
    return layout_text(stored_layout(*asked_for(chosen.file, chosen.store)))


def _fit(chosen: argparse.Namespace) -> None:
    from springloom.fit.dimensions import fit
    from springloom.report.data import fit_data
    from springloom.report.design_text import fit_text

    design, words = _opened(chosen)
    if design.body is None:
        raise InputError("is missing: a fit needs a body", field="paddler",
                         allowed="a [paddler] table with at least a height")
    result = fit(design.body, design.boat, design.use)
    say(chosen, lambda: fit_text(result, words), lambda: fit_data(result))


def _board(chosen: argparse.Namespace) -> None:
    from springloom.report.data import board_data
    from springloom.report.design_text import board_text

    design, words = _opened(chosen)
    say(chosen, lambda: board_text(design, words), lambda: board_data(design))


def _forecast(chosen: argparse.Namespace) -> None:
    from springloom.mechanics.analysis import analyse
    from springloom.mechanics.stiffness import spread_of
    from springloom.report.data import forecast_data
    from springloom.report.design_text import forecast_text

    design, words = _opened(chosen)
    wanted = design.target.progression if design.target else None
    result, spread = analyse(design.paddle, design.build, None, wanted), spread_of(design.build)
    say(chosen, lambda: forecast_text(design, result, spread, words),
         lambda: forecast_data(design, result, spread))


def _shape_to_bend(chosen: argparse.Namespace) -> None:
    from springloom.fit.bend import design_blades_for_bend
    from springloom.records.rewrite import rewritten
    from springloom.report.data import bend_data
    from springloom.report.design_text import bend_text
    from springloom.report.files import write_all

    design, words = _opened(chosen)
    design = design.aiming(chosen.sinks, chosen.under)
    made = design_blades_for_bend(design.paddle, design.build, design.wanted(), design.limits)
    shown = answer(chosen, lambda: bend_text(design, made, words), lambda: bend_data(design, made))
    if chosen.write is not None:
        names = ("blade", "blade_b")[: 1 if design.paddle.is_symmetric else 2]
        halves = {name: one.half for name, one in zip(names, made, strict=False)}
        text = rewritten(_text(chosen), design.units, halves, _typed_target(chosen))
        write_all({chosen.write: text.encode()})
        print(f"wrote {chosen.write}", file=sys.stderr)
    show(shown)


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
    shown = answer(chosen, lambda: tune_text(design.name, known, told, target, words, beside,
                                            more=chosen.more),
                  lambda: tune_data(known, told, target, beside))
    if chosen.plots is not None:
        for path in write_tune_plots(design.name, told, words, chosen.plots):
            print(f"wrote {path}", file=sys.stderr)
    show(shown)


def _sheet(chosen: argparse.Namespace) -> None:
    from springloom.report.sheets import write_sheets

    design, words = _opened(chosen)
    paths = write_sheets(design, words, chosen.out)
    say(chosen, lambda: "\n".join(str(path) for path in paths),
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
    say(chosen, lambda: simulation_text(done, seed), lambda: simulation_data(done, seed))


def _plans(chosen: argparse.Namespace) -> None:
    from springloom.report.all_sheets import write_plans

    design, words = _opened(chosen)
    paths = write_plans(design, words, chosen.out, chosen.page, chosen.format)
    say(chosen, lambda: "\n".join(str(path) for path in paths),
         lambda: {"paths": [str(path) for path in paths]})


def _class(chosen: argparse.Namespace) -> None:
    from springloom.records.design import design_from, load_design
    from springloom.report.class_pack import class_pack
    from springloom.report.class_words import class_data, class_page
    from springloom.report.words import Words

    if chosen.store is not None:
        layout = stored_layout(*asked_for(chosen.design, chosen.store, "--design"))
        base: Design | None = design_from(layout)
    else:
        base = None if chosen.design is None else load_design(chosen.design)
    units = chosen.units or (base.units if base else "mm")
    words = Words(units)
    pack = class_pack(chosen.file, chosen.out, words, base, chosen.page)
    say(chosen, lambda: class_page(pack.title, pack.room, words, str(chosen.out),
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
    say(chosen, lambda: done.page, lambda: demo_data(done))
    if not (chosen.report or chosen.json):
        serve_demo(chosen)


def _schema(chosen: argparse.Namespace) -> None:
    from springloom.records.layout import json_schema

    say(chosen, lambda: json.dumps(json_schema(), indent=1), json_schema)


def _species(chosen: argparse.Namespace) -> None:
    from springloom.report.species_text import species_data, species_text
    from springloom.report.words import Words

    words = Words(chosen.units or "mm")
    say(chosen, lambda: species_text(words), species_data)


_RUN: dict[str, Callable[[argparse.Namespace], None]] = {
    "fit": _fit, "board": _board, "forecast": _forecast, "shape-to-bend": _shape_to_bend,
    "sheet": _sheet, "plans": _plans, "class": _class, "tune": _tune, "simulate": _simulate,
    "serve": _serve, "demo": _demo, "species": _species, "schema": _schema,
}

if __name__ == "__main__":
    sys.exit(main())
