"""The microphone against a PulseAudio null sink's monitor: what was played is what comes in, and a loss is told."""

from __future__ import annotations

import math
import os
import signal
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
import pytest

from centwise.audio.miniaudio_player import MiniaudioPlayer
from centwise.audio.open import open_recorder
from centwise.bootstrap import SystemClock
from centwise.errors import DeviceError, UsageError
from centwise.model import Sound

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray
    from sound_server import PulseServer

    from centwise.ports import Recorder

pytestmark = pytest.mark.audio_stack

RATE_HZ = 48_000
TRIES = 5
"""As for players: a machine at full load may starve the server."""


def chirp(seconds: float) -> Sound:
    """A sound that matches itself in one place only."""
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return Sound((0.4 * np.sin(2 * np.pi * (200.0 + 150.0 * time_s) * time_s)).astype(np.float32), RATE_HZ, "chirp")


def listen(recorder: Recorder, seconds: float) -> NDArray[np.float32]:
    until_s = time.monotonic() + seconds
    parts = []
    while time.monotonic() < until_s:
        parts.append(recorder.read(0.1))
        assert parts[-1].dtype == np.float32
        assert parts[-1].ndim == 1
    return np.concatenate(parts)


def test_what_was_played_comes_in_to_the_last_sample(pulse_server: PulseServer) -> None:
    sound = chirp(1.0)
    recorder = open_recorder(SystemClock())
    player = MiniaudioPlayer(SystemClock())
    levels = []
    try:
        for _ in range(TRIES):
            recorder.read(0.0)
            playback = player.play(sound)
            heard = listen(recorder, 0.6)
            levels.append(recorder.level_dbfs())
            assert playback.wait(5.0)
            heard = np.concatenate([heard, listen(recorder, 1.0)])
            begin = int(np.argmax(np.abs(heard) > 1e-4)) - 1
            part = heard[begin : begin + len(sound.samples)]
            if len(part) == len(sound.samples) and np.array_equal(part, sound.samples):
                break
        else:
            pytest.fail("the sound never came in whole")
        assert levels[-1] == pytest.approx(20 * math.log10(0.4), abs=0.2)
        assert recorder.level_dbfs() == -math.inf
        assert "Monitor of Null Output" in recorder.device
    finally:
        player.close()
        recorder.close()


def test_another_rate_keeps_the_pitch(pulse_server: PulseServer) -> None:
    time_s = np.arange(2 * RATE_HZ) / RATE_HZ
    tone = Sound((0.4 * np.sin(2 * np.pi * 440.0 * time_s)).astype(np.float32), RATE_HZ, "tone")
    recorder = open_recorder(SystemClock(), rate_hz=16_000)
    player = MiniaudioPlayer(SystemClock())
    try:
        playback = player.play(tone)
        heard = listen(recorder, 2.5)
        playback.stop()
    finally:
        player.close()
        recorder.close()
    loud = np.flatnonzero(np.abs(heard) > 0.2)
    middle = heard[loud[0] + 1600 : loud[0] + 1600 + 16_000]
    spectrum = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), 2**18))
    assert np.argmax(spectrum) * 16_000 / 2**18 == pytest.approx(440.0, abs=0.1)
    with pytest.raises(UsageError, match="a rate of 8000 Hz is outside 16000 to 192000: choose one such as 48000"):
        open_recorder(SystemClock(), rate_hz=8_000)


def test_a_server_that_dies_is_told_within_about_a_second(pulse_server: PulseServer) -> None:
    recorder = open_recorder(SystemClock())
    listen(recorder, 0.3)
    pulse_server.kill()
    killed_s = time.monotonic()
    with pytest.raises(
        DeviceError, match=r"^the microphone .*: check its plug or the sound server, then record again\.$"
    ):
        listen(recorder, 5.0)
    assert time.monotonic() - killed_s < 4.0  # 0.8 s, and room for a busy machine
    recorder.close()
    with pytest.raises(DeviceError, match="no microphone could be opened"):
        open_recorder(SystemClock())
    pulse_server.start()
    again = open_recorder(SystemClock())
    assert len(listen(again, 0.5)) > 0.2 * RATE_HZ
    again.close()
    with pytest.raises(DeviceError, match="the microphone is closed"):
        listen(again, 0.5)


def test_sound_that_is_lost_on_the_way_shows(pulse_server: PulseServer) -> None:
    process = pulse_server._process
    assert process is not None
    tried = []
    # A busy machine loses sound by itself: what is planted shows in a quiet moment.
    for _ in range(TRIES):
        recorder = open_recorder(SystemClock())
        try:
            listen(recorder, 1.5)
            begun_s = recorder.lag_s()
            listen(recorder, 1.5)
            before_s = recorder.lag_s()
            process.send_signal(signal.SIGSTOP)
            time.sleep(0.3)
            process.send_signal(signal.SIGCONT)
            listen(recorder, 1.5)
            tried.append((before_s - begun_s, recorder.lag_s() - before_s))
        finally:
            process.send_signal(signal.SIGCONT)
            recorder.close()
        # What a null sink does not play while it is held, nobody ever hears: 0.3 s but what was on its way.
        if abs(tried[-1][0]) < 0.003 and 0.05 < tried[-1][1] < 0.5:
            return
    pytest.fail(f"seconds lost before and while it was held: {tried}")


def test_an_open_microphone_does_not_hold_up_the_end_of_the_program(pulse_server: PulseServer) -> None:
    script = (
        "from centwise.audio.open import open_recorder\n"
        "from centwise.bootstrap import SystemClock\n"
        "recorder = open_recorder(SystemClock())\n"
        "print('open', flush=True)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=15, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "open\n", "")


def test_no_microphone_is_one_sentence_and_nothing_is_printed(tmp_path: Path) -> None:
    script = (
        "from centwise.audio.open import open_recorder\n"
        "from centwise.bootstrap import SystemClock\n"
        "from centwise.errors import DeviceError\n"
        "try:\n"
        "    open_recorder(SystemClock())\n"
        "except DeviceError as error:\n"
        "    print(error)\n"
    )
    bare = tmp_path / "bare.conf"
    bare.write_text("# no devices\n")
    environ = {**os.environ, "PULSE_SERVER": f"unix:{tmp_path}/nobody", "HOME": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", script],
        env={**environ, "ALSA_CONFIG_PATH": str(bare)},
        capture_output=True,
        text=True,
        timeout=30,
        check=False,
    )
    assert done.stderr == ""
    assert done.stdout == (
        "no microphone could be opened: plug one in and allow its use, or record with another program: "
        "centwise measure works on its files.\n"
    )
