"""A terminal that goes without a word: no SIGHUP comes, and still the app ends in order."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

from centwise.tui.hang_up import hung_up

if TYPE_CHECKING:
    from pathlib import Path

pty = pytest.importorskip("pty", reason="no pseudo-terminals on this platform")
PATIENCE_S = 60.0


def test_a_terminal_is_there_until_its_other_end_is_closed() -> None:
    terminal, inside = pty.openpty()
    assert not hung_up(inside)
    os.write(terminal, b"f")
    assert not hung_up(inside), "a key that waits is no hang-up"
    os.close(terminal)
    assert hung_up(inside)
    os.close(inside)


def test_without_poll_nothing_is_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(select, "poll")
    assert not hung_up(0)


@pytest.mark.terminal
def test_the_app_ends_with_a_terminal_that_goes_without_sighup(tmp_path: Path) -> None:
    import fcntl
    import struct
    import termios

    terminal, inside = pty.openpty()
    fcntl.ioctl(inside, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environment = os.environ | {
        "TERM": "xterm-256color",
        "HOME": str(tmp_path),
        "CENTWISE_DATA": str(tmp_path / "data"),
    }
    # A session of its own, and the terminal is not the one that leads it: the kernel sends it nothing.
    with subprocess.Popen(
        [sys.executable, "-m", "centwise"],
        stdin=inside,
        stdout=inside,
        stderr=inside,
        env=environment,
        start_new_session=True,
    ) as app:
        try:
            os.close(inside)
            written, until_s = b"", time.monotonic() + PATIENCE_S
            while b"Type your name" not in written:
                assert select.select([terminal], [], [], max(until_s - time.monotonic(), 0.0))[0], written
                written += os.read(terminal, 1 << 16)
            os.close(terminal)
            assert app.wait(timeout=PATIENCE_S) == 128 + signal.SIGHUP
        finally:
            app.kill()
