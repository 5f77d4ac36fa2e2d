"""Whether somebody is at a terminal, as each system tells it."""

from __future__ import annotations

import sys
from typing import Any

import pytest

from centwise.cli.terminal import at_a_terminal


class Stream:
    """Says of itself that it is a terminal, or not."""

    def __init__(self, *, tty: bool) -> None:
        self._tty = tty

    def isatty(self) -> bool:
        return self._tty

    def fileno(self) -> int:
        return 1


def no_size(_fd: int) -> Any:
    raise OSError(6, "The handle is invalid")


@pytest.fixture(autouse=True)
def usual_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm")


@pytest.mark.parametrize("platform", ["linux", "darwin", "win32"])
def test_both_ends_must_be_one(monkeypatch: pytest.MonkeyPatch, platform: str) -> None:
    for inside, outside in ((True, True), (True, False), (False, True)):
        monkeypatch.setattr(sys, "stdin", Stream(tty=inside))
        monkeypatch.setattr(sys, "stdout", Stream(tty=outside))
        assert at_a_terminal(platform=platform, size=lambda _fd: (80, 24)) is (inside and outside)
    monkeypatch.setattr(sys, "stdin", None)
    assert not at_a_terminal(platform=platform)


def test_one_that_cannot_be_drawn_on_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", Stream(tty=True))
    monkeypatch.setattr(sys, "stdout", Stream(tty=True))
    monkeypatch.setenv("TERM", "dumb")
    assert not at_a_terminal(platform="linux")
    monkeypatch.setenv("TERM", "linux")
    assert at_a_terminal(platform="linux")


def test_the_null_device_of_windows_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "stdin", Stream(tty=True))
    monkeypatch.setattr(sys, "stdout", Stream(tty=True))
    assert not at_a_terminal(platform="win32", size=no_size)
    assert at_a_terminal(platform="linux", size=no_size)
