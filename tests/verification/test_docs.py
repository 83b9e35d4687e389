"""The documentation: every example in it runs, every reference in it is fresh, every link leads."""

from __future__ import annotations

import doctest
import re
import tomllib
from pathlib import Path

import dev
import pytest
from docs import generate

from springloom.cli import COMMANDS
from springloom.records.design import design_from
from springloom.records.reading import check_layout
from tests.verification.command import command

PAGES = {str(page.relative_to(generate.ROOT)): page for page in generate.PAGES}
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
LANGUAGES = {"console", "pycon", "toml", "text", ""}


def blocks(page: Path, language: str) -> list[str]:
    found = FENCE.findall(page.read_text(encoding="utf-8"))
    return [text for name, text in found if name == language]


def test_nothing_generated_is_stale() -> None:
    """Also runs every console example and compares what it prints."""
    assert generate.stale() == [], "run python3 dev.py refs"


@pytest.mark.parametrize("broken", [
    "```console\n$ springloom --version\nspringloom 99\n```\n",
    "```console\n$ springloom fit none\n...\n```\n<!-- generated: cases -->\n<!-- end -->",
])
def test_a_stale_page_is_noticed_and_mended_once(broken: str) -> None:
    mended = generate.refreshed(broken)
    assert mended != broken
    assert generate.refreshed(mended) == mended


def test_an_answer_may_be_shown_in_part() -> None:
    shown = generate.refreshed("```console\n$ springloom species\nx\nx\nx\n...\n```\n").splitlines()
    assert len(shown) == 7
    assert shown[2].startswith("species")
    assert shown[4].startswith("western_redcedar")
    assert shown[5] == "..."


def test_only_springloom_is_run() -> None:
    with pytest.raises(ValueError, match="not a springloom command"):
        generate.refreshed("```console\n$ rm -r folder\n```\n")


def test_every_page_is_looked_at() -> None:
    assert {"README.md", "docs/walkthrough.md", "docs/design-file.md", "docs/model.md",
            "docs/cli.md", "docs/species.md"} <= set(PAGES)


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_every_fence_is_of_a_kind_that_is_tested(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert text.count("```") == 2 * len(FENCE.findall(text))
    assert {name for name, _ in FENCE.findall(text)} <= LANGUAGES
    bare = blocks(page, "")  # the README's two commands, which CI runs as they are
    assert [block for block in bare if not block.startswith("python3 dev.py ")] == []


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_no_example_shows_a_fault(page: Path) -> None:
    for block in blocks(page, "console"):
        assert "a fault in Springloom" not in block
        assert "Traceback" not in block


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_every_design_file_in_the_documentation_is_answered(
    page: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for i, block in enumerate(blocks(page, "toml")):
        assert design_from(check_layout(tomllib.loads(block))).name
        path = tmp_path / f"{i}.toml"
        path.write_text(block, encoding="utf-8")
        assert command(capsys, "forecast", path).code == 0
        assert command(capsys, "shape-to-bend", path).code == 0


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_every_python_example_runs(page: Path) -> None:
    text = "\n".join(blocks(page, "pycon"))
    test = doctest.DocTestParser().get_doctest(text, {}, page.name, str(page), 0)
    with generate.example_folder():
        assert doctest.DocTestRunner(verbose=False).run(test).failed == 0
    assert ">>>" not in re.sub(FENCE, "", page.read_text(encoding="utf-8"))


def test_there_are_examples_of_each_kind() -> None:
    for language in ("console", "pycon", "toml"):
        assert [name for name, page in PAGES.items() if blocks(page, language)], language


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_every_link_leads_somewhere(page: Path) -> None:
    links = re.findall(r"\]\(([^)#]+)", page.read_text(encoding="utf-8"))
    local = [link for link in links if "://" not in link]
    assert [link for link in local if not (page.parent / link).exists()] == []


def test_every_command_is_walked_through_or_named_in_the_readme() -> None:
    told = "".join(page.read_text(encoding="utf-8") for name, page in PAGES.items()
                   if name != "docs/cli.md")
    assert [name for name in COMMANDS if f"springloom {name}" not in told
            and f"dev.py {name}" not in told and name != "schema"] == []
    assert [name for name in COMMANDS
            if f"\n## {name}\n" not in PAGES["docs/cli.md"].read_text(encoding="utf-8")] == []


def test_the_readme_has_every_caution() -> None:
    text = PAGES["README.md"].read_text(encoding="utf-8").lower()
    for word in ("wood dust", "blades", "adhesives", "oily rags", "breaks at sea", "local codes",
                 "licensed"):
        assert word in text


def test_the_model_page_says_what_is_not_modelled() -> None:
    text = PAGES["docs/model.md"].read_text(encoding="utf-8").split("## What is not modelled")[1]
    for word in ("Knots", "Glue lines", "finish", "fatigue", "Water", "Impact"):
        assert word in text


def test_one_command_makes_the_references(monkeypatch: pytest.MonkeyPatch) -> None:
    ran: list[list[str]] = []

    def run(words: list[str], **_: object) -> int:
        ran.append(words)
        return 0

    monkeypatch.setattr(dev, "set_up", lambda _: None)
    monkeypatch.setattr(dev, "run", run)
    assert dev.COMMANDS["refs"](["--check"]) == 0
    assert ran[0][1:] == [str(generate.ROOT / "docs" / "generate.py"), "--check"]
    assert Path(ran[0][1]).exists()


def test_check_writes_nothing_and_names_what_is_stale(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    page = tmp_path / "page.md"
    page.write_text("old\n", encoding="utf-8")
    monkeypatch.setattr(generate, "references", lambda: {page: "new\n"})
    monkeypatch.setattr(generate, "ROOT", tmp_path)
    assert generate.write(check=True) == 1
    assert page.read_text(encoding="utf-8") == "old\n"
    assert generate.write(check=False) == 0
    assert page.read_text(encoding="utf-8") == "new\n"
    assert generate.write(check=True) == 0
    assert capsys.readouterr().out == "stale: page.md\nwrote: page.md\n"
