"""A program held up while a pair sounds, on a real sound server: the hole is told, and the pair sounds again."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest
from faults import watched

if TYPE_CHECKING:
    from pathlib import Path

    from sound_server import PulseServer, Recording

pytestmark = pytest.mark.audio_stack

PATIENCE_S = 60
HELD_UP_S = 0.4


def wait_for_sound(recording: Recording, since: int) -> None:
    until_s = time.monotonic() + PATIENCE_S
    while not np.any(recording.samples()[since:]):
        assert time.monotonic() < until_s
        time.sleep(0.02)


def test_a_program_held_up_tells_the_hole_and_sounds_the_pair_again(pulse_server: PulseServer, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "centwise", "drill", "--plain", "--trials", "2", "--seed", "1"]
    with (
        pulse_server.recording() as recording,
        subprocess.Popen(
            [*command, "--data", str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        ) as process,
        watched(process),
    ):
        assert process.stdin is not None
        assert process.stdout is not None
        said = []
        for line in process.stdout:
            said.append(line)
            if line.startswith("Pair 1 of 2"):
                break
        wait_for_sound(recording, len(recording.samples()))
        process.send_signal(signal.SIGSTOP)
        time.sleep(HELD_UP_S)
        process.send_signal(signal.SIGCONT)
        for line in process.stdout:
            said.append(line)
            if line.startswith("Pair 1 had a hole"):
                break
        found = re.fullmatch(
            r"Pair 1 had a hole of (\d\.\d\d) s in it, because this computer was busy: here it is once more\.\n",
            said[-1],
        )
        assert found is not None, said
        # The machine may have held it up besides; the server bridges some hundredths of a second.
        assert float(found[1]) > HELD_UP_S - 0.1
        assert process.stdout.readline().startswith("Pair 1 of 2: ")
        process.stdin.write("quit\n")
        process.stdin.close()
        process.stdout.read()
        assert process.wait(PATIENCE_S) == 0
