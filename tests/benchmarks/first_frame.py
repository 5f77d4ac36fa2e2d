"""A program watched at a pseudo-terminal until all words of its first screen have arrived."""

from __future__ import annotations

import os
import select
import subprocess
import sys
import time
from pathlib import Path

CONSOLE_SCRIPT = Path(sys.executable).with_name("centwise")
OUR_WORDS = ("Type your name", "Quit", "Help")
BARE_WORDS = ("Nothing but a title", "Quit")
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


def possible() -> bool:
    """Return whether there are pseudo-terminals and the console script."""
    return os.name == "posix" and CONSOLE_SCRIPT.exists()


def first_frame(
    words: tuple[str, ...], folder: Path, *arguments: str | Path, more: dict[str, str] | None = None
) -> tuple[float, str]:
    """Start a program, and stop it once all these words have arrived at its terminal of 80 by 24.

    Returns:
        Seconds from the start of the process to the last word, and all that arrived until then.
    """
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
        arguments,
        stdin=inside,
        stdout=inside,
        stderr=inside,
        env=environment | (more or {}),
        start_new_session=True,
    ) as process:
        os.close(inside)
        written = b""
        try:
            while not all(word.encode() in written for word in words):
                left_s = start + LONGEST_WAIT_S - time.perf_counter()
                if not select.select([terminal], [], [], max(left_s, 0.0))[0]:
                    raise AssertionError(f"{words} never came: {written.decode(errors='replace')}")
                written += os.read(terminal, 1 << 16)
            return time.perf_counter() - start, written.decode(errors="replace")
        finally:
            process.kill()
            os.close(terminal)
