"""In CI a test that is left out fails the run: conftest.py is tried on tiny projects."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

CONFTEST = Path(__file__).resolve().parents[1] / "conftest.py"
PASSING = "def test_passes() -> None:\n    assert True\n"
LEFT_OUT = {
    "skip mark": "@pytest.mark.skip\ndef test_left_out(): pass\n",
    "skip call": "def test_left_out(): pytest.skip('no reason')\n",
    "module skip": "pytest.skip('no reason', allow_module_level=True)\n",
    "missing import": "pytest.importorskip('no_such_module')\n",
    "expected failure": "@pytest.mark.xfail\ndef test_left_out(): assert False\n",
    "unexpected pass": "@pytest.mark.xfail\ndef test_left_out(): pass\n",
}
MESSAGE = "*left out, which fails in CI*"


def run_tiny_project(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, ci: str, left_out: str
) -> pytest.RunResult:
    monkeypatch.setenv("CI", ci)
    pytester.makeconftest(CONFTEST.read_text(encoding="utf-8"))
    pytester.makepyfile(test_passing=PASSING, test_tiny=f"import pytest\n{left_out}")
    return pytester.runpytest_subprocess("-p", "no:cacheprovider")


@pytest.mark.parametrize("left_out", LEFT_OUT.values(), ids=LEFT_OUT.keys())
def test_a_left_out_test_fails_the_run_in_ci(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch, left_out: str
) -> None:
    result = run_tiny_project(pytester, monkeypatch, "true", left_out)
    assert result.ret == pytest.ExitCode.TESTS_FAILED
    result.stdout.fnmatch_lines([MESSAGE, "test_tiny.py*"])
    outcomes = result.parseoutcomes()
    assert outcomes.pop("passed") == 1
    assert set(outcomes) <= {"skipped", "xfailed", "xpassed"}, "failed for another reason"


def test_a_left_out_test_is_allowed_at_the_bench(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    result = run_tiny_project(pytester, monkeypatch, "", LEFT_OUT["skip mark"])
    assert result.ret == pytest.ExitCode.OK
    result.stdout.no_fnmatch_line(MESSAGE)


def test_a_run_without_gaps_passes_in_ci(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    result = run_tiny_project(pytester, monkeypatch, "true", "")
    assert result.ret == pytest.ExitCode.OK
    result.stdout.no_fnmatch_line(MESSAGE)


def test_a_failure_keeps_its_own_exit_code_in_ci(
    pytester: pytest.Pytester, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = LEFT_OUT["skip mark"] + "def test_stops(): pytest.exit('stop', returncode=7)\n"
    assert run_tiny_project(pytester, monkeypatch, "true", broken).ret == 7


def test_hypothesis_repeats_itself_in_ci() -> None:
    assert settings.get_profile("ci").derandomize
    assert settings.get_profile("ci").deadline is None
