"""Timings. Each is a ratio to a ceiling measured in the same run, by turns; the figures are shown in one table at the end.

The heavy ones fill large databases: `pytest tests/bench --heavy`, alone on the machine.
"""

from __future__ import annotations

import os

import pytest
from _pytest.terminal import TerminalReporter

from tests.bench.figures import Figures

_figures = pytest.StashKey[Figures]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--heavy", action="store_true", help="also the timings that fill large databases")


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "heavy: a timing that fills a large database; runs with --heavy")
    config.stash[_figures] = Figures()


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("heavy", default=False):
        return
    heavy = [item for item in items if item.get_closest_marker("heavy")]
    config.hook.pytest_deselected(items=heavy)
    items[:] = [item for item in items if item not in set(heavy)]


def pytest_terminal_summary(terminalreporter: TerminalReporter, config: pytest.Config) -> None:
    rows = config.stash[_figures].rows()
    if rows:
        terminalreporter.section(f"figures, on {os.cpu_count()} cores")
        for row in rows:
            terminalreporter.write_line(row)


@pytest.fixture
def figures(request: pytest.FixtureRequest) -> Figures:
    """Where every timing writes down what it found, before it judges."""
    return request.config.stash[_figures]
