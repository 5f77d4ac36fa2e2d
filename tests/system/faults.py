"""What the tests of faults share: `drill --events` talked to line by line, and a small disk of its own."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

PATIENCE_S = 120
HURRY = ("--player", "silent:hurry")


def surroundings(data: Path, **more: str) -> dict[str, str]:
    """Surroundings in which nothing of this machine's user is read or written."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("CENTWISE", "XDG"))}
    return kept | {"HOME": str(data.parent), "CENTWISE_DATA": str(data)} | more


@contextmanager
def watched(process: subprocess.Popen[str], patience_s: float = PATIENCE_S) -> Iterator[None]:
    """Kill a program that is still there after so long, so that whoever reads from it does not wait for ever."""
    watch = threading.Timer(patience_s, process.kill)
    watch.start()
    try:
        yield
    finally:
        watch.cancel()
        process.kill()


class Talk:
    """A running `drill --events`."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process

    def say(self, word: str) -> None:
        """Say a word."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{word}\n")
        self.process.stdin.flush()

    def hear(self, *kinds: str) -> dict[str, Any]:
        """Return the next event of one of these kinds; any other before it is passed over."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            event: dict[str, Any] = json.loads(line)
            if event["event"] in kinds:
                return event
        assert self.process.stderr is not None
        raise AssertionError(f"no {kinds} came: {self.process.stderr.read()}")

    def end(self) -> tuple[int, str]:
        """Quit, and return the exit code and what stood on stderr."""
        _, err = self.process.communicate("quit\n", timeout=PATIENCE_S)
        return self.process.returncode, err


@contextmanager
def talking(
    environment: dict[str, str], *arguments: str, program: tuple[str, ...] = ("-m", "centwise")
) -> Iterator[Talk]:
    """Run `drill --events`."""
    with (
        subprocess.Popen(
            [sys.executable, *program, "drill", "--events", *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment,
        ) as process,
        watched(process),
    ):
        yield Talk(process)


def mounted(*words: str) -> bool:
    """Run mount or umount; return whether it did as asked."""
    return subprocess.run(words, capture_output=True, check=False).returncode == 0


@contextmanager
def small_disk(place: Path, kilobytes: int) -> Iterator[Path]:
    """A disk of its own in memory, of so many kilobytes; skips where one may not mount any."""
    place.mkdir()
    if shutil.which("mount") is None or not mounted(
        "mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "none", str(place)
    ):
        pytest.skip("this user may mount nothing")
    try:
        yield place
    finally:
        assert mounted("umount", "-l", str(place))
