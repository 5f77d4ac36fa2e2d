"""At a terminal no work of more than a moment goes on without a word; elsewhere nothing is added to stderr."""

from __future__ import annotations

import io
import sys
import threading

import pytest

from centwise.cli import waiting as module
from centwise.cli.waiting import waiting


class Terminal(io.StringIO):
    """A stderr that is a terminal, and that tells when something was written to it."""

    def __init__(self, *, terminal: bool = True) -> None:
        super().__init__()
        self._terminal = terminal
        self.spoken = threading.Semaphore(0)

    def isatty(self) -> bool:
        return self._terminal

    def flush(self) -> None:
        self.spoken.release()


def test_it_speaks_once_work_takes_longer_than_a_moment_and_again_while_it_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    stderr = Terminal()
    monkeypatch.setattr(sys, "stderr", stderr)
    monkeypatch.setattr(module, "SILENT_S", 0.0)
    monkeypatch.setattr(module, "AGAIN_S", 0.01)
    with waiting("the page is being drawn"):
        for _ in range(3):
            assert stderr.spoken.acquire(timeout=20.0)
    lines = stderr.getvalue().splitlines()
    assert lines[0] == "One moment: the page is being drawn."
    assert lines[1] == "Still at it after 0 seconds; ctrl+c stops."
    assert not any(thread.name == "waiting" for thread in threading.enumerate())


def test_short_work_and_work_that_fails_say_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    stderr = Terminal()
    monkeypatch.setattr(sys, "stderr", stderr)
    monkeypatch.setattr(module, "SILENT_S", 60.0)
    with waiting("nothing much"):
        pass
    with pytest.raises(ValueError, match="broken"), waiting("something that breaks"):
        raise ValueError("broken")
    assert stderr.getvalue() == ""


def test_where_nobody_reads_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "SILENT_S", 0.0)
    for stderr in (Terminal(terminal=False), None):
        monkeypatch.setattr(sys, "stderr", stderr)
        with waiting("work"):
            assert not any(thread.name == "waiting" for thread in threading.enumerate())
        assert stderr is None or stderr.getvalue() == ""
