"""Says at the end how long each folder of tests took, and on which database."""

from __future__ import annotations

from collections import defaultdict

import pytest
from _pytest.terminal import TerminalReporter


class Durations:
    """Adds up what the tests took; with several workers these are their seconds, not the wall's."""

    def __init__(self) -> None:
        self.seconds: dict[tuple[str, str], float] = defaultdict(float)
        self.tests: dict[tuple[str, str], int] = defaultdict(int)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        parts = report.nodeid.split("::", 1)[0].split("/")
        folder = "/".join(parts[:2]) if len(parts) > 2 else parts[0]
        database = dict(report.user_properties).get("database", "none")
        where = (folder, str(database))
        self.seconds[where] += report.duration
        self.tests[where] += report.when == "call"

    def pytest_terminal_summary(self, terminalreporter: TerminalReporter) -> None:
        if not self.seconds:
            return
        kinds = sorted({kind for _, kind in self.seconds})
        terminalreporter.section("seconds of work per folder and database")
        terminalreporter.write_line(f"{'':<24}{'tests':>7}" + "".join(f"{kind:>11}" for kind in kinds))
        for folder in sorted({folder for folder, _ in self.seconds}):
            self._write(terminalreporter, folder, kinds, lambda name, folder=folder: name == folder)
        self._write(terminalreporter, "all", kinds, lambda _name: True)

    def _write(self, out: TerminalReporter, label: str, kinds: list[str], wanted: object) -> None:
        assert callable(wanted)
        tests = sum(number for (folder, _), number in self.tests.items() if wanted(folder))
        times = [
            sum(s for (folder, kind), s in self.seconds.items() if wanted(folder) and kind == column)
            for column in kinds
        ]
        out.write_line(f"{label:<24}{tests:>7}" + "".join(f"{time:>11.1f}" for time in times))
