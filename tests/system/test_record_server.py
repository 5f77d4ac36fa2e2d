"""`centwise record` as a program on a real sound server: what an instrument plays into it comes out as cents."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from microphones import RATE_HZ, pluck

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray
    from sound_server import PulseServer

pytestmark = pytest.mark.audio_stack

ASKED = (3.5, 2.5)


def play(sound: NDArray[np.float32]) -> None:
    """Play into the null sink with the server's own tool."""
    subprocess.run(
        ["pacat", "--playback", "--format=float32le", f"--rate={RATE_HZ}", "--channels=1", "--raw"],
        input=sound.tobytes(),
        check=True,
        timeout=30,
        stderr=subprocess.DEVNULL,
    )


def record(*arguments: str) -> subprocess.Popen[str]:
    def with_ctrl_c() -> None:
        signal.signal(signal.SIGINT, signal.default_int_handler)

    return subprocess.Popen(
        [sys.executable, "-m", "centwise", "record", *arguments],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=with_ctrl_c,  # noqa: PLW1509  no threads here
    )


def test_two_takes_through_a_sound_server(pulse_server: PulseServer, tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    folder = tmp_path / "takes"
    with record(str(folder), "--string", "1", "--takes", "2", "--json", "--data", str(tmp_path / "data")) as process:
        assert process.stderr is not None
        assert process.stdout is not None
        said = []
        for line in process.stderr:
            said.append(line)
            if line == "Pluck.\n":
                # The note asked for last: on a busy machine the server may starve, and a note is asked for again.
                asked = next(text for text in reversed(said) if text.startswith("Take "))
                cents = ASKED[int(asked.split()[1]) - 1] if "the fretted note" in asked else 0.0
                sound = pluck(cents)
                play((sound + 2e-4 * rng.standard_normal(len(sound))).astype(np.float32))
        found = json.loads(process.stdout.read())
        assert process.wait(20) == 0, "".join(said)
    assert found["cents"] == pytest.approx(3.0, abs=0.03)
    assert found["string"] == 1
    assert "Monitor of Null Output" in found["device"]
    assert len(list(folder.glob("*.wav"))) >= 4


def test_a_server_that_dies_while_a_note_is_awaited(pulse_server: PulseServer, tmp_path: Path) -> None:
    with record(str(tmp_path / "takes"), "--string", "1") as process:
        assert process.stdout is not None
        assert process.stderr is not None
        for line in process.stdout:
            if line == "Pluck.\n":
                break
        pulse_server.kill()
        killed_s = time.monotonic()
        assert process.wait(10) == 4
        assert time.monotonic() - killed_s < 3.0
        told = process.stderr.read()
    assert told.startswith("centwise: the microphone ")
    assert told.endswith(f"then record again; no notes kept in {tmp_path / 'takes'}.\n")
    assert told.count("\n") == 1


def test_no_microphone_at_all(tmp_path: Path) -> None:
    bare = tmp_path / "bare.conf"
    bare.write_text("# no devices\n")
    surroundings = {"PULSE_SERVER": f"unix:{tmp_path}/nobody", "HOME": str(tmp_path), "ALSA_CONFIG_PATH": str(bare)}
    done = subprocess.run(
        [sys.executable, "-m", "centwise", "record", str(tmp_path / "takes")],
        env={**os.environ, **surroundings},
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert (done.returncode, done.stdout) == (4, "")
    assert done.stderr == (
        "centwise: no microphone could be opened: plug one in and allow its use, or record with another program: "
        "centwise measure works on its files.\n"
    )
    assert not (tmp_path / "takes").exists()
