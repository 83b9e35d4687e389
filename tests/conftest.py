"""Rules of every test run: how hypothesis searches, and that CI leaves no test out."""

from __future__ import annotations

import os

import pytest
from hypothesis import HealthCheck, settings

pytest_plugins = ["pytester"]

IN_CI = os.environ.get("CI", "").lower() in {"1", "true", "yes"}

# No deadlines: a first call that compiles or reads a table is slow once, and that is no fault.
settings.register_profile("dev", deadline=None)
settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=50,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow],  # a shared machine stalls at times
)
settings.load_profile("ci" if IN_CI else "dev")


class NothingLeftOut:
    """Fails a run that would pass although a test was skipped or expected to fail."""

    def __init__(self) -> None:
        self.left_out: list[str] = []

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        self._note(report)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self._note(report)

    def pytest_sessionfinish(self, session: pytest.Session) -> None:
        if self.left_out and session.exitstatus == pytest.ExitCode.OK:
            session.exitstatus = pytest.ExitCode.TESTS_FAILED

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        if self.left_out:
            terminalreporter.section("left out, which fails in CI", red=True)
            terminalreporter.write_line("\n".join(self.left_out))

    def _note(self, report: pytest.CollectReport | pytest.TestReport) -> None:
        # An expected failure that passes is no skip to pytest, but carries the mark too.
        if report.skipped or hasattr(report, "wasxfail"):
            self.left_out.append(report.nodeid)


def pytest_configure(config: pytest.Config) -> None:
    if IN_CI:
        config.pluginmanager.register(NothingLeftOut(), "nothing-left-out")
