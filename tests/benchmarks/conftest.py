"""Gathers what the benchmarks measured into one table, and writes it where it is asked for."""

from __future__ import annotations

from pathlib import Path

import pytest
from performance_table import Table

TABLE = pytest.StashKey[Table]()


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--performance", metavar="FILE", help="write the table of all benchmarks into this file")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[TABLE] = Table()


@pytest.fixture(autouse=True)
def _as_it_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let programs keep what they have compiled, as they do wherever they are used."""
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE", raising=False)


@pytest.fixture
def table(pytestconfig: pytest.Config) -> Table:
    """The table of this run."""
    return pytestconfig.stash[TABLE]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    table = config.stash[TABLE]
    for row in table.rows.values():
        terminalreporter.write_line(row.line)
    file = config.getoption("--performance", default=None)
    if file is None:
        return
    if table.missing:
        terminalreporter.write_line(f"{file} was left as it is: nothing was measured of {', '.join(table.missing)}.")
    else:
        Path(file).write_text(table.document(), encoding="utf-8")
        terminalreporter.write_line(f"{file} was written.")
