"""The drill in lines when its sound server is killed in a tone: one sentence, the same pair again, no answer lost."""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING

import pytest
from faults import watched

if TYPE_CHECKING:
    from pathlib import Path

    from sound_server import PulseServer, Recording

pytestmark = pytest.mark.audio_stack

PATIENCE_S = 60
TRIES = 5
"""A server that has just begun may not take sound in time on a machine at full load."""
PAIR, LOST = "Pair 1 of 3: ", "Nothing is lost: say again to try once more, or quit to end the block."


def wait_for_sound(recording: Recording) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while not recording.samples().any():
        assert time.monotonic() < until_s
        time.sleep(0.05)


def test_a_device_that_goes_in_a_tone_and_comes_back(pulse_server: PulseServer, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "centwise", "drill", "--plain", "--trials", "3", "--data", str(tmp_path)]
    with (
        pulse_server.recording() as recording,
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process,
        watched(process),
    ):
        stdin, stdout = process.stdin, process.stdout
        assert stdin is not None
        assert stdout is not None

        def say(word: str) -> None:
            stdin.write(f"{word}\n")
            stdin.flush()

        def hear(*words: str) -> str:
            for line in stdout:
                if any(word in line for word in words):
                    return line
            raise AssertionError(f"none of {words} came")

        hear(PAIR)
        wait_for_sound(recording)
        pulse_server.kill()
        assert hear(LOST).endswith(f": check its plug or the sound server, then play again. {LOST}\n")
        # What was not heard to its end is not judged.
        say("flat")
        assert hear(LOST).startswith("No sound device could be opened: plug in or switch on headphones")
        pulse_server.start()
        with pulse_server.recording() as again:
            for _ in range(TRIES):
                say("again")
                if hear(PAIR, LOST).startswith(PAIR):
                    break
            wait_for_sound(again)
        hear("Answer flat, unison or sharp.")
        say("flat")
        hear("Pair 2 of 3")
        say("quit")
        assert " of 1 right." in hear("The block is over: ")
        stdout.read()
        assert process.wait(PATIENCE_S) == 0
