"""The bench in a real terminal: acts by key, killed in the middle, taken up again, marked."""

from __future__ import annotations

import os
import signal
import sqlite3
import sys
from contextlib import closing
from typing import TYPE_CHECKING

import pytest
from test_app_terminal import AFTER, Terminal, pytestmark, restored

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

__all__ = ["pytestmark"]


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    terminal = Terminal(tmp_path, 80, 24)
    try:
        yield terminal
    finally:
        terminal.close()


def kept(terminal: Terminal) -> list[str]:
    with closing(sqlite3.connect(terminal.data / "centwise.sqlite3")) as store:
        return [words for (words,) in store.execute("SELECT words FROM bench_acts ORDER BY bench_number, n")]


def test_killed_in_the_middle_it_goes_on_where_it_was(terminal: Terminal) -> None:
    program = [sys.executable, "-m", "centwise", "bench", "--player", "silent:hurry", "--seed", "5", "--unguided"]
    terminal.run(*program, "--listener", "Ada")
    terminal.wait_for("a comfortable level")
    terminal.press("Enter")
    terminal.wait_for("Ada, at the bench")
    terminal.press("Enter")
    terminal.wait_for("knocked out of its place")
    for key, said in (("m", "other strings are muted"), ("r", "at its pitch"), ("c", "touched over fret 12")):
        terminal.press(key)
        terminal.wait_for(said)
    terminal.press("Left")
    terminal.wait_for("bass foot goes forward")
    assert kept(terminal) == ["mute", "retune", "chime 4", "bass forward 1/16in"]
    for pid in terminal.programs():
        os.kill(pid, signal.SIGKILL)
    terminal.renew()
    terminal.run(*program, "--listener", "Ada")
    terminal.wait_for("You left one after 4 acts")
    terminal.press("Enter")
    terminal.wait_for("goes on, after 4 acts")
    terminal.press("p")
    terminal.wait_for("once more")
    terminal.press("p")
    terminal.wait_for("The reckoning")
    terminal.press("Escape")
    terminal.wait_for("░ right place")
    assert kept(terminal)[-1] == "mark"
    terminal.press("C-c")
    assert f"{AFTER} 130" in restored(terminal)
