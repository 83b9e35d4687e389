"""Write what docs/ and README.md say about the program anew from the program itself.

    python docs/generate.py          write
    python docs/generate.py --check  only say what is stale; exit code 1 if anything is

Three things are generated: whole files (cli.md, species.md, the JSON Schemas), the blocks
between ``<!-- generated: NAME -->`` and ``<!-- end -->``, and the answers in ``console`` blocks.
A console block holds commands after ``$ `` and the first lines of their answers; a line ``...``
stands for the rest. Commands of one page run in one new folder that holds the examples.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import shlex
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from importlib import resources
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from springloom.cli import COMMANDS, main
from springloom.cli_store import ACTIONS
from springloom.mechanics.strength import CASES
from springloom.records.layout import DesignFile, json_schema
from springloom.records.reading import table_of
from springloom.store import archive_layout
from springloom.store.opening import open_store
from springloom.web.api import api_app
from springloom.web.bench import Bench
from springloom.wood.species import Species, all_species
from springloom.wood.variability import COV

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
PAGES = (ROOT / "README.md", *sorted(DOCS.glob("*.md")))
WHOLE = ("cli.md", "design-file.schema.json", "archive.schema.json", "api.openapi.json",
         "species.md")

_CONSOLE = re.compile(r"^```console\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_BLOCK = re.compile(r"(<!-- generated: (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)
_ELLIPSIS = "..."


def references() -> dict[Path, str]:
    """Every page as it should be, by its path."""
    made = {
        DOCS / "cli.md": cli_reference(),
        DOCS / "design-file.schema.json": json.dumps(json_schema(), indent=1) + "\n",
        DOCS / "archive.schema.json": json.dumps(archive_layout.json_schema(), indent=1) + "\n",
        DOCS / "api.openapi.json": interface_reference(),
        DOCS / "species.md": species_reference(),
    }
    for page in PAGES:
        if page.name not in WHOLE:
            made[page] = refreshed(page.read_text(encoding="utf-8"))
    return made


def refreshed(text: str) -> str:
    """A handwritten page with its generated blocks and console answers made anew."""
    with example_folder():
        text = _BLOCK.sub(lambda m: f"{m[1]}{BLOCKS[m[2]]()}\n{m[3]}", text)
        return _CONSOLE.sub(lambda m: f"```console\n{_answered(m[1])}```", text)


@contextlib.contextmanager
def example_folder() -> Iterator[Path]:
    """Stand in a new folder with copies of the examples."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as name:
        for entry in resources.files("springloom.examples").iterdir():
            if entry.name.endswith(".toml"):
                shutil.copy(str(entry), name)
        os.chdir(name)
        try:
            yield Path(name)
        finally:
            os.chdir(before)


def _answered(block: str) -> str:
    """One console block with its answers made anew, as long as they were."""
    told: list[tuple[str, list[str]]] = []
    for line in block.splitlines():
        if line.startswith("$ "):
            told.append((line, []))
        else:
            told[-1][1].append(line)
    return "".join(f"{line}\n{_answer(line[2:], shown)}" for line, shown in told)


def _answer(line: str, shown: list[str]) -> str:
    lines = ran(line).splitlines()
    if _ELLIPSIS in shown:
        lines = [*lines[: shown.index(_ELLIPSIS)], _ELLIPSIS]
    return "".join(f"{line}\n" for line in lines)


def ran(line: str) -> str:
    """What a ``springloom`` command prints, on both streams."""
    program, *words = shlex.split(line)
    if program != "springloom":
        raise ValueError(f"not a springloom command: {line}")
    stream = io.StringIO()
    silent = contextlib.suppress(SystemExit)  # --help and --version end so
    with contextlib.redirect_stdout(stream), contextlib.redirect_stderr(stream), silent:
        main(words)
    return stream.getvalue()


def cli_reference() -> str:
    """The help of the program and of each command."""
    parts = ["# Commands", "", "Made from the program by `python3 dev.py refs`.", "",
             f"```text\n{ran('springloom --help')}```"]
    every = (one for name in COMMANDS
             for one in (name, *(f"store {action}" for action in ACTIONS if name == "store")))
    for name in every:
        parts += ["", f"## {name}", "", f"```text\n{ran(f'springloom {name} --help')}```"]
    return "\n".join(parts) + "\n"


def interface_reference() -> str:
    """The description of the JSON interface, as a bench serves it."""
    with (tempfile.TemporaryDirectory() as folder,
          contextlib.closing(open_store(Path(folder) / "bench.db")) as store):
        described = api_app(Bench(store, b"")).openapi()
    return json.dumps(described | {"servers": [{"url": "/api"}]}, indent=1) + "\n"


def keys_reference() -> str:
    """A table of keys for each table of the design file."""
    return "\n\n".join(_table_reference(DesignFile, ""))


def _table_reference(model: type[BaseModel], path: str) -> Iterator[str]:
    """The keys of one table, then those of the tables below it."""
    tables = {key: table_of(field.annotation) for key, field in model.model_fields.items()}
    rows = [_row(key, field) for key, field in model.model_fields.items() if tables[key] is None]
    title = f"### `{path}`" if path else "### At the top"
    says = (model.__doc__ or "").strip()
    yield "\n".join([title, "", says, "", markdown(("key", "what it says", "if left out"), rows)])
    for key, table in tables.items():
        if table is not None:
            yield from _table_reference(table, _heading(path, key, model.model_fields[key]))


def _heading(path: str, key: str, field: FieldInfo) -> str:
    whole = ".".join([*path.strip("[]").split("."), key]).lstrip(".")
    return f"[[{whole}]]" if "list[" in str(field.annotation) else f"[{whole}]"


def _row(key: str, field: FieldInfo) -> tuple[str, str, str]:
    says = (field.description or "").replace("|", "\\|")
    if get_origin(field.annotation) is Literal and field.examples is None:
        says += f"; {_any_of(get_args(field.annotation))}"
    if field.annotation is bool:
        says += "; `true` or `false`"
    if field.examples:
        says += f"; for example {', '.join(f'`{_toml(one)}`' for one in field.examples)}"
    return f"`{key}`", says, _left_out(field)


def _any_of(choices: tuple[str, ...]) -> str:
    *first, last = (f"`{_toml(choice)}`" for choice in choices)
    return f"{', '.join(first)} or {last}"


def _left_out(field: FieldInfo) -> str:
    if field.is_required():
        return "**needed**"
    default = field.get_default(call_default_factory=True)
    return "" if default in (None, "", []) else f"`{_toml(default)}`"


def _toml(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def species_reference() -> str:
    """Every wood with its averages, their source and what of them is from memory."""
    rows = [
        (wood.common_name, wood.id, f"{wood.gravity_12.value:.2f}", _shown(wood.at_12.moe_pa, 1e9),
         _shown(wood.at_12.mor_pa, 1e6), _shown(wood.at_12.shear_pa, 1e6), _memory(wood))
        for wood in all_species()
    ]
    head = ("wood", "species", "specific gravity", "MOE, GPa", "bending, MPa", "shear, MPa",
            "from memory")
    table = markdown(head, rows)
    sources = "\n".join(f"- {source}" for source in dict.fromkeys(w.source for w in all_species()))
    return (
        "# Woods\n\nMade from the program by `python3 dev.py refs`. Averages at 12 % moisture of "
        "small clear specimens; specific gravity is oven-dry mass over volume at 12 %. MOE is as "
        "tabulated; E along the grain is taken as 1.10 times that. What stands under \"from "
        "memory\" has not been checked against the source.\n\n"
        f"{table}\n\nSources:\n\n{sources}\n"
    )


def markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def _shown(value: float | None, scale: float) -> str:
    return "" if value is None else f"{value / scale:.1f}"


def _memory(wood: Species) -> str:
    if wood.checked == "memory":
        return "all"
    unit = re.compile("_(mpa|percent)$")
    return ", ".join(unit.sub("", name).replace("_", " ") for name in wood.memory_fields)


def archive_reference() -> str:
    """The lists of an archive, and the keys of their entries."""
    schema = archive_layout.json_schema()
    own = set(archive_layout.Entry.model_fields)
    parts = []
    for key, field in schema["properties"].items():
        if "$ref" in field.get("items", {}):
            entry = schema["$defs"][field["items"]["$ref"].split("/")[-1]]
            rows = [(f"`{name}`", _archived(one), one.get("description", ""))
                    for name, one in entry["properties"].items() if name not in own]
            table = markdown(("key", "holds", "what it says"), rows)
            parts.append(f"### `{key}`\n\n{entry['description']}\n\n{table}")
    return "\n\n".join(parts)


def _archived(field: dict[str, Any]) -> str:
    """What stands at a key of an archive, by its JSON Schema."""
    if "anyOf" in field:
        return " or ".join(_archived(one) for one in field["anyOf"])
    if "enum" in field:
        return ", ".join(f"`{_toml(one)}`" for one in field["enum"])
    if field.get("pattern", "").startswith("^[0-9a-f]"):
        return "uid"
    names = {"object": "table", "array": "list", "string": "text", "integer": "number"}
    kind = field["type"]
    return f"`{kind}`" if kind == "null" else names[kind]


def cases_reference() -> str:
    """The load cases with what each assumes."""
    rows = [(case.name, f"{case.force:.0f} N", case.assumption) for case in CASES]
    return markdown(("case", "force", "what it assumes"), rows)


def spread_reference() -> str:
    """How much boards of one species differ."""
    names = {"density": "density", "e": "stiffness E", "mor": "bending strength",
             "comp": "compression strength", "shear": "shear strength",
             "tperp": "strength across the grain"}
    rows = [(names[key], f"{100 * cov:.0f} %") for key, cov in COV.items()]
    return markdown(("property", "standard deviation between boards"), rows)


BLOCKS: dict[str, Callable[[], str]] = {
    "keys": keys_reference, "archive": archive_reference, "cases": cases_reference,
    "spread": spread_reference,
}


def stale() -> list[Path]:
    """Pages that are not as they should be."""
    return [path for path, text in references().items()
            if not path.exists() or path.read_text(encoding="utf-8") != text]


def write(check: bool) -> int:
    """Write what is stale, or only name it."""
    found = stale()
    made = references() if found and not check else {}
    for path in found:
        print(f"{'stale' if check else 'wrote'}: {path.relative_to(ROOT)}")
        if not check:
            path.write_text(made[path], encoding="utf-8", newline="\n")
    return int(check and bool(found))


# The help is folded to this width and stays without colour wherever it is made.
os.environ.update(COLUMNS="80", NO_COLOR="1")

if __name__ == "__main__":
    sys.exit(write("--check" in sys.argv[1:]))
