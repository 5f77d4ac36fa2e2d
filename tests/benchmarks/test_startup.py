"""Start-up as ratios of whole processes, by turns in the same run.

Skipped by default; run with `pytest tests/benchmarks/test_startup.py --benchmark-only -s`.

`centwise --version`, by its console script, against `python -c pass`: at most 3 times as long. The app's first frame
against that of a bare Textual app with Header and Footer: at most 1.6 times, from the start of the process to the
moment when all words of the first screen, its footer too, have arrived at a terminal of 80 by 24.
"""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from pytest_benchmark.fixture import BenchmarkFixture

CONSOLE_SCRIPT = Path(sys.executable).with_name("centwise")
BARE_APP = """
from textual.app import App
from textual.widgets import Footer, Header


class Bare(App):
    TITLE = "Nothing but a title"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS = [("q", "quit", "Quit")]

    def compose(self):
        yield Header()
        yield Footer()


Bare().run()
"""
LONGEST_WAIT_S = 30.0

pytestmark = pytest.mark.skipif(
    os.name != "posix" or not CONSOLE_SCRIPT.exists(), reason="needs a pseudo-terminal and the console script"
)


def by_turns(
    benchmark: BenchmarkFixture, tested: Callable[[], float], reference: Callable[[], float], rounds: int
) -> float:
    """Measure both by turns and return the ratio of their medians; the benchmark's own table shows the tested one."""
    tested_s, reference_s = [], []

    def before() -> None:
        reference_s.append(reference())

    def once() -> None:
        tested_s.append(tested())

    benchmark.pedantic(once, setup=before, rounds=rounds, iterations=1, warmup_rounds=2)
    ours, theirs = float(np.median(tested_s[2:])), float(np.median(reference_s[2:]))
    benchmark.extra_info |= {"median_s": ours, "reference_s": theirs, "ratio": ours / theirs}
    print(f"\n{1000 * ours:.1f} ms against {1000 * theirs:.1f} ms: {ours / theirs:.2f} times")
    return ours / theirs


def process_s(*arguments: str | Path) -> float:
    start = time.perf_counter()
    subprocess.run(arguments, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def first_frame_s(words: tuple[str, ...], folder: Path, *arguments: str | Path) -> float:
    """Return the seconds from the start of a program to the arrival of all these words at its terminal."""
    import fcntl
    import pty
    import struct
    import termios

    terminal, inside = pty.openpty()
    fcntl.ioctl(inside, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = os.environ | {"TERM": "xterm-256color", "HOME": str(folder), "CENTWISE_DATA": str(folder / "data")}
    # As it is used, with what has been compiled once kept; else each start would compile our modules, not Textual's.
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    start = time.perf_counter()
    with subprocess.Popen(
        arguments, stdin=inside, stdout=inside, stderr=inside, env=environment, start_new_session=True
    ) as process:
        os.close(inside)
        written = b""
        try:
            while not all(word.encode() in written for word in words):
                left_s = start + LONGEST_WAIT_S - time.perf_counter()
                if not select.select([terminal], [], [], max(left_s, 0.0))[0]:
                    raise AssertionError(f"{words} never came: {written.decode(errors='replace')}")
                written += os.read(terminal, 1 << 16)
            return time.perf_counter() - start
        finally:
            process.kill()
            os.close(terminal)


def test_version_against_an_empty_program(benchmark: BenchmarkFixture) -> None:
    ratio = by_turns(
        benchmark,
        lambda: process_s(CONSOLE_SCRIPT, "--version"),
        lambda: process_s(sys.executable, "-c", "pass"),
        rounds=40,
    )
    assert ratio <= 3.0


def test_first_frame_against_a_bare_app(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    bare = tmp_path / "bare.py"
    bare.write_text(BARE_APP)
    ratio = by_turns(
        benchmark,
        lambda: first_frame_s(("Type your name", "Quit", "Help"), tmp_path, CONSOLE_SCRIPT),
        lambda: first_frame_s(("Nothing but a title", "Quit"), tmp_path, sys.executable, bare),
        rounds=15,
    )
    assert ratio <= 1.6
