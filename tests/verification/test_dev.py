"""What dev.py decides on machines other than this one; the machines are made up."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import dev
import pytest

ROOT_ID, USER_ID = 0, 1000


def path_with(*commands: str) -> Callable[[str], str | None]:
    """Give a ``which`` for a machine with these commands only."""
    return lambda command: f"/usr/bin/{command}" if command in commands else None


class Calls(list[list[str]]):
    """Stands in for ``dev.run``: keeps the commands and answers with ``code``."""

    code = 0

    def __call__(self, command: list[str], **_options: object) -> int:
        self.append(command)
        return self.code


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> Calls:
    recorded = Calls()
    monkeypatch.setattr(dev, "run", recorded)
    return recorded


@pytest.fixture
def venv(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a folder that looks like a whole environment of this Python."""
    folder = tmp_path / ".venv"
    for name in ("python", "pip"):
        path = Path(dev.program(name, folder))
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    version = ".".join(map(str, sys.version_info[:3]))
    (folder / "pyvenv.cfg").write_text(f"home = x\nversion = {version}\n", encoding="utf-8")
    monkeypatch.setattr(dev, "VENV", folder)
    return folder


@pytest.fixture
def frontend(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Make a frontend that was built already, but that nobody stamped as finished."""
    folder = tmp_path / "frontend"
    for name in ("package.json", "package-lock.json", "build.mjs", "tsconfig.json",
                 "src/bench.ts", "node_modules/x", *(f"built/{name}" for name in dev.BUNDLES)):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).touch()
    monkeypatch.setattr(dev, "FRONTEND", folder)
    monkeypatch.setattr(dev, "BUILT", folder / "built")
    monkeypatch.setattr(dev, "find_npm", lambda: "npm")
    return folder


def test_root_and_sudo_and_neither() -> None:
    apt = dev.apt_command(path_with("apt-get"), ROOT_ID)
    assert apt is not None
    assert apt[-1] == "apt-get"
    assert dev.apt_command(path_with("apt-get", "sudo"), USER_ID) == ["sudo", *apt]
    assert dev.apt_command(path_with("apt-get"), USER_ID) is None
    assert dev.apt_command(path_with("brew"), ROOT_ID) is None


def test_only_missing_programs_are_asked_of_apt() -> None:
    assert dev.missing_packages(path_with(*dev.TOOLS)) == []
    assert dev.missing_packages(path_with("ccx", "initdb")) == ["poppler-utils", "chromium"]
    assert dev.missing_packages(path_with()) == [
        "calculix-ccx", "poppler-utils", "chromium", "postgresql"]


def test_apt_installs_what_is_missing(
    calls: Calls, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(dev, "apt_command", lambda _which, _user: ["apt-get"])
    dev.install_tools(path_with("ccx", "chromium"))
    assert [command[0] for command in calls] == ["apt-get", "apt-get"]
    assert calls[0][-1] == "update"
    assert calls[1][-2:] == ["poppler-utils", "postgresql"]
    assert "missing" not in capfd.readouterr().err


def test_a_package_apt_does_not_know_keeps_none_of_the_others_away(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    installed: list[str] = []

    def install(packages: list[str]) -> bool:
        if "chromium" in packages:
            return False
        installed.extend(packages)
        return True

    monkeypatch.setattr(dev, "apt_install", install)
    dev.install_tools(path_with())
    assert installed == ["calculix-ccx", "poppler-utils", "postgresql"]
    assert "missing: chromium (" in capfd.readouterr().err


def test_programs_of_postgresql_are_found_off_the_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "ASIDE", tmp_path)
    monkeypatch.setenv("PATH", "")
    assert dev.find_tool("initdb") is None
    program = tmp_path / "15" / "bin" / "initdb"
    program.parent.mkdir(parents=True)
    program.touch()
    assert dev.find_tool("initdb") == str(program)


@pytest.mark.parametrize("apt", [None, ["apt-get"]], ids=["no apt", "apt fails"])
def test_without_the_programs_the_reader_is_told_and_the_run_goes_on(
    calls: Calls,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    apt: list[str] | None,
) -> None:
    calls.code = 100
    monkeypatch.setattr(dev, "apt_command", lambda _which, _user: apt)
    dev.install_tools(path_with())
    told = capfd.readouterr().err
    for word in ("calculix-ccx", "poppler-utils", "conda-forge"):
        assert word in told


def test_a_python_without_venv_names_the_package_of_its_own_version() -> None:
    package = f"python3.{sys.version_info.minor}-venv"
    assert dev.missing_venv_package(lambda _name: object()) is None
    assert dev.missing_venv_package(lambda name: None if name == "ensurepip" else 1) == package
    assert dev.missing_venv_package(lambda name: None if name == "venv" else 1) == package


def test_a_python_without_venv_gets_it_from_apt(
    calls: Calls, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "missing_venv_package", lambda _find: "python3.99-venv")
    monkeypatch.setattr(dev, "apt_command", lambda _which, _user: ["apt-get"])
    dev.create_environment()
    assert [command[-1] for command in calls[:2]] == ["update", "python3.99-venv"]
    assert calls[2][:3] == [sys.executable, "-m", "venv"]


def test_a_python_without_venv_and_apt_stops_with_one_sentence(
    calls: Calls, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "missing_venv_package", lambda _find: "python3.99-venv")
    monkeypatch.setattr(dev, "apt_command", lambda _which, _user: None)
    with pytest.raises(dev.SetUpError, match=r"python3\.99-venv"):
        dev.create_environment()
    assert calls == []


def test_programs_lie_where_each_system_puts_them() -> None:
    venv = Path("env")
    assert dev.program("python", venv, windows=True) == str(venv / "Scripts" / "python.exe")
    assert dev.program("python", venv, windows=False) == str(venv / "bin" / "python")


def test_a_whole_environment_is_kept(venv: Path) -> None:
    assert dev.is_sound(venv)


@pytest.mark.parametrize("version", ["version = 3.2.1", "version_info = 2.7.18", "nothing"])
def test_an_environment_of_another_python_is_made_anew(venv: Path, version: str) -> None:
    (venv / "pyvenv.cfg").write_text(version, encoding="utf-8")
    assert not dev.is_sound(venv)


@pytest.mark.parametrize("part", ["python", "pip"])
def test_an_environment_broken_off_half_way_is_made_anew(venv: Path, part: str) -> None:
    Path(dev.program(part, venv)).unlink()
    assert not dev.is_sound(venv)


def test_a_second_set_up_does_nothing(calls: Calls, venv: Path) -> None:
    dev.set_up("run")
    lock, package = calls
    assert "--require-hashes" in lock
    assert lock[-1] == str(dev.lock_path("run"))
    assert package[-1] == str(dev.ROOT)
    assert "--no-deps" in package
    assert "--no-build-isolation" in package
    calls.clear()
    dev.set_up("run")
    assert calls == []
    assert dev.is_installed("run", venv)


@pytest.mark.parametrize(("first", "second", "again"), [("test", "run", 0), ("run", "test", 2)])
def test_the_test_environment_serves_the_demo_but_not_the_other_way(
    calls: Calls, venv: Path, first: str, second: str, again: int
) -> None:
    dev.set_up(first)
    calls.clear()
    dev.set_up(second)
    assert len(calls) == again
    assert dev.is_installed("test", venv)


@pytest.mark.usefixtures("venv")
def test_a_changed_lock_is_installed_again(
    calls: Calls, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copytree(dev.ROOT / "requirements", tmp_path / "requirements")
    monkeypatch.setattr(dev, "lock_path", lambda name: tmp_path / "requirements" / f"{name}.lock")
    dev.set_up("run")
    calls.clear()
    with dev.lock_path("run").open("a", encoding="utf-8") as lock:
        lock.write("# changed\n")
    dev.set_up("run")
    assert len(calls) == 2


def test_a_failed_installation_does_not_look_finished(calls: Calls, venv: Path) -> None:
    dev.set_up("run")
    stamp = venv / "springloom.stamp"
    stamp.write_text("another lock", encoding="utf-8")
    calls.code = 1
    with pytest.raises(dev.SetUpError, match="pip failed"):
        dev.set_up("run")
    assert not stamp.exists()


@pytest.mark.usefixtures("venv")
def test_arguments_and_exit_codes_pass_through(
    calls: Calls, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "install_tools", lambda: None)
    monkeypatch.setattr(dev, "build_frontend", lambda: True)
    dev.set_up("test")
    calls.code = 5
    assert dev.main(["test", "-k", "ci_rules", "--help"]) == 5
    assert calls[-1][1:] == ["-m", "pytest", "-k", "ci_rules", "--help"]
    assert dev.main(["test"]) == 5
    assert calls[-1][1:] == ["-m", "pytest", *dev.EVERY_CORE]
    assert dev.main(["demo", "--out", "here"]) == 5
    assert calls[-1] == [dev.program("springloom"), "demo", "--out", "here"]
    assert dev.main(["serve", "--port", "8001"]) == 5
    assert calls[-1] == [dev.program("springloom"), "serve", "--port", "8001"]


@pytest.mark.usefixtures("venv", "frontend")
def test_lint_runs_every_check_and_fails_if_one_does(calls: Calls) -> None:
    dev.set_up("test")
    dev.build_frontend()
    calls.clear()
    calls.code = -11  # killed by a signal
    assert dev.main(["lint"]) == 1
    assert [command[2] for command in calls] == ["ruff", "mypy", "check"]


@pytest.mark.usefixtures("venv")
def test_lint_fails_where_the_scripts_can_not_be_checked(
    calls: Calls, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "build_frontend", lambda: False)
    dev.set_up("test")
    assert dev.main(["lint"]) == 1
    assert [command[2] for command in calls[-2:]] == ["ruff", "mypy"]


def npm_steps(calls: Calls) -> list[str]:
    return [command[1] for command in calls if command[0] == "npm"]


def test_the_scripts_are_built_once(calls: Calls, frontend: Path) -> None:
    assert dev.build_frontend()
    assert npm_steps(calls) == ["ci", "run"]
    assert "--ignore-scripts" in calls[0]
    calls.clear()
    assert dev.build_frontend()
    assert calls == []
    (frontend / "src" / "bench.ts").write_text("// changed", encoding="utf-8")
    assert dev.build_frontend()
    assert npm_steps(calls) == ["run"]
    calls.clear()
    (frontend / "package-lock.json").write_text("{}", encoding="utf-8")
    assert dev.build_frontend()
    assert npm_steps(calls) == ["ci", "run"]


def test_a_built_script_that_was_deleted_is_built_again(calls: Calls, frontend: Path) -> None:
    dev.build_frontend()
    calls.clear()
    (frontend / "built" / "solid.js").unlink()
    dev.build_frontend()
    assert npm_steps(calls) == ["run"]


@pytest.mark.usefixtures("venv", "frontend")
def test_the_demo_goes_on_where_npm_fails(
    calls: Calls, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    dev.set_up("run")
    calls.clear()
    calls.code = 1
    assert dev.main(["demo"]) == 1
    assert npm_steps(calls) == ["ci"]
    assert calls[-1][0] == dev.program("springloom")
    assert "the web pages go without their scripts" in capfd.readouterr().err
    calls.clear()
    monkeypatch.setattr(dev, "find_npm", lambda: None)
    assert dev.main(["demo"]) == 1
    assert calls == [[dev.program("springloom"), "demo"]]


@pytest.mark.parametrize(("major", "found"), [(0, None), (17, None), (18, "/usr/bin/npm")])
def test_an_old_node_does_not_serve(
    monkeypatch: pytest.MonkeyPatch, major: int, found: str | None
) -> None:
    monkeypatch.setattr(dev, "node_version", lambda _node: major)
    assert dev.find_npm(path_with("node", "npm")) == found


def test_node_is_asked_of_apt_where_it_is_missing(
    calls: Calls, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(dev, "apt_command", lambda _which, _user: ["apt-get"])
    assert dev.find_npm(path_with()) is None
    assert calls[-1][-2:] == ["nodejs", "npm"]
    calls.clear()
    assert dev.find_npm(path_with("node")) is None
    assert calls[-1][-1] == "npm"


def test_node_tells_its_version() -> None:
    node = shutil.which("node")
    assert node is not None
    assert dev.node_version(node) >= dev.OLDEST_NODE
    assert dev.node_version(sys.executable) == 0


def test_a_failed_step_is_told_in_one_line(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    def fail(_name: str) -> None:
        raise dev.SetUpError("no network")

    monkeypatch.setattr(dev, "set_up", fail)
    assert dev.main(["bench"]) == 1
    assert capfd.readouterr().err == "dev.py: no network\n"


def test_other_python_folders_stay_out() -> None:
    env = dev.clean_environment({"PYTHONPATH": "x", "PYTHONHOME": "y", "PATH": "z"})
    assert env == {"PATH": "z", "PYTHONUTF8": "1"}


def test_an_old_python_gets_one_line(tmp_path: Path) -> None:
    source = (dev.ROOT / "dev.py").read_text(encoding="utf-8")
    old = tmp_path / "old.py"
    old.write_text(source.replace("< (3, 11)", "< (99,)"), encoding="utf-8")
    answer = subprocess.run(
        [sys.executable, str(old), "demo"], capture_output=True, text=True, check=False
    )
    assert answer.returncode == 1
    assert answer.stderr.startswith("Springloom needs Python 3.11 or newer")
    assert answer.stderr.count("\n") == 1
