"""The drill in lines when its sound server is killed in a tone: one sentence, the same pair again, no answer lost."""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path

    from sound_server import PulseServer, Recording

pytestmark = pytest.mark.audio_stack

PATIENCE_S = 60
NOTHING_LOST = " Nothing is lost: say again to try once more, or quit to end the block.\n"


def wait_for_sound(recording: Recording, since: int = 0) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while not recording.samples()[since:].any():
        assert time.monotonic() < until_s
        time.sleep(0.05)


def test_a_device_that_goes_in_a_tone_and_comes_back(pulse_server: PulseServer, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "centwise", "drill", "--plain", "--trials", "3", "--data", str(tmp_path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        stdin, stdout = process.stdin, process.stdout
        assert stdin is not None
        assert stdout is not None

        def say(word: str) -> None:
            stdin.write(f"{word}\n")
            stdin.flush()

        def hear(words: str) -> str:
            for line in stdout:
                if words in line:
                    return line
            raise AssertionError(f"{words!r} never came")

        with pulse_server.recording() as recording:
            hear("Pair 1 of 3")
            wait_for_sound(recording)
            pulse_server.kill()
        assert hear("Nothing is lost").endswith(f": check its plug or the sound server, then play again.{NOTHING_LOST}")
        # What was not heard to its end is not judged.
        say("flat")
        assert hear("Nothing is lost").startswith("No sound device could be opened: plug in or switch on headphones")
        pulse_server.start()
        with pulse_server.recording() as recording:
            say("again")
            assert hear("Pair 1 of 3").startswith("Pair 1 of 3: ")
            wait_for_sound(recording)
        say("flat")
        hear("Pair 2 of 3")
        say("quit")
        assert " of 1 right." in hear("The block is over: ")
        stdout.read()
        assert process.wait(PATIENCE_S) == 0
