"""The repository keeps its own promises: README, lock files, CI script, bootstrap script."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import dev
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

README = (dev.ROOT / "README.md").read_text(encoding="utf-8")
CI_SCRIPT = dev.ROOT / ".ci" / "run"
PIN = re.compile(r"^(?P<name>[A-Za-z0-9._-]+)==(?P<version>\S+)", re.MULTILINE)


def project() -> dict[str, Any]:
    return tomllib.loads((dev.ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def needs(name: str) -> list[Requirement]:
    """List what pyproject asks the lock file ``name`` to hold."""
    table = project()
    texts = [*table["build-system"]["requires"], *table["project"]["dependencies"]]
    if name == "test":
        texts += table["project"]["optional-dependencies"]["batch"]
        texts += table["dependency-groups"]["test"]
    return [Requirement(text) for text in texts]


def lock_text(name: str) -> str:
    return dev.lock_path(name).read_text(encoding="utf-8")


def pins(name: str) -> dict[str, set[str]]:
    """Map each locked package to its versions; a package has two where Pythons need it so."""
    found: dict[str, set[str]] = {}
    for pin in PIN.finditer(lock_text(name)):
        found.setdefault(canonicalize_name(pin["name"]), set()).add(pin["version"])
    return found


def readme_commands() -> set[str]:
    return set(re.findall(r"python3 dev\.py (\w+)", README))


def test_readme_opens_with_what_the_job_is() -> None:
    title, first = README.split("\n\n")[:2]
    assert title == "# Springloom"
    for word in ("paddle", "wood", "plan", "carving", "bend", "uncertain"):
        assert word in first.lower()


def test_every_command_in_the_readme_exists() -> None:
    assert {"demo", "test"} <= readme_commands() <= set(dev.COMMANDS)


def test_every_local_link_in_the_readme_leads_somewhere() -> None:
    links = [link for link in re.findall(r"\]\(([^)#]+)", README) if "://" not in link]
    assert [link for link in links if not (dev.ROOT / link).exists()] == []


def test_ci_runs_the_test_command_of_the_readme_and_the_checks() -> None:
    script = CI_SCRIPT.read_text(encoding="utf-8")
    commands = re.findall(r"^python3 dev\.py (\w+)", script, re.MULTILINE)
    assert commands == ["test", "lint"]
    assert "export CI=true" in script
    assert "set -euo pipefail" in script


def test_the_ci_script_can_be_run() -> None:
    assert os.access(CI_SCRIPT, os.X_OK)


def test_help_names_every_command() -> None:
    answer = subprocess.run(
        [sys.executable, str(dev.ROOT / "dev.py"), "--help"],
        capture_output=True, text=True, check=True,
    )
    for command in dev.COMMANDS:
        assert f"dev.py {command}" in answer.stdout


def test_an_old_python_can_read_the_script_that_turns_it_away() -> None:
    source = (dev.ROOT / "dev.py").read_text(encoding="utf-8")
    ast.parse(source, feature_version=(3, 6))
    assert "from __future__ import annotations\n" not in source


def test_the_script_needs_nothing_but_the_standard_library() -> None:
    tree = ast.parse((dev.ROOT / "dev.py").read_text(encoding="utf-8"))
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import)
             for alias in node.names}
    names |= {str(node.module) for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in names} <= sys.stdlib_module_names


@pytest.mark.parametrize("name", ["run", "test"])
def test_lock_holds_what_pyproject_asks_for(name: str) -> None:
    locked = pins(name)
    for need in needs(name):
        versions = locked.get(canonicalize_name(need.name), set())
        assert versions, f"{need.name} is not in {name}.lock: run python3 dev.py lock"
        fits = [need.specifier.contains(version) for version in versions]
        assert any(fits) if need.marker else all(fits), f"{need} is not met by {versions}"


@pytest.mark.parametrize("name", ["run", "test"])
def test_every_locked_package_has_a_hash(name: str) -> None:
    for block in re.split(r"\n(?=[A-Za-z0-9])", lock_text(name))[1:]:
        assert "--hash=sha256:" in block, block.splitlines()[0]


@pytest.mark.parametrize("name", ["run", "test"])
def test_lock_names_no_place(name: str) -> None:
    text = lock_text(name)
    assert re.findall(r"\S*(?:://|file:|--index|--find-links|-e )\S*", text) == []
    assert [path for path in (str(dev.ROOT), str(Path.home())) if path in text] == []


def test_one_environment_serves_both_locks() -> None:
    everything = pins("test")
    assert {name: found for name, found in pins("run").items() if everything[name] != found} == {}


def test_the_run_lock_stays_light() -> None:
    assert not {"numba", "pytest", "mypy", "sectionproperties"} & set(pins("run"))
